//! Pairs of readings whose answers are known.

use jiff::Timestamp;
use spurline_record::{
    Acquisition, AnalyserSettings, Budget, BudgetLine, CoverageMethod, Decision, Derivation, Detector,
    Figure, Floor, Identity, InstrumentUsed, Layout, Limit, Outcome, Preamplifier, Proof, Quantity, Reading,
    Role, RunHeader, RunId, RunState, Scope, SweepFlags, Unit,
};
use spurline_units::{Db, Dbm, Hertz, Seconds};

use super::*;
use crate::compare::{Comparison, NotComparable, Terms, Verdict};
use crate::view::RunView;

/// A run on a bench with an analyser alone.
#[derive(Clone)]
pub(crate) struct Bench {
    pub(crate) header: RunHeader,
    pub(crate) instruments: Vec<InstrumentUsed>,
    pub(crate) readings: Vec<Reading>,
}

impl Bench {
    pub(crate) fn new() -> Self {
        Self::with(1, &[-30.0, -40.0])
    }

    /// The run of a number, with harmonics from the second on at these levels.
    pub(crate) fn with(number: i64, levels: &[f64]) -> Self {
        let id = RunId::from_record(format!("run-{number}"));
        let started = Timestamp::new(1_795_602_612 + 600 * number, 0).unwrap();
        let header = RunHeader {
            id,
            started,
            plan: "plan".to_owned(),
            bench: "bench".to_owned(),
            unit: Identity { model: "FH-2".to_owned(), serial: "U-1".to_owned(), ..Identity::default() },
            rule: "rule".to_owned(),
            rule_source: String::new(),
            rule_status: "verified".to_owned(),
            decision: Decision::GuardBand,
            guard_factor: 1.0,
            largest_uncertainty: None,
            software: "spurline".to_owned(),
            simulated: None,
            layout: Layout::default(),
            texts: Vec::new(),
            notes: Vec::new(),
            reservations: Vec::new(),
            noted: Vec::new(),
        };
        let identity = Identity { serial: "A-1".to_owned(), ..Identity::default() };
        let analyser =
            InstrumentUsed { role: Role::Analyser, address: String::new(), profile: String::new(), identity };
        let readings = (2..).zip(levels).map(|(order, level)| harmonic(order, *level)).collect();
        Self { header, instruments: vec![analyser], readings }
    }

    pub(crate) fn view(&self) -> RunView<'_> {
        RunView {
            header: &self.header,
            state: RunState::Finished,
            ended: None,
            local: jiff::tz::Offset::UTC,
            outcome: Outcome::of_run(self.readings.iter().map(|reading| reading.outcome)),
            instruments: &self.instruments,
            readings: &self.readings,
            events: &[],
            particulars: None,
        }
    }
}

/// A harmonic whose three sweeps scatter by 0.03 dB in their mean.
fn harmonic(order: u32, level: f64) -> Reading {
    let line = |name: &str, standard, freedom| BudgetLine {
        name: name.to_owned(),
        value: standard,
        distribution: "standard".to_owned(),
        standard,
        freedom,
        source: "test".to_owned(),
    };
    let lines = vec![
        line("analyser: absolute level", 0.4, None),
        line("repeatability of the sweeps", 0.03, Some(4.0)),
    ];
    let settings = AnalyserSettings {
        centre: Hertz::from_mhz(288.0),
        span: Hertz::new(300e3),
        rbw: Hertz::new(10e3),
        vbw: Hertz::new(30e3),
        points: 401,
        sweep_time: Seconds::new(0.1),
        detector: Detector::Rms,
        attenuation: Db::new(20.0),
        preamplifier: Preamplifier::Off,
        reference_level: Dbm::new(0.0),
    };
    let at = Timestamp::new(1_795_602_612, 0).unwrap();
    Reading {
        ordinal: order - 1,
        quantity: Quantity::Harmonic,
        scope: Scope {
            channel: "one".to_owned(),
            carrier: Hertz::from_mhz(144.0),
            power_setting: "high".to_owned(),
            supply: None,
            path: "direct".to_owned(),
        },
        order: Some(order),
        name: None,
        frequency: Hertz::from_mhz(144.0 * f64::from(order)),
        at,
        figure: Some(Figure { value: level, unit: Unit::Dbm, level: Some(Dbm::new(level)), bound: false }),
        limit: Some(Limit::Upper { level: Dbm::new(-16.0), below_carrier: None }),
        derivation: Derivation::default(),
        margin: Some(Db::new(-16.0 - level).into()),
        conformance_probability: None,
        budget: Some(Budget {
            unit: Unit::Db,
            lines,
            combined: 0.4,
            coverage_factor: 2.0,
            expanded: 0.8,
            method: CoverageMethod::Normal,
            effective_freedom: None,
        }),
        correction: None,
        proof: Proof {
            floor: Some(Floor {
                level: Dbm::new(level - 40.0),
                distance: Db::new(40.0),
                height: Db::new(3.0),
                points: 200,
            }),
            peak_point: Some(200),
            read_from: Some(1),
            ..Proof::default()
        },
        outcome: if level <= -16.8 { Outcome::Complies } else { Outcome::Exceeds },
        reason: None,
        series: None,
        acquisitions: vec![Acquisition {
            purpose: "line".to_owned(),
            at,
            keyed: true,
            settings,
            sweeps: Vec::new(),
            marker: None,
            flags: SweepFlags::default(),
        }],
        meter: Vec::new(),
        remarks: Vec::new(),
    }
}

