//! Whether what was fed may have been mouldy.

/// What a rule says of a batch.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// More dry matter out than in.
    YieldImpossible,
    /// Outside of what is known.
    YieldUnlikely,
    /// Fed although mould was seen.
    FedWithMould,
}

impl Verdict {
    /// The rule's name.
    #[must_use]
    pub const fn rule(self) -> &'static str {
        match self {
            Self::YieldImpossible => "yield_impossible",
            Self::YieldUnlikely => "yield_unlikely",
            Self::FedWithMould => "fed_with_mould",
        }
    }
}

/// A feeding: when, and whether it was marked mouldy.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Feeding {
    pub at: i64,
    /// Whether the record itself says that it was mouldy.
    pub mouldy: bool,
}

/// Whether a batch was fed with mould in it.
///
/// `seen_at` is the first time that mould was seen, `trays` how many trays had it (none where
/// nobody said), `thrown` when how many trays were thrown away. A mouldy tray that is thrown away
/// before the rest is fed is no finding: the batch keeps its banner.
#[must_use]
pub fn mould_verdict(
    seen_at: i64,
    trays: Option<i64>,
    thrown: &[(i64, i64)],
    fed: &[Feeding],
) -> Option<Verdict> {
    let later = || fed.iter().filter(|f| f.at >= seen_at);
    let first = later().map(|f| f.at).min()?;
    let between = thrown.iter().filter(|(at, _)| (seen_at..=first).contains(at));
    let out: i64 = between.map(|(_, trays)| trays).sum();
    let is_marked = later().any(|f| f.mouldy);
    let is_kept = trays.map_or(out == 0, |trays| out < trays);
    (is_marked || is_kept).then_some(Verdict::FedWithMould)
}
