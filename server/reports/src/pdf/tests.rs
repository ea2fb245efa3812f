use super::*;
use chrono::NaiveDate;

fn about() -> About {
    About {
        title: "A title".to_owned(),
        author: "Somebody".to_owned(),
        language: "en".to_owned(),
        day: NaiveDate::from_ymd_opt(2026, 2, 28).unwrap(),
        page_of: "page {page} of {pages}".to_owned(),
    }
}

fn long_table(rows: usize) -> Table {
    let mut table = Table::new(&[("Name", 200.0, Align::Left), ("Number", 100.0, Align::Right)]);
    table.rows = (0..rows).map(|i| Row::of([format!("name {i}"), i.to_string()])).collect();
    table
}

/// All texts of a page, with the part that each belongs to.
fn texts(paper: &Paper, page: usize) -> Vec<(paper::Part, String)> {
    let text = |(part, what): &(paper::Part, paper::What)| match what {
        paper::What::Text { text, .. } => Some((*part, text.clone())),
        paper::What::Shape { .. } => None,
    };
    paper.pages.get(page).unwrap().iter().filter_map(text).collect()
}

#[test]
fn a_long_table_repeats_its_head_and_loses_no_row() {
    let mut paper = Paper::new(about()).unwrap();
    paper.table(&long_table(200));
    assert!(paper.pages.len() > 3);
    let mut seen = Vec::new();
    for page in 0..paper.pages.len() {
        let all = texts(&paper, page);
        assert_eq!(all.first().map(|t| t.1.as_str()), Some("Name"), "page {page}");
        // Read aloud, the head is said once.
        assert_eq!(all.first().map(|t| t.0 == paper::Part::Artifact), Some(page > 0));
        seen.extend(all.into_iter().filter(|t| t.1.starts_with("name ")).map(|t| t.1));
    }
    assert_eq!(seen, (0..200).map(|i| format!("name {i}")).collect::<Vec<_>>());
}

#[test]
fn nothing_stands_outside_the_paper() {
    let mut paper = Paper::new(about()).unwrap();
    paper.heading(1, &"long words in a heading ".repeat(9));
    paper.paragraph(&"Averyveryverylongword".repeat(40));
    let mut table = long_table(90);
    table.rows.push(Row::of(["x".repeat(400), "y".repeat(90)]));
    paper.table(&table);
    let (faces, pages) = ([paper.face(false).width("x", 1.0)], paper.pages.len());
    assert!(faces.iter().all(|w| *w > 0.0));
    for page in 0..pages {
        for (_, what) in paper.pages.get(page).unwrap() {
            let paper::What::Text { at, size, bold, text, .. } = what else { continue };
            let end = at.0 + paper.face(*bold).width(text, *size);
            assert!(at.0 >= paper::LEFT && end <= paper::LEFT + paper::WIDTH + 0.01, "{text}");
            assert!(at.1 > 20.0 && at.1 < paper::PAGE.1 - 40.0, "{text} at {}", at.1);
        }
    }
}

#[test]
fn the_same_document_is_the_same_bytes_and_says_its_language() {
    let make = || {
        let mut paper = Paper::new(about()).unwrap();
        paper.heading(1, "Mũthoni & Kĩmani 🐄");
        paper.table(&long_table(60));
        paper.finish().unwrap()
    };
    let bytes = make();
    assert_eq!(bytes, make());
    // ISO 32000-1: 7.5.2 header, 14.9.2 language, 14.7.1 marked.
    assert!(bytes.starts_with(b"%PDF-1."));
    let text = String::from_utf8_lossy(&bytes);
    for part in ["/Lang", "/Marked true", "/StructTreeRoot", "D:20260228000000"] {
        assert!(text.contains(part), "{part}");
    }
}
