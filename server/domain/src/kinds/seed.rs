//! Seed: lots, purchases, issues to farms and corrections of stock.

use super::setup::CROPS;
use crate::field::{
    FieldError, choice, code, decimal, flag, kg, money, past_date, percent, reference, text,
};
use crate::kind::{Kind, Scope};
use crate::limits::GRAMS_MAX;
use crate::planning::guide::GuideName;
use crate::record::{RuleCtx, record};
use chrono::NaiveDate;
use uuid::Uuid;

/// How a farm pays for seed it was given.
pub const PAYMENTS: &[&str] = &["credit", "paid"];
/// Why seed stock is put right.
pub const ADJUSTMENTS: &[&str] = &["stock_count", "returned", "spoiled", "lost", "moved", "other"];

/// How a member pays off seed: in cash, by telephone, or kept back from milk or egg money.
pub const PAID_BY: &[&str] = &["cash", "mobile_money", "bank", "milk_check_off", "egg_check_off"];
/// Of these, what is kept back from milk or egg money.
pub const CHECK_OFFS: &[&str] = &["milk_check_off", "egg_check_off"];

/// What is said wherever a seed lot is held.
pub const HOLD_CAUTION: &str = "this seed lot is held: soak and feed nothing of it until it is \
    released; keep it apart and ask an officer";
/// What is said whenever seed may be treated.
pub const TREATED_SEED_CAUTION: &str = "only untreated feed grain may be sprouted: dressed \
    (treated) seed is poisonous to animals and people; do not feed it, keep it apart and ask the \
    supplier or the agricultural office what to do with it";
/// What is said whenever sorghum is sprouted.
pub const SORGHUM_CAUTION: &str = "sorghum shoots of this age carry prussic acid, which can kill \
    ruminants; a manager must allow it in the growing guide (sorghum_allowed) after asking the \
    local livestock service";

record! {
    /// Seed of one crop from one delivery, kept apart so that it can be traced.
    SeedLot {
        one: "seed_lot", path: "seed-lots", scope: Scope::Cooperative, code: "code";
        /// Lot number.
        code: String = code();
        /// Crop.
        crop: String = choice(CROPS).fixed();
        /// Who sold it.
        supplier_id: Option<Uuid> = reference(Kind::Supplier);
        /// Remarks.
        note: Option<String> = text(1_000);
    }
    rules(self, ctx, errors) {
        check_sorghum(&self.crop, ctx, errors);
    }
}

record! {
    /// Seed bought into the co-operative's store.
    SeedPurchase {
        one: "seed_purchase", path: "seed-purchases", scope: Scope::Cooperative, date: "date";
        /// The lot it became.
        seed_lot_id: Uuid = reference(Kind::SeedLot);
        /// Day of delivery.
        date: NaiveDate = past_date();
        /// Seed, kg.
        kg: i64 = kg();
        /// Price of all of it.
        price: i64 = money();
        /// Transport to the store.
        transport: Option<i64> = money();
        /// Declared as feed or food grade.
        feed_grade: bool = flag();
        /// Declared as untreated (not dressed).
        untreated: bool = flag();
        /// Seeds that germinated in the test, per cent.
        germination_percent: Option<i64> = percent();
        /// Remarks.
        note: Option<String> = text(1_000);
    }
    rules(self, _ctx, errors) {
        for (field, good) in [("feed_grade", self.feed_grade), ("untreated", self.untreated)] {
            if !good {
                errors.push(FieldError::new(field, "treated_seed", TREATED_SEED_CAUTION));
            }
        }
        if self.kg == 0 {
            errors.push(FieldError::new("kg", "range", "give more than 0 kg"));
        }
    }
}

record! {
    /// Seed handed out from the store to a farm.
    SeedIssue {
        one: "seed_issue", path: "seed-issues", scope: Scope::Farm, date: "date";
        /// The lot.
        seed_lot_id: Uuid = reference(Kind::SeedLot);
        /// The farm.
        farm_id: Uuid = reference(Kind::Farm).fixed();
        /// Day.
        date: NaiveDate = past_date();
        /// Seed, kg.
        kg: i64 = kg();
        /// What the member owes or paid for all of it.
        price: Option<i64> = money();
        /// On credit or paid.
        payment: String = choice(PAYMENTS);
        /// Remarks.
        note: Option<String> = text(500);
    }
    rules(self, _ctx, errors) {
        if self.kg == 0 {
            errors.push(FieldError::new("kg", "range", "give more than 0 kg"));
        }
    }
}

