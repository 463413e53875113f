//! The truth of what stands beside the analyser: power meter, supply, relay.

use spurline_document::{Fields, Node, Reader};
use spurline_units::{Amperes, Db, Hertz, Ohms, Range, Seconds, Volts, Watts};

use super::{Identity, LinkTruth, Stated, read};

/// A power meter that shows the mean power of everything at its sensor.
#[derive(Clone, Debug)]
pub(crate) struct PowerMeterTruth {
    pub(crate) identity: Identity,
    pub(crate) range: Range<Hertz>,
    /// Standard deviation of one reading that is not averaged.
    pub(crate) noise: Watts,
    /// Standard deviation of what a zeroing leaves.
    pub(crate) zero: Watts,
    /// Standard deviation of what the zero has moved by in an hour.
    pub(crate) zero_drift: Watts,
    /// The error of all levels, if it is not to be drawn.
    pub(crate) level_error: Option<Db>,
    /// What the error of all levels is drawn from.
    pub(crate) level: Stated,
    /// What the error of its calibration factor is drawn from at any frequency.
    pub(crate) calibration_factor: Stated,
    /// What the error of its scale is drawn from at any level, if it has one.
    pub(crate) linearity: Option<Stated>,
    /// How much less the sensor shows per gigahertz; made good once the meter is told the frequency.
    pub(crate) slope: Db,
    pub(crate) vswr: f64,
    /// Time until a step in power has settled to within 1 %.
    pub(crate) settling: Seconds,
    pub(crate) link: LinkTruth,
}

/// A bench supply.
#[derive(Clone, Debug)]
pub(crate) struct SupplyTruth {
    pub(crate) identity: Identity,
    pub(crate) highest_voltage: Volts,
    pub(crate) highest_current: Amperes,
    /// Of both wires to the unit together.
    pub(crate) cable: Ohms,
    /// Whether it holds the voltage at the unit, and not at its own output.
    pub(crate) senses_unit: bool,
    pub(crate) link: LinkTruth,
}

/// A relay card, for the key or for the path.
#[derive(Clone, Debug)]
pub(crate) struct RelayTruth {
    pub(crate) identity: Identity,
    /// Channels are counted from 1.
    pub(crate) channels: u32,
    pub(crate) link: LinkTruth,
}

impl PowerMeterTruth {
    pub(super) fn read(reader: &mut Reader, node: &Node) -> Option<Self> {
        let mut fields = reader.fields(node, "a power meter")?;
        let f = &mut fields;
        let identity = identity(reader, f, Identity::invented("Power meter", "P-0001"));
        let range = Range::new(Hertz::new(9e3), Hertz::new(6e9)).expect("9 kHz is below 6 GHz");
        let range = f.or(reader, "range", |r, n| r.parse(n, "a range"), range);
        let noise = read::quantity(reader, f, "noise", Watts::new(50e-9));
        let zero = read::quantity(reader, f, "zero", Watts::new(10e-9));
        let level_error = f.maybe(reader, "level_error", |r, n| r.parse(n, "a ratio"));
        let zero_drift = read::quantity(reader, f, "zero_drift", Watts::new(0.0));
        let level = level(reader, f);
        let calibration_factor =
            f.or(reader, "calibration_factor", Stated::read, Stated::normal(Db::new(0.0)));
        let linearity = f.maybe(reader, "linearity", Stated::read);
        let slope = read::quantity(reader, f, "slope", Db::new(0.3));
        let vswr = read::vswr(reader, f, "vswr", 1.1);
        let settling = read::quantity(reader, f, "settling", Seconds::new(0.05));
        let link = f.or(reader, "link", LinkTruth::read, LinkTruth::default());
        fields.close(reader);
        Some(Self {
            identity: identity?,
            range: range?,
            noise: noise?,
            zero: zero?,
            level_error: level_error?,
            zero_drift: zero_drift?,
            level: level?,
            calibration_factor: calibration_factor?,
            linearity: linearity?,
            slope: slope?,
            vswr: vswr?,
            settling: settling?,
            link: link?,
        })
    }
}

impl SupplyTruth {
    pub(super) fn read(reader: &mut Reader, node: &Node) -> Option<Self> {
        let mut fields = reader.fields(node, "a supply")?;
        let identity = identity(reader, &mut fields, Identity::invented("Supply", "S-0001"));
        let highest_voltage =
            read::at_least(reader, &mut fields, "highest_voltage", Volts::new(0.0), Volts::new(30.0));
        let highest_current =
            read::at_least(reader, &mut fields, "highest_current", Amperes::new(0.0), Amperes::new(5.0));
        let cable = read::quantity(reader, &mut fields, "cable", Ohms::new(0.0));
        let places = [("output", false), ("unit", true)];
        let senses_unit =
            fields.or(reader, "senses", |r, n| r.choice(n, "where the voltage is sensed", &places), false);
        let link = fields.or(reader, "link", LinkTruth::read, LinkTruth::default());
        fields.close(reader);
        Some(Self {
            identity: identity?,
            highest_voltage: highest_voltage?,
            highest_current: highest_current?,
            cable: cable?,
            senses_unit: senses_unit?,
            link: link?,
        })
    }
}

impl RelayTruth {
    pub(super) fn read(reader: &mut Reader, node: &Node, serial: &str) -> Option<Self> {
        let mut fields = reader.fields(node, "a relay")?;
        let identity = identity(reader, &mut fields, Identity::invented("Relay", serial));
        let channels = fields.or(reader, "channels", |r, n| r.whole(n, "channels", 1, 64), 8);
        let link = fields.or(reader, "link", LinkTruth::read, LinkTruth::default());
        fields.close(reader);
        Some(Self { identity: identity?, channels: channels?, link: link? })
    }
}

/// The error of all levels: as a data sheet states it, or by its standard deviation.
fn level(reader: &mut Reader, fields: &mut Fields<'_>) -> Option<Stated> {
    let stated = fields.maybe(reader, "level", Stated::read);
    let spread = fields.maybe(reader, "level_spread", |r, n| r.parse(n, "level_spread"));
    match (stated?, spread?) {
        (Some(_), Some(_)) => {
            reader
                .mistake(fields.span(), "expected one of the keys `level` and `level_spread`, found both")
                .hint("leave one of them out");
            None
        }
        (Some(stated), None) => Some(stated),
        (None, spread) => Some(Stated::normal(spread.unwrap_or(Db::new(0.05)))),
    }
}

fn identity(reader: &mut Reader, fields: &mut Fields<'_>, default: Identity) -> Option<Identity> {
    match fields.optional("identity") {
        Some(node) => Identity::read(reader, node, default),
        None => Some(default),
    }
}
