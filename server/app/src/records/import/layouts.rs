//! How a co-operative's files are read, kept for next time by the words of their header.

use super::Source;
use crate::error::AppError;
use crate::{Actor, App};
use serde::{Deserialize, Serialize};
use sha2::{Digest as _, Sha256};
use std::collections::HashMap;
use std::fmt::Write as _;
use traybook_domain::Kind;
use traybook_domain::people::authz::Task;
use traybook_sheets::days::DayOrder;
use traybook_sheets::layout::{Goes, Layout, is_reason, target};
use traybook_sheets::words::normal;
use traybook_storage::records::import_layouts;

/// A layout as it is kept.
#[derive(Serialize, Deserialize)]
struct Kept {
    /// Name of the kind.
    kind: String,
    /// Headers, each with its field; an empty one is left out.
    columns: HashMap<String, String>,
    /// Fields with one value in all rows.
    fixed: Vec<(String, String)>,
    /// Order of days, where the file did not show it.
    days: Option<String>,
    /// Mark of decimals, where the file did not show it.
    mark: Option<char>,
}

impl Kept {
    fn of(layout: &Layout) -> Self {
        let columns = layout.columns.iter().filter_map(|place| match place.goes {
            Goes::To(target, _) => Some((normal(&place.header), target.name().to_owned())),
            Goes::Nowhere => Some((normal(&place.header), String::new())),
            Goes::Unknown => None,
        });
        let fixed = layout.fixed.iter().map(|(t, text)| (t.name().to_owned(), text.clone()));
        Self {
            kind: layout.kind.spec().one.to_owned(),
            columns: columns.collect(),
            fixed: fixed.collect(),
            days: layout.days.map(|d| d.name().to_owned()),
            mark: layout.mark,
        }
    }

    /// Puts it into a layout of the same header. What the file shows itself stays.
    fn put(self, layout: &mut Layout, source: &Source) {
        let Some(kind) = Kind::from_one(&self.kind) else { return };
        layout.kind = kind;
        for place in layout.columns.iter_mut().filter(|p| !is_reason(&p.header)) {
            place.goes = match self.columns.get(&normal(&place.header)).map(String::as_str) {
                Some("") => Goes::Nowhere,
                Some(name) => target(kind, name).map_or(Goes::Unknown, |t| Goes::To(t, u32::MAX)),
                None => Goes::Unknown,
            };
        }
        let fixed = self.fixed.into_iter();
        layout.fixed =
            fixed.filter_map(|(name, text)| Some((target(kind, &name)?, text))).collect();
        layout.look_at(&source.grid);
        layout.days = layout.days.or_else(|| DayOrder::parse(&self.days?));
        layout.mark = layout.mark.or(self.mark);
    }
}

/// The words of a header, as they are looked up.
fn key(layout: &Layout) -> String {
    let mut out = String::new();
    for byte in Sha256::digest(layout.headers().as_bytes()) {
        let _ = write!(out, "{byte:02x}");
    }
    out
}

impl App {
    /// Reads files as the co-operative last said of files with the same header.
    pub(super) async fn read_as_before(
        &self,
        actor: &Actor,
        mut files: Vec<Source>,
    ) -> Result<Vec<Source>, AppError> {
        actor.task(Task::Import)?;
        let coop = actor.coop.number;
        self.store
            .read(move |conn| {
                for source in files.iter_mut().filter(|s| s.unreadable.is_none()) {
                    let body = import_layouts::find(conn, coop, &key(&source.layout))?;
                    let kept = body.and_then(|body| serde_json::from_str::<Kept>(&body).ok());
                    if let Some(kept) = kept {
                        let mut layout = source.layout.clone();
                        kept.put(&mut layout, source);
                        source.layout = layout;
                    }
                }
                Ok(files)
            })
            .await
    }

    /// Keeps how files are read, for the next ones with the same header.
    ///
    /// # Errors
    /// `Forbidden`; those of the store.
    pub async fn keep_layouts(&self, actor: &Actor, files: &[Source]) -> Result<(), AppError> {
        actor.task(Task::Import)?;
        let body = |s: &Source| serde_json::to_string(&Kept::of(&s.layout)).ok();
        let kept: Vec<(String, String)> =
            files.iter().filter_map(|s| Some((key(&s.layout), body(s)?))).collect();
        let (coop, now) = (actor.coop.number, self.now().0);
        self.store
            .write(move |conn| {
                for (headers, body) in &kept {
                    import_layouts::keep(conn, coop, (headers, body), now)?;
                }
                Ok::<(), AppError>(())
            })
            .await
    }
}
