//! A bench's text to a bench.

use spurline_document::{Document, Fields, Node, Reader, Span};
use spurline_path::Part;
use spurline_profile::{Kind, Profile};
use spurline_record::{Role, SourceText, TextRole};
use spurline_units::Seconds;

use crate::bench::{AnalyserInput, Bench, Branch, InstrumentAt, RelayKeyLine};
use crate::library::{Library, NotFound, Text};

/// Reads a bench and everything it names; the texts that were read on the way go into `texts`.
pub(crate) fn read(
    reader: &mut Reader,
    document: &Document,
    library: &dyn Library,
    texts: &mut Vec<SourceText>,
) -> Option<Bench> {
    let mut shelf = Shelf { library, beside: document.source.name().to_owned(), texts };
    let mut fields = reader.fields(&document.root, "a bench")?;
    let title = fields.required(reader, "bench");
    let nodes = [
        (Role::Analyser, fields.required(reader, "analyser")),
        (Role::PowerMeter, fields.required(reader, "power_meter")),
        (Role::Supply, fields.optional("supply")),
        (Role::UnitControl, fields.required(reader, "unit_control")),
    ];
    let key = fields.required(reader, "key");
    let common = fields.required(reader, "common");
    let branches = fields.required(reader, "branches");
    let input = fields.optional("analyser_input");
    let simulated = fields.optional("simulated");
    fields.close(reader);
    let title = title.and_then(|node| reader.text(node, "the bench's title"));
    let mut instruments: Vec<Option<InstrumentAt>> = nodes
        .into_iter()
        .filter_map(|(role, node)| node.map(|node| shelf.instrument(reader, role, node)))
        .collect();
    let key = key.and_then(|node| read_key(reader, node, &mut shelf, &mut instruments));
    let common = common.and_then(|node| shelf.parts(reader, node));
    let branches = branches.and_then(|node| shelf.branches(reader, node));
    let stated = input.map(|node| read_input(reader, node));
    let instruments: Vec<InstrumentAt> = instruments.into_iter().collect::<Option<_>>()?;
    let (common, (analyser, meter)) = (common?, branches?);
    let damage = instruments.iter().find_map(|instrument| match &instrument.profile.kind {
        Kind::Analyser(profile) => Some(profile.limits.damage),
        Kind::PowerMeter(_) | Kind::Supply(_) | Kind::Relay(_) | Kind::Unit(_) => None,
    })?;
    Some(Bench {
        title: title?.to_owned(),
        document: document.clone(),
        instruments,
        key: key?,
        analyser: Branch::new(&common, analyser),
        meter: Some(Branch::new(&common, meter)),
        input: stated.unwrap_or(Some(AnalyserInput { damage, span: None }))?,
        simulated: simulated.cloned(),
    })
}

/// Where a bench's files come from, and which of them were read.
struct Shelf<'a> {
    library: &'a dyn Library,
    beside: String,
    texts: &'a mut Vec<SourceText>,
}

