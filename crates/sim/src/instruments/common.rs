//! The commands that every instrument has: IEEE 488.2 and the required part of SCPI.

mod errors;
mod help;
mod masks;

use spurline_scpi::{Element, ErrorCode, Numeric, Quantity};

use super::call::{Call, Outcome, Reply};
use super::memory::PLACES;
use super::status::{Filter, Register, Status};
pub(crate) use help::headers;

/// A command that no device needs to know.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Common {
    ClearStatus,
    Reset,
    Identity,
    Options,
    Complete,
    Wait,
    EventEnable,
    Event,
    ServiceEnable,
    StatusByte,
    PowerOnClear,
    SelfTest,
    Trigger,
    Save,
    Recall,
    NextError,
    AllErrors,
    NextCode,
    AllCodes,
    ErrorCount,
    Version,
    Headers,
    Preset,
    /// There is no front panel: it is neither locked nor unlocked.
    Panel,
    Display,
    StatusPreset,
    Condition(Which),
    Events(Which),
    Filter(Which, Filter),
}

/// One of the SCPI registers.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Which {
    Operation,
    Questionable,
    Power,
}

/// Headers and what they mean.
pub(crate) const HEADERS: &[(&str, Common)] = &[
    ("*CLS", Common::ClearStatus),
    ("*RST", Common::Reset),
    ("*IDN?", Common::Identity),
    ("*OPT?", Common::Options),
    ("*OPC[?]", Common::Complete),
    ("*WAI", Common::Wait),
    ("*ESE[?]", Common::EventEnable),
    ("*ESR?", Common::Event),
    ("*SRE[?]", Common::ServiceEnable),
    ("*STB?", Common::StatusByte),
    ("*PSC[?]", Common::PowerOnClear),
    ("*TST?", Common::SelfTest),
    ("*TRG", Common::Trigger),
    ("*SAV", Common::Save),
    ("*RCL", Common::Recall),
    ("SYSTem:ERRor[:NEXT]?", Common::NextError),
    ("SYSTem:ERRor:ALL?", Common::AllErrors),
    ("SYSTem:ERRor:CODE[:NEXT]?", Common::NextCode),
    ("SYSTem:ERRor:CODE:ALL?", Common::AllCodes),
    ("SYSTem:ERRor:COUNt?", Common::ErrorCount),
    ("SYSTem:VERSion?", Common::Version),
    ("SYSTem:HELP:HEADers?", Common::Headers),
    ("SYSTem:PRESet", Common::Preset),
    ("SYSTem:LOCal", Common::Panel),
    ("SYSTem:REMote", Common::Panel),
    ("SYSTem:RWLock", Common::Panel),
    ("DISPlay:ENABle[?]", Common::Display),
    ("STATus:PRESet", Common::StatusPreset),
    ("STATus:QUEue[:NEXT]?", Common::NextError),
    ("STATus:OPERation:CONDition?", Common::Condition(Which::Operation)),
    ("STATus:OPERation[:EVENt]?", Common::Events(Which::Operation)),
    ("STATus:OPERation:ENABle[?]", Common::Filter(Which::Operation, Filter::Enable)),
    ("STATus:OPERation:PTRansition[?]", Common::Filter(Which::Operation, Filter::Positive)),
    ("STATus:OPERation:NTRansition[?]", Common::Filter(Which::Operation, Filter::Negative)),
    ("STATus:QUEStionable:CONDition?", Common::Condition(Which::Questionable)),
    ("STATus:QUEStionable[:EVENt]?", Common::Events(Which::Questionable)),
    ("STATus:QUEStionable:ENABle[?]", Common::Filter(Which::Questionable, Filter::Enable)),
    ("STATus:QUEStionable:PTRansition[?]", Common::Filter(Which::Questionable, Filter::Positive)),
    ("STATus:QUEStionable:NTRansition[?]", Common::Filter(Which::Questionable, Filter::Negative)),
    ("STATus:QUEStionable:POWer:CONDition?", Common::Condition(Which::Power)),
    ("STATus:QUEStionable:POWer[:EVENt]?", Common::Events(Which::Power)),
    ("STATus:QUEStionable:POWer:ENABle[?]", Common::Filter(Which::Power, Filter::Enable)),
    ("STATus:QUEStionable:POWer:PTRansition[?]", Common::Filter(Which::Power, Filter::Positive)),
    ("STATus:QUEStionable:POWer:NTRansition[?]", Common::Filter(Which::Power, Filter::Negative)),
];

/// Carries out a command that concerns the registers alone; `None` if it needs the device or the engine.
pub(crate) fn run<C>(
    status: &mut Status,
    command: Common,
    call: &Call<'_>,
    answering: bool,
) -> Option<Outcome<C>> {
    Some(match command {
        Common::ClearStatus
        | Common::Reset
        | Common::Identity
        | Common::Complete
        | Common::Wait
        | Common::Trigger
        | Common::Save
        | Common::Recall
        | Common::Headers
        | Common::Panel
        | Common::Display
        | Common::Preset => {
            return None;
        }
        Common::EventEnable => masks::byte(call, status.event_enable(), |mask| status.set_event_enable(mask)),
        Common::ServiceEnable => {
            masks::byte(call, status.service_enable(), |mask| status.set_service_enable(mask))
        }
        Common::PowerOnClear => {
            masks::switch(call, status.clears_at_power_on, |on| status.clears_at_power_on = on)
        }
        Common::Filter(which, filter) => {
            let register = register(status, which);
            masks::word(call, register.filter(filter), |mask| register.set_filter(filter, mask))
        }
        Common::Event => call.ask(|| Ok(integer(status.take_events().bits()))),
        Common::StatusByte => call.ask(|| Ok(integer(status.byte(answering).bits()))),
        Common::SelfTest | Common::Options => call.ask(|| Ok(integer(0u8))),
        Common::NextError => call.ask(|| Ok(errors::entries([status.errors.pop()]))),
        Common::AllErrors => call.ask(|| Ok(errors::entries(status.errors.drain()))),
        Common::NextCode => call.ask(|| Ok(errors::codes([status.errors.pop()]))),
        Common::AllCodes => call.ask(|| Ok(errors::codes(status.errors.drain()))),
        Common::ErrorCount => call.ask(|| Ok(Reply::word(&status.errors.len().to_string()))),
        Common::Version => call.ask(|| Ok(Reply::word("1999.0"))),
        Common::StatusPreset => call.act(|| {
            status.preset();
            Ok(())
        }),
        Common::Condition(which) => call.ask(|| Ok(integer(register(status, which).condition()))),
        Common::Events(which) => call.ask(|| Ok(integer(register(status, which).take_event()))),
    })
}

/// The place that `*SAV` or `*RCL` names.
pub(crate) fn place(call: &Call<'_>) -> Result<usize, ErrorCode> {
    let [parameter] = call.unit.exactly()?;
    let Numeric::Value(place) = parameter.numeric(Quantity::Plain)? else {
        return Err(ErrorCode::ILLEGAL_PARAMETER_VALUE);
    };
    let place = place.round();
    if (0.0..PLACES as f64).contains(&place) { Ok(place as usize) } else { Err(ErrorCode::DATA_OUT_OF_RANGE) }
}

fn register(status: &mut Status, which: Which) -> &mut Register {
    match which {
        Which::Operation => &mut status.operation,
        Which::Questionable => &mut status.questionable,
        Which::Power => &mut status.power,
    }
}

fn integer<C>(value: impl Into<i64>) -> Reply<C> {
    Reply::Answer(Element::from_integer(value.into()).into())
}
