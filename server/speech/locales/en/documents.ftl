# The savings report as PDF and as workbook
doc-title = { $cooperative }: savings of { $month }
doc-page = page { $page } of { $pages }
doc-heading = Savings of { $month }
doc-span = { $from } to { $to }
doc-state = { $cooperative }. { $state }
doc-closed = The month is closed: later corrections show as adjustments of later months.
doc-open = The month is still open: numbers change with what is recorded or corrected.
doc-no-totals = This copy holds single farms only, without totals.
doc-farms = { $count ->
    [one] { $count } farm
   *[other] { $count } farms
}
doc-nobody = No farm has a number this month.
doc-together-lost = { $farms } together lost { $amount }.
doc-together-saved = { $farms } together saved { $amount }.
doc-no-interval = There is no interval: no farm has a number.
doc-interval-open = The 95 % interval of the sum is { $range }. Zero lies within it: whether the farms as a whole save or lose can not be told yet.
doc-interval-clear = The 95 % interval of the sum is { $range }. Zero lies outside it: this is more than chance.
doc-range = { $low } to { $high }
doc-glance = The month at a glance
doc-fact-baseline = Eaten without fodder, at this month's prices (baseline), { $currency }
doc-fact-fodder = Seed, other costs and depreciation of fodder, { $currency }
doc-fact-saving = Saving, { $currency } (minus: loss)
doc-fact-share = Saving as a share of the baseline
doc-fact-included = Farms with a number
doc-fact-saves = · of these, saved
doc-fact-loses = · of these, lost
doc-fact-unclear = · of these, cannot tell yet
doc-fact-left-out = Farms without a number
doc-fact-trays = Trays spread
doc-fact-lost = Trays thrown away
doc-fact-lost-share = { $trays } ({ $percent })
doc-fact-spoiling = Farms where trays keep spoiling
doc-fact-seed = · of these the evidence points at a seed lot
doc-fact-milk = Milk a cow a day, farms with a number
doc-fact-eggs = Eggs a day for 100 hens, farms with a number
doc-fact-output = Milk or eggs since fodder began, farms
doc-litres = { $litres } litres
doc-up-down = { $up } up, { $down } down, { $open } cannot tell
doc-chart-areas = Saving by area, with 95 % intervals
doc-chart-members = Saving by member, largest loss first, with 95 % intervals
doc-chart-ends = The { $half } largest losses or smallest savings, and the { $half } largest savings
doc-chart-marks = A filled mark: the whole interval lies on one side of zero. An open mark: zero lies inside, so it can not be told whether there is a saving or a loss.
doc-chart-axis = saving, { $currency } (left of zero: loss)
doc-bar = { $saving } ({ $range })
doc-bar-no-interval = { $saving }, no interval yet
doc-area-without = no farm with a number
doc-members = Members by area
doc-members-about = Amounts in whole { $currency }. Baseline: what the same animals would have eaten without fodder. Fodder cost: seed, other costs and depreciation, spoiled trays included. A dash: not recorded. “cannot tell”: the 95 % interval holds zero. Counted: farms with a number, and how many they are.
doc-column-number = Number
doc-column-member = Member
doc-column-animals = Animals
doc-column-before = Baseline
doc-column-fodder = Fodder cost
doc-column-saving = Saving (loss −)
doc-column-lost = Trays lost
doc-no-area = No area
doc-counted = { $area }, counted
doc-all-counted = All areas, counted
doc-verdict-none = no number
doc-verdict-no-interval = no interval
doc-verdict-open = cannot tell
doc-verdict-saves = saved
doc-verdict-loses = lost
doc-verdict-neither = neither
doc-reason-not_started = no number: fodder not started
doc-reason-start_month = no number: fodder began in this month
doc-corrections = Corrections of closed months
doc-corrections-about = They were reported otherwise before, and are not in this month's sums.
doc-month = Month
doc-farm = Farm
doc-reported = Reported so far
doc-now = Records say now
doc-change = Change
doc-method-title = How the numbers came about
doc-method = Saving = what the same animals would have eaten without fodder, at this month's prices, minus bought feed that was eaten, seed, other costs and straight-line depreciation. Feed is spread over the days until the next purchase. What would have been eaten: what the farm bought a head and day in the 12 months before its start, and the ration it stated, less what rations are overstated by; times an index of farms without fodder in the same month. 95 % intervals from how such months scattered before the start.
doc-units = money in currency units; milk in litres; fodder in kg; animal_days in head × days
doc-units-of = Units: { $units }; money in { $currency }.
doc-dry-matter = Fresh fodder is counted as { $percent } % dry matter.
doc-complete = A farm has a number only where all that it needs was recorded. What was not recorded is not counted as zero; the table names it. Sums count farms with a number only.
doc-spoiled = Spoiled trays are inside the numbers, since their seed and costs were spent. A loss is shown as plainly as a saving.
doc-cautions = Cautions
doc-caution = Rations and animal health: ask the local livestock service; do not feed mouldy fodder.

