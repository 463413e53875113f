//! Courses against time and supply voltage, and the searched spectrum: sound, legible, to scale, for every width.

use spurline_record::{Column, Figure, Limit, Quantity, Reading, Series, Unit};
use spurline_report::{course, html, sheet};
use spurline_units::{Db, Dbm, Hertz, Watts};

mod drawn;
mod specimen;

use drawn::{assert_legible, assert_sound, count, figures, numbers};

fn column(name: &str, unit: Unit, values: impl IntoIterator<Item = Option<f64>>) -> Column {
    Column { name: name.to_owned(), unit, values: values.into_iter().collect() }
}

fn reading(quantity: Quantity, columns: Vec<Column>) -> Reading {
    let watts = Watts::new(4.2);
    Reading {
        ordinal: 99,
        quantity,
        order: None,
        name: None,
        frequency: Hertz::from_mhz(145.0),
        figure: Some(Figure { value: 4.2, unit: Unit::W, level: Some(watts.to_dbm()), bound: false }),
        limit: Some(Limit::Window { low: 4.0, high: 5.4 }),
        margin: Some(Db::new(0.21).into()),
        series: Some(Series { columns }),
        acquisitions: Vec::new(),
        ..specimen::run().readings[0].clone()
    }
}

/// A square law below 6.5 V; at 7.2 V the current could not be read.
fn over_supply(orders: u32) -> Reading {
    let volts = [8.4, 8.0, 7.6, 7.2, 6.8, 6.4, 6.0];
    let part = |volts: f64| (volts / 6.5f64).min(1.0);
    let power = |volts: f64| 4.7 * part(volts).powi(2);
    let current = |volts: f64| (volts != 7.2).then_some(0.15 + 1.35 * part(volts));
    let mut columns = vec![
        column("supply voltage", Unit::V, volts.map(Some)),
        column("carrier power", Unit::W, volts.map(|volts| Some(power(volts)))),
        column("current", Unit::A, volts.map(current)),
        column(
            "efficiency",
            Unit::Percent,
            volts.map(|volts| Some(100.0 * power(volts) / (volts * current(volts)?))),
        ),
    ];
    for order in 2..2 + orders {
        let level = |volts: f64| Some(-24.0 - 0.05 * f64::from(order) + 3.0 * volts.ln());
        columns.push(column(&format!("harmonic {order}"), Unit::Dbm, volts.map(level)));
    }
    reading(Quantity::PowerOverSupply, columns)
}

fn over_time(seconds: u32) -> Reading {
    let time = || (0..seconds).map(f64::from);
    let power = |time: f64| (time != 12.0).then_some(4.7 - 0.6 * (1.0 - (-time / 8.0).exp()));
    let columns = vec![
        column("time since key down", Unit::S, time().map(Some)),
        column("carrier power", Unit::W, time().map(power)),
    ];
    reading(Quantity::PowerOverTime, columns)
}

fn search(low: f64, high: f64) -> Vec<Reading> {
    let mut run = specimen::run();
    run.readings.truncate(2);
    let ratio = high / low;
    let places: Vec<f64> = (0..400).map(|i| low * ratio.powf(f64::from(i) / 399.0)).collect();
    let noise = |i: usize, from: f64| Some(from + f64::from((i as u32 * 37) % 11) / 4.0);
    let columns = vec![
        column("frequency", Unit::Hz, places.iter().map(|f| Some(*f))),
        column("keyed", Unit::Dbm, (0..400).map(|i| noise(i, if i % 90 == 45 { -40.0 } else { -75.0 }))),
        column("not keyed", Unit::Dbm, (0..400).map(|i| noise(i, -76.0))),
        column("limit", Unit::Dbm, (0..400).map(|i| Some(if i < 200 { -36.0 } else { -30.0 }))),
    ];
    let mut found = run.readings[1].clone();
    found.quantity = Quantity::Spurious;
    found.frequency = Hertz::new(places[45]);
    let mut search = reading(Quantity::Search, columns);
    search.limit = None;
    vec![run.readings[0].clone(), found, search]
}

fn page(readings: Vec<Reading>) -> String {
    let mut run = specimen::run();
    run.readings = readings;
    html(&run.view()).expect("a page")
}

#[test]
fn each_unit_has_a_panel_over_one_axis() {
    let page = page(vec![over_supply(2)]);
    assert_sound(&page);
    let drawings = figures(&page, "course");
    assert_eq!(drawings.len(), 2, "for wide and for narrow pages");
    for drawing in drawings {
        assert_legible(drawing);
        let lines = ["course", "course second"].map(|class| count(drawing, class));
        assert_eq!(lines, [4, 1], "power, current, efficiency and two harmonics");
        // Seven points in each of five lines less the one current, and the efficiency that needs it.
        assert_eq!(count(drawing, "full"), 5 * 7 - 2);
        assert_eq!(count(drawing, "limit"), 2, "both ends of the window, in the panel of watts");
        for words in
            ["carrier power, W; limit", "current, A", "efficiency, %", "supply voltage, V", "harmonic 3"]
        {
            assert!(drawing.contains(words), "{words}");
        }
    }
}

