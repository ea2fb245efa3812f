# English. The same keys stand in sw.ftl; a test compares them.
title = traybook
skip = To the content
language-other = Kiswahili
sign-in = Sign in
sign-out = Sign out
login = Telephone number or e-mail address
password = Password
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
task-feed = Feed { $kg } kg to { $group } today
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
back-today = To today's work
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
