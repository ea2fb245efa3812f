//! What an officer works with: whom to visit next, the farm at a glance, the visit, a new farm.

pub(super) mod batch;
pub(super) mod batch_events;
pub(super) mod farm;
pub(super) mod log;
pub(super) mod phone;
pub(super) mod register;
pub(super) mod round;
pub(super) mod trainings;
