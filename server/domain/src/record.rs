//! The one macro that declares a record kind.

use crate::field::{FieldError, ReadCtx};
use crate::kind::Kind;
use crate::planning::guide::Guide;
use crate::value::Value;
use chrono_tz::Tz;

/// The record that a reference field points to, by the field's name.
pub type Refs<'a> = dyn Fn(&str) -> Option<(Kind, &'a [Value])> + 'a;

/// Kinds whose rules look at the growing guide.
pub const GUIDED: &[Kind] = &[Kind::SeedLot, Kind::Batch, Kind::FodderPlan];

/// What a rule of one record may look at besides the record.
pub struct RuleCtx<'a> {
    /// Clock, day and currency.
    pub read: ReadCtx,
    /// The co-operative's zone.
    pub zone: Tz,
    /// The co-operative's growing guide; for the kinds of [`GUIDED`], whose rules look at it.
    pub guide: Option<&'a Guide>,
    /// The record that a reference field points to, by field name.
    pub refs: &'a Refs<'a>,
}

impl RuleCtx<'_> {
    /// The record behind a reference field as its own type.
    #[must_use]
    pub fn parent<T: Record>(&self, field: &str) -> Option<T> {
        let (kind, values) = (self.refs)(field)?;
        if kind == T::KIND { T::from_values(values) } else { None }
    }
}

/// A record kind as a Rust type.
pub trait Record: Sized {
    const KIND: Kind;
    /// Reads the values in the order of the kind's fields; `None` when they are not of this kind.
    fn from_values(values: &[Value]) -> Option<Self>;
    /// The values in the order of the kind's fields.
    fn into_values(self) -> Vec<Value>;
    /// The rules within one record that its field declarations do not say.
    fn rules(&self, _ctx: &RuleCtx<'_>, _errors: &mut Vec<FieldError>) {}
}

/// Declares a record kind: the struct, its field list and the conversions.
macro_rules! record {
    (
        $(#[doc = $doc:literal])*
        $name:ident {
            one: $one:literal, path: $path:literal, scope: $scope:expr
            $(, date: $date:literal)? $(, code: $code:literal)? ;
            $( $(#[doc = $fdoc:literal])* $field:ident : $ty:ty = $shape:expr ; )*
        }
        $( rules($self_:ident, $ctx:ident, $errors:ident) $rules:block )?
    ) => {
        $(#[doc = $doc])*
        #[derive(Clone, Debug, PartialEq, Eq)]
        pub struct $name { $( $(#[doc = $fdoc])* pub $field: $ty, )* }

        impl $name {
            /// The declaration of this kind.
            pub const SPEC: $crate::kind::KindSpec = $crate::kind::KindSpec {
                kind: $crate::kind::Kind::$name,
                name: stringify!($name),
                one: $one,
                path: $path,
                scope: $scope,
                date: record!(@opt $($date)?),
                code: record!(@opt $($code)?),
                doc: concat!($($doc),*),
                fields: &[ $( $crate::field::FieldSpec {
                    name: stringify!($field),
                    kind: $shape.kind,
                    required: <$ty as $crate::value::Column>::REQUIRED && !$shape.derived,
                    derived: $shape.derived,
                    fixed: $shape.fixed,
                    doc: concat!($($fdoc),*),
                }, )* ],
            };
        }

        impl $crate::record::Record for $name {
            const KIND: $crate::kind::Kind = $crate::kind::Kind::$name;
            fn from_values(values: &[$crate::value::Value]) -> Option<Self> {
                let mut values = values.iter();
                Some(Self { $( $field: $crate::value::Column::from_value(values.next()?)?, )* })
            }
            fn into_values(self) -> Vec<$crate::value::Value> {
                vec![ $( $crate::value::Column::into_value(self.$field), )* ]
            }
            $( fn rules(
                &$self_,
                $ctx: &$crate::record::RuleCtx<'_>,
                $errors: &mut Vec<$crate::field::FieldError>,
            ) $rules )?
        }
    };
    (@opt) => { None };
    (@opt $value:literal) => { Some($value) };
}
pub(crate) use record;
