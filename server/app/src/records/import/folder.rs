//! Files of a folder on this machine, as sources of an import.

use super::Source;
use std::path::Path;
use traybook_domain::{Kind, limits};
use traybook_sheets::columns::{Target, file_name, kind_of_name};
use traybook_sheets::days::DayOrder;
use traybook_sheets::layout::{Goes, Layout, target};
use traybook_sheets::words::normal;

/// What a person says of files beside what stands in them.
#[derive(Clone, Debug, Default)]
pub struct Said {
    /// Order of day and month.
    pub days: Option<DayOrder>,
    /// The mark of decimals.
    pub mark: Option<char>,
    /// Columns by what stands above them: the field's name, or nothing to leave it out.
    pub columns: Vec<(String, String)>,
    /// Fields that have one value in all rows.
    pub fixed: Vec<(String, String)>,
}

impl Said {
    /// Puts what was said into a layout.
    fn put(&self, layout: &mut Layout) {
        layout.days = self.days.or(layout.days);
        layout.mark = self.mark.or(layout.mark);
        for (header, name) in &self.columns {
            let to = target(layout.kind, &name.to_lowercase().replace([' ', '-'], "_"));
            for place in &mut layout.columns {
                if normal(&place.header) == normal(header) {
                    place.goes = match to {
                        Some(target) => Goes::To(target, u32::MAX),
                        None if name.is_empty() => Goes::Nowhere,
                        None => Goes::Unknown,
                    };
                }
            }
        }
        let fixed =
            |(name, text): &(String, String)| Some((target(layout.kind, name)?, text.clone()));
        let missing: Vec<&str> = layout.missing().iter().map(Target::name).collect();
        let fixed: Vec<(Target, String)> = self.fixed.iter().filter_map(fixed).collect();
        layout.fixed = fixed.into_iter().filter(|(t, _)| missing.contains(&t.name())).collect();
    }
}

/// The files of a folder, or one file, in the order of dependence. What is guessed among other
/// words is left unknown: nobody is there to look at it.
///
/// # Errors
/// What is wrong with the folder or a file, in plain words.
pub fn read_folder(folder: &Path) -> Result<Vec<Source>, String> {
    read_files(folder, &Said::default())
}

/// The same, with what somebody says of the files.
pub fn read_files(folder: &Path, said: &Said) -> Result<Vec<Source>, String> {
    let shown = folder.display();
    let mut paths = vec![folder.to_owned()];
    if folder.is_dir() {
        let entries = std::fs::read_dir(folder).map_err(|e| format!("{shown}: {e}"))?;
        let paths_of = entries.map(|e| e.map(|e| e.path()).map_err(|e| format!("{shown}: {e}")));
        paths = paths_of.collect::<Result<_, String>>()?;
        paths.sort();
    }
    let mut found = Vec::new();
    for path in paths {
        let name = path.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
        let lower = name.to_lowercase();
        let is_sheet = [".csv", ".tsv", ".xlsx"].iter().any(|end| lower.ends_with(end));
        if is_sheet && !name.starts_with(['.', '~']) {
            found.extend(one_file(&path, &name, said)?);
        }
    }
    if found.is_empty() {
        return Err(format!("{shown}: there is no CSV or XLSX file here"));
    }
    found.sort_by_key(|source| source.layout.kind);
    Ok(found)
}

fn one_file(path: &Path, name: &str, said: &Said) -> Result<Vec<Source>, String> {
    let shown = path.display();
    let size = std::fs::metadata(path).map_err(|e| format!("{shown}: {e}"))?.len();
    if size > limits::CSV_BYTES_MAX {
        return Err(format!("{shown}: larger than {} bytes; cut it", limits::CSV_BYTES_MAX));
    }
    let bytes = std::fs::read(path).map_err(|e| format!("{shown}: {e}"))?;
    let mut sources = Source::of_file(name, &bytes, limits::IMPORT_CELLS_MAX);
    for source in &mut sources {
        source.layout = source.layout.clone().only_sure();
        said.put(&mut source.layout);
        let is_named = kind_of_name(name).or_else(|| kind_of_name(&source.grid.name)).is_some();
        if !is_named && source.unreadable.is_none() && !source.layout.is_likely() {
            let known: Vec<String> = Kind::ALL.iter().map(|k| file_name(*k)).collect();
            return Err(format!(
                "{shown}: no record kind has this name, and the columns do not show one; known \
                 are {}",
                known.join(", ")
            ));
        }
    }
    Ok(sources)
}
