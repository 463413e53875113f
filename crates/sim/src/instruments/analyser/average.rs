//! Several sweeps made into one trace: `[SENSe:]AVERage` (SCPI-1999 volume 2, chapter 18, from memory).

use std::time::Duration;

use spurline_clock::Moment;

use super::front_end::FrontEnd;
use super::settings::Settings;
use super::sweep::Trace;

/// What becomes of the levels at one point.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Average {
    /// The mean power.
    Rms,
    /// The mean of what the display shows: of noise 2.51 dB below the mean power.
    Scalar,
    Maximum,
    Minimum,
}

/// The ways by name.
pub(super) const AVERAGES: [(&str, Average); 4] = [
    ("RMS", Average::Rms),
    ("SCALar", Average::Scalar),
    ("MAXimum", Average::Maximum),
    ("MINimum", Average::Minimum),
];

/// What a trace becomes of sweep after sweep, by the names that `DISPlay:TRACe:MODE` has for it (common practice).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Mode {
    /// The last sweep.
    Write,
    /// As many sweeps as `AVERage:COUNt` says, averaged as `AVERage:TYPE` says.
    Average,
    /// The highest of as many sweeps as `SWEep:COUNt` says.
    MaximumHold,
    /// The lowest of them.
    MinimumHold,
}

/// The modes by name.
pub(super) const MODES: [(&str, Mode); 4] = [
    ("WRITe", Mode::Write),
    ("AVERage", Mode::Average),
    ("MAXHold", Mode::MaximumHold),
    ("MINHold", Mode::MinimumHold),
];

impl Average {
    /// How a level counts while they are summed up.
    fn share(self, level: f32) -> f64 {
        let level = f64::from(level);
        if self == Self::Rms { 10f64.powf(level / 10.0) } else { level }
    }

    fn sum(self, one: f64, other: f64) -> f64 {
        match self {
            Self::Rms | Self::Scalar => one + other,
            Self::Maximum => one.max(other),
            Self::Minimum => one.min(other),
        }
    }

    /// The level that a sum of `count` shares stands for.
    fn level(self, sum: f64, count: f64) -> f64 {
        match self {
            Self::Rms => 10.0 * (sum / count).log10(),
            Self::Scalar => sum / count,
            Self::Maximum | Self::Minimum => sum,
        }
    }
}

/// The trace of what ended at `end`: of the last sweep, or of as many sweeps as are to be averaged.
pub(super) fn acquire(front_end: &mut FrontEnd, settings: &Settings, end: Moment) -> Trace {
    let (count, way) = match settings.mode {
        Mode::Write => return front_end.sweep(settings, end),
        Mode::Average => (settings.averages, settings.average),
        Mode::MaximumHold => (settings.count, Average::Maximum),
        Mode::MinimumHold => (settings.count, Average::Minimum),
    };
    let sweep_ends = |later: u32| {
        let before = Duration::from_secs_f64(settings.sweep_time() * f64::from(later));
        end.before(before).unwrap_or(end)
    };
    let mut whole = front_end.sweep(settings, sweep_ends(count - 1));
    let mut sums: Vec<f64> = whole.levels.iter().map(|level| way.share(*level)).collect();
    for later in (0..count - 1).rev() {
        let trace = front_end.sweep(settings, sweep_ends(later));
        for (sum, level) in sums.iter_mut().zip(&trace.levels) {
            *sum = way.sum(*sum, way.share(*level));
        }
        whole.overload |= trace.overload;
    }
    whole.levels = sums.into_iter().map(|sum| front_end.rounded(way.level(sum, f64::from(count)))).collect();
    whole
}

#[cfg(test)]
mod tests {
    use crate::instruments::Analyser;
    use crate::instruments::tests::talk::{Talk, analyser};

    fn levels(talk: &mut Talk<Analyser>, way: &str) -> Vec<f64> {
        let text = talk.say(&format!("AVER:TYPE {way};:INIT;*WAI;:TRAC? TRACE1"));
        text.split(',').map(|level| level.parse().unwrap()).collect()
    }

