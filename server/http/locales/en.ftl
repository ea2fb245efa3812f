# English. The same keys stand in sw.ftl; a test compares them.
title = traybook
skip = To the content
language-other = Kiswahili
sign-in = Sign in
sign-out = Sign out
login = Telephone number or e-mail address
password = Password or PIN
wrong-sign-in = Number or password is not right. Check both and try again.
wait-sign-in = Too many tries. Wait { $minutes ->
    [one] a minute
   *[other] { $minutes } minutes
  } and try again.
choose-cooperative = You belong to several co-operatives. Ask your office for the right address.
nav-today = Today
nav-milk = Milk and eggs
today-title = Today, { $date }
nothing-to-do = Nothing to do today.
all-done = All done for today.
late = late
done = done
done-at = done at { $time }
do-it = Done
cause = why
reason = reason
harvest-kg = kg weighed
lasts-days = Seed on the farm lasts { $days ->
    [one] one day.
   *[other] { $days } days.
  }
seed-on-farm = Seed on the farm: { $kg } kg.
short = { $group } goes short of { $kg } kg fresh fodder today.
surplus = { $kg } kg fresh fodder are left over for { $group } today.
lot-held = Seed lot { $lot } is held: soak and feed nothing of it. Keep it apart and ask an officer.
task-soak = Soak { $kg } kg { $crop } for { $group }: { $trays ->
    [one] 1 tray
   *[other] { $trays } trays
  }
task-soak-lot = Lot { $lot }
task-drain = Drain { $kg } kg { $crop }
task-spread = Spread { $kg } kg { $crop } on { $trays ->
    [one] 1 tray
   *[other] { $trays } trays
  }
task-water = Water { $trays ->
    [one] 1 tray
   *[other] { $trays } trays
  }, round { $number } of { $times }
task-harvest = Harvest { $trays ->
    [one] 1 tray
   *[other] { $trays } trays
  } for { $group }
task-harvest-kg = about { $kg } kg expected
task-discard = Throw away { $trays ->
    [one] 1 tray
   *[other] { $trays } trays
  }: bury or compost away from animals
task-clean = Scrub, disinfect, rinse and dry { $trays ->
    [one] 1 tray
   *[other] { $trays } trays
  }
feed-on = fed on { $date }
due-at = at { $time }
batch = batch { $code }
shed = shed { $code }
your-animals = your animals
crop-barley = barley
crop-wheat = wheat
crop-maize = maize
crop-millet = millet
crop-oats = oats
crop-sorghum = sorghum
cause-mould = mould
cause-rot_at_drain_end = rot at the drain end
cause-poor_germination = poor germination
cause-dried_out = dried out
cause-pests = pests
cause-left_too_long = left too long
cause-other = other
caution-mould = Mould: do not feed. Mouldy feed can poison animals; ask a veterinary officer.
caution-over-age = Past its day: look for mould and a sour smell. Throw away what is doubtful; feeding the rest needs a reason.
caution-held = This seed lot is held: soak and feed nothing of it; keep it apart and ask an officer.
caution-sorghum = Young sorghum can kill animals (prussic acid). Ask the livestock service first.
why-due = it was due { $days ->
    [one] a day ago
   *[other] { $days } days ago
  }
why-passed = its time today has passed
why-moved = moved from a rest day
footer = Mouldy fodder and treated seed are poisonous: do not feed them, and ask a veterinary officer. Rations are for the local livestock service to advise on.
milk-title = Milk and eggs
milk-litres = Litres today, { $group }
milk-cows = Animals milked
eggs-count = Eggs today, { $group }
eggs-hens = Hens in the house
save = Save
saved = Saved.
no-milk-or-eggs = No animals that give milk or eggs are recorded. Ask your officer.
error-title = Please check
error-try-again = That did not work: { $detail }
page-not-there = There is nothing at this address.
more-farms = { $count ->
    [one] One more farm has work.
   *[other] { $count } more farms have work.
  }
