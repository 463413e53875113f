//! A bench: what is wired.

use spurline_document::{Document, Node, Span};
use spurline_path::{Calibration, Part};
use spurline_profile::{AnalyserProfile, AudioGeneratorProfile, Kind, MeterProfile, Profile};
use spurline_record::Role;
use spurline_transport::{Address, SerialLine};
use spurline_units::{Db, Dbm, Hertz, Seconds};

use crate::key_line::BenchKey;
use crate::way::{Branch, Place, Way};

/// What is wired.
#[derive(Clone, Debug)]
pub struct Bench {
    /// The bench's title.
    pub title: String,
    /// The file, for messages about what stands in it.
    pub document: Document,
    /// The instruments.
    pub instruments: Vec<InstrumentAt>,
    /// The key line.
    pub key: BenchKey,
    /// How many parts all ways have in common, from the unit's connector on.
    pub common: usize,
    /// The ways from the unit's connector to the analyser, at least one, each with a name of its own.
    pub ways: Vec<Way>,
    /// The way from the unit's connector to the power meter.
    pub meter: Option<Branch>,
    /// The analyser's input.
    pub input: AnalyserInput,
    /// For how long a link that was lost is made again before the run ends.
    pub reconnect_within: Seconds,
    /// How the signal generator that proves the bench is connected, if there is one.
    pub generator: Option<GeneratorUse>,
    /// Whether the lowest power setting verifies the path before the others are keyed, if the file says so.
    pub verify_path: Option<bool>,
    /// For how many days a proof of the bench holds.
    pub proof_lasts: u32,
    /// Whether the first part that the unit is keyed into is a load, whatever its loss: a coupler with its load, say.
    pub silence_into_load: bool,
    /// Whether the unit's battery is out, as the file states: nothing but the supply feeds it.
    pub battery_removed: bool,
    /// Whether the file says that the bench may key without being told so for each run.
    pub armed: bool,
    /// SHA-256, in hexadecimal, of what the file and its tables say of the path.
    pub path_digest: String,
    /// The simulated bench, if it is one; it is for the simulator to read.
    pub simulated: Option<Node>,
}

/// One instrument.
#[derive(Clone, Debug)]
pub struct InstrumentAt {
    /// The part it plays.
    pub role: Role,
    /// Where it answers.
    pub address: Address,
    /// Where the address stands.
    pub address_span: Span,
    /// How the serial line is set, if it is one.
    pub line: SerialLine,
    /// How it is spoken to.
    pub profile: Profile,
    /// The serial number that it must have.
    pub serial: Option<String>,
    /// When it was calibrated, if that is stated.
    pub calibration: Option<Calibration>,
}

/// How the signal generator is connected while it proves the bench.
#[derive(Clone, Debug, PartialEq)]
pub struct GeneratorUse {
    /// What lies between its output and where the unit's connector is.
    pub through: Vec<Part>,
    /// Where unit and generator go through one combiner: how much less than the unit's power runs into the
    /// generator's output. `None` if the generator takes the unit's place.
    pub isolation: Option<Db>,
}

/// What the analyser's input bears.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AnalyserInput {
    /// What destroys it.
    pub damage: Dbm,
    /// Where that stands in the bench file, if it does.
    pub span: Option<Span>,
}

impl Bench {
    /// Whether what is keyed on it exists: nothing of it is simulated in this process.
    #[must_use]
    pub fn is_real(&self) -> bool {
        self.simulated.is_none()
    }

    /// The instrument of a role; of the switch cards, the first.
    #[must_use]
    pub fn instrument(&self, role: Role) -> Option<&InstrumentAt> {
        self.instruments.iter().find(|instrument| instrument.role == role)
    }

    /// Whether nothing but a person tunes the unit and says which it is.
    #[must_use]
    pub fn is_tuned_by_hand(&self) -> bool {
        self.instrument(Role::UnitControl).is_none()
    }

    /// The supply that feeds the unit, if there is one; one whose output keys feeds nothing.
    #[must_use]
    pub fn feeding_supply(&self) -> Option<&InstrumentAt> {
        self.instrument(Role::Supply).filter(|_| !self.key.is_supply())
    }

    /// The relay cards that switch the path; a way names them by their place here.
    pub fn switch_cards(&self) -> impl Iterator<Item = &InstrumentAt> {
        self.instruments.iter().filter(|instrument| instrument.role == Role::Switch)
    }

    /// The way of a name.
    #[must_use]
    pub fn way(&self, name: &str) -> Option<&Way> {
        self.ways.iter().find(|way| way.name == name)
    }

    /// The audio generator's profile, if there is one.
    #[must_use]
    pub fn audio_generator(&self) -> Option<&AudioGeneratorProfile> {
        match self.instrument(Role::AudioGenerator).map(|instrument| &instrument.profile.kind) {
            Some(Kind::AudioGenerator(profile)) => Some(profile),
            _ => None,
        }
    }

    /// Puts a part that a plan brings before all that the bench has.
    pub(crate) fn put_first(&mut self, part: &Part, span: Span) {
        for branch in self.ways.iter_mut().map(|way| &mut way.branch).chain(&mut self.meter) {
            branch.put_first(part.clone(), Place::Plan(span));
        }
        self.common += 1;
    }

    /// The analyser's profile.
    ///
    /// # Panics
    ///
    /// Never for a bench that was read: it has an analyser with a profile of its kind.
    #[must_use]
    pub fn analyser_profile(&self) -> &AnalyserProfile {
        let profile = self.instrument(Role::Analyser).map(|instrument| &instrument.profile.kind);
        match profile {
            Some(Kind::Analyser(profile)) => profile,
            Some(
                Kind::PowerMeter(_)
                | Kind::Supply(_)
                | Kind::Relay(_)
                | Kind::Unit(_)
                | Kind::Generator(_)
                | Kind::AudioGenerator(_),
            )
            | None => {
                unreachable!("a bench that was read has an analyser")
            }
        }
    }

    /// Why the analyser does not reach `half_span` to both sides of a frequency; `None` if it does.
    pub(crate) fn beyond_analyser(&self, frequency: Hertz, half_span: Hertz) -> Option<String> {
        let range = self.analyser_profile().ranges.frequency;
        if !range.contains(frequency) {
            return Some(format!("{frequency} is beyond the analyser's range, {range}"));
        }
        // The frequency itself is within, and the sweep that shows what is beside it is not.
        let reaches = range.contains(frequency - half_span) && range.contains(frequency + half_span);
        (!reaches).then(|| {
            format!("the sweep about {frequency} takes {half_span} to each side, which reaches beyond the analyser's range, {range}")
        })
    }

    /// The power meter's profile, if there is a meter.
    #[must_use]
    pub fn meter_profile(&self) -> Option<&MeterProfile> {
        match self.instrument(Role::PowerMeter).map(|instrument| &instrument.profile.kind) {
            Some(Kind::PowerMeter(profile)) => Some(profile),
            Some(
                Kind::Analyser(_)
                | Kind::Supply(_)
                | Kind::Relay(_)
                | Kind::Unit(_)
                | Kind::Generator(_)
                | Kind::AudioGenerator(_),
            )
            | None => None,
        }
    }
}

/// What an error says, without its advice.
pub(crate) fn first_line(error: &dyn std::error::Error) -> String {
    error.to_string().lines().next().unwrap_or_default().to_owned()
}
