//! Which settings are tried, with values that do no harm and differ from what the analyser has.

use spurline_profile::{AnalyserCommand as C, Ranges};

use crate::identify::finding::Verdict;

/// A setting with a number, at its place in the read-back.
#[derive(Debug)]
pub(super) struct Setting {
    pub(super) command: C,
    pub(super) key: &'static str,
    unit: &'static str,
    /// What the read-back may differ by, as a share: what a run allows.
    tolerance: f64,
    /// The key of the profile that says which values there are.
    range: &'static str,
}

const fn setting(
    command: C,
    key: &'static str,
    unit: &'static str,
    tolerance: f64,
    range: &'static str,
) -> Setting {
    Setting { command, key, unit, tolerance, range }
}

/// In the order of the read-back.
pub(super) const SETTINGS: [Setting; 8] = [
    setting(C::Centre, "centre", " Hz", 1e-8, "ranges.frequency"),
    setting(C::Span, "span", " Hz", 1e-4, "ranges.frequency"),
    setting(C::Rbw, "rbw", " Hz", 0.2, "ranges.rbw"),
    setting(C::Vbw, "vbw", " Hz", 0.2, "ranges.rbw"),
    setting(C::Points, "points", "", 0.0, "ranges.most_points"),
    setting(C::SweepTime, "sweep_time", " s", 0.2, "ranges.sweep_factor"),
    setting(C::Attenuation, "attenuation", " dB", 0.0, "ranges.attenuation"),
    setting(C::ReferenceLevel, "reference_level", " dBm", 1e-4, "commands.reference_level"),
];

pub(super) const CENTRE: usize = 0;
pub(super) const SPAN: usize = 1;
pub(super) const POINTS: usize = 4;
pub(super) const SWEEP_TIME: usize = 5;
const ATTENUATION: usize = 6;
const RBW: usize = 2;
const VBW: usize = 3;
const REFERENCE: usize = 7;

/// The order in which a run tells them: what protects the input first, what is coupled after what it is coupled to.
pub(super) const TOLD_IN_ORDER: [usize; 8] =
    [ATTENUATION, REFERENCE, CENTRE, SPAN, RBW, VBW, POINTS, SWEEP_TIME];

/// The order in which they are given back: what protects the input last.
pub(super) const GIVEN_BACK_IN_ORDER: [usize; 8] =
    [CENTRE, SPAN, RBW, VBW, POINTS, SWEEP_TIME, REFERENCE, ATTENUATION];

/// Least attenuation that is set, in dB.
const LEAST_ATTENUATION: f64 = 10.0;
/// A reference level up to here is raised by the step; a higher one is left alone: few analysers go much further.
const RAISED_TO: f64 = 10.0;
const REFERENCE_STEP: f64 = 10.0;

impl Setting {
    /// What a read-back says about a setting.
    pub(super) fn compare(&self, told: f64, found: f64) -> Verdict {
        let unit = self.unit;
        if (found - told).abs() <= self.tolerance * told.abs() + 1e-9 {
            Verdict::Understood(Some(format!("read back {found}{unit}")))
        } else {
            Verdict::Wrong(format!("read back {found}{unit} instead of {told}{unit}"))
        }
    }

    /// What to do when it reads back as something else.
    pub(super) fn advice(&self) -> String {
        format!(
            "does `commands.{}` take its value in base units, and does `{}` fit this instrument?",
            self.key, self.range
        )
    }

    fn differs(&self, one: f64, had: Option<f64>) -> bool {
        had.is_none_or(|had| (one - had).abs() > self.tolerance * one.abs() + 1e-9)
    }
}