not-for-you = This page is not for your role.
sheet-title = Work
sheet-no-work = No work
sheet-nothing = Nothing to do.
sheet-done = done
sheet-column-done = Done
sheet-column-time = Time
sheet-column-work = Work
sheet-column-amount = How much, when
sheet-to-do = to do
sheet-made = made
sheet-footer = Mouldy fodder and treated seed are poisonous: do not feed them, and ask a veterinary officer.
sheet-day-1 = Monday
sheet-day-2 = Tuesday
sheet-day-3 = Wednesday
sheet-day-4 = Thursday
sheet-day-5 = Friday
sheet-day-6 = Saturday
sheet-day-7 = Sunday
sheet-feed = Feed { $what } to { $group }
sheet-feed-held = Keep { $what } apart: do not feed it
sheet-feed-kept = Feed { $what } of { $date } to { $group }, or throw it away
sheet-throw-away = Throw away { $what }: bury or compost away from animals
sheet-fodder-kg = { $kg } kg fresh fodder
sheet-fodder-trays = { $trays ->
    [one] the fresh fodder of 1 tray
   *[other] the fresh fodder of { $trays } trays
  }
sheet-fodder = what was harvested
sheet-mould = mould was seen
sheet-short = { $group } goes short of { $kg } kg fresh fodder on this day.
sheet-surplus = { $kg } kg fresh fodder are left over for { $group } on this day.

# --- pages of all roles ---
# Navigation, frames, forms
nav = Pages
nav-batches = Batches
nav-result = My result
nav-account = Seed account
nav-round = Visits
nav-farms = Farms
nav-phone = On this phone
nav-month = Month
nav-spoilage = Spoilage
nav-seed = Seed
nav-office = Office
nav-people = People
nav-totals = Totals
back-to-start = To the first page
optional = if known
show = Show
more = More
older = Earlier ones
yes = yes
no = no
open = open
not-known = not known
correct = Correct
note = Remarks
day = Day
when = When
month = Month
change = Change
stale = Somebody has changed this meanwhile. What you typed stands in the fields, what is there now beside them: compare, then save again.
date = { $day } { $month } { $year }
month-of-year = { $month } { $year }
moment = { $date }, { $time }
month-1 = January
month-2 = February
month-3 = March
month-4 = April
month-5 = May
month-6 = June
month-7 = July
month-8 = August
month-9 = September
month-10 = October
month-11 = November
month-12 = December
month-short-1 = Jan
month-short-2 = Feb
month-short-3 = Mar
month-short-4 = Apr
month-short-5 = May
month-short-6 = Jun
month-short-7 = Jul
month-short-8 = Aug
month-short-9 = Sep
month-short-10 = Oct
month-short-11 = Nov
month-short-12 = Dec
# What is refused: the reason, with the rule as the server says it
refused-type = { $detail }
refused-range = { $detail }
refused-required = { $detail }
refused-combination = { $detail }
refused-order = { $detail }
refused-impossible = { $detail }
refused-length = { $detail }
refused-choice = { $detail }
refused-unknown_reference = { $detail }
refused-future = { $detail }
refused-unknown = { $detail }
refused-unit = { $detail }
refused-taken = { $detail }
refused-outside_reach = { $detail }
refused-mould = { $detail }
refused-id_version = { $detail }
refused-format = { $detail }
refused-unreliable = { $detail }
refused-treated_seed = { $detail }
refused-sorghum = { $detail }
refused-role = { $detail }
refused-repeated = { $detail }
refused-over_age = { $detail }
refused-held = { $detail }
refused-fixed = { $detail }
refused-characters = { $detail }
refused-other_farm = { $detail }
# Days, seed, animals
seed = seed
crop = Crop
seed-lot = Seed lot
seed-kg = Seed, kg
kg = kg
trays = Trays
count-kg = { $kg } kg
count-trays = { $trays ->
    [one] 1 tray
   *[other] { $trays } trays
  }
