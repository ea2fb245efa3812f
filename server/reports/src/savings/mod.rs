//! The savings report of a month.
//!
//! Rows come in: a farm, a class of animals and the month, with the money that the estimate gave.
//! Here they are added up, put beside the facts of the month, and given their columns (partial
//! budget, CIMMYT 1988): every difference has a column beside its parts.

mod board;
mod costs;
mod csv;
mod member;
mod paper;
mod publish;
mod wording;
mod workbook;

pub use board::{TERMS, board_pdf};
pub use costs::{depreciation, median_prices, unit_price};
pub use csv::csv;
pub use member::member_pdf;
pub use paper::{asked, board_paper_pdf};
pub use publish::{CAUTION, METHOD, UNITS, json};
pub use wording::{Said, reason, remarks, sentence};
pub use workbook::workbook;

use std::collections::{BTreeMap, HashMap};
use traybook_answers::savings::{Note, OutputChange, Spoiling, Status, Wait};
use traybook_domain::Month;
use traybook_domain::effects::{Measure, Sums};
use traybook_domain::value::real;
use uuid::Uuid;

/// An amount with its 95 % interval, minor units.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Between {
    /// The amount.
    pub value: i64,
    /// Lower end.
    pub low: i64,
    /// Upper end.
    pub high: i64,
}

/// Milk or eggs in money, minor units.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct OutputMoney {
    /// Gained, or lost with a minus.
    pub between: Between,
    /// Whether the effect was shown; else it is an association.
    pub is_causal: bool,
}

/// What was given in a month by the animals of a row.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Given {
    /// Milk, ml.
    Milk(i64),
    Eggs(i64),
}

/// A farm and class of animals in a month.
#[derive(Clone, Debug)]
pub struct Row {
    /// Class of animal.
    pub enterprise: String,
    /// Whether there is a number, or why not.
    pub status: Status,
    /// What the number waits for.
    pub waits: Vec<Wait>,
    /// Head × days; none where no head was counted.
    pub animal_days: Option<i64>,
    /// Minor units; only where there is a number.
    pub money: Option<RowMoney>,
    /// Milk or eggs recorded in the month.
    pub given: Option<Given>,
    /// Whether the season is taken out of the baseline.
    pub is_adjusted: bool,
}

/// Money of a row, minor units.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct RowMoney {
    /// What would have been eaten without fodder.
    pub baseline: i64,
    /// What was eaten.
    pub eaten: i64,
    /// Seed soaked.
    pub seed: i64,
    /// Other costs.
    pub other: i64,
    pub depreciation: i64,
    /// Half width of the 95 % interval of the feed saving.
    pub half: i64,
    /// Milk or eggs gained or lost.
    pub output: Option<OutputMoney>,
}

impl RowMoney {
    /// Saving; negative for a loss.
    #[must_use]
    pub const fn saving(&self) -> i64 {
        self.baseline - self.eaten - self.seed - self.other - self.depreciation
    }
}

/// What one farm brings to the report.
#[derive(Clone, Debug)]
pub struct FarmInput {
    pub farm: Uuid,
    pub farm_code: String,
    pub member: Uuid,
    pub member_number: String,
    /// Member's name.
    pub member_name: String,
    pub area: Uuid,
    /// Month sums; zeros where nothing was recorded.
    pub sums: Sums,
    /// Whether a group of animals was never counted.
    pub has_uncounted_group: bool,
    /// Trays whose fodder was fed without being weighed.
    pub fed_unweighed_trays: i64,
    /// What growing fodder cost in the month, counted or not, minor units.
    pub fodder_minor: i64,
    /// Its classes of animals.
    pub rows: Vec<Row>,
    /// All months with a number.
    pub since_start: Option<Since>,
    /// Change in output after the start.
    pub output_change: Option<OutputChange>,
    /// Whether trays keep spoiling.
    pub spoilage_status: Option<Spoiling>,
}

/// A sum of months with a number, minor units.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Since {
    /// Saving with its interval.
    pub between: Between,
    /// Months of farms and classes of animals with a number.
    pub rows: i64,
    /// All of them after the start that are over.
    pub of_rows: i64,
}

