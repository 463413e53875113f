//! A plan's text to a plan.

mod ceiling;
mod decision;
mod issue;
mod modulation;
mod modulation_facts;
mod over_time;
mod search;
mod set_up;
mod silence;
mod spectrum;
mod standby;
mod supply_series;

use std::fmt::Display;
use std::str::FromStr;

use spurline_document::{Document, Fields, Node, Reader, Span};
use spurline_record::Issue;
use spurline_units::{Amperes, Hertz, Power, QuantityError, Range, Seconds, Volts, Vswr};

use crate::authorised;
use crate::glimpse::GLIMPSE_LONGEST;
use crate::measure::Spectrum;
use crate::model::{
    Channel, ExpiredCalibration, Extent, Key, Measure, Modulation, OutsideWindow, Plan, PowerSetting,
    SupplySetting, Unit, WayNames,
};
use crate::never_keyed::never_keyed;
use crate::read_bench::Shelf;

pub use issue::issue_of;

/// The orders that 47 CFR 2.1057 asks for: to the tenth harmonic.
const ORDERS: u32 = 10;
const MOST_ORDERS: u32 = 40;
/// The carrier itself is the first order.
const NO_HARMONICS: u32 = 1;
/// A 5 W handheld is rated for a few per cent of transmitting.
const LONGEST: f64 = 20.0;
const REST: f64 = 60.0;
const MOST_IN_5_MIN: f64 = 60.0;
/// A person who was told to key has to reach for the unit first.
const COMES_WITHIN: f64 = 60.0;
/// Somebody who is told to key has done so by then (common practice).
const COMES_WITHIN_LEAST: Seconds = Seconds::new(3.0);
/// Magnitudes of reflection where the plan says nothing: a fair match at the carrier; away from it a
/// transmitter's filter reflects, and 0.7 is what conducted-spurious budgets after ETSI TR 100 028 assign to it.
const REFLECTION: f64 = 0.33;
const REFLECTION_OFF_CARRIER: f64 = 0.7;

/// A plan and the nodes of it that only make sense beside a bench.
pub(crate) struct PlanFile<'d> {
    pub(crate) plan: Plan,
    pub(crate) rule: &'d Node,
    pub(crate) supply: Option<&'d Node>,
}

pub(crate) fn read<'d>(
    reader: &mut Reader,
    document: &'d Document,
    shelf: &mut Shelf<'_>,
) -> Option<PlanFile<'d>> {
    let mut fields = reader.fields(&document.root, "a plan")?;
    let title = fields.required(reader, "plan");
    fields.optional("bench");
    let rule_node = fields.required(reader, "rule");
    let decision = fields.optional("decision");
    let unit = fields.required(reader, "unit");
    fields.optional("facts");
    let supply_node = fields.optional("supply");
    let channels = fields.required(reader, "channels");
    let measure = fields.optional("measure");
    let key = fields.optional("key");
    let modulation = fields.optional("modulation");
    let adapter =
        fields.maybe(reader, "adapter", |reader, node| Some((shelf.part(reader, node)?, node.span)));
    let expired = fields.or(reader, "expired_calibration", read_expired, ExpiredCalibration::default());
    let outside = fields.or(reader, "outside_window", read_outside, OutsideWindow::default());
    let ways = fields.or(reader, "use", read_ways, WayNames::default());
    let silence = fields.maybe(reader, "silent_at", |reader, node| silence::read(reader, node, shelf));
    let supply_series = fields.maybe(reader, "supply_series", supply_series::read);
    let issue = fields.or(reader, "report", issue::read, Issue::default());
    let authorised = fields.or(reader, "authorised", authorised::read, Vec::new());
    fields.close(reader);
    let ways = ways.map(|ways| WayNames { place: ways.place.or(title.map(|node| node.span)), ..ways });
    let title = title.and_then(|node| reader.text(node, "the plan's title"));
    let rule = rule_node.and_then(|node| reader.text(node, "the name of a rule"));
    let decision = decision.map_or(Some(decision::DEFAULT), |node| decision::read(reader, node));
    let unit = unit.and_then(|node| read_unit(reader, node));
    let supplies = supply_node.map_or(Some(Vec::new()), |node| read_supplies(reader, node));
    if let (Some(supplies), Some(node)) = (&supplies, channels) {
        check_supplies(reader, node, supplies);
    }
    let channels = channels.and_then(|node| read_channels(reader, node));
    if let (Some(bands), Some(channels)) = (&authorised, &channels) {
        authorised::check(reader, bands, channels);
    }
    let measure_node = measure;
    let measure = measure.map_or_else(|| Some(default_measure()), |node| read_measure(reader, node, shelf));
    let key = key.map_or(Some(default_key()), |node| read_key(reader, node));
    let modulation_node = modulation;
    let modulation = modulation.map_or(Some((Modulation::None, None)), |node| modulation::read(reader, node));
    let (modulation, set_up) = modulation?;
    if let (Some(node), Some(facts)) = (measure_node, measure.as_ref().and_then(|measure| measure.modulation))
    {
        modulation_facts::fits(reader, node, &facts, &modulation)?;
    }
    if let (Some(node), Modulation::Burst { .. }, Some(measure)) = (modulation_node, modulation, &measure)
        && let Some((message, hint)) = not_of_bursts(measure, silence.as_ref().is_some_and(Option::is_some))
    {
        reader.mistake(node.span, message).hint(hint);
    }
    let decision = decision?;
    let plan = Plan {
        title: title?.to_owned(),
        rule: rule?.to_owned(),
        decision: decision.rule,
        guard_factor: decision.guard_factor,
        largest_uncertainty: decision.largest_uncertainty,
        unit: unit?,
        supplies: supplies?,
        channels: channels?,
        measure: measure?,
        key: key?,
        modulation,
        set_up,
        adapter: adapter?,
        ways: ways?,
        expired_calibration: expired?,
        outside_window: outside?,
        silence: silence?,
        supply_series: supply_series?,
        authorised: authorised?,
        issue: issue?,
    };
    Some(PlanFile { plan, rule: rule_node?, supply: supply_node })
}

