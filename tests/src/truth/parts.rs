//! The path of a drawn bench: parts with their truth, and what a laboratory says of them.

use std::fmt::Write;

use super::draws::Draws;

/// One part.
#[derive(Clone, Debug)]
pub(super) struct Part {
    pub(super) name: &'static str,
    pub(super) kind: Kind,
    pub(super) vswr: f64,
    /// The uncertainty of its calibration, expanded, k = 2, dB.
    pub(super) within: f64,
    pub(super) form: Form,
}

/// What it does to a wave that passes; losses in dB.
#[derive(Clone, Copy, Debug)]
pub(super) enum Kind {
    /// The same everywhere, but for a slope per gigahertz.
    Pad { loss: f64, slope: f64 },
    /// At 1 GHz; it goes with the root of the frequency.
    Cable { loss: f64, metres: f64 },
}

/// How the bench file states it.
#[derive(Clone, Copy, Debug)]
pub(super) enum Form {
    /// A Touchstone file that the simulated laboratory writes, with an error of its own.
    Touchstone,
    /// A table of losses, all wrong by the same error, dB.
    Table { error: f64 },
    /// One figure, wrong by this error, dB. Only for a part without slope.
    Figure { error: f64 },
}

/// From the unit on, common parts first, then those of each branch.
#[derive(Clone, Debug)]
pub(super) struct Path {
    pub(super) common: Vec<Part>,
    pub(super) analyser: Vec<Part>,
    pub(super) power_meter: Vec<Part>,
}

impl Part {
    fn draw(draws: &mut Draws, name: &'static str, kind: Kind) -> Self {
        let (within, vswr) = match kind {
            Kind::Pad { .. } => (draws.figure(0.1, 0.3), draws.figure(1.05, 1.25)),
            Kind::Cable { .. } => (draws.figure(0.05, 0.15), draws.figure(1.04, 1.15)),
        };
        let error = within / 2.0 * draws.normal();
        let flat = matches!(kind, Kind::Pad { slope, .. } if slope == 0.0);
        let form = match draws.one_of(&[0, 1, 2]) {
            0 => Form::Touchstone,
            1 if flat => Form::Figure { error },
            _ => Form::Table { error },
        };
        Self { name, kind, vswr, within, form }
    }

    /// One whose loss is stated without error.
    pub(super) fn exact(name: &'static str, loss: f64) -> Self {
        let kind = Kind::Pad { loss, slope: 0.0 };
        Self { name, kind, vswr: 1.0, within: 0.1, form: Form::Figure { error: 0.0 } }
    }

    /// The true loss between matched ends, dB.
    fn loss(&self, hertz: f64) -> f64 {
        match self.kind {
            Kind::Pad { loss, slope } => loss + slope * hertz / 1e9,
            Kind::Cable { loss, .. } => loss * (hertz / 1e9).sqrt(),
        }
    }

    /// About what it loses, dB.
    pub(super) fn nominal(&self) -> f64 {
        self.loss(500e6)
    }

    /// As the bench file states it, up to `highest` Hz; `rated` in W.
    pub(super) fn stated(&self, highest: f64, rated: Option<f64>) -> String {
        let (name, within, vswr) = (self.name, self.within, self.vswr);
        let rated = rated.map_or(String::new(), |watts| format!(", rated: {watts} W"));
        let common = format!("uncertainty: {within} dB{rated}, name: {name}");
        match self.form {
            Form::Touchstone => format!("{{ touchstone: {name}.s2p, {common} }}"),
            Form::Figure { error } => {
                let loss = self.loss(0.0) + error;
                let over = format!("1 MHz..{} MHz", highest / 1e6);
                format!("{{ attenuator: {loss:.4} dB, over: {over}, vswr: {vswr}, {common} }}")
            }
            Form::Table { error } => {
                let rows = self.table(highest, error);
                format!("{{ loss: [ {rows} ], vswr: {vswr}, {common} }}")
            }
        }
    }

