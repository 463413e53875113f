//! How a unit's power goes with time, supply and load.

use spurline_document::{Fields, Node, Reader};
use spurline_units::{Db, Seconds, Volts};

use super::read;

/// What changes a unit's power beside its setting; by default nothing does.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct BehaviourTruth {
    /// Whether power goes with the square of the supply voltage.
    pub(crate) follows_supply: bool,
    /// The supply voltage at which it has its full power.
    pub(crate) nominal: Volts,
    /// The supply voltage from which on its power stays the same, if it does.
    pub(crate) regulated_above: Option<Volts>,
    /// Loss per minute of key-down on the unit's own battery.
    pub(crate) sags: Db,
    pub(crate) droop: Option<Droop>,
    pub(crate) steps_down: Option<StepDown>,
    /// Keyed time in all after which it is broken.
    pub(crate) dies_after: Option<Seconds>,
    /// Longest transmission: then it falls silent until the key is released.
    pub(crate) time_out: Option<Seconds>,
    /// Standing wave ratio of the load beyond which it protects itself.
    pub(crate) folds_back_beyond: Option<f64>,
}

/// Power that falls while the unit warms up.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Droop {
    pub(crate) by: Db,
    /// Time until all but 1 % of it is there.
    pub(crate) within: Seconds,
}

/// Power that falls at once, some time after key down.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct StepDown {
    pub(crate) by: Db,
    pub(crate) after: Seconds,
}

impl BehaviourTruth {
    /// The keys stand among those of the unit.
    pub(super) fn read(reader: &mut Reader, fields: &mut Fields<'_>) -> Option<Self> {
        let zero = Seconds::new(0.0);
        let follows_supply =
            fields.or(reader, "power_follows_supply", |r, n| r.flag(n, "`true` or `false`"), false);
        let nominal = fields.or(
            reader,
            "nominal",
            |r, n| read::above(r, n, "nominal", Volts::new(0.0)),
            Volts::new(7.4),
        );
        let regulated_above = regulated(reader, fields, follows_supply, nominal);
        let sags = fields.or(reader, "battery", battery, Db::new(0.0));
        let droop = fields.maybe(reader, "droop", Droop::read);
        let steps_down = fields.maybe(reader, "steps_down", StepDown::read);
        let dies_after = fields.maybe(reader, "dies_after", |r, n| read::above(r, n, "dies_after", zero));
        let time_out = fields.maybe(reader, "time_out", |r, n| read::above(r, n, "time_out", zero));
        let folds_back_beyond = fields.maybe(reader, "folds_back_beyond", read::ratio_of_waves);
        Some(Self {
            follows_supply: follows_supply?,
            nominal: nominal?,
            regulated_above: regulated_above?,
            sags: sags?,
            droop: droop?,
            steps_down: steps_down?,
            dies_after: dies_after?,
            time_out: time_out?,
            folds_back_beyond: folds_back_beyond?,
        })
    }
}

/// The voltage from which on power stays: a law of those whose power goes with the supply, and at most the nominal one.
fn regulated(
    reader: &mut Reader,
    fields: &mut Fields<'_>,
    follows_supply: Option<bool>,
    nominal: Option<Volts>,
) -> Option<Option<Volts>> {
    const KEY: &str = "regulated_above";
    let Some(node) = fields.optional(KEY) else { return Some(None) };
    let from = read::above(reader, node, KEY, Volts::new(0.0))?;
    if !follows_supply? {
        reader
            .mistake(node.span, format!("expected `power_follows_supply: true` beside `{KEY}`"))
            .hint("below that voltage power goes with its square");
        return None;
    }
    if from > nominal? {
        let message = format!("expected at most the nominal {}, found {from}", nominal?);
        reader.mistake(node.span, message).hint("at the nominal voltage the unit has its stated powers");
        return None;
    }
    Some(Some(from))
}

impl Droop {
    fn read(reader: &mut Reader, node: &Node) -> Option<Self> {
        let mut fields = reader.fields(node, "a droop")?;
        let by = read::required_from(reader, &mut fields, "by", Db::new(0.0));
        let within = read::required_above(reader, &mut fields, "within", Seconds::new(0.0));
        fields.close(reader);
        Some(Self { by: by?, within: within? })
    }
}

impl StepDown {
    fn read(reader: &mut Reader, node: &Node) -> Option<Self> {
        let mut fields = reader.fields(node, "a step of power")?;
        let by = fields.required(reader, "by").and_then(|node| reader.parse(node, "a ratio"));
        let after = read::required_from(reader, &mut fields, "after", Seconds::new(0.0));
        fields.close(reader);
        Some(Self { by: by?, after: after? })
    }
}

fn battery(reader: &mut Reader, node: &Node) -> Option<Db> {
    let mut fields = reader.fields(node, "a battery")?;
    let sags = read::required_from(reader, &mut fields, "sags", Db::new(0.0));
    fields.close(reader);
    sags
}
