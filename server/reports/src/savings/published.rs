//! A savings report as it was published: its JSON read back.
//!
//! Closed months are kept as JSON to the byte, so whatever is made of a report later (workbook,
//! PDF) is made of that JSON. One path serves open and closed months, and a document can not say
//! anything that the report did not.

use serde_json::Value as Json;
use std::collections::BTreeMap;
use traybook_domain::Month;
use traybook_domain::money::currency_digits;

/// A published report.
#[derive(Clone, Debug)]
pub struct Published {
    /// Name of the co-operative.
    pub cooperative: String,
    /// Month.
    pub month: Month,
    /// ISO 4217 code.
    pub currency: String,
    /// Digits of the currency.
    pub digits: u8,
    /// Whether the month is closed.
    pub is_closed: bool,
    /// How the numbers came about.
    pub method: String,
    /// Units.
    pub units: String,
    /// What to beware of.
    pub caution: String,
    /// Share of dry matter in fresh fodder, per cent.
    pub dry_matter_percent: Option<f64>,
    /// Farms, in the order of the report.
    pub farms: Vec<FarmLine>,
    /// The co-operative's figures; none where the reader sees single farms only.
    pub total: Option<Figures>,
    /// By area.
    pub areas: Vec<(String, Figures)>,
    /// Changes of closed months since they were reported.
    pub adjustments: Vec<Adjusted>,
}

/// A farm's line.
#[derive(Clone, Debug)]
pub struct FarmLine {
    /// Farm's id.
    pub farm_id: String,
    /// Farm's code.
    pub farm: String,
    /// Membership number.
    pub member_number: String,
    /// Member's name.
    pub member_name: String,
    /// Area; none where it has none.
    pub area: Option<String>,
    /// Whether there is a number: `estimated`, `not_started`, `start_month`, `missing`.
    pub status: String,
    /// What is missing.
    pub missing: Vec<String>,
    /// What to keep in mind.
    pub notes: Vec<String>,
    /// Animals.
    pub animals: Option<f64>,
    /// Figures.
    pub figures: Figures,
    /// Change in output.
    pub output: Option<Output>,
    /// Whether trays keep spoiling.
    pub spoilage_status: Option<String>,
}

impl FarmLine {
    /// Whether trays keep spoiling, whatever the evidence points at.
    #[must_use]
    pub fn keeps_spoiling(&self) -> bool {
        self.spoilage_status.as_deref().is_some_and(|s| s.starts_with("recurring"))
    }

    /// Whether they do, and the evidence points at a seed lot.
    #[must_use]
    pub fn seed_is_suspect(&self) -> bool {
        self.spoilage_status.as_deref() == Some("recurring (seed lot)")
    }

    /// Whether the farm has a number.
    #[must_use]
    pub fn is_estimated(&self) -> bool {
        self.status == super::Status::Estimated.text()
    }
}

/// Change in output.
#[derive(Clone, Debug)]
pub struct Output {
    /// Milk or eggs, by the name on the wire.
    pub enterprise: String,
    /// Per cent with its interval; none where it can not be told.
    pub percent: Option<(f64, f64, f64)>,
    /// What it means.
    pub sentence: String,
}

/// Figures of a farm, an area or the co-operative. What was not recorded is none, even where the
/// report adds it up as nothing.
#[derive(Clone, Debug, Default)]
pub struct Figures {
    /// Numbers by their names in the report.
    numbers: BTreeMap<String, f64>,
    /// Interval of the saving.
    pub interval: Option<(f64, f64)>,
}

impl Figures {
    /// A figure by its name in the report.
    #[must_use]
    pub fn get(&self, name: &str) -> Option<f64> {
        self.numbers.get(name).copied()
    }

    /// What growing fodder cost: seed, other costs, depreciation. None where one was not recorded
    /// and nothing else is known.
    #[must_use]
    pub fn fodder_cost(&self) -> Option<f64> {
        let parts = ["seed_cost", "other_cost", "depreciation"].map(|n| self.get(n));
        parts.iter().flatten().copied().reduce(|a, b| a + b)
    }

    fn read(row: &Json) -> Self {
        let members = row.as_object().into_iter().flatten();
        let numbers = members.filter_map(|(name, value)| Some((name.clone(), value.as_f64()?)));
        let numbers = numbers.collect();
        let interval = row.get("saving_interval").and_then(|i| {
            Some((i.get("low").and_then(Json::as_f64)?, i.get("high").and_then(Json::as_f64)?))
        });
        let mut figures = Self { numbers, interval };
        // Milk and eggs are 0 where nobody milks or collects, and where nobody wrote it down.
        for (sum, rate) in [("milk_litres", "litres_per_cow_day"), ("eggs", "hen_day_percent")] {
            if figures.get(rate).is_none() {
                figures.numbers.remove(sum);
            }
        }
        figures
    }

    /// Sums over farms; where no farm was counted there is nothing to sum.
    #[must_use]
    pub fn sums(row: &Json) -> Self {
        let mut figures = Self::read(row);
        if figures.get("farms_included").is_none_or(|n| n <= 0.0) {
            figures.numbers.retain(|name, _| name.starts_with("farms_"));
        }
        figures
    }