fn compared<'a>(before: &'a Bench, after: &'a Bench) -> Comparison<'a> {
    Comparison::of(&[before.view()], after.view(), Terms::default()).unwrap()
}

fn bounded(reading: &mut Reading) {
    if let Some(figure) = &mut reading.figure {
        figure.bound = true;
    }
}

/// What an update changed stands before the readings, and so does that there was none.
#[test]
fn the_firmware_is_told_whether_it_differs_or_not() {
    let (mut before, mut after) = (Bench::with(1, &[-30.0]), Bench::with(2, &[-30.0]));
    let told = |before: &Bench, after: &Bench| {
        let found = compared(before, after);
        (found.firmware(), found.notes[0].clone())
    };
    let (words, note) = told(&before, &after);
    assert_eq!(words, "firmware not stated, before and now");
    assert_eq!(note, "neither run says which firmware it was");
    (before.header.unit.firmware, after.header.unit.firmware) = ("1.0".to_owned(), "1.1".to_owned());
    let (words, note) = told(&before, &after);
    assert_eq!(words, "firmware 1.0 → 1.1");
    assert_eq!(note, "the firmware is another one: 1.0 before, 1.1 now");
    after.header.unit.firmware = "1.0".to_owned();
    let (words, note) = told(&before, &after);
    assert_eq!(words, "firmware 1.0, before and now");
    assert_eq!(note, "the firmware is the same in run-1 and run-2: 1.0");
    let other = Bench {
        header: spurline_record::RunHeader {
            unit: Identity { firmware: "0.9".to_owned(), ..before.header.unit.clone() },
            ..before.header.clone()
        },
        ..before.clone()
    };
    let found = Comparison::of(&[before.view(), other.view()], after.view(), Terms::default()).unwrap();
    assert_eq!(found.firmware(), "firmware 0.9, 1.0 → 1.0");
}

/// numpy 2.4.6: the parts are 0.03 dB twice and 0.05 dB sqrt(2), and half a hundredth's worth of a digit.
#[test]
fn a_shift_of_one_line_is_found_among_others() {
    let (before, after) = (Bench::with(1, &[-30.0, -40.0]), Bench::with(2, &[-30.05, -38.9]));
    let found = compared(&before, &after);
    assert_eq!((found.verdict, &found.worse[..]), (Verdict::Worse, &[1][..]));
    let shift = found.changes[1].shift().unwrap();
    assert!((shift.shift - 1.1).abs() < 1e-9 && (shift.standard - 0.082_56).abs() < 1e-4, "{shift:?}");
    assert!(!found.changes[0].is_real());
    let [text, other] = [0, 1].map(|place| found.changes[place].statement());
    assert!(text.starts_with("no change larger than 0.3"), "{text}");
    assert!(other.starts_with("shifted by +1.10 dB ± 0.2"), "{other}");
    assert!(found.notes.iter().any(|note| note.contains("assumed")), "{:?}", found.notes);
}