fn read_expired(reader: &mut Reader, node: &Node) -> Option<ExpiredCalibration> {
    let words = [("warn", ExpiredCalibration::Warn), ("refuse", ExpiredCalibration::Refuse)];
    reader.choice(node, "what an expired calibration leads to", &words)
}

fn read_outside(reader: &mut Reader, node: &Node) -> Option<OutsideWindow> {
    let words = [("exceeds", OutsideWindow::Exceeds), ("invalid", OutsideWindow::Invalid)];
    reader.choice(node, "what a power outside its window comes to", &words)
}

fn read_unit(reader: &mut Reader, node: &Node) -> Option<Unit> {
    let mut fields = reader.fields(node, "the unit")?;
    let model = fields.required(reader, "model");
    let rated_power =
        fields.maybe(reader, "rated_power", |reader, node| reader.parse::<Power>(node, "a power"));
    let vswr = fields.optional("vswr");
    let off_carrier = fields.optional("vswr_off_carrier");
    fields.close(reader);
    let model = model.and_then(|node| reader.text(node, "the unit's model"));
    let mut reflection = |node: Option<&Node>, key: &str, default: f64| match node {
        None => Some((default, format!("assumed, a reflection of {default}: the plan has no unit.{key}"))),
        Some(node) => {
            let vswr: Vswr = reader.parse(node, "a standing wave ratio")?;
            Some((vswr.reflection(), format!("{}: unit.{key}", reader.source().name())))
        }
    };
    let at_carrier = reflection(vswr, "vswr", REFLECTION);
    let off_carrier = reflection(off_carrier, "vswr_off_carrier", REFLECTION_OFF_CARRIER);
    Some(Unit {
        model: model?.to_owned(),
        rated_power: rated_power?.map(Power::watts),
        reflection: at_carrier?,
        reflection_off_carrier: off_carrier?,
    })
}

fn read_supplies(reader: &mut Reader, node: &Node) -> Option<Vec<SupplySetting>> {
    let items = reader.list(node, "the supplies")?;
    let read: Vec<_> = items.iter().map(|item| read_supply(reader, item)).collect();
    let supplies: Vec<SupplySetting> = read.into_iter().collect::<Option<_>>()?;
    no_doubles(reader, "supplies", supplies.iter().map(|supply| supply.name.as_str()).zip(items));
    Some(supplies)
}

/// Readings are told apart by names: the same one twice is a mistake.
fn no_doubles<'a>(reader: &mut Reader, what: &str, named: impl Iterator<Item = (&'a str, &'a Node)>) {
    let mut known: Vec<&str> = Vec::new();
    for (name, node) in named {
        if known.contains(&name) {
            reader
                .mistake(node.span, format!("two {what} have the name `{name}`"))
                .hint("readings are told apart by it: give each a name of its own");
        }
        known.push(name);
    }
}