/// A volt is as wide anywhere, more of it is further right, and more power further up.
#[test]
fn a_course_is_to_scale() {
    let page = page(vec![over_supply(0)]);
    for drawing in figures(&page, "course") {
        let (x, y) = (numbers(drawing, "full", "cx"), numbers(drawing, "full", "cy"));
        let limits = numbers(drawing, "limit", "y1");
        assert!((x[0] - x[1] - (x[5] - x[6])).abs() < 0.2 && x[0] > x[6], "{x:?}");
        assert!((y[0] - y[4]).abs() < 0.1 && y[0] < y[5] && y[5] < y[6], "{y:?}");
        // 4.7 · (6 / 6.5)² = 4.0047 W just keeps the window of 4.0 to 5.4 W.
        let watt = (limits[0] - limits[1]) / 1.4;
        assert!((limits[0] - y[6] - 0.0047 * watt).abs() < 0.2, "{y:?} {limits:?}");
        assert!((y[6] - y[0] - (4.7 - 4.0047) * watt).abs() < 0.2, "{y:?} {limits:?}");
    }
}

#[test]
fn a_long_course_has_a_gap_and_no_marks() {
    let page = page(vec![over_time(90)]);
    for drawing in figures(&page, "course") {
        assert_legible(drawing);
        assert_eq!(count(drawing, "full"), 0);
        let read = roxmltree::Document::parse(drawing).unwrap();
        let line = read.descendants().find(|node| node.attribute("class") == Some("course")).unwrap();
        assert_eq!(line.attribute("d").unwrap().matches('M').count(), 2, "one piece on each side of the gap");
    }
}

#[test]
fn names_of_many_lines_do_not_lie_on_one_another() {
    for orders in [1, 9, 19] {
        let page = page(vec![over_supply(orders)]);
        for drawing in figures(&page, "course") {
            assert_legible(drawing);
        }
    }
}

#[test]
fn odd_series_are_drawn_or_left_out() {
    let odd = [f64::NAN, f64::INFINITY, f64::MAX, f64::MIN, 0.0].map(Some);
    let volts = column("supply voltage", Unit::V, [1.0, 2.0, f64::NAN, 4.0, 5.0].map(Some));
    for (columns, drawn) in [
        (Vec::new(), 0),
        (vec![volts.clone()], 0),
        (vec![volts.clone(), column("carrier power", Unit::W, [None; 5])], 0),
        (vec![volts.clone(), column("carrier power", Unit::W, odd)], 2),
        (vec![volts.clone(), column("carrier power", Unit::W, [Some(1.0)])], 2),
        (vec![column("supply voltage", Unit::V, [None; 5]), column("carrier power", Unit::W, odd)], 0),
    ] {
        let page = page(vec![reading(Quantity::PowerOverSupply, columns)]);
        assert_sound(&page);
        let drawings = figures(&page, "course");
        assert_eq!(drawings.len(), drawn);
        drawings.into_iter().for_each(assert_legible);
    }
}

#[test]
fn a_limit_in_another_unit_stays_out_of_the_way() {
    let limits = |limit: Limit| {
        let reading = Reading { limit: Some(limit), ..over_supply(2) };
        count(figures(&page(vec![reading]), "course")[0], "limit")
    };
    assert_eq!(limits(Limit::Upper { level: Dbm::new(37.0), below_carrier: None }), 1);
    assert_eq!(limits(Limit::Between { low: None, high: Some(60.0), unit: Unit::Percent }), 1);
    assert_eq!(limits(Limit::Between { low: None, high: Some(1.0), unit: Unit::Db }), 0);
}

#[test]
fn a_searched_spectrum_is_drawn_for_every_width() {
    for (low, high) in [(9e3, 4e9), (30e6, 88e6), (9e3, 1e9), (1e6, 1.1e6)] {
        let page = page(search(low, high));
        assert_sound(&page);
        let drawings = figures(&page, "spectrum");
        assert_eq!(drawings.len(), 2);
        for drawing in drawings {
            assert_legible(drawing);
            let lines = ["trace", "unkeyed", "limit", "peak"].map(|class| count(drawing, class));
            assert_eq!(lines, [1, 1, 1, 1]);
            assert!(drawing.contains("kHz</text>") || drawing.contains("MHz</text>"), "{low} {high}");
        }
        assert!(figures(&page, "course").is_empty(), "a search is no course");
    }
}

#[test]
fn a_course_as_text_fits_80_columns() {
    let text = course(&over_supply(2), 20).unwrap();
    let lines: Vec<&str> = text.lines().collect();
    assert_eq!(lines.len(), 3 + 7, "{text}");
    let words = |line: usize| lines[line].split_whitespace().collect::<Vec<_>>();
    assert_eq!(words(1), ["voltage", "power", "current", "efficiency", "harmonic", "2", "harmonic", "3"]);
    assert_eq!(words(2), ["V", "W", "A", "%", "dBm", "dBm"]);
    // 4.7 W of 8.4 V and 1.5 A are 37.3 %; at 7.2 V no current was read.
    assert_eq!(words(3)[..4], ["8.40", "4.700", "1.500", "37.3"]);
    assert_eq!(words(6)[..4], ["7.20", "4.700", "-", "-"]);
    for reading in [over_supply(19), over_time(600)] {
        let text = course(&reading, 20).unwrap();
        assert!(text.lines().all(|line| line.chars().count() <= 80), "{text}");
    }
    let long = course(&over_time(600), 20).unwrap();
    assert_eq!(long.lines().count(), 3 + 21 + 1, "every 30th, the last, and a line about that: {long}");
    let whole = sheet(&specimen::run().header, &over_time(600));
    assert!(
        whole.contains("\ncourse\n") && whole.lines().filter(|line| line.contains(".00 ")).count() >= 599
    );
    assert_eq!(course(&search(9e3, 1e9)[2], 20), None);
}
