//! A run for the tests: each outcome, a bound, a reading without a figure, a window, several limits.
//! Its figures prove nothing about measuring: a report shows what it is given.

#![allow(dead_code, unused_imports, reason = "each test file uses a part of it")]
#![allow(unreachable_pub, reason = "shared by several test crates")]

mod saying;

pub use saying::{hostile, saying};

use jiff::Timestamp;
use spurline_record::{
    Acquisition, AnalyserSettings, Budget, BudgetLine, Correction, CoverageMethod, CrossCheck, Decision,
    Derivation, Detector, Event, EventKind, Fault, Figure, Floor, Identity, InstrumentUsed, LaidCalibration,
    LaidKey, LaidPart, LaidSupply, LaidSwitch, LaidWay, Layout, Limit, MeterReading, Outcome, Preamplifier,
    Proof, Quantity, Reading, Reason, ReasonCode, Role, RunHeader, RunId, RunState, Scope, SourceText, Sweep,
    SweepFlags, TextRole, Unit,
};
use spurline_report::RunView;
use spurline_units::{Amperes, Db, Dbm, Hertz, Range, Seconds, Volts, Watts};

/// A run that owns what a view borrows.
pub struct Specimen {
    pub header: RunHeader,
    pub state: RunState,
    pub outcome: Option<Outcome>,
    pub instruments: Vec<InstrumentUsed>,
    pub readings: Vec<Reading>,
    pub events: Vec<Event>,
}

impl Specimen {
    pub fn view(&self) -> RunView<'_> {
        RunView {
            header: &self.header,
            state: self.state,
            ended: Some(at(90)),
            local: jiff::tz::Offset::UTC,
            outcome: self.outcome,
            instruments: &self.instruments,
            readings: &self.readings,
            events: &self.events,
            particulars: None,
        }
    }
}

/// 2026-11-25T10:30:12Z and so many seconds.
pub fn at(second: i64) -> Timestamp {
    Timestamp::new(1_795_602_612 + second, 0).expect("a second of that day")
}

pub fn run() -> Specimen {
    let readings = readings();
    let kinds = [
        EventKind::ScopeStarted { scope: scope(), readings: 10 },
        EventKind::KeyDown { lease: Seconds::new(20.0) },
        EventKind::ReadingFinished(Box::new(readings[0].clone())),
        EventKind::KeyUp { held: Seconds::new(4.25) },
        EventKind::Note("the unit was warm".to_owned()),
        EventKind::Failed(Fault {
            instrument: Some(Role::Supply),
            message: "no answer within 2 s".to_owned(),
            causes: vec!["connection reset".to_owned()],
            advice: Some("look at the cable".to_owned()),
        }),
    ];
    Specimen {
        header: header(),
        state: RunState::Finished,
        outcome: Outcome::of_run(readings.iter().map(|reading| reading.outcome)),
        instruments: vec![
            instrument(Role::Analyser, "Analyser", "A-1"),
            instrument(Role::PowerMeter, "Power Meter", "P-1"),
            instrument(Role::Supply, "Supply", "S-1"),
            instrument(Role::Relay, "Relay Card", "R-1"),
        ],
        readings,
        events: (1u64..).zip(kinds).map(|(n, kind)| Event { sequence: n, at: at(n as i64), kind }).collect(),
    }
}

fn instrument(role: Role, model: &str, serial: &str) -> InstrumentUsed {
    InstrumentUsed {
        role,
        address: "TCPIP::192.0.2.20::5025::SOCKET".to_owned(),
        profile: format!("{role}-generic"),
        identity: identity(model, serial),
    }
}

