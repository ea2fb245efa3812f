//! Typed columns of a hand-written query: one list gives the select list and reads the rows.

use crate::conn::{Row, coerce};
use crate::error::StoreError;
use chrono::NaiveDate;
use std::fmt::{self, Display};
use std::vec::IntoIter;
use traybook_domain::{ColumnType, Kind, Month, Value};
use uuid::Uuid;

/// The columns of a query; displayed as its select list.
pub(crate) struct Columns<T> {
    list: String,
    /// Reads a row.
    pub(crate) read: fn(Row) -> Result<T, StoreError>,
}

impl<T> Columns<T> {
    pub(crate) fn new(list: &[String], read: fn(Row) -> Result<T, StoreError>) -> Self {
        Self { list: list.join(", "), read }
    }
}

impl<T> Display for Columns<T> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.list)
    }
}

/// A row that does not have the columns that a query asks for.
pub(crate) fn unexpected(query: &str) -> StoreError {
    StoreError::Internal(format!("a row of an unexpected form: {query}"))
}

/// `columns!("module::query" { name: Type = "sql", .. } => value)`: the columns of a query in their
/// order, and what is made of a row. A column without SQL text is named as in the database. Every
/// column must be there, unless its type is an `Option`; a row that differs is an error.
macro_rules! columns {
    (@sql $name:ident) => { stringify!($name) };
    (@sql $name:ident $sql:expr) => { $sql };
    ($query:literal { $($name:ident: $ty:ty $(= $sql:expr)?),+ $(,)? } => $made:expr) => {
        $crate::columns::Columns::new(
            &[$(String::from($crate::columns::columns!(@sql $name $($sql)?))),+],
            |row| {
                let mut values = row.into_iter();
                $(
                    let $name = <$ty as $crate::columns::FromValue>::take(&mut values);
                    let $name = $name.ok_or_else(|| {
                        $crate::columns::unexpected(concat!($query, ".", stringify!($name)))
                    })?;
                )+
                match values.len() {
                    0 => Ok($made),
                    _ => Err($crate::columns::unexpected($query)),
                }
            },
        )
    };
}
pub(crate) use columns;

/// A type of column.
pub(crate) trait FromValue {
    /// What is read from it.
    type Out;
    /// Takes the next value; none where it is missing or of another type.
    fn take(values: &mut IntoIter<Value>) -> Option<Self::Out>;
}

/// An instant; read as milliseconds.
pub(crate) struct Instant;

macro_rules! plain {
    ($($ty:ty, $out:ty, $variant:ident;)+) => {$(
        impl FromValue for $ty {
            type Out = $out;
            fn take(values: &mut IntoIter<Value>) -> Option<$out> {
                match values.next()? {
                    Value::$variant(value) => Some(value),
                    other => match coerce(other, ColumnType::$variant) {
                        Ok(Value::$variant(value)) => Some(value),
                        _ => None,
                    },
                }
            }
        }
    )+};
}

plain! {
    Uuid, Uuid, Id;
    i64, i64, Int;
    bool, bool, Bool;
    String, String, Text;
    NaiveDate, NaiveDate, Date;
    Instant, i64, Instant;
    Vec<u8>, Vec<u8>, Bytes;
}

impl FromValue for Month {
    type Out = Self;
    fn take(values: &mut IntoIter<Value>) -> Option<Self> {
        Self::from_number(i64::take(values)?)
    }
}

impl FromValue for Kind {
    type Out = Self;
    fn take(values: &mut IntoIter<Value>) -> Option<Self> {
        Self::from_one(&String::take(values)?)
    }
}

/// A column that may hold nothing.
impl<T: FromValue> FromValue for Option<T> {
    type Out = Option<T::Out>;
    fn take(values: &mut IntoIter<Value>) -> Option<Self::Out> {
        if let [Value::Null, ..] = values.as_slice() {
            values.next();
            return Some(None);
        }
        T::take(values).map(Some)
    }
}

/// Several columns in a row.
impl<T: FromValue<Out: Copy + Default>, const N: usize> FromValue for [T; N] {
    type Out = [T::Out; N];
    fn take(values: &mut IntoIter<Value>) -> Option<Self::Out> {
        let mut all = [T::Out::default(); N];
        for slot in &mut all {
            *slot = T::take(values)?;
        }
        Some(all)
    }
}
