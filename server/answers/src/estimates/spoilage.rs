//! Who keeps spoiling, which seed lots, and what goes with losses.

use super::{AsOf, FarmOfMember};
use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

choice! {
    /// What is said of a farm's trays.
    SpoilageStatus {
        /// A flag is up.
        Recurring = "recurring",
        /// A flag is up, and no batch has ended for more than four weeks.
        RecurringQuiet = "recurring_quiet",
        /// There would be a flag, but for seed lots that spoil on other farms too.
        RecurringLot = "recurring_lot",
        /// No batch counted, or none for more than ninety days.
        NothingCounted = "nothing_counted",
        /// Too few batches.
        InsufficientData = "insufficient_data",
        /// One bad batch.
        OneBadBatch = "one_bad_batch",
        /// On the way to a flag.
        Watch = "watch",
        /// In order.
        Ok = "ok",
    }
}

impl SpoilageStatus {
    /// Whether a flag is up.
    #[must_use]
    pub const fn is_flagged(self) -> bool {
        matches!(self, Self::Recurring | Self::RecurringQuiet)
    }
}

choice! {
    /// Where the evidence points.
    PointsAt {
        /// At seed lots that spoil on other farms too.
        SeedLot = "seed_lot",
        /// At the farm or at one seed lot that hardly another farm grew.
        FarmOrLot = "farm_or_lot",
        /// At the farm.
        Farm = "farm",
    }
}

choice! {
    /// Why a batch is not counted.
    NotCountedReason {
        /// It is still growing.
        Growing = "growing",
        /// Two weeks after the soak trays are neither harvested nor discarded.
        Unaccounted = "unaccounted",
        /// More trays were lost than begun: one of the records is wrong.
        MoreLostThanBegun = "more_lost_than_begun",
        /// The batch counts, but not what was thrown away after a harvest that was not weighed.
        ThrownUnweighed = "thrown_unweighed",
    }
}

/// Batches of the last 400 days that are not counted, for one reason.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct NotCounted {
    /// Why.
    pub reason: NotCountedReason,
    /// Batches.
    pub batches: u64,
    /// Trays of theirs that are unaccounted for.
    pub trays: i64,
}

/// The spoilage of a farm, or of one of its sheds.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SpoilageFigures {
    /// What is said.
    pub status: SpoilageStatus,
    /// Where a flag points.
    pub points_at: Option<PointsAt>,
    /// Logarithm of the likelihood ratio.
    pub chart_value: f64,
    /// Chart value at which a flag goes up; more or larger batches raise it.
    pub flag_at: Option<f64>,
    /// Batches since the chart began.
    pub batches_used: u64,
    /// Batches of the last 400 days that are counted.
    pub batches_counted: u64,
    /// Batches of the last 400 days that are not, and why.
    pub not_counted: Vec<NotCounted>,
    /// Trays begun in the batches counted.
    pub trays_begun: i64,
    /// Trays lost of them: before spreading, from the shelf, or thrown away after harvest.
    pub trays_lost: i64,
    /// Share of trays lost in the last 90 days, per cent.
    pub recent_percent: Option<f64>,
    /// Day on which the last counted batch ended.
    pub last_ended_on: Option<NaiveDate>,
    /// Batch that raised the flag.
    pub flagged_since_batch_id: Option<Uuid>,
    /// Day on which it ended.
    pub flagged_since: Option<NaiveDate>,
    /// Batches that raised it together.
    pub raised_by_batch_ids: Vec<Uuid>,
    /// Shed whose chart raised the flag, where the farm's own did not.
    pub shed_id: Option<Uuid>,
    /// Its code.
    pub shed: Option<String>,
    /// In words, English.
    pub sentence: String,
}

/// A farm with its spoilage.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct FarmSpoilage {
    /// The farm.
    #[serde(flatten)]
    pub of: FarmOfMember,
    /// The figures.
    #[serde(flatten)]
    pub figures: SpoilageFigures,
}

/// Every farm's spoilage, the strongest evidence first.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Spoilage {
    /// How it is charted.
    pub method: String,
    /// Units of the figures.
    pub units: String,
    /// What mould means.
    pub caution: String,
    /// Which state the figures are of.
    #[serde(flatten)]
    pub as_of: AsOf,
    /// Correlation between the trays of a batch; none before the figures were first made.
    pub tray_correlation: Option<f64>,
    /// Share of trays lost that is accepted, per cent.
    pub accepted_percent: Option<f64>,
    /// Farms.
    pub farms: Vec<FarmSpoilage>,
    /// Farms whose spoilage is recurring, also those that are not listed.
    pub recurring: u64,
}

