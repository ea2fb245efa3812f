# English. The same keys stand in sw.ftl; a test compares them.
title = traybook
skip = To the content
language-own = English
sign-in = Sign in
sign-out = Sign out
login = Telephone number or e-mail address
password = Password or PIN
kept-sign-in = You are signed out. What you filled in is kept: sign in, then send it.
kept-title = Send what you filled in
kept-about = Nothing of it is recorded yet.
kept-of-another = Somebody else filled this in. Sent now, it stands under your name.
kept-no-files = Files and photos did not come along. Add them again afterwards.
kept-send = Send
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
short = { $kg } kg fresh fodder are missing for { $group } today.
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
task-harvest-early = Harvest { $trays ->
    [one] 1 tray
   *[other] { $trays } trays
  } { $days ->
    [one] a day
   *[other] { $days } days
  } early for { $group }
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
the-animals = the animals
your-shed = your shed
farm-result = Result
batch-soaked = { $crop } soaked on { $day }
own-dairy_cows = { $count ->
    [0] your cows
    [one] your cow
   *[other] your { $count } cows
  }
own-other_cattle = { $count ->
    [0] your other cattle
   *[other] your { $count } other cattle
  }
own-goats = { $count ->
    [0] your goats
    [one] your goat
   *[other] your { $count } goats
  }
own-sheep = { $count ->
    [0] your sheep
   *[other] your { $count } sheep
  }
own-pigs = { $count ->
    [0] your pigs
    [one] your pig
   *[other] your { $count } pigs
  }
own-rabbits = { $count ->
    [0] your rabbits
    [one] your rabbit
   *[other] your { $count } rabbits
  }
own-indigenous_chickens = { $count ->
    [0] your chickens
    [one] your chicken
   *[other] your { $count } chickens
  }
own-layers = { $count ->
    [0] your laying hens
    [one] your laying hen
   *[other] your { $count } laying hens
  }
own-broilers = { $count ->
    [0] your broilers
    [one] your broiler
   *[other] your { $count } broilers
  }
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
why-early = today’s harvest falls short
soak-trays-more = { $trays ->
    [one] One tray more
   *[other] { $trays } trays more
  }
soak-seed-more = { $kg } kg of seed more
soak-left-out = { $trays ->
    [one] One tray found no place.
   *[other] { $trays } trays found no place.
  }
soak-for-trays_lost = { $trays ->
    [one] a tray was lost on { $day }
   *[other] { $trays } trays were lost, the last on { $day }
  }
soak-for-trays_mouldy = { $trays ->
    [one] a tray has mould
   *[other] { $trays } trays have mould
  }
soak-for-trays_taken_early = { $trays ->
    [one] a tray was harvested early on { $day }
   *[other] { $trays } trays were harvested early, the last on { $day }
  }
