//! Looks at the carrier's own spectrum: narrow enough for its shape, with every point a mean of power.

use spurline_profile::AnalyserProfile;
use spurline_record::{AnalyserSettings, Detector};
use spurline_units::{Dbm, Hertz, Seconds};

use super::carrier::carrier_look;
use super::line::CARRIER_ERROR;
use super::modulated::suited;
use super::{Look, VIDEO, rbw, sweep_time};
use crate::model::Modulation;

/// A filter of this share of what is expected widens it by a few per cent at most (1 to 3 %, common practice).
const NARROW: f64 = 0.02;
/// The span over what is expected: wide enough to hold all of it, narrow enough to hold little noise.
const SPAN: f64 = 2.5;
/// Points for each bandwidth of the filter; two are enough to add power up.
const FINE: f64 = 4.0;
const FEWEST_POINTS: u32 = 401;
const MOST_POINTS: u32 = 4001;
const MOST_SWEEPS: u32 = 5;
/// Repeatability needs two.
const WANTED_SWEEPS: u32 = 2;
/// A filter this many times as wide as the emission shows all of it at once.
const WIDE: f64 = 3.0;
/// No sweep is shorter, in seconds.
const SHORTEST: f64 = 0.02;
/// A span over a channel's width that surely holds the channel's edges.
const AROUND: f64 = 1.1;
/// Bandwidths of a carrier without modulation that is searched for, and then looked at.
const SEARCH_RBW: f64 = 1e3;
const ZOOM: f64 = 20.0;
/// Of a tolerance that a zoom must resolve.
const RESOLVED: f64 = 0.3;
const FREQUENCY_SWEEPS: u32 = 3;
/// Steps of the resolution bandwidth, the narrowest first.
const STEPS: [f64; 11] = [10.0, 30.0, 100.0, 300.0, 1e3, 3e3, 10e3, 30e3, 100e3, 300e3, 1e6];

/// What looks at a spectrum go by.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Seen<'a> {
    pub(crate) profile: &'a AnalyserProfile,
    pub(crate) carrier: Hertz,
    pub(crate) at_input: Dbm,
    pub(crate) modulation: &'a Modulation,
    /// How wide the emission is expected to be.
    pub(crate) expected: Hertz,
    /// How long one look may take.
    pub(crate) most: Seconds,
}

impl Seen<'_> {
    /// All of the emission, for its widths; at least `width` of it.
    pub(crate) fn emission(&self, width: Hertz) -> Look {
        let span = (self.expected * SPAN).max(width * AROUND).max(self.expected + CARRIER_ERROR * 2.0);
        self.swept(self.carrier, span, self.expected * NARROW)
    }

    /// The same through a filter that shows all of it at once.
    pub(crate) fn wide(&self) -> Look {
        let filter = self.at_least(self.expected * WIDE);
        let span = filter * 4.0;
        self.look(self.carrier, span, filter, 1)
    }

    /// As far as a mask is looked at to both sides, through a filter no wider than `narrowest` where time allows.
    pub(crate) fn mask(&self, out_to: Hertz, narrowest: Option<Hertz>) -> Look {
        let wanted = self.expected * NARROW;
        let wanted = narrowest.map_or(wanted, |narrowest| narrowest.min(wanted));
        self.swept(self.carrier, out_to * 2.0, wanted)
    }

    /// A channel `offset` from the carrier.
    pub(crate) fn channel(&self, offset: Hertz, width: Hertz, filter: Hertz) -> Look {
        let span = width * AROUND;
        let sweeps = self.sweeps(self.look(self.carrier + offset, span, filter, 1).time());
        self.look(self.carrier + offset, span, filter, sweeps.max(1))
    }

    /// The filter for channels of a width that hold all of the emission in theirs.
    pub(crate) fn channel_filter(&self, width: Hertz) -> Hertz {
        self.swept(self.carrier, width * AROUND, width * NARROW).settings.rbw
    }

    /// Where the carrier may be, and what is looked at once it is known where: its place is moved there.
    pub(crate) fn frequency(&self, tolerance: Hertz) -> [Look; 2] {
        let search = self.look(self.carrier, CARRIER_ERROR * 4.0, rbw(self.profile, SEARCH_RBW), 1);
        let mut filter = rbw(self.profile, (tolerance.get() * RESOLVED).clamp(STEPS[0], SEARCH_RBW));
        if let Some(tone) = self.tone() {
            // Sidebands stay out of the filter.
            filter = filter.min(rbw(self.profile, tone.get() / 10.0));
        }
        [search, self.look(self.carrier, filter * ZOOM, filter, FREQUENCY_SWEEPS)]
    }

    fn tone(&self) -> Option<Hertz> {
        match self.modulation {
            Modulation::Tone { tone, .. } | Modulation::Am { tone, .. } => Some(*tone),
            Modulation::None | Modulation::Burst { .. } => None,
        }
    }

    /// With the filter that is wanted, or the next one with which there is time for two sweeps.
    fn swept(&self, centre: Hertz, span: Hertz, wanted: Hertz) -> Look {
        let first = rbw(self.profile, wanted.get());
        let looks = || self.filters().filter(|filter| *filter >= first);
        let fits = |filter: &Hertz| {
            self.look(centre, span, *filter, 1).time() * f64::from(WANTED_SWEEPS) <= self.most
        };
        let filter = looks().find(fits).or_else(|| looks().last()).unwrap_or(first);
        let sweeps = self.sweeps(self.look(centre, span, filter, 1).time());
        self.look(centre, span, filter, sweeps.max(1))
    }

    /// How many sweeps of so long there is time for.
    fn sweeps(&self, time: Seconds) -> u32 {
        ((self.most / time).floor() as u32).min(MOST_SWEEPS)
    }

    fn filters(&self) -> impl Iterator<Item = Hertz> + '_ {
        let range = self.profile.ranges.rbw;
        STEPS.into_iter().map(Hertz::new).filter(move |step| range.contains(*step))
    }

    fn at_least(&self, wanted: Hertz) -> Hertz {
        self.filters().find(|filter| *filter >= wanted).unwrap_or(self.profile.ranges.rbw.high())
    }

    fn look(&self, centre: Hertz, span: Hertz, filter: Hertz, sweeps: u32) -> Look {
        let points = (span / filter * FINE).ceil() as u32 + 1;
        let settings = AnalyserSettings {
            centre,
            span,
            rbw: filter,
            vbw: Hertz::new(filter.get() * VIDEO),
            points: points.clamp(FEWEST_POINTS, MOST_POINTS).min(self.profile.ranges.most_points),
            sweep_time: sweep_time(self.profile, span, filter, SHORTEST),
            detector: Detector::Rms,
            ..carrier_look(self.profile, self.carrier, self.at_input).settings
        };
        suited(Look { settings, sweeps }, self.modulation)
    }
}
