use super::*;
use proptest::prelude::*;
use roxmltree::Document;

fn words(id: &str) -> Words {
    let (title, description) = ("Savings <& \"more\">".to_owned(), "What was saved.".to_owned());
    Words { id: id.to_owned(), title, description }
}

/// All texts of a chart; it is well formed and asks nothing of a page's policy.
fn read(svg: &str) -> Vec<String> {
    let tree = Document::parse(svg).unwrap_or_else(|e| panic!("{e}: {svg}"));
    for node in tree.descendants().filter(roxmltree::Node::is_element) {
        let name = node.tag_name().name();
        assert!(["svg", "title", "desc", "path", "circle", "text"].contains(&name), "{name}");
        for a in node.attributes() {
            assert!(a.name() != "style" && !a.name().starts_with("on"), "{}", a.name());
            let numbers = ["d", "x", "y", "cx", "cy", "r", "viewBox"].contains(&a.name());
            assert!(!numbers || !(a.value().contains("NaN") || a.value().contains("inf")), "{svg}");
        }
    }
    let root = tree.root_element();
    assert_eq!(root.attribute("role"), Some("img"));
    let names = root.attribute("aria-labelledby").expect("names");
    for name in names.split(' ') {
        let with = |n: &roxmltree::Node| n.attribute("id") == Some(name);
        assert_eq!(tree.descendants().filter(with).count(), 1, "{name}");
    }
    let texts = tree.descendants().filter(roxmltree::Node::is_text);
    texts.filter_map(|n| n.text().map(str::to_owned)).collect()
}

fn check(svg: &str, labels: &[&str]) {
    assert!(svg.len() <= 6 * 1024, "{} bytes", svg.len());
    let texts = read(svg);
    for label in labels {
        assert!(texts.iter().any(|t| t.contains(label)), "{label} is not in {texts:?}");
    }
    assert!(!svg.contains("style"));
}

fn interval(label: &str, number: Option<(f64, f64, f64)>) -> Interval {
    Interval { label: label.to_owned(), text: format!("about {label}"), number }
}

fn sample_intervals() -> Intervals {
    let names = ["Amina J.", "Baraka M.", "Chiku & Sons", "Ĩrũngũ K.", "Dotto <3", "Eshe P."];
    let mut rows: Vec<Interval> = names
        .iter()
        .zip([4.0_f64, -3.5, 0.5, 9.25, 12.0, -1.0])
        .map(|(n, v)| interval(n, Some((v, v - 3.0, v + 3.0))))
        .collect();
    rows.push(interval("Faraja O.", None));
    Intervals { words: words("change"), axis: "change, %".to_owned(), rows }
}

fn sample_path() -> Path {
    let point = |i: u32| PathPoint {
        label: format!("batch {i}"),
        day: f64::from(i * i),
        counted: i != 5,
        value: f64::from([0, 1, 3, 2, 0, 0, 1, 4, 6, 9][i as usize % 10]) / 2.0,
        raised: i % 10 > 6,
    };
    Path {
        words: words("path"),
        axis: "evidence".to_owned(),
        across: "batches, oldest first".to_owned(),
        threshold: 3.2,
        threshold_label: "flag at 3.2".to_owned(),
        raised_label: "batch that raised the flag".to_owned(),
        uncounted_label: "hollow: not counted".to_owned(),
        points: (0..20).map(point).collect(),
    }
}

fn sample_months() -> Months {
    let value = |i: i32| (i != 4).then(|| 7.0 + f64::from(i % 5) * 0.4);
    let band = |i: i32| value(i).map(|v| (v - 0.6, v + 0.7));
    let first = Series {
        label: "with fodder".to_owned(),
        values: (0..12).map(value).collect(),
        band: (0..12).map(band).collect(),
    };
    let second = Series {
        label: "not yet started".to_owned(),
        values: (0..12).map(|i| (i != 7).then(|| 6.5 + f64::from(i % 3) * 0.2)).collect(),
        band: Vec::new(),
    };
    Months {
        words: words("months"),
        axis: "litres per cow-day".to_owned(),
        months: (1..=12).map(|m| format!("2025-{m:02}")).collect(),
        series: vec![first, second],
        start: Some(Start { index: 5, label: "fodder began".to_owned() }),
        from_zero: false,
        open_label: String::new(),
    }
}