soak-for-soak_missed = nothing was soaked on { $day }
soak-for-more_animals = there are { $to } animals, no longer { $from }
soak-for-too_little = less stands than the animals need
footer = Mouldy fodder and treated seed are poisonous: do not feed them, and ask a veterinary officer. Rations are for the local livestock service to advise on.
milk-title = Milk and eggs
milk-of = Milk, { $group }
milk-amount = Litres
litres-morning = Litres in the morning
litres-evening = Litres in the evening
which-milking = Which milking
session-day = whole day
session-morning = morning
session-midday = midday
session-evening = evening
milk-once = Write the whole day in one figure
milk-twice = Write morning and evening apart
written-already = Written already: { $amount } litres. A new figure is asked about.
again = What is the new figure?
again-add = It comes on top of what is written
again-instead = It stands in place of what is written
sure = The figure is right as I wrote it
sold-too = Write what was sold, too
milk-sold = Litres sold
milk-price = Price of a litre
eggs-sold = Eggs sold
eggs-price = Price of an egg
counts-not = does not count: the entry with the whole day, or a later one, counts
by-text = By text message
milk-animals = Animals milked
eggs-of = Eggs, { $group }
eggs-amount = Eggs collected
eggs-animals = Hens in the house
save = Save
saved = Saved.
saved-what = Saved: { $what }
taken-what = Taken back: { $what }
put-back = Put it back
take-back-question = Take this back?
take-back-yes = Yes, take it back
take-back-after = It no longer counts. It stays in the history, and you can put it back.
harvest-without-kg = This harvest has no kg. Weigh the fodder, and correct the entry: without kg nothing can be said of the yield.
no-milk-or-eggs = No animals that give milk or eggs are recorded. Ask your officer.
error-title = Please check
error-try-again = That did not work: { $detail }
page-not-there = There is nothing at this address.
more-lines = { $count ->
    [one] One more line of this farm
   *[other] { $count } more lines of this farm
  }
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
back = Back
back-to-start = To the first page
optional = may stay empty
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
# What is refused, by code, or by code and field. English pages say it in the words of the rule
# itself, which are nearer to the case; what stands here is the meaning for other languages.
refused-type = Write it as it is asked for.
refused-type-photos = Choose a JPEG, PNG or WebP picture that is not too large: { $file }.
refused-type-month = Write the month as 2026-03.
refused-type-from = Write the month or day as 2026-03 or 2026-03-31.
refused-type-to = Write the month or day as 2026-03 or 2026-03-31.
refused-type-day = Write the day as 2026-03-31.
refused-type-date = Write the day as 2026-03-31.
refused-type-skip = Write a whole number, 0 or more.
refused-type-line = Load the page again: this line is not on the list.
refused-day_full = This group has very many records of this day. Correct or withdraw one of them.
refused-not_empty = There is something already: nothing is ever written over.
refused-not_a_backup = This is no backup of this program, or it is damaged.
refused-encrypted = The backup is encrypted: its identity is needed.
refused-damaged = The database or the copy is damaged. Restore the last backup.
refused-written = Somebody writes meanwhile. Stop the server first.
refused-points = The picture has too many points for telephones to show: choose a smaller one.
refused-range = The value is out of bounds: check it.
refused-range-kg = Give more than 0 kg.
refused-range-amount = Give more than 0.
refused-range-change_kg = Give a change other than 0 kg.
refused-range-salvage_value = Give at most the cost.
refused-range-tray_load_kg = Give 0.05 to 20 kg a tray.
refused-range-dry_matter_percent = Give more than 0 %.
refused-range-head = Give at least 1 animal.
refused-range-value = Give { $low } to { $high }.
refused-range-from = Give an earlier first month, and fewer months.
refused-range-to = Give an end after the beginning, and fewer days or months.
refused-required = This must be filled in.
refused-required-trays = Give the trays, or the kg where they were not counted.
refused-required-kg = Give the kg; fodder that was not weighed in trays or by an estimate.
refused-required-cause = Give the cause; take other if unsure.
refused-required-finding = Say what was found before the lot is released.
refused-required-seen_on = Give the day on which the farm was seen.
refused-required-email = Give an e-mail address or a telephone number to sign in with.
refused-required-animal_class = Choose the animals, or empty the fields below.
refused-required-kg_per_animal_day = Give kg per animal and day, or choose no feed.
refused-required-feed_id = Choose the feed, or empty the kg.
refused-required-files = Choose one or more CSV files.
refused-required-photo = Send the picture file.
refused-required-why = Say why it is taken back.
refused-required-change_reason = Say why it is corrected.
refused-required-at = Say when it was done.
refused-required-version = Load the page again.
refused-combination = These fields do not fit together: correct one of them.
refused-combination-crop = The seed lot is of another crop: correct one of them.
refused-combination-cause = Leave this out: only discarded trays have a cause.
refused-combination-germinated_percent = Leave this out: germination is counted when the seed is spread.
refused-combination-weekday = Give either a weekday or one day.
refused-combination-watering = Leave this out: only watering is counted through the day.
refused-combination-ended_on = Give both, the day and how it ended, or neither.
refused-combination-outcome = Give both, the day and how it ended, or neither.
refused-combination-answered_on = Give both, the answer and its day, or neither.
refused-combination-answer = Give both, the answer and its day, or neither.
refused-combination-visit_id = Give the visit or the batch event, one of the two.
refused-combination-member_id = Name the member for the role member, and no member otherwise.
refused-combination-longitude = Give latitude and longitude, or neither.
refused-combination-latitude = Give latitude and longitude, or neither.
refused-combination-animal_class = Name the class of animal only where the standard differs between classes, and there always.
refused-order = The days are out of order: correct one of them.
refused-order-ended_at = Give a time after the beginning.
refused-order-answered_on = Give a day not before it was asked.
refused-order-released_on = Give a day not before the hold began.
refused-order-seen_on = Give a day not before the flag was raised.
refused-order-cleared_on = Give a day not before the flag was raised.
refused-order-left_on = Give a day not before the member joined.
refused-order-last_day = Give a day not before the first day.
refused-order-valid_to = Give a day not before the value begins to hold.
refused-order-disposed_on = Give a day not before it came into service.
refused-impossible = This can not be: check the figures.
refused-impossible-animal_group_id = Choose a group that gives milk, or a flock for eggs.
refused-impossible-litres = More than 100 litres an animal and day: check litres and animals.
refused-impossible-sold_litres = Sold, home and calf use together are more than the litres.
refused-impossible-eggs = More than 1.5 eggs a hen and day: check eggs and hens.
refused-impossible-cracked = Give at most the eggs collected.
refused-impossible-sold_eggs = Give at most the eggs collected.
refused-length = The text is too short or too long.
refused-length-password = At least 10 characters, or for members a PIN of 6 to 9 digits.
refused-length-change_reason = Give 1 to 500 characters.
refused-length-reason = Give 1 to 500 characters.
refused-characters = Remove signs that are no letters, such as those of a broken copy.
refused-choice = Choose one of those given.
refused-precision = Too many digits after the point.
refused-date_like = These digits can be a day or a year: take others.
refused-common = This is among the first that are guessed: take others, such as three words that do not belong together.
refused-unknown_reference = There is no such record that you can use: choose another or check its name.
refused-unknown_reference-member_number = No member has this number: look it up on the page of the farm.
refused-unknown = This is not known: check what was written.
refused-unknown_field = This is not taken here: remove it.
refused-unknown_parameter = This is not taken here: go back and choose again.
refused-unknown_code = Ask for a new code: this one is unknown, used or old.
refused-future = This lies in the future: give a day or time up to now, and check the clock of the device.
refused-future-month = Give a month that has begun.
refused-future-line = This is the work of a day to come: record it when it is done.
refused-running = This month is still running: give a month that has ended.
refused-unit = Check the unit of the figure.
refused-unit-temperature_c = Give degrees Celsius (-30 to 55); this looks like degrees Fahrenheit: subtract 32 and multiply by 5/9.
refused-unit-humidity_percent = Give per cent (0 to 100), not a fraction: 0.6 is written 60.
refused-taken = This is taken: choose another.
refused-taken-email = Another person signs in with this: each needs one of their own.
refused-taken-phone = Another person signs in with this: each needs one of their own.
refused-outside_reach = This is outside of your area: choose one within it.
refused-outside_reach-role = Only an operator makes or changes an operator.
refused-other_farm = This belongs to another farm: choose one of the same farm.
refused-outside = No answer lies within these bounds: change one of them.
refused-unreliable = The figures lead to no sure answer: change a limit a little.
refused-mould = Mould: do not feed. Mouldy feed can poison animals; ask a veterinary officer. If it was fed all the same, say why.
refused-over_age = Past its day: old fodder spoils. Look at every tray and feed nothing that smells or shows mould; if it was fed, say why.
refused-held = This seed lot is held: soak and feed nothing of it, hand nothing out; keep it apart and ask an officer.
refused-treated_seed = Only untreated feed grain: dressed seed is poisonous. Do not soak it or feed it.
refused-sorghum = Young sorghum can kill animals (prussic acid): choose another crop unless a manager allows it here, after asking the livestock service.
refused-id_version = Load the page again; in a file leave the id empty.
refused-format = Write it as it is asked for.
refused-format-email = Give an address such as amina@example.org.
refused-format-phone = Give 6 to 15 digits, with + and the country code.
refused-role = Choose a person whose role is officer.
refused-repeated = This was given twice: give it once.
refused-fixed = This can not change: take the record back and make a new one.
refused-tree = An area can not lie within itself: choose another.
refused-something = Check this and try again.
refused-withdrawn = This record was taken back: make a new one.
refused-id_taken = This stands for another record: load the page again.
refused-feed_bought = By the records some of this feed was bought in that month: choose another feed or month, or correct that purchase.
refused-feed_left = By the records another amount of this feed was left on the first of that month: correct or take back that count first.
refused-flagged = A spoilage flag names this batch: ask your officer to take it back.
refused-in_use = Other records refer to it: take these back or correct them first.
refused-work_recorded = This work is recorded with other figures: correct that record instead.
refused-can_not_spread = This database keeps all tables on one machine.
refused-left = This member has left: a number is linked to members only.
refused-many = Too many members share this number: end one first.
refused-no_carrier = No modem or carrier sends texts for this co-operative: ask whoever runs the server.
refused-over = Give a day that is not over.
refused-telephone = Give a telephone number with its country code, such as +255700000101.
refused-too_many = There are too many of these: end one first.
refused-photo_stored = This photo has another file: make a new photo.
refused-months = Give months from 1 to 12, each once, with commas between: 3,4,5,11.
refused-month_closed = The month is closed: read its report as it was sent.
refused-month_order = Months close in order: close the earlier ones first.
refused-inactive = This person may not sign in: allow it first.
refused-several_cooperatives = There are several co-operatives: say which.
refused-second_factor = A code of the second factor is asked for.
refused-second_factor_there = There is a second factor already: take it away first.
refused-wrong_passkey = The passkey was not taken: try again, or give a code.
refused-no_passkey_address = Passkeys need an address by https, or localhost.
refused-second_factor_first = Set up codes first: passkeys stand beside them.
refused-passkeys_full = There are too many passkeys: remove one first.
refused-passkey_there = This key is there already, or there are too many.
refused-choose_cooperative = You belong to several co-operatives: choose one.
refused-files = The files can not be written or read there: choose another folder.
refused-file_before = Not tried: put { $file } right first.
refused-column_twice = This column stands twice: remove one.
refused-column_unknown = This column is not known; known are { $known }.
refused-column_missing = Add this column: every row needs it.
refused-cells = { $got } cells where the header has { $want }: the line may be cut off.
refused-other_cooperative = These records are read into another co-operative.
refused-imported_before = This record is there already with other values: correct it on its page, so that its history stays.
refused-event_time = Give the time for what is recorded of it.
refused-sheet_too_large = This file is too large to be read at once. Cut it in two.
refused-workbook_old = This workbook has an old form, or a password. Save it as XLSX without a password.
refused-workbook_broken = This workbook can not be read. Save it again as XLSX.
refused-columns_many = This line has too many columns. Remove those on the right.
refused-no_table = This is no table. Choose a file of XLSX or CSV.
refused-two_days = This can be { $one } or { $other }. Say which comes first, day or month.
refused-day_order = This day has the other order of day and month than the file. Write it as 2026-03-31.
refused-two_readings = This can be { $whole } or { $part }: write one of them, or say what comma and point mean in the file.
refused-several_of_name = { $count } records have this name. Write the code.
refused-column_open = Choose where this column goes, or leave it out.
refused-days_open = Say which comes first, day or month.
refused-mark_open = Say what comma and point mean.
refused-quotes = A quoted cell is not closed: the file may have been cut off; copy it again.
refused-empty = The file is empty: the first line must name the columns.
wanted-ref = Choose one of those recorded, or write its code.
wanted-text = At most { $max } characters.
wanted-code = A short name of 1 to 40 characters.
wanted-choice = There are: { $of }.
wanted-whole = A whole number from { $low } to { $high }.
wanted-decimal = A number from { $low } to { $high } with at most { $places } digits after the point.
wanted-money = An amount, 0 or more, with a point.
wanted-date = A day as 2026-01-31; check the year.
wanted-instant = Day and time as 2026-01-31 06:30; check the year.
wanted-bool = Yes or no; in a file: yes, no.
wanted-currency = A currency code such as TZS.
wanted-zone = A time zone such as Africa/Dar_es_Salaam.
wanted-year = A year such as 1984.
problem-malformed = What came could not be read: load the page again.
problem-cursor = Begin at the first page of the list.
problem-gone = Begin at the first page of the list.
problem-unauthenticated = Sign in first; nothing is lost.
problem-wrong_password = Number or password is not right: check both.
problem-method_not_allowed = This can not be done at this address: go back.
problem-not_acceptable = This is not to be had in that form.
problem-conflict = It contradicts what is there: look at the record again.
problem-too_slow = It came too slowly. Send it again where the network is better.
problem-too_large = The file is too large: choose a smaller one.
problem-media_type = Choose a JPEG, PNG or WebP picture.
problem-invalid = Some fields need attention.
problem-precondition_required = Load the page again.
problem-internal = Something went wrong on our side: try again later, or tell your office.
problem-restored = The records were restored from a backup. Load the page again.
problem-reads_only = This server shows records only, and nothing was kept. Open the main server and send it there.
problem-damaged = The database is damaged. Trying again does not help: tell whoever runs the server to restore the last backup. What is on this phone stays there.
problem-unavailable = The server is busy or away; nothing is lost. Try again.
# Fields as files and addresses name them
field-active = active
field-amount = amount
field-animal_class = animal class
field-animal_group = animal group
field-animals_in_milk = animals in milk
field-area = area
field-at = at
field-batch = batch
field-birth_year = birth year
field-calf_litres = calf litres
field-category = category
field-cause = cause
field-change_kg = change kg
field-code = code
field-passkey = passkey
field-consent = consent
field-consent_on = consent on
field-cost = cost
field-cracked = cracked
field-crop = crop
field-crude_protein_percent = crude protein percent
field-currency = currency
field-date = date
field-discard_cause = discard cause
field-discarded_at = discarded at
field-disposed_on = disposed on
field-dry_matter_percent = dry matter percent
field-eggs = eggs
field-email = email
field-event = event
field-farm = farm
field-fed_at = fed at
field-fed_kg = fed kg
field-fed_reason = fed reason
field-feed = feed
field-feed_grade = feed grade
field-finding = finding
field-first_day = first day
field-flock_age_weeks = flock age weeks
field-fodder_started_on = fodder started on
field-germinated_percent = germinated percent
field-germination_percent = germination percent
field-harvest_age_days = harvest age days
field-harvested_at = harvested at
field-harvested_kg = harvested kg
field-head = head
field-held_from = held from
field-hens_present = hens present
field-home_litres = home litres
field-humidity_percent = humidity percent
field-in_service_on = in service on
field-is_grown = is grown
field-joined_on = joined on
field-kg = kg
field-kg_per_animal_day = kg per animal day
field-language = language
field-last_day = last day
field-latitude = latitude
field-left_on = left on
field-life_months = life months
field-litres = litres
field-longitude = longitude
field-mean_days_in_milk = mean days in milk
field-member = member
field-mould_seen = mould seen
field-name = name
field-note = note
field-number = number
field-officer = officer
field-paid_by = paid by
field-parent = parent
field-payment = payment
field-person = person
field-phone = phone
field-place = place
field-price = price
field-price_per_egg = price per egg
field-price_per_litre = price per litre
field-reason = reason
field-recorded_on = recorded on
field-released_on = released on
field-role = role
field-salvage_value = salvage value
field-seed_kg = seed kg
field-seed_lot = seed lot
field-session = session
field-sex = sex
field-shed = shed
field-soaked_at = soaked at
field-sold_eggs = sold eggs
field-sold_litres = sold litres
field-spread_at = spread at
field-started_on = started on
field-stock = answer
field-supplier = supplier
field-temperature_c = temperature c
field-transport = transport
field-tray_load = tray load
field-tray_load_kg = tray load kg
field-tray_places = tray places
field-trays = trays
field-trays_discarded = trays discarded
field-trays_harvested = trays harvested
field-trays_spread = trays spread
field-untreated = untreated
field-valid_from = valid from
field-valid_to = valid to
field-value = value
field-water_source = water source
field-weekday = weekday
field-zone = zone
field-batch_event-reason = why
field-advice = advice
field-ended_at = ended at
field-started_at = started at
field-energy_mj_per_kg = energy mj per kg
field-lead_time_days = lead time days
field-mould_trays = mould trays
field-question = question
field-source = source
field-topic = topic
field-trainer = trainer
field-training = training
field-month = month
field-skip = skip
field-to = to
field-from = from
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
trays-of-batch = { $spread ->
    [one] 1 tray
   *[other] { $spread } trays
  } spread, { $harvested } harvested, { $discarded } lost
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
timeline-title = Where is the batch now?
timeline-text = Days from the soak: spread on day { $spread }, to be harvested from day { $ready }; trays lost: { $lost }.
timeline-axis = days from the soak
now = now
event = Event
cause-of-loss = Why trays were lost
mould-trays = Trays with mould
mould-trays-hint = Throw these away before the rest is fed
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
saving-unclear = Cannot tell yet. By the records { $amount } saved, and chance may have made it.
saving-missing = What the number waits for: { $what }.
saving-status-estimated = A number can be given.
saving-status-not_started = Fodder not started
saving-status-start_month = First month of fodder: no number
saving-status-missing = Cannot tell: something is not written down
saving-chart = How much was saved each month?
saving-chart-text = Saving of each of the last { $months } months with its 95 % interval; months without a number are left out; below zero is a loss. * was adjusted after the close.
start-of-fodder = start
baseline-cost = Eaten without fodder, at this month’s prices
feed-cost = Bought feed that was eaten
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
output-basis = From { $before ->
    [one] 1 record
   *[other] { $before } records
  } before the start and { $after } after it, beside farms that had not started in the same months.
output-status-not-started = Fodder has not been started.
output-status-no-pre-data = There are no records from before the start.
output-status-insufficient-pre = Too little is known from before the start: { $before ->
    [one] 1 record
   *[other] { $before } records
  } in { $months ->
    [one] 1 month
   *[other] { $months } months
  }.
output-status-insufficient-post = Too little is known from after the start: { $after ->
    [one] 1 record
   *[other] { $after } records
  } in { $later ->
    [one] 1 month
   *[other] { $later } months
  }.
output-status-no-controls = No farm that had not started can be compared with.
output-status-estimated = The interval crosses zero.
output-programme-unknown = Too few farms can be compared.
output-basis-settled = From { $before ->
    [one] 1 record
   *[other] { $before } records
  } before the start and { $after } after it. Weaker: no farm was still waiting, so it is compared with farms that started at least 7 months before. This assumes that their change goes no further.
output-sure = In { $sure } of 100 such cases the direction is right.
output-kept = It was said before and is kept, although the range now touches zero.
output-left-out = { $days ->
    [one] 1 day was
   *[other] { $days } days were
  } left out: more than four times, or less than a quarter of, what this farm usually writes. Please look at the records.
output-shifted = In { $month } most days are far from what this farm usually writes. Was another unit used?
output-half-days = { $days ->
    [one] 1 day has
   *[other] { $days } days have
  } one milking only and does not count here. Write the second milking, too, or the whole day.