fn header() -> RunHeader {
    RunHeader {
        id: RunId::from_record("20261125-103012-7c1e".to_owned()),
        started: at(0),
        plan: "Field handheld, acceptance".to_owned(),
        bench: "North bench".to_owned(),
        unit: identity("FH-2", "0017"),
        rule: "us-part-97".to_owned(),
        rule_source: "47 CFR 97.307(e), eCFR issue 2026-09-23".to_owned(),
        rule_status: "verified".to_owned(),
        decision: Decision::GuardBand,
        guard_factor: 1.0,
        largest_uncertainty: None,
        software: "spurline 0.1.0".to_owned(),
        simulated: Some(7),
        texts: vec![SourceText {
            role: TextRole::Plan,
            name: "fh.yaml".to_owned(),
            text: "plan: x\n".to_owned(),
        }],
        layout: layout(),
        notes: vec!["the calibration of the analyser expired on 2026-10-01".to_owned()],
        reservations: Vec::new(),
        noted: Vec::new(),
    }
}

/// A unit behind an adapter and a pad, a power meter on one arm of a splitter, an analyser on the other by two ways.
fn layout() -> Layout {
    let part = |name: &str, low: f64, high: f64, rated: Option<f64>| LaidPart {
        name: name.to_owned(),
        loss: Range::new(Db::new(low), Db::new(high)),
        uncertainty: Db::new(0.1),
        covers: Range::new(Hertz::new(1e6), Hertz::new(3e9)).expect("1 MHz is below 3 GHz"),
        rated: rated.map(Watts::new),
    };
    let to_analyser = |name: &str, parts, position: &str| LaidWay {
        name: name.to_owned(),
        ends_at: Role::Analyser,
        used: name == "through",
        parts,
        set: vec![LaidSwitch { name: "notch".to_owned(), position: position.to_owned() }],
    };
    let (splitter, cable) = (part("splitter-1", 6.0, 6.1, None), part("cable-7", 0.2, 0.2, None));
    Layout {
        common: vec![part("adapter SMA to N", 0.05, 0.05, None), part("pad-30", 30.0, 30.1, Some(25.0))],
        ways: vec![
            LaidWay {
                name: "power meter".to_owned(),
                ends_at: Role::PowerMeter,
                used: true,
                parts: vec![part("splitter-2", 6.0, 6.1, None), part("cable-8", 0.1, 0.1, None)],
                set: Vec::new(),
            },
            to_analyser("through", vec![splitter.clone(), cable.clone()], "out"),
            to_analyser("notched", vec![splitter, part("notch-2m", 38.0, 41.0, Some(5.0)), cable], "in"),
        ],
        key: Some(LaidKey {
            contact: Some(1),
            line: None,
            opens_by_itself: Some(Seconds::new(1.0)),
            longest: Seconds::new(20.0),
            rest: Seconds::new(60.0),
        }),
        supplies: vec![LaidSupply {
            name: "battery".to_owned(),
            set: Volts::new(7.4),
            limit: Amperes::new(2.5),
        }],
        calibrations: vec![LaidCalibration {
            what: "analyser".to_owned(),
            role: Some(Role::Analyser),
            calibrated: "2025-11-01".parse().ok(),
            due: "2026-11-01".parse().ok(),
            certificate: Some("C-17".to_owned()),
        }],
    }
}

fn identity(model: &str, serial: &str) -> Identity {
    Identity {
        maker: "Example".to_owned(),
        model: model.to_owned(),
        serial: serial.to_owned(),
        firmware: "1.0.3".to_owned(),
    }
}

/// A carrier and harmonics 2 to 10 on one setting, and two readings on another.
fn readings() -> Vec<Reading> {
    use Outcome::{Complies, Exceeds, Invalid, NoLimit, Undecided};
    let mut all = vec![
        carrier(),
        harmonic(2, -26.74, false, Complies, None),
        harmonic(3, -12.24, false, Exceeds, None),
        harmonic(
            4,
            -16.5,
            false,
            Undecided,
            Some((ReasonCode::WithinUncertainty, "level + U is above the limit")),
        ),
        harmonic(5, -33.7, false, Invalid, Some((ReasonCode::Overload, "the analyser reported an overload"))),
        harmonic(6, -35.81, true, Complies, None),
        harmonic(7, -14.0, true, Undecided, Some((ReasonCode::FloorTooHigh, "the noise hides the limit"))),
    ];
    let several = Limit::Several(vec![Dbm::new(-16.02), Dbm::new(-20.0)]);
    let branches = Some((ReasonCode::BranchesDisagree, "-16.02 dBm or -20.00 dBm"));
    all.push(Reading {
        limit: Some(several),
        margin: None,
        ..harmonic(8, -18.0, false, Undecided, branches)
    });
    let exempt = Some((ReasonCode::Exempt, "built before 1977"));
    all.push(Reading { limit: None, margin: None, ..harmonic(9, -30.0, false, NoLimit, exempt) });
    let beyond = Some((ReasonCode::BeyondThisBench, "the path table ends at 1.4 GHz"));
    all.push(nothing(harmonic(10, -36.0, false, Undecided, beyond)));
    let low = Scope { power_setting: "low".to_owned(), supply: None, ..scope() };
    all[4].acquisitions[0].flags.overload = true;
    all.push(Reading { scope: low.clone(), ..carrier() });
    all.push(Reading { scope: low, ..harmonic(2, -31.0, false, Complies, None) });
    for (ordinal, reading) in (1u32..).zip(&mut all) {
        reading.ordinal = ordinal;
    }
    all
}

