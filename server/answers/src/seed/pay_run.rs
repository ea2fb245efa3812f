//! A payment run for milk or eggs: what each member sold, what is kept back, what is paid out.

use crate::sheet::{Column, Sheet};
use crate::{Decimal, columns};
use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

/// A payment run over some days, farms by code. Money in currency units.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct PaymentRun {
    pub from: NaiveDate,
    pub to: NaiveDate,
    pub currency: String,
    /// Sold with a price.
    pub sold: Decimal,
    /// Would be kept back for seed now.
    pub keep_back: Decimal,
    /// Paid out after all that is kept back.
    pub net: Decimal,
    /// Members that owe for seed and sold nothing with a price: nothing can be kept back.
    pub owing_without_sales: usize,
    pub items: Vec<PaymentLine>,
}

/// One member of a payment run.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct PaymentLine {
    pub farm_id: Uuid,
    pub farm: String,
    pub member_number: String,
    pub member_name: String,
    /// Milk sold, litres.
    pub milk_litres: Decimal,
    pub milk_value: Decimal,
    pub eggs: i64,
    pub eggs_value: Decimal,
    /// Milk and eggs together.
    pub sold: Decimal,
    /// Records with something sold and no price: they are not in the value.
    pub sold_without_price: usize,
    /// Owed for seed today.
    pub seed_due: Decimal,
    /// Deductions of these days other than seed.
    pub other: Decimal,
    /// Kept back for seed on these days already.
    pub kept_back: Decimal,
    /// To keep back now: what is due, but no more than what is left.
    pub keep_back: Decimal,
    /// Paid out: sold, less other, less what is and was kept back. Negative where deductions are
    /// more than what was sold.
    pub net: Decimal,
}

impl Sheet for PaymentRun {
    type Row = PaymentLine;

    fn rows(&self) -> &[PaymentLine] {
        &self.items
    }

    fn columns() -> Vec<Column<PaymentLine>> {
        columns!(PaymentLine: member_number, member_name, farm, milk_litres, milk_value, eggs,
            eggs_value, sold, sold_without_price, seed_due, other, kept_back, keep_back, net)
    }
}
