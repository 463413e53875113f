//! The drawings of levels and sweeps: sound, legible, and to scale.

use spurline_record::{Limit, Reading};
use spurline_report::html;
use spurline_units::{Db, Dbm, Hertz};

mod drawn;
mod specimen;

use drawn::{assert_legible, assert_sound, count, drawings, figures, numbers};

#[test]
fn every_drawing_is_well_formed() {
    let page = html(&specimen::run().view()).unwrap();
    assert_sound(&page);
    let looks = figures(&page, "look");
    assert_eq!(looks.len(), 11 * 2, "eleven readings of two looks");
    assert_eq!(figures(&page, "levels").len(), 2 * 2, "two scopes, each for wide and for narrow pages");
    for drawing in looks.iter().chain(&figures(&page, "levels")) {
        assert_legible(drawing);
    }
}

#[test]
fn a_plot_shows_each_reading_once() {
    let page = html(&specimen::run().view()).unwrap();
    for plot in &figures(&page, "levels")[..2] {
        // Carrier and harmonics 2 to 10: two bounds, one without a figure.
        assert_eq!((count(plot, "full"), count(plot, "open")), (7, 2));
        // Only a bound reaches down to nothing.
        assert_eq!((count(plot, "reach"), count(plot, "arrow")), (2, 2));
        // A level has a whisker and two ends, a bound has none below.
        assert_eq!(count(plot, "whisker"), 7 * 3 + 2 * 2);
        // Both ends of the window; one for each of 2 to 7 and 10; none for 9.
        assert_eq!((count(plot, "limit"), count(plot, "limit several")), (2 + 7, 2));
        assert_eq!((count(plot, "floor"), count(plot, "noise")), (8, 8));
        assert_eq!(
            ["mark bad", "mark unsure", "mark good", "mark soft"].map(|class| count(plot, class)),
            [1, 5, 3, 1]
        );
        for number in 1..=10 {
            assert!(plot.contains(&format!("class=\"name\">{number}</text>")), "{number}");
            assert!(plot.contains(&format!("reading {number}, ")), "{number} in words");
        }
    }
}

#[test]
fn a_higher_level_is_drawn_further_right_and_the_limit_between() {
    let page = html(&specimen::run().view()).unwrap();
    for plot in &figures(&page, "levels")[..2] {
        let (dots, limits) = (numbers(plot, "full", "cx"), numbers(plot, "limit", "x1"));
        // Harmonic 2 complies, harmonic 3 exceeds: their dots lie on either side of the limit at -16.02 dBm.
        assert!(dots[1] < limits[2] && limits[2] < dots[2], "{dots:?} {limits:?}");
        // A decibel is as wide anywhere: -26.74 to -12.24 dBm is 14.5 dB, -26.74 to -16.5 dBm is 10.24 dB.
        let ratio = (dots[2] - dots[1]) / (dots[3] - dots[1]);
        assert!((ratio - 14.5 / 10.24).abs() < 0.01, "{ratio}");
        // A whisker is as long as the scale says: U to either side of 0.611 dB.
        let (from, to) = (numbers(plot, "whisker", "x1"), numbers(plot, "whisker", "x2"));
        let decibel = (dots[2] - dots[1]) / 14.5;
        assert!((to[3] - from[3] - 2.0 * 0.611 * decibel).abs() < 0.2, "{from:?} {to:?}");
    }
}

