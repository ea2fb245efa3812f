//! The seed chain: stock, movements, accounts, traces, suppliers. Money in currency units.

pub mod pay_run;
pub mod seed_trace;

use crate::sheet::{Column, Sheet};
use crate::wire::Time;
use crate::{Decimal, columns};
use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use traybook_domain::savings::money::mul_div;
use utoipa::ToSchema;
use uuid::Uuid;

/// Seed by place and lot, from all movements.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SeedStock {
    pub items: Vec<StockLine>,
}

/// Seed of one lot in one place.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct StockLine {
    /// Null for the store.
    pub farm_id: Option<Uuid>,
    pub farm: Option<String>,
    pub seed_lot_id: Uuid,
    pub seed_lot: Option<String>,
    pub crop: Option<String>,
    pub stock_kg: Decimal,
    /// Records are missing or wrong.
    pub is_negative: bool,
}

/// A lot that can be handed out.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct LotOffer {
    pub seed_lot_id: Uuid,
    pub seed_lot: String,
    pub crop: String,
    /// In the store by the records.
    pub stock_kg: Decimal,
    /// Of the last issue of the lot, else of its purchase with transport; currency units.
    pub price_per_kg: Option<Decimal>,
}

impl LotOffer {
    /// The price of so many grams.
    #[must_use]
    pub fn price_of(&self, grams: i64) -> Option<Decimal> {
        let per_kg = self.price_per_kg?;
        Some(Decimal::new(mul_div(per_kg.units, grams, 1_000)?, per_kg.digits))
    }
}

/// Movements of seed, oldest first.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SeedMovements {
    pub items: Vec<MovementLine>,
}

choice! {
    /// What moved seed.
    Movement {
        Purchase = "purchase",
        Issue = "issue",
        Soak = "soak",
        Adjustment = "adjustment",
    }
}

/// One movement.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct MovementLine {
    pub date: NaiveDate,
    pub movement: Movement,
    /// The record it comes from.
    pub source_id: Uuid,
    /// Null for the store.
    pub farm_id: Option<Uuid>,
    pub farm: Option<String>,
    pub seed_lot_id: Uuid,
    pub seed_lot: Option<String>,
    /// In, or with a minus out.
    pub kg: Decimal,
}

/// What every farm owes for seed; a positive balance is owed by the member.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SeedAccounts {
    pub day: NaiveDate,
    pub currency: String,
    /// What members owe less what was paid ahead.
    pub balance: Decimal,
    /// What members owe.
    pub owed: Decimal,
    pub owed_over_30_days: Decimal,
    pub owed_over_90_days: Decimal,
    /// The most that a member may owe before there is a warning; null where none is set.
    #[schema(required)]
    pub credit_limit: Option<Decimal>,
    pub items: Vec<FarmBalance>,
}

/// What one farm owes.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct FarmBalance {
    pub farm_id: Uuid,
    pub farm: String,
    pub member_number: String,
    pub member_name: String,
    /// Issues on credit.
    pub charged: Decimal,
    pub paid_off: Decimal,
    pub balance: Decimal,
    /// What is owed for seed of more than 30 days ago. A payment goes to the oldest first.
    pub owed_over_30_days: Decimal,
    /// The same of more than 90 days ago.
    pub owed_over_90_days: Decimal,
    /// What is owed above the credit limit; null where none is set.
    #[schema(required)]
    pub over_limit: Option<Decimal>,
    pub paid_at_once: Decimal,
    pub issued_kg: Decimal,
    /// They are not counted.
    pub issues_without_price: i64,
    pub last_on: Option<NaiveDate>,
}

impl Sheet for SeedAccounts {
    type Row = FarmBalance;

    fn rows(&self) -> &[FarmBalance] {
        &self.items
    }

    fn columns() -> Vec<Column<FarmBalance>> {
        columns!(FarmBalance: farm, member_number, member_name, charged, paid_off, balance,
            paid_at_once, issued_kg, issues_without_price, last_on, owed_over_30_days,
            owed_over_90_days, over_limit)
    }
}