    /// Takes out the zeros that stand for what nobody recorded.
    fn forget(&mut self, said: &dyn Fn(&str) -> bool) {
        let unrecorded: &[(&str, &[&str])] = &[
            (super::NO_FEED, &["feed_cost"]),
            (super::NO_SEED_PRICE, &["seed_cost"]),
            (super::NO_SOAK, &["seed_cost"]),
            (super::NO_OTHER, &["other_cost"]),
            (super::NO_HEAD, &["animal_days"]),
        ];
        for (text, names) in unrecorded {
            if said(text) {
                self.numbers.retain(|name, _| !names.contains(&name.as_str()));
            }
        }
        // Trays and fodder of 0 say nothing where no batch was begun, nor does fodder of 0 where it
        // was fed without being weighed.
        let (trays, fed) =
            (["trays_started", "trays_discarded"], ["fresh_fodder_fed_kg", "dry_matter_fed_kg"]);
        let trays = trays.iter().filter(|_| said(super::NO_SOAK));
        let fed = fed.iter().filter(|_| said(super::NO_SOAK) || said(super::UNWEIGHED));
        for name in trays.chain(fed) {
            if self.get(name).is_some_and(|v| v == 0.0) {
                self.numbers.remove(*name);
            }
        }
    }
}

/// A change of a closed month.
#[derive(Clone, Debug)]
pub struct Adjusted {
    /// The month.
    pub month: String,
    /// Farm's code.
    pub farm: String,
    /// Reported so far.
    pub reported: Option<f64>,
    /// What the records say now.
    pub now: Option<f64>,
    /// The difference.
    pub change: Option<f64>,
}

fn text(row: &Json, name: &str) -> String {
    row.get(name).and_then(Json::as_str).unwrap_or_default().to_owned()
}

fn texts(row: &Json, name: &str) -> Vec<String> {
    let list = row.get(name).and_then(Json::as_array).into_iter().flatten();
    list.filter_map(Json::as_str).map(str::to_owned).collect()
}

fn list<'a>(report: &'a Json, name: &str) -> impl Iterator<Item = &'a Json> {
    report.get(name).and_then(Json::as_array).into_iter().flatten()
}

impl Published {
    /// Reads a report.
    ///
    /// # Errors
    /// A text that says what is wrong with it; our own reports are never.
    pub fn read(json: &str) -> Result<Self, String> {
        let report: Json = serde_json::from_str(json).map_err(|e| e.to_string())?;
        let month = text(&report, "month");
        let month = Month::parse(&month).ok_or_else(|| format!("{month:?} is no month"))?;
        let currency = text(&report, "currency");
        let digits = currency_digits(&currency);
        Ok(Self {
            cooperative: text(&report, "cooperative"),
            month,
            digits: digits.ok_or_else(|| format!("{currency:?} is no currency"))?,
            currency,
            is_closed: report.get("is_closed").and_then(Json::as_bool).unwrap_or(false),
            method: text(&report, "method"),
            units: text(&report, "units"),
            caution: text(&report, "caution"),
            dry_matter_percent: report.get("fodder_dry_matter_percent").and_then(Json::as_f64),
            farms: list(&report, "farms").map(FarmLine::read).collect(),
            total: report.get("total").filter(|t| t.is_object()).map(Figures::sums),
            areas: list(&report, "areas").map(|a| (text(a, "name"), Figures::sums(a))).collect(),
            adjustments: list(&report, "adjustments").map(adjusted).collect(),
        })
    }

    /// The farms by area, areas in the order of their names, those without one last.
    #[must_use]
    pub fn by_area(&self) -> Vec<(Option<&str>, Vec<&FarmLine>)> {
        let mut areas: BTreeMap<(bool, &str), Vec<&FarmLine>> = BTreeMap::new();
        for farm in &self.farms {
            let area = farm.area.as_deref();
            areas.entry((area.is_none(), area.unwrap_or_default())).or_default().push(farm);
        }
        areas.into_iter().map(|((none, name), farms)| ((!none).then_some(name), farms)).collect()
    }
}

impl FarmLine {
    /// Reads a line.
    #[must_use]
    pub fn read(row: &Json) -> Self {
        let (missing, notes) = (texts(row, "missing"), texts(row, "notes"));
        let mut figures = Figures::read(row);
        figures.forget(&|said| missing.iter().chain(&notes).any(|t| t == said));
        let output = row.get("output_change").filter(|o| o.is_object()).map(|o| {
            let number = |name: &str| o.get(name).and_then(Json::as_f64);
            let percent = number("percent").zip(number("low")).zip(number("high"));
            Output {
                enterprise: text(o, "enterprise"),
                percent: percent.map(|((p, low), high)| (p, low, high)),
                sentence: text(o, "sentence"),
            }
        });
        let spoilage = row.get("spoilage_status").and_then(Json::as_str);
        Self {
            farm_id: text(row, "farm_id"),
            farm: text(row, "farm"),
            member_number: text(row, "member_number"),
            member_name: text(row, "member_name"),
            area: row.get("area").and_then(Json::as_str).map(str::to_owned),
            status: text(row, "status"),
            missing,
            notes,
            animals: row.get("animals").and_then(Json::as_f64),
            figures,
            output,
            spoilage_status: spoilage.map(str::to_owned),
        }
    }
}

fn adjusted(row: &Json) -> Adjusted {
    let number = |name: &str| row.get(name).and_then(Json::as_f64);
    Adjusted {
        month: text(row, "month"),
        farm: text(row, "farm"),
        reported: number("reported"),
        now: number("now"),
        change: number("change"),
    }
}
