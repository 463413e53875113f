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
    /// What the bench file says of the harmonics that it makes: the value of `distorts`.
    pub(super) distorts: Option<String>,
}

/// What it does to a wave that passes; losses in dB.
#[derive(Clone, Copy, Debug)]
pub(super) enum Kind {
    /// The same everywhere, but for a slope per gigahertz.
    Pad { loss: f64, slope: f64 },
    /// At 1 GHz; it goes with the root of the frequency.
    Cable { loss: f64, metres: f64 },
    /// Takes out what is `at` so many Hz, `depth` of it at the centre, and loses `loss` elsewhere.
    Notch { depth: f64, at: f64, quality: f64, loss: f64 },
}

/// How the bench file states it.
#[derive(Clone, Copy, Debug)]
pub(super) enum Form {
    /// A Touchstone file that the simulated laboratory writes, with an error of its own: the same everywhere, or one that
    /// goes slowly from one frequency to another.
    Touchstone { slowly: bool },
    /// A table of losses, all wrong by the same error, dB.
    Table { error: f64 },
    /// One figure, wrong by this error, dB. Only for a part without slope.
    Figure { error: f64 },
}

/// From the unit on, common parts first, then those of each branch.
#[derive(Clone, Debug)]
pub(super) struct Path {
    /// The unit's own: the plan names it.
    pub(super) adapter: Option<Part>,
    /// What a relay puts in behind the splitter while harmonics are read.
    pub(super) notch: Option<Part>,
    pub(super) common: Vec<Part>,
    pub(super) analyser: Vec<Part>,
    pub(super) power_meter: Vec<Part>,
}

impl Part {
    fn draw(draws: &mut Draws, name: &'static str, kind: Kind) -> Self {
        let touchstone = draws.chance(1.0 / 3.0);
        let (within, vswr) = match kind {
            Kind::Pad { .. } => (draws.figure(0.1, 0.3), draws.figure(1.05, 1.25)),
            // At the lowest frequencies a cable loses next to nothing; no file may show a gain there.
            Kind::Cable { loss, .. } if loss < 0.5 => (draws.figure(0.02, 0.04), draws.figure(1.04, 1.1)),
            Kind::Cable { .. } => {
                (draws.figure(0.04, if touchstone { 0.06 } else { 0.12 }), draws.figure(1.04, 1.15))
            }
            // A part that loses so little can reflect no more.
            Kind::Notch { .. } => (draws.figure(0.05, 0.15), draws.figure(1.02, 1.05)),
        };
        let touchstone = touchstone || matches!(kind, Kind::Notch { .. });
        let error = within / 2.0 * draws.normal();
        let flat = matches!(kind, Kind::Pad { slope, .. } if slope == 0.0);
        let form = match draws.one_of(&[1, 2]) {
            of_two if touchstone => Form::Touchstone { slowly: of_two == 1 },
            1 if flat => Form::Figure { error },
            _ => Form::Table { error },
        };
        Self { name, kind, vswr, within, form, distorts: None }
    }

    /// One whose loss is stated without error.
    pub(super) fn exact(name: &'static str, loss: f64) -> Self {
        let kind = Kind::Pad { loss, slope: 0.0 };
        Self { name, kind, vswr: 1.0, within: 0.1, form: Form::Figure { error: 0.0 }, distorts: None }
    }

