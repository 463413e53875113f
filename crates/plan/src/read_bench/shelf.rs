//! What a bench file names: instruments with their profiles, parts with their tables.

use spurline_document::{Document, Fields, Node, Reader, Span};
use spurline_limits::Rule;
use spurline_path::{Calibration, Part};
use spurline_profile::Profile;
use spurline_record::{Role, SourceText, TextRole};
use spurline_transport::Address;

use super::line;
use crate::bench::InstrumentAt;
use crate::library::{Library, NotFound, Text};
use crate::rules::read_rule;

/// Where a file's companions come from, and which of them were read.
pub(crate) struct Shelf<'a> {
    library: &'a dyn Library,
    beside: String,
    texts: &'a mut Vec<SourceText>,
}

impl<'a> Shelf<'a> {
    /// A shelf for the file named `beside`; what is taken from it goes into `texts` as well.
    pub(crate) fn new(library: &'a dyn Library, beside: &str, texts: &'a mut Vec<SourceText>) -> Self {
        Self { library, beside: beside.to_owned(), texts }
    }

    fn keep(&mut self, role: TextRole, name: &str, text: &str) {
        if !self.texts.iter().any(|known| known.name == name) {
            self.texts.push(SourceText { role, name: name.to_owned(), text: text.to_owned() });
        }
    }

    /// A rule by its name.
    pub(crate) fn rule(&mut self, reader: &mut Reader, node: &Node) -> Option<Rule> {
        read_rule(reader, node, self.library, self.texts)
    }

    /// An instrument.
    pub(crate) fn instrument(
        &mut self,
        reader: &mut Reader,
        role: Role,
        node: &Node,
    ) -> Option<InstrumentAt> {
        let mut fields = reader.fields(node, "an instrument")?;
        let instrument = self.instrument_in(reader, role, &mut fields);
        fields.close(reader);
        instrument
    }

    /// An instrument among other keys.
    pub(crate) fn instrument_in(
        &mut self,
        reader: &mut Reader,
        role: Role,
        fields: &mut Fields<'_>,
    ) -> Option<InstrumentAt> {
        let at = fields.required(reader, "at");
        let profile = fields.required(reader, "profile");
        let line = fields.maybe(reader, "line", |reader, node| Some((line::read(reader, node)?, node.span)));
        let serial = fields.maybe(reader, "serial", |reader, node| reader.text(node, "a serial number"));
        let calibration = Calibration::read(reader, fields);
        let address = at.and_then(|node| reader.parse::<Address>(node, "an instrument's address"));
        let profile = profile.and_then(|node| self.profile(reader, role, node));
        if let (Some(address), Some(Some((_, span)))) = (&address, line)
            && !matches!(address, Address::Serial { .. })
        {
            reader
                .mistake(
                    span,
                    format!("expected no `line` with the address `{address}`, which is no serial port"),
                )
                .hint("leave it out, or write an address such as `ASRL/dev/serial/by-id/…::INSTR`");
            return None;
        }
        Some(InstrumentAt {
            role,
            address: address?,
            address_span: at?.span,
            line: line?.map(|(line, _)| line).unwrap_or_default(),
            profile: profile?,
            serial: serial?.map(str::to_owned),
            calibration: calibration?,
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
            Role::Switch => Role::Relay.name(),
            other @ (Role::Analyser
            | Role::PowerMeter
            | Role::Supply
            | Role::Relay
            | Role::Generator
            | Role::AudioGenerator) => other.name(),
        };
        let found = profile.kind.word();
        if found != wanted {
            reader
                .mistake(
                    node.span,
                    format!("expected a profile of kind `{wanted}`, found one of kind `{found}`"),
                )
                .hint(format!("name a profile whose file says `kind: {wanted}`"));
            return None;
        }
        Some(profile)
    }

    /// One part, written as a map or as the name of its table.
    pub(crate) fn part(&mut self, reader: &mut Reader, node: &Node) -> Option<Part> {
        Part::read(reader, node, &mut |path: &str| {
            let text = self.library.file(&self.beside, path).map_err(|missing| missing.message)?;
            self.keep(TextRole::Path, &text.name, &text.text);
            Ok(text.text)
        })
    }

    /// A row of parts, each with its place; all of them are read even after a mistake.
    pub(crate) fn parts(&mut self, reader: &mut Reader, node: &Node) -> Option<Vec<(Part, Span)>> {
        let items = reader.list(node, "the parts of the path")?;
        let read: Vec<_> =
            items.iter().map(|item| self.part(reader, item).map(|part| (part, item.span))).collect();
        read.into_iter().collect()
    }
}

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