output-stage-milk = Days in milk are missing in most months. With them the answer is firmer: write them once a month.
output-stage-eggs = The age of the flock is missing in most months. With it the answer is firmer: write it once a month.
output-status-check-level = The records jump to { $factor } times the old level in { $month } and stay there. { $likely } Correct the records, or accept the change on the review list.
level-cause-halved = Perhaps one of two milkings, or half of the animals, was written.
level-cause-doubled = Perhaps something was counted twice, or animals were added.
level-cause-ten_times = Perhaps a decimal point was left out.
level-cause-tenth = Perhaps a decimal point was put in the wrong place.
level-cause-hundred_times = Perhaps a decimal point was left out.
level-cause-hundredth = Perhaps a decimal point was put in the wrong place.
level-cause-thirty_times = Perhaps eggs were written where trays of 30 were written before.
level-cause-thirtieth = Perhaps trays of 30 were written in place of eggs.
level-cause-unknown = Perhaps another group was counted, or animals were sold.
output-see = Change in milk and eggs
output-about = Each farm is compared with itself before the start, and with farms that had not started in the same months. Cannot tell does not mean that nothing changed. Write bad days, too: if only good days are written, nobody can see it here.
output-few-comparisons = Few farms were still waiting, so part of the range comes from a model.
output-by-area = Whole areas started together. A drought or a price in one area looks like an effect of fodder; read the number with care.
output-area-unknown = What hits one area in a month is not in the range: there are too few waiting farms in two areas.
output-apart = A second method says something else. Use neither number before the reason is known.
output-start-low = Farms started when their output was low. The three months before the starts are left out, as output would have risen by itself.
output-start-high = Farms started when their output was high. The three months before the starts are left out.
output-short = { $percent } % ({ $low } to { $high } %)
cannot-tell-yet = cannot tell yet
output-without-title = Farms without a number:
output-without-check_level = held: the level jumps
output-without-not_started = not started
output-without-no_pre_data = no records before the start
output-without-insufficient_pre = too little before the start
output-without-insufficient_post = too little after the start
output-without-no_controls = no waiting farms to compare with
output-without-estimated = estimated
output-held = Held back: { $farms ->
    [one] 1 farm
   *[other] { $farms } farms
  }
output-lower-farms = Lower: { $farms ->
    [one] 1 farm
   *[other] { $farms } farms
  }
output-higher-farms = Higher: { $farms ->
    [one] 1 farm
   *[other] { $farms } farms
  }
output-more = And { $farms } more.
output-weaker = Weaker answers
output-settled = { $farms ->
    [one] 1 farm is
   *[other] { $farms } farms are
  } compared with farms that started at least 7 months before, as no farm was waiting. This assumes that those change no further.
output-drift-steady = Looked at against waiting farms, they do not.
output-drift-not_known = Whether that is so cannot be known.
output-drift-drifting = Looked at against waiting farms, they do; so no farm is answered in this way.
output-dose = { $what }, by months with more fodder against months with less, at { $dose } kg of dry matter an animal and day: { $change }. Right only if nobody fed less because of the milk or eggs.
areas-title = Areas
output-see-about = The co-operative, areas, farms held back, and the weaker answers
trials-title = Trials
trials-title-about = How many farms start each month, who starts when by lot, and what that could show
trials-about = Milk and eggs go up and down by themselves. To see what fodder does, some farms must still wait while others start. The more that wait, and the longer, the smaller the change that can be seen.
trials-about-lot = Who starts when is drawn by lot. If those start first who ask first, or who do best, nobody can tell later what the fodder did.
trials-enterprise = Milk or eggs
trials-of-milk = Milk
trials-of-eggs = Eggs
trials-starts = Farms to start in each month
trials-starts-hint = One number a month, such as 5 5 4. The others wait.
trials-farms = { $farms ->
    [one] 1 farm has
   *[other] { $farms } farms have
  } not started. The middle one has { $months ->
    [one] 1 month
   *[other] { $months } months
  } of records; 6 are better than 3, 12 are best.
trials-ways = What ways to start could show: the smallest change that { $of } of 100 such trials would show
trials-start = Start
trials-waiting = Farms that wait
trials-feeding = Farms that feed
trials-programme = All farms together
trials-member = One member
trials-wait-months = Months of waiting, all farms
trials-forgone = Saving forgone meanwhile
trials-at-once = all at once
trials-by-month = { $numbers } (in { $months ->
    [one] 1 month
   *[other] { $months } months
  })
trials-read = If you expect fodder to change milk by 6 %, choose a way that shows 6 % or less. If all start at once, nothing can be compared.
trials-status-no_controls = shows nothing: nobody waits
trials-status-no_records = cannot tell yet: too few records
trials-chart = How many farms feed, and how many wait?
trials-chart-text = Month by month from the first start.
trials-draw = Draw who starts when
trials-draw-about = The list is drawn now, from all farms that have not started, evenly over areas and sizes of herd. It is kept with its seed, so that anybody can draw it again and see that nobody chose.
trials-draw-do = Draw
trials-name = Name of the trial
trials-first = First month
trials-drawn = Drawn so far
trials-drawn-on = Drawn on { $date }
trials-withdrawn = Taken back; it stays here to be seen.
trials-list = Who starts when
trials-head = Animals
trials-month = Starts in
trials-went = How it went
trials-waits = waits
trials-followed-as_drawn = as drawn
trials-followed-other_month = in another month
trials-followed-to_come = to come
trials-followed-late = late: not started
trials-followed-started_though = started, though it was to wait
trials-day = Drawn on
trials-seed = Seed of the draw
trials-again = Drawn again
trials-same = the same list
trials-other = another list: somebody changed it
trials-check = How to check it
trials-how = Number the farms by their code. Group them by area and by third of the herd size. Shuffle each group with the seed (SplitMix64, Fisher-Yates), lay the groups end to end, and deal the months out evenly. The interface gives every step.
on-off-title = Months with and without fodder on one farm
on-off-about = A farm that agrees feeds fodder for some months and none for others, in an order that is drawn. It shows what fodder does on this one farm. Only where animals do not suffer from it: change feed slowly, and ask a livestock officer.
on-off-blocks = Blocks of months, an even number
on-off-months = Months a block
on-off-unused = First months of a block that are not used
on-off-unused-hint = They still show the block before.
on-off-of = Months with and without fodder: { $farm }
on-off-agreed = The member agreed to this and may stop at any time.
on-off-smallest = The smallest change it is likely to show is { $percent } %.
on-off-on = with fodder
on-off-off = without fodder
on-off-not-used = (not used)
output-order-followed = { $as } of { $all } farms started as the order “{ $name }” says.
stage-milk = Days since calving, mean of the cows milked
stage-hint-milk = Once a month. It makes the answer on milk firmer; leave it empty where you do not know.
stage-eggs = Age of the flock, weeks
stage-hint-eggs = Once a month. It makes the answer on eggs firmer; correct it when a new flock has come.
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
spoilage-in-shed = In shed { $shed }:
spoilage-recurring-quiet = Batch after batch spoiled, and no batch has ended for more than four weeks.
spoilage-recurring-lot = Batch after batch spoils, and its seed lots spoil on other farms too: look at the lot.
spoilage-nothing-counted = No batch can be counted yet, or none for three months.
spoilage-counted = { $batches ->
    [one] One batch
   *[other] { $batches } batches
 } of the last 400 days counted: { $lost } of { $begun } trays lost, before spreading, on the shelf or thrown away after harvest.
not-counted-growing = { $batches ->
    [one] One batch is still growing.
   *[other] { $batches } batches are still growing.
 }
not-counted-unaccounted = Not counted: { $batches ->
    [one] one batch
   *[other] { $batches } batches
 } with { $trays } trays unaccounted for after 14 days. Record their harvest or discard.
not-counted-more-lost-than-begun = Not counted: { $batches ->
    [one] one batch
   *[other] { $batches } batches
 } with more trays lost than begun. Correct the records.
not-counted-thrown-unweighed = { $batches ->
    [one] One batch counted
   *[other] { $batches } batches counted
 } without what was thrown away, since the harvest was not weighed.
batch-not-counted-growing = still growing
batch-not-counted-unaccounted = { $trays } trays unaccounted for after 14 days
batch-not-counted-more-lost-than-begun = more trays lost than begun
batch-not-counted-thrown-unweighed = counted, but not what was thrown away: the harvest was not weighed
conditions-title = What goes with losses
conditions-none = Nothing that is recorded goes with losses so far.
conditions-basis = Batches of the last 24 months: { $batches } on { $farms } farms.
conditions-left-out = { $batches } batches are left out: their seed lots spoil on other farms too.
conditions-too-few = Cannot tell yet: there are too few trays or losses.
conditions-others = What else was compared
conditions-made = Compared on { $date }, once a day.
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
find-farm = Name, number, telephone or code
find = Find
not-started = fodder not started
area = Area
place = How to find it
place-hint = How to find it: a landmark, the gate
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
shelf-title = How old are the trays in { $shed }?
shelf-text = Trays on the shelves by days since their soak, against the places of the shed.
shelf-empty = No trays on the shelves.
shelf-places = { $places ->
    [one] 1 place
   *[other] { $places } places
  }
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
visits-last = Last visit
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
shed-spare = Shed { $shed }: { $places ->
    [one] 1 place
   *[other] { $places } places
  }, { $spare } to spare.
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
ration-feed = Feed { $number }
ration-title = Before fodder: bought feed for one animal a day
more-fields = More to fill in
made-by-server = Empty: the server makes the next one.
ration-kg = kg of it per animal and day
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
farms-saving = Farms that saved
farms-losing = Farms that lost
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
server-title = Server
server-well = Nothing needs you now.
server-at = As of { $moment }.
server-worry-damaged = The database is damaged. Stop the server and restore the last backup. Trying again does not help.
server-worry-disk_short = A disk is nearly full. Make room: a backup and a new version each write a copy of the whole database first.
server-worry-backup_failed = The last backup could not be made. Look whether the other disk is there and has room. The log says why.
server-worry-backup_old = The last backup is older than { $hours } hours. The log says why.
server-worry-backup_none = This server makes no backups. Start it with --backup and a folder on another disk, or see that something else makes them.
server-worry-figures_failed = { $count ->
    [one] The figures of one co-operative could not be made.
   *[other] The figures of { $count } co-operatives could not be made.
  } The old ones stay in use. The log says why.
server-worry-texts_wait = Text messages wait for their carrier for more than { $minutes } minutes. Look whether the modem or the bridge (traybook carry) runs.
server-worry-certificate_ends = The certificate ends on { $date }. After that browsers warn instead of showing pages. Put a new one into its file.
server-backups = Backups
server-last = Last one, checked
server-every = How often
server-hours = { $hours ->
    [one] every hour
   *[other] every { $hours } hours
  }