impl Shelf<'_> {
    fn keep(&mut self, role: TextRole, name: &str, text: &str) {
        if !self.texts.iter().any(|known| known.name == name) {
            self.texts.push(SourceText { role, name: name.to_owned(), text: text.to_owned() });
        }
    }

    fn instrument(&mut self, reader: &mut Reader, role: Role, node: &Node) -> Option<InstrumentAt> {
        let mut fields = reader.fields(node, "an instrument")?;
        let instrument = self.instrument_in(reader, role, &mut fields);
        fields.close(reader);
        instrument
    }

    fn instrument_in(
        &mut self,
        reader: &mut Reader,
        role: Role,
        fields: &mut Fields<'_>,
    ) -> Option<InstrumentAt> {
        let at = fields.required(reader, "at");
        let profile = fields.required(reader, "profile");
        let serial = fields.maybe(reader, "serial", |reader, node| reader.text(node, "a serial number"));
        let address = at.and_then(|node| reader.text(node, "an instrument's address"));
        let profile = profile.and_then(|node| self.profile(reader, role, node));
        Some(InstrumentAt {
            role,
            address: address?.to_owned(),
            address_span: at?.span,
            profile: profile?,
            serial: serial?.map(str::to_owned),
        })
    }

    fn profile(&mut self, reader: &mut Reader, role: Role, node: &Node) -> Option<Profile> {
        let name = reader.text(node, "the name of a profile")?;
        let text = found(reader, node.span, self.library.profile(&self.beside, name))?;
        self.keep(TextRole::Profile, &text.name, &text.text);
        let read = Document::parse(&text.name, &text.text).and_then(|document| Profile::read(&document));
        let profile = reader.adopt(read)?;
        let wanted = match role {
            Role::UnitControl => "unit",
            other @ (Role::Analyser | Role::PowerMeter | Role::Supply | Role::Relay) => other.name(),
        };
        let found = profile.kind.word();
        if found != wanted {
            reader.mistake(
                node.span,
                format!("expected a profile of kind `{wanted}`, found one of kind `{found}`"),
            );
            return None;
        }
        Some(profile)
    }

    fn parts(&mut self, reader: &mut Reader, node: &Node) -> Option<Vec<(Part, Span)>> {
        let items = reader.list(node, "the parts of the path")?;
        let read: Vec<_> = items
            .iter()
            .map(|item| {
                let part = Part::read(reader, item, &mut |path: &str| {
                    let text = self.library.file(&self.beside, path).map_err(|missing| missing.message)?;
                    self.keep(TextRole::Path, &text.name, &text.text);
                    Ok(text.text)
                });
                part.map(|part| (part, item.span))
            })
            .collect();
        read.into_iter().collect()
    }

    fn branches(&mut self, reader: &mut Reader, node: &Node) -> Option<Ways> {
        let mut fields = reader.fields(node, "the branches")?;
        let analyser = fields.required(reader, "analyser");
        let meter = fields.required(reader, "power_meter");
        fields.close(reader);
        let analyser = analyser.and_then(|node| self.parts(reader, node));
        let meter = meter.and_then(|node| self.parts(reader, node));
        analyser.zip(meter)
    }
}

/// The parts behind the common ones: to the analyser, to the power meter.
type Ways = (Vec<(Part, Span)>, Vec<(Part, Span)>);

/// The text that a place in a file names; that it is not there is a mistake at that place.
pub(crate) fn found(reader: &mut Reader, span: Span, text: Result<Text, NotFound>) -> Option<Text> {
    match text {
        Ok(text) => Some(text),
        Err(missing) => {
            let mistake = reader.mistake(span, missing.message);
            if let Some(advice) = missing.advice {
                mistake.hint(advice);
            }
            None
        }
    }
}

fn read_key(
    reader: &mut Reader,
    node: &Node,
    shelf: &mut Shelf<'_>,
    instruments: &mut Vec<Option<InstrumentAt>>,
) -> Option<RelayKeyLine> {
    let mut fields = reader.fields(node, "the key")?;
    let relay = fields.required(reader, "relay");
    fields.close(reader);
    let mut fields = reader.fields(relay?, "the relay")?;
    let contact = fields.required(reader, "contact");
    let opens_by_itself = fields.maybe(reader, "opens_by_itself", read_opening);
    let instrument = shelf.instrument_in(reader, Role::Relay, &mut fields);
    fields.close(reader);
    instruments.push(instrument);
    let contact = contact.and_then(|node| reader.whole(node, "the number of a contact", 1, 999));
    Some(RelayKeyLine { contact: contact?, opens_by_itself: opens_by_itself? })
}

/// Told again three times within it, a shorter time would leave no room for one slow answer.
const SHORTEST_OPENING: f64 = 0.5;

fn read_opening(reader: &mut Reader, node: &Node) -> Option<Seconds> {
    let span: Seconds = reader.parse(node, "a time")?;
    if span.get() < SHORTEST_OPENING {
        let message = format!("expected a time of {} s or more, found {span}", SHORTEST_OPENING);
        reader.mistake(node.span, message);
        return None;
    }
    Some(span)
}

fn read_input(reader: &mut Reader, node: &Node) -> Option<AnalyserInput> {
    let mut fields = reader.fields(node, "the analyser's input")?;
    let damage = fields.required(reader, "damage");
    fields.close(reader);
    let node = damage?;
    Some(AnalyserInput { damage: reader.parse(node, "a level in dBm")?, span: Some(node.span) })
}