fn sample_shelf() -> Shelf {
    let age = |day: u32| ShelfAge {
        label: format!("day {day}"),
        trays: [10, 10, 12, 0, 10, 9, 14, 3][day as usize],
        ready: day > 5,
    };
    Shelf {
        words: words("shelf"),
        total_label: "all".to_owned(),
        places: Some(60),
        places_label: "60 places".to_owned(),
        over_label: "8 over".to_owned(),
        most: 0,
        ready_label: "may be harvested".to_owned(),
        ages: (0..8).map(age).collect(),
    }
}

fn sample_timeline() -> Timeline {
    let segment =
        |stage, label: &str, from, to| Segment { stage, label: label.to_owned(), from, to };
    let lane = |mark, label: &str, days: &[(f64, &str)]| {
        let event = |(day, text): &(f64, &str)| Event { day: *day, text: (*text).to_owned() };
        Lane { mark, label: label.to_owned(), events: days.iter().map(event).collect() }
    };
    let watered: Vec<(f64, &str)> =
        (2..8).flat_map(|d| [(f64::from(d) + 0.3, ""), (f64::from(d) + 0.7, "")]).collect();
    Timeline {
        words: words("life"),
        axis: "days since soaking".to_owned(),
        segments: vec![
            segment(Stage::Soaked, "soaked", 0.0, 0.5),
            segment(Stage::Incubating, "incubating", 0.5, 2.0),
            segment(Stage::OnTrays, "on trays", 2.0, 7.0),
            segment(Stage::Ready, "ready", 7.0, 8.5),
            segment(Stage::Finished, "finished", 8.5, 9.0),
        ],
        lanes: vec![
            lane(Mark::Soaked, "soaked", &[(0.0, "5 kg")]),
            lane(Mark::Spread, "spread", &[(2.0, "10 trays")]),
            lane(Mark::Watered, "watered", &watered),
            lane(Mark::Discarded, "discarded", &[(4.0, "2 trays"), (4.4, "1 tray")]),
            lane(Mark::Harvested, "harvested", &[(7.2, "20 kg"), (8.3, "18 kg")]),
            lane(Mark::Fed, "fed", &[(7.4, ""), (8.4, "")]),
        ],
        now: Some(Now { day: 8.6, label: "today".to_owned() }),
    }
}

#[test]
fn charts_hold_every_label_and_stay_small() {
    let chart = sample_intervals();
    let labels: Vec<&str> =
        chart.rows.iter().flat_map(|r| [r.label.as_str(), r.text.as_str()]).collect();
    check(&intervals(&chart).unwrap(), &labels);
    let svg = path(&sample_path()).unwrap();
    check(
        &svg,
        &[
            "evidence",
            "batches, oldest",
            "flag at 3.2",
            "raised the flag",
            "batch 0",
            "batch 19",
            "hollow",
        ],
    );
    let svg = months(&sample_months()).unwrap();
    check(&svg, &["litres per", "with fodder", "not yet", "fodder began", "2025-01", "2025-12"]);
    let svg = shelf(&sample_shelf()).unwrap();
    check(&svg, &["all", "60 places", "8 over", "may be harvested", "day 0", "day 7", "14", "68"]);
    let chart = sample_timeline();
    let svg = timeline(&chart).unwrap();
    let stages = chart.segments.iter().map(|s| s.label.as_str());
    let lanes = chart.lanes.iter().flat_map(|l| {
        std::iter::once(l.label.as_str()).chain(l.events.iter().map(|e| e.text.as_str()))
    });
    let mut labels: Vec<&str> = stages.chain(lanes).filter(|t| !t.is_empty()).collect();
    labels.extend(["days since soaking", "today"]);
    check(&svg, &labels);
}