server-never = not by this server
server-failed = Failed
server-disks = Disks
server-disk-records = Records
server-disk-backups = Backups
server-room = { $free } free of { $all }; at least { $needed } should be free
server-elsewhere = Not on this machine
server-database = Database
server-kind = Kind and version
server-kind-sqlite = SQLite
server-kind-postgresql = PostgreSQL
server-size = Size
server-tables = Last change of the tables
server-looked = Pages looked at
server-damage = Damage
server-carriers = Carriers of text messages
server-carrier = spoke last { $heard }; { $waiting ->
    [one] 1 text waits
   *[other] { $waiting } texts wait
}
server-program = Program
server-version = Version
server-started = Runs since
server-memory = Memory in use
server-certificate = Certificate ends
server-gb = { $amount } GB
server-mb = { $amount } MB
server-runbook = Step by step: the file SERVE.md that comes with the program, under “When something is wrong”.
nav-security = Security
security-title = Security log
security-title-about = Who signed in, failed, got a new code, took data out
security-about = Lines are only added, and kept { $days } days. Logins and addresses are shown as marks: the same mark is the same login or address.
security-own = Of this co-operative
security-none = Of no co-operative
security-at = When
security-event = What
security-by = Who
security-whom = Whom or what
security-more = More
security-account = login { $hash }
security-address = address { $hash }
security-signed_in = signed in
security-sign_in_failed = sign-in failed
security-sign_in_refused = too many tries, refused for a while
security-signed_out = signed out
security-sessions_ended = sign-ins ended
security-code_made = one-time code made
security-phone_lost = telephone lost, new code made
security-password_set = password set with a code
security-password_changed = password changed
security-second_factor_on = second factor set up
security-second_factor_off = second factor taken away
security-second_factor_failed = wrong code of the second factor
security-passkey_added = passkey added
security-passkey_removed = passkey removed
security-recovery_code_used = recovery code used
security-denied = not allowed for the role
security-read_personal = personal page of another read
security-exported = data taken out
security-restored = restored from a copy
security-member_erased = member erased
security-sums_opened = sums opened to a programme reader
security-sums_closed = sums closed to a programme reader
own-link = Password
own-title = Sign-in and password
own-password = Password
own-password-old = Current password
own-password-change = Change it
own-sign-ins = Open sign-ins
own-device = Device
own-device-phone = telephone
own-device-computer = computer
own-device-program = a program
own-device-unknown = not known
own-begun = Since
own-seen = Last seen
own-which = Which
own-this = this one
own-end = End the one since { $begun }
own-end-all = End all others
second-title = Second factor
second-about = A code from a telephone, besides the password. With it nobody gets in who only knows the password.
second-there = It is set up. A code is asked for at signing in, and again before people are changed, months are closed and files are taken.
second-begin = Set it up
second-end = Take it away
second-code = Code
second-code-hint = The { $digits } digits from the telephone, or a recovery code.
second-scan = Scan this with a program for time-based codes (RFC 6238), or type the letters there. Then give the code that it shows.
second-confirm = Use it from now on
second-done = It is set up.
second-recovery = Recovery codes, shown only now. Each stands for a code once, when the telephone is not there. Write them down and keep them away from the telephone.
passkeys-title = Passkeys
passkeys-about = A passkey stands for a code: your finger, your face or a PIN unlocks it on your telephone, your computer or a key that you plug in. The codes stay as they are.
passkeys-no-address = Passkeys need an address by https. This server does not know one of its own: whoever runs it sets it with --public-address.
passkey-name = Name
passkey-name-hint = Such as: my telephone
passkey-made = Added
passkey-used = Last used
passkey-begin = Add a passkey
passkey-make = Make the passkey
passkey-make-about = Your browser asks for your finger, your face or a PIN.
passkey-end = Remove { $name }
passkey-use = Use a passkey
passkey-wrong = The passkey was not taken. Try again, or give a code.
passkey-failed = The browser gave no passkey. Try again, or use a code.
passkey-no-script = Passkeys need a browser that runs scripts. A code works without.
proof-title = A code first
proof-about = Before this a code of the second factor is asked for once more.
proof-go = Go on
wrong-code = The code is not right, or was used already. Give the one that is shown now.
reset-notice = { $name } reset this sign-in on { $date }. If you did not ask for it, tell the office.
reset-seen = Seen
refused-wrong_code = The code is not right, or was used already. Give the one that is shown now.
refused-wrong_password = This is not the current password.
problem-proof_needed = A code of the second factor is asked for first.
service-title = How often fodder may be missing
service-title-about = What fewer days without enough fodder cost in seed
service-intro = Trays spoil and harvests vary. Seed kept in reserve makes days without enough fodder rarer, and more of it is thrown away. Choose what suits the members.
service-need = The farms need { $kg } kg of fresh fodder a day.
service-short-days = Days in 100 with any missing
service-short-tenth = Days in 100 with more than a tenth missing
service-wasted = Fodder thrown away, kg a day
service-seed = Seed, kg a day
service-now = In force
service-in-force = now
service-measured = From simulated farms that lose one tray in twenty. Yours may differ: the plan learns from what each farm records.
service-prices = A kg of fodder thrown away costs { $wasted } of seed; bought feed of as much dry matter costs { $missing }. At these prices some may be missing on { $days } days in 100. What the animals need besides is for the local livestock service to say.
service-choose = Days in 100 on which some may be missing
service-choice = { $days } days
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
month-open = The month is open: figures follow the records within a minute.
as-workbook = Workbook (XLSX)
as-pdf = For the board (PDF)
as-csv = CSV
more-in-file = And { $count } more: they are in the file (CSV).
savings-chart = Which farms saved, and how sure is it?
savings-chart-text = Each bar is one farm’s saving with its 95 % interval, the clearest first; an open mark means that it cannot be told yet from zero.
by-area = By area, { $currency }
by-member = By member, the clearest first
by-member-of = Members of { $area }, the clearest first
percent-of-before = Of what would have been eaten, %
between-95 = Between (95 %)
low-to-high = { $low } to { $high }
output-change = Output change (95 % interval)
all-together = All together
method-title = How this is worked out
savings-method = Saving = what the same animals would have eaten without fodder at this month’s prices, minus bought feed that was eaten, seed soaked, other costs and wear; spoiled trays are inside. Feed is spread over the days until the next purchase. No record is not a zero: a month without what it needs has no number. Losses are shown like savings.
close-of = Close { $month }
close-done-see = Closed months
close-missing = What is missing
close-nothing-missing = Nothing is missing.
close-missing-count = { $count ->
    [one] One farm has no number: something is missing.
   *[other] { $count } farms have no number: something is missing.
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
figures-of = Figures of { $date }, { $time }.
figures-none = The figures are being made. Look again in a minute.
spoilage-about = The strongest evidence first. A flag means that it keeps happening, not that one batch went bad.
spoilage-farms = Farms by evidence
spoilage-status = Status
evidence-points-at = Evidence points at
batches-counted = Batches counted
spoilage-word-recurring = keeps happening
spoilage-word-insufficient-data = cannot tell yet
spoilage-word-one-bad-batch = one bad batch
spoilage-word-watch = more than usual
spoilage-word-recurring-quiet = kept happening, nothing lately
spoilage-word-recurring-lot = the seed lot spoils
spoilage-word-nothing-counted = nothing counted
spoilage-word-ok = does not keep happening
points-at-farm_or_lot = the farm or one seed lot
points-at-farm = the farm
points-at-seed_lot = the seed lot
points-at-not_known = not known
evidence-of = Spoilage evidence: { $farm }
evidence-to = The evidence points at { $what }.
evidence-chart = Do trays keep spoiling here?
evidence-chart-text = The line rises with batches that lost more trays than usual and falls with good ones; a flag goes up where it reaches the dashed line.
evidence-axis = Evidence
evidence-across = time
evidence-threshold = flag
evidence-flag-at = Flag at
evidence-skipped = not held against the farm: its lot spoils elsewhere
evidence-sheds = Sheds
evidence-not-counted = Batches that are not counted
evidence-why-not = Why not
batch-ended-on = Ended on
soak-not-recorded = not recorded
trays-begun = Trays begun
batches-not-counted = Not counted
evidence-raised = raised the flag
evidence-batches = Batches behind it, the newest first
flag-raised = Flag raised on { $date }
flag-seen = Seen on
flag-cause = Cause found
flag-finding = What was found and done
flags-before = Earlier flags
flag-period = { $from } to { $to }
spoilage-method = Each batch counts by its trays begun and lost, whatever its size: how much likelier these are when far more is lost than the co-operative accepts; trays of one batch are not counted as independent. A flag goes up where a farm in order would have one in ten years. It takes at least three bad batches, and good ones bring it down. Batches of a seed lot that spoils on other farms too are not held against the farm.
lots-title = Seed lots
lots-table = Seed lots of the last 90 days
lots-seed-lot = The evidence points at seed lots.
lots-farm = The evidence points at farms, not at seed lots.
lots-both = The evidence points at both farms and seed lots.
lots-neither = Neither seed lots nor farms stand out.
lots-not-identifiable = Cannot tell yet: seed and farm cannot be told apart before several lots were grown on several farms each.
lot-suspect = suspect
lot-spoils-elsewhere = Batches of this lot lost { $times } times as many trays as expected, on several farms.
lot-carries-flags = These farms would have a flag, were it not for this lot:
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
  } ({ $kg } kg) by { $date }, for the next { $weeks } weeks.
buy-some = { $crop }: order { $bags ->
    [one] 1 bag
   *[other] { $bags } bags
  } ({ $kg } kg) for the next { $weeks } weeks.
buy-nothing = { $crop }: nothing to order for the next { $weeks } weeks.
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
guide-tray_most_percent = most seed on a tray, of its full load
guide-young_loss_percent = weight lost by harvesting a day early
guide-short_days_percent = days on which fodder may be missing
guide-water_litres_per_kg_fresh = water for fresh fodder
guide-labour_minutes_per_tray = work for a tray
guide-seed_lead_days = days from order to delivery
guide-seed_service_percent = certainty of the safety stock
guide-seed_bag_kg = a bag
guide-silent_days = days until a farm counts as silent
guide-seed_credit_most = most that a member may owe for seed
guide-sorghum_allowed = sorghum allowed
unit-hours = { $count ->
    [one] hour
   *[other] hours
  }
unit-kg = kg
unit-cm = cm
unit-a-day = a day
unit-days = { $count ->
    [one] day
   *[other] days
  }
unit-animals = { $count ->
    [one] animal
   *[other] animals
  }
unit-kg-per-kg = kg per kg
unit-currency-units = currency units
unit-per-cent = %
unit-1-or-0 = (1 yes, 0 no)
unit-l-per-kg = { $count ->
    [one] litre per kg
   *[other] litres per kg
  }
unit-minutes = { $count ->
    [one] minute
   *[other] minutes
  }
# Reading in files
import-refused-why = why refused
import-intro = Choose spreadsheets: XLSX or CSV, one or several. The server finds the header and asks where a column is not clear. You see what each row becomes. Nothing is kept until you say so.
import-files = Files
import-hint = XLSX or CSV; several at once; up to 24 MB together
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
import-running = { $rows } of { $all } rows are read. You may leave this page: it goes on.
import-failed = The files could not be read in. Nothing of them is kept. Send them again.
import-file = File
import-verdict = Verdict
import-good = good
import-bad = has bad rows
import-rows = Rows
import-new = New
import-before = There before
import-bad-rows = Bad rows
import-bad-more = Bad rows; { $count ->
    [one] one more is not shown
   *[other] { $count } more are not shown
  }
import-line = Line
import-column = Column
import-what = What to do
import-row = The row
import-columns = Columns
import-columns-intro = Say what the rows are and where each column goes. What you choose is kept for the next file with the same header.
import-change-columns = Change how columns are read
import-rows-are = The rows are
import-header-line = Line { $line } names the columns
import-leave-file = leave this file out
import-leave-column = leave this column out
import-fixed = { $field }: the same in all rows
import-fixed-hint = No column gives it. Choose its column above, or one value here.
import-days = Days in figures
import-day-first = 5/3/2026 is 5 March
import-month-first = 5/3/2026 is 3 May
import-mark = Comma and point in numbers
import-mark-comma = 1,250 is one and a quarter; 1.250 is one thousand two hundred and fifty
import-mark-point = 1,250 is one thousand two hundred and fifty; 1.250 is one and a quarter
import-left-out = Rows of sums and repeated headers, left out
import-first-rows = What the first rows become
import-behind = { $count ->
    [one] (and one row that refers to it)
   *[other] (and { $count } rows that refer to it)
 }
import-waiting = { $count ->
    [one] One row more is refused: it refers to a refused row.
   *[other] { $count } rows more are refused: they refer to refused rows.
 }
import-take-rows = { $count ->
    [one] Take the one good row
   *[other] Take the { $count } good rows
 }
import-rows-not-taken = { $file }: the bad rows were left out. Take them as a file, mend them, and read that file in.
import-refused-rows = Refused rows of { $file }
import-refused-waits = it refers to a refused row
import-refused-more = more rows were refused than are explained: mend the others first
import-templates = Templates to fill in
import-templates-intro = Each has a header and one invented example row. Write over the example. Columns that you do not need may stay empty.
kind-area = Areas
kind-growing_guide_value = Growing guide values
kind-checklist_item = Checklist questions
kind-feed = Feeds
kind-supplier = Suppliers
kind-member = Members
kind-person = People who sign in
kind-officer_area = Areas of officers
kind-farm = Farms
kind-shed = Sheds
kind-animal_group = Animal groups
kind-head_count = Head counts
kind-baseline_ration = Rations before fodder
kind-seed_lot = Seed lots
kind-seed_purchase = Seed delivered
kind-seed_issue = Seed handed out
kind-seed_adjustment = Seed stock put right
kind-batch = Batches
kind-batch_event = Events of batches
kind-milk_record = Milk records
kind-egg_record = Egg records
kind-feed_purchase = Feed bought
kind-feed_count = Feed left in store
kind-other_cost = Other costs of fodder
kind-asset = Equipment
kind-visit = Visits
kind-reading = Temperature and humidity
kind-training = Trainings
kind-attendance = Attendance at trainings
kind-fodder_plan = Plans for groups
kind-seed_payment = Seed paid off
kind-deduction = Deduction from milk or egg money
# Review list
review-intro = Nothing that was entered is changed here. A finding goes when the records are put right, or when somebody accepts it with a reason.
review-none = Nothing contradicts itself.
review-again = { $count ->
    [one] One finding is looked at again: one of its records has changed.
   *[other] { $count } findings are looked at again: their records have changed.
}
review-more = { $count ->
    [one] One more finding.
   *[other] { $count } more findings.
  }