/// Notes that the values of two keys stand in each other's place, if each reads as what the other should be.
fn swapped<A: FromStr, B: FromStr>(
    reader: &mut Reader,
    (one, first): (&str, Option<&Node>),
    (other, second): (&str, Option<&Node>),
) -> Option<()> {
    let (here, there) = (first?.scalar()?, second?.scalar()?);
    let right = here.parse::<A>().is_ok() && there.parse::<B>().is_ok();
    if right || here.parse::<B>().is_err() || there.parse::<A>().is_err() {
        return None;
    }
    reader
        .mistake(first?.span, format!("the values of `{one}` and `{other}` stand in each other's place"))
        .hint(format!("write `{one}: {there}, {other}: {here}`"));
    Some(())
}

/// A quantity that must be more than nothing.
pub(crate) fn above_zero<T>(reader: &mut Reader, node: &Node, what: &str, zero: T) -> Option<T>
where
    T: FromStr<Err = QuantityError> + PartialOrd + Display,
{
    let value: T = reader.parse(node, what)?;
    if value > zero {
        return Some(value);
    }
    reader
        .mistake(node.span, format!("expected {what} above zero, found {value}"))
        .hint("is a sign or a digit missing?");
    None
}

fn read_ways(reader: &mut Reader, node: &Node) -> Option<WayNames> {
    let mut fields = reader.fields(node, "the paths that are used")?;
    let mut name = |reader: &mut Reader, key| {
        fields.maybe(reader, key, |reader, node| {
            Some((reader.text(node, "the name of a path")?.to_owned(), node.span))
        })
    };
    let (carrier, harmonics) = (name(reader, "carrier"), name(reader, "harmonics"));
    let leaks = name(reader, "leaks");
    fields.close(reader);
    let place: Option<Span> = Some(node.span);
    Some(WayNames { carrier: carrier?, harmonics: harmonics?, leaks: leaks?, place })
}

fn read_supply(reader: &mut Reader, node: &Node) -> Option<SupplySetting> {
    let mut fields = reader.fields(node, "a supply")?;
    let name = fields.required(reader, "name");
    let set = fields.required(reader, "set");
    let limit = fields.required(reader, "limit");
    let words = [(Extent::Everything.word(), Extent::Everything), (Extent::Carrier.word(), Extent::Carrier)];
    let extent = fields.or(
        reader,
        "measure",
        |reader, node| reader.choice(node, "what is measured with this supply", &words),
        Extent::default(),
    );
    fields.close(reader);
    if swapped::<Volts, Amperes>(reader, ("set", set), ("limit", limit)).is_some() {
        return None;
    }
    let name = name.and_then(|node| reader.text(node, "the supply's name"));
    let set = set.and_then(|node| above_zero(reader, node, "a voltage", Volts::new(0.0)));
    let limit = limit.and_then(|node| above_zero(reader, node, "a current", Amperes::new(0.0)));
    Some(SupplySetting { name: name?.to_owned(), set: set?, limit: limit?, extent: extent? })
}

fn read_channels(reader: &mut Reader, node: &Node) -> Option<Vec<Channel>> {
    let items = reader.list(node, "the channels")?;
    if items.is_empty() {
        reader
            .mistake(node.span, "expected at least one channel, found an empty list")
            .hint("write `- { name: …, carrier: 145.5 MHz, power: { high: 4..6 W } }`");
        return None;
    }
    let read: Vec<_> = items.iter().map(|item| read_channel(reader, item)).collect();
    let channels: Vec<Channel> = read.into_iter().collect::<Option<_>>()?;
    no_doubles(reader, "channels", channels.iter().map(|channel| channel.name.as_str()).zip(items));
    Some(channels)
}

fn read_channel(reader: &mut Reader, node: &Node) -> Option<Channel> {
    let mut fields = reader.fields(node, "a channel")?;
    let name = fields.required(reader, "name");
    let carrier_node = fields.required(reader, "carrier");
    let powers = fields.required(reader, "power");
    let supplies = fields.or(reader, "supplies", read_names, Vec::new());
    fields.close(reader);
    if carrier_as_name(reader, name, carrier_node).is_some() {
        return None;
    }
    let name = name.and_then(|node| reader.text(node, "the channel's name"));
    let carrier = carrier_node.and_then(|node| {
        let carrier: Hertz = reader.parse(node, "the carrier's frequency")?;
        refuse_distress(reader, node, carrier)?;
        Some(carrier)
    });
    let powers = powers.and_then(|node| read_powers(reader, node));
    Some(Channel {
        name: name?.to_owned(),
        carrier: carrier?,
        carrier_span: carrier_node?.span,
        powers: powers?,
        supplies: supplies?.into_iter().map(|(name, _)| name).collect(),
    })
}

