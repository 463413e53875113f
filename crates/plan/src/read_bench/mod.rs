//! A bench's text to a bench.

mod arming;
mod generator;
mod key;
mod line;
mod path_digest;
mod paths;
mod shelf;
mod switches;

use spurline_document::{Document, Node, Reader};
use spurline_profile::Kind;
use spurline_record::{Role, SourceText};
use spurline_units::{Dbm, Seconds};

use crate::bench::{AnalyserInput, Bench, InstrumentAt};
use crate::library::Library;
use crate::telltale::is_of_kind;
use crate::way::Branch;
pub(crate) use shelf::{Shelf, found};

/// Reads a bench and everything it names; the texts that were read on the way go into `texts`.
pub(crate) fn read(
    reader: &mut Reader,
    document: &Document,
    library: &dyn Library,
    texts: &mut Vec<SourceText>,
) -> Option<Bench> {
    is_of_kind(reader, document, "bench")?;
    let mut shelf = Shelf::new(library, document.source.name(), texts);
    let mut fields = reader.fields(&document.root, "a bench")?;
    let title = fields.required(reader, "bench");
    let unit_control = fields.required(reader, "unit_control");
    let nodes = [
        (Role::Analyser, fields.required(reader, "analyser")),
        (Role::PowerMeter, fields.optional("power_meter")),
        (Role::Supply, fields.optional("supply")),
        (Role::UnitControl, unit_control.filter(|node| node.scalar() != Some(OPERATOR))),
        (Role::AudioGenerator, fields.optional("audio_generator")),
    ];
    let key = fields.required(reader, "key");
    let relays = fields.optional("relays");
    let common_key = fields.required(reader, "common");
    let branches_key = fields.required(reader, "branches");
    let paths = fields.optional("paths");
    let input = fields.optional("analyser_input");
    let within = fields.or(reader, "reconnect_within", read_patience, Seconds::new(RECONNECT_WITHIN));
    let generator = fields.optional("generator");
    let lasts = fields.or(reader, "proof_lasts", generator::read_days, generator::PROOF_LASTS);
    let verify = fields.maybe(reader, "verify_path", |r, n| r.flag(n, "whether the path is verified"));
    let into_load =
        fields.or(reader, "silence_into_load", |reader, node| reader.flag(node, "`true` or `false`"), false);
    let battery = fields.or(reader, "battery", arming::read_battery, false);
    let armed = fields.or(reader, "armed", |reader, node| reader.flag(node, "`true` or `false`"), false);
    let simulated = fields.optional("simulated");
    fields.close(reader);
    let title = title.and_then(|node| reader.text(node, "the bench's title"));
    let mut instruments: Vec<Option<InstrumentAt>> = nodes
        .into_iter()
        .filter_map(|(role, node)| node.map(|node| shelf.instrument(reader, role, node)))
        .collect();
    let key = key.and_then(|node| key::read(reader, node, &mut shelf, &mut instruments));
    let switches = relays.map_or(Some(switches::Switches::default()), |node| {
        switches::read(reader, node, &mut shelf, &mut instruments)
    });
    let generator = generator.map(|node| generator::read(reader, node, &mut shelf, &mut instruments));
    let common = common_key.and_then(|node| shelf.parts(reader, node));
    let branches = branches_key.and_then(|node| paths::branches(reader, node, &mut shelf));
    let ways = match (&common, &branches, &switches) {
        (Some(common), Some(branches), Some(switches)) => {
            paths::ways(reader, (paths, relays.map(|node| node.span)), common, branches, switches, &mut shelf)
        }
        _ => None,
    };
    let meter = branches.as_ref().map(|branches| paths::meter(reader, nodes[1].1, branches));
    let damage = instruments.iter().flatten().find_map(|instrument| match &instrument.profile.kind {
        Kind::Analyser(profile) => Some(profile.limits.damage),
        Kind::PowerMeter(_)
        | Kind::Supply(_)
        | Kind::Relay(_)
        | Kind::Unit(_)
        | Kind::Generator(_)
        | Kind::AudioGenerator(_) => None,
    });
    let stated = input.map(|node| read_input(reader, node, damage));
    let instruments: Vec<InstrumentAt> = instruments.into_iter().collect::<Option<_>>()?;
    let said = [common_key, branches_key, paths, relays, input];
    let path_digest = path_digest::of(said, texts);
    let (common, damage) = (common?, damage?);
    Some(Bench {
        title: title?.to_owned(),
        document: document.clone(),
        instruments,
        key: key?,
        common: common.len(),
        ways: ways?,
        meter: meter??.map(|own| Branch::new(common.into_iter().chain(own))),
        input: stated.unwrap_or(Some(AnalyserInput { damage, span: None }))?,
        reconnect_within: within?,
        generator: generator.map_or(Some(None), |read| read.map(Some))?,
        verify_path: verify?,
        proof_lasts: lasts?,
        silence_into_load: into_load?,
        battery_removed: battery?,
        armed: armed?,
        path_digest,
        simulated: simulated.cloned(),
    })
}

/// Written for a unit without a control port.
const OPERATOR: &str = "operator";

/// An instrument that was switched off and on takes a minute to start.
const RECONNECT_WITHIN: f64 = 120.0;
const LONGEST_PATIENCE: f64 = 86_400.0;

fn read_patience(reader: &mut Reader, node: &Node) -> Option<Seconds> {
    let span: Seconds = reader.parse(node, "a time")?;
    if !(0.0..=LONGEST_PATIENCE).contains(&span.get()) {
        let most = Seconds::new(LONGEST_PATIENCE);
        let message = format!("expected a time from 0 s to {most}, found {span}");
        reader.mistake(node.span, message);
        return None;
    }
    Some(span)
}

fn read_input(reader: &mut Reader, node: &Node, profile: Option<Dbm>) -> Option<AnalyserInput> {
    let mut fields = reader.fields(node, "the analyser's input")?;
    let damage = fields.required(reader, "damage");
    fields.close(reader);
    let node = damage?;
    let damage: Dbm = reader.parse(node, "a level in dBm")?;
    if let Some(most) = profile.filter(|most| damage > *most) {
        reader
            .mistake(node.span, format!("expected at most the {most} of the analyser's profile, found {damage}"))
            .hint("a bench can only make the input more delicate: a limiter, a preamplifier. Correct the profile otherwise");
        return None;
    }
    Some(AnalyserInput { damage, span: Some(node.span) })
}