/// One batch of a farm's chart.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ChartedBatch {
    /// Batch.
    pub batch_id: Uuid,
    /// Day of its soak; none where it was not recorded.
    pub soaked_on: Option<NaiveDate>,
    /// Day of its last harvest or discard.
    pub ended_on: NaiveDate,
    /// Code of its shed.
    pub shed: Option<String>,
    /// Trays begun.
    pub trays_begun: i64,
    /// Trays lost.
    pub trays_lost: i64,
    /// Code of its seed lot.
    pub seed_lot: Option<String>,
    /// How many times as many trays its lot lets expect, by other farms.
    pub lot_multiplier: f64,
    /// Whether it says nothing about the farm, because its lot spoils elsewhere.
    pub is_skipped: bool,
    /// The chart after it.
    pub chart_value: f64,
    /// What raised a flag then.
    pub flag_at: f64,
    /// Whether it is one of those that raised the flag.
    pub raised_the_flag: bool,
}

/// A batch that is not counted.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct BatchNotCounted {
    /// Batch.
    pub batch_id: Uuid,
    /// Day of its soak; none where it was not recorded.
    pub soaked_on: Option<NaiveDate>,
    /// Why it is not.
    pub reason: NotCountedReason,
    /// Trays that are unaccounted for.
    pub trays: i64,
}

/// One shed of a farm that has several.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ShedSpoilage {
    /// The shed.
    pub shed_id: Uuid,
    /// Its code.
    pub shed: Option<String>,
    /// The figures.
    pub figures: SpoilageFigures,
}

/// One farm's chart with the batches behind it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct FarmChart {
    /// The farm and its figures.
    #[serde(flatten)]
    pub farm: FarmSpoilage,
    /// Its counted batches, the first to end first.
    pub path: Vec<ChartedBatch>,
    /// Those that are not counted, or not in full.
    pub not_counted_batches: Vec<BatchNotCounted>,
    /// Its sheds, where there are several with batches.
    pub sheds: Vec<ShedSpoilage>,
    /// How it is charted.
    pub method: String,
    /// What mould means.
    pub caution: String,
    /// Which state the figures shared with other farms are of; the batches are those of now.
    #[serde(flatten)]
    pub as_of: AsOf,
}

choice! {
    /// Whether the evidence points at seed lots.
    LotVerdict {
        /// At lots.
        SeedLot = "seed_lot",
        /// At farms.
        Farm = "farm",
        /// At both.
        Both = "both",
        /// At neither.
        Neither = "neither",
        /// The two can not be told apart.
        NotIdentifiable = "not_identifiable",
    }
}

/// A farm where a lot grows.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct GrowingAt {
    /// Farm.
    pub farm_id: Uuid,
    /// Its code.
    pub farm: String,
}

/// What is held against a lot.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct LotEvidence {
    /// Lot.
    pub seed_lot_id: Option<Uuid>,
    /// Its code.
    pub seed_lot: Option<String>,
    /// Crop.
    pub crop: Option<String>,
    /// Name of the supplier.
    pub supplier: Option<String>,
    /// Whether it is named as suspect.
    pub is_suspect: bool,
    /// Effect on the arcsine root of the share of trays lost; none where lots and farms cannot be
    /// told apart.
    pub effect: Option<f64>,
    /// One-sided probability of such an effect by chance.
    pub p: Option<f64>,
    /// How many times as many trays it lets expect, by all other farms, where it is highest.
    pub multiplier: f64,
    /// Farms that would have a flag, were it not for this lot.
    pub carries_flags_at: Vec<GrowingAt>,
    /// Batches.
    pub batches: u64,
    /// Farms.
    pub farms: u64,
    /// Farms with a batch of it that is not over.
    pub growing_at: Vec<GrowingAt>,
}

/// A lot that lets expect so many times as many losses spoils on other farms too.
pub const LOT_BAD_TIMES: f64 = 2.0;

impl LotEvidence {
    /// Whether the lot spoils on other farms too.
    #[must_use]
    pub fn spoils_elsewhere(&self) -> bool {
        self.multiplier >= LOT_BAD_TIMES
    }
}