# A member's own page
doc-member-title = { $cooperative }: { $member }, { $month }
doc-member-heading = { $member }: { $month }
doc-member-about = { $cooperative }. Member { $number }, farm { $farm }. { $animals } animals on average.
doc-member-about-area = { $cooperative }. Member { $number }, farm { $farm }, { $area }. { $animals } animals on average.
doc-you-none = There is { $reason }.
doc-you-lost = You lost { $amount } this month.
doc-you-saved = You saved { $amount } this month.
doc-you-no-interval = How sure this is can not be said: too few months before fodder were recorded.
doc-you-open = The 95 % interval is { $range }. Zero lies within it, so it can not be told yet whether this was a saving or a loss.
doc-you-clear = The 95 % interval is { $range }.
doc-money-went = Where the money went, { $currency }
doc-went-baseline = What your animals would have eaten without fodder
doc-went-seed = Seed soaked
doc-went-other = Other costs of fodder
doc-went-depreciation = Wear of shed and trays (depreciation)
doc-went-saving = Saved (minus: lost)
doc-per-litre = · for each litre of milk
doc-per-egg = · for each egg
doc-per-animal-day = · for each animal and day
doc-milk-and-eggs = Milk and eggs
doc-milk-a-day = { $litres } litres a cow a day.
doc-eggs-a-day = { $eggs } eggs a day for 100 hens.
doc-no-output = No milk or eggs were recorded.
doc-since = Since fodder began: { $change }
doc-trays = Trays
doc-no-trays = No trays were recorded.
doc-trays-spread = { $spread } trays spread, { $lost } thrown away ({ $percent }).
doc-spoiling-seed = Trays keep spoiling, and the evidence points at the seed lot: keep it apart and ask your officer.
doc-spoiling = Trays keep spoiling: go through the checklist with your officer.
doc-lacks = What the records lack
doc-lacks-about = { $what }. What is not recorded is not counted as zero.
doc-change-higher = { $what } is { $percent } % higher than it would have been, between { $low } % and { $high } %.
doc-change-lower = { $what } is { $percent } % lower than it would have been, between { $low } % and { $high } %.
doc-change-open = { $what }: cannot tell yet, between { $low } % and { $high } %.
doc-change-none = { $what }: cannot tell yet.