age-days = day { $days }
class-dairy_cows = dairy cows
class-other_cattle = other cattle
class-goats = goats
class-sheep = sheep
class-pigs = pigs
class-rabbits = rabbits
class-indigenous_chickens = indigenous chickens
class-layers = layers
class-broilers = broilers
stage-soaking = in water
stage-incubating = germinating
stage-on_trays = on trays
stage-ready = ready to harvest
stage-overdue = past its day
stage-finished = finished
stage-until = { $stage }; to be harvested on { $date }
event-soaked = Soaked
event-spread = Spread
event-watered = Watered
event-harvested = Harvested
event-fed_out = Fed
event-discarded = Thrown away
trace-what-bought = bought
trace-what-issued = handed out
trace-what-adjusted = stock put right
trace-what-held = held
trace-what-released = released
trace-what-soaked = soaked
trace-what-spread = spread
trace-what-watered = watered
trace-what-harvested = harvested
trace-what-fed_out = fed
trace-what-discarded = thrown away
trace-date = Day
trace-what = What
trace-farm = Farm
trace-batch = Batch
trace-animal-group = Animals
trace-kg = kg
trace-trays = Trays
# Cautions
caution-rations = Advice on rations and on sick animals belongs to the local livestock service. Do not feed mouldy fodder.
caution-climate = Warm and humid: mould grows fast in such air. Let air through, water less in the evening, and look at every tray.
treated-seed = Only untreated feed grain: dressed seed is poisonous and is refused.
sorghum-about = Young sorghum carries prussic acid, which kills animals: it stays off unless a manager allows it here, after asking the livestock service.
# Batches
batches-title = Batches of { $farm }
batches-none = No batch has been recorded yet.
batch-of = batch of { $date }
seed-of-crop = { $kg } kg { $crop }
trays-of-batch = { $spread } trays spread, { $harvested } harvested, { $discarded } lost
harvested-kg = { $kg } kg fresh fodder harvested
for-group = For
in-shed = Shed
seed-soaked-kg = Dry seed soaked, kg
trays-spread = Trays spread
trays-harvested = Trays harvested
trays-lost = Trays lost
trays-lost-percent = Trays lost, %
fresh-kg = Fresh fodder harvested, kg
fresh-expected-kg = Fresh fodder expected, kg
fed-kg = Fed, kg
germinated-percent = Seeds germinated at spreading, %
what-happened = What happened
batch-record = Record or correct
timeline-title = Life of the batch
timeline-text = Days from the soak: spread on day { $spread }, to be harvested from day { $ready }; trays lost: { $lost }.
timeline-axis = days from the soak
now = now
event = Event
cause-of-loss = Why trays were lost
mould-seen = Mould was seen
kg-hint = Dry seed when soaking, fresh fodder otherwise
reason-in-spite = Reason, where it was done in spite of a caution
to-correct = To correct
correction-about = The earlier values stay in the history. Empty a field to take its value away.
why-corrected = Why it is corrected
batch-new = New batch at { $farm }
soaked-at = Soaked at
soaked-on = Soaked on
lot-in-stock = { $lot } ({ $kg } kg here)
# Result of a farm
result-title = Result of { $farm }
saving-of = Saving of { $month }
saving = Saving
saving-none = This farm is not in the report of that month.
saving-saved = { $amount } saved on feed.
saving-lost = { $amount } lost: fodder cost more than it saved.
saving-between = With 95 % confidence between { $low } and { $high }.
saving-unclear = By the records { $amount } saved; it cannot be told from chance yet.
saving-missing = No number, because this is missing: { $what }.
saving-status-estimated = A number can be given.
saving-status-not_started = Fodder not started
saving-status-start_month = First month of fodder: no number
saving-status-missing = Cannot tell: records are missing
saving-chart = Saving by month
saving-chart-text = Saving of each of the last { $months } months; months without a number are left out; below zero is a loss.
start-of-fodder = start
baseline-cost = Ration before fodder, at this month’s prices
feed-cost = Feed bought
seed-cost = Seed soaked
other-cost = Other costs
depreciation = Wear of shed and trays
saving-per-litre = Saving per litre of milk
saving-per-egg = Saving per egg
report-to-print = Report to print (PDF)
output-title = Did milk or eggs change?
output-none = No milk or eggs have been recorded.
output-of-milk = Milk per cow-day
output-of-eggs = Eggs per hen-day
output-unit-milk = litres per cow-day
output-unit-eggs = eggs per hen-day
output-chart-text = Month by month; months without records are left out. The line alone does not show what fodder did: that is the sentence below.
output-higher = { $what } is { $percent } % higher than it would have been, between { $low } % and { $high } %.
output-lower = { $what } is { $percent } % lower than it would have been, between { $low } % and { $high } %.
output-unclear = { $what }: cannot tell yet whether it changed, between { $low } % and { $high } %.
output-cannot-tell = { $what }: cannot tell yet. { $why }
output-basis = From { $before } records before the start and { $after } after it, beside farms that had not started in the same months.
output-status-not-started = Fodder has not been started.
output-status-no-pre-data = There are no records from before the start.
output-status-insufficient-pre = Too little is known from before the start: { $before } records in { $months } months.
output-status-insufficient-post = Too little is known from after the start: { $after } records in { $later } months.
output-status-no-controls = No farm that had not started can be compared with.
output-status-estimated = The interval crosses zero.
output-programme-unknown = Too few farms can be compared.
from-farms = ({ $farms ->
    [one] one farm
   *[other] { $farms } farms
  })