fn scope() -> Scope {
    Scope {
        channel: "VHF high".to_owned(),
        carrier: Hertz::new(147.8e6),
        power_setting: "high".to_owned(),
        supply: Some("battery".to_owned()),
        path: "through".to_owned(),
    }
}

fn carrier() -> Reading {
    Reading {
        quantity: Quantity::CarrierPower,
        order: None,
        name: None,
        series: None,
        frequency: Hertz::new(147.8e6),
        figure: Some(Figure { value: 4.816, unit: Unit::W, level: Some(Dbm::new(36.827)), bound: false }),
        limit: Some(Limit::Window { low: 4.0, high: 5.5 }),
        margin: Some(Db::new(0.58).into()),
        conformance_probability: Some(0.9999),
        budget: Some(budget(0.26, 0.15)),
        correction: Some(Correction {
            raw: Dbm::new(0.667),
            path: parts(&[("adapter.s2p", 0.05), ("pad-30.s2p", 30.01), ("splitter-2.s2p", 6.1)]),
            path_loss: Db::new(36.16),
            noise: Db::new(0.0),
        }),
        proof: Proof {
            cross_check: Some(CrossCheck {
                meter: Dbm::new(36.83),
                analyser: Dbm::new(36.69),
                difference: Db::new(-0.14),
                allowed: Db::new(1.46),
            }),
            ..Proof::default()
        },
        meter: vec![MeterReading { at: at(4), frequency: Hertz::new(147.8e6), level: Dbm::new(0.67) }],
        remarks: Vec::new(),
        ..harmonic(1, 36.827, false, Outcome::Complies, None)
    }
}

fn harmonic(
    order: u32,
    level: f64,
    bound: bool,
    outcome: Outcome,
    reason: Option<(ReasonCode, &str)>,
) -> Reading {
    let level = Dbm::new(level);
    let frequency = Hertz::new(147.8e6).harmonic(order);
    let loss = Db::new(36.42);
    let noise = Db::new(if bound { 0.0 } else { 0.24 });
    let raw = level - loss + noise;
    let floor = if bound { level - Db::new(2.69) } else { Dbm::new(-38.5) };
    let margin = Dbm::new(-16.02) - level;
    Reading {
        ordinal: 0,
        quantity: Quantity::Harmonic,
        scope: scope(),
        order: Some(order),
        name: None,
        series: None,
        frequency,
        at: at(5),
        figure: Some(Figure { value: level.get(), unit: Unit::Dbm, level: Some(level), bound }),
        limit: Some(Limit::Upper { level: Dbm::new(-16.02), below_carrier: Some(Db::new(52.85)) }),
        derivation: Derivation {
            source: "47 CFR 97.307(e)".to_owned(),
            steps: vec!["the carrier lies in 30..225 MHz".to_owned(), "25 uW is -16.02 dBm".to_owned()],
        },
        margin: Some(margin.into()),
        conformance_probability: Some(if margin.get() > 0.0 { 0.975 } else { 0.025 }),
        budget: Some(budget(0.5, 0.2)),
        correction: Some(Correction {
            raw,
            path: parts(&[
                ("adapter.s2p", 0.06),
                ("pad-30.s2p", 30.04),
                ("splitter-1.s2p", 6.07),
                ("cable-7.s2p", 0.25),
            ]),
            path_loss: loss,
            noise,
        }),
        proof: proof(floor, raw + loss - floor),
        outcome,
        reason: reason.map(|(code, text)| Reason::new(code, text)),
        acquisitions: vec![
            look(frequency, Some(raw), floor - loss, 5),
            look(frequency, None, floor - loss, 1),
        ],
        meter: vec![],
        remarks: Vec::new(),
    }
}

