//! How many trays to start when, what there is to do on a day, and how much seed that takes.
//!
//! Pure: no I/O, no clock, no randomness. [`plan`] works backwards from the feeding day: for each
//! group and day it finds the day of the soak, the whole trays and the seed. Trays spoil and yields
//! vary: [`learn`] draws both from the farm's own records, [`sizing`] keeps a reserve and repays what
//! was lost, [`make_up`] harvests young trays in its place. [`steady`] sums up a farm that runs as
//! planned. [`work`] lists what there is to do, from the batches that are there
//! and from the plan where there are none. [`forecast`] adds the seed up over farms.
//!
//! Days are numbers ([`Day`]); quantities are integers in grams, trays in whole trays.

pub mod farm;
pub mod forecast;
pub mod learn;
pub mod make_up;
pub mod plan;
pub mod service;
pub mod short_shed;
pub mod sizing;
pub mod standards;
pub mod steady;
pub mod words;
pub mod work;

pub use farm::{Day, Farm, Group, Learned, Pause, RestDays, Setting, Shed, date_of, day_of};
pub use plan::{Feed, Growing, Plan, ShedPlan, Short, Sized, Soak, Span, plan};
pub use standards::Standards;