spoilage-title = Do trays keep spoiling?
spoilage-none = No batch can be counted yet.
spoilage-recurring = Batch after batch spoils: an officer should look at the shed and the seed.
spoilage-insufficient-data = Cannot tell yet: too few batches.
spoilage-one-bad-batch = One batch went bad; it does not keep happening.
spoilage-watch = More trays are lost than usual; not enough to say that it keeps happening.
spoilage-ok = Trays do not keep spoiling.
# Seed account
account-title = Seed account of { $farm }
account-owes = { $amount } is owed for seed.
account-ahead = { $amount } has been paid ahead.
account-even = Nothing is owed for seed.
account-unpriced = { $count ->
    [one] One hand-out has no price yet
   *[other] { $count } hand-outs have no price yet
  } and is not in the balance.
account-period = From { $from } to { $to }
account-opening = brought forward
account-about = Is something wrong? Ask for a correction, or tell your officer.
balance = Balance
entry = Entry
no-price = no price yet
entry-issue_on_credit = seed on credit
entry-issue_paid_at_once = seed, paid at once
entry-payment = payment
paid-by-cash = cash
paid-by-mobile_money = by telephone
paid-by-bank = bank
paid-by-milk_check_off = kept back from milk money
paid-by-egg_check_off = kept back from egg money
# Corrections that members ask for
ask-title = Ask for a correction
ask-about = Say what is wrong and what is right. Your officer sees it and answers here.
ask-subject = What is it about?
ask-wish = What is wrong, and what is right?
ask-wish-hint = Such as: on 8 March it was 14 litres, not 41
ask-send = Send
ask-before = Asked before
asked-on = asked on { $date }
answered = { $date }: { $answer }
subject-batch = a batch
subject-milk = milk
subject-eggs = eggs
subject-feed = feed bought
subject-seed = seed
subject-money = money
subject-animals = animals
subject-visit = a visit
subject-other = something else
wishes-title = Corrections asked for
wish-of = Correction asked for by { $farm }
answer-what = What was done about it?
answer-hint = Correct the record itself first; its earlier values are kept
answer-send = Answer
# Whom to visit, farms
round-title = Whom to visit next
round-about = The most pressing first. Every farm stands here with its reason.
round-nobody = No farm asks for a visit today.
round-more = { $count ->
    [one] One more farm asks for a visit.
   *[other] { $count } more farms ask for a visit.
  }
flag = flag
reason-flag = Batch after batch spoils; flag raised on { $date }.
reason-follow-up-overdue = Agreed and not yet done, due since { $date }: { $action }
reason-no-records = Nothing recorded since { $date }: ask whether trays are still grown.
reason-new-starter = Started on { $date } and has not been visited since.
reason-wish = Asks for a correction.
bring = Bring: { $what }
bring-for-flag = thermometer and hygrometer, cleaning agent, another seed lot to compare
bring-for-starter = printed work sheet, measuring cup
bring-seed = { $kg } kg { $crop }
never-visited = Not visited yet
last-visit = last visit { $date }
log-visit = Log a visit
farms-title = Farms
farms-none = No farm is found.
find-farm = Code of the farm
find = Find
not-started = fodder not started
area = Area
place = How to find it
place-hint = A landmark, a turn, the colour of the gate
phone-number = Telephone
member-number = Membership number
speaks = Language
language-name-en = English
language-name-sw = Kiswahili
started-on = First soak of fodder
animals = Animals
seed-on-the-farm = Seed on the farm
seed-kg-days = { $kg } kg, enough for { $days ->
    [one] one day
   *[other] { $days } days
  }