/// The names of supplies, each with its place.
fn read_names(reader: &mut Reader, node: &Node) -> Option<Vec<(String, Span)>> {
    let items = reader.list(node, "the names of supplies")?;
    let name = |reader: &mut Reader, item: &Node| {
        Some((reader.text(item, "the name of a supply")?.to_owned(), item.span))
    };
    items.iter().map(|item| name(reader, item)).collect()
}

/// A channel can only be measured with supplies that the plan has.
fn check_supplies(reader: &mut Reader, channels: &Node, supplies: &[SupplySetting]) {
    let named = channels.items().iter().filter_map(|channel| channel.get("supplies"));
    for name in named.flat_map(Node::items) {
        let Some(text) = name.scalar().filter(|text| !supplies.iter().any(|supply| supply.name == *text))
        else {
            continue;
        };
        let known: Vec<&str> = supplies.iter().map(|supply| supply.name.as_str()).collect();
        let hint = match known.as_slice() {
            [] => "the plan has no `supply:`: take `supplies` out of the channel".to_owned(),
            known => format!("supplies of this plan: {}", known.join(", ")),
        };
        reader.mistake(name.span, format!("no supply of this plan is called `{text}`")).hint(hint);
    }
}

/// A name that reads as a frequency beside a carrier that does not.
fn carrier_as_name(reader: &mut Reader, name: Option<&Node>, carrier: Option<&Node>) -> Option<()> {
    let (name_text, carrier_text) = (name?.scalar()?, carrier?.scalar()?);
    let starts_as_number = carrier_text.starts_with(|c: char| c.is_ascii_digit());
    if name_text.parse::<Hertz>().is_err() || starts_as_number {
        return None;
    }
    reader
        .mistake(name?.span, "the values of `name` and `carrier` stand in each other's place")
        .hint(format!("write `name: {carrier_text}, carrier: {name_text}`"));
    Some(())
}

fn refuse_distress(reader: &mut Reader, node: &Node, carrier: Hertz) -> Option<()> {
    if never_keyed(carrier).is_some() {
        reader
            .mistake(node.span, format!("{carrier} is kept for distress and safety and is never keyed"))
            .hint("choose another channel: a signal leaks even from a load");
        return None;
    }
    if carrier.get() < 9e3 {
        reader
            .mistake(node.span, format!("expected a carrier from 9 kHz up, found {carrier}"))
            .hint("radio regulations begin at 9 kHz: is the prefix of the unit right?");
        return None;
    }
    Some(())
}

fn read_powers(reader: &mut Reader, node: &Node) -> Option<Vec<PowerSetting>> {
    let fields: Fields<'_> = reader.fields(node, "the power settings")?;
    let mut settings = Vec::new();
    for entry in fields.entries() {
        let window: Option<Range<Power>> = reader.parse(&entry.node, "a window of power");
        if !is_word(&entry.key) {
            reader
                .mistake(entry.key_span, format!("`{}` cannot be the name of a power setting", entry.key))
                .hint("use letters, digits, `-` and `_`: the name is sent to the unit");
        }
        settings.push(window.map(|window| PowerSetting { name: entry.key.clone(), window }));
    }
    if settings.is_empty() {
        reader
            .mistake(node.span, "expected at least one power setting, found none")
            .hint("write a name that the unit knows and a window, for example `high: 4..6 W`");
        return None;
    }
    settings.into_iter().collect()
}

fn is_word(text: &str) -> bool {
    !text.is_empty() && text.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'_' || b == b'-')
}

/// What cannot be measured of a carrier that comes and goes, and what to do instead.
fn not_of_bursts(measure: &Measure, silence: bool) -> Option<(&'static str, &'static str)> {
    if !measure.spectrum.is_empty() {
        return Some((
            "the carrier's own spectrum is not measured of bursts",
            "measure widths, masks and channels in a plan with a tone: a sweep cannot tell a burst's edges from a width",
        ));
    }
    if measure.over_time.is_some() {
        return Some((
            "the power of bursts is not followed over time",
            "follow it in a plan with a steady carrier: one reading of a meter holds no whole number of bursts",
        ));
    }
    silence.then_some((
        "silence is not shown of bursts",
        "look for silence in a plan with a steady carrier: a sweep may pass over a burst",
    ))
}

