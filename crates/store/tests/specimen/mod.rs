//! A run for the tests, with something in every field. Its figures prove nothing: the store keeps what it is given.

#![allow(dead_code, reason = "each test file uses a part of it")]
#![allow(unreachable_pub, reason = "shared by several test crates")]

use jiff::Timestamp;
use spurline_record::{
    Acquisition, AnalyserSettings, Budget, BudgetLine, Correction, CoverageMethod, CrossCheck, Decision,
    Derivation, Detector, Event, EventKind, Fault, Figure, Floor, Identity, InstrumentUsed, LaidCalibration,
    LaidKey, LaidPart, LaidSupply, LaidSwitch, LaidWay, Layout, Limit, MeterReading, Outcome, Preamplifier,
    Proof, Quantity, Reading, Reason, ReasonCode, Role, RunHeader, RunId, RunState, Scope, SourceText, Sweep,
    SweepFlags, TextRole, Unit,
};
use spurline_units::{Amperes, Db, Dbm, Hertz, Range, Seconds, Volts, Watts};

pub fn at(second: i64) -> Timestamp {
    Timestamp::new(1_795_602_612 + second, 123_456_789).unwrap()
}

pub fn header(id: &str, started: i64) -> RunHeader {
    RunHeader {
        id: RunId::from_record(id.to_owned()),
        started: at(started),
        plan: "Field handheld, acceptance".to_owned(),
        bench: "North bench".to_owned(),
        unit: identity("Unit", "0017"),
        rule: "us-part-97".to_owned(),
        rule_source: "47 CFR 97.307(e), eCFR issue 2026-09-23".to_owned(),
        rule_status: "verified".to_owned(),
        decision: Decision::GuardBand,
        guard_factor: 1.0,
        largest_uncertainty: None,
        software: "spurline 0.1.0".to_owned(),
        simulated: Some(u64::MAX),
        texts: vec![
            SourceText { role: TextRole::Plan, name: "fh.yaml".to_owned(), text: "plan: x\n".to_owned() },
            SourceText { role: TextRole::Path, name: "pad.s2p".to_owned(), text: "! µ\n# MHz\n".to_owned() },
        ],
        layout: layout(),
        notes: vec!["calibration of the analyser expired 2026-10-01".to_owned()],
        reservations: Vec::new(),
        noted: Vec::new(),
    }
}