#[test]
fn an_interval_across_zero_has_an_open_mark_and_one_beside_it_a_filled_one() {
    let marks = |low: f64, high: f64| {
        let rows = vec![interval("a", Some((f64::midpoint(low, high), low, high)))];
        let chart = Intervals { rows, ..Intervals::default() };
        let shapes = intervals_picture(&chart).unwrap().shapes;
        let circle = |s: &Shape| match s {
            Shape::Circle { fill, stroke, .. } => Some((fill.is_some(), stroke.is_some())),
            _ => None,
        };
        shapes.iter().filter_map(circle).collect::<Vec<_>>()
    };
    assert_eq!(marks(-1.0, 3.0), [(false, true)]);
    assert_eq!(marks(0.0, 3.0), [(false, true)]);
    assert_eq!(marks(0.1, 3.0), [(true, false)]);
    assert_eq!(marks(-3.0, -0.1), [(true, false)]);
}

/// Marks of a picture that have an outline only.
fn hollow(picture: &Picture) -> usize {
    let is_hollow = |s: &&Shape| matches!(s, Shape::Circle { fill: None, stroke: Some(_), .. });
    picture.shapes.iter().filter(is_hollow).count()
}

#[test]
fn a_month_that_can_not_be_told_is_hollow() {
    let band = [Some((-1.0, 3.0)), Some((0.5, 3.0)), None, Some((0.0, 2.0))];
    let series = Series {
        label: "saving".to_owned(),
        values: [1.0, 2.0, 1.0, 1.0].map(Some).to_vec(),
        band: band.to_vec(),
    };
    let chart = |open_label: &str| Months {
        months: ["1", "2", "3", "4"].map(str::to_owned).to_vec(),
        series: vec![series.clone()],
        open_label: open_label.to_owned(),
        ..Months::default()
    };
    // Two months and the mark that names them.
    assert_eq!(hollow(&months::draw(&chart("cannot tell")).unwrap()), 3);
    assert_eq!(hollow(&months::draw(&chart("")).unwrap()), 0);
    check(&months(&chart("hollow: cannot tell")).unwrap(), &["hollow"]);
}

#[test]
fn batches_stand_by_their_day_and_those_that_do_not_count_are_hollow() {
    let point = |day: f64, counted| PathPoint {
        label: day.to_string(),
        day,
        value: 1.0,
        counted,
        raised: false,
    };
    let points = vec![point(0.0, true), point(1.0, true), point(9.0, false), point(10.0, true)];
    let chart = Path { points, threshold: 2.0, ..Path::default() };
    let picture = path::draw(&chart).unwrap();
    assert_eq!(hollow(&picture), 2, "the batch and the mark that names it");
    let centre = |s: &Shape| match s {
        Shape::Circle { at, fill: Some(_), .. } => Some(at.0),
        _ => None,
    };
    let at: Vec<f64> = picture.shapes.iter().filter_map(centre).collect();
    let [first, second, last] = at.as_slice() else { panic!("three: {at:?}") };
    let ratio = (last - first) / (second - first);
    assert!((ratio - 10.0).abs() < 0.01, "ten days are ten times as far as one: {ratio}");
}

#[test]
fn sheds_side_by_side_have_one_scale() {
    let ages = vec![ShelfAge { label: "day 1".to_owned(), trays: 10, ready: false }];
    let small = Shelf { places: Some(10), ages, ..Shelf::default() };
    let widest = |most: u32| {
        let picture = shelf::draw(&Shelf { most, ..small.clone() }).unwrap();
        let right = |s: &Shape| match s {
            Shape::Lines { lines, fill: Some(_), .. } => {
                lines.iter().flatten().map(|p| p.0).reduce(f64::max)
            }
            _ => None,
        };
        picture.shapes.iter().filter_map(right).fold(0.0, f64::max)
    };
    assert!(widest(100) < widest(10) * 0.6, "{} {}", widest(100), widest(10));
}

