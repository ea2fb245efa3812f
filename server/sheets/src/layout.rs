//! Which row of a sheet names the columns, which kind of record it holds, and where each column
//! goes: guessed from words, kept or changed by a person.

use crate::columns::{KEPT_IN_SHEETS, Target, kind_of_name, targets};
use crate::days::{DayOrder, order_shown};
use crate::values::{Habits, canonical, is_nothing, mark_shown, unit_of_header};
use crate::words::{self, AMONG, COMMON, NAMED, normal};
use crate::{Cell, Grid, Row};
use std::cmp::Reverse;
use std::collections::HashSet;
use traybook_domain::records::written::{self, Reading};
use traybook_domain::{FieldError, FieldKind, Kind};
use traybook_speech::Language;

/// Rows among which the header is looked for.
const HEADER_WITHIN: usize = 40;
/// What the name of a kind's own file weighs against the words of a header: as much as some four
/// columns.
const NAMED_FILE: i64 = 400;
/// What a name weighs in which the kind stands among other words.
const NAMED_AMONG: i64 = 150;
/// First words of a row of sums.
const SUMS: [&str; 6] = ["total", "totals", "grand total", "sum", "jumla", "jumla kuu"];

/// A column of a file.
#[derive(Clone, Debug)]
pub struct Place {
    /// What stands above it.
    pub header: String,
    pub goes: Goes,
}

/// Where a column goes.
#[derive(Clone, Copy, Debug)]
pub enum Goes {
    /// To a field, with how sure that is.
    To(Target, u32),
    /// Nobody has said.
    Unknown,
    /// It is left out.
    Nowhere,
}

/// How a sheet is read.
#[derive(Clone, Debug)]
pub struct Layout {
    /// What each row is.
    pub kind: Kind,
    /// Position of the header among the rows.
    pub header: usize,
    /// The columns of the header.
    pub columns: Vec<Place>,
    /// Fields that have one value in all rows.
    pub fixed: Vec<(Target, String)>,
    /// Order of day and month, where it is known.
    pub days: Option<DayOrder>,
    /// The mark of decimals, where it is known.
    pub mark: Option<char>,
}

/// A row's cells by their place in the file, those of fixed fields behind them; and what can mean
/// two things.
pub struct Canonical {
    /// Cells as the record's rules read them.
    pub cells: Vec<String>,
    /// Positions that can not be read, with the reason.
    pub wrong: Vec<(usize, FieldError)>,
}

/// How well a row fits as the header of a kind.
struct Fit {
    kind: Kind,
    score: i64,
    matched: usize,
    goes: Vec<Goes>,
}

/// Whether a column holds why rows were refused before: it is read past.
#[must_use]
pub fn is_reason(header: &str) -> bool {
    let header = normal(header);
    let of = |language: Language| normal(&language.text("import-refused-why")) == header;
    Language::ALL.iter().copied().any(of)
}

/// The target that a name has in a kind's file.
#[must_use]
pub fn target(kind: Kind, name: &str) -> Option<Target> {
    targets(kind).into_iter().find(|t| t.name() == name)
}

/// Where the columns go, each target once, the surest first.
fn places(kind: Kind, header: &[Cell]) -> Vec<Goes> {
    let all = targets(kind);
    let mut meant: Vec<(Reverse<u32>, usize, usize)> = Vec::new();
    for (position, cell) in header.iter().enumerate().filter(|(_, c)| !c.text.is_empty()) {
        meant.extend(meanings(kind, &cell.text).map(|(to, sure)| (Reverse(sure), position, to)));
    }
    meant.sort_unstable();
    let first = |cell: &Cell| if is_reason(&cell.text) { Goes::Nowhere } else { Goes::Unknown };
    let mut goes: Vec<Goes> = header.iter().map(first).collect();
    let mut taken = HashSet::new();
    for (Reverse(sure), position, to) in meant {
        let is_free = matches!(goes.get(position), Some(Goes::Unknown));
        // A name that stands twice stays twice, so that it is refused and not half read.
        let fits = sure == NAMED || !taken.contains(&to);
        if let (true, true, Some(target), Some(slot)) =
            (is_free, fits, all.get(to), goes.get_mut(position))
        {
            taken.insert(to);
            *slot = Goes::To(*target, sure);
        }
    }
    goes
}

