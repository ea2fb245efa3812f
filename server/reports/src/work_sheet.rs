//! The work of some days on paper: for a member without a phone, or an officer's round.

use crate::csv_text::line;
use std::fmt::Write as _;

/// What the sheet itself says, in the language of its reader.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Texts {
    /// Tag of the language (BCP 47).
    pub language: String,
    /// Title of the whole; what stands where there is none, and where a farm has none.
    pub title: String,
    pub no_work: String,
    pub nothing: String,
    /// The columns: box to tick, time, work, amount.
    pub columns: [String; 4],
    /// What a box says to those who do not see it, ticked and empty.
    pub done: String,
    pub to_do: String,
    /// What stands before the reason of late work.
    pub late: String,
    /// What stands before the time of making.
    pub made: String,
    /// Caution below each page.
    pub footer: String,
    /// Days of the week, Monday first.
    pub weekdays: [String; 7],
}

#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Sheet {
    /// What it says besides the work.
    pub texts: Texts,
    pub cooperative: String,
    /// When it was made, in words.
    pub made_at: String,
    /// Farms and days.
    pub pages: Vec<Page>,
}

/// The work of one farm on one day.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Page {
    /// Day, YYYY-MM-DD, and its name.
    pub date: String,
    pub weekday: String,
    /// Area, farm, member, how to find it.
    pub area: String,
    pub farm: String,
    pub member: String,
    pub place: String,
    /// What to know before the work.
    pub warnings: Vec<String>,
    /// The work.
    pub rows: Vec<Row>,
}

/// One line of work.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Row {
    /// Task and state.
    pub task: String,
    pub state: String,
    /// Time of day, HH:MM.
    pub time: String,
    /// Shed, animal group, trays, kg, seed lot, day of feeding.
    pub shed: String,
    pub group: String,
    pub trays: String,
    pub kg: String,
    pub lot: String,
    pub feed_on: String,
    /// The whole in a sentence.
    pub sentence: String,
    /// Why it is late or moved.
    pub why: String,
    pub cautions: Vec<String>,
}

const COLUMNS: [&str; 16] = [
    "date",
    "area",
    "farm",
    "member",
    "task",
    "state",
    "time",
    "shed",
    "animal_group",
    "trays",
    "kg",
    "seed_lot",
    "feed_on",
    "sentence",
    "why",
    "cautions",
];

/// Task of the lines of CSV that warn.
const WARNING: &str = "warning";

/// The sheet as CSV: one line of work a line, after the warnings of its farm and day.
#[must_use]
pub fn csv(sheet: &Sheet) -> String {
    let mut out = line(&COLUMNS);
    for page in &sheet.pages {
        for warning in &page.warnings {
            let mut cells = [page.date.as_str(), &page.area, &page.farm, &page.member, WARNING]
                .map(str::to_owned)
                .to_vec();
            cells.resize(COLUMNS.len() - 3, String::new());
            cells.extend([warning.clone(), String::new(), String::new()]);
            out.push_str(&line(&cells));
        }
        for row in &page.rows {
            let cautions = row.cautions.join("; ");
            out.push_str(&line(&[
                &page.date,
                &page.area,
                &page.farm,
                &page.member,
                &row.task,
                &row.state,
                &row.time,
                &row.shed,
                &row.group,
                &row.trays,
                &row.kg,
                &row.lot,
                &row.feed_on,
                &row.sentence,
                &row.why,
                &cautions,
            ]));
        }
    }
    out
}

/// What the sheet looks like on paper: black on white, a box to tick, a line to write on.
pub const STYLE: &str = "body{font:11pt/1.35 serif;color:#000;background:#fff;margin:1.2em}\
section{break-after:page;max-width:46em;margin-bottom:2.5em}section:last-child{break-after:auto}\
h1{font-size:15pt;margin:0}p{margin:.2em 0}.w{border:2px solid #000;padding:.3em .6em;margin:.5em 0}\
table{border-collapse:collapse;width:100%;margin-top:.6em}\
th,td{border-bottom:1px solid #000;padding:.35em .4em;text-align:left;vertical-align:top}\
th{font-weight:bold}td.t{white-space:nowrap}td.b{width:1.6em}td.n{width:9em}\
.b i{display:inline-block;width:1em;height:1em;border:1.5px solid #000}\
.d i{background:#000}.l{font-weight:bold}.c{font-style:italic}footer{margin-top:1em;font-size:9pt}\
@media(max-width:30em){td.n,th.n{display:none}}";

/// The sheet as a page to print.
#[must_use]
pub fn html(sheet: &Sheet) -> String {
    let texts = &sheet.texts;
    let mut out = String::from("<!doctype html>\n");
    let _ = write!(out, "<html lang=\"{}\"><head><meta charset=\"utf-8\">", text(&texts.language));
    out.push_str("<meta name=\"viewport\" content=\"width=device-width\">");
    let _ = write!(out, "<title>{}, {}</title>", text(&texts.title), text(&sheet.cooperative));
    let _ = write!(out, "<style>{STYLE}</style></head><body>\n<main>");
    if sheet.pages.is_empty() {
        let _ = write!(out, "<section><h1>{}</h1></section>", text(&texts.no_work));
    }
    for page in &sheet.pages {
        section(&mut out, sheet, page);
    }
    out.push_str("</main></body></html>\n");
    out
}

