//! The truth of a unit under test: what it would give into a matched load.

use spurline_document::{Node, Reader};
use spurline_units::{Db, Hertz, Power, Range, Seconds, Volts};

use super::analyser::phase_noise;
use super::behaviour::BehaviourTruth;
use super::microphone::MicrophoneTruth;
use super::modulation::{ModulationTruth, Swing};
use super::spur::{Oscillator, Spur};
use super::{HandTruth, Identity, Inhibit, LinkTruth, UnitLabel, identity, read};
use crate::physics::phase_noise::NoiseDensity;

/// A transmitter with known powers and harmonics.
#[derive(Clone, Debug)]
pub(crate) struct UnitTruth {
    pub(crate) identity: Identity,
    /// Where it transmits.
    pub(crate) range: Range<Hertz>,
    /// What it is tuned to when it is switched on; the lower end of its range if nothing is stated.
    pub(crate) tuned_to: Option<Hertz>,
    /// Time from key down to full power.
    pub(crate) rise: Seconds,
    /// How far above its channel its carrier lies.
    pub(crate) off_channel: Hertz,
    /// Noise of its own oscillator about each of its lines, in rising order of the offsets.
    pub(crate) phase_noise: Vec<NoiseDensity>,
    /// Mean power into 50 ohm by the name of the setting.
    pub(crate) powers: Vec<(String, Power)>,
    /// How far each order is below the carrier.
    harmonics: Vec<(u32, Db)>,
    exceptions: Vec<Exception>,
    /// Source match at the carrier.
    pub(crate) vswr: f64,
    /// Source match everywhere else.
    pub(crate) vswr_off_carrier: f64,
    /// Lowest supply voltage at which it transmits.
    pub(crate) works_from: Volts,
    pub(crate) behaviour: BehaviourTruth,
    /// Where it does not transmit as it is told; of ranges that overlap, the first one counts.
    pub(crate) inhibited: Vec<Inhibit>,
    pub(crate) spurs: Vec<Spur>,
    pub(crate) modulation: ModulationTruth,
    /// What its microphone input makes of a tone.
    pub(crate) microphone: Option<MicrophoneTruth>,
    /// A tone below speech that is left on.
    pub(crate) sub_audible: Option<Swing>,
    /// What comes out while it is not keyed.
    pub(crate) receiver: Vec<Oscillator>,
    /// How its control port takes its clients.
    pub(crate) link: LinkTruth,
    /// The hand of whoever brought it, if it is not that of the bench.
    pub(crate) hand: Option<HandTruth>,
}

/// As many as may come on one day.
const MOST_UNITS: usize = 200;

/// One order that differs at one carrier and power setting.
#[derive(Clone, Debug)]
struct Exception {
    carrier: Hertz,
    power: Option<String>,
    order: u32,
    below: Db,
}

/// Orders that a file may name.
const HIGHEST_ORDER: u32 = 100;

impl UnitTruth {
    pub(super) fn read_all(reader: &mut Reader, node: &Node) -> Option<Vec<Self>> {
        let units = read::some(reader, node, "the units", MOST_UNITS, Self::read)?;
        if units.is_empty() {
            reader.mistake(node.span, "expected at least one unit, found an empty list");
            return None;
        }
        let double = units.iter().enumerate().find(|(place, unit)| {
            let serial = &unit.identity.serial;
            units[..*place].iter().any(|other| other.identity.serial.eq_ignore_ascii_case(serial))
        });
        if let Some((_, unit)) = double {
            reader
                .mistake(node.span, format!("two units have the serial number `{}`", unit.identity.serial))
                .hint("one of them is at the connector, by its serial number: give each its own");
            return None;
        }
        Some(units)
    }

