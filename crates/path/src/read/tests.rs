//! Parts as people write them, rightly and wrongly.

use proptest::prelude::*;
use spurline_document::{Document, Mistakes};
use spurline_units::Hertz;

use super::*;

/// Files beside the document; the numbers are those of a table whose values in between are straight lines.
const FILES: &[(&str, &str)] = &[
    (
        "../paths/pad.s2p",
        "# MHz S DB R 50\n100 -26 0 -30.0 0 -30.0 0 -20 0\n300 -26 0 -30.4 0 -30.4 0 -20 0\n",
    ),
    ("paths/amp.s2p", "# MHz S DB R 50\n100 -20 0 15 0 -30 0 -20 0\n"),
    (
        "cable.yaml",
        "loss: # measured as connected\n  - [100 MHz, 0.2 dB]\n  - [300 MHz, 0.4 dB]\nuncertainty: 0.06 dB\n",
    ),
    ("bare.yaml", "loss: [[100 MHz, 0.2 dB], [300 MHz, 0.4 dB]]\n"),
    ("wrong.yaml", "loss:\n  - [100 MHz, 0.2 dB]\n  - [90 MHz, 0.4 dB]\nuncertain: 0.06 dB\n"),
    ("broken.yaml", "loss: [\n"),
];

fn read(text: &str) -> Result<Part, Mistakes> {
    let document = Document::parse("bench.yaml", text)?;
    let mut reader = Reader::new(&document);
    let mut open = |name: &str| {
        let file = FILES.iter().find(|(known, _)| *known == name);
        file.map(|(_, text)| (*text).to_owned()).ok_or_else(|| "no such file".to_owned())
    };
    let part = Part::read(&mut reader, &document.root, &mut open);
    assert!(part.is_some() || !reader.is_clean(), "nothing read and nothing noted: {text}");
    reader.finish(part)
}

fn loss(part: &Part, mhz: f64) -> Option<f64> {
    part.loss.value.at(Hertz::from_mhz(mhz)).map(Db::get)
}

/// Every mistake as `file:line: message`, and the advice of the first.
fn mistakes(text: &str) -> (Vec<String>, String) {
    let mistakes = read(text).unwrap_err();
    let shown = mistakes
        .all()
        .iter()
        .map(|mistake| format!("{}:{}: {}", mistake.file(), mistake.line_and_column().0, mistake.message()));
    (shown.collect(), mistakes.all()[0].advice().unwrap_or_default().to_owned())
}

#[test]
fn a_part_may_be_said_to_distort() {
    let with = |distorts: &str| {
        format!("attenuator: 0.5 dB\nover: 9 kHz..3 GHz\nuncertainty: 0.1 dB\ndistorts: {distorts}\n")
    };
    let stated = |distorts: &str| read(&with(distorts)).unwrap().distorts.unwrap();
    assert_eq!(stated("unknown"), Stated::new(Distortion::Unknown, "`distorts` in bench.yaml, line 4"));
    let known = Intercepts { second: Dbm::new(80.0), third: Dbm::new(50.0) };
    let text = "{ second_intercept: 80 dBm, third_intercept: 50 dBm }";
    assert_eq!(stated(text).value, Distortion::AtMost(known));
    let (found, advice) = mistakes(&with("unknwon"));
    assert_eq!(found, ["bench.yaml:4: expected `unknown` or a map of intercepts, found `unknwon`"]);
    assert_eq!(advice, "did you mean `unknown`?");
    let (found, _) = mistakes(&with("{ second_intercept: 80 dBm }"));
    assert_eq!(found, ["bench.yaml:4: the key `third_intercept` is missing in what a part makes by itself"]);
}

#[test]
fn an_attenuator_is_a_figure_over_a_range() {
    let part = read("attenuator: 30 dB\nover: 9 kHz..3 GHz\nuncertainty: 0.15 dB\nrated: 25 W\nvswr: 1.2\n")
        .unwrap();
    assert_eq!(part.name, "attenuator 30 dB");
    assert_eq!((loss(&part, 145.0), loss(&part, 3001.0)), (Some(30.0), None));
    assert_eq!(part.loss.source, "`attenuator` in bench.yaml, line 1");
    assert_eq!(part.uncertainty, Stated::new(Db::new(0.15), "`uncertainty` in bench.yaml, line 3"));
    assert_eq!(part.rated, Some(Watts::new(25.0)));
    let vswr = part.vswr.unwrap();
    assert!((vswr.value.vswr() - 1.2).abs() < 1e-12);
    assert_eq!(vswr.source, "`vswr` in bench.yaml, line 5");

    let part = read("{ attenuator: 30 dB, over: DC..3 GHz, uncertainty: 0.15 dB }").unwrap();
    assert_eq!(loss(&part, 0.0), Some(30.0));
}