work-of-today = Today’s work: { $late } late, { $open } open, { $done } done.
shelf-title = Shelves of { $shed } by age of the trays
shelf-text = Trays on the shelves by days since their soak, against the places of the shed.
shelf-empty = No trays on the shelves.
shelf-places = { $places } places
shelf-over = { $trays } over the places
shelf-ready = hatched: ready to harvest
all-trays = all
estimates-title = What the records tell
see-evidence = See the evidence
see-farm = See the farm
see-batch = See the batch
see-lot = See the seed lot
follow-ups-open = Agreed and still to be done
follow-ups-title = Agreed on
due-on = by { $date }
visits-last = Last visits
visit-note = Seen: { $text }
visit-advice = Advised: { $text }
# Plan of a farm
plan-title = Plan
plan-of = Plan of { $farm }
trays-a-day = Trays a day
places-needed = Shelf places needed
seed-kg-a-day = Seed a day, kg
seed-kg-in-30-days = Seed in 30 days, kg
fresh-kg-a-day = Fresh fodder a day, kg
water-litres-a-day = Water a day, litres
work-minutes-a-day = Work a day, minutes
plan-derived = How many of these animals one tray feeds is derived from their live weight, not common practice.
shed-too-small = Shed { $shed }: { $missing } of the places needed are missing ({ $places } are there).
shed-spare = Shed { $shed }: { $places } places, { $spare } to spare.
first-feed = First feed on { $date }.
plan-days = Day by day
to-soak = To soak
plan-soak = { $kg } kg { $crop } on { $trays ->
    [one] 1 tray
   *[other] { $trays } trays
  } for { $group }
places-taken = Places taken
feed-kg = To feed, kg
short-kg = Short, kg
# Visits
visit-title = Visit to { $farm }
visit-begin = Began
visit-save = Save the visit
checks-title = Checks
answer-yes = yes
answer-no = no
answer-not_seen = not seen
readings-title = Readings in the shed
reading-temperature = Air temperature, °C
reading-humidity = Relative humidity, %
photos-title = Photos
photos-hint = The place stored inside the picture is taken out
photo-of = Photo { $number }
advice-title = What was seen and advised
visit-seen = Seen
visit-advised = Advised
advice-hint = Rations and disease: refer to the local livestock service
follow-up-action = What will be done
follow-up-due = By when
how-it-ended = How did it end?
outcome-done = done
outcome-not_done = not done
outcome-not_needed = not needed any more
follow-up-ended = { $outcome }, { $date }
# Registering a farm
register-title = Register a farm
register-about = Member, farm, shed and animals in one go. The plan follows at once.
register-save = Register
member-title = Member
member-name = Name
sex = Sex
sex-female = female
sex-male = male
sex-not_stated = not stated
birth-year = Year of birth
joined-on = Joined on
consent = The member agrees that these records are kept and counted in totals
farm-title = Farm
farm-code = Code of the farm
water-source = Water
water-piped = piped
water-borehole = borehole
water-shallow_well = shallow well
water-rainwater = rainwater
water-river = river
water-vendor = bought
water-other = other
started-hint = Leave empty if fodder has not been started
shed-title = Shed
shed-code = Code of the shed
tray-places = Places for trays
group-title = Animal group { $number }
animal-class = Animals
head = How many
ration-feed = Feed bought before fodder
ration-kg = kg of it per animal and day
ration-hint = The ration before fodder: what savings are measured against
animals-title = Animals
animals-of = Animals of { $farm }
head-why = Why
head-counted = counted
head-born = born
head-bought = bought
head-moved_in = moved in
head-sold = sold
head-slaughtered = slaughtered
head-died = died
head-moved_out = moved out
head-hint = All of them when counted; otherwise how many came or went
head-line = { $date }: { $head }, { $why }
group-add = Add a group of animals
group-code = Code of the group
labels-title = Labels
labels-of = Labels of { $farm }
labels-about = Print, cut out and stick on. Each code opens its page after signing in.
harvest-on = harvest { $date }
# What a phone keeps
phone-title = On this phone
phone-about = What you save without signal waits here and is sent by itself when there is signal again. Nothing is lost when you close the page or sign out.
phone-no-script = This page needs script. Without it every form is sent at once, with signal.
phone-see = See
phone-offline = No signal: what you save stays on this phone.
phone-waiting = Waiting on this phone: 
phone-needs = Needs you: 
phone-full = This phone has little room left. Send what waits, or take fewer photos.
phone-sign-out = Something is not sent yet. It stays on this phone and is sent when you sign in here again. Sign out?
phone-send-now = Send now
phone-take-along = Take today’s farms along
phone-on-this-phone = on this phone
phone-sending = sending
phone-sent = sent
phone-needs-you = needs you
phone-of-other = Of somebody else who signed in on this phone; sent when they sign in again.
phone-nothing = Nothing is waiting.
phone-kept-at = kept
phone-photos-left = photos still to send
phone-put-right = Open and put right
phone-try-again = Try again
phone-throw-away = Throw away
phone-throw-sure = Throw this entry away for good?
phone-clock = The clock of this phone was off by minutes: 
phone-yours = yours
phone-now = there now
phone-keep-theirs = Keep what is there now
phone-send-mine = Send mine
phone-sign-in-first = Sign in first; nothing is lost.
phone-store-full = There is no room on this phone to keep it. Stay on this page, make room (photos, other programs), then save again.
phone-pages-kept = pages are on this phone and open without signal
phone-photo-failed = This photo could not be read on this phone. Take it again, or save without it.
# The month
month-title = { $month } at a glance
farms-saving = Farms that save
farms-losing = Farms that lose
farms-unknown = Farms without a number
farms-count = Farms
adjustments-in = { $count ->
    [one] One correction
   *[other] { $count } corrections
  } of closed months: { $amount }.