record! {
    /// What is kept back from a member's milk or egg money, besides seed: transport, a share, a
    /// loan.
    Deduction {
        one: "deduction", path: "deductions", scope: Scope::Farm, date: "date";
        /// The farm.
        farm_id: Uuid = reference(Kind::Farm).fixed();
        /// Day; it belongs to the payment run that this day lies in.
        date: NaiveDate = past_date();
        /// Amount.
        amount: i64 = money();
        /// What it is for.
        reason: String = text(200);
        /// Remarks.
        note: Option<String> = text(500);
    }
    rules(self, _ctx, errors) {
        if self.amount == 0 {
            errors.push(FieldError::new("amount", "range", "give more than 0"));
        }
    }
}

record! {
    /// What a farm paid off for seed it had on credit.
    SeedPayment {
        one: "seed_payment", path: "seed-payments", scope: Scope::Farm, date: "date";
        /// The farm.
        farm_id: Uuid = reference(Kind::Farm).fixed();
        /// Day.
        date: NaiveDate = past_date();
        /// Amount.
        amount: i64 = money();
        /// How: in cash and the like, or kept back from milk or egg money (check-off).
        paid_by: String = choice(PAID_BY);
        /// Remarks.
        note: Option<String> = text(500);
    }
    rules(self, _ctx, errors) {
        if self.amount == 0 {
            errors.push(FieldError::new("amount", "range", "give more than 0"));
        }
    }
}

record! {
    /// A hold on a seed lot: nothing of it is issued, and every farm that has it is warned, until
    /// it is released.
    LotHold {
        one: "lot_hold", path: "lot-holds", scope: Scope::Cooperative, date: "held_from";
        /// The lot.
        seed_lot_id: Uuid = reference(Kind::SeedLot).fixed();
        /// First day of the hold.
        held_from: NaiveDate = past_date();
        /// Why.
        reason: String = text(500);
        /// Day of release; none while it is held.
        released_on: Option<NaiveDate> = past_date();
        /// What was found.
        finding: Option<String> = text(2_000);
    }
    rules(self, _ctx, errors) {
        if self.released_on.is_some_and(|day| day < self.held_from) {
            errors.push(FieldError::new("released_on", "order", "give a day from held_from on"));
        }
        if self.released_on.is_some() && self.finding.is_none() {
            let detail = "say what was found before the lot is released";
            errors.push(FieldError::new("finding", "required", detail));
        }
    }
}

impl LotHold {
    /// Whether the lot is held on a day.
    #[must_use]
    pub fn holds_on(&self, day: NaiveDate) -> bool {
        self.held_from <= day && self.released_on.is_none_or(|released| day < released)
    }
}

record! {
    /// A correction of seed stock in the store or on a farm, after counting or a loss.
    SeedAdjustment {
        one: "seed_adjustment", path: "seed-adjustments", scope: Scope::Cooperative, date: "date";
        /// The lot.
        seed_lot_id: Uuid = reference(Kind::SeedLot);
        /// The farm; the co-operative's store where none is given.
        farm_id: Option<Uuid> = reference(Kind::Farm);
        /// Day.
        date: NaiveDate = past_date();
        /// Seed added (or with a minus taken away), kg.
        change_kg: i64 = decimal(3, -GRAMS_MAX, GRAMS_MAX);
        /// Why.
        reason: String = choice(ADJUSTMENTS);
        /// Remarks.
        note: Option<String> = text(500);
    }
    rules(self, _ctx, errors) {
        if self.change_kg == 0 {
            errors.push(FieldError::new("change_kg", "range", "give a change other than 0 kg"));
        }
    }
}

/// Refuses sorghum unless the growing guide allows it today.
pub(super) fn check_sorghum(crop: &str, ctx: &RuleCtx<'_>, errors: &mut Vec<FieldError>) {
    let set = ctx.guide.map(|g| g.value(GuideName::SorghumAllowed, None, ctx.read.today));
    // Whoever has not read the guide does not know it to be allowed.
    let allowed = set.is_some_and(|set| set > 0);
    if crop == "sorghum" && !allowed {
        errors.push(FieldError::new("crop", "sorghum", SORGHUM_CAUTION));
    }
}
