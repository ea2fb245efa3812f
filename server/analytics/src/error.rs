//! What can be wrong with the shape of an input.

/// An input whose parts do not fit together.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ShapeError {
    /// A slice has another length than farms, months and columns ask for.
    #[error("read {name}: {found} values where {wanted} are needed")]
    Length {
        /// Which slice.
        name: &'static str,
        /// Values found.
        found: usize,
        /// Values needed.
        wanted: usize,
    },
    /// A count is above its limit.
    #[error("accept {found} {name}: at most {limit} are allowed")]
    TooMany {
        /// What is counted.
        name: &'static str,
        /// Count found.
        found: usize,
        /// Largest count allowed.
        limit: usize,
    },
    /// A value that must be a number is not one, or is beyond any believable size.
    #[error("read {name}: every value must be a believable number")]
    NotFinite {
        /// Which slice.
        name: &'static str,
    },
    /// A record names a farm or month outside the panel.
    #[error("place record {index}: its farm or month is outside the panel")]
    OutsidePanel {
        /// Position of the record in the slice.
        index: usize,
    },
}

pub(crate) fn check_length(
    name: &'static str,
    found: usize,
    wanted: usize,
) -> Result<(), ShapeError> {
    if found == wanted { Ok(()) } else { Err(ShapeError::Length { name, found, wanted }) }
}

/// Checks one count against its limit.
pub(crate) fn check_limit(
    name: &'static str,
    found: usize,
    limit: usize,
) -> Result<(), ShapeError> {
    if found <= limit { Ok(()) } else { Err(ShapeError::TooMany { name, found, limit }) }
}
