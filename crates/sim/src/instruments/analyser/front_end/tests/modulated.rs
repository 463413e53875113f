//! What modulation shows: the same in swept and in zero span, steady in frequency, swinging in voltage, gated in bursts.

use super::*;

/// The test bench on a battery with a modulated unit, keyed at 144.2 MHz; and when that was.
fn keyed(modulation: &str) -> (FrontEnd, Moment) {
    let text = WHOLE
        .replace("  supply: {}\n", "")
        .replace("      rise: 20 ms\n", &format!("      rise: 1 ms\n      modulation: {modulation}\n"));
    let front_end = exact_of(&text, 0.0);
    let now = spurline_clock::run(spurline_clock::Pace::Fast, |clock| async move { clock.now() }).unwrap();
    front_end.world.tune(now, Hertz::from_mhz(144.2));
    front_end.world.set_key(now, true, None);
    (front_end, now)
}

/// Settings at the carrier.
fn looking(front_end: &FrontEnd, span: f64, rbw: f64, seconds: f64, detector: Detector) -> Settings {
    Settings {
        centre: 144.2e6,
        span,
        manual_rbw: Some(rbw),
        manual_time: Some(seconds),
        detector,
        ..attenuated(front_end, 30.0)
    }
}

/// The levels of a sweep that begins so many seconds after key down.
fn levels((front_end, now): &mut (FrontEnd, Moment), settings: &Settings, from: f64) -> Vec<f64> {
    let end = now.after(Duration::from_secs_f64(from + settings.sweep_time()));
    front_end.sweep(settings, end).levels.into_iter().map(f64::from).collect()
}

fn ends(levels: &[f64]) -> (f64, f64) {
    let fold = |pick: fn(f64, f64) -> f64| levels.iter().copied().reduce(pick).unwrap();
    (fold(f64::min), fold(f64::max))
}

/// The level of the bare carrier.
fn bare() -> f64 {
    let mut bench = keyed("{}");
    let settings = looking(&bench.0, 0.0, 100e3, 0.1, Detector::Rms);
    ends(&levels(&mut bench, &settings, 1.0)).1
}

const DETECTORS: [Detector; 5] =
    [Detector::Positive, Detector::Negative, Detector::Sample, Detector::Average, Detector::Rms];
/// In zero span, and over a span within which a wide filter is flat.
const SPANS: [f64; 2] = [0.0, 1e3];

/// All of the power, whatever looks at it; the sidebands within 10 kHz lose 0.02 dB behind the filter.
#[test]
fn modulation_in_frequency_is_steady() {
    let bare = bare();
    let mut bench = keyed("{ fm: { deviation: 5 kHz, tone: 1 kHz } }");
    for span in SPANS {
        for detector in DETECTORS {
            let settings = looking(&bench.0, span, 100e3, 0.1, detector);
            let (lowest, highest) = ends(&levels(&mut bench, &settings, 1.0));
            assert!((lowest - bare).abs() < 0.1 && (highest - bare).abs() < 0.1, "{span} {detector:?}");
        }
    }
}

/// Closed forms for half depth: 1.5 and 0.5 of the voltage are 3.522 and -6.021 dB, the mean power is 1.125, 0.512 dB.
#[test]
fn modulation_in_voltage_swings() {
    let bare = bare();
    let mut bench = keyed("{ am: { depth: 50 %, tone: 1 kHz } }");
    for span in SPANS {
        // Each bucket holds ten periods of the tone.
        for (detector, expected) in [
            (Detector::Positive, 3.522),
            (Detector::Negative, -6.021),
            (Detector::Rms, 0.512),
            (Detector::Average, 0.0),
        ] {
            let settings = looking(&bench.0, span, 100e3, 10.01, detector);
            let (lowest, highest) = ends(&levels(&mut bench, &settings, 1.0));
            near(lowest - bare, expected, 0.1);
            near(highest - bare, expected, 0.1);
        }
        // Two hundred buckets hold one; at key down it is at its highest.
        for detector in DETECTORS {
            let settings = looking(&bench.0, span, 100e3, 1001.0 * 5e-6, detector);
            let found = levels(&mut bench, &settings, 1.0);
            let (lowest, highest) = ends(&found);
            near(lowest - bare, -6.021, 0.1);
            near(highest - bare, 3.522, 0.1);
            for (point, voltage) in [(0, 1.5f64), (50, 1.0), (100, 0.5), (150, 1.0), (200, 1.5)] {
                near(found[point] - bare, 20.0 * voltage.log10(), 0.25);
            }
        }
    }
    // Told apart, sidebands of a quarter of the voltage stand still beside the carrier.
    for detector in DETECTORS {
        let found = levels(&mut bench, &looking_narrow(detector), 1.0);
        for (khz, expected) in [(-1.0, -12.041), (0.0, 0.0), (1.0, -12.041)] {
            let point = (500.0 + khz * 200.0) as usize;
            near(found[point] - bare, expected, 0.1);
        }
    }
}

fn looking_narrow(detector: Detector) -> Settings {
    looking(&exact(0.0), 5e3, 100.0, 10.0, detector)
}

/// 30 ms of every 60 ms, of which the rise takes less than 1 ms.
#[test]
fn bursts_are_gated() {
    let bare = bare();
    let mut bench = keyed("{ burst: { on: 30 ms, period: 60 ms } }");
    for span in SPANS {
        for detector in DETECTORS {
            let settings = looking(&bench.0, span, 100e3, 0.6, detector);
            let found = levels(&mut bench, &settings, 1.0);
            let there = found.iter().filter(|level| (*level - bare).abs() < 0.5).count();
            let gone = found.iter().filter(|level| **level < bare - 40.0).count();
            assert!((480..=510).contains(&there), "{span} {detector:?}: {there}");
            assert!((490..=510).contains(&gone), "{span} {detector:?}: {gone}");
        }
    }
}

/// A second harmonic of the mixer of 2 P - SHI = -55 dBm swings twice as far as its carrier: it has the lines of an index
/// of 5, J0 and J1 of which are -15.013 and -9.694 dB (scipy 1.17.1), each of which adds to the unit's own.
#[test]
fn own_products_are_modulated_too() {
    let (front_end, _) = keyed("{ fm: { deviation: 2.5 kHz, tone: 1 kHz } }");
    let oscillation = |order: f64, level: f64| {
        let of = Oscillation { centre: Hertz::from_mhz(145.0 * order), swings: Some(order) };
        let line = |side: &crate::world::Side| Line {
            frequency: of.centre + Hertz::new(side.offset),
            power: Dbm::new(level).to_watts() * side.share,
            of,
        };
        front_end.world.sides(None, order).iter().map(line).collect::<Vec<_>>()
    };
    let carrier = oscillation(1.0, 0.0);
    near(shown(&front_end, &carrier, 10.0, 290.0), -55.0 - 15.013, 0.05);
    near(shown(&front_end, &carrier, 10.0, 290.001), -55.0 - 9.694, 0.05);
    let both = [carrier, oscillation(2.0, -55.0)].concat();
    near(shown(&front_end, &both, 10.0, 290.001), -55.0 - 9.694 + 6.021, 0.05);
}
