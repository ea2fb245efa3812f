//! Limits of what is read, one constant a line, with unit and reason.

/// Feeds in one request: a co-operative knows some dozens.
pub const FEEDS_MAX: usize = 40;
/// Limits on nutrients in one request: protein, energy, minerals, each from both sides.
pub const NUTRIENT_LIMITS_MAX: usize = 40;
/// Nutrients of a feed besides protein and energy.
pub const OTHER_NUTRIENTS_MAX: usize = 20;
/// Longest name, characters, as for feeds in records.
pub const NAME_CHARS_MAX: usize = 100;
/// Highest price of a kg, currency units: dear minerals in a currency of small units.
pub const PRICE_MAX: f64 = 1e9;
/// Smallest and largest amount of a mix, kg: a handful for one hen, a mill's season.
pub const AMOUNT_KG: (f64, f64) = (0.001, 1e7);
/// Least dry matter of a feed, per cent: whey has about 5.
pub const DRY_MATTER_PERCENT_MIN: f64 = 0.5;
/// Most energy, MJ per kg of dry matter: pure fat has less than 40.
pub const ENERGY_MAX: f64 = 40.0;
/// Largest content of another nutrient, in its own unit per kg of dry matter.
pub const CONTENT_MAX: f64 = 1e6;
/// Largest limit on a nutrient for the whole mix, in its unit.
pub const TOTAL_MAX: f64 = 1e12;
/// Largest bag, kg.
pub const BAG_KG_MAX: f64 = 10_000.0;
/// Largest cost of a month's fodder, currency units.
pub const COST_MAX: f64 = 1e12;
/// Changes or choices in one partial budget: more are not weighed against each other by hand.
pub const CHOICES_MAX: usize = 40;
/// Highest minimum rate of return, per cent: ten times the money, as moneylenders at the gate take.
pub const RATE_PERCENT_MAX: f64 = 1_000.0;