savings-see = Savings report
spoilage-count = { $count ->
    [0] No farm is flagged.
    [one] One farm is flagged.
   *[other] { $count } farms are flagged.
  }
seed-title = Seed
office-title = Office
savings-title = Savings report
savings-title-about = Page, workbook, PDF for the board, CSV
close-title = Close the month
close-title-about = What is missing, then the closing
review-title = Review list
review-title-about = What contradicts itself in the records
round-title-about = Flags, overdue agreements, silent farms, new starters
people-title = People and roles
people-title-about = Who signs in, and one-time codes
guide-title = Growing guide
guide-title-about = The co-operative’s own standards
import-title = Read in files
import-title-about = Spreadsheets kept so far, with a preview
work-title = Today’s work of all farms
work-title-about = Late work first
# Savings report
savings-of = Savings of { $month }
saving-total-none = No farm has a number yet.
month-closed = The month is closed: its report stays as it was.
month-open = The month is open: figures follow the records.
as-workbook = Workbook (XLSX)
as-pdf = For the board (PDF)
as-csv = CSV
savings-chart = Savings with their intervals
savings-chart-text = Each bar is one farm’s saving with its 95 % interval, the clearest first; an open mark means that it cannot be told yet from zero.
by-area = By area, { $currency }
by-member = By member, the clearest first
by-member-of = Members of { $area }, the clearest first
percent-of-before = Of before, %
between-95 = Between (95 %)
low-to-high = { $low } to { $high }
output-change = Output change (95 % interval)
all-together = All together
method-title = How this is worked out
savings-method = Saving = ration before fodder × animal-days of the month × this month’s prices, minus feed bought, seed soaked, other costs and wear; spoiled trays are inside. No record is not a zero: a month without what it needs has no number. Losses are shown like savings.
close-of = Close { $month }
close-done-see = Closed months
close-missing = What is missing
close-nothing-missing = Nothing is missing.
close-missing-count = { $count ->
    [one] One farm has no number because something is missing.
   *[other] { $count } farms have no number because something is missing.
  }
close-review = { $count ->
    [0] The review list is empty.
    [one] One finding is on the review list.
   *[other] { $count } findings are on the review list.
  }
close-warning = A closed month stays as it was reported. Records can still be corrected; the difference shows in the next month. Closing can not be undone.
close-do = Close { $month } for good
closed-months = Closed months
closed-on = Closed on
changed-since = Records changed since
# Spoilage and seed lots
spoilage-list-title = Farms whose trays keep spoiling
spoilage-about = The strongest evidence first. A flag means that it keeps happening, not that one batch went bad.
spoilage-farms = Farms by evidence
spoilage-status = Status
evidence-points-at = Evidence points at
batches-counted = Batches counted
spoilage-word-recurring = keeps happening
spoilage-word-insufficient-data = cannot tell yet
spoilage-word-one-bad-batch = one bad batch
spoilage-word-watch = more than usual
spoilage-word-ok = does not keep happening
points-at-farm = the farm
points-at-seed_lot = the seed lot
points-at-not_known = not known
evidence-of = Spoilage evidence: { $farm }
evidence-to = The evidence points at { $what }.
evidence-chart = Evidence from batch to batch
evidence-chart-text = The line rises with batches that lost more trays than usual and falls with good ones; a flag goes up where it reaches the dashed line.
evidence-axis = Evidence
evidence-across = batches by day of soak
evidence-threshold = flag
evidence-raised = raised the flag
evidence-batches = Batches behind it, the newest first
flag-raised = Flag raised on { $date }
flag-seen = Seen on
flag-cause = Cause found
flag-finding = What was found and done
flags-before = Earlier flags
flag-period = { $from } to { $to }
spoilage-method = Each batch counts by its trays spread and lost: how much likelier these are at 15 % lost than at 4 %, trays of one batch not counted as independent. A flag goes up at 6 and comes down at 0; no single bad batch can raise it.
lots-title = Seed lots
lots-table = Seed lots of the last 90 days
lots-seed-lot = The evidence points at seed lots.
lots-farm = The evidence points at farms, not at seed lots.
lots-both = The evidence points at both farms and seed lots.
lots-neither = Neither seed lots nor farms stand out.
lots-not-identifiable = Cannot tell yet: seed and farm cannot be told apart before several lots were grown on several farms each.
lot-suspect = suspect
lot-not-suspect = not suspect
supplier = Supplier
growing-at = Growing now at
lot-trace = Where it came from and went
hold-title = Hold this lot
hold-why = Why
hold-from = From
hold-because = Held: { $why }
hold-end = Let it go again
hold-do = Hold: no more hand-outs
# Seed purchases
purchases-title = Seed to buy
purchases-about = All farms’ plans for the next weeks, less what farms and the store have.
buy-by = { $crop }: order { $bags ->
    [one] 1 bag
   *[other] { $bags } bags
  } ({ $kg } kg) by { $date }.
