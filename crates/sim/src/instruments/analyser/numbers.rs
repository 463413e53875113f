//! The analyser's settings of one number or one switch each.

use spurline_scpi::{ErrorCode, Parameter, Quantity};
use spurline_units::{Hertz, Range};

use super::average::Mode;
use super::commands::{Command, Number, Switch};
use super::level_unit::{IMPEDANCE, UNITS};
use super::settings::{self, Settings, bandwidth_step};
use crate::instruments::call::{Bounds, Call, Outcome, Steps};

const POINTS: Bounds = Bounds { low: 101.0, high: 100_001.0, default: 1001.0 };
const SWEEP_TIME: Bounds = Bounds { low: 1e-6, high: 1000.0, default: 0.1 };
const SWEEP_COUNT: Bounds = Bounds { low: 1.0, high: 1000.0, default: 1.0 };
const AVERAGES: Bounds = Bounds { low: 1.0, high: 100.0, default: 10.0 };
const ATTENUATION: Bounds = Bounds { low: 0.0, high: settings::MOST_ATTENUATION, default: 10.0 };
const BANDWIDTH: Bounds = Bounds { low: settings::NARROWEST, high: settings::WIDEST, default: 1e6 };
/// In dBm.
const REFERENCE: Bounds = Bounds { low: -130.0, high: 30.0, default: 0.0 };
const PER_DIVISION: Bounds = Bounds { low: 0.1, high: 20.0, default: 10.0 };
const ONLY_IMPEDANCE: Bounds = Bounds { low: IMPEDANCE, high: IMPEDANCE, default: IMPEDANCE };
/// In hertz.
const CENTRE_STEP: (f64, f64) = (1.0, 1e6);

/// Sets or tells a number.
pub(super) fn number(
    s: &mut Settings,
    range: Range<Hertz>,
    number: Number,
    call: &Call<'_>,
) -> Outcome<Command> {
    let (lowest, highest) = (range.low().get(), range.high().get());
    let frequency = Bounds { low: lowest, high: highest, default: highest / 2.0 };
    let step = s.centre_step();
    let around = |value| Steps::of(value, step);
    match number {
        Number::Centre => {
            call.stepped(Quantity::Frequency, frequency, s.centre, around(s.centre), |v| s.centre = v)
        }
        Number::CentreStep => {
            let bounds = Bounds { low: CENTRE_STEP.0, high: highest, default: CENTRE_STEP.1 };
            call.numeric(Quantity::Frequency, bounds, step, |v| s.manual_centre_step = Some(v))
        }
        Number::Span => {
            let bounds = Bounds { low: 0.0, high: highest, default: highest };
            let steps = Steps { down: s.span / 2.0, up: s.span * 2.0 };
            call.stepped(Quantity::Frequency, bounds, s.span, steps, |v| s.span = v)
        }
        Number::Start => {
            let (low, high) = s.edges();
            call.stepped(Quantity::Frequency, frequency, low, around(low), |v| s.set_edges(v, high.max(v)))
        }
        Number::Stop => {
            let (low, high) = s.edges();
            call.stepped(Quantity::Frequency, frequency, high, around(high), |v| s.set_edges(low.min(v), v))
        }
        Number::Rbw => {
            let current = s.rbw();
            // The geometric way to the next of 1, 3, 10 and a little further, which is rounded away.
            let steps = Steps { down: current / 3.2, up: current * 3.2 };
            call.stepped(Quantity::Frequency, BANDWIDTH, current, steps, |v| {
                s.manual_rbw = Some(bandwidth_step(v));
            })
        }
        Number::Vbw => {
            let current = s.vbw();
            let steps = Steps { down: current / 3.0, up: current * 3.0 };
            call.stepped(Quantity::Frequency, BANDWIDTH, current, steps, |v| s.manual_vbw = Some(v))
        }
        Number::Points => {
            call.numeric(Quantity::Plain, POINTS, f64::from(s.points), |v| s.points = v.round() as u32)
        }
        Number::SweepTime => {
            let current = s.sweep_time();
            call.numeric(Quantity::Time, SWEEP_TIME, current, |v| s.manual_time = Some(v))
        }
        Number::SweepCount => {
            call.numeric(Quantity::Plain, SWEEP_COUNT, f64::from(s.count), |v| s.count = v.round() as u32)
        }
        Number::Averages => {
            call.numeric(Quantity::Plain, AVERAGES, f64::from(s.averages), |v| s.averages = v.round() as u32)
        }
        Number::Attenuation => {
            let (current, step) = (s.attenuation(), settings::ATTENUATION_STEP);
            call.stepped(Quantity::Ratio, ATTENUATION, current, Steps::of(current, step), |v| {
                s.manual_attenuation = Some((v / step).round() * step);
            })
        }
        Number::ReferenceLevel => reference_level(s, call),
        Number::PerDivision => {
            call.numeric(Quantity::Ratio, PER_DIVISION, s.per_division, |v| s.per_division = v)
        }
        Number::Impedance => call.strict(Quantity::Resistance, ONLY_IMPEDANCE, IMPEDANCE, |_| ()),
    }
}

/// In the unit behind the number, else in that of `UNIT:POWer`.
fn reference_level(s: &mut Settings, call: &Call<'_>) -> Outcome<Command> {
    let with_suffix = |p: &Parameter| matches!(p, Parameter::Number { suffix, .. } if !suffix.is_empty());
    let unit = match call.unit.parameters.first().filter(|parameter| with_suffix(parameter)) {
        None => s.unit,
        Some(parameter) => {
            let fits = UNITS.iter().find(|(_, unit)| parameter.numeric(unit.quantity()).is_ok());
            fits.map(|(_, unit)| *unit).ok_or(ErrorCode::INVALID_SUFFIX)?
        }
    };
    let shown = |dbm| unit.of_dbm(dbm);
    let bounds =
        Bounds { low: shown(REFERENCE.low), high: shown(REFERENCE.high), default: shown(REFERENCE.default) };
    let steps = Steps { down: shown(s.reference - s.per_division), up: shown(s.reference + s.per_division) };
    let current = shown(s.reference);
    call.stepped(unit.quantity(), bounds, current, steps, |v| s.reference = unit.in_dbm(v))
}

/// Sets or tells what is coupled or switched within the settings.
pub(super) fn switch(s: &mut Settings, switch: Switch, call: &Call<'_>) -> Outcome<Command> {
    match switch {
        Switch::CentreStepAuto => coupled(call, s.centre_step(), &mut s.manual_centre_step),
        Switch::RbwAuto => coupled(call, s.rbw(), &mut s.manual_rbw),
        Switch::VbwAuto => coupled(call, s.vbw(), &mut s.manual_vbw),
        Switch::SweepTimeAuto => coupled(call, s.sweep_time(), &mut s.manual_time),
        Switch::AttenuationAuto => coupled(call, s.attenuation(), &mut s.manual_attenuation),
        Switch::Averaging => call.flag(s.mode == Mode::Average, |on| {
            s.mode = if on { Mode::Average } else { Mode::Write };
        }),
        Switch::Preamplifier => call.flag(s.preamplifier, |on| s.preamplifier = on),
        Switch::AlignmentAuto => call.flag(s.aligns_itself, |on| s.aligns_itself = on),
    }
}

/// Whether a value follows others. Uncoupled, it stays what it was.
fn coupled(call: &Call<'_>, current: f64, manual: &mut Option<f64>) -> Outcome<Command> {
    call.flag(manual.is_none(), |auto| *manual = (!auto).then_some(current))
}
