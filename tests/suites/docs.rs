//! The texts for readers: what they name exists, and they stay short.

use std::path::{Path, PathBuf};

/// The texts, from the root.
const TEXTS: [&str; 13] = [
    "server/cli/CHANGELOG.md",
    "README.md",
    "DEVELOPERS.md",
    "server/cli/COMMANDS.md",
    "server/cli/FILES.md",
    "server/cli/SECURITY.md",
    "server/cli/SERVE.md",
    "server/cli/SEVERAL.md",
    "server/http/API.md",
    "server/http/NOTES.md",
    "server/app/NOTES.md",
    "server/storage/NOTES.md",
    "server/reports/NOTES.md",
];
/// Words in a paragraph, a line of a list or a row of a table.
const WORDS_MAX: usize = 80;
/// Ends of names that are files wherever they stand.
const ENDS: [&str; 11] =
    ["rs", "md", "sql", "toml", "ftl", "css", "js", "html", "py", "txt", "webmanifest"];
/// What looks like a file and is none of ours: made when the program runs or is built, or a media
/// type.
const NO_FILES: [&str; 5] = ["traybook-data/", "target/", "application/", "text/", "Africa/"];

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..")
}

fn read(path: &str) -> String {
    std::fs::read_to_string(root().join(path)).unwrap_or_else(|e| panic!("{path}: {e}"))
}

/// The text without its blocks of code, and these.
fn apart(text: &str) -> (String, String) {
    let (mut prose, mut code, mut is_code) = (String::new(), String::new(), false);
    for line in text.lines() {
        if line.trim_start().starts_with("```") {
            is_code = !is_code;
            prose.push('\n');
            continue;
        }
        let into = if is_code { &mut code } else { &mut prose };
        into.push_str(line);
        into.push('\n');
    }
    (prose, code)
}

/// What stands in backticks.
fn spans(prose: &str) -> Vec<&str> {
    prose.split('`').skip(1).step_by(2).collect()
}

/// Where links and pictures lead to, inside the repository.
fn links(prose: &str) -> Vec<&str> {
    let ends = |opening: &str, closing: char| {
        let parts = prose.split(opening).skip(1).collect::<Vec<_>>();
        parts.into_iter().filter_map(move |p| p.split(closing).next()).collect::<Vec<_>>()
    };
    let all = [ends("](", ')'), ends("src=\"", '"')].concat();
    all.into_iter().filter(|l| !l.contains("://")).collect()
}

/// Whether a word names a file or a folder of the repository.
fn is_path(word: &str) -> bool {
    let odd = |c: char| !(c.is_ascii_alphanumeric() || "/._-".contains(c));
    let ends =
        word.rsplit_once('.').is_some_and(|(stem, end)| !stem.is_empty() && ENDS.contains(&end));
    !word.is_empty()
        && !word.contains(odd)
        && !word.starts_with('/')
        && !NO_FILES.iter().any(|n| word.starts_with(n))
        && (word.contains('/') || ends)
}

/// The words of code and of commands in backticks that begin with a folder of the root.
fn within(code: &str) -> Vec<&str> {
    let words = code.split_whitespace().map(|w| w.trim_start_matches("./"));
    let ours = |w: &&str| {
        w.split_once('/').is_some_and(|(first, rest)| {
            let is_folder = ["server", "tests", "openapi", "migrations", ".ci"].contains(&first);
            is_folder && !rest.is_empty()
        })
    };
    words.filter(ours).collect()
}

/// Whether a name stands for something: from the root, or from the folder of its text. One without
/// a folder may stand anywhere in the crate that the text is about.
fn exists(text: &str, name: &str) -> bool {
    let folder = root().join(text);
    let folder = folder.parent().expect("a folder");
    let at = |path: PathBuf| path.exists();
    at(root().join(name)) || at(folder.join(name)) || (!name.contains('/') && below(folder, name))
}

fn below(folder: &Path, name: &str) -> bool {
    let skipped = ["target", ".git"].map(Path::new);
    let mut entries =
        std::fs::read_dir(folder).expect("a folder").map(|e| e.expect("an entry").path());
    entries.any(|path| {
        let is_skipped = skipped.iter().any(|s| path.ends_with(s));
        !is_skipped && (path.ends_with(name) || (path.is_dir() && below(&path, name)))
    })
}