review-accept = Accept with a reason
review-accept-each = All { $cases } cases are accepted with this reason.
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
rule-feed_price = price of a feed purchase
rule-feed_kg = kg of a feed purchase
rule-feed_gap = a purchase seems not to be written down
rule-feed_stock = more feed left than was there
# Findings: what is wrong and what most likely puts it right, by rule
finding-batch = Batch { $code }
finding-batch-unnamed = A batch
finding-litres = { $amount ->
    [one] 1 litre
   *[other] { $amount } litres
  }
finding-eggs = { $amount ->
    [one] 1 egg
   *[other] { $amount } eggs
  }
step-soaked = soaked
step-spread = spread
step-harvested = harvested
step-fed_out = fed
problem-more_trays_out_than_spread = { $what }: { $out ->
    [one] 1 tray was
   *[other] { $out } trays were
  } harvested or discarded, but only { $spread } spread.
problem-more_fed_than_harvested = { $what }: { $fed } kg were fed, but only { $harvested } kg harvested.
problem-yield_impossible = { $what }: { $harvested } kg of fodder hold more dry matter than the { $seed } kg of seed did.
problem-yield_unlikely-little = { $what }: { $yield } kg fresh from each kg of seed is unlikely little.
problem-yield_unlikely-much = { $what }: { $yield } kg fresh from each kg of seed is unlikely much.
problem-events_out_of_order-missing = { $what }: it was { $event }, but no record says that it was { $before }.
problem-events_out_of_order-order = { $what }: it was { $event } before it was { $before }.
problem-fed_over_age = { $what }: it was due on { $due } and fed on { $fed }.
problem-fed_with_mould = { $what }: mould was seen on { $seen }, and it was fed on { $fed }.
problem-held_lot_soaked = { $what }: seed of a lot that was held from { $held } was soaked on { $soaked }.
problem-shed_over_full = On { $day } { $trays ->
    [one] 1 tray
   *[other] { $trays } trays
  } stood in a shed that has { $places ->
    [one] 1 place
   *[other] { $places } places
  }.
problem-silent_farm-last = Farm { $what } has recorded nothing for { $days ->
    [one] 1 day
   *[other] { $days } days
  }; its last record is of { $last }.
problem-silent_farm-none = Farm { $what } has recorded nothing for { $days ->
    [one] 1 day
   *[other] { $days } days
  }; there is none since { $last }.
problem-repeated_values = { $amount } stand in { $records } records running; at the rate at which this farm otherwise repeats itself that happens to one in { $odds } farms or fewer.
problem-rounded_values = The last { $records } records are all multiples of { $step }.
problem-output_jump-milk = { $each } litres an animal on { $date }, where the days around it have { $around }.
problem-output_jump-eggs = { $each } eggs an animal on { $date }, where the days around it have { $around }.
problem-head_jump = Group { $what }: { $counted ->
    [one] 1 animal was
   *[other] { $counted } animals were
  } counted on { $date }, where { $expected ->
    [one] 1 was
   *[other] { $expected } were
  } expected.
problem-farm_stock_below_zero = By the records the farm’s stock of lot { $what } was { $kg } kg on { $date }.
problem-store_stock_below_zero = By the records the store’s stock of lot { $what } was { $kg } kg on { $date }.
problem-feed_price-far = { $what }: the { $kg } kg bought on { $date } cost { $price } { $currency } a kg, where the co-operative’s median is { $median } { $currency }.
problem-feed_price-none = { $what }: the { $kg } kg bought on { $date } have no price.
problem-feed_kg = { $what }: the { $kg } kg bought on { $date } would be { $rate } kg an animal and day, where this farm’s usual is { $usual } kg.
problem-feed_gap = { $what }: what was bought on { $date } would have lasted { $days ->
    [one] 1 day
   *[other] { $days } days
  }, where it usually lasts { $usual ->
    [one] 1 day
   *[other] { $usual } days
  }: a purchase after it seems not to be written down.
finding-uncounted = Until this is answered, the feed eaten from { $from } to { $until } is not counted, and the figures that need these days wait.
problem-feed_stock = { $what }: { $left } kg were left on { $date }, but by the records there were at most { $kg } kg.
fix-more_trays_out_than_spread = Correct the trays spread, or take back a harvest or discard that was entered twice.
fix-more_fed_than_harvested = Correct the weight harvested or fed, or take back a feeding that was entered twice.
fix-yield_impossible = Correct the seed soaked or the weight harvested; dripping trays weigh too much.
fix-yield_unlikely = Look at the seed soaked and the weight harvested; accept it if the batch was poor.
fix-events_out_of_order = Correct the time of one of the two events, or add the record that is missing.
fix-fed_over_age = Correct the day if it is a slip; if it was fed late, ask how the animals are.
fix-fed_with_mould = Ask what was fed and how the animals are; a veterinary officer should know of it.
fix-held_lot_soaked = Feed nothing of it until the lot is released; correct the lot if it was another.
fix-shed_over_full = Correct the trays spread or the shed’s places, or add harvests that are missing.
fix-silent_farm = Ask whether records wait on a phone, or enter a pause if the farm has stopped.
fix-repeated_values = Ask how it is measured; correct the records, or accept them if they are right.
fix-rounded_values = Ask whether it is measured or guessed; show how to read the measure to the unit.
fix-output_jump = Correct the amount or the animals of that day, or say why it was so.
fix-head_jump = Add births, purchases, sales or deaths that are missing, or correct the count.
fix-feed_price = Correct the kg or what was paid for it, or say why the price was so.
fix-feed_kg = Correct the kg or the day, or say why so much or so little was eaten.
fix-feed_gap = Add the purchase that is missing, or what was left in store; say so if nothing was bought.
fix-feed_stock = Correct the feed left in store, or add the purchase that is missing.
fix-farm_stock_below_zero = Add the seed issue that is missing, correct a soak or its lot, or count the stock.
fix-store_stock_below_zero = Add the purchase that is missing, correct an issue or its lot, or count the stock.
# Totals of a programme
sum-title = { $count ->
    [one] One co-operative of the programme
   *[other] { $count } co-operatives of the programme together
  } · { $currency }
sum-why = Of a group that is too small in a co-operative, members count only where several co-operatives have such members. * marks a sum that leaves members out. Half widths of the intervals are added up.
sum-cooperatives = Co-operatives
totals-title = Totals of { $month }
totals-from = From
totals-until = Until
totals-divide = Divided by
totals-by-cooperative = co-operative
totals-by-area = area
totals-by-sex = sex
totals-by-age_band = age
totals-group = Group
totals-members = Members
totals-milk = Litres per cow-day
totals-eggs = Eggs per 100 hen-days
totals-fed-unweighed = Trays fed without weighing
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
address-unknown = There is no link and no picture to scan here: this server does not know its own address. The operator gives it with --public-address.
invitation-once = works once, for a week
batch-start = New batch
sheet-print = Work sheet to print
# Conflicts, what is missing, taking back
stale-there-now = there now: { $value }
stale-short = Somebody has changed this meanwhile. Look again.
gone-meanwhile = This is not there any more, or not for you.
cooperative = Co-operative
saving-unclear-loss = Cannot tell yet. By the records { $amount } lost, and chance may have made it.
age-days-over = day { $days }, past its day
lot-is-held = held
take-back = Take back
take-back-of = Taken back: { $what }
take-back-why = Why
milk-recorded = { $date }: { $amount ->
    [one] 1 litre
   *[other] { $amount } litres
  }
eggs-recorded = { $date }: { $amount ->
    [one] 1 egg
   *[other] { $amount } eggs
  }
stage-not_soaked = not soaked yet
interval-none = not known yet
change-none = cannot tell yet
change-told = { $percent } % ({ $low } to { $high })
change-unclear = cannot tell yet ({ $low } to { $high } %)
saving-no-interval = How sure this is cannot be said yet.
note-no-other = no other costs are recorded
note-no-soak = no soak is recorded
note-unweighed = fodder was fed without being weighed: its kg are not counted, and what a kg cost is not known
note-group-left-out = a group without a head count is left out
batch-correct = Correct crop, seed lot or group
correct-of = Correct { $what }
batch-shed-stays = The shed stays as it is. If it is another shed, take the batch back and start it there.
batch-take-back-about = Takes back the batch with all that was recorded of it. It stays in the history.
harvest-age-days = Age at harvest, days from the soak
harvest-age-hint = Leave it empty for the growing guide’s.
# The book of a farm, the co-operative's store
book-of = Book of { $farm }
book-about = What was bought, spent, issued and paid: the savings report is made of it. A month without feed bought needs one line of 0 kg.
book-add = Add: { $what }
book-newest = { $what }: the newest
store-title = Store and feeds
book-feed-purchase = Feed bought
book-feed-purchase-about = Each feed by itself, with all that was paid for it.
book-feed-purchase-kg-hint = 0 if none of it was bought this month
nothing-bought = None bought in a month
nothing-bought-of = Nothing bought · { $farm }
nothing-bought-about = Tell it for a month in which you bought none of a feed: without that nobody knows whether a purchase was forgotten. Then tap what was so.
nothing-bought-none = Used none
nothing-bought-none-about = None was left when the month began, and the animals ate none of it.
nothing-bought-none-saved = Saved: no { $feed } was bought in { $month }, and none was used.
nothing-bought-some = Still had some
nothing-bought-some-about = Some was left from before, and the animals ate of that.
nothing-bought-some-saved = Saved: no { $feed } was bought in { $month }; there was still some from before.
book-feed-purchase-animal-group-id = Animals that it is for
book-feed-purchase-animal-group-id-hint = Only where animals of two kinds could eat it
book-feed-count = Feed left in store
book-feed-count-about = It shows how fast a feed goes, and when one lasts into the next month.
book-feed-count-kg = Left in store, kg
book-feed-count-kg-hint = Weigh or estimate the feed left in the morning, before feeding; 0 if none is left
book-feed-count-animal-group-id = Animals that eat it
book-feed-count-animal-group-id-hint = Only where animals of two kinds could eat it
book-other-cost = Other costs of fodder
book-other-cost-about = Money or family labour spent on growing fodder, besides seed and feed.
book-other-cost-amount-hint = Family hours at what they could have earned
book-asset = Shed and equipment
book-asset-about = The cost is spread evenly over the months of use.
book-baseline-ration = Ration before fodder
book-baseline-ration-about = What one animal got each day before fodder began, one line a feed: savings are measured against it.
book-fodder-plan = Plan for a group
book-fodder-plan-about = Where it differs from the growing guide. What is left empty follows the guide.
book-seed-issue = Seed handed out
book-seed-payment = Seed paid off
book-deduction = Kept back from milk or egg money
book-deduction-about = Besides seed: transport, a share, a loan. It is taken off in the payment run of its day.
book-seed-adjustment = Seed stock put right
book-seed-adjustment-about = After counting, a loss or a return.
book-seed-adjustment-change-kg-hint = With a minus what is taken away
book-seed-purchase = Seed delivered
book-seed-purchase-about = Make the lot first, one for each delivery, so that it can be traced.
book-seed-purchase-price = Price of all of it
book-seed-lot = Seed lots
book-seed-lot-code = Lot number
book-supplier = Suppliers
book-feed = Feeds
book-feed-about = Values from a laboratory or a feed table, with their source.
book-feed-id = Feed
book-seed-lot-id = Seed lot
book-supplier-id = Supplier
book-animal-group-id = Group of animals
book-shed-id = Shed
book-date = Day
book-kg = kg
book-cost = Paid for all of it
book-price = Price of all of it
book-asset-cost = What it cost
book-amount = Amount
book-note = Remarks
book-category = What for
book-name = Name
book-phone = Telephone
book-code = Short name
book-crop = Crop
book-in-service-on = First day of use
book-salvage-value = What it will still be worth at the end
book-life-months = Months of use
book-disposed-on = Given up on
book-kg-per-animal-day = kg per animal and day
book-recorded-on = Recorded on
book-valid-from = Holds from
book-harvest-age-days = Age at harvest, days from the soak
book-tray-load = Seed on each tray
book-is-grown = Fodder is grown for this group
book-payment = Payment
book-paid-by = Paid by
book-change-kg = Change, kg
book-reason = Why
book-transport = Transport to the store
book-feed-grade = Declared as feed or food grade
book-untreated = Declared as untreated (not dressed)
book-germination-percent = Germinated in the test, %
book-lead-time-days = Days from order to delivery
book-dry-matter-percent = Dry matter, % of the feed
book-crude-protein-percent = Crude protein, % of dry matter
book-energy-mj-per-kg = Energy, MJ per kg dry matter
book-source = Where the values come from
cost-labour = labour
cost-water = water
cost-power = power
cost-repairs = repairs
cost-disinfectant = disinfectant
cost-disposal = disposal
cost-interest = interest
cost-other = other
payment-credit = on credit
payment-paid = paid
tray-load-scaled = scaled to the day’s need
tray-load-full = full trays
adjustment-stock_count = counted
adjustment-returned = given back
adjustment-spoiled = spoiled
adjustment-lost = lost
adjustment-moved = moved
adjustment-other = other
book-link = Feed bought and costs
store-title-about = Seed delivered, lots, suppliers, feeds and what their values are
taken-back = This was taken back. It stays in the history and can not be changed.