/// What a header can mean: by all of it, without its brackets or unit, or by some of its words.
fn meanings(kind: Kind, header: &str) -> impl Iterator<Item = (usize, u32)> {
    let known = words::of_kind(kind);
    let whole = normal(header);
    let outside = normal(header.split(['(', '[', ',']).next().unwrap_or_default());
    let exact = [whole.as_str(), outside.as_str()].into_iter().find_map(|t| known.get(t));
    let mut found: Vec<(usize, u32)> =
        exact.into_iter().flatten().map(|m| (m.target, m.sure)).collect();
    if found.is_empty() {
        let words: HashSet<&str> = whole.split(' ').collect();
        for (word, meant) in known {
            let count = word.split(' ').count();
            if word.split(' ').all(|w| words.contains(w)) {
                let sure = AMONG + u32::try_from(count).unwrap_or(0);
                found.extend(meant.iter().map(|m| (m.target, sure)));
            }
        }
    }
    found.into_iter()
}

fn fit(kind: Kind, header: &[Cell], hint: i64) -> Fit {
    let goes = places(kind, header);
    let (mut score, mut matched, mut needed) = (hint, 0, 0);
    for (cell, goes) in header.iter().zip(&goes) {
        match goes {
            Goes::To(target, sure) => {
                matched += 1;
                needed += i64::from(target.is_required());
                score += i64::from(*sure);
            }
            Goes::Nowhere => {}
            Goes::Unknown if cell.text.is_empty() => {}
            Goes::Unknown => score -= 30,
        }
    }
    let required = targets(kind).iter().filter(|t| t.is_required()).count();
    score += 60 * needed - 40 * (i64::try_from(required).unwrap_or(0) - needed);
    Fit { kind, score, matched, goes }
}

/// Whether the words of a kind stand in the name of a file or sheet.
fn hint(kind: Kind, name: &str) -> i64 {
    let name = normal(name);
    let words: HashSet<&str> = name.split(' ').collect();
    let spec = kind.spec();
    let is_named = |text: &str| normal(text).split(' ').all(|w| words.contains(w));
    let label = |l: &Language| l.known(&format!("kind-{}", spec.one), &[]).unwrap_or_default();
    let labels: Vec<String> = Language::ALL.iter().map(label).collect();
    let named = [spec.path, spec.one].into_iter().chain(labels.iter().map(String::as_str));
    if named.filter(|t| !t.is_empty()).any(is_named) { NAMED_AMONG } else { 0 }
}

impl Layout {
    /// Guesses how a sheet is read; `file` is the name of its file, `kind` what it holds where a
    /// person has said that.
    #[must_use]
    pub fn guess(grid: &Grid, file: &str, kind: Option<Kind>) -> Self {
        let named = kind_of_name(&grid.name).or_else(|| kind_of_name(file));
        let mut kinds = kind.map_or_else(|| KEPT_IN_SHEETS.to_vec(), |kind| vec![kind]);
        kinds.extend(named.filter(|named| kind.is_none() && !kinds.contains(named)));
        let names = format!("{file} {}", grid.name);
        let hint = |k: &Kind| if named == Some(*k) { NAMED_FILE } else { hint(*k, &names) };
        let hints: Vec<i64> = kinds.iter().map(hint).collect();
        let mut best: Option<(usize, Fit)> = None;
        for (at, row) in grid.rows.iter().enumerate().take(HEADER_WITHIN) {
            // Two words at least, or one that names a column: a title may hold one of them.
            for (kind, hint) in kinds.iter().zip(&hints) {
                let fit = fit(*kind, &row.cells, *hint);
                let is_header = fit.matched > 0 && (fit.matched > 1 || row.cells.len() == 1);
                if is_header && best.as_ref().is_none_or(|(_, b)| fit.score > b.score) {
                    best = Some((at, fit));
                }
            }
        }
        let none = || {
            let kind = kind.or(named).unwrap_or(Kind::Member);
            let header = grid.rows.first().map_or(&[][..], |row| &row.cells);
            (0, fit(kind, header, 0))
        };
        let (header, fit) = best.unwrap_or_else(none);
        let cells = grid.rows.get(header).map_or(&[][..], |row| &row.cells);
        let place = |(cell, goes): (&Cell, Goes)| Place { header: cell.text.clone(), goes };
        let columns = cells.iter().zip(fit.goes).map(place).collect();
        let mut layout =
            Self { kind: fit.kind, header, columns, fixed: Vec::new(), days: None, mark: None };
        layout.look_at(grid);
        layout
    }

    /// Takes from the file's own values what they show: order of days, mark of decimals.
    pub fn look_at(&mut self, grid: &Grid) {
        self.days = self.days_shown(grid).order();
        let shown = mark_shown(self.texts(grid, Self::is_number));
        // Programs part cells by a semicolon where the comma is the decimal mark, and by a comma
        // where the point is.
        let usual = match grid.separator {
            Some(';') => Some(','),
            Some(',') => Some('.'),
            _ => None,
        };
        self.mark = shown.or(usual);
    }

