//! One connection to either database, and the one way to run a statement on it.
//!
//! Why not diesel's query DSL: thirty-odd record kinds share one set of statements that differ
//! only in table and columns, on two databases, and need what `MultiConnection` does not offer
//! (upserts, sums of BIGINT, UUID, TIMESTAMPTZ). diesel stays below: connections, typed binds,
//! the prepared statement cache (keyed by SQL text), transactions and migrations.

use crate::columns::Columns;
use crate::error::StoreError;
use crate::patience::Waits;
use crate::records::farm_lists::FarmLists;
use chrono::{Days, NaiveDate};
use diesel::RunQueryDsl;
use diesel::backend::Backend;
use diesel::connection::{DefaultLoadingMode, SimpleConnection};
use diesel::deserialize::{self, FromSql, FromSqlRow};
use diesel::pg::data_types::{PgDate, PgTimestamp};
use diesel::pg::{Pg, PgConnection};
use diesel::query_builder::{AstPass, Query, QueryFragment, QueryId};
use diesel::result::QueryResult;
use diesel::row::{Field, Row as DieselRow};
use diesel::sql_types::{
    BigInt, Binary, Bool, Date, Nullable, Text, Timestamptz, Untyped, Uuid as SqlUuid,
};
use diesel::sqlite::{Sqlite, SqliteConnection, SqliteType};
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, OnceLock};
use traybook_domain::{ColumnType, Value};
use uuid::Uuid;

/// A limit whose number is bound. At a bare `LIMIT ?` SQLite looks at the number while it plans, and
/// therefore plans the statement anew at every binding, which takes longer than many a statement.
pub(crate) const LIMIT: &str = "LIMIT ? + 0";

/// A value with its column type, as a parameter of a statement.
#[derive(Clone, Debug)]
pub struct Bind {
    ty: ColumnType,
    value: Value,
    /// The instant as PostgreSQL counts it, kept because parameters are bound by reference.
    stamp: PgTimestamp,
}

/// 2000-01-01T00:00:00Z, from which PostgreSQL counts microseconds, in milliseconds since 1970.
const PG_EPOCH_MS: i64 = 946_684_800_000;

impl Bind {
    /// A value for a column of this type.
    #[must_use]
    pub fn new(ty: ColumnType, value: Value) -> Self {
        let ms = value.as_instant().unwrap_or(PG_EPOCH_MS);
        Self { ty, value, stamp: PgTimestamp((ms - PG_EPOCH_MS).saturating_mul(1000)) }
    }
    /// An integer.
    #[must_use]
    pub fn int(value: i64) -> Self {
        Self::new(ColumnType::Int, Value::Int(value))
    }
    /// An identifier.
    #[must_use]
    pub fn id(value: Uuid) -> Self {
        Self::new(ColumnType::Id, Value::Id(value))
    }
    #[must_use]
    pub fn text(value: impl Into<String>) -> Self {
        Self::new(ColumnType::Text, Value::Text(value.into()))
    }
    /// An instant in milliseconds.
    #[must_use]
    pub fn instant(ms: i64) -> Self {
        Self::new(ColumnType::Instant, Value::Instant(ms))
    }
    #[must_use]
    pub fn date(value: NaiveDate) -> Self {
        Self::new(ColumnType::Date, Value::Date(value))
    }
    /// A truth value.
    #[must_use]
    pub fn bool(value: bool) -> Self {
        Self::new(ColumnType::Bool, Value::Bool(value))
    }
    #[must_use]
    pub fn bytes(value: Vec<u8>) -> Self {
        Self::new(ColumnType::Bytes, Value::Bytes(value))
    }
    /// A value that may be missing.
    #[must_use]
    pub fn opt(ty: ColumnType, value: Option<Value>) -> Self {
        Self::new(ty, value.unwrap_or(Value::Null))
    }
}

/// A row: values in the order of the select list.
pub type Row = Vec<Value>;

/// Statements that this process has run.
static STATEMENTS: AtomicU64 = AtomicU64::new(0);