    fn mean(levels: &[f64]) -> f64 {
        levels.iter().sum::<f64>() / levels.len() as f64
    }

    /// The mean of the logarithm of noise power is 10 log10(e) times Euler's constant below its mean: 2.5068 dB
    /// (numpy 2.4.6). 1001 points of 50 sweeps scatter by 5.57 dB / sqrt(50 050) = 0.025 dB.
    #[test]
    fn noise_reads_low_on_a_logarithmic_scale() {
        let mut talk = analyser();
        talk.say(
            "*RST;:FREQ:CENT 144.2E6;SPAN 1E6;:BAND 10 KHZ;:DET SAMP;:SWE:TIME 10;:AVER:COUN 50;:AVER ON",
        );
        let power = mean(&levels(&mut talk, "RMS"));
        let shown = mean(&levels(&mut talk, "SCAL"));
        assert!((power - shown - 2.5068).abs() < 0.1, "{power} {shown}");
        // Of 50 looks the highest is in the mean 6.370 dB above the power, the lowest 19.516 dB below it (numpy 2.4.6,
        // 200 000 draws); over 1001 points these scatter by less than 0.05 and by 0.18 dB.
        let (highest, lowest) = (mean(&levels(&mut talk, "MAX")), mean(&levels(&mut talk, "MIN")));
        assert!((highest - power - 6.370).abs() < 0.2, "{highest} {power}");
        assert!((lowest - power + 19.516).abs() < 0.7, "{lowest} {power}");
    }

    /// Holding takes as many sweeps as are counted; switching averages on and off ends it.
    #[test]
    fn a_trace_holds_its_highest_and_lowest() {
        let mut talk = analyser();
        talk.say("*RST;:FREQ:CENT 144.2E6;SPAN 1E6;:BAND 10 KHZ;:DET SAMP;:SWE:TIME 10;COUN 50");
        assert_eq!(talk.say("DISP:TRAC:MODE?"), "WRIT");
        let mut held = |mode: &str| {
            let before = talk.now;
            let text = talk.say(&format!("DISP:WIND1:TRAC1:MODE {mode};:INIT;*WAI;:TRAC? TRACE1"));
            assert_eq!(talk.now.since(before).as_secs(), 500);
            mean(&text.split(',').map(|level| level.parse().unwrap()).collect::<Vec<_>>())
        };
        let (highest, lowest) = (held("MAXH"), held("MINHold"));
        // Of 50 looks the highest is in the mean 6.370 dB above the power, the lowest 19.516 dB below it (numpy 2.4.6,
        // 200 000 draws).
        assert!((highest - lowest - 25.886).abs() < 0.9, "{highest} {lowest}");
        assert_eq!(
            talk.say("DISP:TRAC:MODE?;:AVER ON;:DISP:TRAC:MODE?;:AVER OFF;:DISP:TRAC:MODE?"),
            "MINH;AVER;WRIT"
        );
        assert_eq!(talk.say("DISP:TRAC:MODE AVER;:AVER?;:DISP:TRAC:MODE MAXH;:AVER?"), "1;0");
    }

    /// One start takes as long as all the sweeps that it averages.
    #[test]
    fn averaging_takes_its_time() {
        let mut talk = analyser();
        let before = talk.now;
        talk.say("*RST;:SWE:POIN 101;TIME 0.5;:AVER:COUN 8;:AVER:STAT ON;:INIT;*WAI");
        assert_eq!(talk.now.since(before).as_millis(), 4000);
        assert_eq!(talk.say("AVER?;:AVER:COUN?;TYPE?;:AVER:COUN? MAX"), "1;8;RMS;100");
        talk.say("AVER OFF;:INIT;*WAI");
        assert_eq!(talk.now.since(before).as_millis(), 4500);
    }
}
