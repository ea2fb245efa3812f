use super::*;
use traybook_answers::savings::board::{BoardDebt, BoardFeed, BoardSeed};
use traybook_answers::savings::{Money, SinceStart, Status};
use traybook_domain::Month;
use traybook_domain::limits::BOARD_NAMES_MAX;

const LONG: &str = "Anyango Wilhelmina Mutahi-Nakamatte of the upper terraces";

fn most() -> Decimal {
    Decimal::new(98_765_432_100, 2)
}

fn month() -> wire::Month {
    wire::Month(Month::parse("2026-11").unwrap())
}

fn widest() -> Option<Interval> {
    Some(Interval { low: Decimal::new(-98_765_432_100, 2), high: most() })
}

fn period(span: BoardSpan) -> BoardPeriod {
    let money = Money {
        baseline_cost: Some(most()),
        saving: Some(most()),
        saving_interval: widest(),
        net: Some(most()),
        net_interval: widest(),
        ..Money::default()
    };
    BoardPeriod {
        span,
        from: wire::Month(Month::parse("2026-01").unwrap()),
        to: month(),
        months_with_number: 11,
        money,
        farms_included: 20_000,
        farms_saving: 12_000,
        farms_losing: 3_000,
        farms_unclear: 5_000,
        fresh_fodder_fed_kg: Some(most()),
        trays_started: Some(1_234_567),
        trays_discarded: Some(123_456),
        trays_discarded_percent: Some(Decimal::percent(1_000)),
    }
}

fn area(n: usize) -> BoardArea {
    BoardArea {
        name: format!("{LONG} {n}"),
        farms_included: 1_000,
        farms_left_out: 100,
        saving: Some(most()),
        saving_interval: widest(),
        trays_discarded_percent: Some(Decimal::percent(1_000)),
    }
}

fn seed() -> BoardSeed {
    let debt = BoardDebt {
        member_number: "M-012345".to_owned(),
        member_name: LONG.to_owned(),
        balance: most(),
        owed_over_90_days: most(),
    };
    BoardSeed {
        owed: most(),
        members: 12_345,
        owed_over_30_days: most(),
        owed_over_90_days: most(),
        credit_limit: Some(most()),
        over_limit: 12_345,
        paid_by_check_off: most(),
        paid_otherwise: most(),
        most: vec![debt; BOARD_NAMES_MAX],
    }
}

fn spoiling() -> BoardSpoiling {
    let day = month().0.last_day();
    BoardSpoiling {
        farm: Some("F-012345".to_owned()),
        member_name: Some(LONG.to_owned()),
        area: Some(LONG.to_owned()),
        raised_on: day,
        points_at: "farm_or_lot".to_owned(),
        seen_on: Some(day),
        cause: Some("poor_germination".to_owned()),
        finding: Some(LONG.repeat(20)),
        cleared_on: Some(day),
    }
}

/// A paper with every list at its longest and the largest figures.
fn longest() -> BoardPaper {
    let feed = BoardFeed {
        feed: LONG.to_owned(),
        cost_per_kg_dry_matter: 12_345.0,
        price_month: Some(month()),
    };
    let decision = |question: &BoardQuestion| BoardDecision {
        question: *question,
        count: Some(12_345),
        amount: Some(most()),
    };
    let since =
        SinceStart { saving: most(), saving_interval: widest(), farm_months: 1, of_farm_months: 2 };
    BoardPaper {
        cooperative: LONG.to_owned(),
        month: month(),
        currency: "TZS".to_owned(),
        is_closed: false,
        is_running: false,
        is_anonymous: false,
        day: month().0.last_day(),
        periods: BoardSpan::ALL.iter().copied().map(period).collect(),
        since_start: Some(since),
        areas: (0..3 * AREAS_MAX).map(area).collect(),
        fodder_cost_per_kg_dry_matter: Some(most()),
        fodder_farms: 20_000,
        feeds: vec![feed; BOARD_NAMES_MAX],
        seed: seed(),
        spoiling: vec![spoiling(); BOARD_NAMES_MAX],
        spoiling_count: 400,
        missing: Status::ALL.iter().map(|s| (*s, 12_345)).collect(),
        waiting: 12_345,
        findings: 12_345,
        decisions: BoardQuestion::ALL.iter().map(decision).collect(),
    }
}

/// Pages of a PDF: ISO 32000-2, 7.7.3.2, the root of the page tree counts its leaves.
fn pages(bytes: &[u8]) -> usize {
    let text = String::from_utf8_lossy(bytes);
    let counts = text.match_indices("/Count ").filter_map(|(at, name)| {
        let digits = text.get(at + name.len()..)?.split(|c: char| !c.is_ascii_digit()).next()?;
        digits.parse().ok()
    });
    counts.max().unwrap_or(0)
}

#[test]
fn the_longest_paper_has_four_pages_in_every_language() {
    for l in Language::ALL.iter().copied() {
        let bytes = board_paper_pdf(&longest(), l).unwrap();
        assert!((3..=4).contains(&pages(&bytes)), "{}: {} pages", l.tag(), pages(&bytes));
        assert_eq!(bytes, board_paper_pdf(&longest(), l).unwrap(), "the same bytes");
    }
}

#[test]
fn nothing_is_said_of_a_saving_that_can_not_be_told() {
    for l in Language::ALL.iter().copied() {
        let paper = longest();
        let words = Words { paper: &paper, l };
        let open = words.said(&paper.periods[0]);
        assert_eq!(verdict(l, &paper.periods[0].money), l.text("doc-verdict-open"));
        let mut clear = paper.periods[0].clone();
        let high = clear.money.saving.unwrap();
        clear.money.saving_interval = Some(Interval { low: Decimal::new(1, 0), high });
        assert_ne!(words.said(&clear), open);
        assert_eq!(verdict(l, &clear.money), l.text("doc-verdict-saves"));
    }
}