/// The number of statements that this process has run, beginning and ending of transactions and
/// the pool's own check not counted; for tests.
#[must_use]
pub fn statements() -> u64 {
    STATEMENTS.load(Ordering::Relaxed)
}

/// Is handed the text of every statement, in tests.
static WATCH: OnceLock<fn(&str)> = OnceLock::new();

/// Hands the text of every statement to a function from now on; for tests, once a process.
pub fn watch(look: fn(&str)) {
    WATCH.get_or_init(|| look);
}

fn count(sql: &str) {
    if let Some(look) = WATCH.get() {
        look(sql);
    }
    let is_control = ["BEGIN", "COMMIT", "SAVEPOINT", "RELEASE", "ROLLBACK", "SELECT 1"];
    if !is_control.iter().any(|word| sql.starts_with(word)) {
        STATEMENTS.fetch_add(1, Ordering::Relaxed);
    }
    tracing::trace!(sql);
}

/// A connection to one of the two databases.
pub struct Conn {
    pub(crate) link: Link,
    /// Farms that are kept between reads; none for a connection that may see what others do not.
    pub(crate) farms: Option<Arc<FarmLists>>,
}

/// Embedded or server.
pub(crate) enum Link {
    Sqlite(SqliteConnection),
    Pg(PgConnection),
}

impl From<SqliteConnection> for Conn {
    fn from(conn: SqliteConnection) -> Self {
        Self { link: Link::Sqlite(conn), farms: None }
    }
}

impl From<PgConnection> for Conn {
    fn from(conn: PgConnection) -> Self {
        Self { link: Link::Pg(conn), farms: None }
    }
}

impl Conn {
    /// Runs a statement; the number of rows it touched.
    pub fn exec(&mut self, sql: &str, binds: &[Bind]) -> Result<usize, StoreError> {
        count(sql);
        let _waits = Waits::begin();
        let statement = Statement { sql, binds };
        let done = match &mut self.link {
            Link::Sqlite(conn) => statement.execute(conn),
            Link::Pg(conn) => statement.execute(conn),
        };
        done.map_err(StoreError::from)
    }

    /// Runs a query whose columns are of the given types.
    ///
    /// # Errors
    /// See [`StoreError`]; `Internal` when a column is of another type.
    pub fn rows(
        &mut self,
        sql: &str,
        binds: &[Bind],
        types: &[ColumnType],
    ) -> Result<Vec<Row>, StoreError> {
        self.each(sql, binds, |row| typed(row, types))
    }

    /// Runs a query with these columns, and reads each row as it comes.
    ///
    /// # Errors
    /// See [`StoreError`]; `Internal` when a row is of an unexpected form.
    pub(crate) fn select<T>(
        &mut self,
        columns: &Columns<T>,
        sql: &str,
        binds: &[Bind],
    ) -> Result<Vec<T>, StoreError> {
        self.each(sql, binds, columns.read)
    }

    /// As [`Conn::select`], of at most one row.
    pub(crate) fn select_one<T>(
        &mut self,
        columns: &Columns<T>,
        sql: &str,
        binds: &[Bind],
    ) -> Result<Option<T>, StoreError> {
        Ok(self.select(columns, sql, binds)?.into_iter().next())
    }

    /// As [`Conn::select`], of rows that are too many to be kept: each is handed over as it comes.
    pub(crate) fn select_each<T>(
        &mut self,
        columns: &Columns<T>,
        sql: &str,
        binds: &[Bind],
        mut take: impl FnMut(T),
    ) -> Result<(), StoreError> {
        self.each(sql, binds, |row| (columns.read)(row).map(&mut take)).map(drop)
    }

    fn each<T>(
        &mut self,
        sql: &str,
        binds: &[Bind],
        mut read: impl FnMut(Row) -> Result<T, StoreError>,
    ) -> Result<Vec<T>, StoreError> {
        count(sql);
        let _waits = Waits::begin();
        let statement = Statement { sql, binds };
        let read = |row: QueryResult<RawRow>| read(row?.0);
        match &mut self.link {
            Link::Sqlite(conn) => {
                statement.load_iter::<RawRow, DefaultLoadingMode>(conn)?.map(read).collect()
            }
            Link::Pg(conn) => {
                statement.load_iter::<RawRow, DefaultLoadingMode>(conn)?.map(read).collect()
            }
        }
    }