#[test]
fn an_attenuator_or_a_cable_is_a_touchstone_file() {
    for key in ["attenuator", "touchstone"] {
        let part =
            read(&format!("{{ {key}: ../paths/pad.s2p, uncertainty: 0.15 dB, rated: 44 dBm }}")).unwrap();
        assert_eq!((part.name.as_str(), part.loss.source.as_str()), ("pad.s2p", "../paths/pad.s2p"));
        assert!((loss(&part, 200.0).unwrap() - 30.2).abs() < 1e-12);
        assert!((part.rated.unwrap().get() - 25.118_864).abs() < 1e-6);
        let ends = part.reflections_at(Hertz::from_mhz(200.0));
        assert!((ends.input.unwrap().value.get() - 0.050_119).abs() < 1e-6);
        let output = ends.output.unwrap();
        assert!((output.value.get() - 0.1).abs() < 1e-12);
        assert_eq!(output.source, "S22 of ../paths/pad.s2p");
    }
}

#[test]
fn a_stated_vswr_holds_before_measured_reflections() {
    let part = read("{ touchstone: ../paths/pad.s2p, uncertainty: 0.15 dB, vswr: 1.5 }").unwrap();
    let ends = part.reflections_at(Hertz::from_mhz(200.0));
    assert!((ends.input.unwrap().value.get() - 0.2).abs() < 1e-12);
    assert!((ends.output.unwrap().value.get() - 0.2).abs() < 1e-12);
}

#[test]
fn a_loss_is_a_table_here_or_in_a_file() {
    let part =
        read("{ name: jumper, loss: [[9 kHz, 0.02 dB], [3 GHz, 0.21 dB]], uncertainty: 0.05 dB }").unwrap();
    assert_eq!((part.name.as_str(), loss(&part, 3000.0)), ("jumper", Some(0.21)));
    assert_eq!(part.reflections_at(Hertz::from_mhz(200.0)), crate::part::Ends::default());

    for text in ["{ loss: cable.yaml }", "cable.yaml", "{ attenuator: cable.yaml }"] {
        let part = read(text).unwrap();
        assert!((loss(&part, 200.0).unwrap() - 0.3).abs() < 1e-12);
        assert_eq!(part.name, "cable.yaml");
        assert_eq!(part.uncertainty, Stated::new(Db::new(0.06), "`uncertainty` in cable.yaml, line 4"));
    }
    let part = read("{ loss: bare.yaml, uncertainty: 0.05 dB }").unwrap();
    assert_eq!(part.uncertainty.source, "`uncertainty` in bench.yaml, line 1");
}

#[test]
fn the_uncertainty_is_asked_for_once() {
    let (found, advice) = mistakes("{ attenuator: 30 dB, over: DC..3 GHz }");
    assert_eq!(found, ["bench.yaml:1: this part lacks the key `uncertainty`"]);
    assert_eq!(
        advice,
        "write the uncertainty of its loss from the certificate, expanded, k = 2: `uncertainty: 0.15 dB`"
    );
    let (found, advice) = mistakes("{ loss: cable.yaml, uncertainty: 0.1 dB }");
    assert_eq!(found, ["bench.yaml:1: the uncertainty of this part is stated twice"]);
    assert_eq!(advice, "remove one of the two: it also stands as `uncertainty` in cable.yaml, line 4");
    // It is asked for beside other mistakes, so that one reading finds both.
    assert_eq!(mistakes("{ attenuator: 30 dB, over: DC..3 GHz, vswr: 0 }").0.len(), 2);
    assert_eq!(mistakes("bare.yaml").0, ["bench.yaml:1: this part lacks the key `uncertainty`"]);
}

