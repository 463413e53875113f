//! The profile as a whole: its kind, its messages, and what belongs to the kind.

use spurline_document::{Document, Fields, Mistakes, Reader, Source};

use crate::analyser::AnalyserProfile;
use crate::audio_generator::AudioGeneratorProfile;
use crate::generator::GeneratorProfile;
use crate::messages::Messages;
use crate::meter::MeterProfile;
use crate::simple::{RelayProfile, SupplyProfile, UnitProfile};

/// How one kind of instrument is spoken to and what it can do.
#[derive(Clone, Debug, PartialEq)]
pub struct Profile {
    /// The profile's title.
    pub title: String,
    /// The text it was read from.
    pub source: Source,
    /// How messages are exchanged.
    pub messages: Messages,
    /// What kind of instrument it is.
    pub kind: Kind,
}

/// The kinds of instrument.
#[derive(Clone, Debug, PartialEq)]
pub enum Kind {
    /// Spectrum analyser.
    Analyser(Box<AnalyserProfile>),
    /// RF power meter.
    PowerMeter(Box<MeterProfile>),
    /// Bench supply.
    Supply(SupplyProfile),
    /// Relay.
    Relay(RelayProfile),
    /// The unit's own control port.
    Unit(UnitProfile),
    /// Signal generator.
    Generator(Box<GeneratorProfile>),
    /// Audio generator.
    AudioGenerator(Box<AudioGeneratorProfile>),
}

impl Kind {
    /// The word for it in a profile.
    #[must_use]
    pub const fn word(&self) -> &'static str {
        match self {
            Self::Analyser(_) => "analyser",
            Self::PowerMeter(_) => "power-meter",
            Self::Supply(_) => "supply",
            Self::Relay(_) => "relay",
            Self::Unit(_) => "unit",
            Self::Generator(_) => "generator",
            Self::AudioGenerator(_) => "audio-generator",
        }
    }
}

impl Profile {
    /// Reads a profile.
    ///
    /// # Errors
    ///
    /// Every mistake in it.
    pub fn read(document: &Document) -> Result<Self, Mistakes> {
        let mut reader = Reader::new(document);
        let profile = read_profile(&mut reader, document);
        reader.finish(profile)
    }
}

fn read_profile(reader: &mut Reader, document: &Document) -> Option<Profile> {
    let mut fields = reader.fields(&document.root, "a profile")?;
    let title = fields.required(reader, "profile");
    let messages = fields.required(reader, "messages");
    let read =
        fields.required(reader, "kind").and_then(|node| reader.choice(node, "a kind of instrument", &KINDS));
    let kind = read.and_then(|read| {
        let kind = read(reader, &mut fields);
        // With the kind unknown its keys are unknown too, and complaining about them would only distract.
        fields.close(reader);
        kind
    });
    let title = title.and_then(|node| reader.text(node, "the profile's title"));
    let messages = messages.and_then(|node| Messages::read(reader, node));
    Some(Profile {
        title: title?.to_owned(),
        source: document.source.clone(),
        messages: messages?,
        kind: kind?,
    })
}

/// Reads what is peculiar to one kind of instrument.
type ReadKind = fn(&mut Reader, &mut Fields<'_>) -> Option<Kind>;

const KINDS: [(&str, ReadKind); 7] = [
    ("analyser", |reader, fields| AnalyserProfile::read(reader, fields).map(|p| Kind::Analyser(Box::new(p)))),
    ("power-meter", |reader, fields| {
        MeterProfile::read(reader, fields).map(|p| Kind::PowerMeter(Box::new(p)))
    }),
    ("supply", |reader, fields| SupplyProfile::read(reader, fields).map(Kind::Supply)),
    ("relay", |reader, fields| RelayProfile::read(reader, fields).map(Kind::Relay)),
    ("unit", |reader, fields| UnitProfile::read(reader, fields).map(Kind::Unit)),
    ("generator", |reader, fields| {
        GeneratorProfile::read(reader, fields).map(|p| Kind::Generator(Box::new(p)))
    }),
    ("audio-generator", |reader, fields| {
        AudioGeneratorProfile::read(reader, fields).map(|p| Kind::AudioGenerator(Box::new(p)))
    }),
];

#[cfg(test)]
mod tests;