#[test]
fn every_file_that_is_named_exists() {
    let (mut named, mut missing) = (0, Vec::new());
    for text in TEXTS {
        let whole = read(text);
        let (prose, code) = apart(&whole);
        let spans = spans(&prose);
        let single = spans.iter().copied().filter(|s| is_path(s));
        let commands = spans.iter().filter(|s| s.contains(' ')).flat_map(|s| within(s));
        for name in single.chain(commands).chain(within(&code)) {
            named += 1;
            if !exists(text, name) {
                missing.push(format!("{text} names {name}"));
            }
        }
        let folder = Path::new(text).parent().expect("a folder");
        for link in links(&prose) {
            let (file, heading) = link.split_once('#').unwrap_or((link, ""));
            let to = root().join(folder).join(file);
            named += 1;
            if !to.exists() {
                missing.push(format!("{text} leads to {link}"));
            } else if !heading.is_empty() {
                let there = std::fs::read_to_string(&to).expect("a text");
                let names = there.lines().filter_map(|l| l.strip_prefix("## "));
                let mut names = names.map(|n| n.to_lowercase().replace(' ', "-"));
                if !names.any(|n| n == heading) {
                    missing.push(format!("{text} leads to {link}: no such heading"));
                }
            }
        }
    }
    assert!(missing.is_empty(), "not there: {missing:#?}");
    assert!(named > 200, "{named}: the test does not see the names");
    assert!(is_path("server/app/src/gone.rs") && !exists("README.md", "server/app/src/gone.rs"));
    assert!(is_path("gone.rs") && !exists("server/app/NOTES.md", "gone.rs"));
    assert_eq!(within("run ./tests/gone now"), ["tests/gone"]);
}

/// Where the runbook stands.
const RUNBOOK: &str = "server/cli/SERVE.md";

#[test]
fn every_case_of_the_runbook_has_its_drill() {
    let whole = read(RUNBOOK);
    let table = whole.split("\n## When something is wrong\n").nth(1).expect("the runbook");
    let table = table.split("\n## ").next().expect("a part");
    let rows = table.lines().filter(|l| l.starts_with("| ")).skip(1);
    let (mut cases, mut missing) = (0, Vec::new());
    for row in rows {
        cases += 1;
        let drill = row.trim_end_matches(" |").rsplit(" | ").next().expect("a last column");
        let drilled = match spans(drill).as_slice() {
            [file, name] => root().join(file).is_file() && read(file).contains(name),
            _ => false,
        };
        if !drilled {
            missing.push(row);
        }
    }
    assert!(missing.is_empty(), "no drill: {missing:#?}");
    assert!(cases >= 10, "{cases} cases");
}

/// The chapters of OWASP ASVS 5.0.0. READ.
const CHAPTERS: [&str; 17] = [
    "Encoding and Sanitization",
    "Validation and Business Logic",
    "Web Frontend Security",
    "API and Web Service",
    "File Handling",
    "Authentication",
    "Session Management",
    "Authorization",
    "Self-contained Tokens",
    "OAuth and OIDC",
    "Cryptography",
    "Secure Communication",
    "Configuration",
    "Data Protection",
    "Secure Coding and Architecture",
    "Security Logging and Error Handling",
    "WebRTC",
];

#[test]
fn every_chapter_of_security_names_what_shows_it() {
    let whole = read("server/cli/SECURITY.md");
    let parts: Vec<&str> = whole.split("\n## ").skip(1).collect();
    assert_eq!(parts.len(), CHAPTERS.len());
    let (mut tests, mut missing) = (0, Vec::new());
    for (n, (part, chapter)) in parts.iter().zip(CHAPTERS).enumerate() {
        let (title, body) = part.split_once('\n').expect("a title");
        assert_eq!(title, format!("V{} {chapter}", n + 1));
        assert!(body.contains("* Missing: "), "{title} says what is missing");
        let mut file = None;
        for span in spans(body) {
            let is_test = span.contains('_')
                && span.bytes().all(|b| matches!(b, b'a'..=b'z' | b'0'..=b'9' | b'_'));
            match (is_test, file) {
                (false, _) => {
                    file = Some(span).filter(|s| s.ends_with(".rs") || s.ends_with(".py")).or(file)
                }
                (true, Some(file)) => {
                    tests += 1;
                    if !read(file).contains(&format!("{span}(")) {
                        missing.push(format!("{file}: {span}"));
                    }
                }
                (true, None) => missing.push(span.to_owned()),
            }
        }
        let holds = body.contains("* Holds: ");
        assert!(!holds || file.is_some(), "{title} names a test");
    }
    assert!(missing.is_empty(), "no such test: {missing:#?}");
    assert!(tests > 30, "{tests}");
}