/// Whether the evidence of the last 90 days points at seed lots, at farms or at both.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SeedLotEvidence {
    /// How it is compared.
    pub method: String,
    /// Units of the effect.
    pub units: String,
    /// What mould means.
    pub caution: String,
    /// Which state the figures are of.
    #[serde(flatten)]
    pub as_of: AsOf,
    /// The verdict; none before the figures were first made.
    pub verdict: Option<LotVerdict>,
    /// In words, English.
    pub sentence: Option<String>,
    /// Probability of such differences between lots by chance.
    pub p_lots: Option<f64>,
    /// The same between farms.
    pub p_farms: Option<f64>,
    /// Lots.
    pub seed_lots: Vec<LotEvidence>,
}

/// A soak above so many degrees Celsius is hot.
pub const HOT_C: i64 = 26;
/// Air above so many per cent is humid.
pub const HUMID_PERCENT: i64 = 80;
/// More seed on a tray than so many full loads is deep.
pub const DEEP_TIMES: f64 = 1.15;
/// Below so many per cent germination is poor.
pub const GERMINATED_PERCENT: i64 = 85;

choice! {
    /// What is compared between batches.
    ConditionKind {
        /// Soaked on a hot day.
        SoakedHot = "soaked_hot",
        /// Soaked on a humid day.
        Humid = "humid",
        /// Water of one source.
        WaterSource = "water_source",
        /// A crop.
        Crop = "crop",
        /// A checklist question answered no at the last visit before the soak.
        ChecklistNo = "checklist_no",
        /// Harvested a day or more late.
        HarvestedLate = "harvested_late",
        /// More seed on a tray than a full load.
        SeedDeep = "seed_deep",
        /// Soaked in the wet season.
        WetSeason = "wet_season",
        /// Few seeds germinated.
        PoorGermination = "poor_germination",
    }
}

choice! {
    /// What is said of a condition.
    ConditionStatus {
        /// Losses go with it.
        Linked = "linked",
        /// It makes no difference worth naming.
        NoDifference = "no_difference",
        /// Either may be.
        CannotTell = "cannot_tell",
        /// Seen in too few batches.
        TooFew = "too_few",
    }
}

/// How many times as many trays were lost with a condition.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Times {
    /// The ratio.
    pub times: f64,
    /// Lower end of its 95 % interval.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

/// A condition of batches, and how losses go with it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Condition {
    /// Which.
    pub kind: ConditionKind,
    /// Which water source, crop or checklist code.
    pub value: Option<String>,
    /// The checklist's question.
    pub question: Option<String>,
    /// The commonest value, which the others are compared with.
    pub compared_with: Option<String>,
    /// What is said.
    pub status: ConditionStatus,
    /// Batches with it.
    pub batches_with: u64,
    /// Batches without it.
    pub batches_without: u64,
    /// Batches needed on each side.
    pub batches_needed: u64,
    /// Whether no farm has batches of both sides: then farms are compared, not batches of a farm.
    pub is_between_farms: bool,
    /// Losses with it to losses without it; none where it is too few.
    pub ratio: Option<Times>,
    /// Part of all losses that goes with it, per cent.
    pub share_percent: Option<f64>,
    /// In words, English.
    pub sentence: String,
}

/// Which conditions of batches go with losses, over the co-operative's last 24 months.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SpoilageConditions {
    /// How they are compared.
    pub method: String,
    /// What a ratio does not say.
    pub caution: String,
    /// The day it was made; none before the first.
    pub made_on: Option<NaiveDate>,
    /// Batches compared.
    pub batches: u64,
    /// Farms compared.
    pub farms: u64,
    /// Batches left out because their seed lot spoils everywhere.
    pub batches_of_bad_lots: u64,
    /// Whether there were enough trays and losses to compare anything.
    pub is_estimated: bool,
    /// Conditions, those that losses go with first.
    pub conditions: Vec<Condition>,
}

/// A condition that losses go with, on one farm.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct FarmCondition {
    /// The condition over all farms.
    #[serde(flatten)]
    pub of_all: Condition,
    /// The farm's own ratio, where it is told apart from none.
    pub own: Option<Times>,
    /// In words, English.
    pub own_sentence: String,
}

/// What goes with losses, for one farm.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct FarmConditions {
    /// The farm.
    #[serde(flatten)]
    pub of: FarmOfMember,
    /// Whether the farm has one shed.
    pub has_one_shed: bool,
    /// What a ratio does not say.
    pub caution: String,
    /// The day it was made; none before the first.
    pub made_on: Option<NaiveDate>,
    /// Conditions that losses go with.
    pub conditions: Vec<FarmCondition>,
}
