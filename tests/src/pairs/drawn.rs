//! One unit on one bench, drawn from a seed, as its files are at each visit.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// The standard deviation of what the joints of a whole way repeat within, dB: what a comparison assumes of them.
const JOINTS: f64 = 0.05;
const ORDERS: [u32; 4] = [2, 3, 4, 5];
/// Level of the carrier, dBm: 4.7 W.
const CARRIER: f64 = 36.721;

/// A unit with two channels on a bench that is set up anew for each run.
#[derive(Clone, Debug)]
pub struct Pair {
    /// The seed of everything that stays.
    pub seed: u64,
    /// Carriers of both channels, MHz.
    carriers: [f64; 2],
    /// How far each order lies below the carrier on each channel, dB.
    below: [[f64; 4]; 2],
    /// Noise of the analyser in 1 Hz, dBm.
    noise: f64,
    /// What is shifted if something is: channel and order.
    target: (usize, u32),
}

/// What differs at a visit.
#[derive(Clone, Copy, Debug)]
pub struct Shifted {
    /// The number of the visit: noise and joints are drawn from it.
    pub visit: u32,
    /// How far the target is above what it was at first, dB.
    pub by: f64,
}

impl Pair {
    /// Draws the unit of a seed.
    #[must_use]
    pub fn draw(seed: u64) -> Self {
        let mut draws = ChaCha8Rng::seed_from_u64(seed);
        let mut between = |low: f64, high: f64| low + (high - low) * draws.random::<f64>();
        let carriers = [between(144.0, 145.9), between(146.1, 147.9)].map(|mhz| (mhz * 1e3).round() / 1e3);
        let mut orders = || ORDERS.map(|_| between(55.0, 74.0));
        let below = [orders(), orders()];
        let noise = between(-152.0, -147.0);
        let (channel, order) = (between(0.0, 2.0) as usize, ORDERS[between(0.0, 4.0) as usize]);
        Self { seed, carriers, below, noise, target: (channel, order) }
    }

    /// Channel and order of what is shifted.
    #[must_use]
    pub fn target(&self) -> (String, u32) {
        (self.channel(self.target.0).to_owned(), self.target.1)
    }

    fn channel(&self, number: usize) -> &'static str {
        ["one", "two"][number]
    }

    /// The plan.
    #[must_use]
    pub fn plan(&self) -> String {
        let channel = |number: usize| {
            format!(
                "{{ name: {}, carrier: {} MHz, power: {{ high: 4..5.5 W }} }}",
                self.channel(number),
                self.carriers[number]
            )
        };
        format!(
            "plan: pairs\nbench: bench.yaml\nrule: us-part-97\nunit: {{ model: FH-2 }}\n\
             channels: [ {}, {} ]\nmeasure: {{ harmonics: {{ up_to: 5 }} }}\n",
            channel(0),
            channel(1)
        )
    }

    /// The bench at a visit.
    #[must_use]
    pub fn bench(&self, shifted: Shifted) -> String {
        let mut exceptions = Vec::new();
        for (number, below) in self.below.iter().enumerate() {
            for (order, below) in ORDERS.iter().zip(below) {
                let by = if self.target == (number, *order) { shifted.by } else { 0.0 };
                exceptions.push(format!(
                    "{{ carrier: {} MHz, power: high, order: {order}, below: {:.6} dB }}",
                    self.carriers[number],
                    below - by
                ));
            }
        }
        // A way has two parts.
        let joint = JOINTS / f64::sqrt(2.0);
        let over = "over: 1 MHz..3.2 GHz";
        let at = |port: u16| format!("at: \"TCPIP::127.0.0.1::{port}::SOCKET\"");
        format!(
            "\
bench: pairs
analyser: {{ {analyser}, profile: analyser-generic }}
power_meter: {{ {meter}, profile: power-meter-generic }}
unit_control: {{ {unit}, profile: unit-generic }}
key: {{ relay: {{ {relay}, profile: relay-generic, contact: 1, opens_by_itself: 1 s }} }}
common: [ {{ attenuator: 30 dB, {over}, rated: 25 W, uncertainty: 0.1 dB, name: pad, vswr: 1.1 }} ]
branches:
  analyser: [ {{ attenuator: 6 dB, {over}, uncertainty: 0.1 dB, name: arm, vswr: 1.1 }} ]
  power_meter: [ {{ attenuator: 6 dB, {over}, uncertainty: 0.1 dB, name: other, vswr: 1.1 }} ]
simulated:
  seed: {seed}
  visit: {visit}
  units:
    - {{ serial: U-1, model: FH-2, firmware: 1.{visit}, range: 130 MHz..500 MHz,
        powers: {{ high: {CARRIER} dBm }}, harmonics: {{}}, exceptions: [ {exceptions} ],
        vswr: 1.3, vswr_off_carrier: 4 }}
  analyser: {{ identity: {{ maker: Example, model: Analyser, serial: A-1, firmware: 1.0 }}, noise: {noise:.4} dBm }}
  power_meter: {{}}
  relay: {{}}
  path:
    common: [ {{ name: pad, pad: 30 dB, vswr: 1.1, reconnection: {joint:.6} dB }} ]
    analyser: [ {{ name: arm, pad: 6 dB, vswr: 1.1, reconnection: {joint:.6} dB }} ]
    power_meter: [ {{ name: other, pad: 6 dB, vswr: 1.1, reconnection: {joint:.6} dB }} ]
",
            analyser = at(15025),
            meter = at(15026),
            unit = at(15029),
            relay = at(15028),
            seed = self.seed,
            visit = shifted.visit,
            exceptions = exceptions.join(", "),
            noise = self.noise,
        )
    }
}