fn read_measure(reader: &mut Reader, node: &Node, shelf: &mut Shelf<'_>) -> Option<Measure> {
    let mut fields = reader.fields(node, "what is measured")?;
    let harmonics_up_to = fields.or(reader, "harmonics", read_harmonics, NO_HARMONICS);
    let spectrum = spectrum::read(reader, &mut fields);
    let modulation = fields.maybe(reader, "modulation", modulation_facts::read);
    let search = fields.maybe(reader, "search", search::read);
    let standby = fields.maybe(reader, "standby", |reader, node| standby::read(reader, node, shelf));
    let over_time = fields.maybe(reader, "power_over_time", over_time::read);
    fields.close(reader);
    Some(Measure {
        harmonics_up_to: harmonics_up_to?,
        spectrum: spectrum?,
        modulation: modulation?,
        search: search?,
        standby: standby?,
        over_time: over_time?,
    })
}

fn read_harmonics(reader: &mut Reader, node: &Node) -> Option<u32> {
    let mut fields = reader.fields(node, "the harmonics")?;
    let up_to = fields.optional("up_to");
    fields.close(reader);
    up_to.map_or(Some(ORDERS), |node| reader.whole(node, "the highest order", 2, MOST_ORDERS))
}

fn default_measure() -> Measure {
    Measure {
        harmonics_up_to: ORDERS,
        spectrum: Spectrum::default(),
        modulation: None,
        search: None,
        standby: None,
        over_time: None,
    }
}

fn default_key() -> Key {
    let longest = Seconds::new(LONGEST);
    Key {
        longest,
        rest: Seconds::new(REST),
        most_in_5_min: most_in_5_min(longest),
        own_timer: None,
        comes_within: Seconds::new(COMES_WITHIN),
        span: None,
    }
}

fn read_key(reader: &mut Reader, node: &Node) -> Option<Key> {
    let mut fields = reader.fields(node, "the key")?;
    let longest_node = fields.optional("longest");
    let rest = fields.optional("rest");
    let own_timer_node = fields.optional("own_timer");
    let own_timer = own_timer_node
        .map_or(Some(None), |node| above_zero(reader, node, "a time", Seconds::new(0.0)).map(Some));
    let most = fields.optional("most_in_5_min");
    let comes_within = fields.or(reader, "comes_within", read_comes_within, Seconds::new(COMES_WITHIN));
    fields.close(reader);
    let default = default_key();
    let longest = longest_node
        .map_or(Some(default.longest), |node| above_zero(reader, node, "a time", Seconds::new(0.0)));
    let rest = rest.map_or(Some(default.rest), |node| reader.parse(node, "a time"));
    let longest = longest?;
    let most = match most {
        None => most_in_5_min(longest),
        Some(node) => {
            let most: Seconds = above_zero(reader, node, "a time", Seconds::new(0.0))?;
            if most < longest {
                reader
                    .mistake(
                        node.span,
                        format!("expected at least the longest key-down, {longest}, found {most}"),
                    )
                    .hint("one key-down alone would be more than that: shorten `longest`, or allow more");
                return None;
            }
            most
        }
    };
    if let (Some(own), Some(node)) = (own_timer?, own_timer_node)
        && own < longest
    {
        reader
            .mistake(
                node.span,
                format!("expected a time of at least the longest key-down, {longest}, found {own}"),
            )
            .hint("the unit would fall silent while it is measured: shorten `longest`, or set its timer to more");
        return None;
    }
    Some(Key {
        longest,
        rest: rest?,
        most_in_5_min: most,
        own_timer: own_timer?,
        comes_within: comes_within?,
        span: Some(longest_node.unwrap_or(node).span),
    })
}

fn read_comes_within(reader: &mut Reader, node: &Node) -> Option<Seconds> {
    let within: Seconds = reader.parse(node, "a time")?;
    if within >= COMES_WITHIN_LEAST {
        return Some(within);
    }
    reader
        .mistake(node.span, format!("expected a time of at least {COMES_WITHIN_LEAST}, found {within}"))
        .hint("whoever is told to key needs so long to do it, and would key when nobody looks any more");
    None
}

/// A 5 W handheld is rated for about a minute in five; where one key-down may be longer than that, for it and the glimpse
/// before it, which would else cost minutes of rest.
fn most_in_5_min(longest: Seconds) -> Seconds {
    (longest + GLIMPSE_LONGEST).max(Seconds::new(MOST_IN_5_MIN))
}