calendar-title = Work in a calendar
calendar-of = Work of { $farm } in a calendar
calendar-about = Give this address to the calendar of a phone or computer, where it takes calendars from the internet. It then shows the farm's work of the next two weeks and follows it by itself.
calendar-secret = Whoever has the address sees this farm's work without signing in. Give it to nobody else; end it when a phone is lost or sold.
calendar-make = Make an address
calendar-address = The address: { $address }
calendar-once = shown once: copy it now
calendar-again = This address was made before and was shown once. If you did not note it, end it below and make another.
calendar-addresses = Addresses in use
calendar-none = None yet.
calendar-end = End the address of { $made }
wait-head-count = record a head count of the animals
wait-baseline = record the ration before fodder, or what was bought before the start
wait-held-price = look at the price of the { $feed } bought on { $from }
wait-held-kg = look at the kg of the { $feed } bought on { $from }
wait-next-purchase = the next purchase of { $feed }: the one of { $from } is in use
wait-purchase = write down { $feed }, or that none was bought
wait-purchase-days = { $feed }, { $from } to { $until }: write down the purchase, or that none was bought
wait-animals = say which animals the { $feed } of { $from } was for
wait-seed-price = record the price of the seed that was soaked
wait-feed = feed
note-season = the season is not taken out: too few farms without fodder; the interval allows for it
note-association = milk or eggs in money are an association, not an effect that was shown
saving-status-running = The month is not over: facts to date, no saving yet
saving-status-no_baseline = Cannot tell: nothing is known from before the start
saving-status-held = Cannot tell: a purchase must be looked at
saving-status-waiting = Cannot tell yet: the feed is in use, the next purchase will tell
saving-status-start_lot = Cannot tell: most of the feed was bought before the start
saving-status-ration_only = A number can be given, from the stated ration alone.
feed-saving = Feed saved
output-value = Milk or eggs gained (minus: lost)
net-result = Net, with milk or eggs
earlier-method = Months closed by the earlier method, { $currency }
earlier-method-about = They stay as they were reported. This is what the method of this report says of them. It is shown once, with this month, and counted nowhere.
earlier-reported = Reported
earlier-now = By this method
net-gained = With milk and eggs: { $amount } gained.
net-lost = With milk and eggs: { $amount } lost.
net-unclear = With milk and eggs it cannot be told yet. By the records { $amount } gained, and chance may have made it.
net-unclear-loss = With milk and eggs it cannot be told yet. By the records { $amount } lost, and chance may have made it.
net-causal = The change in milk and eggs is against farms that had not started.
net-association = It was not shown that fodder made the change in milk and eggs.
bought-cost = Feed bought in the month
farms-unclear = Farms of which it cannot be told yet
fodder-cost = Seed, other costs and wear
since-none = Since the start: no month has a number yet.
since-saved = Since the start: { $amount } saved, with 95 % confidence between { $low } and { $high }; of { $months } of { $of } farm-months.
since-lost = Since the start: { $amount } lost, with 95 % confidence between { $low } and { $high }; of { $months } of { $of } farm-months.
since-tell = If it goes on like this, it can be told after { $months } months with a number at the soonest.
since-tell-long = If it goes on like this, it cannot be told within { $years } years.
since-unclear = Since the start: cannot tell yet, with 95 % confidence between { $low } and { $high }; of { $months } of { $of } farm-months.
rations-too-high = Rations of { $class } were stated { $percent } % too high, judged by what { $farms } farms bought. The baseline allows for it.
rations-too-low = Rations of { $class } were stated { $percent } % too low, judged by what { $farms } farms bought. The baseline allows for it.
waits-title = What the savings report waits for
waits-count = { $count ->
    [one] { $month }: { $count } farm waits for an answer.
   *[other] { $month }: { $count } farms wait for an answer.
}
wait-look = Look at it
wait-put-right = Put right: { $feed } of { $date }
wait-write-down = Write down a purchase of { $feed }
wait-none = No { $feed } was bought
wait-count = Count the animals
wait-ration = Record the ration before fodder
how-title = How the saving came about · { $farm } · { $month }
how-link = How this figure came about
how-none = No animals are recorded for this month.
how-words = The words of this page
how-basis = { $days } animal-days. The baseline is made of { $months } months before the start; the stated ration weighs { $weight } %.
how-index = Index of the month: { $index }. So much of what is usual was used by farms without fodder.
how-no-index = The season is not taken out: too few farms without fodder.
how-feeds = Feeds, { $currency }
how-price = Price a kg
how-baseline-kg = Without fodder, kg
how-baseline-cost = Without fodder, cost
how-eaten-kg = Eaten, kg
how-eaten-cost = Eaten, cost
how-covered = Days covered, %
how-lots = { $feed }: what was eaten from which purchase
how-lot-days = Eaten
how-days = { $from } to { $until }
how-bought = Bought, kg
how-paid = Paid
how-rate = kg a head and day
how-in-use = In use
how-sums = The subtraction, { $currency }
how-term = Term
how-amount = Amount
how-low = Low end of the 95 % interval
how-high = High end of the 95 % interval
saving-short-not_started = not started
saving-short-running = not over
saving-short-start_month = start month
saving-short-no_baseline = nothing before
saving-short-held = look at it
saving-short-waiting = waiting
saving-short-missing = missing
saving-short-start_lot = old feed
saving-short-ration_only = a number
saving-short-estimated = a number
rule-guide_dry_matter = growing guide contradicts itself
rule-thrown_without_weight = thrown away, harvest not weighed
rule-price_outlier = price far from other farms’
rule-amount_outlier = amount far from the farm’s own
rule-ration_too_much = ration too large
rule-ration_cost = ration far from others’ cost
rule-unit_slip = a digit or unit slipped
rule-level_shift = lasting step in milk or eggs
rule-herd_implied = fewer animals would fit
rule-check_level = level of milk or eggs to look at
rule-texts_undone = many texts taken back
rule-text_against_visit = text against a visit
problem-guide_dry_matter = By the growing guide fresh fodder holds { $percent } % of the seed’s dry matter on { $date }; it can not hold more than all of it.
problem-thrown_without_weight = { $what }: { $kg } kg were thrown away, but the harvest was not weighed.
problem-price_outlier = { $what }: the { $kg } kg bought on { $date } cost { $price } { $currency } a kg, { $ratio } times what other farms paid.
problem-amount_outlier = { $what }: the { $kg } kg bought on { $date } are { $ratio } times what this farm usually buys.
problem-ration_too_much = { $what }: the ration is { $dry } kg of dry matter an animal and day, more than it can eat.
problem-ration_cost = { $what }: the ration costs { $ratio } times what it costs on other farms.
problem-unit_slip-milk = { $each } litres an animal on { $date }, far from the days around it.
problem-unit_slip-eggs = { $each } eggs an animal on { $date }, far from the days around it.
problem-level_shift = From { $date } on milk or eggs are { $ratio } times what they were before.
problem-herd_implied = From { $date } on milk or eggs are { $ratio } times what they were before, with { $animals } animals all the while: { $fit } would fit.
problem-check_level = From { $date } on milk or eggs are { $ratio } times what they were before, and stay so.
problem-texts_undone = Farm { $what }: { $texts } texts were taken back on { $day }.
problem-text_against_visit-thrown = { $what }: at the visit of { $visit } trays were thrown away as spoiled; by text of { $text } it was harvested.
problem-text_against_visit-tray = { $what }: by text of { $text } a tray weighed { $wrote } kg, at the visit of { $visit } { $weighed } kg.
problem-text_against_visit-whole = { $what }: by text of { $text } all of it weighed { $wrote } kg, at the visit of { $visit } { $weighed } kg.
fix-guide_dry_matter = Set a lower yield, or more water in fresh fodder.
fix-thrown_without_weight = Add the weight harvested, or say how many trays were thrown away.
fix-price_outlier = Correct the kg or what was paid for it, or say why the price was so.
fix-amount_outlier = Correct the kg, or say why so much or so little was bought.
fix-ration_too_much = Correct the ration: grams for kg, or feed for the whole herd?
fix-ration_cost = Correct the ration or the price of a feed in it, or say why it is so.
fix-unit_slip = Correct the amount: look for a digit or a unit that slipped.
fix-level_shift = Ask whether a milking is left out or the measure changed, or say what changed.
fix-herd_implied = Enter the animals sold, dead or dry, or correct the amounts from that day on.
fix-check_level = Look at the records around the step; accept it if it was so.
fix-texts_undone = Call the member: show how a text is written, and ask who writes from the number.
fix-text_against_visit = Ask the member what was weighed and when, and correct the one that is wrong.
unit-slip-digit = A digit too many or too few?
unit-slip-trays = Trays of 30 instead of eggs, or the other way round?
unit-slip-bags = Bags instead of kg, or the other way round?
unit-slip-grams = Grams instead of kg, or the other way round?
finding-cases-day = { $cases } cases on { $first }; this is the worst.
finding-cases = { $cases } cases from { $first } to { $last }; this is the worst.
finding-holds-back = Held back until it is settled: { $figures }.
finding-counts-in = Counted as it stands in: { $figures }.
bears-on-feed_saving = saving on feed
bears-on-output_change = change in milk or eggs
bears-on-spoilage = spoilage
bears-on-planned_yield = yield to plan with
bears-on-seed_stock = seed stock
review-run = The whole history is being looked through: { $done } of { $farms } farms done.
review-run-ended = The whole history of { $farms ->
    [one] 1 farm
   *[other] { $farms } farms
  } was looked through, last on { $date }.
guide-doubtful = By these values fresh fodder holds { $percent } % of the seed’s dry matter. Germinating seed uses up some of it: look at yield and water again.
refused-dry_matter = With this value fresh fodder would hold { $percent } % of the seed’s dry matter. Give a lower yield or more water.
rule-ration_not_bought = ration against purchases
problem-ration_not_bought-more = { $what }: the ration stated at enrolment is { $percent } % more than what was bought before the start.
problem-ration_not_bought-less = { $what }: the ration stated at enrolment is { $percent } % less than what was bought before the start.
fix-ration_not_bought = Correct the ration or the purchases before the start. If own crops were fed, accept it and say so.
wait-left = Say how much { $feed } was left