fn nothing(reading: Reading) -> Reading {
    Reading {
        figure: None,
        margin: None,
        conformance_probability: None,
        budget: None,
        correction: None,
        proof: Proof::default(),
        acquisitions: vec![],
        ..reading
    }
}

fn parts(losses: &[(&str, f64)]) -> Vec<(String, Db)> {
    losses.iter().map(|(name, loss)| ((*name).to_owned(), Db::new(*loss))).collect()
}

/// A rectangular contribution of the analyser and a certified one of the path.
fn budget(level: f64, path: f64) -> Budget {
    let line = |name: &str, value: f64, distribution: &str, divisor: f64, source: &str| BudgetLine {
        name: name.to_owned(),
        value,
        distribution: distribution.to_owned(),
        standard: value / divisor,
        source: source.to_owned(),
        freedom: None,
    };
    let lines = vec![
        line("analyser: level", level, "rectangular", 3f64.sqrt(), "analyser-generic.yaml: accuracy.level"),
        line("path: pad-30.s2p", path, "normal, k = 2", 2.0, "bench.yaml: common"),
    ];
    let combined = lines.iter().map(|line| line.standard.powi(2)).sum::<f64>().sqrt();
    Budget {
        unit: Unit::Db,
        lines,
        combined,
        coverage_factor: 2.0,
        expanded: 2.0 * combined,
        method: CoverageMethod::Normal,
        effective_freedom: None,
    }
}

fn proof(floor: Dbm, distance: Db) -> Proof {
    Proof {
        floor: Some(Floor { level: floor, distance, height: Db::new(0.8), points: 320 }),
        mixer_level: Some(Dbm::new(-23.1)),
        own_distortion: Some(Dbm::new(-61.0)),
        peak_point: Some(200),
        peak_reach: 0,
        spread: Some(Db::new(0.08)),
        marker_difference: Some(Db::new(-0.01)),
        unkeyed: Some(Dbm::new(-51.9)),
        cross_check: None,
        carrier_variation: Some(Db::new(0.04)),
        ..Proof::default()
    }
}

/// A look at a line that stands up to `line`, or at the floor alone, both at the analyser's input.
fn look(centre: Hertz, line: Option<Dbm>, floor: Dbm, sweeps: u16) -> Acquisition {
    let settings = AnalyserSettings {
        centre,
        span: Hertz::new(300e3),
        rbw: Hertz::new(30e3),
        vbw: Hertz::new(90e3),
        points: 101,
        sweep_time: Seconds::new(0.05),
        detector: Detector::Rms,
        attenuation: Db::new(20.0),
        preamplifier: Preamplifier::Off,
        reference_level: Dbm::new(-40.0),
    };
    let point = |sweep: u16, point: u16| {
        let away = (f64::from(point) - 50.0) / 8.0;
        let ripple = f64::from((point * 37 + sweep * 11) % 23) / 12.0 - 1.0;
        let skirt = line.map_or(f64::NEG_INFINITY, |line| line.get() - away * away);
        (floor.get() + ripple).max(skirt) as f32
    };
    Acquisition {
        purpose: if line.is_some() { "line" } else { "unkeyed" }.to_owned(),
        at: at(3),
        keyed: line.is_some(),
        settings,
        sweeps: (0..sweeps).map(|s| Sweep { levels: (0..101).map(|p| point(s, p)).collect() }).collect(),
        marker: line.map(|line| (centre, line - Db::new(0.01))),
        flags: SweepFlags { overload: false, uncalibrated: false },
    }
}