    fn read(reader: &mut Reader, node: &Node) -> Option<Self> {
        let mut fields = reader.fields(node, "a unit")?;
        let maker = fields.or(reader, "maker", identity::field, "Example".to_owned());
        let model = fields.required(reader, "model").and_then(|n| identity::field(reader, n));
        let serial = fields.required(reader, "serial").and_then(|n| identity::field(reader, n));
        let firmware = fields.required(reader, "firmware").and_then(|n| identity::field(reader, n));
        let range = fields.required(reader, "range").and_then(|n| reader.parse(n, "a range"));
        let tuned_to = fields.maybe(reader, "tuned_to", |r, n| r.parse::<Hertz>(n, "a frequency"));
        let rise = read::quantity(reader, &mut fields, "rise", Seconds::new(0.02));
        let off_channel = read::quantity(reader, &mut fields, "off_channel", Hertz::new(0.0));
        let phase_noise = fields.or(reader, "phase_noise", phase_noise, Vec::new());
        let powers = fields.required(reader, "powers").and_then(|n| powers(reader, n));
        let harmonics = fields.or(reader, "harmonics", harmonics, Vec::new());
        let exceptions = fields.or(reader, "exceptions", Exception::read_all, Vec::new());
        let vswr = read::vswr(reader, &mut fields, "vswr", 1.3);
        let vswr_off_carrier = read::vswr(reader, &mut fields, "vswr_off_carrier", 3.0);
        let works_from = fields.or(
            reader,
            "works_from",
            |r, n| read::above(r, n, "works_from", Volts::new(0.0)),
            Volts::new(5.0),
        );
        let behaviour = BehaviourTruth::read(reader, &mut fields);
        let inhibited = fields.or(reader, "inhibited", Inhibit::read_all, Vec::new());
        let spurs = fields.or(reader, "spurs", Spur::read_all, Vec::new());
        let modulation = fields.or(reader, "modulation", ModulationTruth::read, ModulationTruth::default());
        let microphone = fields.maybe(reader, "microphone", MicrophoneTruth::read);
        let sub_audible =
            fields.maybe(reader, "sub_audible", |r, n| Swing::read(r, n, "a tone below speech"));
        let receiver = fields.or(reader, "receiver", Oscillator::read_all, Vec::new());
        let link = fields.or(reader, "link", LinkTruth::read, LinkTruth::default());
        let hand = fields.maybe(reader, "hand", HandTruth::read);
        fields.close(reader);
        let (range, tuned_to) = (range?, tuned_to?);
        if let Some(tuned) = tuned_to.filter(|tuned| !Range::contains(&range, *tuned)) {
            let message = format!("the unit is tuned to {tuned}, outside its range, {range}");
            reader.mistake(node.span, message).hint("widen `range`, or tune it within");
            return None;
        }
        let (powers, exceptions) = (powers?, exceptions?);
        for name in exceptions.iter().filter_map(|exception| exception.power.as_ref()) {
            if !powers.iter().any(|(known, _)| known.eq_ignore_ascii_case(name)) {
                let known: Vec<&str> = powers.iter().map(|(known, _)| known.as_str()).collect();
                reader
                    .mistake(
                        node.span,
                        format!("an exception names the power setting `{name}`, which is not there"),
                    )
                    .hint(format!("settings of this unit: {}", known.join(", ")));
            }
        }
        let identity = Identity { maker: maker?, model: model?, serial: serial?, firmware: firmware? };
        Some(Self {
            identity,
            range,
            tuned_to,
            rise: rise?,
            off_channel: off_channel?,
            phase_noise: phase_noise?,
            powers,
            harmonics: harmonics?,
            exceptions,
            vswr: vswr?,
            vswr_off_carrier: vswr_off_carrier?,
            works_from: works_from?,
            behaviour: behaviour?,
            inhibited: inhibited?,
            spurs: spurs?,
            modulation: modulation?,
            microphone: microphone?,
            sub_audible: sub_audible?,
            receiver: receiver?,
            link: link?,
            hand: hand?,
        })
    }

    /// What stands on its label.
    pub(crate) fn label(&self) -> UnitLabel<'_> {
        let identity = &self.identity;
        UnitLabel { model: &identity.model, serial: &identity.serial, firmware: &identity.firmware }
    }

    /// The harmonics at a carrier and power setting, each as its order and how far it is below the carrier.
    pub(crate) fn harmonics(&self, carrier: Hertz, power: &str) -> Vec<(u32, Db)> {
        let mut orders = self.harmonics.clone();
        for exception in self.exceptions.iter().filter(|e| e.holds(carrier, power)) {
            match orders.iter_mut().find(|(order, _)| *order == exception.order) {
                Some((_, below)) => *below = exception.below,
                None => orders.push((exception.order, exception.below)),
            }
        }
        orders
    }
}

impl Exception {
    fn holds(&self, carrier: Hertz, power: &str) -> bool {
        let same_power = self.power.as_ref().is_none_or(|name| name.eq_ignore_ascii_case(power));
        // A synthesiser's step is never as fine as a hertz.
        same_power && (self.carrier - carrier).get().abs() < 1.0
    }

    fn read_all(reader: &mut Reader, node: &Node) -> Option<Vec<Self>> {
        read::all(reader, node, "the exceptions", Self::read)
    }

    fn read(reader: &mut Reader, node: &Node) -> Option<Self> {
        let mut fields = reader.fields(node, "an exception")?;
        let carrier = fields.required(reader, "carrier").and_then(|n| reader.parse(n, "a frequency"));
        let power = fields.maybe(reader, "power", identity::field);
        let order =
            fields.required(reader, "order").and_then(|n| reader.whole(n, "an order", 2, HIGHEST_ORDER));
        let below = fields.required(reader, "below").and_then(|n| reader.parse(n, "a ratio"));
        fields.close(reader);
        Some(Self { carrier: carrier?, power: power?, order: order?, below: below? })
    }
}

fn powers(reader: &mut Reader, node: &Node) -> Option<Vec<(String, Power)>> {
    let powers = read::named(reader, node, "the power settings", |reader, name, node| {
        Some((name.to_owned(), reader.parse(node, "a power")?))
    })?;
    if powers.is_empty() {
        reader.mistake(node.span, "expected at least one power setting, found none");
        return None;
    }
    Some(powers)
}

pub(super) fn harmonics(reader: &mut Reader, node: &Node) -> Option<Vec<(u32, Db)>> {
    read::named(reader, node, "the harmonics", |reader, name, node| {
        let Some(order) = name.parse().ok().filter(|order| (2..=HIGHEST_ORDER).contains(order)) else {
            reader.mistake(node.span, format!("expected an order from 2 to {HIGHEST_ORDER}, found `{name}`"));
            return None;
        };
        Some((order, reader.parse(node, "a ratio below the carrier")?))
    })
}
