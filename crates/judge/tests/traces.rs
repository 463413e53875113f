//! Widths, powers and places read off traces that numpy 2.4.6 and scipy 1.17.1 made (`scripts/traces.py`), against the
//! figures that scipy gives for the same points, and against the lines that the traces were made of.

#![allow(clippy::unwrap_used, reason = "the files beside it are as they were made")]

use std::path::Path;

use serde_json::Value;
use spurline_judge::{Trace, adjacent_ratio, channel_power, line_peak, occupied, x_db};
use spurline_units::{Db, Hertz};

/// A stored trace with its figures.
struct Stored {
    name: String,
    figures: Value,
    levels: Vec<f64>,
}

/// Noise bandwidth over the 3.0103 dB bandwidth of a Gaussian filter (numpy 2.4.6).
const GAUSSIAN: f64 = 1.064_467;

impl Stored {
    fn read(name: &str) -> Self {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("tests/traces/{name}.json"));
        let figures: Value = serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap();
        let levels = figures["levels"].as_array().unwrap().iter().map(|level| level.as_f64().unwrap());
        Self { name: name.to_owned(), levels: levels.collect(), figures }
    }

    fn figure(&self, key: &str) -> f64 {
        self.figures[key].as_f64().unwrap_or_else(|| panic!("{} has no {key}", self.name))
    }

    fn trace(&self) -> Trace<'_> {
        let [first, spacing] = ["first", "spacing"].map(|key| Hertz::new(self.figure(key)));
        Trace { first, spacing, levels: &self.levels }
    }

    fn occupied(&self, share: f64) -> f64 {
        occupied(&self.trace(), share).unwrap().width().get()
    }

    fn down(&self, by: f64) -> f64 {
        let trace = self.trace();
        x_db(&trace, trace.highest().unwrap().1, Db::new(by)).unwrap().width().get()
    }

    fn power(&self, low: f64, high: f64) -> Option<f64> {
        let filter = Hertz::new(self.figure("filter") * GAUSSIAN);
        channel_power(&self.trace(), Hertz::new(low), Hertz::new(high), filter).map(|power| power.get())
    }
}

#[track_caller]
fn close(what: &str, found: f64, expected: f64, tolerance: f64) {
    assert!((found - expected).abs() <= tolerance, "{what}: found {found}, expected {expected}");
}

const TONES: [&str; 9] = [
    "fm-1000-1500",
    "fm-1000-2500",
    "fm-1000-2500-wide-filter",
    "fm-1000-2500-narrow-filter",
    "fm-1000-3000",
    "fm-1000-5000",
    "fm-2500-2500",
    "fm-2500-5000",
    "fm-1250-3000",
];

/// The figures of scipy for the same points, to a tenth of a hertz.
#[test]
fn widths_are_those_of_scipy() {
    for name in TONES {
        let stored = Stored::read(name);
        close(name, stored.occupied(0.99), stored.figure("occupied_99"), 0.1);
        close(name, stored.occupied(0.90), stored.figure("occupied_90"), 0.1);
        close(name, stored.down(26.0), stored.figure("down_26"), 0.1);
        close(name, stored.down(6.0), stored.figure("down_6"), 0.1);
    }
}

/// By the lines alone the same share of the power lies within a whole number of tones (scipy 1.17.1, `special.jv`); a line at
/// the edge is as wide as the filter, 2.1877 bandwidths for 99 %, so that the trace is off by no more than that.
#[test]
fn widths_are_those_of_the_lines_within_the_filter() {
    for (name, by_lines) in [
        ("fm-1000-1500", 4000.0),
        ("fm-1000-2500", 8000.0),
        ("fm-1000-2500-wide-filter", 8000.0),
        ("fm-1000-2500-narrow-filter", 8000.0),
        ("fm-1000-3000", 8000.0),
        ("fm-1000-5000", 12000.0),
        ("fm-2500-2500", 10000.0),
        ("fm-2500-5000", 15000.0),
        ("fm-1250-3000", 7500.0),
    ] {
        let stored = Stored::read(name);
        close(name, stored.occupied(0.99), by_lines, 2.187_7 * stored.figure("filter"));
    }
}

/// A line behind a filter of 1 kHz: 99 % of a Gaussian lie within 2.1877 bandwidths, and its top is found exactly.
#[test]
fn a_line_is_as_wide_as_the_filter() {
    let stored = Stored::read("line");
    close("trace", stored.occupied(0.99), stored.figure("occupied_99"), 0.01);
    close("theory", stored.occupied(0.99), stored.figure("theory"), 0.1);
    close("26 dB", stored.down(26.0), stored.figure("down_26"), 0.1);
    let peak = line_peak(&stored.trace()).unwrap();
    close("place", peak.frequency.get(), stored.figure("at"), 0.01);
    close("level", peak.level.get(), stored.figure("level"), 1e-4);
    close("power", stored.power(-9e3, 9e3).unwrap(), -20.0, 1e-4);
}

/// 0.99 of 1001 points 10 Hz apart.
#[test]
fn a_flat_block() {
    let stored = Stored::read("block");
    close("block", stored.occupied(0.99), 9909.9, 1e-3);
    close("scipy", stored.occupied(0.99), stored.figure("occupied_99"), 1e-3);
}

/// The power of the lines in the channel beside (scipy 1.17.1), within 0.01 dB, to 95 dB below the emission.
#[test]
fn the_channel_beside_holds_its_lines() {
    for (name, rounded) in [
        ("fm-1250-2500-beside", -75.07),
        ("fm-1000-2500-beside", -95.05),
        ("fm-1250-3000-beside", -64.44),
        ("fm-2500-2500-beside", -52.08),
        ("fm-2500-5000-beside", -75.07),
    ] {
        let stored = Stored::read(name);
        let (offset, half) = (stored.figure("offset"), stored.figure("width") / 2.0);
        let trace = stored.trace();
        let filter = Hertz::new(stored.figure("filter") * GAUSSIAN);
        let between =
            |low: f64, high: f64| channel_power(&trace, Hertz::new(low), Hertz::new(high), filter).unwrap();
        let own = between(-half - 4e3, half + 4e3);
        for side in [-1.0, 1.0] {
            let beside = between(side * offset - half, side * offset + half);
            let ratio = adjacent_ratio(beside, own).get();
            close(name, ratio, stored.figure("beside"), 0.01);
            close(name, ratio, rounded, 0.02);
        }
    }
}

/// All power of a carrier of 0 dBm with a tone is in its lines.
#[test]
fn a_modulated_carrier_keeps_its_power() {
    for name in TONES {
        let stored = Stored::read(name);
        let half = -stored.figure("first");
        close(name, stored.power(-half, half).unwrap(), 0.0, 1e-3);
    }
}
