//! What is printed.

/// Lines of what, figure, ratio and aim.
#[derive(Default)]
pub struct Table {
    lines: Vec<[String; 4]>,
}

impl Table {
    /// Adds a line, and shows it at once.
    pub fn line(&mut self, what: &str, figure: String, ratio: Option<f64>, aim: &str) {
        let ratio = ratio.map_or_else(String::new, |r| format!("{r:.2}"));
        eprintln!("  {what}: {figure} {ratio}");
        self.lines.push([what.to_owned(), figure, ratio, aim.to_owned()]);
    }

    /// Prints all lines.
    pub fn print(&self) {
        let head = ["what", "figure", "ratio", "aim"].map(str::to_owned);
        let all: Vec<&[String; 4]> = std::iter::once(&head).chain(&self.lines).collect();
        let width = |i: usize| all.iter().map(|l| l[i].chars().count()).max().unwrap_or(0);
        let (what, figure) = (width(0), width(1));
        println!();
        for [a, b, c, d] in all {
            println!("{}", format!("{a:<what$}  {b:>figure$}  {c:>5}  {d}").trim_end());
        }
    }
}

/// The middle of some figures.
pub fn median(mut of: Vec<f64>) -> f64 {
    of.sort_by(f64::total_cmp);
    of.get(of.len() / 2).copied().unwrap_or(0.0)
}

/// A count by the second, with thousands set apart.
pub fn rate(value: f64, unit: &str) -> String {
    let whole = format!("{value:.0}");
    let mut text = String::new();
    for (index, digit) in whole.chars().enumerate() {
        if index > 0 && (whole.len() - index).is_multiple_of(3) {
            text.push(',');
        }
        text.push(digit);
    }
    format!("{text} {unit}/s")
}