/// What is estimated of an area or the co-operative, besides the sums of rows.
#[derive(Clone, Debug, Default)]
pub struct SumInput {
    pub name: String,
    /// Half width of the 95 % interval of the feed saving, minor units; none without rows.
    pub half: Option<i64>,
    /// Milk or eggs gained or lost.
    pub output: Option<OutputMoney>,
    /// All months with a number.
    pub since_start: Option<Since>,
}

/// What the whole report needs.
#[derive(Clone, Debug)]
pub struct Input {
    pub month: Month,
    /// Whether it is not over.
    pub is_running: bool,
    /// Name of the co-operative.
    pub cooperative: String,
    /// ISO 4217 code.
    pub currency: String,
    /// Digits of the currency.
    pub digits: u8,
    /// Share of dry matter in fresh fodder, hundredths of a per cent.
    pub fodder_dry_matter: i64,
    /// Farms, in the order of the report.
    pub farms: Vec<FarmInput>,
    pub areas: BTreeMap<Uuid, SumInput>,
    pub total: SumInput,
    /// Class of animal, per cent by which stated rations are too high, farms compared.
    pub overstated: Vec<(String, f64, i64)>,
    /// What changed in closed months since they were reported.
    pub adjustments: Vec<Adjustment>,
    /// Sum of the changes that are too small for a line, minor units.
    pub settled_minor: i64,
    /// Months closed by the earlier method: reported and now, minor units.
    pub earlier_method: Vec<(Month, Option<i64>, Option<i64>)>,
    /// How far the data goes: number of the last change counted.
    pub data_version: i64,
}

/// A change of a month that was reported already.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Adjustment {
    /// The closed month.
    pub month: Month,
    pub farm: Uuid,
    pub farm_code: String,
    /// Class of animal.
    pub enterprise: String,
    /// Reported so far, adjustments included, minor units.
    pub reported_minor: Option<i64>,
    /// What the records say now.
    pub now_minor: Option<i64>,
}

impl Adjustment {
    /// The difference that this report brings.
    #[must_use]
    pub fn change_minor(&self) -> i64 {
        self.now_minor.unwrap_or(0) - self.reported_minor.unwrap_or(0)
    }
}

/// Facts that add up over farms: ml, g, trays, head × days.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Facts {
    /// Feed bought, minor units.
    pub bought: i64,
    pub milk_ml: i64,
    /// Cow-days with a milk record.
    pub cow_days: i64,
    pub eggs: i64,
    /// Hen-days with an egg record.
    pub hen_days: i64,
    /// Trays spread.
    pub trays_started: i64,
    pub trays_discarded: i64,
    /// Fresh fodder fed, g, as far as it was weighed.
    pub fed_g: i64,
    /// Trays whose fodder was fed without being weighed.
    pub trays_fed_unweighed: i64,
    /// What growing fodder cost, and the fodder fed, g, of the farms that weighed all of it: only
    /// theirs tell what a kg cost.
    pub weighed: (i64, i64),
}

impl Facts {
    fn of(farm: &FarmInput) -> Self {
        let of = |m: Measure| farm.sums.get(m.index()).copied().unwrap_or(0);
        let fed_g = of(Measure::FedG);
        let is_weighed = farm.fed_unweighed_trays == 0;
        Self {
            bought: of(Measure::FeedCost),
            milk_ml: of(Measure::MilkMl),
            cow_days: of(Measure::CowDays),
            eggs: of(Measure::Eggs),
            hen_days: of(Measure::HenDays),
            trays_started: of(Measure::TraysStarted),
            trays_discarded: of(Measure::TraysDiscarded),
            fed_g,
            trays_fed_unweighed: farm.fed_unweighed_trays,
            weighed: if is_weighed { (farm.fodder_minor, fed_g) } else { (0, 0) },
        }
    }