    /// Runs a query that gives at most one row.
    pub fn row(
        &mut self,
        sql: &str,
        binds: &[Bind],
        types: &[ColumnType],
    ) -> Result<Option<Row>, StoreError> {
        Ok(self.rows(sql, binds, types)?.into_iter().next())
    }

    /// Runs SQL text without parameters, several statements perhaps.
    pub fn batch(&mut self, sql: &str) -> Result<(), StoreError> {
        let _waits = Waits::begin();
        let done = match &mut self.link {
            Link::Sqlite(conn) => conn.batch_execute(sql),
            Link::Pg(conn) => conn.batch_execute(sql),
        };
        done.map_err(StoreError::from)
    }

    /// Runs `work` so that its writes are undone alone when it fails.
    ///
    /// # Errors
    /// Those of `work`, and of the database.
    pub fn savepoint<T, E: From<StoreError>>(
        &mut self,
        work: impl FnOnce(&mut Self) -> Result<T, E>,
    ) -> Result<T, E> {
        self.exec("SAVEPOINT one", &[])?;
        match work(self) {
            Ok(value) => {
                self.exec("RELEASE SAVEPOINT one", &[])?;
                Ok(value)
            }
            Err(error) => {
                self.exec("ROLLBACK TO SAVEPOINT one", &[])?;
                self.exec("RELEASE SAVEPOINT one", &[])?;
                Err(error)
            }
        }
    }

    /// Whether this is the embedded database.
    #[must_use]
    pub fn is_sqlite(&self) -> bool {
        matches!(self.link, Link::Sqlite(_))
    }
}

fn typed(mut raw: Vec<Value>, types: &[ColumnType]) -> Result<Row, StoreError> {
    if raw.len() != types.len() {
        let text = format!("{} columns where {} were expected", raw.len(), types.len());
        return Err(StoreError::Internal(text));
    }
    // In place: hundreds of thousands of rows come by here, and nearly all columns fit as they are.
    for (value, ty) in raw.iter_mut().zip(types) {
        if !fits(value, *ty) {
            *value = coerce(std::mem::replace(value, Value::Null), *ty)?;
        }
    }
    Ok(raw)
}

/// Whether a value is of a type already; one that is not there is of any.
const fn fits(value: &Value, ty: ColumnType) -> bool {
    matches!(
        (ty, value),
        (_, Value::Null)
            | (ColumnType::Id, Value::Id(_))
            | (ColumnType::Int, Value::Int(_))
            | (ColumnType::Bool, Value::Bool(_))
            | (ColumnType::Text, Value::Text(_))
            | (ColumnType::Date, Value::Date(_))
            | (ColumnType::Instant, Value::Instant(_))
            | (ColumnType::Bytes, Value::Bytes(_))
    )
}

/// A value that the database gave as another type.
pub(crate) fn coerce(value: Value, ty: ColumnType) -> Result<Value, StoreError> {
    let wrong = |value: Value| StoreError::Internal(format!("{value:?} where {ty:?} was expected"));
    Ok(match (ty, value) {
        (ColumnType::Bool, Value::Int(v)) => Value::Bool(v != 0),
        (ColumnType::Instant, Value::Int(v)) => Value::Instant(v),
        (ColumnType::Bytes, Value::Id(v)) => Value::Bytes(v.as_bytes().to_vec()),
        (ColumnType::Date, Value::Text(v)) => match iso_day(&v) {
            Some(date) => Value::Date(date),
            None => return Err(wrong(Value::Text(v))),
        },
        (_, v) => return Err(wrong(v)),
    })
}

