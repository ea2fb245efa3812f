//! Writing a co-operative's records as CSV files, the same bytes for the same records.

use crate::error::AppError;
use crate::{Actor, App, Coop};
use std::collections::HashMap;
use std::io::Write as _;
use std::path::{Path, PathBuf};
use traybook_domain::field::FieldKind;
use traybook_domain::{Kind, Value};
use traybook_reports::csv_text;
use traybook_sheets::columns::{column_name, columns, file_name};
use traybook_storage::Conn;
use traybook_storage::records;
use uuid::Uuid;

/// Codes of records that were referred to.
type Codes = HashMap<(Kind, Uuid), Option<String>>;

impl App {
    /// Writes one file a kind that has records into a folder, which must be empty or not there.
    /// Gives the files with their numbers of records.
    ///
    /// # Errors
    /// `Conflict` when the folder holds something; `Unavailable` when it can not be written.
    pub async fn export(
        &self,
        coop: &Coop,
        folder: PathBuf,
    ) -> Result<Vec<(String, u64)>, AppError> {
        let coop = coop.clone();
        let machine = Actor::machine(coop.clone());
        self.note_export(&machine, "export").await?;
        self.store
            .read(move |conn| {
                make_empty(&folder)?;
                let mut written = Vec::new();
                let mut codes = Codes::new();
                for kind in Kind::ALL {
                    let rows = one_kind(conn, &coop, *kind, &folder, &mut codes)?;
                    if rows > 0 {
                        written.push((file_name(*kind), rows));
                    }
                }
                Ok(written)
            })
            .await
    }
}

fn io(path: &Path, e: &std::io::Error) -> AppError {
    AppError::conflict("files", format!("{}: {e}", path.display()))
}

fn make_empty(folder: &Path) -> Result<(), AppError> {
    std::fs::create_dir_all(folder).map_err(|e| io(folder, &e))?;
    let mut entries = std::fs::read_dir(folder).map_err(|e| io(folder, &e))?;
    if entries.next().is_some() {
        let detail = format!("{} is not empty; name a new folder", folder.display());
        return Err(AppError::conflict("files", detail));
    }
    Ok(())
}

fn one_kind(
    conn: &mut Conn,
    coop: &Coop,
    kind: Kind,
    folder: &Path,
    codes: &mut Codes,
) -> Result<u64, AppError> {
    let path = folder.join(file_name(kind));
    let columns = columns(kind);
    let mut file = None;
    let mut count = 0;
    records::for_each(conn, coop.number, kind, |conn, record| {
        let mut cells = vec![record.id.to_string()];
        for column in &columns {
            let value = record.values.get(column.index).unwrap_or(&Value::Null);
            cells.push(match (column.field.kind, value) {
                (FieldKind::Ref(target), Value::Id(id)) => name_of(conn, coop, target, *id, codes)?,
                _ => column.field.write_text(value, coop.digits),
            });
        }
        let out = match &mut file {
            Some(out) => out,
            None => {
                let made = std::fs::File::create(&path).map_err(|e| io(&path, &e))?;
                let mut out = std::io::BufWriter::new(made);
                let names = columns.iter().map(|c| column_name(c.field));
                let header: Vec<&str> = ["id"].into_iter().chain(names).collect();
                out.write_all(csv_text::line(&header).as_bytes()).map_err(|e| io(&path, &e))?;
                file.insert(out)
            }
        };
        count += 1;
        out.write_all(csv_text::line(&cells).as_bytes()).map_err(|e| io(&path, &e))
    })?;
    if let Some(mut out) = file {
        out.flush().map_err(|e| io(&path, &e))?;
    }
    Ok(count)
}

/// The code of a record that is referred to, or its id where it has none.
fn name_of(
    conn: &mut Conn,
    coop: &Coop,
    kind: Kind,
    id: Uuid,
    codes: &mut Codes,
) -> Result<String, AppError> {
    if let Some(known) = codes.get(&(kind, id)) {
        return Ok(known.clone().unwrap_or_else(|| id.to_string()));
    }
    let spec = kind.spec();
    let code = match spec.code {
        Some(code) if is_small(kind) => {
            let record = records::find(conn, coop.number, kind, id)?;
            // A withdrawn record can not be found by its code, and its code may be used again.
            let live = record.filter(|r| r.withdrawn_at.is_none());
            live.and_then(|r| spec.get(&r.values, code).as_text().map(str::to_owned))
        }
        _ => None,
    };
    codes.insert((kind, id), code.clone());
    Ok(code.unwrap_or_else(|| id.to_string()))
}

/// Batches and visits are many and known by their id; all else by its code.
fn is_small(kind: Kind) -> bool {
    !matches!(kind, Kind::Batch | Kind::Visit)
}
