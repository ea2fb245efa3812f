//! Limits and defaults of the estimates, each with the reason for its number.

/// Longest panel in months: fifty years; the month system is dense and grows with its square.
pub const MONTHS_MAX: usize = 600;

/// Most covariates a panel may carry: the stage curve needs three, and Longley-sized checks six.
pub const COVARIATES_MAX: usize = 16;

/// Largest believable natural logarithm of an output: the range of a double is `e^-745..e^710`.
pub const LOG_OUTPUT_MAX: f64 = 745.0;

/// Largest believable quantity, price, cost or animal-days in one farm-month; beyond it the
/// month is not reported. Keeps every product far from overflow.
pub const AMOUNT_MAX: f64 = 1e12;

/// Smallest animal-days that count as a reported month: a millionth of an animal-day.
pub const ANIMAL_DAYS_MIN: f64 = 1e-6;

/// Most trays in one batch: a tray room holds hundreds, a misplaced digit holds more.
pub const TRAYS_MAX: u32 = 100_000;

/// Most seed lots compared at once: the lot system is dense and is solved in its cube.
pub const LOTS_MAX: usize = 3_000;

/// Seed lots told apart by their position; further ones count as not recorded.
pub(crate) const LOT_POSITIONS_MAX: u32 = 1_000_000;

/// Farms handled as one piece of parallel work. Fixed, so that sums do not depend on the
/// number of processors.
pub(crate) const CHUNK_FARMS: usize = 128;

/// Most worker threads: more do not pay below a million farms.
pub(crate) const THREADS_MAX: usize = 8;

/// Months an event-time display looks back before the start: earliest and latest.
pub const PRE_START_EVENTS: (i64, i64) = (-6, -2);

/// Share of observed farm-months that must have a stage before output is adjusted for it.
pub const STAGE_COVERAGE_MIN: f64 = 0.5;

/// Months a stage may be carried or interpolated over.
pub const STAGE_GAP_MONTHS_MAX: usize = 2;

/// Fewest records a cell can hold and count as observed: a count is 1 or more, and a weight
/// still makes sense far below that.
pub const RECORDS_MIN: f64 = 1e-6;

/// Most conditions of batches compared at once: some twenty are recorded; the system is dense.
pub const CONDITIONS_MAX: usize = 64;

/// Batches handled as one piece of parallel work; fixed, as [`CHUNK_FARMS`].
pub(crate) const CHUNK_BATCHES: usize = 4_096;