#[test]
fn a_fall_is_real_and_not_worse() {
    let (before, after) = (Bench::with(1, &[-30.0]), Bench::with(2, &[-33.0]));
    let found = compared(&before, &after);
    assert!(found.changes[0].is_real());
    assert_eq!(found.verdict, Verdict::NotWorse);
}

/// The same shift that repeats show is lost in all of the uncertainty, which another analyser does not share.
#[test]
fn another_bench_counts_all_of_the_uncertainty() {
    let (before, mut after) = (Bench::with(1, &[-30.0]), Bench::with(2, &[-29.3]));
    assert_eq!(compared(&before, &after).verdict, Verdict::Worse);
    after.instruments[0].identity.serial = "A-2".to_owned();
    let found = compared(&before, &after);
    assert_eq!(found.verdict, Verdict::NotWorse);
    let Basis::Everything(why, Some(en)) = &found.changes[0].basis else { panic!("{:?}", found.changes[0]) };
    assert!(why.contains("A-2") && (en - 0.7 / 0.8f64.hypot(0.8)).abs() < 1e-9, "{en}");
}

#[test]
fn bounds_say_what_they_can() {
    let (mut before, mut after) =
        (Bench::with(1, &[-40.0; 4]), Bench::with(2, &[-38.0, -41.0, -45.0, -40.0]));
    bounded(&mut before.readings[0]);
    bounded(&mut before.readings[1]);
    bounded(&mut after.readings[2]);
    bounded(&mut before.readings[3]);
    bounded(&mut after.readings[3]);
    let found = compared(&before, &after);
    let statement = |place: usize| found.changes[place].statement();
    assert!(statement(0).starts_with("rose above what was hidden, by at least 1."), "{}", statement(0));
    assert!(statement(1).starts_with("no rise"), "{}", statement(1));
    assert!(statement(2).starts_with("fell by at least 4."), "{}", statement(2));
    assert!(statement(3).starts_with("below what can be seen"), "{}", statement(3));
    assert_eq!((found.verdict, found.asked), (Verdict::Worse, 3));
    assert!(found.open.is_empty(), "{:?}", found.open);
}

#[test]
fn what_is_hidden_now_leaves_it_open() {
    let (before, mut after) = (Bench::with(1, &[-40.0]), Bench::with(2, &[-30.0]));
    bounded(&mut after.readings[0]);
    let found = compared(&before, &after);
    assert_eq!(found.verdict, Verdict::Undecidable);
    assert!(found.open[0].contains("up to 10.0 dB"), "{:?}", found.open);
}

#[test]
fn what_is_missing_or_says_nothing_leaves_it_open() {
    let before = Bench::with(1, &[-30.0, -40.0]);
    let short = Bench::with(2, &[-30.0]);
    let found = compared(&before, &short);
    assert_eq!((found.verdict, found.gone.len()), (Verdict::Undecidable, 1));
    let mut invalid = Bench::with(2, &[-30.0, -40.0]);
    invalid.readings[1].outcome = Outcome::Invalid;
    assert_eq!(compared(&before, &invalid).verdict, Verdict::Undecidable);
    let none = Bench::with(2, &[]);
    assert!(compared(&none, &none.clone_as(3)).open[0].starts_with("no reading"));
}

/// A line at its limit may change its outcome by scatter alone: that is no finding, and no all-clear either.
#[test]
fn a_graver_outcome_without_a_shift_leaves_it_open() {
    let (before, after) = (Bench::with(1, &[-16.82]), Bench::with(2, &[-16.78]));
    let found = compared(&before, &after);
    assert_eq!(found.verdict, Verdict::Undecidable);
    assert!(found.open[0].contains("no real shift explains it"), "{:?}", found.open);
}