    fn add(&mut self, o: &Self) {
        let pairs = [
            (&mut self.bought, o.bought),
            (&mut self.milk_ml, o.milk_ml),
            (&mut self.cow_days, o.cow_days),
            (&mut self.eggs, o.eggs),
            (&mut self.hen_days, o.hen_days),
            (&mut self.trays_started, o.trays_started),
            (&mut self.trays_discarded, o.trays_discarded),
            (&mut self.fed_g, o.fed_g),
            (&mut self.trays_fed_unweighed, o.trays_fed_unweighed),
            (&mut self.weighed.0, o.weighed.0),
            (&mut self.weighed.1, o.weighed.1),
        ];
        for (to, from) in pairs {
            *to += from;
        }
    }
}

/// Sums of rows with a number, minor units.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Amounts {
    /// Rows with a number.
    pub rows: i64,
    /// Head × days of these rows.
    pub animal_days: i64,
    /// The sums; `half` and `output` are those of the sum.
    pub money: RowMoney,
    /// Saving and ml of the rows that have both.
    pub milk: (i64, i64),
    /// Saving and eggs of the rows that have both.
    pub eggs: (i64, i64),
}

impl Amounts {
    /// Adds up rows; their half widths in quadrature, since classes of animals are estimated apart.
    fn of<'a>(rows: impl Iterator<Item = &'a Row>) -> Self {
        let mut all = Self::default();
        let mut square = 0.0;
        for row in rows {
            let Some(m) = row.money else { continue };
            all.rows += 1;
            all.animal_days += row.animal_days.unwrap_or(0);
            let sum = &mut all.money;
            sum.baseline += m.baseline;
            sum.eaten += m.eaten;
            sum.seed += m.seed;
            sum.other += m.other;
            sum.depreciation += m.depreciation;
            sum.output = joined(sum.output, m.output);
            square += real(m.half).powi(2);
            let (saving, given) = match row.given {
                Some(Given::Milk(ml)) if ml > 0 => (&mut all.milk, ml),
                Some(Given::Eggs(eggs)) if eggs > 0 => (&mut all.eggs, eggs),
                _ => continue,
            };
            saving.0 += m.saving();
            saving.1 += given;
        }
        all.money.half = whole(square.sqrt());
        all
    }

    /// The saving with its interval.
    fn saving(&self) -> Between {
        let (value, half) = (self.money.saving(), self.money.half);
        Between { value, low: value - half, high: value + half }
    }

    /// Saving with milk or eggs; half widths in quadrature.
    fn net(&self) -> Option<Between> {
        let (saving, output) = (self.saving(), self.money.output?.between);
        Some(added(saving, output))
    }
}

/// The sum of two independent amounts: half widths in quadrature, each side by itself.
#[must_use]
pub fn added(a: Between, b: Between) -> Between {
    let side = |x: i64, y: i64| whole(real(x).hypot(real(y)));
    let value = a.value + b.value;
    Between {
        value,
        low: value - side(a.value - a.low, b.value - b.low),
        high: value + side(a.high - a.value, b.high - b.value),
    }
}

/// The milk and the eggs of a farm together; an effect only where both are.
#[must_use]
pub fn joined(a: Option<OutputMoney>, b: Option<OutputMoney>) -> Option<OutputMoney> {
    match (a, b) {
        (Some(a), Some(b)) => Some(OutputMoney {
            between: added(a.between, b.between),
            is_causal: a.is_causal && b.is_causal,
        }),
        (one, other) => one.or(other),
    }
}

/// A number of minor units, rounded; 0 for what is no number.
#[must_use]
pub fn whole(value: f64) -> i64 {
    #[expect(clippy::as_conversions, reason = "a finite number below 2^53, rounded")]
    let rounded = if value.is_finite() && value.abs() < 9e15 { value.round() as i64 } else { 0 };
    rounded
}

/// A farm's line.
#[derive(Clone, Debug)]
pub struct Line {
    /// The farm as it came.
    pub farm: FarmInput,
    /// The first status of its rows that is no number; else that of the number.
    pub status: Status,
    /// Facts of the month.
    pub facts: Facts,
    /// Sums over its rows.
    pub amounts: Amounts,
    /// Head × days of all rows; none where no head was counted.
    pub animal_days: Option<i64>,
    /// What to keep in mind reading the number.
    pub notes: Vec<Note>,
}

impl Line {
    /// The saving, where all classes of animals have a number.
    #[must_use]
    pub fn saving(&self) -> Option<Between> {
        self.status.has_number().then(|| self.amounts.saving())
    }
}