#[test]
fn a_missing_month_is_a_gap_and_not_a_zero() {
    let series = Series {
        label: "a".to_owned(),
        values: vec![Some(5.0), Some(6.0), None, Some(7.0)],
        band: Vec::new(),
    };
    let chart = Months {
        months: (1..=4).map(|m| m.to_string()).collect(),
        series: vec![series],
        ..Months::default()
    };
    let picture = months::draw(&chart).unwrap();
    let measured = |s: &Shape| match s {
        Shape::Lines { lines, stroke: Some(s), .. } if s.colour == Colour::Accent => {
            Some(lines.clone())
        }
        _ => None,
    };
    let lines: Vec<_> = picture.shapes.iter().filter_map(measured).flatten().collect();
    // The key, and the first two months; the fourth stands alone as a mark.
    assert_eq!(lines.iter().map(Vec::len).collect::<Vec<_>>(), [2, 2]);
    let marks = picture.shapes.iter().filter(|s| matches!(s, Shape::Circle { .. })).count();
    assert_eq!(marks, 3 + 1);
    // Without zero in the numbers, none of the axis' numbers is zero.
    let zero = |s: &Shape| matches!(s, Shape::Text(t) if t.text == "0" || t.text == "0.0");
    assert!(!picture.shapes.iter().any(zero));
}

#[test]
fn without_a_number_there_is_no_chart() {
    assert_eq!(intervals(&Intervals::default()), None);
    assert_eq!(path(&Path::default()), None);
    assert_eq!(months(&Months::default()), None);
    assert_eq!(shelf(&Shelf::default()), None);
    assert_eq!(timeline(&Timeline::default()), None);
    let (value, counted, raised) = (f64::NAN, true, true);
    let nan = PathPoint { label: String::new(), day: 0.0, value, counted, raised };
    assert_eq!(path(&Path { points: vec![nan], ..Path::default() }), None);
    // A member without a number keeps the row.
    let rows = vec![interval("Faraja", Some((f64::NAN, 0.0, 1.0)))];
    let svg = intervals(&Intervals { rows, ..Intervals::default() }).unwrap();
    check(&svg, &["Faraja"]);
}

#[test]
fn hatching_stays_inside_its_rectangle() {
    for rising in [true, false] {
        let mut picture = Picture::default();
        let stroke = Stroke::solid(Colour::Ink, 1.0);
        picture.hatch((10.0, 20.0), (50.0, 32.0), rising, 4.0, stroke);
        let Some(Shape::Lines { lines, .. }) = picture.shapes.first() else { panic!("no lines") };
        assert_eq!(lines.len(), 12);
        for (x, y) in lines.iter().flatten() {
            assert!((10.0..=50.0).contains(x) && (20.0..=32.0).contains(y), "{x} {y}");
        }
        for line in lines {
            let [(x1, y1), (x2, y2)] = line.as_slice() else { panic!("two ends") };
            assert!(((x2 - x1).abs() - (y2 - y1).abs()).abs() < 1e-9, "45 degrees");
        }
    }
}

#[test]
fn numbers_read_well() {
    let texts = [
        (0.0, 0, "0"),
        (-0.04, 1, "0.0"),
        (-1234.0, 0, "\u{2212}1234"),
        (12345.678, 2, "12\u{202f}345.68"),
        (-9_876_543.0, 0, "\u{2212}9\u{202f}876\u{202f}543"),
    ];
    for (value, digits, text) in texts {
        assert_eq!(number(value, digits), text);
    }
}