/// Values to be told, in the order of the read-back. Where there is a choice, each differs from what the analyser had, so
/// that the read-back proves something.
pub(super) fn harmless(ranges: &Ranges, had: &[Option<f64>; 8]) -> [f64; 8] {
    let (low, high) = (ranges.frequency.low().get(), ranges.frequency.high().get());
    let width = high - low;
    // Ten digits that a 32-bit float cannot hold.
    let odd = |share: f64| ((low + share * width) / 1e3).round() * 1e3 + 7.0;
    let bandwidths: Vec<f64> = [10e3, 30e3, 100e3, 3e3, 1e3, 300.0, 1e6]
        .into_iter()
        .filter(|rbw| (ranges.rbw.low().get()..=ranges.rbw.high().get()).contains(rbw))
        .collect();
    let points: Vec<f64> = [501.0, 401.0, 201.0, 101.0]
        .into_iter()
        .filter(|points| *points <= f64::from(ranges.most_points))
        .collect();
    let choose = |at: usize, values: &[f64], otherwise: f64| {
        let differing = values.iter().find(|value| SETTINGS[at].differs(**value, had[at]));
        differing.or(values.first()).copied().unwrap_or(otherwise)
    };
    [
        choose(CENTRE, &[odd(0.37), odd(0.41)], f64::midpoint(low, high)).clamp(low, high),
        choose(SPAN, &[1e6, 500e3].map(|span: f64| span.min(width / 10.0)), width / 10.0),
        choose(RBW, &bandwidths, ranges.rbw.low().get()),
        choose(VBW, &bandwidths, ranges.rbw.low().get()),
        choose(POINTS, &points, f64::from(ranges.most_points)),
        // Long enough to be told from the time that messages take.
        choose(SWEEP_TIME, &[0.5, 0.8], 0.5),
        more_attenuation(ranges, had[ATTENUATION]),
        match had[REFERENCE] {
            Some(had) if had > RAISED_TO => had,
            Some(had) => had + REFERENCE_STEP,
            None => 0.0,
        },
    ]
}

/// At least what is set and 10 dB; a step more, where there is one. What is set is not known: the most there is.
fn more_attenuation(ranges: &Ranges, had: Option<f64>) -> f64 {
    let (step, high) = (ranges.attenuation_step.get(), ranges.attenuation.high().get());
    let Some(had) = had else { return high };
    let least = (had.max(LEAST_ATTENUATION) / step).ceil() * step;
    let wanted = if least > had { least } else { least + step };
    if wanted <= high { wanted } else { high.max(had) }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;
    use spurline_units::{Db, Hertz, Range};

    use super::*;

    fn ranges(step: f64, most: f64) -> Ranges {
        let range = |text: &str| text.parse::<Range<Hertz>>().unwrap();
        Ranges {
            frequency: range("9 kHz..3 GHz"),
            rbw: range("10 Hz..3 MHz"),
            attenuation: format!("0..{most} dB").parse().unwrap(),
            attenuation_step: Db::new(step),
            most_points: 10_001,
            sweep_factor: 2.5,
        }
    }

    #[test]
    fn attenuation_goes_up_only() {
        for (had, told) in [
            (Some(0.0), 10.0),
            (Some(10.0), 20.0),
            (Some(15.0), 20.0),
            (Some(50.0), 50.0),
            (Some(60.0), 60.0),
            (None, 50.0),
        ] {
            assert_eq!(more_attenuation(&ranges(10.0, 50.0), had), told, "{had:?}");
        }
        assert_eq!(more_attenuation(&ranges(5.0, 30.0), Some(10.0)), 15.0);
    }

    #[test]
    fn values_differ_from_what_is_there() {
        let ranges = ranges(10.0, 50.0);
        let first = harmless(&ranges, &[None; 8]);
        let second = harmless(&ranges, &first.map(Some));
        for (at, setting) in SETTINGS.iter().enumerate() {
            // All the attenuation there is cannot be raised.
            assert!(at == ATTENUATION || setting.differs(first[at], Some(second[at])), "{}", setting.key);
        }
    }

    #[test]
    fn what_reads_back_otherwise_is_said_with_both_figures() {
        let points = &SETTINGS[POINTS];
        assert_eq!(points.compare(501.0, 601.0), Verdict::Wrong("read back 601 instead of 501".to_owned()));
        assert_eq!(
            SETTINGS[RBW].compare(10e3, 9.1e3),
            Verdict::Understood(Some("read back 9100 Hz".to_owned()))
        );
    }

    proptest! {
        #[test]
        fn attenuation_is_never_less_than_it_was_or_10_db(had in 0.0..70.0_f64, step in 0.5..12.0_f64, most in 10_u32..70) {
            let told = more_attenuation(&ranges(step, f64::from(most)), Some(had));
            prop_assert!(told >= had && told >= LEAST_ATTENUATION);
        }
    }
}