buy-some = { $crop }: order { $bags ->
    [one] 1 bag
   *[other] { $bags } bags
  } ({ $kg } kg).
buy-nothing = { $crop }: nothing to order.
purchases-list = By crop
need-kg = To soak, kg
on-farms-kg = On farms, kg
in-store-kg = In the store, kg
held-kg = Held, kg
to-buy-kg = To buy, kg
to-buy-bags = Bags
store-lasts = Store lasts until
order-by = Order by
issue-points = What each area hands out
to-issue-kg = To hand out, kg
to-issue-bags = Bags
purchases-method = Soaks of every farm’s plan day by day, less the seed on the farm. Order by: the first day on which the store holds less than what is handed out until the delivery and the safety stock. Held lots count as nothing.
# People
person-name = Name
role = Role
role-operator = operator
role-manager = manager
role-officer = officer
role-member = member
role-programme_reader = programme reader
may-sign-in = May sign in
person-new = Add a person
person-add = Add
short-name = Short name
email = E-mail address
find-person = Name or code
person-member-hint = Only for the role member
invitation-about = A one-time code lets this person set a password. It holds a week and is shown once.
invitation-make = Make a one-time code
invitation-code = One-time code, shown only now: { $code }
officer-areas = Areas
area-add = Add the area
area-take-away = Take { $area } away
# Growing guide
guide-intro = Every standard in force, and since when. A new value holds from its day on; the past stays as it was.
guide-standard = Standard
guide-value = Value
guide-since = Since
guide-default = default, common practice
guide-derived = derived from live weight
guide-change = Set a standard
guide-class-hint = Only for harvest age and animals per tray
guide-from = From
guide-why = Why
guide-soak_hours = soak
guide-incubate_hours = germination before spreading
guide-seed_kg_per_tray = dry seed on one tray
guide-drain_gap_cm = gap at the drain end
guide-waterings_per_day = waterings
guide-harvest_age_days = harvest age
guide-animals_per_tray = animals one tray feeds
guide-fresh_kg_per_kg_seed = fresh yield
guide-fodder_water_percent = water in fresh fodder
guide-seed_dry_matter_percent = dry matter of seed
guide-full_trays = full trays instead of scaled
guide-water_litres_per_kg_fresh = water for fresh fodder
guide-labour_minutes_per_tray = work for a tray
guide-seed_lead_days = days from order to delivery
guide-seed_service_percent = certainty of the safety stock
guide-seed_bag_kg = a bag
guide-silent_days = days until a farm counts as silent
guide-sorghum_allowed = sorghum allowed
unit-hours = hours
unit-kg = kg
unit-cm = cm
unit-a-day = a day
unit-days = days
unit-animals = animals
unit-kg-per-kg = kg per kg
unit-per-cent = %
unit-1-or-0 = (1 yes, 0 no)
unit-l-per-kg = litres per kg
unit-minutes = minutes
# Reading in files
import-intro = Choose the CSV files: each holds one kind of record and is named like it (members.csv, milk_records.csv …). They are looked through first; nothing is kept until you say so.
import-files = Files
import-hint = Several at once; up to 24 MB together
import-look = Look them through
import-preview = What is in the files
import-nothing-kept = Nothing is kept yet.
import-take = { $count ->
    [one] Take the good file
   *[other] Take the { $count } good files
  }
