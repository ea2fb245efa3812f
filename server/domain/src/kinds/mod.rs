//! Every record kind, declared once. Add a field here and it exists in JSON, CSV, OpenAPI and the
//! rules; the schema test then asks for the migration.

mod animals;
mod batches;
mod costs;
mod farms;
mod flags;
mod output;
mod people;
mod seed;
mod setup;
mod trials;
mod visits;
mod work;

pub use animals::*;
pub use batches::*;
pub use costs::*;
pub use farms::*;
pub use flags::*;
pub use output::*;
pub use people::*;
pub use seed::*;
pub use setup::*;
pub use trials::*;
pub use visits::*;
pub use work::*;
