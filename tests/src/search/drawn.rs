//! One unit with planted lines on one bench, drawn from a seed.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// What a planted line is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Kind {
    /// Of the keyed unit, standing still.
    Clock,
    /// Of the keyed unit, on one side of the carrier.
    Offset,
    /// Of the keyed unit, at a part of the carrier's frequency.
    Share(u32, u32),
    /// Of the receiver, gone while the unit is keyed.
    Receiver,
    /// Of somebody else, on the air.
    Ambient,
    /// The analyser's own.
    Residual,
    /// The analyser's own, of the carrier.
    Image,
}

impl Kind {
    /// Whether it is an emission of the keyed unit.
    #[must_use]
    pub fn is_of_the_unit(self) -> bool {
        matches!(self, Self::Clock | Self::Offset | Self::Share(..))
    }

    /// How the name of its family begins.
    #[must_use]
    pub fn family(self) -> String {
        match self {
            Self::Clock => "clock at".to_owned(),
            Self::Offset => "reference spur at".to_owned(),
            Self::Share(part, of) if part < of => format!("sub-harmonic, {part}/{of} of"),
            Self::Share(part, of) => format!("{part}/{of} of"),
            Self::Receiver | Self::Ambient | Self::Residual | Self::Image => "none of the unit's".to_owned(),
        }
    }
}

/// One planted line.
#[derive(Clone, Copy, Debug)]
pub struct Line {
    /// What it is.
    pub kind: Kind,
    /// Where it stands, in hertz, with the carrier on the first channel.
    pub at: f64,
    /// Its level in dBm: at the unit's connector into a matched load for the unit's, else at the analyser's input.
    pub level: f64,
}

/// A unit and a bench.
#[derive(Clone, Debug)]
pub struct Planted {
    /// The seed.
    pub seed: u64,
    /// The carrier, in hertz, and the one of the second channel.
    pub carriers: [f64; 2],
    /// Its power, in dBm.
    pub power: f64,
    /// The path's loss from the connector to the analyser, in dB.
    pub loss: f64,
    /// The analyser's noise in 1 Hz without attenuation, in dBm.
    pub noise: f64,
    /// Everything that is planted.
    pub lines: Vec<Line>,
    /// How far below a line its image is shown, in hertz, and how much weaker.
    image: Option<(f64, f64)>,
    /// The reference, in hertz, and the offsets that are planted of it.
    offsets: Vec<(f64, f64)>,
}

/// The searched range, in hertz.
const RANGE: [f64; 2] = [9e3, 1.5e9];
const POWER: [f64; 2] = [35.0, 37.4];
const PARTS: [(u32, u32); 5] = [(1, 2), (1, 3), (2, 3), (3, 2), (5, 2)];
/// Levels of the unit's lines, dBm, and of others at the analyser's input.
const LEVELS: [f64; 2] = [-42.0, -4.0];
const OTHERS: [f64; 2] = [-78.0, -50.0];

struct Draws(ChaCha8Rng);

impl Draws {
    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.0.random::<f64>()
    }

    fn whole(&mut self, low: u32, high: u32) -> u32 {
        self.0.random_range(low..=high)
    }

    /// A frequency in hertz: every decade as likely as its place in the list says.
    fn frequency(&mut self) -> f64 {
        let [low, high] = match self.whole(0, 9) {
            0 => [12e3, 145e3],
            1 | 2 => [160e3, 29e6],
            3..=7 => [31e6, 990e6],
            _ => [1.001e9, 1.495e9],
        };
        // To the 100 Hz, as people state frequencies.
        (self.between(low, high) / 100.0).round() * 100.0
    }
}

