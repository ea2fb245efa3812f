//! The list of record kinds.

use crate::field::{FieldError, FieldKind, FieldSpec};
use crate::kinds;
use crate::record::{Record, RuleCtx};
use crate::value::Value;

/// Whom a record belongs to besides the co-operative; decides who may see it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Scope {
    /// The co-operative as a whole.
    Cooperative,
    /// An area: the kind has a field `area_id`.
    Area,
    /// A farm: the kind has a field `farm_id`, or is the farm.
    Farm,
    /// A member: the kind has a field `member_id`.
    Member,
}

/// The declaration of a record kind.
#[derive(Debug)]
pub struct KindSpec {
    /// Which kind.
    pub kind: Kind,
    /// Name of the type and of its OpenAPI schema.
    pub name: &'static str,
    /// Name of one record, as used in operation ids and the change feed.
    pub one: &'static str,
    /// Path under `/v1` and, with `_` for `-`, the table and CSV file.
    pub path: &'static str,
    /// Whom a record belongs to.
    pub scope: Scope,
    /// The field that dates a record, for filters and order.
    pub date: Option<&'static str>,
    /// The field by which people know a record.
    pub code: Option<&'static str>,
    /// What the kind is.
    pub doc: &'static str,
    pub fields: &'static [FieldSpec],
}

impl KindSpec {
    /// The table's name.
    #[must_use]
    pub fn table(&self) -> String {
        self.path.replace('-', "_")
    }

    /// Position of a field.
    #[must_use]
    pub fn index(&self, field: &str) -> Option<usize> {
        self.fields.iter().position(|f| f.name == field)
    }

    /// A field by name.
    #[must_use]
    pub fn field(&self, name: &str) -> Option<&'static FieldSpec> {
        self.fields.iter().find(|f| f.name == name)
    }

    /// The value of a field in a record's values; `Null` where the kind has no such field.
    #[must_use]
    pub fn get<'v>(&self, values: &'v [Value], field: &str) -> &'v Value {
        self.index(field).and_then(|i| values.get(i)).unwrap_or(&Value::Null)
    }

    /// The reference fields with their target kinds.
    pub fn refs(&self) -> impl Iterator<Item = (usize, &'static FieldSpec, Kind)> {
        self.fields.iter().enumerate().filter_map(|(i, f)| match f.kind {
            FieldKind::Ref(kind) => Some((i, f, kind)),
            _ => None,
        })
    }

    /// The reference field whose record gives this one its farm, if `farm_id` is derived.
    #[must_use]
    pub fn parent(&self) -> Option<(usize, &'static FieldSpec, Kind)> {
        self.field("farm_id").filter(|f| f.derived)?;
        self.refs().find(|(_, f, kind)| !f.derived && kind.spec().field("farm_id").is_some())
    }
}

macro_rules! kinds {
    ($($kind:ident),* $(,)?) => {
        /// A kind of record. The order is the order of dependence: a kind refers only to itself
        /// and to kinds before it.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum Kind { $(#[doc = concat!("See [`kinds::", stringify!($kind), "`].")] $kind),* }

        impl Kind {
            /// All kinds, in order of dependence.
            pub const ALL: &'static [Kind] = &[$(Kind::$kind),*];

            /// The declaration.
            #[must_use]
            pub fn spec(self) -> &'static KindSpec {
                match self { $(Kind::$kind => {
                    static SPEC: KindSpec = kinds::$kind::SPEC;
                    &SPEC
                })* }
            }

            /// Checks the rules within one record.
            pub fn check(self, values: &[Value], ctx: &RuleCtx<'_>, errors: &mut Vec<FieldError>) {
                match self { $(Kind::$kind => {
                    if let Some(record) = kinds::$kind::from_values(values) {
                        record.rules(ctx, errors);
                    }
                })* }
            }
        }
    };
}

kinds! {
    Cooperative, Area, GrowingGuideValue, ChecklistItem, Feed, Supplier, Member, Person, OfficerArea,
    Farm, Shed, AnimalGroup, HeadCount, BaselineRation, SeedLot, SeedPurchase, SeedIssue,
    SeedAdjustment, Batch, BatchEvent, MilkRecord, EggRecord, FeedPurchase, FeedCount, OtherCost,
    Asset, Visit, VisitCheck, FollowUp, Reading, Training, Attendance, Photo, Flag,
    FodderPlan, PlannedHead, RestDay, GrowingPause, WorkRecord, LotHold, SeedPayment, Deduction,
    ReviewAcceptance, CorrectionRequest, StartPlan, StartPlace, OnOffPlan, VisitPlan,
}

impl Kind {
    /// The kind of a record name (`milk_record`).
    #[must_use]
    pub fn from_one(one: &str) -> Option<Self> {
        Self::ALL.iter().copied().find(|k| k.spec().one == one)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn kinds_refer_only_backwards_and_names_are_unique() {
        let mut names = std::collections::HashSet::new();
        for kind in Kind::ALL {
            let spec = kind.spec();
            assert!(names.insert(spec.path) && names.insert(spec.one), "{}", spec.path);
            for (_, field, target) in spec.refs() {
                assert!(target <= *kind, "{} refers forward by {}", spec.one, field.name);
                assert!(field.name.ends_with("_id"), "{}.{}", spec.one, field.name);
            }
            assert!(
                spec.fields.iter().all(|f| !f.doc.trim().is_empty()),
                "{} lacks docs",
                spec.one
            );
            for name in [spec.date, spec.code].into_iter().flatten() {
                assert!(spec.field(name).is_some(), "{} has no {name}", spec.one);
            }
            match spec.scope {
                Scope::Cooperative => {}
                Scope::Area => assert!(spec.field("area_id").is_some(), "{}", spec.one),
                Scope::Farm if *kind == Kind::Farm => {}
                Scope::Farm => assert!(spec.field("farm_id").is_some(), "{}", spec.one),
                Scope::Member => assert!(spec.field("member_id").is_some(), "{}", spec.one),
            }
        }
    }
}