/// An address with whatever stands for a part of it, such as `{id}`, left open.
fn open(address: &str) -> String {
    let part = |p: &str| if p.starts_with('{') { "{}".to_owned() } else { p.to_owned() };
    address.split('/').map(part).collect::<Vec<_>>().join("/")
}

#[test]
fn every_address_that_is_named_is_served() {
    let routes = read("openapi/routes.txt");
    let mut served: Vec<String> =
        routes.lines().filter_map(|l| l.split_whitespace().nth(1)).map(open).collect();
    let pages = read("server/http/src/web/routes.rs");
    served.extend(pages.split("page!(\"").skip(1).filter_map(|p| p.split('"').next()).map(open));
    let (mut named, mut missing) = (0, Vec::new());
    for text in TEXTS {
        let whole = read(text);
        let (prose, code) = apart(&whole);
        let in_prose = spans(&prose).into_iter().flat_map(str::split_whitespace);
        let words = in_prose.filter(|w| w.starts_with('/'));
        let asked =
            code.split("127.0.0.1:8080").skip(1).filter_map(|p| p.split_whitespace().next());
        for word in words.chain(asked.filter(|w| w.starts_with('/'))) {
            let address = word.trim_end_matches(['"', '\'']).split('?').next().unwrap_or_default();
            named += 1;
            let address = open(address);
            // A folder of addresses is named by its beginning.
            let folder = format!("{address}/");
            if !served.iter().any(|s| *s == address || s.starts_with(&folder)) {
                missing.push(format!("{text} names {word}"));
            }
        }
    }
    assert!(missing.is_empty(), "not served: {missing:#?}");
    assert!(named > 30, "{named}: the test does not see the addresses");
    assert!(!served.contains(&open("/v1/gone")));
}

/// Paragraphs, lines of lists and rows of tables.
fn paragraphs(prose: &str) -> Vec<String> {
    let mut all = vec![String::new()];
    for line in prose.lines() {
        let begins = line.trim_start();
        let number = begins.trim_start_matches(|c: char| c.is_ascii_digit());
        let is_item = begins.starts_with("* ") || begins.starts_with('|');
        let is_step = number.len() < begins.len() && number.starts_with(". ");
        if line.trim().is_empty() || is_item || is_step {
            all.push(String::new());
        }
        let last = all.last_mut().expect("one");
        last.push_str(line);
        last.push(' ');
    }
    all
}

fn words(paragraph: &str) -> usize {
    let is_word = |w: &&str| w.contains(char::is_alphanumeric);
    paragraph.split_whitespace().filter(is_word).count()
}

#[test]
fn the_texts_are_short() {
    for (text, lines_max) in [("README.md", 120), ("DEVELOPERS.md", 250)] {
        let lines = read(text).lines().count();
        assert!(lines <= lines_max, "{text} has {lines} lines, more than {lines_max}");
    }
    for text in TEXTS {
        let (prose, _) = apart(&read(text));
        // The job, at the top of README, is told in one paragraph.
        let skipped = if text == "README.md" { 2 } else { 0 };
        let all: Vec<String> = paragraphs(&prose);
        let all = all.iter().filter(|p| !p.trim().is_empty()).skip(skipped);
        for paragraph in all.filter(|p| !p.contains("<img")) {
            let count = words(paragraph);
            assert!(count <= WORDS_MAX, "{text}: {count} words in: {paragraph}");
        }
    }
    let long = "word ".repeat(WORDS_MAX + 1);
    assert_eq!(paragraphs(&format!("{long}\n\n* {long}")).iter().map(|p| words(p)).max(), Some(81));
}