/// A day as SQLite keeps it: YYYY-MM-DD. A report reads some ten thousand of them, and chrono's own
/// reading takes any form there is.
fn iso_day(text: &str) -> Option<NaiveDate> {
    let [a, b, c, d, b'-', e, f, b'-', g, h] = *text.as_bytes() else { return None };
    let number = |digits: &[u8]| {
        digits.iter().try_fold(0_u32, |sum, digit| {
            digit.is_ascii_digit().then(|| sum * 10 + u32::from(digit - b'0'))
        })
    };
    let year = i32::try_from(number(&[a, b, c, d])?).ok()?;
    NaiveDate::from_ymd_opt(year, number(&[e, f])?, number(&[g, h])?)
}

/// SQL text with `?` for parameters. A `?` stands for nothing else in our statements.
struct Statement<'a> {
    sql: &'a str,
    binds: &'a [Bind],
}

impl Query for Statement<'_> {
    type SqlType = Untyped;
}

impl QueryId for Statement<'_> {
    type QueryId = ();
    // Not one type a statement: diesel then caches by the SQL text.
    const HAS_STATIC_QUERY_ID: bool = false;
}

impl<C> RunQueryDsl<C> for Statement<'_> {}

impl Statement<'_> {
    fn walk<'b, DB: Backend>(
        &'b self,
        mut out: AstPass<'_, 'b, DB>,
        push: impl Fn(&mut AstPass<'_, 'b, DB>, &'b Bind) -> QueryResult<()>,
    ) -> QueryResult<()> {
        let mut binds = self.binds.iter();
        for (index, part) in self.sql.split('?').enumerate() {
            if index > 0 {
                let missing = || {
                    let text = format!("a parameter is missing in: {}", self.sql);
                    diesel::result::Error::QueryBuilderError(text.into())
                };
                push(&mut out, binds.next().ok_or_else(missing)?)?;
            }
            out.push_sql(part);
        }
        Ok(())
    }
}

impl QueryFragment<Sqlite> for Statement<'_> {
    fn walk_ast<'b>(&'b self, out: AstPass<'_, 'b, Sqlite>) -> QueryResult<()> {
        self.walk(out, push_sqlite)
    }
}

impl QueryFragment<Pg> for Statement<'_> {
    fn walk_ast<'b>(&'b self, out: AstPass<'_, 'b, Pg>) -> QueryResult<()> {
        self.walk(out, push_pg)
    }
}

fn push_sqlite<'b>(out: &mut AstPass<'_, 'b, Sqlite>, bind: &'b Bind) -> QueryResult<()> {
    match &bind.value {
        Value::Null => out.push_bind_param::<Nullable<BigInt>, Option<i64>>(&None),
        Value::Int(v) | Value::Instant(v) => out.push_bind_param::<BigInt, i64>(v),
        Value::Bool(v) => out.push_bind_param::<Bool, bool>(v),
        Value::Text(v) => out.push_bind_param::<Text, String>(v),
        Value::Id(v) => out.push_bind_param::<Binary, [u8]>(v.as_bytes()),
        Value::Bytes(v) => out.push_bind_param::<Binary, Vec<u8>>(v),
        // diesel writes a date as ISO 8601 text, as our TEXT columns hold it.
        Value::Date(v) => out.push_bind_param::<Date, NaiveDate>(v),
    }
}

fn push_pg<'b>(out: &mut AstPass<'_, 'b, Pg>, bind: &'b Bind) -> QueryResult<()> {
    match (&bind.value, bind.ty) {
        (Value::Null, ty) => push_pg_null(out, ty),
        (Value::Int(v), _) => out.push_bind_param::<BigInt, i64>(v),
        (Value::Bool(v), _) => out.push_bind_param::<Bool, bool>(v),
        (Value::Text(v), _) => out.push_bind_param::<Text, String>(v),
        (Value::Id(v), _) => out.push_bind_param::<SqlUuid, Uuid>(v),
        (Value::Bytes(v), _) => out.push_bind_param::<Binary, Vec<u8>>(v),
        (Value::Date(v), _) => out.push_bind_param::<Date, NaiveDate>(v),
        (Value::Instant(_), _) => out.push_bind_param::<Timestamptz, PgTimestamp>(&bind.stamp),
    }
}

