//! Figures as people type them: comma or point, an O for a nought, a fraction, a date.

/// A figure of a text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Figure {
    /// As it was written.
    pub raw: String,
    pub number: Number,
}

/// What a figure is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Number {
    /// A quantity in thousandths.
    Plain(i64),
    /// Digits in groups of three behind commas: 1250 pieces, or one and a quarter. In thousandths.
    Grouped(i64),
    /// Whole numbers behind commas: lines of a list, or a decimal. The quantity where it can be one.
    List(Vec<i64>, Option<i64>),
    /// Two numbers with a stroke: a part of one, or a day and month.
    Stroke(i64, i64),
    /// Day, month and year.
    Date(i64, i64, i64),
    /// Something else with digits in it.
    Odd,
}

/// Largest number that is read: what is longer is no quantity of a farm.
const DIGITS_MAX: usize = 7;

impl Figure {
    /// The figure of a piece that holds digits, points, commas and strokes only.
    #[must_use]
    pub fn read(raw: &str) -> Self {
        Self { raw: raw.to_owned(), number: number(raw) }
    }

    /// The quantity, in thousandths; none where it has two meanings or none.
    #[must_use]
    pub fn quantity(&self) -> Option<i64> {
        match &self.number {
            Number::Plain(value) | Number::List(_, Some(value)) => Some(*value),
            Number::Stroke(up, down) => part(*up, *down),
            _ => None,
        }
    }

    /// The same where it counts pieces: digits in groups are one number then.
    #[must_use]
    pub fn pieces(&self) -> Option<i64> {
        match self.number {
            Number::Grouped(value) => Some(value),
            _ => self.quantity(),
        }
    }

    /// A whole number that stands for itself.
    #[must_use]
    pub fn whole(&self) -> Option<i64> {
        match self.number {
            Number::Plain(value) if value % 1_000 == 0 => Some(value / 1_000),
            _ => None,
        }
    }

    /// The whole numbers of a list.
    #[must_use]
    pub fn list(&self) -> Option<Vec<i64>> {
        match &self.number {
            Number::List(all, _) => Some(all.clone()),
            _ => self.whole().map(|n| vec![n]),
        }
    }
}

/// Halves and quarters, in thousandths.
#[must_use]
pub fn part(up: i64, down: i64) -> Option<i64> {
    let is_part = up > 0 && up < down && matches!(down, 2 | 4);
    is_part.then(|| up * 1_000 / down)
}

fn number(raw: &str) -> Number {
    if !raw.bytes().all(|b| b.is_ascii_digit() || b".,/".contains(&b)) {
        return Number::Odd;
    }
    let whole = |text: &str| match text.len() {
        1..=DIGITS_MAX => text.parse::<i64>().ok(),
        _ => None,
    };
    let all: Option<Vec<i64>> = raw.split(['.', ',', '/']).map(whole).collect();
    let Some(all) = all else { return Number::Odd };
    let marks: Vec<char> = raw.chars().filter(|c| !c.is_ascii_digit()).collect();
    let lengths: Vec<usize> = raw.split(['.', ',', '/']).map(str::len).collect();
    let is_only = |mark: char| marks.iter().all(|m| *m == mark);
    match (all.as_slice(), lengths.as_slice()) {
        ([one], _) => Number::Plain(one * 1_000),
        ([up, down], _) if is_only('/') => Number::Stroke(*up, *down),
        ([day, month, year], _) if is_only('/') || is_only('.') => {
            Number::Date(*day, *month, *year)
        }
        ([whole, rest], [before, after @ (1 | 2)]) => {
            let value = whole * 1_000 + rest * if *after == 1 { 100 } else { 10 };
            let is_list = is_only(',') && *before <= 2;
            if is_list { Number::List(all, Some(value)) } else { Number::Plain(value) }
        }
        (groups, [before @ 1..=3, rest @ ..]) if is_only(',') && rest.iter().all(|n| *n == 3) => {
            let _ = before;
            let value =
                groups.iter().try_fold(0_i64, |sum, g| sum.checked_mul(1_000)?.checked_add(*g));
            match value.and_then(|v| v.checked_mul(1_000)) {
                Some(value) if value < 10_i64.pow(DIGITS_MAX as u32 + 3) => Number::Grouped(value),
                _ => Number::Odd,
            }
        }
        (_, lengths) if is_only(',') && lengths.iter().all(|n| *n <= 2) => Number::List(all, None),
        _ => Number::Odd,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_are_read_as_people_mean_them() {
        let quantity = |raw: &str| Figure::read(raw).quantity();
        assert_eq!(
            ["12", "12.5", "12,5", "12.50", "0,75", "1/2", "3/4"].map(quantity),
            [12_000, 12_500, 12_500, 12_500, 750, 500, 750].map(Some)
        );
        let unsure = ["1,250", "1.250", "12.5.3", "25/11", "12//2", "12345678", "4/2", "1/3", ""];
        assert_eq!(unsure.map(quantity), [None; 9]);
        assert_eq!(Figure::read("1,250").pieces(), Some(1_250_000));
        assert_eq!(Figure::read("1.250").pieces(), None);
        assert_eq!(Figure::read("2,3").list(), Some(vec![2, 3]));
        assert_eq!(Figure::read("2,3,5").list(), Some(vec![2, 3, 5]));
        assert_eq!(Figure::read("2.3").list(), None);
        assert_eq!(Figure::read("25/11/2026").number, Number::Date(25, 11, 2026));
    }
}