impl Planted {
    /// The unit and bench of a seed: 3 to 8 spurs of every family.
    #[must_use]
    pub fn draw(seed: u64) -> Self {
        let mut draws = Draws(ChaCha8Rng::seed_from_u64(seed));
        let first = (draws.between(144.1e6, 145.4e6) / 12.5e3).round() * 12.5e3;
        let second = first + (draws.between(0.6e6, 2.4e6) / 12.5e3).round() * 12.5e3;
        let mut planted = Self {
            seed,
            carriers: [first, second],
            power: draws.between(POWER[0], POWER[1]),
            loss: draws.between(33.0, 37.0),
            noise: draws.between(-154.0, -149.5),
            lines: Vec::new(),
            image: None,
            offsets: Vec::new(),
        };
        if draws.whole(0, 3) == 0 {
            let image = (draws.between(30e6, 60e6).round(), draws.between(60.0, 75.0));
            planted.image = Some(image);
            let level = planted.power - planted.loss - image.1;
            planted.lines.push(Line { kind: Kind::Image, at: first - image.0, level });
        }
        let spurs = draws.whole(3, 8);
        for number in 0..spurs {
            // The first three make sure that there is one of every family.
            let kind = if number < 3 { number } else { draws.whole(0, 2) };
            let level = draws.between(LEVELS[0], LEVELS[1]);
            match kind {
                0 => planted.plant(&mut draws, |draws| vec![(Kind::Clock, draws.frequency())], level),
                1 => planted.plant_offset(&mut draws, level),
                _ => planted.plant(
                    &mut draws,
                    |draws| {
                        let (part, of) = PARTS[draws.whole(0, PARTS.len() as u32 - 1) as usize];
                        vec![(Kind::Share(part, of), first * f64::from(part) / f64::from(of))]
                    },
                    level,
                ),
            }
        }
        for (kind, most) in [(Kind::Receiver, 2), (Kind::Ambient, 4), (Kind::Residual, 2)] {
            for _ in 0..draws.whole(0, most) {
                let level = if kind == Kind::Receiver {
                    draws.between(-40.0, -10.0)
                } else {
                    draws.between(OTHERS[0], OTHERS[1])
                };
                planted.plant(&mut draws, |draws| vec![(kind, draws.frequency())], level);
            }
        }
        planted
    }

    fn plant_offset(&mut self, draws: &mut Draws, level: f64) {
        let carrier = self.carriers[0];
        let before = self.lines.len();
        self.plant(
            draws,
            |draws| {
                let offset = (draws.between(0.6e6, 40e6) / 1e3).round() * 1e3;
                vec![(Kind::Offset, carrier + offset), (Kind::Offset, carrier - offset)]
            },
            level,
        );
        if let [above, _] = &self.lines[before..] {
            self.offsets.push((above.at - carrier, level));
        }
    }

    /// Plants lines that are not in each other's way, if a few tries find such.
    fn plant(
        &mut self,
        draws: &mut Draws,
        mut places: impl FnMut(&mut Draws) -> Vec<(Kind, f64)>,
        level: f64,
    ) {
        for _ in 0..50 {
            let lines = places(draws);
            if lines.iter().all(|(_, at)| self.is_free(*at)) {
                self.lines.extend(lines.into_iter().map(|(kind, at)| Line { kind, at, level }));
                return;
            }
        }
    }

    /// Whether a line can stand there: not where another one stands, nor where one would be with the other carrier.
    fn is_free(&self, at: f64) -> bool {
        let room = match at {
            f if f < 150e3 => 12e3,
            f if f < 30e6 => 150e3,
            _ => 500e3,
        };
        let [first, second] = self.carriers;
        let moved = second - first;
        let by_carrier = (at - first).abs() > 550e3 && (at - second).abs() > 550e3;
        let harmonic = (1..=10).all(|order| (at - first * f64::from(order)).abs() > 600e3);
        let free = |line: &Line| {
            [0.0, moved, -moved, 2.0 * moved, -2.0 * moved].iter().all(|by| (line.at + by - at).abs() > room)
        };
        let edges = [150e3, 30e6, 1e9].iter().all(|edge| (at - edge).abs() > 1e3);
        at > RANGE[0] * 1.2
            && at < RANGE[1] - 1e6
            && by_carrier
            && harmonic
            && edges
            && self.lines.iter().all(free)
    }

    /// The lines as they stand with a carrier.
    #[must_use]
    pub fn with_carrier(&self, carrier: f64) -> Vec<Line> {
        let by = carrier - self.carriers[0];
        let moved = |line: &Line| match line.kind {
            Kind::Offset | Kind::Image => line.at + by,
            Kind::Share(part, of) => carrier * f64::from(part) / f64::from(of),
            Kind::Clock | Kind::Receiver | Kind::Ambient | Kind::Residual => line.at,
        };
        self.lines.iter().map(|line| Line { at: moved(line), ..*line }).collect()
    }

