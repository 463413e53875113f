//! The truth of a spectrum analyser.

mod errors;
mod responses;

use spurline_document::{Node, Reader};
use spurline_units::{Angle, Db, Dbm, Hertz, Range, Ratio};

use super::{Identity, LinkTruth, read};
use crate::physics::filter::Shape;
use crate::physics::phase_noise::NoiseDensity;
use errors::AnalyserErrors;
pub(crate) use errors::ResponseTruth;
#[cfg(test)]
pub(crate) use errors::stated;
pub(in crate::bench) use responses::phase_noise;
pub(crate) use responses::{AheadTruth, ImageTruth, Residual};

/// A spectrum analyser with known limits; errors that are not stated are drawn.
#[derive(Clone, Debug)]
pub(crate) struct AnalyserTruth {
    pub(crate) identity: Identity,
    pub(crate) range: Range<Hertz>,
    /// The shape of its resolution filters.
    pub(crate) filter: Shape,
    /// Noise in 1 Hz as mean power, without attenuation and preamplifier.
    pub(crate) noise: Dbm,
    /// Noise of the local oscillator about each line, in rising order of the offsets.
    pub(crate) phase_noise: Vec<NoiseDensity>,
    /// How far its frequency reference is off, as a share, if that is not to be drawn.
    pub(crate) reference_error: Option<f64>,
    /// Standard deviation that it is drawn with.
    pub(crate) reference_spread: f64,
    /// Second harmonic intercept at the mixer.
    pub(crate) second_intercept: Dbm,
    /// Third order intercept at the mixer.
    pub(crate) third_intercept: Dbm,
    pub(crate) ahead: Option<AheadTruth>,
    /// 1 dB compression point at the mixer.
    pub(crate) compression: Dbm,
    /// Power at the input above which it breaks.
    pub(crate) damage: Dbm,
    /// Level of the local oscillator's line at 0 Hz, at the mixer.
    pub(crate) feed_through: Dbm,
    pub(crate) residuals: Vec<Residual>,
    pub(crate) image: Option<ImageTruth>,
    /// The error of all levels, if it is not to be drawn.
    pub(crate) level_error: Option<Db>,
    pub(crate) errors: AnalyserErrors,
    /// How far all levels move in an hour after an alignment.
    pub(crate) drift: Db,
    /// What displayed levels are whole multiples of.
    pub(crate) display_step: Db,
    pub(crate) vswr: f64,
    /// Angle between the mixer's own product of an order and the line that comes in there; drawn if not stated.
    pub(crate) distortion_phase: Vec<(u32, f64)>,
    pub(crate) link: LinkTruth,
}

/// The shapes by name.
const FILTERS: [(&str, Shape); 4] = [
    ("gaussian", Shape::Gaussian),
    ("four-pole", Shape::FourPole),
    ("five-pole", Shape::FivePole),
    ("flat-top", Shape::FlatTop),
];
/// Levels are sent with two decimals.
const FINEST_STEP: f64 = 0.01;

impl AnalyserTruth {
    pub(super) fn read(reader: &mut Reader, node: &Node) -> Option<Self> {
        let mut fields = reader.fields(node, "an analyser")?;
        let f = &mut fields;
        let default = Identity::invented("Analyser", "A-0001");
        let known = default.clone();
        let identity = f.or(reader, "identity", |r, n| Identity::read(r, n, default), known);
        let range = Range::new(Hertz::new(9e3), Hertz::new(3e9)).expect("9 kHz is below 3 GHz");
        let range = f.or(reader, "range", |r, n| r.parse(n, "a range"), range);
        let filter = f.or(reader, "filter", |r, n| r.choice(n, "a filter", &FILTERS), Shape::Gaussian);
        let noise = read::quantity(reader, f, "noise", Dbm::new(-150.0));
        let phase_noise = f.or(reader, "phase_noise", phase_noise, Vec::new());
        let share =
            |r: &mut Reader, n: &Node| r.parse::<Ratio>(n, "a share of the frequency").map(Ratio::get);
        let reference_error = f.maybe(reader, "reference_error", share);
        let reference_spread = f.or(reader, "reference_spread", share, 0.0);
        let second_intercept = read::quantity(reader, f, "second_intercept", Dbm::new(45.0));
        let third_intercept = read::quantity(reader, f, "third_intercept", Dbm::new(15.0));
        let ahead = f.maybe(reader, "ahead", AheadTruth::read);
        let compression = read::quantity(reader, f, "compression", Dbm::new(5.0));
        let damage = read::quantity(reader, f, "damage", Dbm::new(30.0));
        let feed_through = read::quantity(reader, f, "feed_through", Dbm::new(-30.0));
        let residuals = f.or(reader, "residuals", Residual::read_all, Vec::new());
        let image = f.maybe(reader, "image", ImageTruth::read);
        let level_error = f.maybe(reader, "level_error", |r, n| r.parse(n, "a ratio"));
        let errors = AnalyserErrors::read(reader, f);
        let drift = read::quantity(reader, f, "drift", Db::new(0.0));
        let finest = Db::new(FINEST_STEP);
        let display_step = read::at_least(reader, f, "display_step", finest, finest);
        let vswr = read::vswr(reader, f, "vswr", 1.4);
        let distortion_phase = f.or(reader, "distortion_phase", phases, Vec::new());
        let link = f.or(reader, "link", LinkTruth::read, LinkTruth::default());
        fields.close(reader);
        Some(Self {
            identity: identity?,
            range: range?,
            filter: filter?,
            noise: noise?,
            phase_noise: phase_noise?,
            reference_error: reference_error?,
            reference_spread: reference_spread?,
            second_intercept: second_intercept?,
            third_intercept: third_intercept?,
            ahead: ahead?,
            compression: compression?,
            damage: damage?,
            feed_through: feed_through?,
            residuals: residuals?,
            image: image?,
            level_error: level_error?,
            errors: errors?,
            drift: drift?,
            display_step: display_step?,
            vswr: vswr?,
            distortion_phase: distortion_phase?,
            link: link?,
        })
    }
}

fn phases(reader: &mut Reader, node: &Node) -> Option<Vec<(u32, f64)>> {
    read::named(reader, node, "the distortion phases", |reader, name, node| {
        let Some(order) = name.parse().ok().filter(|order| matches!(order, 2 | 3)) else {
            reader.mistake(node.span, format!("expected the order 2 or 3, found `{name}`"));
            return None;
        };
        Some((order, reader.parse::<Angle>(node, "an angle")?.radians()))
    })
}

#[cfg(test)]
mod tests;