fn section(out: &mut String, sheet: &Sheet, page: &Page) {
    let texts = &sheet.texts;
    let _ = write!(
        out,
        "\n<section><h1>{} · {} {}</h1><p>{}, {}{}</p>",
        text(&page.farm),
        text(&page.weekday),
        text(&page.date),
        text(&page.member),
        text(&page.area),
        if page.place.is_empty() { String::new() } else { format!(" · {}", text(&page.place)) }
    );
    for warning in &page.warnings {
        let _ = write!(out, "<p class=\"w\">{}</p>", text(warning));
    }
    if page.rows.is_empty() {
        let _ = write!(out, "<p>{}</p>", text(&texts.nothing));
    } else {
        let [done, time, work, amount] = texts.columns.each_ref().map(|c| text(c));
        let _ = write!(
            out,
            "<table><thead><tr><th><span>{done}</span></th><th>{time}</th><th>{work}</th>\
             <th class=\"n\">{amount}</th></tr></thead><tbody>"
        );
        for line in &page.rows {
            row(out, texts, line);
        }
        out.push_str("</tbody></table>");
    }
    let _ = write!(
        out,
        "<footer>{}, {} {}. {}</footer></section>",
        text(&sheet.cooperative),
        text(&texts.made),
        text(&sheet.made_at),
        text(&texts.footer)
    );
}

fn row(out: &mut String, texts: &Texts, row: &Row) {
    let (class, says) = match row.state.as_str() {
        "done" => (" d", &texts.done),
        _ => ("", &texts.to_do),
    };
    let late = row.state == "late";
    let _ = write!(
        out,
        "<tr><td class=\"b{class}\"><i role=\"img\" aria-label=\"{}\"></i></td>\
         <td class=\"t\">{}</td><td><span{}>{}</span>",
        text(says),
        text(&row.time),
        if late { " class=\"l\"" } else { "" },
        text(&row.sentence)
    );
    if !row.why.is_empty() {
        let before = if late { format!("{}: ", text(&texts.late)) } else { String::new() };
        let _ = write!(out, "<br>{before}{}", text(&row.why));
    }
    for caution in &row.cautions {
        let _ = write!(out, "<br><span class=\"c\">{}</span>", text(caution));
    }
    out.push_str("</td><td class=\"n\"></td></tr>");
}

/// Text within HTML.
fn text(raw: &str) -> String {
    let mut out = String::with_capacity(raw.len());
    for c in raw.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            c => out.push(c),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sheet() -> Sheet {
        let row = Row {
            task: "soak".to_owned(),
            state: "late".to_owned(),
            time: "07:00".to_owned(),
            shed: "S<1>".to_owned(),
            group: "cows".to_owned(),
            trays: "2".to_owned(),
            kg: "4".to_owned(),
            lot: "=L1".to_owned(),
            feed_on: "2026-03-09".to_owned(),
            sentence: "soak 4 kg barley in S<1> & feed".to_owned(),
            why: "was due 1 day ago".to_owned(),
            cautions: vec!["keep it apart".to_owned()],
        };
        let page = Page {
            date: "2026-03-01".to_owned(),
            weekday: "Sunday".to_owned(),
            area: "North".to_owned(),
            farm: "F1".to_owned(),
            member: "Asha <b>".to_owned(),
            place: String::new(),
            warnings: vec!["lot L1 is held".to_owned()],
            rows: vec![row],
        };
        let texts = Texts {
            language: "en".to_owned(),
            late: "late".to_owned(),
            columns: ["Done", "Time", "<Work>", "Amount"].map(str::to_owned),
            ..Texts::default()
        };
        let (cooperative, made_at) = ("A & B".to_owned(), "today".to_owned());
        Sheet { texts, cooperative, made_at, pages: vec![page] }
    }

    #[test]
    fn html_escapes_what_people_wrote() {
        let html = html(&sheet());
        assert!(html.contains("soak 4 kg barley in S&lt;1&gt; &amp; feed"));
        assert!(html.contains("Asha &lt;b&gt;") && !html.contains("<b>"));
        assert!(html.contains("<html lang=\"en\">") && html.contains("<th>&lt;Work&gt;</th>"));
        assert!(html.contains("late: was due 1 day ago") && html.contains("lot L1 is held"));
    }

    #[test]
    fn csv_holds_one_line_of_work_a_line_and_no_formula() {
        let csv = csv(&sheet());
        assert_eq!(csv.lines().count(), 3);
        let warning = csv.lines().nth(1).expect("a line");
        assert_eq!(warning, "2026-03-01,North,F1,Asha <b>,warning,,,,,,,,,lot L1 is held,,");
        let second = csv.lines().nth(2).expect("a line");
        assert!(
            second.starts_with("2026-03-01,North,F1,Asha <b>,soak,late,07:00,S<1>,cows,2,4,'=L1,")
        );
    }
}
