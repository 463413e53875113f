//! The commands that every instrument has: IEEE 488.2 and the required part of SCPI.

use spurline_scpi::{Element, ErrorCode, Quantity, Unit};

use super::call::{Bounds, Call, Outcome, Reply};
use super::status::Status;

/// A command that no device needs to know.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Common {
    ClearStatus,
    Reset,
    Identity,
    Complete,
    Wait,
    EventEnable,
    Event,
    ServiceEnable,
    StatusByte,
    SelfTest,
    NextError,
    ErrorCount,
    Version,
    Preset,
    StatusPreset,
    Condition(Which),
    Events(Which),
    Enable(Which),
}

/// One of the two SCPI registers.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Which {
    Operation,
    Questionable,
}

/// Headers and what they mean.
pub(crate) const HEADERS: [(&str, Common); 21] = [
    ("*CLS", Common::ClearStatus),
    ("*RST", Common::Reset),
    ("*IDN?", Common::Identity),
    ("*OPC[?]", Common::Complete),
    ("*WAI", Common::Wait),
    ("*ESE[?]", Common::EventEnable),
    ("*ESR?", Common::Event),
    ("*SRE[?]", Common::ServiceEnable),
    ("*STB?", Common::StatusByte),
    ("*TST?", Common::SelfTest),
    ("SYSTem:ERRor[:NEXT]?", Common::NextError),
    ("SYSTem:ERRor:COUNt?", Common::ErrorCount),
    ("SYSTem:VERSion?", Common::Version),
    ("SYSTem:PRESet", Common::Preset),
    ("STATus:PRESet", Common::StatusPreset),
    ("STATus:OPERation:CONDition?", Common::Condition(Which::Operation)),
    ("STATus:OPERation[:EVENt]?", Common::Events(Which::Operation)),
    ("STATus:OPERation:ENABle[?]", Common::Enable(Which::Operation)),
    ("STATus:QUEStionable:CONDition?", Common::Condition(Which::Questionable)),
    ("STATus:QUEStionable[:EVENt]?", Common::Events(Which::Questionable)),
    ("STATus:QUEStionable:ENABle[?]", Common::Enable(Which::Questionable)),
];

/// The bits of an eight-bit mask.
const MASK: Bounds = Bounds { low: 0.0, high: 255.0, default: 0.0 };
/// The bits of a sixteen-bit mask, whose highest is never used.
const WIDE_MASK: Bounds = Bounds { low: 0.0, high: 32_767.0, default: 0.0 };

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
        | Common::Preset => {
            return None;
        }
        Common::EventEnable => mask(call, MASK, &mut status.event_enable),
        Common::ServiceEnable => mask(call, MASK, &mut status.service_enable),
        Common::Enable(which) => mask(call, WIDE_MASK, &mut register(status, which).enable),
        Common::Event => call.ask(|| Ok(integer(status.take_events().bits()))),
        Common::StatusByte => call.ask(|| Ok(integer(status.byte(answering).bits()))),
        Common::SelfTest => call.ask(|| Ok(integer(0u8))),
        Common::NextError => call.ask(|| Ok(next_error(status))),
        Common::ErrorCount => call.ask(|| Ok(Reply::word(&status.count().to_string()))),
        Common::Version => call.ask(|| Ok(Reply::word("1999.0"))),
        Common::StatusPreset => call.act(|| {
            status.preset();
            Ok(())
        }),
        Common::Condition(which) => call.ask(|| Ok(integer(register(status, which).condition()))),
        Common::Events(which) => call.ask(|| Ok(integer(register(status, which).take_event()))),
    })
}

fn register(status: &mut Status, which: Which) -> &mut super::status::Register {
    match which {
        Which::Operation => &mut status.operation,
        Which::Questionable => &mut status.questionable,
    }
}

fn integer<C>(value: impl Into<i64>) -> Reply<C> {
    Reply::Answer(Element::from_integer(value.into()).into())
}

fn next_error<C>(status: &mut Status) -> Reply<C> {
    let error = status.pop();
    let elements = vec![Element::from_integer(error.code.number().into()), Element::from_string(&error.text)];
    Reply::Answer(Unit { elements })
}

/// A mask register; a value outside changes nothing.
fn mask<C, T>(call: &Call<'_>, bounds: Bounds, mask: &mut T) -> Outcome<C>
where
    T: Copy + Into<f64> + TryFrom<u32>,
{
    let mut value = (*mask).into();
    let reply = call.numeric(Quantity::Plain, bounds, value, |v| value = v.round())?;
    if matches!(reply, Reply::Changed(ErrorCode::DATA_OUT_OF_RANGE)) {
        return Err(ErrorCode::DATA_OUT_OF_RANGE);
    }
    // Within bounds, so that the conversion cannot fail.
    if let Ok(bits) = T::try_from(value as u32) {
        *mask = bits;
    }
    Ok(reply)
}
