//! Bandwidth and attenuation of a segment: the quickest with which a line at its limit would be found, and with which
//! the carrier makes nothing near it.

use spurline_judge::{highest_of_noise, mean_peak, peak_looks};
use spurline_profile::AnalyserProfile;
use spurline_units::{Db, Hertz, Seconds};

use super::Wanted;
use crate::settings::{bandwidths, least_attenuation, noise_at_input, own_product_at_input, steps};

/// What is narrower takes too long.
const NARROWEST: Hertz = Hertz::new(100.0);
/// What is wider does not say well enough where a line is.
const WIDEST: f64 = 100e3;
/// A bandwidth narrower than this part of the reference takes too long.
const NARROWER: f64 = 10.0;
/// The chance that the noise of a whole segment shows one point above the threshold.
pub(crate) const CHANCE: f64 = 0.01;
/// With so much room below the limit a line at it stands well clear.
const AMPLE: f64 = 6.0;
/// A line and an own product of its size make twice the voltage.
const EQUAL_DB: f64 = 6.020_6;

/// How a segment is swept.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Chosen {
    pub(crate) rbw: Hertz,
    pub(crate) attenuation: Db,
    /// How far above the mean noise a line is surely found.
    pub(crate) detect: Db,
}

/// How long a point takes at a bandwidth, with two points for each bandwidth.
pub(crate) fn dwell(profile: &AnalyserProfile, rbw: Hertz, shortest: Seconds) -> Seconds {
    Seconds::new((profile.ranges.sweep_factor / (2.0 * rbw.get())).max(shortest.get()))
}

/// How far above the mean noise power a line must stand to be found: above the excursion over the noise as a peak
/// detector shows it, and above what that noise itself hardly ever reaches.
pub(crate) fn detect(excursion: Db, rbw: Hertz, dwell: Seconds, holds: u32, points: f64) -> Db {
    let looks = peak_looks(rbw.get(), dwell.get()) * f64::from(holds);
    (mean_peak(looks) + excursion).max(highest_of_noise(looks * points, CHANCE))
}

/// The best front end for a span with this reference bandwidth.
pub(crate) fn choose(
    profile: &AnalyserProfile,
    wanted: &Wanted,
    (span, reference): (Hertz, Hertz),
    (holds, shortest): (u32, Seconds),
) -> Chosen {
    let widest = reference.get().min(WIDEST);
    let range = profile.ranges.rbw;
    let mut bandwidths: Vec<Hertz> = bandwidths(profile)
        .filter(|rbw| *rbw >= NARROWEST && rbw.get() <= widest && rbw.get() * NARROWER >= widest)
        .collect();
    if bandwidths.is_empty() {
        bandwidths.push(Hertz::new(widest).max(range.low()).min(range.high()));
    }
    let least = least_attenuation(profile, wanted.carrier_at_input);
    let mut best: Option<(Chosen, [f64; 2], f64)> = None;
    for rbw in bandwidths {
        let points = span / rbw * 2.0;
        let dwell = dwell(profile, rbw, shortest);
        let detect = detect(wanted.excursion, rbw, dwell, holds, points);
        for attenuation in steps(profile).filter(|attenuation| *attenuation >= least) {
            let found = noise_at_input(profile, rbw, attenuation) + detect;
            let rooms = wanted.most.map_or([AMPLE, AMPLE], |most| {
                let own = [2, 3].map(|order| {
                    own_product_at_input(profile, order, wanted.carrier_at_input, attenuation)
                        .map_or(0.0, |own| (most - Db::new(EQUAL_DB) - own).get())
                });
                [(most - found).get(), own[0].min(own[1])]
            });
            // Room beyond what is ample is worth less than time.
            let worth = rooms[0].min(AMPLE).min(rooms[1].min(0.0) + AMPLE);
            let time = points * dwell.get();
            let chosen = Chosen { rbw, attenuation, detect };
            let better = best.as_ref().is_none_or(|(_, known, before)| {
                let of_known = known[0].min(AMPLE).min(known[1].min(0.0) + AMPLE);
                let gained = worth - of_known;
                gained > 1e-9 || (gained > -1e-9 && time < *before * (1.0 - 1e-9))
            });
            if better {
                best = Some((chosen, rooms, time));
            }
        }
    }
    best.map(|(chosen, ..)| chosen).expect("there is at least one bandwidth and one attenuation")
}