    /// The true loss between matched ends, dB.
    fn loss(&self, hertz: f64) -> f64 {
        match self.kind {
            Kind::Pad { loss, slope } => loss + slope * hertz / 1e9,
            Kind::Cable { loss, .. } => loss * (hertz / 1e9).sqrt(),
            Kind::Notch { loss, .. } => loss,
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
        let distorts = self.distorts.as_ref().map_or(String::new(), |said| format!(", distorts: {said}"));
        let common = format!("uncertainty: {within} dB{rated}, name: {name}{distorts}");
        match self.form {
            Form::Touchstone { .. } => format!("{{ touchstone: {name}.s2p, {common} }}"),
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

    /// What it is, as a part of a simulated path; a contact of the switch card may have to bring it in.
    pub(super) fn truth(&self, contact: Option<u32>) -> String {
        let kind = match self.kind {
            Kind::Pad { loss, slope } => format!("pad: {loss:.4} dB, slope: {slope} dB"),
            Kind::Cable { loss, metres } => format!("cable: {loss:.4} dB, at: 1 GHz, length: {metres} m"),
            Kind::Notch { depth, at, quality, loss } => {
                format!("notch: {depth} dB, at: {:.6} MHz, quality: {quality}, loss: {loss} dB", at / 1e6)
            }
        };
        let contact = contact.map_or(String::new(), |contact| format!(", in_while_closed: {contact}"));
        let Self { name, vswr, within, form, .. } = self;
        let slowly =
            if matches!(form, Form::Touchstone { slowly: true }) { ", calibration: smooth" } else { "" };
        format!("{{ name: {name}, {kind}, vswr: {vswr}, calibrated_within: {within} dB{slowly}{contact} }}")
    }
}

impl Path {
    /// A path for a carrier of so many Hz and dBm; `meter` tells whether a power meter hangs on it, `more` is what stands
    /// in the analyser's way beside what it needs, dB.
    pub(super) fn draw(
        draws: &mut Draws,
        (carrier, power): (f64, f64),
        meter: bool,
        more: Option<f64>,
    ) -> Self {
        // Behind 30 dB and a splitter, 20 W come as 7 dBm: no input has to fear.
        let pad = if draws.chance(0.5) || (!meter && power > 37.0) { 40.0 } else { 30.0 };
        let flat = |draws: &mut Draws| if draws.chance(0.3) { 0.0 } else { draws.figure(0.0, 0.3) };
        let about = |draws: &mut Draws, loss: f64| loss + draws.figure(-0.5, 0.5);
        let kind = |draws: &mut Draws, loss: f64| Kind::Pad { loss: about(draws, loss), slope: flat(draws) };
        let cable =
            |draws: &mut Draws| Kind::Cable { loss: draws.figure(0.5, 1.5), metres: draws.figure(0.3, 2.0) };
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
        let adapter = draws.chance(0.2).then(|| {
            let kind = Kind::Cable { loss: draws.figure(0.2, 0.4), metres: 0.04 };
            Part::draw(draws, "adapter", kind)
        });
        let notch = (meter && more.is_none() && draws.chance(0.15)).then(|| {
            let depth = draws.figure(20.0, 30.0);
            let kind = Kind::Notch { depth, at: carrier, quality: 10.0, loss: draws.figure(0.3, 0.5) };
            Part::draw(draws, "notch", kind)
        });
        Self { adapter, notch, common, analyser, power_meter }
    }

    /// Two pads that are what they say.
    pub(super) fn exact(pad: f64) -> Self {
        Self {
            adapter: None,
            notch: None,
            common: vec![Part::exact("pad", pad)],
            analyser: vec![Part::exact("splitter-1", 6.0)],
            power_meter: vec![Part::exact("splitter-2", 6.0)],
        }
    }

    /// About what a harmonic loses on its way to the analyser, dB.
    pub(super) fn to_analyser(&self) -> f64 {
        let always = self.adapter.iter().chain(&self.common).chain(&self.analyser);
        always.chain(&self.notch).map(Part::nominal).sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_table_holds_the_truth_and_its_error() {
        let kind = Kind::Cable { loss: 1.0, metres: 1.0 };
        let part = Part {
            name: "x",
            kind,
            vswr: 1.1,
            within: 0.1,
            form: Form::Table { error: 0.05 },
            distorts: None,
        };
        let stated = part.stated(3e9, None);
        // Closed form: 1 dB · sqrt(3) + 0.05 dB.
        assert!(stated.contains("[ 3000 MHz, 1.7821 dB ]"), "{stated}");
    }
}