fn layout() -> Layout {
    Layout {
        common: vec![LaidPart {
            name: "pad".to_owned(),
            loss: Range::new(Db::new(29.9), Db::new(30.1)),
            uncertainty: Db::new(0.15),
            covers: "1 MHz..3 GHz".parse().unwrap(),
            rated: Some(Watts::new(25.0)),
        }],
        ways: vec![LaidWay {
            name: "notched".to_owned(),
            ends_at: Role::Analyser,
            used: true,
            parts: Vec::new(),
            set: vec![LaidSwitch { name: "notch".to_owned(), position: "in".to_owned() }],
        }],
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

pub fn identity(model: &str, serial: &str) -> Identity {
    Identity {
        maker: "Example".to_owned(),
        model: model.to_owned(),
        serial: serial.to_owned(),
        firmware: "1.2.3".to_owned(),
    }
}

pub fn reading(ordinal: u32) -> Reading {
    Reading {
        ordinal,
        quantity: Quantity::Harmonic,
        scope: scope(),
        order: Some(3),
        name: None,
        series: None,
        frequency: Hertz::new(432.6e6),
        at: at(20 + i64::from(ordinal)),
        figure: Some(Figure { value: -30.1, unit: Unit::Dbm, level: Some(Dbm::new(-30.1)), bound: false }),
        limit: Some(Limit::Upper { level: Dbm::new(-16.020_599_913), below_carrier: Some(Db::new(53.01)) }),
        derivation: Derivation {
            source: "47 CFR 97.307(e)".to_owned(),
            steps: vec!["first".to_owned(), "second".to_owned()],
        },
        margin: Some(Db::new(14.08).into()),
        conformance_probability: Some(0.1 + 0.2),
        budget: Some(budget()),
        correction: Some(Correction {
            raw: Dbm::new(-70.5),
            path: vec![("pad".to_owned(), Db::new(30.02)), ("cable".to_owned(), Db::new(10.4))],
            path_loss: Db::new(40.42),
            noise: Db::new(0.02),
        }),
        proof: proof(),
        outcome: Outcome::Complies,
        reason: Some(Reason::new(ReasonCode::WithinUncertainty, "close \u{202e} \"call\"")),
        acquisitions: vec![look("line", true, 5), look("unkeyed", false, 1), look("none", true, 0)],
        meter: vec![MeterReading { at: at(15), frequency: Hertz::new(144.2e6), level: Dbm::new(6.9) }],
        remarks: Vec::new(),
    }
}

pub fn carrier(ordinal: u32) -> Reading {
    Reading {
        quantity: Quantity::CarrierPower,
        order: None,
        name: None,
        series: None,
        figure: Some(Figure { value: 4.9, unit: Unit::W, level: Some(Dbm::new(36.9)), bound: false }),
        limit: Some(Limit::Window { low: 4.0, high: 6.0 }),
        margin: None,
        reason: None,
        ..reading(ordinal)
    }
}

pub fn nothing(ordinal: u32) -> Reading {
    Reading {
        figure: None,
        limit: Some(Limit::Several(vec![Dbm::new(-16.0), Dbm::new(-20.0)])),
        derivation: Derivation::default(),
        margin: None,
        conformance_probability: None,
        budget: None,
        correction: None,
        proof: Proof::default(),
        outcome: Outcome::Undecided,
        reason: Some(Reason::new(ReasonCode::BeyondThisBench, "the table ends at 1 GHz")),
        acquisitions: vec![],
        meter: vec![],
        remarks: Vec::new(),
        ..reading(ordinal)
    }
}

pub fn scope() -> Scope {
    Scope {
        channel: "VHF low".to_owned(),
        carrier: Hertz::new(144.2e6),
        power_setting: "high".to_owned(),
        supply: Some("battery".to_owned()),
        path: "through".to_owned(),
    }
}

fn budget() -> Budget {
    let line = |name: &str, standard| BudgetLine {
        name: name.to_owned(),
        value: 0.5,
        distribution: "rectangular".to_owned(),
        standard,
        source: "analyser-generic.yaml: level.absolute".to_owned(),
        freedom: None,
    };
    Budget {
        unit: Unit::Db,
        lines: vec![line("level", 0.289), line("path", 0.1)],
        combined: 0.306,
        coverage_factor: 2.0,
        expanded: 0.612,
        method: CoverageMethod::Normal,
        effective_freedom: None,
    }
}

fn proof() -> Proof {
    Proof {
        floor: Some(Floor {
            level: Dbm::new(-52.3),
            distance: Db::new(22.2),
            height: Db::new(0.8),
            points: 320,
        }),
        mixer_level: Some(Dbm::new(-23.1)),
        own_distortion: Some(Dbm::new(-61.0)),
        peak_point: Some(200),
        peak_reach: 0,
        spread: Some(Db::new(0.08)),
        marker_difference: Some(Db::new(-0.01)),
        unkeyed: Some(Dbm::new(-51.9)),
        cross_check: Some(CrossCheck {
            meter: Dbm::new(36.9),
            analyser: Dbm::new(37.02),
            difference: Db::new(0.12),
            allowed: Db::new(0.9),
        }),
        carrier_variation: Some(Db::new(0.04)),
        ..Proof::default()
    }
}

fn look(purpose: &str, keyed: bool, sweeps: u16) -> Acquisition {
    Acquisition {
        purpose: purpose.to_owned(),
        at: at(18),
        keyed,
        settings: AnalyserSettings {
            centre: Hertz::new(432.6e6),
            span: Hertz::new(300e3),
            rbw: Hertz::new(30e3),
            vbw: Hertz::new(90e3),
            points: 401,
            sweep_time: Seconds::new(0.05),
            detector: Detector::Rms,
            attenuation: Db::new(20.0),
            preamplifier: Preamplifier::Off,
            reference_level: Dbm::new(-40.0),
        },
        sweeps: (0..sweeps)
            .map(|number| Sweep {
                levels: (0u16..401).map(|i| -95.0 + f32::from(number * 401 + i) / 777.0).collect(),
            })
            .collect(),
        marker: keyed.then(|| (Hertz::new(432.6004e6), Dbm::new(-70.51))),
        flags: SweepFlags { overload: false, uncalibrated: true },
    }
}

/// Events of every kind, from the start to the end of a run.
pub fn events(id: &str) -> Vec<Event> {
    let used = |role, address: &str| InstrumentUsed {
        role,
        address: address.to_owned(),
        profile: "generic".to_owned(),
        identity: identity("Instrument", "A-1"),
    };
    let fault = Fault {
        instrument: Some(Role::Supply),
        message: "no answer within 2 s".to_owned(),
        causes: vec!["connection reset".to_owned()],
        advice: Some("look at the cable".to_owned()),
    };
    let kinds = vec![
        EventKind::RunStarted(Box::new(header(id, 0))),
        EventKind::InstrumentFound(used(Role::Analyser, "TCPIP::192.0.2.20::5025::SOCKET")),
        EventKind::InstrumentFound(used(Role::UnitControl, "operator")),
        EventKind::ScopeStarted { scope: scope(), readings: 3 },
        EventKind::Doing("looking at the carrier".to_owned()),
        EventKind::KeyDown { lease: Seconds::new(20.0) },
        EventKind::ReadingFinished(Box::new(carrier(1))),
        EventKind::ReadingFinished(Box::new(reading(2))),
        EventKind::KeyUp { held: Seconds::new(4.25) },
        EventKind::KeyDown { lease: Seconds::new(20.0) },
        EventKind::ReadingFinished(Box::new(nothing(3))),
        EventKind::Note("warm".to_owned()),
        EventKind::Failed(fault),
        EventKind::RunEnded { state: RunState::Failed, outcome: Some(Outcome::Undecided) },
    ];
    (1u64..).zip(kinds).map(|(sequence, kind)| Event { sequence, at: at(sequence as i64), kind }).collect()
}
