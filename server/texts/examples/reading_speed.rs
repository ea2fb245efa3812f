//! How many texts are read in a second: `cargo run --release -p traybook-texts --example
//! reading_speed`. A text with a slip is looked up in all words; its time stands beside.

#[path = "read_cases/cases.rs"]
#[expect(dead_code, reason = "the scene alone")]
mod cases;

use std::time::Instant;
use traybook_texts::read;

const TEXTS: [&str; 6] =
    ["Maziwa 12.5", "maziwa 12 mayai 41", "tupa 2 ukungu", "tayari 2 3", "kazi", "vuna trei 6"];
const SLIPPED: [&str; 6] =
    ["Maizwa 12.5", "mazwa 12 mayia 41", "tupa 2 uknugu", "tayri 2 3", "kzai", "vuna trie 6"];
const ROUNDS: usize = 5_000;

fn main() {
    let file = include_str!("../tests/cases.json");
    let file: serde_json::Value = serde_json::from_str(file).unwrap_or_default();
    let mut scene = cases::scene(&file["base"], &serde_json::Value::Null);
    scene.listed = true;
    let measure = |texts: &[&str]| {
        let begin = Instant::now();
        let mut letters = 0;
        for _ in 0..ROUNDS {
            letters += texts.iter().map(|t| read(Some(t), &scene).answer.len()).sum::<usize>();
        }
        let each = begin.elapsed().as_secs_f64() / (ROUNDS * texts.len()) as f64;
        (each, letters)
    };
    let ((plain, a), (slipped, b)) = (measure(&TEXTS), measure(&SLIPPED));
    println!(
        "{:.0} texts a second; {:.0} with a slip ({:.1} times the time)",
        1.0 / plain,
        1.0 / slipped,
        slipped / plain
    );
    println!("({a} and {b} letters were answered)");
}