    fn days_shown(&self, grid: &Grid) -> crate::days::Shown {
        let is_day = |t: &Target| {
            let kind = t.field().map(|f| f.kind);
            matches!(kind, Some(FieldKind::Date { .. } | FieldKind::Instant))
        };
        order_shown(self.texts(grid, is_day))
    }

    fn is_number(target: &Target) -> bool {
        let kind = target.field().map(|f| f.kind);
        matches!(kind, Some(FieldKind::Decimal { .. } | FieldKind::Int { .. } | FieldKind::Money))
    }

    /// The texts of columns, without those that the file says exactly.
    fn texts<'g>(
        &self,
        grid: &'g Grid,
        of: impl Fn(&Target) -> bool,
    ) -> impl Iterator<Item = &'g str> {
        let is_wanted = |(_, place): &(usize, &Place)| match place.goes {
            Goes::To(target, _) => of(&target),
            _ => false,
        };
        let positions: Vec<usize> =
            self.columns.iter().enumerate().filter(is_wanted).map(|(at, _)| at).collect();
        grid.rows.iter().skip(self.header + 1).flat_map(move |row| {
            let cells: Vec<&Cell> = positions.iter().filter_map(|at| row.cells.get(*at)).collect();
            cells.into_iter().filter(|c| !c.is_exact && !c.text.is_empty()).map(|c| c.text.as_str())
        })
    }

    /// Whether a person must say which comes first, day or month.
    #[must_use]
    pub fn days_are_open(&self, grid: &Grid) -> bool {
        self.days.is_none() && !self.is_exported() && self.days_shown(grid).must_be_asked()
    }

    /// Whether a person must say what comma and point mean.
    #[must_use]
    pub fn mark_is_open(&self, grid: &Grid) -> bool {
        let is_open = |text: &str| matches!(written::read(text, 3), Reading::Two(..));
        let of_three = |t: &Target| t.field().and_then(|f| f.scale(0)) == Some(3);
        self.mark.is_none() && !self.is_exported() && self.texts(grid, of_three).any(is_open)
    }

    /// Whether it holds what was exported: it is read to the letter.
    #[must_use]
    pub fn is_exported(&self) -> bool {
        self.columns.iter().any(|p| matches!(p.goes, Goes::To(Target::Id, _)))
    }

    /// Required fields that neither a column nor a fixed value gives.
    #[must_use]
    pub fn missing(&self) -> Vec<Target> {
        let given: HashSet<&str> = self.given().map(|t| t.name()).collect();
        let all = targets(self.kind).into_iter();
        all.filter(|t| t.is_required() && !given.contains(t.name())).collect()
    }

    /// Columns that are known by their name or a common word.
    #[must_use]
    pub fn known(&self) -> usize {
        let is_known = |p: &&Place| matches!(p.goes, Goes::To(_, sure) if sure >= COMMON);
        self.columns.iter().filter(is_known).count()
    }

    /// Whether the header tells what the rows are: every field that they need has its column.
    #[must_use]
    pub fn is_known(&self) -> bool {
        self.known() > 1 && self.missing().is_empty()
    }

    /// Whether the sheet looks like records: two columns are known, and at least half of them.
    #[must_use]
    pub fn is_likely(&self) -> bool {
        let named = self.columns.iter().filter(|p| !p.header.is_empty()).count();
        self.is_known() || (self.known() > 1 && self.known() * 2 >= named)
    }

    fn given(&self) -> impl Iterator<Item = Target> {
        let of_columns = self.columns.iter().filter_map(|p| match p.goes {
            Goes::To(target, _) => Some(target),
            _ => None,
        });
        of_columns.chain(self.fixed.iter().map(|(target, _)| *target))
    }

    /// Whether every column is known by its name or a common word, nothing is missing, and nothing
    /// can mean two things.
    #[must_use]
    pub fn is_sure(&self, grid: &Grid) -> bool {
        let is_known = |p: &Place| match p.goes {
            Goes::To(_, sure) => sure >= COMMON,
            Goes::Unknown => p.header.is_empty(),
            Goes::Nowhere => true,
        };
        let is_known = self.columns.iter().all(is_known) && self.missing().is_empty();
        is_known && !self.days_are_open(grid) && !self.mark_is_open(grid)
    }

    /// Leaves only what is sure: what was guessed among other words is for a person to say.
    #[must_use]
    pub fn only_sure(mut self) -> Self {
        for place in &mut self.columns {
            if matches!(place.goes, Goes::To(_, sure) if sure < COMMON) {
                place.goes = Goes::Unknown;
            }
        }
        self
    }

    /// What the header says, whatever the order of its columns: by it a layout is found again.
    #[must_use]
    pub fn headers(&self) -> String {
        let named = self.columns.iter().map(|p| &p.header).filter(|header| !is_reason(header));
        let mut headers: Vec<String> = named.map(|header| normal(header)).collect();
        headers.retain(|h| !h.is_empty());
        headers.sort_unstable();
        headers.join("\n")
    }

    /// The rows below the header, without sums and repeated headers; and how many these are.
    #[must_use]
    pub fn rows<'g>(&self, grid: &'g Grid) -> (Vec<&'g Row>, usize) {
        let header = grid.rows.get(self.header).map(|row| &row.cells);
        let below: Vec<&Row> = grid.rows.iter().skip(self.header + 1).collect();
        let is_data = |row: &&&Row| {
            let first = row.cells.iter().find(|c| !c.text.is_empty());
            let is_sum = first.is_some_and(|c| SUMS.contains(&normal(&c.text).as_str()));
            self.is_exported() || (!is_sum && Some(&row.cells) != header)
        };
        let kept: Vec<&Row> = below.iter().filter(is_data).copied().collect();
        let left_out = below.len() - kept.len();
        (kept, left_out)
    }

    /// A row as the record's rules read it.
    #[must_use]
    pub fn canonical(&self, row: &Row, habits: &Habits) -> Canonical {
        let (mut cells, mut wrong) = (Vec::with_capacity(self.columns.len()), Vec::new());
        let empty = Cell::default();
        let is_exported = self.is_exported();
        for (at, place) in self.columns.iter().enumerate() {
            let cell = row.cells.get(at).unwrap_or(&empty);
            let field = match place.goes {
                Goes::To(target, _) => target.field(),
                _ => None,
            };
            let Some(field) = field.filter(|_| !is_exported) else {
                cells.push(cell.text.clone());
                continue;
            };
            let power = unit_of_header(field, &place.header);
            cells.push(canonical(field, power, cell, habits).unwrap_or_else(|error| {
                wrong.push((at, error));
                String::new()
            }));
        }
        for (target, text) in &self.fixed {
            let at = cells.len();
            let read = target.field().map(|f| canonical(f, 0, &Cell::text(text), habits));
            cells.push(read.unwrap_or_else(|| Ok(text.clone())).unwrap_or_else(|error| {
                wrong.push((at, error));
                String::new()
            }));
        }
        Canonical { cells, wrong }
    }

    /// A row whose line was cut off, or that has more than its header: cells it has and should
    /// have.
    #[must_use]
    pub fn is_cut(&self, row: &Row) -> Option<(usize, usize)> {
        let want = self.columns.len();
        let beyond = row.cells.iter().skip(want).any(|c| !is_nothing(&c.text));
        let got = row.width.filter(|width| *width < want);
        got.or_else(|| beyond.then_some(row.cells.len())).map(|got| (got, want))
    }
}