/// Many orders, equal and close levels, long numbers.
#[test]
fn texts_never_lie_on_one_another() {
    let mut run = specimen::run();
    let one = run.readings[1].clone();
    run.readings.truncate(1);
    run.readings[0].ordinal = 9980;
    for order in 2..=21u32 {
        let level = Dbm::new(-16.0 - f64::from(order % 3) * 0.05);
        let mut reading = Reading {
            ordinal: 9979 + order,
            order: Some(order),
            name: None,
            series: None,
            frequency: Hertz::new(1296.25e6).harmonic(order),
            margin: Some(Db::new(-123.456).into()),
            ..one.clone()
        };
        reading.figure.as_mut().unwrap().level = Some(level);
        reading.figure.as_mut().unwrap().bound = order % 4 == 0;
        reading.proof.floor.as_mut().unwrap().level = level - Db::new(0.1);
        run.readings.push(reading);
    }
    let page = html(&run.view()).unwrap();
    let plots = figures(&page, "levels");
    assert_eq!(plots.len(), 2);
    for plot in plots {
        assert_legible(plot);
        assert_eq!(count(plot, "full") + count(plot, "open"), 21);
    }
}

#[test]
fn traces_with_points_that_are_no_numbers_are_drawn_without_them() {
    let mut run = specimen::run();
    let sweep = &mut run.readings[1].acquisitions[0].sweeps[0];
    sweep.levels[3] = f32::NAN;
    sweep.levels[50] = f32::INFINITY;
    sweep.levels[51] = f32::NEG_INFINITY;
    sweep.levels[100] = f32::NAN;
    run.readings[1].acquisitions[1].sweeps[0].levels.fill(f32::NAN);
    run.readings[2].acquisitions[0].sweeps[0].levels.clear();
    run.readings[2].acquisitions[1].sweeps.clear();
    let page = html(&run.view()).unwrap();
    assert_sound(&page);
    assert_eq!(figures(&page, "look").len(), 20, "two looks have no finite point");
}

#[test]
fn a_look_shows_its_sweeps_the_limit_the_floor_and_the_peak() {
    let page = html(&specimen::run().view()).unwrap();
    let looks = figures(&page, "look");
    // Reading 3, keyed and not: the limit is at -52.44 dBm at the input, the line 4 dB above it.
    let [keyed, unkeyed] = [looks[4], looks[5]];
    assert_eq!(["trace", "limit", "floor", "peak"].map(|class| count(keyed, class)), [5, 1, 1, 1]);
    assert_eq!(["trace", "limit", "floor", "peak"].map(|class| count(unkeyed, class)), [1, 1, 0, 0]);
    let (limit, floor) = (numbers(keyed, "limit", "y1")[0], numbers(keyed, "floor", "y1")[0]);
    let read = roxmltree::Document::parse(keyed).unwrap();
    let peak = read.descendants().find(|node| node.attribute("class") == Some("peak")).unwrap();
    let tip: f64 = peak.attribute("d").unwrap()[1..].split([' ', 'L']).nth(1).unwrap().parse().unwrap();
    assert!(tip < limit && limit < floor, "{tip} {limit} {floor}");
    // -48.43 to -52.44 dBm is 4.01 dB, -52.44 to -74.92 dBm is 22.48 dB; the tip stays 2 units clear of the peak.
    let ratio = (limit - tip - 2.0) / (floor - limit);
    assert!((ratio - 4.01 / 22.48).abs() < 0.01, "{ratio}");
}

#[test]
fn odd_levels_are_drawn_and_not_divided_by_nothing() {
    let mut run = specimen::run();
    run.readings.truncate(2);
    for (level, low) in [(0.0, 0.0), (-40.0, f64::NAN), (1e300, 1e-300), (-1e300, f64::INFINITY)] {
        for reading in &mut run.readings {
            reading.figure.as_mut().unwrap().level = Some(Dbm::new(level));
            reading.budget.as_mut().unwrap().expanded = 0.0;
            reading.margin = Some(Db::new(level).into());
            reading.proof.floor = None;
            reading.limit = None;
        }
        run.readings[0].limit = Some(Limit::Window { low, high: -1.0 });
        run.readings[0].acquisitions[0].settings.span = Hertz::new(0.0);
        let page = html(&run.view()).unwrap();
        for drawing in drawings(&page) {
            assert!(!drawing.contains("NaN") && !drawing.contains("inf"), "{level}: {drawing}");
        }
        figures(&page, "levels").into_iter().for_each(assert_legible);
    }
}
