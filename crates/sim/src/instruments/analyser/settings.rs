//! The analyser's settings and how they are coupled.

use spurline_scpi::ByteOrder;
use spurline_units::{Dbm, Hertz, Range, Seconds};

use super::average::{Average, Mode};
use super::level_unit::LevelUnit;
use super::transfer::Format;
use crate::physics::detector::Detector;
use crate::physics::sweep_rate::SweepRate;

pub(super) const NARROWEST: f64 = 10.0;
pub(super) const WIDEST: f64 = 3e6;
pub(super) const MOST_ATTENUATION: f64 = 50.0;
pub(super) const ATTENUATION_STEP: f64 = 10.0;
/// Left to itself, attenuation follows the reference level, not what comes in off the screen.
const MIXER_AT_REFERENCE: f64 = -10.0;
/// Left to itself, a sweep is this many times as long as one RBW needs for its own width squared.
const SWEEP_FACTOR: f64 = 2.5;
const SHORTEST_SWEEP: f64 = 1e-3;
const SPAN_OVER_RBW: f64 = 100.0;
/// Left to itself, the step of the centre frequency is one division of the display.
const DIVISIONS: f64 = 10.0;

/// All settings; what is `None` is coupled to others.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Settings {
    pub(super) centre: f64,
    pub(super) span: f64,
    pub(super) manual_centre_step: Option<f64>,
    pub(super) manual_rbw: Option<f64>,
    pub(super) manual_vbw: Option<f64>,
    pub(super) points: u32,
    pub(super) manual_time: Option<f64>,
    pub(super) count: u32,
    pub(super) mode: Mode,
    pub(super) averages: u32,
    pub(super) average: Average,
    pub(super) detector: Detector,
    pub(super) manual_attenuation: Option<f64>,
    pub(super) preamplifier: bool,
    pub(super) reference: f64,
    /// Of the display, in decibels.
    pub(super) per_division: f64,
    pub(super) unit: LevelUnit,
    pub(super) format: Format,
    pub(super) order: ByteOrder,
    pub(super) aligns_itself: bool,
}

impl Settings {
    /// As `*RST` leaves them.
    pub(super) fn reset(range: Range<Hertz>) -> Self {
        Self {
            centre: range.high().get() / 2.0,
            span: range.high().get(),
            manual_centre_step: None,
            manual_rbw: None,
            manual_vbw: None,
            points: 1001,
            manual_time: None,
            count: 1,
            mode: Mode::Write,
            averages: 10,
            average: Average::Rms,
            detector: Detector::Positive,
            manual_attenuation: None,
            preamplifier: false,
            reference: 0.0,
            per_division: 10.0,
            unit: LevelUnit::Dbm,
            format: Format::Ascii(0),
            order: ByteOrder::Big,
            aligns_itself: true,
        }
    }

    pub(super) fn edges(&self) -> (f64, f64) {
        (self.centre - self.span / 2.0, self.centre + self.span / 2.0)
    }

    pub(super) fn set_edges(&mut self, low: f64, high: f64) {
        self.centre = f64::midpoint(low, high);
        self.span = high - low;
    }

    /// Everything that the analyser can show.
    pub(super) fn set_full_span(&mut self, range: Range<Hertz>) {
        (self.centre, self.span) = (range.high().get() / 2.0, range.high().get());
    }

    /// How far `UP` and `DOWN` move the frequencies.
    pub(super) fn centre_step(&self) -> f64 {
        let of_span = if self.span > 0.0 { self.span } else { self.rbw() };
        self.manual_centre_step.unwrap_or(of_span / DIVISIONS)
    }

    pub(super) fn rbw(&self) -> f64 {
        self.manual_rbw.unwrap_or_else(|| match self.span {
            0.0 => 1e6,
            span => bandwidth_step((span / SPAN_OVER_RBW).clamp(NARROWEST, WIDEST)),
        })
    }

    pub(super) fn vbw(&self) -> f64 {
        self.manual_vbw.unwrap_or_else(|| self.rbw())
    }

    pub(super) fn sweep_time(&self) -> f64 {
        let needed = SweepRate::time(
            SWEEP_FACTOR,
            Hertz::new(self.span),
            Hertz::new(self.rbw()),
            Hertz::new(self.vbw()),
        );
        self.manual_time.unwrap_or_else(|| needed.get().max(SHORTEST_SWEEP))
    }

    /// All sweeps of one start: those that are averaged, else as many as `SWEep:COUNt` says.
    pub(super) fn duration(&self) -> Seconds {
        let count = if self.mode == Mode::Average { self.averages } else { self.count };
        Seconds::new(self.sweep_time() * f64::from(count))
    }

    pub(super) fn attenuation(&self) -> f64 {
        self.manual_attenuation.unwrap_or_else(|| {
            let needed = (self.reference - MIXER_AT_REFERENCE) / ATTENUATION_STEP;
            (needed.ceil() * ATTENUATION_STEP).clamp(0.0, MOST_ATTENUATION)
        })
    }

    /// The level at the top of the display.
    pub(super) fn reference_level(&self) -> Dbm {
        Dbm::new(self.reference)
    }

    pub(super) fn frequency_of(&self, point: usize) -> f64 {
        self.centre + self.span * (point as f64 / f64::from(self.points - 1) - 0.5)
    }

    /// The nearest point of the trace to a frequency.
    pub(super) fn point_of(&self, frequency: f64) -> usize {
        if self.span == 0.0 {
            return 0;
        }
        let last = f64::from(self.points - 1);
        (((frequency - self.centre) / self.span + 0.5) * last).round().clamp(0.0, last) as usize
    }
}

/// The nearest bandwidth of the 1, 3, 10 series.
pub(super) fn bandwidth_step(wanted: f64) -> f64 {
    let decade = 10f64.powf(wanted.log10().floor());
    let steps = [decade, 3.0 * decade, 10.0 * decade];
    let distance = |step: f64| (step.ln() - wanted.ln()).abs();
    steps.into_iter().min_by(|one, other| distance(*one).total_cmp(&distance(*other))).unwrap_or(wanted)
}