/// Habits of a co-operative's file.
#[must_use]
pub fn habits(layout: &Layout, currency: &str, digits: u8, year: i32) -> Habits {
    Habits { days: layout.days, mark: layout.mark, currency: currency.to_owned(), digits, year }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::text;

    fn grid(text: &str) -> Grid {
        text::read(text.as_bytes(), 10_000).expect("readable")
    }

    fn names(layout: &Layout) -> Vec<&'static str> {
        let name = |p: &Place| match p.goes {
            Goes::To(target, _) => target.name(),
            Goes::Unknown => "?",
            Goes::Nowhere => "-",
        };
        layout.columns.iter().map(name).collect()
    }

    #[test]
    fn kinds_and_columns_are_guessed_in_both_languages() {
        for (file, text, kind, columns) in [
            (
                "list.csv",
                "Ufugaji group\n\nNo.,Farmer's name,Gender,Village,Phone no.,Joined\n",
                Kind::Member,
                vec!["number", "name", "sex", "area", "phone", "joined_on"],
            ),
            (
                "wanachama.csv",
                "Namba,Jina kamili,Jinsia,Kijiji,Simu,Lugha,Ridhaa,Tarehe ya kujiunga\n",
                Kind::Member,
                vec!["number", "name", "sex", "area", "phone", "language", "consent", "joined_on"],
            ),
            (
                "march.csv",
                "Date;Farm;Milking;Milk (litres);Cows milked;Sold\n",
                Kind::MilkRecord,
                vec!["date", "animal_group", "session", "litres", "animals_in_milk", "sold_litres"],
            ),
            (
                "feed bought.csv",
                "Tarehe,Shamba,Chakula,Kilo,Bei\n",
                Kind::FeedPurchase,
                vec!["date", "farm", "feed", "kg", "cost"],
            ),
        ] {
            let layout = Layout::guess(&grid(text), file, None);
            assert_eq!((layout.kind, names(&layout)), (kind, columns), "{file}");
        }
    }

    #[test]
    fn what_is_not_known_is_left_to_a_person() {
        let sheet = grid("code,member,area,shoe size\nF1,M1,North,44\n");
        let layout = Layout::guess(&sheet, "farms.csv", None);
        assert_eq!(names(&layout), ["code", "member", "area", "?"]);
        assert!(!layout.is_sure(&sheet));
        let sheet = grid("code,member,area\nF1,M1,North\n");
        assert!(Layout::guess(&sheet, "farms.csv", None).is_sure(&sheet));
        let among = grid("code,name of the member,area\n");
        let layout = Layout::guess(&among, "farms.csv", None);
        assert_eq!(names(&layout), ["code", "member", "area"]);
        assert!(!layout.is_sure(&among), "a guess among other words is asked");
        assert_eq!(names(&layout.only_sure()), ["code", "?", "area"]);
        let twice = Layout::guess(&grid("code,code,member,area\n"), "farms.csv", None);
        assert_eq!(names(&twice), ["code", "code", "member", "area"]);
    }

    #[test]
    fn sums_titles_and_repeated_headers_are_no_rows() {
        let sheet = grid(
            "Feed of March\nDate,Farm,Feed,Kg,Cost\n25/3/2026,F1,Bran,70 kg,\"42,000\"\n\
             Date,Farm,Feed,Kg,Cost\nTotal,,,70,\n",
        );
        let layout = Layout::guess(&sheet, "feed purchases.csv", None);
        let (rows, left_out) = layout.rows(&sheet);
        assert_eq!((rows.len(), left_out, rows[0].line), (1, 2, 3));
        let habits = habits(&layout, "TZS", 2, 2026);
        let row = layout.canonical(rows[0], &habits);
        assert_eq!(
            (row.cells, row.wrong),
            (["2026-03-25", "F1", "Bran", "70", "42000"].map(str::to_owned).to_vec(), vec![])
        );
    }

    #[test]
    fn what_can_mean_two_things_is_open_until_it_is_said() {
        let sheet = grid("date\tfarm\tfeed\tkg\tcost\n5/3/2026\tF1\tBran\t1,250\t10\n");
        let mut layout = Layout::guess(&sheet, "feed_purchases.csv", None);
        assert!(layout.days_are_open(&sheet) && layout.mark_is_open(&sheet));
        layout.days = Some(DayOrder::DayFirst);
        layout.mark = Some('.');
        assert!(layout.is_sure(&sheet));
        let commas = grid("date,farm,feed,kg,cost\n25/3/2026,F1,Bran,\"1,250\",10\n");
        let layout = Layout::guess(&commas, "feed_purchases.csv", None);
        assert_eq!((layout.days, layout.mark), (Some(DayOrder::DayFirst), Some('.')));
    }

    #[test]
    fn what_is_missing_can_have_one_value_in_all_rows() {
        let sheet = grid("date,farm,litres,cows\n2026-03-25,F1,12.5,2\n");
        let mut layout = Layout::guess(&sheet, "milk.csv", None);
        assert_eq!(layout.missing().iter().map(Target::name).collect::<Vec<_>>(), ["session"]);
        layout.fixed = target(Kind::MilkRecord, "session")
            .map(|t| (t, "Whole day".to_owned()))
            .into_iter()
            .collect();
        assert!(layout.is_sure(&sheet));
        let row = layout.canonical(layout.rows(&sheet).0[0], &habits(&layout, "TZS", 2, 2026));
        assert_eq!(row.cells.last().map(String::as_str), Some("day"));
    }

    #[test]
    fn an_exported_file_is_read_to_the_letter() {
        let text = "id,number,name,area,sex,phone,language,consent,joined_on\n\
                    x,M1,-,North,female,0712345678,sw,yes,2025-01-01\n";
        let sheet = grid(text);
        let layout = Layout::guess(&sheet, "members.csv", None);
        assert!(layout.is_sure(&sheet));
        let row = layout.canonical(layout.rows(&sheet).0[0], &habits(&layout, "TZS", 2, 2026));
        assert_eq!(row.cells[2], "-");
        assert_eq!(row.cells[5], "0712345678");
    }
}