/// A farm's statement, oldest line first.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SeedAccount {
    pub farm_id: Uuid,
    pub farm: String,
    pub member_number: String,
    pub member_name: String,
    pub from: NaiveDate,
    pub to: NaiveDate,
    pub currency: String,
    pub opening_balance: Decimal,
    pub lines: Vec<AccountLine>,
    pub closing_balance: Decimal,
    /// What is owed above the credit limit; null where none is set.
    #[schema(required)]
    pub over_limit: Option<Decimal>,
    /// They are not counted.
    pub issues_without_price: usize,
    pub sentence: String,
}

choice! {
    /// What a line of a statement is.
    AccountEntry {
        IssueOnCredit = "issue_on_credit",
        IssuePaidAtOnce = "issue_paid_at_once",
        Payment = "payment",
    }
}

/// One line of a statement.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct AccountLine {
    pub date: NaiveDate,
    pub entry: AccountEntry,
    pub record_id: Uuid,
    pub seed_lot_id: Option<Uuid>,
    pub seed_lot: Option<String>,
    pub kg: Option<Decimal>,
    /// Of an issue.
    pub price: Option<Decimal>,
    /// Of a payment.
    pub amount: Option<Decimal>,
    pub paid_by: Option<String>,
    /// What it adds to the balance.
    pub change: Decimal,
    /// After it.
    pub balance: Decimal,
    /// False for an issue whose price nobody entered: it is not counted.
    pub is_priced: bool,
    pub note: Option<String>,
}

impl Sheet for SeedAccount {
    type Row = AccountLine;

    fn rows(&self) -> &[AccountLine] {
        &self.lines
    }

    fn columns() -> Vec<Column<AccountLine>> {
        columns!(AccountLine: date, entry, seed_lot, kg, price, paid_by, amount, change, balance,
            is_priced, note, record_id)
    }
}

/// Suppliers, by name, each followed by its lots; spoilage in per cent of trays.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SupplierComparison {
    pub from: NaiveDate,
    pub to: NaiveDate,
    pub currency: String,
    /// Revision that it is of; none where it was made when it was asked for.
    pub revision: Option<i64>,
    /// When it was made, in the same way.
    pub made_at: Option<Time>,
    pub method: String,
    /// Between trays of one batch, 0 to 1.
    pub tray_correlation: f64,
    pub sentence: String,
    pub items: Vec<SupplierLine>,
}

/// A supplier, or one of its lots.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SupplierLine {
    /// Null for all lots of the supplier.
    pub seed_lot_id: Option<Uuid>,
    pub seed_lot: Option<String>,
    pub crop: Option<String>,
    pub kg: Decimal,
    /// With transport to the store.
    pub price_per_kg: Option<Decimal>,
    /// Delivered with a germination test.
    pub tested_kg: Decimal,
    pub germination_percent: Option<Decimal>,
    /// Of seed that germinates.
    pub price_per_kg_viable: Option<Decimal>,
    pub batches: usize,
    pub farms: usize,
    pub trays_spread: i64,
    pub trays_discarded: i64,
    pub spoilage_percent: Option<f64>,
    /// Lower end of the 95 % interval.
    pub spoilage_low: Option<f64>,
    /// Upper end.
    pub spoilage_high: Option<f64>,
    pub sentence: String,
    pub supplier_id: Option<Uuid>,
    pub supplier: String,
}

impl Sheet for SupplierComparison {
    type Row = SupplierLine;

    fn rows(&self) -> &[SupplierLine] {
        &self.items
    }

    fn columns() -> Vec<Column<SupplierLine>> {
        columns!(SupplierLine: supplier, seed_lot, crop, kg, price_per_kg, germination_percent,
            tested_kg, price_per_kg_viable, batches, farms, trays_spread, trays_discarded,
            spoilage_percent, spoilage_low, spoilage_high, sentence)
    }
}
