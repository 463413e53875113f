//! The unit of a drawn bench: what it gives into a matched load, and what its plan says of it.

use super::draws::Draws;
use super::rule::Rule;

/// A unit that is keyed on one channel at one power setting.
#[derive(Clone, Debug)]
pub(super) struct Unit {
    /// In Hz.
    pub(super) carrier: f64,
    /// In dBm.
    pub(super) power: f64,
    /// Level of each order that there is, dBm.
    pub(super) harmonics: Vec<(u32, f64)>,
    /// The highest order that is measured.
    pub(super) up_to: u32,
    /// The plan's window of power, dBm.
    pub(super) window: [f64; 2],
    /// Standing wave ratios at the carrier and elsewhere.
    pub(super) vswr: [f64; 2],
    /// Whether the plan states them; else they are what is assumed of a unit of which nobody says anything.
    pub(super) stated: bool,
    /// More keys of its truth.
    pub(super) more: String,
}

/// Where handhelds transmit, in MHz.
const BANDS: [(f64, f64); 4] = [(50.0, 54.0), (136.0, 174.0), (220.0, 225.0), (400.0, 450.0)];
/// Distress and safety, which no plan may name; with room about them, in MHz.
const NEVER: [(f64, f64); 3] = [(156.45, 156.9), (405.9, 406.2), (121.4, 121.6)];
const HIGHEST_ORDER: u32 = 10;

/// Reflections of 0.33 and 0.7, which a plan without `vswr` stands for: (1 + 0.33) / (1 - 0.33), 1.7 / 0.3.
pub(super) const ASSUMED: [f64; 2] = [1.985_074_627, 5.666_666_667];

impl Unit {
    /// A unit and the rule that it is held against.
    pub(super) fn draw(draws: &mut Draws) -> (Self, Rule) {
        let carrier = carrier(draws);
        // 0.5 to 25 W, evenly in dBm.
        let power = draws.between(26.9897, 43.9794);
        let rule = match draws.one_of(&[0, 1, 2, 3, 4]) {
            0 => Rule::BelowCarrier,
            1 | 2 if carrier <= 225e6 => Rule::Part97,
            _ => Rule::ItuGeneral,
        };
        let limit = rule.limit(power);
        let harmonics =
            (2..=HIGHEST_ORDER).filter_map(|order| Some((order, limit + from_limit(draws)?))).collect();
        let stated = draws.chance(0.5);
        let vswr = if stated { [draws.figure(1.2, 2.0), draws.figure(3.0, 7.0)] } else { ASSUMED };
        let window = window(draws, power);
        let up_to = HIGHEST_ORDER;
        (Self { carrier, power, harmonics, up_to, window, vswr, stated, more: String::new() }, rule)
    }

    /// One of 5 W on 146.025 MHz, without harmonics.
    pub(super) fn exact() -> Self {
        // 10 log10(5000), in dBm.
        const POWER: f64 = 36.989_700;
        Self {
            carrier: 146.025e6,
            power: POWER,
            harmonics: Vec::new(),
            up_to: 2,
            window: [POWER - 1.0, POWER + 1.0],
            vswr: [1.0, 1.0],
            stated: false,
            more: String::new(),
        }
    }

    /// The true level of an order, dBm; `None` if the unit has no such line.
    pub(super) fn level(&self, order: u32) -> Option<f64> {
        if order == 1 {
            return Some(self.power);
        }
        self.harmonics.iter().find(|(known, _)| *known == order).map(|(_, level)| *level)
    }

    /// What it is, as keys of a simulated bench.
    pub(super) fn truth(&self) -> String {
        let harmonics: Vec<String> = self
            .harmonics
            .iter()
            .map(|(order, level)| format!("{order}: {:.6} dB", self.power - level))
            .collect();
        format!(
            "{{ serial: U-1, model: FH-2, firmware: 1.0, range: 30 MHz..500 MHz, powers: {{ high: {:.6} dBm }}, \
             harmonics: {{ {} }}, vswr: {}, vswr_off_carrier: {}{} }}",
            self.power,
            harmonics.join(", "),
            self.vswr[0],
            self.vswr[1],
            self.more
        )
    }

    /// As the plan words it.
    pub(super) fn in_plan(&self) -> String {
        let [vswr, off_carrier] = self.vswr;
        if self.stated {
            format!("{{ model: FH-2, vswr: {vswr}, vswr_off_carrier: {off_carrier} }}")
        } else {
            "{ model: FH-2 }".to_owned()
        }
    }
}

fn carrier(draws: &mut Draws) -> f64 {
    loop {
        let (low, high) = draws.one_of(&BANDS);
        // Channels lie in steps of 12.5 kHz: common practice.
        let megahertz = (draws.between(low, high) / 0.0125).round() * 0.0125;
        if !NEVER.iter().any(|(from, to)| (*from..=*to).contains(&megahertz)) {
            return megahertz * 1e6;
        }
    }
}

/// How far above its limit a harmonic lies, dB; `None` for one that is absent. A third is within 3 dB.
fn from_limit(draws: &mut Draws) -> Option<f64> {
    let kind = draws.between(0.0, 1.0);
    if kind < 1.0 / 3.0 {
        Some(draws.between(-3.0, 3.0))
    } else if kind < 0.75 {
        Some(-draws.between(3.0, 45.0))
    } else if kind < 0.87 {
        Some(draws.between(3.0, 15.0))
    } else {
        None
    }
}

/// Most windows have room about the power; some end near it, a few beside it.
fn window(draws: &mut Draws, power: f64) -> [f64; 2] {
    let width = draws.between(1.5, 3.0);
    let low = match draws.between(0.0, 1.0) {
        kind if kind < 0.7 => power - width * draws.between(0.4, 0.6),
        kind if kind < 0.85 => power + draws.between(-0.6, 0.6),
        _ => power - width + draws.between(-0.6, 0.6),
    };
    [low, low + width]
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Of 9,000 orders a third is within 3 dB of the limit, to four standard errors, 4 sqrt(2 / 9 / 9000) = 0.020.
    #[test]
    fn a_third_lies_near_the_limit() {
        let (mut near, mut absent) = (0, 0);
        for unit in 0..1000 {
            let (unit, rule) = Unit::draw(&mut Draws::of(1, unit));
            assert!((50e6..=450e6).contains(&unit.carrier) && unit.window[0] < unit.window[1]);
            let limit = rule.limit(unit.power);
            let levels = (2..=10).map(|order| unit.level(order));
            for level in levels {
                near += i32::from(level.is_some_and(|level| (level - limit).abs() <= 3.0));
                absent += i32::from(level.is_none());
            }
        }
        assert!((f64::from(near) / 9000.0 - 1.0 / 3.0).abs() < 0.02, "{near}");
        assert!((f64::from(absent) / 9000.0 - 0.13).abs() < 0.02, "{absent}");
    }
}
