//! The Pearson square: the parts of two feeds that make a content between theirs.
//!
//! # Source
//! Montana State University Extension (CHECKS 2.5, 2.6, 2.8): the part of each feed is the
//! distance of the other one's content from the target; the target must lie between the two.

use crate::feeds::Feed;
use crate::limits::AMOUNT_KG;
use crate::read::{Reader, outcome};
use crate::request::SquareBasis;
use crate::words;
use serde::Serialize;
use serde_json::{Map, Value as Json};
use traybook_domain::FieldError;
use traybook_domain::rations::feed::cost_per_kg_of;
use utoipa::ToSchema;

/// A question for the square.
#[derive(Clone, Debug, PartialEq)]
pub struct Square {
    /// The two feeds.
    pub feeds: [Feed; 2],
    /// Contents of the two, and the one wanted; all on the same basis.
    pub contents: ([f64; 2], f64),
    /// What is mixed, kg on the basis of the square.
    pub amount_kg: Option<f64>,
    /// Whether contents, shares and amount are those of the dry matter, not of the feed as fed.
    pub is_in_dry_matter: bool,
    /// Currency for the words.
    pub currency: Option<String>,
}

/// One feed's part.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
#[schema(as = SquarePart)]
pub struct Part {
    /// Name of the feed.
    pub name: String,
    /// Its content on the basis of the square.
    pub content: f64,
    /// Its part: the distance of the other content from the target.
    pub parts: f64,
    /// Its share on the basis of the square, per cent.
    pub share_percent: f64,
    /// kg on the basis of the square, where an amount was given.
    pub kg: Option<f64>,
    /// kg as fed, where an amount and the dry matter are known.
    pub as_fed_kg: Option<f64>,
}

/// The answer of the square.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
#[schema(as = PearsonSquare)]
pub struct Answer {
    /// What the shares and contents are counted in.
    pub basis: SquareBasis,
    /// The content wanted.
    pub target: f64,
    /// The two parts.
    #[schema(value_type = Vec<Part>, min_items = 2, max_items = 2)]
    pub parts: [Part; 2],
    /// Cost of the amount, or of a kg on the basis of the square where no amount was given.
    pub cost: Option<f64>,
    /// What it means.
    pub sentence: String,
    /// Whom to ask.
    pub caution: &'static str,
}

/// Shares of two feeds whose contents are `a` and `b` that make the content `target`.
///
/// `None` when the target does not lie between the two, or both are alike.
///
/// ```
/// use traybook_rations::square::shares;
///
/// // Maize of 9 % and soya meal of 44 % protein make 16 %: 28 parts to 7.
/// assert_eq!(shares([9.0, 44.0], 16.0), Some([0.8, 0.2]));
/// assert_eq!(shares([9.0, 44.0], 50.0), None);
/// ```
#[must_use]
pub fn shares([a, b]: [f64; 2], target: f64) -> Option<[f64; 2]> {
    let (low, high) = (a.min(b), a.max(b));
    let width = high - low;
    // Written this way round so that a NaN is refused too.
    let inside = width > 0.0 && target >= low && target <= high;
    inside.then(|| [(b - target).abs() / width, (a - target).abs() / width])
}

impl Square {
    /// Reads a question.
    ///
    /// # Errors
    /// Everything that is wrong with it; `outside` where the target does not lie between the two.
    pub fn read(request: &Map<String, Json>) -> Result<Self, Vec<FieldError>> {
        let mut top = Reader::new(request);
        let nutrient = top.choice("nutrient", &["crude_protein", "energy"]);
        let nutrient = nutrient.unwrap_or("crude_protein");
        let member =
            if nutrient == "energy" { "energy_mj_per_kg" } else { "crude_protein_percent" };
        let target = top.needed("target", (0.0, 100.0));
        let basis = top.choice("basis", &["dry_matter", "as_fed"]).unwrap_or("dry_matter");
        let amount = top.number("amount_kg", AMOUNT_KG);
        let currency = top.text("currency");
        let mut errors = Vec::new();
        let mut feeds = Vec::new();
        for (map, at) in top.objects("feeds", (2, 2)) {
            let mut r = Reader::at(map, at);
            let feed = Feed::read(&mut r);
            if r.value(member).is_none() {
                r.refuse(member, "required", format!("give {member} of both feeds"));
            }
            if basis == "as_fed" && r.value("dry_matter_percent").is_none() {
                let detail = "give it: contents are per dry matter and the square is as fed";
                r.refuse("dry_matter_percent", "required", detail);
            }
            errors.extend(r.finish());
            feeds.push(feed);
        }
        let of = |f: &Feed| {
            let per_dry =
                if nutrient == "energy" { f.energy_mj_per_kg } else { f.crude_protein_percent };
            let dry = if basis == "as_fed" { f.dry_matter() } else { Some(1.0) };
            per_dry.zip(dry).map(|(n, d)| n * d)
        };
        let feeds: Option<[Feed; 2]> = feeds.try_into().ok();
        let contents = feeds.as_ref().and_then(|[a, b]| of(a).zip(of(b))).zip(target);
        if let Some(((a, b), target)) = contents
            && errors.is_empty()
            && shares([a, b], target).is_none()
        {
            let detail = format!(
                "give a target between the two feeds, {} and {}: no mix of them can reach {}",
                words::number(a.min(b)),
                words::number(a.max(b)),
                words::number(target)
            );
            top.refuse("target", "outside", detail);
        }
        let mut all = top.finish();
        all.extend(errors);
        let read = feeds.zip(contents).map(|(feeds, ((a, b), target))| Self {
            feeds,
            contents: ([a, b], target),
            amount_kg: amount,
            is_in_dry_matter: basis == "dry_matter",
            currency,
        });
        outcome(read, all)
    }

    /// The answer; `None` when the target does not lie between the two.
    #[must_use]
    pub fn answer(&self) -> Option<Answer> {
        let (contents, target) = self.contents;
        let share = shares(contents, target)?;
        let (in_dry, amount) = (self.is_in_dry_matter, self.amount_kg);
        let basis_kg = |i: usize| share.get(i).copied().map(|s| s * amount.unwrap_or(1.0));
        let fed = |i: usize, feed: &Feed| {
            let kg = basis_kg(i)?;
            if in_dry { cost_per_kg_of(kg, feed.dry_matter()?) } else { Some(kg) }
        };
        let [a, b] = &self.feeds;
        let cost = fed(0, a).zip(a.price).zip(fed(1, b).zip(b.price));
        let cost = cost.map(|((x, p), (y, q))| x * p + y * q);
        let part = |i: usize, feed: &Feed, content: f64, other: f64, share: f64| Part {
            name: feed.name.clone(),
            content,
            parts: (other - target).abs(),
            share_percent: 100.0 * share,
            kg: amount.and(basis_kg(i)),
            as_fed_kg: amount.and(fed(i, feed)),
        };
        let ([ca, cb], [sa, sb]) = (contents, share);
        let basis = if in_dry { SquareBasis::DryMatter } else { SquareBasis::AsFed };
        let words = if in_dry { "of the dry matter" } else { "of the mix as fed" };
        let sentence = format!(
            "{} % {words} from {} and {} % from {} make {}.",
            words::number(100.0 * sa),
            a.name,
            words::number(100.0 * sb),
            b.name,
            words::number(target),
        );
        let parts = [part(0, a, ca, cb, sa), part(1, b, cb, ca, sb)];
        Some(Answer { basis, target, parts, cost, sentence, caution: crate::CAUTION })
    }
}