import-none-good = No file can be taken as it is. Put the rows right in the spreadsheet and choose the files again.
import-not-taken = { $file } was not taken: none of its rows is kept. Put it right and read it in again; what was taken before is not doubled.
import-done = Done.
import-file = File
import-verdict = Verdict
import-good = good
import-bad = has bad rows
import-rows = Rows
import-new = New
import-before = There before
import-bad-rows = Bad rows
import-bad-more = Bad rows; { $count } more are not shown
import-line = Line
import-column = Column
import-what = What to do
import-row = The row
# Review list
review-intro = Nothing that was entered is changed here. A finding goes when the records are put right, or when somebody accepts it with a reason.
review-none = Nothing contradicts itself.
review-more = { $count } more findings.
review-accept = Accept with a reason
review-reason = Why it may stand
rule-store_stock_below_zero = store below zero
rule-farm_stock_below_zero = seed on the farm below zero
rule-more_trays_out_than_spread = more trays out than spread
rule-more_fed_than_harvested = more fed than harvested
rule-yield_impossible = impossible yield
rule-yield_unlikely = unlikely yield
rule-events_out_of_order = events out of order
rule-fed_over_age = fed past its day
rule-fed_with_mould = fed with mould
rule-held_lot_soaked = held lot soaked
rule-shed_over_full = more trays than places
rule-silent_farm = silent farm
rule-repeated_values = same value day after day
rule-rounded_values = all figures round
rule-output_jump = jump in milk or eggs
rule-head_jump = jump in head count
# Totals of a programme
totals-title = Totals of { $month }
totals-from = From
totals-until = Until
totals-divide = Divided by
totals-by-cooperative = co-operative
totals-by-area = area
totals-by-sex = sex
totals-by-age_band = age
totals-hidden = No figure comes from fewer than { $count } members; smaller groups are hidden, and with them one more where they could be found by subtraction.
totals-too-few = hidden: too few
totals-group = Group
totals-members = Members
totals-milk = Litres per cow-day
totals-eggs = Eggs per 100 hen-days
totals-fed = Fresh fodder fed, kg
group-all = all
group-female = female
group-male = male
group-not-stated = not stated
group-under-18 = under 18
group-18-to-24 = 18 to 24
group-25-to-34 = 25 to 34
group-35-to-59 = 35 to 59
group-60-and-over = 60 and over
# One-time codes, paper
invitation-title = Set your password
invitation-intro = With the one-time code that your office gave you.
invitation-your-code = One-time code
invitation-password = New password
invitation-password-hint = At least 10 characters: three words that do not belong together are good. Members may take a PIN of 6 to 9 digits.
invitation-save = Set it
invitation-ready = It is set. Sign in with it.
invitation-have = I have a one-time code
invitation-link = Or as a link: { $link }
invitation-once = works once, for a week
batch-start = New batch
sheet-print = Work sheet to print
# Conflicts, what is missing, taking back
stale-there-now = there now: { $value }
stale-short = Somebody has changed this meanwhile. Look again.
gone-meanwhile = This is not there any more, or not for you.
cooperative = Co-operative
saving-unclear-loss = By the records { $amount } lost; it cannot be told from chance yet.
age-days-over = day { $days }, past its day
lot-is-held = held
missing-heads = head count of the animals
missing-feed = feed purchases (record 0 kg if none was bought)
missing-seed-price = price of the seed that was soaked
missing-ration = ration before fodder of an animal group
missing-price = price of { $feed } within three months
take-back = Take back
take-back-of = Taken back: { $what }
take-back-why = Why
milk-recorded = { $date }: { $amount } litres
eggs-recorded = { $date }: { $amount } eggs
stage-not_soaked = not soaked yet
interval-none = not known yet
change-none = cannot tell yet
change-told = { $percent } % ({ $low } to { $high })
change-unclear = cannot tell yet ({ $low } to { $high } %)
saving-no-interval = How sure this is cannot be said yet.
note-no-other = No other costs are recorded.
note-no-soak = No soak is recorded.
note-group-left-out = A group of animals without a head count is left out.
batch-correct = Correct crop, seed lot or group
correct-of = Correct { $what }
batch-shed-stays = The shed stays as it is. If it is another shed, take the batch back and start it there.
batch-take-back-about = Takes back the batch with all that was recorded of it. It stays in the history.
harvest-age-days = Age at harvest, days from the soak
harvest-age-hint = Leave it empty for the growing guide’s.