#[test]
fn mistakes_in_files_are_shown_where_they_stand() {
    let (found, _) = mistakes("{ loss: wrong.yaml }");
    assert_eq!(found.len(), 2, "{found:?}");
    assert!(found[0].starts_with("wrong.yaml:4: ") && found[0].contains("`uncertain`"), "{found:?}");
    assert_eq!(found[1], "wrong.yaml:3: 90 MHz stands behind 100 MHz");
    assert!(mistakes("broken.yaml").0[0].starts_with("broken.yaml:"));
    let (found, advice) = mistakes("{ touchstone: paths/amp.s2p, uncertainty: 0.1 dB }");
    assert_eq!(
        found,
        [
            "bench.yaml:1: `paths/amp.s2p` does not read: line 2: expected a loss, found a gain of 15.00 dB at 100 MHz"
        ]
    );
    assert!(advice.starts_with("this is an amplifier"));
    let (found, advice) = mistakes("{ attenuator: gone.s2p, uncertainty: 0.1 dB }");
    assert_eq!(found, ["bench.yaml:1: `gone.s2p` does not open: no such file"]);
    assert_eq!(advice, "files are named relative to the file that names them");
}

#[test]
fn every_mistake_in_a_part_is_noted() {
    let text = "attenuator: 30\nrated: 25\nvswr: 0.5\nuncertainty: -0.1 dB\nover: 3 GHz..9 kHz\nratd: 5 W\n";
    let (found, _) = mistakes(text);
    assert_eq!(found.len(), 6, "{found:?}");
    for (line, part_of_message) in [
        (1, "found the bare number `30`"),
        (2, "found the bare number `25`"),
        (3, "expected a VSWR from 1 to 1000, found 0.5"),
        (4, "expected an uncertainty of 0 dB or more, found -0.10 dB"),
        (5, "the range `3 GHz..9 kHz` ends below its start"),
        (6, "`ratd`"),
    ] {
        let place = format!("bench.yaml:{line}: ");
        assert!(
            found.iter().any(|m| m.starts_with(&place) && m.contains(part_of_message)),
            "{line}: {found:?}"
        );
    }
}

#[test]
fn other_slips() {
    for (text, part_of_message) in [
        ("{ uncertainty: 0.1 dB }", "`attenuator`, `touchstone`, `loss`"),
        ("{ attenuator: 3 dB, over: DC..1 GHz, loss: cable.yaml, uncertainty: 0.1 dB }", "more than one"),
        ("{ attenuator: 3 dB, uncertainty: 0.1 dB }", "an attenuator given as a figure lacks the key `over`"),
        (
            "{ attenuator: -3 dB, over: DC..1 GHz, uncertainty: 0.1 dB }",
            "expected a loss, found a gain of 3.00 dB",
        ),
        ("{ attenuator: ../paths/pad.s2p, over: DC..1 GHz, uncertainty: 0.1 dB }", "`over`"),
        ("../paths/pad.s2p", "expected a table file ending in `.yaml`, found `../paths/pad.s2p`"),
        ("{ loss: [], uncertainty: 0.1 dB }", "a loss table without points"),
        ("{ loss: [[1 MHz]], uncertainty: 0.1 dB }", "expected the 2 values of a row, found 1"),
        (
            "{ loss: [[1 MHz, -9 dB]], uncertainty: 0.1 dB }",
            "expected a loss, found a gain of 9.00 dB at 1 MHz",
        ),
        ("[ 1 ]", "a part"),
    ] {
        let found = read(text).unwrap_err();
        assert!(
            found.all().iter().any(|mistake| mistake.message().contains(part_of_message)),
            "{text}: {found}"
        );
    }
}

proptest! {
    #[test]
    fn reading_never_panics(text in "(attenuator|loss|touchstone|over|vswr|rated|uncertainty|[-a-zDCMHz0-9:,.{}\\[\\] \n]|: ){0,30}") {
        drop(read(&text));
    }

    #[test]
    fn tables_are_read_as_written(steps in prop::collection::vec((1u32..900, 0.0..60.0f64), 1..12)) {
        let (mut khz, mut points) = (0, Vec::new());
        for (step, loss) in steps {
            khz += step;
            points.push((f64::from(khz) / 1000.0, loss));
        }
        let rows: Vec<String> = points.iter().map(|(mhz, loss)| format!("[{mhz} MHz, {loss} dB]")).collect();
        let part = read(&format!("{{ loss: [{}], uncertainty: 0.1 dB }}", rows.join(", "))).unwrap();
        for (mhz, expected) in points {
            prop_assert!((loss(&part, mhz).unwrap() - expected).abs() < 1e-9);
        }
    }
}