# What goes with losses. Never a cause: they go together.
condition-soaked-hot = soaked above { $degrees } °C
condition-humid = soaked in air above { $percent } % humidity
condition-water-source = grown with { $value }
condition-crop = of { $value }
condition-checklist-no = of farms where the last visit answered no to “{ $question }”
condition-harvested-late = harvested a day or more late
condition-seed-deep = with more than { $times } times the full load of seed on a tray
condition-wet-season = soaked in the wet season
condition-poor-germination = with less than { $percent } % of the seeds germinated
condition-is-linked = Batches { $condition } lost { $times } times as many trays ({ $low } to { $high }; { $with } against { $without } batches).
condition-no-difference = Batches { $condition } lost about as many trays as others: { $times } times ({ $low } to { $high }; { $with } against { $without } batches).
condition-cannot-tell = Batches { $condition }: cannot tell yet, { $times } times as many trays lost ({ $low } to { $high }; { $with } against { $without } batches).
condition-too-few = Batches { $condition }: cannot tell yet: seen in { $with } batches, { $needed } are needed.
condition-too-few-without = Batches { $condition }: cannot tell yet: { $without } batches were otherwise, { $needed } are needed.
condition-too-few-else = Batches { $condition }: cannot tell yet: recorded for too few batches, on too few farms, or with too few losses.
condition-compared = Compared with { $value }.
source-piped = piped water
source-borehole = borehole water
source-shallow_well = well water
source-rainwater = rainwater
source-river = river water
source-vendor = bought water
source-other = water of another source
condition-between-farms = This compares between farms, not batches of one farm.
condition-own-shed = In this shed, batches { $condition } lost { $times } times as many trays ({ $low } to { $high }).
condition-own-farm = On this farm, batches { $condition } lost { $times } times as many trays ({ $low } to { $high }).
condition-own-not-told = Batches { $condition }: this farm cannot be told apart from the others yet.
condition-caution = They go together; the records cannot say that one causes the other.
wet-months-title = Wet season
wet-months = Wet months
wet-months-hint = Numbers from 1 to 12 with commas between, such as 3,4,5,11. Empty: losses are not compared with the season.
refused-already_written = { $was } is written of this already. Choose whether { $now } comes on top, which makes { $both }, or stands instead.
refused-far_off = { $now }: so many animals of this group ({ $animals }) usually give about { $usual }. Mend the figure, or say that it is right.
refused-very_much = { $now } is very much for so many animals ({ $animals }). Mend the figure, or say that it is right.
spoiled = Spoiled
spoiled-trays = Trays thrown away
spoiled-why = Why:
correct-it = Correct it
refused-beyond_standing = { $standing } trays of this batch stand: give at most so many.
worked-drained = Drained
worked-watered = Watered
worked-cleaned = Cleaned
field-watering = watering
written-last = Written last. Tap one to take it back.
first-title = First steps
first-title-about = What a new co-operative sets up, in order
first-about = A new co-operative needs these things before its first month can be reported. Each opens its own form. Come back here after each.
first-count = { $done } of { $all } steps are done.
first-next = Next: { $step }
first-done = done
first-may-wait = may wait
first-areas = Areas
first-areas-about = Villages or wards. Each farm lies in one, and an officer sees the farms of the own areas.
first-guide = Growing guide
first-guide-about = Days to harvest, seed on a tray and the like. Common practice holds until you set your own.
first-feeds = Feeds
first-feeds-about = The bought feeds that fodder replaces, such as dairy meal. The ration before fodder names them.
first-supplier = Supplier of seed
first-supplier-about = Who sells you the grain.
first-lot = Seed lot
first-lot-about = One for each delivery, so that bad seed can be traced.
first-seed = Seed in store
first-seed-about = What was delivered of the lot, and its price. It must be declared as untreated.
first-officers = Officers
first-officers-about = Who visits the farms. Each gets a one-time code and sets a password.
first-farms = First farm
first-farms-about = The member, the shed, the animals and their ration before fodder, in one form.
first-questions = Questions of a visit
first-questions-about = What an officer looks at in the shed, as questions to which yes is good.
first-files = Do you have lists?
first-files-about = Members, farms and purchases can come from spreadsheets instead of forms.
setup-title = Areas and questions
setup-title-about = The areas of the co-operative, and what a visit asks
sheds-of = Sheds of { $farm }
sheds-title = Sheds and days off
visits-of = Planned visits to { $farm }
visits-planned = Planned visits
visit-planned = A visit is planned for { $date }.
book-visit-plan = Planned visits
book-visit-plan-about = A member whose number agreed to reminders gets a text in the afternoon of the day before.
book-planned-on = Day of the visit
book-area = Areas
book-area-about = Areas may lie in larger ones.
book-parent-id = Lies in
book-checklist-item = Questions of a visit
book-checklist-item-code = Short name
book-checklist-item-valid-from = Asked from
book-topic = What it is about
book-question = The question, so that yes is good
book-valid-to = Asked until
book-shed = Sheds
book-shed-about = A farm may have several. Batches stand in one of them.
book-tray-places = Places for trays
book-tray-load-kg = Dry seed on a full tray, kg
book-tray-load-kg-hint = Only where it differs from the growing guide
book-rest-day = Days on which nothing is soaked
book-rest-day-about = One weekday each week, or one day.
book-weekday = Every week on
book-day = On this day
book-growing-pause = Pause
book-growing-pause-about = No fodder is grown for a time: a journey, no water, repairs.
book-first-day = From
book-last-day = Until
book-last-day-hint = Empty while nobody knows
book-planned-head = Animals to come
book-planned-head-about = How many there will be from a day on, so that soaking begins in time.
book-head = Animals
topic-seed = seed
topic-water = water
topic-disinfection = disinfection
topic-trays = trays
topic-shelves = shelves
topic-seed_depth = depth of seed
topic-shed = shed
topic-pests = pests
topic-people = people
topic-batches = batches
topic-spoiled_trays = spoiled trays
topic-feeding = feeding
topic-waste_water = waste water
topic-records = records
weekday-monday = Monday
weekday-tuesday = Tuesday
weekday-wednesday = Wednesday
weekday-thursday = Thursday
weekday-friday = Friday
weekday-saturday = Saturday
weekday-sunday = Sunday
invitation-line = Code { $code }. Sign in later with { $login }.
invite-many-title = Invite members
invite-many-about = Makes one sheet to print, with a code for each member who has set no password yet: at most { $most } at once. A new sheet ends the codes of the sheet before.
invite-many-make = Make the sheet
invite-many-done = { $count ->
    [0] Nobody needs a code: all members with a telephone have set a password.
    [one] One member is invited.
   *[other] { $count } members are invited.
  }
invite-many-once = Print this page now: the codes are not shown again. Cut it, and give each member the own piece. A code holds a week and works once.
invite-many-left = { $count } more have set no password. Make the next sheet when these have.
invite-many-without = Without a telephone number in the register, and so not invited: { $names }
lost-title = Telephone lost?
lost-about = This signs the person out on every device at once, and gives a new code. Records that wait on the lost telephone are not sent any more.
lost-make = End all sign-ins, give a new code
recall-title = Farms that had this lot
recall-got-kg = Got, kg
recall-left-kg = Left, kg
recall-growing = Batches growing
recall-animals = Animals fed
show-all = Show all { $count }
book-unused = Nothing written yet
spoilage-lost-lately = { $percent } % of trays lost lately
year-title = The last twelve months
year-saving-question = How much was saved each month?
year-saving-text = A line of the saving by month with its 95 % band. Where the band holds zero, it cannot be told whether money was saved.
year-lost-question = What share of trays was lost each month?
year-lost-text = A line of trays thrown away, per cent of those begun, by month.
year-farms-question = How many farms had a number each month?
year-farms-text = A line of the farms whose saving could be worked out, by month.
year-farms = Farms with a number
year-farms-axis = farms
year-change-lost = Trays lost: { $is } %, the month before { $was } %.
year-change-farms = Farms with a number: { $is }, the month before { $was }.
year-change-unclear = Whether more was saved than in the month before cannot be told.
year-change-more = More was saved than in the month before.
year-change-less = Less was saved than in the month before.
owed-title = Seed owed
owed-title-about = Who owes for seed, how much and since when
owed-lead = { $count ->
    [0] Nobody owes for seed.
    [one] One member owes { $amount } for seed.
   *[other] { $count } members owe { $amount } for seed.
  }
owed-now = Owed
owed-over = Of it more than { $days } days old
owed-last = Last entry
owed-table = Who owes, { $currency }
owed-about = A payment goes to the oldest issue first. Take the list to the next milk or egg payment: what is held back there is written in the farm’s book as paid off by check-off.
refused-last_keeper = This is the last person of this role who can sign in: make another first.
year-none = Fewer than two months have figures yet.
trainings-title = Trainings
trainings-title-about = Plan a training, mark who is present, repeat a topic.
trainings-none = No training is written down yet.
training-plan = Plan a training
training-planned = planned
training-topic = Topic
training-for = For members of
training-for-all = all areas
training-place = Place
training-trainer = Taught by
training-save = Save the training
training-came = { $count ->
    [0] nobody is marked present
    [one] one person came
   *[other] { $count } people came
  }
training-repeat = Repeat this topic
training-register = Register
training-later = The register opens on the day of the training.
training-find = Find a member: name, number or telephone
training-nobody = No member fits. Look for another name or number.
training-tick = Tick everyone who is here. Then save.
training-mark = Save who is here
training-kept = Register: { $topic }
training-also = { $count ->
    [one] One more is marked present
   *[other] { $count } more are marked present
  }
training-unseen = { $count ->
    [one] One more came from an area that is not yours.
   *[other] { $count } more came from areas that are not yours.
  }
totals-hidden-why = No figure comes from fewer than { $count ->
    [one] one member
   *[other] { $count } members
  }. A smaller group is hidden, and the next one with it. Nobody can then find it by subtraction. Hidden groups are shown together.
totals-hidden-group = hidden: too few people in one of the hidden groups
group-together = hidden groups together
group-ages-together = hidden ages together
group-age-not-stated = age not stated
indicators-title = Indicators
indicators-hidden = No figure comes from fewer than { $count ->
    [one] one person
   *[other] { $count } people
  }. Only members who agreed are counted.
