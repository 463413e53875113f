//! Instrument profiles as data: how one kind of instrument is spoken to, what it can do, how well it does it.
//!
//! A profile is a YAML file that an owner can write for an instrument of their own. This room reads and checks
//! it; it knows neither links nor readings.

mod analyser;
mod audio_generator;
mod command;
mod generator;
mod messages;
mod meter;
mod oscillator;
mod profile;
mod simple;
mod source;
mod specification;

pub use analyser::{
    AnalyserCommand, AnalyserProfile, Intercepts, Limits, Noise, NoiseAveraging, Ranges, Status,
};
pub use audio_generator::AudioGeneratorProfile;
pub use command::{Commands, Spelling};
pub use generator::GeneratorProfile;
pub use messages::{AnswersEnd, Messages, Terminator};
pub use meter::{MeterCommand, MeterProfile};
pub use oscillator::{FrequencyReference, PhaseNoise};
pub use profile::{Kind, Profile};
pub use simple::{RelayCommand, RelayProfile, SupplyCommand, SupplyProfile, UnitCommand, UnitProfile};
pub use source::SourceCommand;
pub use specification::{Distribution, Specification};