# The workbook
sheet-totals = Totals
sheet-notes = Notes
sheet-adjustments = Adjustments
sheet-area = Area
sheet-page = Page { $page } of { $pages }
sheet-all-areas = All areas
sheet-all-months = All months
sheet-totals-about = Sums of money over the lines with a number; facts over all lines. Each cell is a formula over the sheets of the areas; method, units and cautions are on the last sheet.
sheet-area-about = A line a farm and class of animals. An empty cell was not recorded or can not be told; it is not zero.
sheet-of = { $title }, { $part }
sheet-adjustments-part = adjustments
sheet-adjustments-about = Corrections of months that had been closed. They are not in the totals.
sheet-money = { $what }, { $currency }
sheet-farms-included = Lines with a number
sheet-farms-saving = Lines that saved
sheet-farms-losing = Lines that lost
sheet-farms-left-out = Lines without a number
sheet-member-number = Member number
sheet-member = Member
sheet-status = Status
sheet-animals = Animals
sheet-animal-days = Animal-days
sheet-baseline-cost = Baseline: eaten without fodder
sheet-seed-cost = Seed
sheet-other-cost = Other costs
sheet-depreciation = Depreciation
sheet-saving = Saving (loss -)
sheet-low = Saving, low end
sheet-high = Saving, high end
sheet-saving-percent-of-baseline = Saving, % of the baseline
sheet-saving-per-animal-day = Saving per animal-day
sheet-saving-per-litre = Saving per litre
sheet-saving-per-egg = Saving per egg
sheet-fresh-fodder-fed-kg = Fresh fodder fed, kg
sheet-fodder-cost-per-kg-dry-matter = Fodder cost per kg dry matter
sheet-trays-started = Trays spread
sheet-trays-fed-unweighed = Trays fed unweighed
sheet-trays-discarded = Trays discarded
sheet-trays-discarded-percent = Trays discarded, %
sheet-milk-litres = Milk, litres
sheet-litres-per-cow-day = Litres per cow-day
sheet-eggs = Eggs
sheet-hen-day-percent = Eggs per 100 hen-days
sheet-output = Output change, %
sheet-output-low = Output change, low end
sheet-output-high = Output change, high end
sheet-spoilage = Spoilage
sheet-said = What is missing, and notes
sheet-reported-in = Reported in
sheet-closed-month = Closed month
sheet-how-to-read = How to read this workbook
sheet-all-closed = All months are closed: later corrections show as adjustments.
sheet-still-open = Still open, so the numbers may change: { $months }.
sheet-note-method = Method
sheet-note-units = Units
sheet-units = { $units }; money in { $currency }.
sheet-note-empty = Empty cells
sheet-empty = Not recorded, or it can not be told. The status says why a farm has no number; the last column says what is missing. Empty is not zero.
sheet-status-about = estimated: there is a number; ration_only: there is a number, from the stated ration alone; not_started: no fodder yet; running: the month is not over; start_month: fodder began in this month; no_baseline: neither purchases before the start nor a ration; held: a purchase looks wrong; waiting: the next purchase will tell; missing: something was not recorded; start_lot: most feed was bought before the start. Money is summed over lines with a number only.
sheet-note-intervals = Intervals
sheet-intervals = Low and high end of a 95 % interval. Where zero lies between them it can not be told whether the farm saves or loses.
sheet-note-losses = Losses
sheet-losses = A negative saving is a loss.
sheet-note-months = Months
sheet-status-estimated = estimated
sheet-status-not_started = not_started
sheet-status-start_month = start_month
sheet-status-missing = missing
doc-fact-eaten = Bought feed that was eaten, { $currency }
doc-fact-feed-saving = Feed saved: the difference, { $currency }
doc-fact-output-value = Milk or eggs gained (minus: lost), { $currency }
doc-fact-net = Net: saving with milk or eggs, { $currency }
doc-fact-since = Saving since the start, { $currency }
doc-fact-since-range = · 95 % interval
doc-fact-since-months = · of farm-months with a number
doc-x-of-y = { $months } of { $of }
doc-left-out-not_started = · fodder not started
doc-left-out-running = · the month is not over
doc-left-out-start_month = · fodder began in this month
doc-left-out-no_baseline = · nothing known from before the start
doc-left-out-held = · a purchase must be looked at
doc-left-out-waiting = · waiting for the next purchase
doc-left-out-missing = · something is not written down
doc-left-out-start_lot = · feed from before the start
doc-running = The month is not over. There is no saving yet, only facts to date.
doc-together-open = { $farms } together: cannot tell yet whether they saved or lost.
doc-you-cannot-tell = It cannot be told yet whether you saved or lost this month.
doc-went-eaten = Bought feed that they ate
doc-went-feed-saving = Feed saved
doc-went-output = Milk or eggs gained (minus: lost)
doc-went-net = Net, with milk or eggs
doc-went-bought = For information: feed bought in the month
doc-column-eaten = Feed eaten
doc-settled = Feed in use at the close, settled
doc-earlier = Months closed by the earlier method
doc-earlier-about = They stay as they were reported. This is what the method of this report says of them. It is shown once and counted nowhere.
doc-by-this-method = By this method
doc-terms = The words of this report
term-eaten = Eaten: what was bought, spread over the days until the next purchase.
term-baseline = Baseline: what the same animals would have eaten. It is judged by what the farm bought before its start and by what it said, at this month's prices.
term-index = Index: how much more or less farms without fodder used in that month.
term-interval = Interval: if we looked again with other luck, 95 in 100 such ranges would hold the truth.
term-waiting = Waiting: the bag is not finished, so we cannot say yet how fast it goes.
term-missing = Missing: a purchase seems not to be written down. A gap is not a saving.
term-held = Held: a figure is far off its neighbours. Somebody must look.
term-net = Net: feed saved plus milk or eggs gained or lost.
term-unseen = Not seen: grazing, feed lent or sold, and animals that nobody counted. With few purchases of a feed, nothing checks their kg.
doc-reason-running = no number: the month is not over
doc-reason-no_baseline = no number: nothing known from before the start
doc-reason-held = no number: a purchase must be looked at
doc-reason-waiting = no number yet: feed is in use
doc-reason-missing = no number: something is not written down
doc-reason-start_lot = no number: most feed was bought before the start
doc-reason-estimated = there is a number
doc-reason-ration_only = there is a number
doc-reason-waits = { $why }; { $what }
sheet-enterprise = Class of animals
sheet-eaten-cost = Bought feed eaten
sheet-feed-saving = Feed saved
sheet-output-value = Milk or eggs gained (lost -)
sheet-net = Net (loss -)
sheet-net-low = Net, low end
sheet-net-high = Net, high end
sheet-bought-cost = Feed bought in the month
sheet-status-running = running
sheet-status-no_baseline = no_baseline
sheet-status-held = held
sheet-status-waiting = waiting
sheet-status-start_lot = start_lot
sheet-status-ration_only = ration_only

