//! One look with the analyser: its settings and its sweeps.

use spurline_record::{Acquisition, Detector, Preamplifier, Reading};
use spurline_units::Db;

use crate::drawing::{self, Drawing, Heights};
use crate::figures;
use crate::limit;

/// One look.
pub(crate) struct Look<'a> {
    pub(crate) acquisition: &'a Acquisition,
    pub(crate) settings: Vec<(&'static str, String)>,
    pub(crate) flags: Vec<&'static str>,
    pub(crate) plot: Option<Drawing>,
    pub(crate) key: Vec<Key>,
}

/// What a mark in the plot stands for.
pub(crate) struct Key {
    pub(crate) mark: &'static str,
    pub(crate) words: String,
}

impl<'a> Look<'a> {
    pub(crate) fn of(acquisition: &'a Acquisition, reading: &Reading) -> Self {
        let flags =
            [(acquisition.flags.overload, "overload"), (acquisition.flags.uncalibrated, "uncalibrated")];
        let loss = path_loss(reading);
        let heights = heights(acquisition, reading, loss);
        Self {
            acquisition,
            settings: settings(acquisition),
            flags: flags.into_iter().filter_map(|(set, word)| set.then_some(word)).collect(),
            plot: drawing::trace(acquisition, &heights),
            key: key(acquisition, &heights, loss),
        }
    }
}

/// The loss from the connector to the analyser, where the record has it: the correction of a reading that was made
/// by the power meter is that of another way.
fn path_loss(reading: &Reading) -> Option<Db> {
    let correction = reading.correction.as_ref().filter(|_| reading.meter.is_empty())?;
    Some(correction.path_loss)
}

/// Limit and floor, brought from the connector to the analyser's input.
fn heights(look: &Acquisition, reading: &Reading, loss: Option<Db>) -> Heights {
    let peak = look.marker.is_some() && look.settings.span.get() > 0.0;
    let Some(loss) = loss else { return Heights { peak, ..Heights::default() } };
    Heights {
        limits: limit::levels(reading.limit.as_ref()).into_iter().map(|level| level - loss.get()).collect(),
        floor: reading.proof.floor.filter(|_| look.keyed).map(|floor| (floor.level - loss).get()),
        peak,
    }
}

fn key(look: &Acquisition, heights: &Heights, loss: Option<Db>) -> Vec<Key> {
    let mut key = Vec::new();
    if let (Some((frequency, level)), true) = (look.marker, heights.peak) {
        key.push(Key { mark: "peak", words: format!("marker {level} at {frequency}") });
    }
    if let Some(loss) = loss {
        let limits = heights.limits.iter().map(|limit| Key {
            mark: "limit",
            words: format!("limit {limit:.2} dBm here: limit less path loss {loss}"),
        });
        key.extend(limits);
        key.extend(
            heights
                .floor
                .map(|floor| Key { mark: "floor", words: format!("noise floor {floor:.2} dBm here") }),
        );
    }
    key
}

fn settings(look: &Acquisition) -> Vec<(&'static str, String)> {
    let settings = &look.settings;
    let detector = match settings.detector {
        Detector::Peak => "peak",
        Detector::Rms => "RMS",
        Detector::Sample => "sample",
    };
    let preamplifier = match settings.preamplifier {
        Preamplifier::Off => "off",
        Preamplifier::On => "on",
    };
    let sweeps = match look.sweeps.len() {
        0 => format!("of {}, taken out of the record", figures::time(settings.sweep_time)),
        count => format!("{count} of {}", figures::time(settings.sweep_time)),
    };
    vec![
        ("centre", settings.centre.to_string()),
        ("span", settings.span.to_string()),
        ("RBW", settings.rbw.to_string()),
        ("VBW", settings.vbw.to_string()),
        ("detector", detector.to_owned()),
        ("points", settings.points.to_string()),
        ("sweeps", sweeps),
        ("attenuation", format!("{:.0}", settings.attenuation)),
        ("preamplifier", preamplifier.to_owned()),
        ("reference level", format!("{:.0}", settings.reference_level)),
    ]
}