fn push_pg_null(out: &mut AstPass<'_, '_, Pg>, ty: ColumnType) -> QueryResult<()> {
    match ty {
        ColumnType::Id => out.push_bind_param::<Nullable<SqlUuid>, Option<Uuid>>(&None),
        ColumnType::Int => out.push_bind_param::<Nullable<BigInt>, Option<i64>>(&None),
        ColumnType::Bool => out.push_bind_param::<Nullable<Bool>, Option<bool>>(&None),
        ColumnType::Text => out.push_bind_param::<Nullable<Text>, Option<String>>(&None),
        ColumnType::Date => out.push_bind_param::<Nullable<Date>, Option<NaiveDate>>(&None),
        ColumnType::Instant => {
            out.push_bind_param::<Nullable<Timestamptz>, Option<PgTimestamp>>(&None)
        }
        ColumnType::Bytes => out.push_bind_param::<Nullable<Binary>, Option<Vec<u8>>>(&None),
    }
}

/// A row as the database gave it, before its columns' types are known.
struct RawRow(Vec<Value>);

impl FromSqlRow<Untyped, Sqlite> for RawRow {
    fn build_from_row<'a>(row: &impl DieselRow<'a, Sqlite>) -> deserialize::Result<Self> {
        let mut values = Vec::with_capacity(row.field_count());
        for index in 0..row.field_count() {
            let field = row.get(index).ok_or("a column is missing")?;
            let value = match field.value() {
                None => Value::Null,
                Some(mut raw) => match raw.value_type() {
                    // Nearly all are ids; `coerce` gives bytes back where a column holds bytes.
                    Some(SqliteType::Binary) => match Uuid::from_slice(raw.read_blob()) {
                        Ok(id) => Value::Id(id),
                        Err(_) => Value::Bytes(raw.read_blob().to_vec()),
                    },
                    Some(SqliteType::Text) => Value::Text(raw.read_text().to_owned()),
                    Some(SqliteType::Float | SqliteType::Double) => {
                        return Err("a number that is not whole".into());
                    }
                    Some(_) => Value::Int(raw.read_long()),
                    None => Value::Null,
                },
            };
            values.push(value);
        }
        Ok(Self(values))
    }
}

impl FromSqlRow<Untyped, Pg> for RawRow {
    fn build_from_row<'a>(row: &impl DieselRow<'a, Pg>) -> deserialize::Result<Self> {
        let mut values = Vec::with_capacity(row.field_count());
        for index in 0..row.field_count() {
            let field = row.get(index).ok_or("a column is missing")?;
            let value = match field.value() {
                None => Value::Null,
                Some(raw) => match raw.get_oid().get() {
                    16 => Value::Bool(FromSql::<Bool, Pg>::from_sql(raw)?),
                    17 => Value::Bytes(FromSql::<Binary, Pg>::from_sql(raw)?),
                    20 => Value::Int(FromSql::<BigInt, Pg>::from_sql(raw)?),
                    25 => Value::Text(FromSql::<Text, Pg>::from_sql(raw)?),
                    1082 => Value::Date(pg_date(FromSql::<Date, Pg>::from_sql(raw)?)?),
                    1184 => {
                        let stamp: PgTimestamp = FromSql::<Timestamptz, Pg>::from_sql(raw)?;
                        Value::Instant(stamp.0.div_euclid(1000) + PG_EPOCH_MS)
                    }
                    2950 => Value::Id(FromSql::<SqlUuid, Pg>::from_sql(raw)?),
                    other => return Err(format!("a column of unknown type {other}").into()),
                },
            };
            values.push(value);
        }
        Ok(Self(values))
    }
}

fn pg_date(date: PgDate) -> deserialize::Result<NaiveDate> {
    let epoch = NaiveDate::from_ymd_opt(2000, 1, 1).ok_or("no epoch")?;
    let days = Days::new(u64::from(date.0.unsigned_abs()));
    let day = if date.0 < 0 { epoch.checked_sub_days(days) } else { epoch.checked_add_days(days) };
    day.ok_or_else(|| "a date out of range".into())
}