/// Sums over rows with a number, and how many farms had none.
#[derive(Clone, Debug, Default)]
pub struct Total {
    /// What came in about it.
    pub input: SumInput,
    /// Farms with a number.
    pub included: i64,
    /// Farms that saved, that lost, and of which it cannot be told.
    pub by_verdict: [i64; 3],
    /// Farms without a number by status.
    pub left_out: BTreeMap<Status, i64>,
    /// Facts of all farms.
    pub facts: Facts,
    /// Sums over the rows with a number.
    pub amounts: Amounts,
}

#[derive(Clone, Debug)]
pub struct Report {
    /// What it was made from, without the farms.
    pub head: Input,
    /// Farms.
    pub lines: Vec<Line>,
    /// By area, areas by name.
    pub areas: Vec<Total>,
    /// All farms.
    pub total: Total,
}

/// Makes the report. Cost grows with the number of farms.
#[must_use]
pub fn report(mut input: Input) -> Report {
    let farms = std::mem::take(&mut input.farms);
    let lines: Vec<Line> = farms.into_iter().map(line).collect();
    let mut by_area: HashMap<Uuid, Vec<&Line>> = HashMap::new();
    for line in &lines {
        by_area.entry(line.farm.area).or_default().push(line);
    }
    let sum = |(area, lines): (Uuid, Vec<&Line>)| {
        total(input.areas.get(&area).cloned().unwrap_or_default(), &lines)
    };
    let mut areas: Vec<Total> = by_area.into_iter().map(sum).collect();
    areas.sort_by(|a, b| a.input.name.cmp(&b.input.name));
    let all: Vec<&Line> = lines.iter().collect();
    let total = total(input.total.clone(), &all);
    Report { head: input, lines, areas, total }
}

fn total(input: SumInput, lines: &[&Line]) -> Total {
    let mut amounts = Amounts::of(lines.iter().flat_map(|l| &l.farm.rows));
    amounts.money.half = input.half.unwrap_or(0);
    amounts.money.output = input.output;
    let mut total = Total { input, amounts, ..Total::default() };
    for line in lines {
        total.facts.add(&line.facts);
        let Some(saving) = line.saving() else {
            *total.left_out.entry(line.status).or_default() += 1;
            continue;
        };
        total.included += 1;
        let [saved, lost, unclear] = &mut total.by_verdict;
        match (saving.low > 0, saving.high < 0) {
            (true, _) => *saved += 1,
            (_, true) => *lost += 1,
            _ => *unclear += 1,
        }
    }
    total
}

fn line(farm: FarmInput) -> Line {
    let facts = Facts::of(&farm);
    let of = |m: Measure| farm.sums.get(m.index()).copied().unwrap_or(0);
    let number = |row: &&Row| row.status.has_number();
    let lacking = farm.rows.iter().filter(|r| !number(r)).map(|r| r.status).min();
    let status = lacking.or_else(|| farm.rows.iter().map(|r| r.status).min());
    let has_number = lacking.is_none() && status.is_some();
    let notes = [
        (farm.has_uncounted_group, Note::GroupLeftOut),
        (of(Measure::OtherCosts) == 0, Note::NoOtherCosts),
        (of(Measure::SeedG) == 0, Note::NoSoak),
        (farm.fed_unweighed_trays > 0, Note::FedUnweighed),
        (has_number && farm.rows.iter().any(|r| !r.is_adjusted), Note::SeasonNotRemoved),
        (
            farm.rows
                .iter()
                .any(|r| r.money.and_then(|m| m.output).is_some_and(|output| !output.is_causal)),
            Note::OutputAssociation,
        ),
    ];
    let known: Vec<i64> = farm.rows.iter().filter_map(|r| r.animal_days).collect();
    Line {
        // A farm without animals has nothing to feed.
        status: status.unwrap_or(Status::Missing),
        facts,
        amounts: Amounts::of(farm.rows.iter()),
        animal_days: (!known.is_empty()).then(|| known.iter().sum()),
        notes: notes.into_iter().filter(|(holds, _)| *holds).map(|(_, note)| note).collect(),
        farm,
    }
}
