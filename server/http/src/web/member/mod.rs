//! What a member sees of the own farm: batches, result, seed account, wishes for corrections.

pub(super) mod account;
pub(super) mod ask;
pub(super) mod batches;
pub(super) mod how;
pub(super) mod result;
