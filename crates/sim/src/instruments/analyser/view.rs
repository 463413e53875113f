//! What reaches the detector while the unit, the path and the settings stay as they are.

use spurline_units::{Hertz, Watts};

use super::front_end::Scene;
use super::nearby::Nearby;
use super::settings::Settings;
use crate::physics::detector::{Bucket, Detector, signals};
use crate::physics::envelope::Envelope;
use crate::physics::filter::Filter;
use crate::physics::line::Line;
use crate::physics::phase_noise::Skirts;
use crate::world::{Contacts, Emission};

/// What a sweep looks at, in the order of its points.
#[derive(Debug)]
pub(super) struct View {
    settings: Settings,
    state: (Option<Emission>, Contacts),
    broken: bool,
    overload: bool,
    lines: Vec<Line>,
    nearby: Nearby,
    /// The width of the filter as lines meet it.
    bandwidth: f64,
    /// Those whose skirts may show above the noise.
    skirted: Vec<Line>,
}

/// How a sweep looks.
pub(super) struct LookedAt<'a> {
    pub(super) settings: &'a Settings,
    /// The filter as lines meet it.
    pub(super) swept: Filter,
    pub(super) noise: Watts,
    pub(super) noise_bandwidth: Hertz,
}

/// A skirt that is nowhere more than this share of the noise is left out.
const HIDDEN: f64 = 1e-3;

impl View {
    pub(super) fn new(
        looked_at: &LookedAt<'_>,
        skirts: Option<&Skirts>,
        state: (Option<Emission>, Contacts),
        scene: Scene,
    ) -> Self {
        let LookedAt { settings, swept, noise, noise_bandwidth } = looked_at;
        let Scene { mut lines, overload, broken } = scene;
        let signals = signals(&mut lines, swept.bandwidth());
        let nearby = Nearby::new(&lines, &signals, *swept, *noise, settings);
        let skirted = skirts.map_or_else(Vec::new, |skirts| {
            let least = HIDDEN * noise.get();
            let whole = signals.iter().map(|signal| signal.whole(&lines));
            whole.filter(|line| line.power.get() * skirts.most(line, *noise_bandwidth) > least).collect()
        });
        let bandwidth = swept.bandwidth().get();
        Self { settings: **settings, state, broken, overload, lines, nearby, bandwidth, skirted }
    }

    /// Whether it is what there is to see in this state.
    pub(super) fn is_of(&self, state: (Option<Emission>, Contacts)) -> bool {
        self.state == state
    }

    /// The same for another sweep with these settings, if it is of them.
    pub(super) fn again(mut self, settings: &Settings, broken: bool) -> Option<Self> {
        self.nearby.rewind();
        (self.settings == *settings && self.broken == broken).then_some(self)
    }

    /// Whether it is too much for the mixer.
    pub(super) fn overload(&self) -> bool {
        self.overload
    }

    /// The power of all skirts behind the filter, in watts.
    pub(super) fn skirts(&self, skirts: &Skirts, noise_bandwidth: Hertz, at: f64) -> f64 {
        let skirt =
            |line: &Line| line.power.get() * skirts.share(line, at - line.frequency.get(), noise_bandwidth);
        self.skirted.iter().map(skirt).sum()
    }

    /// The bucket of a point between two frequencies, in hertz, with noise of so many watts; points are asked for in
    /// rising order. What is modulated in voltage is where its swing has it.
    pub(super) fn bucket(
        &mut self,
        point: usize,
        (low, high): (f64, f64),
        noise: f64,
        swing: Option<&Swing>,
    ) -> Bucket<'_> {
        let (lines, near) = (&self.lines, self.nearby.at(point));
        if let Some(swing) = swing {
            for signal in near.iter_mut().filter(|signal| signal.is_modulated(lines)) {
                signal.swing =
                    swing.of(signal.peak(lines).frequency.get(), (low, high), self.bandwidth, point);
            }
        }
        Bucket { low, high, noise, lines, near }
    }
}

/// How what is modulated in voltage goes up and down during a sweep.
#[derive(Clone, Debug)]
pub(super) struct Swing {
    /// As it is before the filters.
    pub(super) whole: Envelope,
    pub(super) envelope: Envelope,
    pub(super) detector: Detector,
    /// When the first point begins, and how long the sweep stays at each, in seconds; time counts from key down.
    pub(super) start: f64,
    pub(super) dwell: f64,
}

impl Swing {
    /// The power over its mean of a signal at a frequency, as the detector sees it in the bucket of a point: while the
    /// filter passes it.
    fn of(&self, at: f64, (low, high): (f64, f64), bandwidth: f64, point: usize) -> f64 {
        let width = high - low;
        let (from, to) = if width > bandwidth {
            let (middle, half) = ((at.clamp(low, high) - low) / width, 0.5 * bandwidth / width);
            ((middle - half).max(0.0), (middle + half).min(1.0))
        } else {
            (0.0, 1.0)
        };
        let time = |share: f64| self.start + (point as f64 + share) * self.dwell;
        self.envelope.shown(self.detector, time(from), time(to))
    }
}