#[test]
fn a_change_that_matters_must_be_one_that_would_be_seen() {
    let (before, after) = (Bench::with(1, &[-30.0]), Bench::with(2, &[-29.9]));
    let with = |matters: f64| {
        let terms = Terms { worse: Some(Db::new(matters)), ..Terms::default() };
        Comparison::of(&[before.view()], after.view(), terms).unwrap().verdict
    };
    assert_eq!((with(0.05), with(1.0)), (Verdict::Undecidable, Verdict::NotWorse));
    let far = Bench::with(2, &[-29.4]);
    let terms = Terms { worse: Some(Db::new(1.0)), ..Terms::default() };
    let found = Comparison::of(&[before.view()], far.view(), terms).unwrap();
    assert!(found.changes[0].is_real() && found.verdict == Verdict::NotWorse, "{:?}", found.open);
}

/// Runs before that scatter by more than is assumed are believed, with the few degrees of freedom that they have.
#[test]
fn several_runs_before_say_how_the_bench_repeats() {
    let after = Bench::with(9, &[-29.4]);
    let of = |levels: &[f64]| {
        let runs: Vec<Bench> = (1..).zip(levels).map(|(n, level)| Bench::with(n, &[*level])).collect();
        let views: Vec<RunView<'_>> = runs.iter().map(Bench::view).collect();
        let found = Comparison::of(&views, after.view(), Terms::default()).unwrap();
        (found.verdict, found.repeats[0].clone())
    };
    let (verdict, words) = of(&[-30.0, -30.04, -29.97, -30.01]);
    assert_eq!(verdict, Verdict::Worse, "{words}");
    let (verdict, words) = of(&[-30.5, -29.5, -30.2, -29.8]);
    assert_eq!(verdict, Verdict::NotWorse, "{words}");
    assert!(words.contains("more than"), "{words}");
}

#[test]
fn units_are_not_mixed_up() {
    let (before, mut after) = (Bench::with(1, &[-30.0]), Bench::with(2, &[-30.0]));
    after.header.unit.serial = "U-2".to_owned();
    let refused = Comparison::of(&[before.view()], after.view(), Terms::default());
    assert!(matches!(refused, Err(NotComparable::Units { .. })));
    let terms = Terms { across_units: true, ..Terms::default() };
    let found = Comparison::of(&[before.view()], after.view(), terms).unwrap();
    assert!(found.notes.iter().any(|note| note.contains("comparison of units")), "{:?}", found.notes);
    assert!(matches!(Comparison::of(&[before.view()], before.view(), terms), Err(NotComparable::Itself(_))));
}

/// Other settings bring the errors of switching back, which the same settings share.
#[test]
fn settings_that_differ_are_counted() {
    let (before, mut after) = (Bench::with(1, &[-30.0]), Bench::with(2, &[-30.0]));
    let alike = compared(&before, &after).changes[0].shift().unwrap().standard;
    after.readings[0].acquisitions[0].settings.attenuation = Db::new(30.0);
    let mut before = before;
    for run in [&mut before, &mut after] {
        let budget = run.readings[0].budget.as_mut().unwrap();
        budget.lines[0].source = "profile: accuracy.attenuator_switching".to_owned();
    }
    let other = compared(&before, &after).changes[0].shift().unwrap().standard;
    assert!((other - alike.hypot(0.4f64.hypot(0.4))).abs() < 1e-9, "{alike} {other}");
}

impl Bench {
    fn clone_as(&self, number: i64) -> Self {
        Self { header: Self::with(number, &[]).header, ..self.clone() }
    }
}

/// What was measured of a run that was stopped keeps its limits so far, and no program reads more of it.
#[test]
fn a_stopped_run_does_not_comply() {
    let (before, after) = (Bench::new(), Bench::with(2, &[-30.0]));
    let stopped = RunView { state: RunState::Interrupted, ..after.view() };
    let found = Comparison::of(&[before.view()], stopped, Terms::default()).unwrap();
    let page = crate::comparison_html(&found).unwrap();
    assert!(page.contains("<td>complies so far</td>") && page.contains("<td>complies</td>"), "{page}");
    let document: serde_json::Value = serde_json::from_str(&crate::comparison_json(&found).unwrap()).unwrap();
    assert!(document["after"]["outcome"].is_null(), "{document:#}");
    assert_eq!(document["before"][0]["outcome"], "complies");
}