    /// The plan's text.
    #[must_use]
    pub fn plan(&self) -> String {
        let [first, second] = self.carriers;
        let (low, high) = (self.power - 0.8, self.power + 0.8);
        let window = format!("{low:.3}..{high:.3} dBm");
        format!(
            "plan: search {seed}\nbench: bench.yaml\nrule: us-part-97\nunit: {{ model: FH-2 }}\n\
             supply: [ {{ name: battery, set: 7.4 V, limit: 2.5 A }} ]\nchannels:\n\
             \x20 - {{ name: one, carrier: {first} Hz, power: {{ high: {window} }} }}\n\
             \x20 - {{ name: two, carrier: {second} Hz, power: {{ high: {window} }} }}\n\
             measure: {{ harmonics: {{ up_to: 10 }}, search: {{ from: 9 kHz, to: 1.5 GHz }} }}\n\
             key: {{ longest: 20 s, rest: 60 s }}\n",
            seed = self.seed,
        )
    }

    /// The bench's text, with the truth in it.
    #[must_use]
    pub fn bench(&self) -> String {
        let mut spurs = Vec::new();
        for line in &self.lines {
            let below = self.power - line.level;
            match line.kind {
                Kind::Clock => spurs.push(format!("{{ frequency: {} Hz, below: {below:.4} dB }}", line.at)),
                Kind::Share(part, of) => {
                    let share = f64::from(part) / f64::from(of);
                    spurs.push(format!("{{ share_of_carrier: {share}, below: {below:.4} dB }}"));
                }
                _ => {}
            }
        }
        for (offset, level) in &self.offsets {
            spurs.push(format!("{{ offset: {offset} Hz, below: {:.4} dB }}", self.power - level));
        }
        let of_kind = |kind: Kind| -> Vec<String> {
            let lines = self.lines.iter().filter(|line| line.kind == kind);
            lines
                .map(|line| format!("{{ frequency: {} Hz, level: {:.4} dBm }}", line.at, line.level))
                .collect()
        };
        let image = self.image.map_or_else(String::new, |(offset, rejection)| {
            format!(", image: {{ offset: {offset} Hz, rejection: {rejection:.4} dB }}")
        });
        // 6 dB of the loss are those of the arm behind the pad.
        let pad = self.loss - 6.0;
        let over = "over: 5 kHz..3.2 GHz";
        let at = |port: u16| format!("at: \"TCPIP::127.0.0.1::{port}::SOCKET\"");
        format!(
            "\
bench: search
analyser: {{ {analyser}, profile: analyser-generic }}
power_meter: {{ {meter}, profile: power-meter-generic }}
supply: {{ {supply}, profile: supply-generic }}
unit_control: {{ {unit}, profile: unit-generic }}
key: {{ relay: {{ {relay}, profile: relay-generic, contact: 1, opens_by_itself: 1 s }} }}
common: [ {{ attenuator: {pad:.4} dB, {over}, rated: 25 W, uncertainty: 0.1 dB, name: pad, vswr: 1.1 }} ]
branches:
  analyser: [ {{ attenuator: 6 dB, {over}, uncertainty: 0.1 dB, name: arm, vswr: 1.1 }} ]
  power_meter: [ {{ attenuator: 6 dB, {over}, uncertainty: 0.1 dB, name: other, vswr: 1.1 }} ]
simulated:
  seed: {seed}
  units:
    - {{ serial: U-1, model: FH-2, firmware: 1.0, range: 130 MHz..500 MHz,
        powers: {{ high: {power:.4} dBm }}, harmonics: {{ 2: 58 dB, 3: 62 dB, 5: 70 dB }},
        vswr: 1.3, vswr_off_carrier: 1.6, spurs: [ {spurs} ], receiver: [ {receiver} ] }}
  analyser: {{ identity: {{ maker: Example, model: Analyser, serial: A-1, firmware: 1.0 }}, noise: {noise:.4} dBm,
      residuals: [ {residuals} ]{image} }}
  power_meter: {{}}
  supply: {{}}
  relay: {{}}
  path:
    common: [ {{ name: pad, pad: {pad:.4} dB, vswr: 1.1 }} ]
    analyser: [ {{ name: arm, pad: 6 dB, vswr: 1.1 }} ]
    power_meter: [ {{ name: other, pad: 6 dB, vswr: 1.1 }} ]
  ambient: [ {ambient} ]
",
            analyser = at(15025),
            meter = at(15026),
            supply = at(15027),
            unit = at(15029),
            relay = at(15028),
            seed = self.seed,
            power = self.power,
            noise = self.noise,
            spurs = spurs.join(", "),
            receiver = of_kind(Kind::Receiver).join(", "),
            residuals = of_kind(Kind::Residual).join(", "),
            ambient = of_kind(Kind::Ambient).join(", "),
        )
    }
}