# The printed table
doc-column-share = Of baseline
doc-column-output = Output a day
table-farms = { $farms } farms: { $saved } saved, { $lost } lost, { $open } cannot tell yet; { $out } left out
table-adjustments = { $count } adjustments of earlier, closed months, and feed in use at the close: { $amount }
table-since = Since the start: { $amount }, 95 % interval { $range }, of { $months } of { $of } farm-months.
table-closed = { $month } is closed. This is the report as it was sent:

# The board's paper
paper-title = { $cooperative }: { $heading }
paper-heading = Board paper, { $month }
paper-heading-all = Report to the members, { $month }
paper-saved = { $farms } together saved { $amount }. With 95 % certainty it is { $range }.
paper-lost = { $farms } together lost { $amount }. With 95 % certainty it is { $range } (minus: loss).
paper-open = { $farms } together: cannot tell yet whether they saved or lost. With 95 % certainty it is { $range }.
paper-no-interval = { $farms } have a number. How sure it is can not be said yet.
paper-since = Since the start: { $amount }, with 95 % certainty { $range } (minus: loss).
paper-since-open = Since the start: cannot tell yet whether it is a saving or a loss. With 95 % certainty it is { $range }.
paper-since-none = Since the start no month has a number yet.
paper-months = This month, last month, the year so far
paper-months-about = The year so far adds up its months that have a saving, from January on. Its interval is that of the sum of the same farms and months. A dash there: it can not be told, such as where a farm in it was withdrawn since. Elsewhere a dash means: not recorded, or no number.
paper-seed-cost = Seed soaked, { $currency }
paper-other-cost = Other costs of fodder, { $currency }
paper-depreciation = Wear of sheds and trays (depreciation), { $currency }
paper-means = · what it means
paper-farms = Farms with a number (year: farm-months)
paper-farms-each = · saved / lost / cannot tell
paper-fodder = Fresh fodder fed, kg, as far as weighed
paper-areas = Areas this month
paper-area-farms = Farms counted
paper-range = 95 % interval
paper-areas-more = { $count ->
    [one] One more area stands in the savings report.
   *[other] { $count } more areas stand in the savings report.
}
paper-feeds = What a kg of dry matter costs
paper-fodder-costs = The own fodder: { $amount } for a kg of dry matter ({ $farms }).
paper-fodder-unknown = The own fodder: not known. Seed, its price or the weight fed was not recorded.
paper-feeds-none = No bought feed has a price and its dry matter recorded.
paper-feed = Bought feed
paper-feed-cost = For a kg of dry matter
paper-feed-beside = Own fodder is
paper-feed-month = Price of
paper-dearer = { $percent } % dearer
paper-cheaper = { $percent } % cheaper
paper-feeds-about = Dry matter alone does not feed an animal: protein and energy differ between feeds. Before a ration is changed, ask the local livestock service.
paper-seed = Seed on credit
paper-seed-owed = On { $day } { $members ->
    [0] nobody owed anything for seed.
    [one] one member owed { $amount } for seed.
   *[other] { $members } members owed { $amount } for seed.
}
paper-seed-over = · for seed of more than { $days } days ago
paper-seed-check-off = Paid this month from milk or egg money (check-off)
paper-seed-paid = Paid this month in other ways
paper-seed-limit = Credit limit of a member
paper-seed-over-limit = Members above it
paper-seed-balance = Owes
paper-seed-old = Of it older than { $days } days
paper-spoiling = Farms where trays keep spoiling, and what was done
paper-spoiling-count = { $count ->
    [0] On no farm.
    [one] On one farm.
   *[other] On { $count } farms.
}
paper-spoiling-more = { $count ->
    [one] One more farm is on the page of spoilage.
   *[other] { $count } more farms are on the page of spoilage.
}
paper-spoiling-since = Flag since
paper-spoiling-points = Points at
paper-spoiling-done = What was done
paper-points-farm = the farm
paper-points-farm_or_lot = the farm or one seed lot
paper-points-seed_lot = the seed lot
paper-points-not_known = not known
paper-not-seen = No officer has noted a look at it.
paper-seen = Seen by an officer on { $day }.
paper-cause = Cause: { $cause }.
paper-cause-mould = mould
paper-cause-rot_at_drain_end = rot at the drain end
paper-cause-poor_germination = poor germination
paper-cause-dried_out = dried out
paper-cause-pests = pests
paper-cause-left_too_long = left too long
paper-cause-other = other
paper-cleared = Cleared on { $day }.
paper-missing = What is missing
paper-missing-waiting = { $count ->
    [0] No farm's number waits for a record.
    [one] The number of one farm waits for a record.
   *[other] The numbers of { $count } farms wait for a record.
}
paper-missing-findings = { $count ->
    [0] Nothing is on the review list.
    [one] One finding is on the review list.
   *[other] { $count } findings are on the review list.
}
paper-decisions = Decisions asked for
paper-decisions-about = The records raise these questions. The free lines are for others.
paper-question = Question
paper-answer = Decided
paper-remarks = Who, until when
paper-boxes = □ yes  □ no  □ later
paper-ask-close = { $count ->
    [0] Close { $month }? Nothing is missing.
    [one] Close { $month }, though one farm waits for a record?
   *[other] Close { $month }, though { $count } farms wait for a record?
}
paper-ask-records = { $count ->
    [one] Who gets the missing records of one farm?
   *[other] Who gets the missing records of { $count } farms?
}
paper-ask-spoiling = { $count ->
    [one] Who visits one farm that keeps spoiling and was not seen since?
   *[other] Who visits { $count } farms that keep spoiling and were not seen since?
}
paper-ask-debts = { $amount } is owed for seed of more than { $days } days ago. Keep it back from milk or egg money, or wait?
paper-ask-limit = { $count ->
    [one] One member owes more than the credit limit. More seed on credit?
   *[other] { $count } members owe more than the credit limit. More seed on credit?
}
paper-ask-adjustments = Corrections of closed months change earlier reports by { $amount }. Take note?
paper-signatures = Signatures
paper-office = Office
paper-name = Name
paper-signature = Signature
paper-date = Date
paper-chair = Chair
paper-secretary = Secretary
paper-treasurer = Treasurer
