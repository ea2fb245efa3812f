//! Statuses, what a number waits for, and notes.

use crate::sheet::Cell;
use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

choice! {
    /// Whether there is a number, and why not: the first that applies.
    #[schema(as = SavingsStatus)]
    Status {
        /// Fodder has not been started.
        NotStarted = "not_started",
        /// The month is not over.
        Running = "running",
        /// Fodder was started in this month, which is neither before nor after.
        StartMonth = "start_month",
        /// Neither feed bought before the start nor a ration is known.
        NoBaseline = "no_baseline",
        /// A purchase looks wrong; somebody must look.
        Held = "held",
        /// The feed in use is not finished: the next purchase will tell.
        Waiting = "waiting",
        /// Something is not written down.
        Missing = "missing",
        /// Most of the feed was bought before the start.
        StartLot = "start_lot",
        /// There is a number; the baseline is the ration alone, as it was stated.
        RationOnly = "ration_only",
        /// There is a number.
        Estimated = "estimated",
    }
}

impl Status {
    /// Whether there is a number.
    #[must_use]
    pub const fn has_number(self) -> bool {
        matches!(self, Self::Estimated | Self::RationOnly)
    }
}

choice! {
    /// What a number waits for.
    #[schema(as = SavingsWaitsFor)]
    What {
        /// A head count of the animals.
        HeadCount = "head_count",
        /// A ration before fodder, or what was bought before the start.
        Baseline = "baseline",
        /// Somebody to look at the price of a purchase.
        HeldPrice = "held_price",
        /// Somebody to look at the kg of a purchase.
        HeldKg = "held_kg",
        /// The next purchase of a feed.
        NextPurchase = "next_purchase",
        /// A purchase that is not written down, or that nothing was bought.
        Purchase = "purchase",
        /// The animals that a purchase was for.
        Animals = "animals",
        /// The price of the seed that was soaked.
        SeedPrice = "seed_price",
    }
}

/// One thing that a number waits for.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[schema(as = SavingsWait)]
pub struct Wait {
    /// What.
    pub what: What,
    /// Class of animal; null where it concerns the farm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub enterprise: Option<String>,
    /// Name of the feed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub feed: Option<String>,
    /// The feed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub feed_id: Option<Uuid>,
    /// The purchase.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub purchase_id: Option<Uuid>,
    /// First day that is not covered, or the day of the purchase.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub from: Option<NaiveDate>,
    /// Last day that is not covered.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub until: Option<NaiveDate>,
    /// Day of the last purchase before; none is written down from then on until the last day.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub last_purchase_on: Option<NaiveDate>,
}

impl Wait {
    /// Of the farm as a whole.
    #[must_use]
    pub const fn of(what: What) -> Self {
        Self {
            what,
            enterprise: None,
            feed: None,
            feed_id: None,
            purchase_id: None,
            from: None,
            until: None,
            last_purchase_on: None,
        }
    }
}

impl Cell for Wait {
    fn cell(&self) -> String {
        let days = match (self.from, self.until) {
            (Some(from), Some(until)) => format!(" {from} to {until}"),
            (Some(on), None) => format!(" {on}"),
            _ => String::new(),
        };
        let feed = self.feed.as_deref().map(|feed| format!(" of {feed}")).unwrap_or_default();
        format!("{}{feed}{days}", self.what.text())
    }
}

choice! {
    /// Whether trays keep spoiling.
    #[schema(as = SavingsSpoiling)]
    Spoiling {
        /// Too few batches.
        InsufficientData = "insufficient_data",
        /// They do not.
        Ok = "ok",
        /// More than usual.
        Watch = "watch",
        /// One batch was bad, and no other.
        OneBadBatch = "one_bad_batch",
        /// They do.
        Recurring = "recurring",
        /// They do, and the evidence points at a seed lot.
        RecurringSeedLot = "recurring (seed lot)",
        /// They did, and nothing was harvested or discarded for four weeks.
        RecurringQuiet = "recurring (quiet)",
        /// No batch is counted.
        NothingCounted = "nothing_counted",
    }
}

choice! {
    /// What to keep in mind reading a farm's line.
    #[schema(as = SavingsNote)]
    Note {
        /// A group of animals nobody counted.
        GroupLeftOut = "a group without a head count is left out",
        /// No other cost is recorded; documents leave the cell empty.
        NoOtherCosts = "no other costs are recorded",
        /// No soak is recorded; documents leave the cells empty.
        NoSoak = "no soak is recorded",
        /// Fodder was fed by the tray; documents say it beside the figures.
        FedUnweighed = "fodder was fed without being weighed: its kg are not counted, and what a kg cost is not known",
        /// Seasons could not be taken out.
        SeasonNotRemoved = "the season is not taken out: too few farms without fodder; the interval allows for it",
        /// The milk or egg estimate is an association.
        OutputAssociation = "milk or eggs in money are an association, not an effect that was shown",
    }
}