indicators-of = Indicators of
indicators-period = { $from } to { $to }
indicators-of-period = { $from } to { $to }. To choose are the quarters that are over, and a year up to the end of one.
indicators-so-far = Of a year so far a number is left out where its quarters beside it would show what a few people did.
not-shown-so-far = hidden: too few people in it, or between it and a quarter
not-shown-groups-so-far = { $groups } hidden: too few people in one of them, or between it and a quarter
refused-quarters = Give a quarter that is over, or a year up to the end of such a quarter.
indicator-definition = Definition
indicator-value = Value
indicator-low = From, 95 %
indicator-high = To, 95 %
indicator-people_trained = People trained
indicator-means-people_trained = Members who came to at least one training in these months. Each is counted once.
indicator-women_trained_percent = Women among people trained, %
indicator-means-women_trained_percent = Women trained, of all people trained. Those who did not state their sex count among all.
indicator-farms_growing = Farms growing
indicator-means-farms_growing = Farms that spread at least one tray in these months, by the member’s sex.
indicator-women_growing_percent = Women’s share of farms growing, %
indicator-means-women_growing_percent = Farms growing whose member is a woman, of all farms growing.
indicator-farms_active = Farms active
indicator-means-farms_active = Farms that wrote down milk, eggs, trays, fodder fed or feed bought in these months.
indicator-farms_dropped_out = Farms dropped out
indicator-means-farms_dropped_out = Farms that spread a tray in the { $grew } months before, and none in the last { $silent } months.
indicator-saving = Saving
indicator-means-saving = Feed not bought, less what the fodder cost, of the farms with a number, month by month. The real amount lies in the range in 95 of 100 cases.
indicator-litres_per_cow_day = Litres per cow-day
indicator-means-litres_per_cow_day = Milk written down, for each cow in milk and day with a record.
indicator-hen_day_percent = Eggs per 100 hen-days
indicator-means-hen_day_percent = Eggs written down, for 100 hens and a day with a record.
indicator-milk_change_percent = Change in milk since the start, %
indicator-means-milk_change_percent = Milk a day with fodder, beside farms that had not started yet. Of all months up to now.
indicator-egg_change_percent = Change in eggs since the start, %
indicator-means-egg_change_percent = Eggs a day with fodder, beside farms that had not started yet. Of all months up to now.
indicator-months_reported = Months reported
indicator-means-months_reported = Months of this time that the co-operative has closed.
not-shown-few_people = hidden: too few people in one of the hidden groups
not-shown-not_agreed = hidden: not all in it agreed to be counted
not-shown-not_known = not known yet
indicators-title-about = Figures for funders, with their definitions, as file.
feed-value-title = What feeds are worth
feed-value-title-about = Prices of dry matter, protein and energy.
feed-value-prices = The price is the median of what members paid in the month. Without a purchase it is the last median of the three months before.
feed-mix-title = Cheapest mix
feed-mix-title-about = The cheapest mix of feeds with enough protein and energy.
feed-mix-about = Prices are those of the co-operative’s own purchases. Change them as you like. A feed without a price is left out.
break-even-title = When fodder pays
break-even-title-about = The price, yield and spoilage from which fodder pays.
break-even-about = The figures are those of the farms’ records of the month. Change them as you like.
break-even-no-feed = No feed has a price and a dry matter in this month. Write down a purchase, and the dry matter of the feed.
break-even-fill = The records of this month do not hold all figures. Fill in what is missing.
break-even-saves = Fodder saves { $amount }: it cost { $cost }. It stands for { $kg } kg of the feed, and these cost { $other }.
break-even-loses = Fodder loses { $amount }: it cost { $cost }. It stands for { $kg } kg of the feed, and these cost { $other }.
break-even-price = It pays from this price of the feed on, { $currency } a kg
break-even-yield = It pays from this yield on, kg fresh from a kg of seed
break-even-spoiled = It pays up to this share spoiled, %
break-even-always = always
break-even-never = never
suppliers-title = Suppliers of seed compared
suppliers-title-about = Price, germination and spoilage of each supplier.
suppliers-about = Prices include transport to the store. Spoilage is the share of trays lost. The real share lies in the range in 95 of 100 cases. Farms differ, too: the seed is not always the reason.
suppliers-none = No seed was bought in this time.
suppliers-name = Supplier, lot
suppliers-kg = Bought, kg
suppliers-price = { $currency } a kg
suppliers-germination = Germination, %
suppliers-viable = { $currency } a kg of seed that germinates
suppliers-spoiled = Trays lost, %
suppliers-too-few = too few batches
ration-caution = Ask the local livestock service before you change a ration. A cheapest mix is no feeding plan. Change feeds slowly. Keep water and salt at hand. Never feed mouldy feed or treated seed.
ration-each-feed = Feed
ration-each-kg = { $currency } a kg
ration-each-dry = { $currency } a kg of dry matter
ration-each-protein = { $currency } a kg of protein
ration-each-mj = { $currency } a MJ
ration-price-of = Price of, and what is missing
ration-table = Feeds in { $month }
ration-no-price = no price
ration-no-dry = no dry matter
ration-no-protein = no protein
ration-no-energy = no energy
ration-fodder-costs = The fodder of the co-operative cost { $amount } a kg of dry matter. Do not compare by fresh weight: fresh fodder is mostly water.
ration-fodder-unknown = What the fodder cost is not known for this month: seed, its price or weighed fodder is missing.
ration-reckon = Work it out
ration-mix-kg = Dry matter of the mix, kg
ration-mix-protein = At least this crude protein, % of dry matter
ration-mix-energy = At least this energy, MJ a kg of dry matter
ration-prices = Prices, { $currency } a kg as fed
ration-left-out = Feeds that can not be mixed
ration-clash = No mix reaches this. These limits do not go together:
ration-clash-protein = Crude protein: you ask { $asked } %, the most that a mix reaches is { $reach } %.
ration-clash-energy = Energy: you ask { $asked } MJ, the most that a mix reaches is { $reach } MJ.
ration-clash-weight = The weight of the mix.
ration-mix-costs = The cheapest mix costs { $cost }: { $each } a kg of dry matter.
ration-mix-table = The mix
ration-as-fed = kg as fed
ration-share = Share, %
ration-cost = { $currency }
ration-worth = Worth up to, { $currency } a kg
ration-worth-about = Below the price in the last column, more of a feed is in the cheapest mix. Above it, less.
ration-worth-needed = at any price
ration-worth-never = not even for nothing
ration-replaces = Feed that the fodder stands for
ration-seed-price = Price of seed, a kg
ration-seed-kg = Seed soaked, kg
ration-seed-dry = Dry matter of the seed, %
ration-fresh-kg = Fresh fodder grown, kg
ration-fodder-dry = Dry matter of the fodder, %
ration-other-cost = All other costs
ration-spoiled = Spoiled, %
training-none-yours = None of its members is in your areas. Find your own members by name.
not-shown-groups = { $groups } hidden: too few people in one of the hidden groups
refused-too_early = The register opens on the day of the training.
not-shown-few-in-all = hidden: from too few people

# The board's paper
board-title = Board paper
board-title-about = For the board and for the meeting of all members, to print
board-about = The month, the month before and the year so far; areas, cost of dry matter, seed owed, spoilage, what is missing, decisions and signatures. At most four pages.
board-pdf = For the board (PDF)
board-pdf-all = For all members, without names (PDF)
board-decide = What the board is asked to decide
board-none = The records raise no question.

# Milk and egg payment
owed-over-limit = { $count ->
    [one] One member owes more than the credit limit of { $amount }.
   *[other] { $count } members owe more than the credit limit of { $amount }.
}
account-over-limit = This is { $amount } more than the co-operative’s credit limit. Ask before more seed is handed out on credit.
pay-run-title = Milk and egg payment
pay-run-title-about = What each member sold, what is kept back for seed, what is paid out
pay-run-from = First day
pay-run-to = Last day
pay-run-lead = Sold for { $sold }. To keep back for seed: { $kept }. To pay out: { $net }.
pay-run-unpriced = { $count ->
    [one] One record of milk or eggs sold has no price and is not in these sums. Add its price first.
   *[other] { $count } records of milk or eggs sold have no price and are not in these sums. Add their prices first.
}
pay-run-below = { $count ->
    [one] One member has more deductions than sales.
   *[other] { $count } members have more deductions than sales.
}
pay-run-owing = { $count ->
    [one] One member owes for seed and sold nothing in these days. Nothing can be kept back.
   *[other] { $count } members owe for seed and sold nothing in these days. Nothing can be kept back.
}
pay-run-table = Payment, { $currency }
pay-run-sold = Sold
pay-run-due = Seed due
pay-run-other = Other deductions
pay-run-was-kept = Kept back before
pay-run-keep-now = Keep back now
pay-run-net = Pay out
pay-run-about = Pay out = sold − other deductions − kept back before − keep back now. No more is kept back than was sold. Other deductions are written in the farm’s book.
pay-run-limit = Set a credit limit
pay-run-keep = Keep back for seed
pay-run-warning = This writes a seed payment for each member, on the last day of the run. A payment can be taken back in the farm’s book.
pay-run-do = Keep back { $amount }
pay-run-kept = Kept back for seed: { $amount }.
refused-changed = The records have changed since. Look at the list again.
book-expected = Sum
chart-cannot-tell = hollow: cannot tell
evidence-uncounted = hollow: does not count
output-question-milk = How much milk did a cow give a day?
output-question-eggs = How many eggs did a hen lay a day?
lot-in-store = { $kg } kg in store
lot-none-in-store = none in store
lot-price-kg = { $amount } a kg
book-seed-issue-price-hint = If you leave it empty: kg times the price beside the lot. Write 0 if it is free
round-by-way = In the order of the way
round-by-need = The most pressing first
round-about-way = From the most pressing farm on, always to the nearest. Farms whose place is not known come last.
round-further = { $km } km further, as the crow flies
saved-calendar-end = The calendar address is ended.
saved-wet-months = Saved: the months of the wet season.
saved-order = The order is drawn and kept.
saved-close = The month is closed.
saved-areas = Saved: the areas of this officer.
saved-accepted = Accepted. It comes back if the records get worse.

# What is kept about a member
held-link = What is kept about the member
held-title = What is kept about { $name }
held-about = The co-operative keeps these records. The file holds all of them, with every earlier version.
held-file = Everything as a file (JSON)
held-count = { $records ->
    [one] one record, { $versions ->
        [one] one version
       *[other] { $versions } versions
    }
   *[other] { $records } records, { $versions } versions
}
held-pictures = Pictures
held-accounts = Accounts to sign in with
held-months = Closed months whose report names the member
held-for-title = How long things are kept
held-for-what = What
held-for-how-long = How long
held-for-days = { $days ->
    [one] one day
   *[other] { $days } days
}
held-for-until-erased = until it is erased
held-for-records = Records and their earlier versions
held-for-pictures = Pictures
held-for-reports = Reports of closed months
held-for-sessions = Sign-ins that are not used
held-for-codes = One-time codes
held-for-texts = Text messages
held-for-security_log = Lines of the security log
held-for-failures = Failed sign-ins
held-law = What must be handed over, corrected or erased is set by the data protection law of the country. Ask a lawyer where it is not clear. Backups keep what was there when they were made, until they are pruned.
erase-title = Erase the member
erase-left-first = A member is erased after leaving. Write down the day of leaving first.
erase-left-on = Left on
erase-about = Name, telephone, places, pictures and all free texts are emptied in every version. The account is closed. Reports of closed months show the number. The figures stay. It cannot be undone.
erase-number = Membership number, once more
erase-reason = Who asked for it, and when (without the name)
erase-do = Erase
saved-erased = The member is erased. The figures stay under the number.
refused-different = This is not the number of this member.
enterprise-milk = milk
enterprise-eggs = eggs
kind-correction_request = Wishes for corrections
kind-follow_up = Follow-ups
kind-growing_pause = Pauses in growing
kind-planned_head = Planned animals
kind-visit_check = Answers at visits
kind-visit_plan = Planned visits
kind-work_record = Work done
kind-flag = Flags for spoilage
kind-start_place = Places in trials
kind-on_off_plan = Trials with pauses
kind-photo = Pictures
kind-rest_day = Days of rest
kind-review_acceptance = Findings accepted

# Text messages of members
texts-title = Text messages
texts-title-about = Numbers of members, texts not understood, and what they cost
texts-about = Members write from numbers that they agreed to. A number counts when it has returned a code of four digits. One that was silent for { $days } days hears no money until it gets a new code.
texts-numbers = Numbers
texts-numbers-about = In the order of the numbers; ended ones too
texts-none = No number is linked yet.
texts-number = Number
texts-member = Member
texts-member-number = Membership number
texts-language = Language
texts-consent = Day on which the member agreed
texts-state = State
texts-state-pending = waits for its code
texts-state-active = active
texts-state-stopped = wants no reminders
texts-state-ended = ended
texts-hears = May hear
texts-heard = Wrote last
texts-reminders = Reminders of work
texts-cautions = Cautions
texts-money = Saving and debt
texts-link-do = Link the number and send a code
texts-end-do = End the link
texts-cost = This month
texts-came = Texts that came
texts-unclear = Not understood
texts-unclear-about = Texts that were not understood; kept for { $days } days
texts-at = When
texts-text = Text
texts-segments = Segments
texts-budget = Segments that a month may take
texts-budget-near = Four fifths of the month's segments are used.
texts-carrier = A carrier spoke last
texts-waiting = The oldest text that waits
texts-by-purpose = Texts by purpose
texts-purpose = Purpose
texts-purpose-answer = answers
texts-purpose-code = codes
texts-purpose-reminder = reminders
texts-purpose-caution = cautions
texts-purpose-result = months' results
texts-count = Texts
texts-given-up = Given up