    fn table(&self, highest: f64, error: f64) -> String {
        const POINTS: u32 = 60;
        const LOWEST: f64 = 1e6;
        let mut rows = String::new();
        for point in 0..POINTS {
            let share = f64::from(point) / f64::from(POINTS - 1);
            // Squares, because a cable's loss bends most at the lower end.
            let megahertz = ((LOWEST + (highest - LOWEST) * share * share) / 1e6 * 1e3).round() / 1e3;
            let comma = if point == 0 { "" } else { ", " };
            let loss = (self.loss(megahertz * 1e6) + error).max(0.0);
            write!(rows, "{comma}[ {megahertz} MHz, {loss:.4} dB ]").expect("a string takes everything");
        }
        rows
    }

    /// What it is, as a part of a simulated path.
    pub(super) fn truth(&self) -> String {
        let kind = match self.kind {
            Kind::Pad { loss, slope } => format!("pad: {loss:.4} dB, slope: {slope} dB"),
            Kind::Cable { loss, metres } => format!("cable: {loss:.4} dB, at: 1 GHz, length: {metres} m"),
        };
        format!(
            "{{ name: {}, {kind}, vswr: {}, calibrated_within: {} dB }}",
            self.name, self.vswr, self.within
        )
    }
}

impl Path {
    /// A path for a carrier of so many dBm; `meter` tells whether a power meter hangs on it, `more` is what stands in
    /// the analyser's way beside what it needs, dB.
    pub(super) fn draw(draws: &mut Draws, power: f64, meter: bool, more: Option<f64>) -> Self {
        // Behind 30 dB and a splitter, 20 W come as 7 dBm: no input has to fear.
        let pad = if draws.chance(0.5) || (!meter && power > 37.0) { 40.0 } else { 30.0 };
        let flat = |draws: &mut Draws| if draws.chance(0.3) { 0.0 } else { draws.figure(0.0, 0.3) };
        let about = |draws: &mut Draws, loss: f64| loss + draws.figure(-0.5, 0.5);
        let kind = |draws: &mut Draws, loss: f64| Kind::Pad { loss: about(draws, loss), slope: flat(draws) };
        let cable =
            |draws: &mut Draws| Kind::Cable { loss: draws.figure(0.2, 1.0), metres: draws.figure(0.3, 2.0) };
        let first = kind(draws, pad);
        let common = vec![Part::draw(draws, "pad", first)];
        let mut analyser = Vec::new();
        let mut power_meter = Vec::new();
        if meter {
            let arms = [kind(draws, 6.0), kind(draws, 6.0)];
            analyser.push(Part::draw(draws, "splitter-1", arms[0]));
            power_meter.push(Part::draw(draws, "splitter-2", arms[1]));
            let line = cable(draws);
            power_meter.push(Part::draw(draws, "cable-2", line));
        }
        if let Some(more) = more {
            let second = kind(draws, more);
            analyser.push(Part::draw(draws, "pad-2", second));
        }
        let line = cable(draws);
        analyser.push(Part::draw(draws, "cable-1", line));
        Self { common, analyser, power_meter }
    }

    /// Two pads that are what they say.
    pub(super) fn exact(pad: f64) -> Self {
        Self {
            common: vec![Part::exact("pad", pad)],
            analyser: vec![Part::exact("splitter-1", 6.0)],
            power_meter: vec![Part::exact("splitter-2", 6.0)],
        }
    }

    /// About what is lost on the way to the analyser, dB.
    pub(super) fn to_analyser(&self) -> f64 {
        self.common.iter().chain(&self.analyser).map(Part::nominal).sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_table_holds_the_truth_and_its_error() {
        let kind = Kind::Cable { loss: 1.0, metres: 1.0 };
        let part = Part { name: "x", kind, vswr: 1.1, within: 0.1, form: Form::Table { error: 0.05 } };
        let stated = part.stated(3e9, None);
        // Closed form: 1 dB · sqrt(3) + 0.05 dB.
        assert!(stated.contains("[ 3000 MHz, 1.7821 dB ]"), "{stated}");
    }
}
