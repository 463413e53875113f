//! One unit on one bench, with everything that is true of both.

use super::draws::Draws;
use super::instruments::{Analyser, Meter};
use super::parts::Path;
use super::rule::Rule;
use super::unit::Unit;

/// One unit on one bench, with everything that is true of both.
#[derive(Clone, Debug)]
pub struct Subject {
    /// What it is called in messages.
    pub name: String,
    pub(super) unit: Unit,
    pub(super) rule: Rule,
    pub(super) analyser: Analyser,
    pub(super) meter: Option<Meter>,
    pub(super) path: Path,
    /// Lines at the analyser's input that the unit has nothing to do with: Hz and dBm.
    pub(super) ambient: Vec<(f64, f64)>,
    /// What the simulator draws by itself comes from here.
    pub(super) seed: u32,
    /// More lines of the bench's truth.
    pub(super) more: String,
}

impl Subject {
    /// Draws the unit of a number under a seed.
    #[must_use]
    pub fn draw(seed: u64, number: u64) -> Self {
        let draws = &mut Draws::of(seed, number);
        let (unit, rule) = Unit::draw(draws);
        let meter = draws.chance(0.8).then(|| Meter::draw(draws));
        let analyser = Analyser::draw(draws);
        let too_much = draws.chance(0.1).then(|| draws.one_of(&[20.0, 30.0, 40.0]));
        let path = Path::draw(draws, (unit.carrier, unit.power), meter.is_some(), too_much);
        let ambient = if draws.chance(0.12) { ambient(draws, &unit, &path, rule) } else { Vec::new() };
        let name = format!("{seed}:{number}");
        Self { name, unit, rule, analyser, meter, path, ambient, seed: draws.seed(), more: String::new() }
    }

    /// A unit of 5 W on a bench without any error of its own: what an instrument's figures allow is all that is
    /// uncertain.
    pub(super) fn exact(name: String) -> Self {
        Self {
            name,
            unit: Unit::exact(),
            rule: Rule::Part97,
            analyser: Analyser::exact(),
            meter: Some(Meter::exact()),
            path: Path::exact(30.0),
            ambient: Vec::new(),
            seed: 1,
            more: String::new(),
        }
    }

    /// The true limits of an order, lowest and highest level that complies, dBm.
    pub(super) fn limits(&self, order: u32) -> [f64; 2] {
        if order == 1 { self.unit.window } else { [f64::NEG_INFINITY, self.rule.limit(self.unit.power)] }
    }

    /// Whether something else is on the air where a harmonic is looked for.
    pub(super) fn has_ambient_at(&self, order: u32) -> bool {
        /// Half of a look's span: whatever is farther away cannot be seen.
        const BESIDE: f64 = 150e3;
        let at = self.unit.carrier * f64::from(order);
        self.ambient.iter().any(|(frequency, _)| (frequency - at).abs() <= BESIDE)
    }
}

/// One to three lines, half of them where a harmonic is.
fn ambient(draws: &mut Draws, unit: &Unit, path: &Path, rule: Rule) -> Vec<(f64, f64)> {
    let at_limit = rule.limit(unit.power) - path.to_analyser();
    (0..draws.one_of(&[1, 2, 3]))
        .map(|_| {
            if draws.chance(0.5) {
                let order = draws.one_of(&[2.0, 3.0, 4.0, 5.0]);
                (unit.carrier * order + draws.between(-20e3, 20e3), at_limit + draws.between(-30.0, 10.0))
            } else {
                (draws.between(88e6, 1e9), draws.between(-100.0, -50.0))
            }
        })
        .collect()
}