fn any_number() -> impl Strategy<Value = f64> {
    prop_oneof![
        4 => -1e3..1e3,
        1 => any::<f64>(),
        1 => Just(0.0),
        1 => Just(f64::NAN),
        1 => Just(f64::INFINITY),
        1 => Just(1e-300),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn no_input_breaks_a_chart(
        numbers in prop::collection::vec((any_number(), any_number(), any_number()), 0..30),
        texts in prop::collection::vec(any::<String>(), 6),
        counts in prop::collection::vec(any::<u32>(), 0..20),
        flag in any::<bool>(),
        index in 0_usize..40,
    ) {
        let text = |i: usize| texts[i % texts.len()].clone();
        let words = Words { id: text(0), title: text(1), description: text(2) };
        let rows = numbers.iter().enumerate();
        let rows: Vec<Interval> = rows
            .map(|(i, n)| Interval { label: text(i), text: text(i + 1), number: flag.then_some(*n) })
            .collect();
        let months_of = |i: usize| text(i);
        let series = |label: usize| Series {
            label: text(label),
            values: numbers.iter().map(|n| n.0.is_normal().then_some(n.1)).collect(),
            band: numbers.iter().map(|n| n.1.is_normal().then_some((n.1, n.2))).collect(),
        };
        let stages = [Stage::Soaked, Stage::Incubating, Stage::OnTrays, Stage::Ready, Stage::Finished];
        let segment = |(i, n): (usize, &(f64, f64, f64))| Segment {
            stage: stages[i % 5], label: text(i), from: n.0, to: n.1,
        };
        let event = |n: &(f64, f64, f64)| Event { day: n.2, text: text(3) };
        let point = |(i, n): (usize, &(f64, f64, f64))| PathPoint {
            label: text(i), day: n.1, value: n.0, counted: i % 4 != 0, raised: i % 3 == 0,
        };
        let age = |(i, trays): (usize, &u32)| ShelfAge { label: text(i), trays: *trays, ready: flag };
        let charts = [
            intervals(&Intervals { words: words.clone(), axis: text(3), rows }),
            path(&Path {
                words: words.clone(), axis: text(3), across: text(4), threshold: numbers.first().map_or(1.0, |n| n.2),
                threshold_label: text(5), raised_label: text(0), uncounted_label: text(2),
                points: numbers.iter().enumerate().map(point).collect(),
            }),
            months(&Months {
                words: words.clone(), axis: text(3),
                months: (0..numbers.len()).map(months_of).collect(),
                series: vec![series(4), series(5)],
                start: Some(Start { index, label: text(1) }), from_zero: flag, open_label: text(2),
            }),
            shelf(&Shelf {
                words: words.clone(), total_label: text(3), places: counts.first().copied(),
                places_label: text(4), over_label: text(5), ready_label: text(0), most: 3,
                ages: counts.iter().enumerate().map(age).collect(),
            }),
            timeline(&Timeline {
                words, axis: text(3), segments: numbers.iter().enumerate().map(segment).collect(),
                lanes: vec![Lane { mark: Mark::Fed, label: text(4), events: numbers.iter().map(event).collect() }],
                now: Some(Now { day: 3.0, label: text(5) }),
            }),
        ];
        for svg in charts.iter().flatten() {
            read(svg);
        }
    }
}

#[test]
fn a_name_is_whole_beside_the_longest_figure() {
    let rows = vec![
        Interval {
            label: "NV-0018 Mwajuma Abdallah Rashidi".to_owned(),
            text: "−1\u{202f}070\u{202f}270 (kati ya −15\u{202f}501\u{202f}964 na 13\u{202f}361\u{202f}424)".to_owned(),
            number: Some((-1_070_270.0, -15_501_964.0, 13_361_424.0)),
        },
        Interval { label: "A".to_owned(), text: "1".to_owned(), number: Some((1.0, 0.5, 2.0)) },
    ];
    let svg = intervals(&Intervals { rows, ..Intervals::default() }).unwrap();
    assert!(svg.contains("Mwajuma Abdallah Rashidi") && svg.contains("13\u{202f}361\u{202f}424)"));
    assert!(!svg.contains('…'), "{svg}");
}
