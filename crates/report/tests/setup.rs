//! The drawing of what was wired: everything in it, legible, whatever the bench is like.

use spurline_record::{LaidPart, LaidWay, Layout, Role};
use spurline_report::html;
use spurline_units::{Db, Hertz, Range, Watts};

mod drawn;
mod specimen;

use drawn::{assert_boxed, assert_legible, count, figures};

/// Both drawings of a layout.
fn drawn_of(layout: Layout) -> Vec<String> {
    let mut run = specimen::run();
    run.header.layout = layout;
    let page = html(&run.view()).expect("a page");
    figures(&page, "setup").into_iter().map(str::to_owned).collect()
}

fn part(name: &str) -> LaidPart {
    LaidPart {
        name: name.to_owned(),
        loss: Range::new(Db::new(30.0), Db::new(30.1)),
        uncertainty: Db::new(0.1),
        covers: Range::new(Hertz::new(1e6), Hertz::new(3e9)).expect("1 MHz is below 3 GHz"),
        rated: Some(Watts::new(25.0)),
    }
}

fn way(name: &str, ends_at: Role, used: bool, parts: usize) -> LaidWay {
    LaidWay { name: name.to_owned(), ends_at, used, parts: vec![part(name); parts], set: Vec::new() }
}

#[test]
fn the_drawing_names_everything() {
    let run = specimen::run();
    let drawings = drawn_of(run.header.layout.clone());
    assert_eq!(drawings.len(), 2, "one for wide and one for narrow pages");
    for drawing in &drawings {
        assert_legible(drawing);
        assert_boxed(drawing);
        for words in [
            "Unit under test",
            "FH-2",
            "serial 0017",
            "pad-30",
            "30.00 to 30.10 dB",
            "rated 25 W",
            "Way: power meter",
            "RF power meter",
            "serial P-1",
            "Way: through; switch notch at out",
            "Way not used in this run: notched; switch notch at in",
            "serial A-1",
            "contact 1",
            "serial R-1",
            "serial S-1",
        ] {
            assert!(drawing.contains(words), "{words}");
        }
        assert_eq!((count(drawing, "box unit"), count(drawing, "box feed")), (1, 2));
        // Two common ones, two on each of the two ways in use; three on the one that is not.
        assert_eq!((count(drawing, "box part"), count(drawing, "box part idle")), (2 + 2 + 2, 3));
        assert_eq!((count(drawing, "box instrument"), count(drawing, "box instrument idle")), (2, 1));
    }
}

#[test]
fn any_bench_is_legible() {
    let long = "an attenuator with a name of 40 letters!";
    assert_eq!(long.chars().count(), 40);
    for name in ["pad", long, &"W".repeat(40), &"x".repeat(300), "日本語の減衰器", "a b c d e f g h i j k"]
    {
        for parts in 1..=8 {
            for ways in 1..=3 {
                let all = [
                    way(name, Role::Analyser, true, parts),
                    way(name, Role::PowerMeter, true, 0),
                    way(name, Role::Analyser, false, parts),
                ];
                let layout = Layout {
                    common: vec![part(name); parts],
                    ways: all[..ways].to_vec(),
                    ..specimen::run().header.layout
                };
                for drawing in drawn_of(layout) {
                    assert_legible(&drawing);
                    assert_boxed(&drawing);
                    let boxes = count(&drawing, "box part") + count(&drawing, "box part idle");
                    assert_eq!(boxes, parts * [2, 2, 3][ways - 1]);
                }
            }
        }
    }
}

#[test]
fn a_bench_of_the_least_is_drawn() {
    let unfed = Layout {
        common: vec![part("pad-30")],
        ways: vec![way("through", Role::Analyser, true, 0)],
        ..Layout::default()
    };
    let unwired = Layout { common: vec![part("pad-30")], ..Layout::default() };
    for (layout, instruments) in [(unfed, 1), (unwired, 0)] {
        for drawing in drawn_of(layout) {
            assert_legible(&drawing);
            assert_boxed(&drawing);
            assert_eq!((count(&drawing, "box feed"), count(&drawing, "box instrument")), (0, instruments));
        }
    }
}

#[test]
fn nothing_known_is_not_drawn() {
    let mut run = specimen::run();
    run.header.layout = Layout::default();
    let page = html(&run.view()).unwrap();
    assert!(!page.contains("class=\"setup\"") && !page.contains("Parts of the path"));
    assert!(page.contains("Instruments"));
}

#[test]
fn a_part_on_two_ways_is_listed_once() {
    let page = html(&specimen::run().view()).unwrap();
    let list = &page[page.find("Parts of the path</h3>").unwrap()..page.find("Instruments</h3>").unwrap()];
    assert_eq!(
        list.matches(
            "class=\"what\">splitter-1</td><td role=\"cell\" data-label=\"way\">through, notched</td>"
        )
        .count(),
        1
    );
    assert_eq!(list.matches("<tr role=\"row\"><td").count(), 7);
}

/// With a loss that is known nowhere in the plan, and no rating.
#[test]
fn what_is_not_known_is_said() {
    let unknown = LaidPart { loss: None, rated: None, ..part("pad") };
    for drawing in drawn_of(Layout { common: vec![unknown], ..Layout::default() }) {
        assert!(drawing.contains("loss not known") && !drawing.contains("rated"));
    }
}
