//! From program messages to answers: header tree, status, and waiting for what is pending.
//!
//! Without input or output: [`Instrument::step`] says when it can go on, the server waits and comes back.

use std::collections::VecDeque;
use std::fmt::Debug;

use bytes::Bytes;
use spurline_clock::Moment;
use spurline_scpi::{
    ErrorCode, InstrumentError, Operation, ProgramError, ProgramUnit, Questionable, Response, StatusByte,
    Tree, Unit, program_units,
};

use super::call::{Call, Outcome, Reply};
use super::common::{self, Common};
use super::status::Status;
use crate::bench::Identity;

/// What one kind of instrument adds to the engine.
pub(crate) trait Device: Send + 'static {
    /// Its commands.
    type Command: Copy + Debug + PartialEq + Send + Sync + 'static;

    /// Headers in SCPI notation and what they mean.
    fn headers() -> Vec<(&'static str, Self::Command)>;

    /// What it answers to `*IDN?`.
    fn identity(&self) -> &Identity;

    /// Carries out a command.
    fn run(&mut self, command: Self::Command, call: &Call<'_>) -> Outcome<Self::Command>;

    /// Brings the device up to `now`: finishes what has come to its end. Errors of its own go into `errors`.
    fn settle(&mut self, _now: Moment, _errors: &mut Vec<InstrumentError>) {}

    /// When the last pending operation ends, if one is pending.
    fn pending_until(&self) -> Option<Moment> {
        None
    }

    /// What is the case.
    fn conditions(&self) -> (Operation, Questionable) {
        (Operation::NONE, Questionable::NONE)
    }

    /// `*RST`: settings to their defaults, pending operations given up.
    fn reset(&mut self, now: Moment);

    /// `SYSTem:PRESet`: settings as a person at the front panel wants them.
    fn preset(&mut self, now: Moment) {
        self.reset(now);
    }
}

/// A device that can be spoken to.
#[derive(Debug)]
pub(crate) struct Instrument<D: Device> {
    device: D,
    status: Status,
    tree: Tree<Meaning<D::Command>>,
    /// Whether `*OPC` waits to set its bit.
    completing: bool,
}

#[derive(Clone, Copy, Debug, PartialEq)]
enum Meaning<C> {
    Common(Common),
    Device(C),
}

/// A program message that is being carried out.
#[derive(Debug)]
pub(crate) struct Execution<C> {
    units: VecDeque<Result<ProgramUnit, ProgramError>>,
    /// The query that gives the first unit's answer once nothing is pending.
    later: Option<C>,
    response: Response,
}

/// How far a message has come.
#[derive(Debug, PartialEq)]
pub(crate) enum Step {
    /// Carried out; the answer without its terminator, if one is owed.
    Done(Option<Bytes>),
    /// Nothing more happens before this moment, unless another connection changes something.
    WaitUntil(Moment),
}

/// What became of the unit at the front.
enum Unitary {
    Finished(Option<Unit>),
    Waits(Moment),
}

impl<C> Execution<C> {
    /// Takes a program message apart.
    pub(crate) fn new(message: &[u8]) -> Self {
        Self { units: program_units(message).collect(), later: None, response: Response::default() }
    }
}

impl<D: Device> Instrument<D> {
    /// The instrument just after it was switched on.
    pub(crate) fn new(device: D) -> Self {
        let mut tree = Tree::new();
        let own = D::headers().into_iter().map(|(pattern, command)| (pattern, Meaning::Device(command)));
        let shared = common::HEADERS.map(|(pattern, command)| (pattern, Meaning::Common(command)));
        for (pattern, meaning) in shared.into_iter().chain(own) {
            tree.insert(pattern, meaning).expect("the headers of a device are well-formed and differ");
        }
        Self { device, status: Status::at_power_on(), tree, completing: false }
    }

    /// Notes an error that came up before a message could be taken apart.
    pub(crate) fn note(&mut self, code: ErrorCode) {
        self.status.push(InstrumentError::standard(code));
    }

    /// Brings the instrument up to `now`.
    pub(crate) fn settle(&mut self, now: Moment) {
        let mut errors = Vec::new();
        self.device.settle(now, &mut errors);
        for error in errors {
            self.status.push(error);
        }
        let (operation, questionable) = self.device.conditions();
        self.status.update(operation, questionable);
        if self.completing && self.device.pending_until().is_none() {
            self.completing = false;
            self.status.complete();
        }
    }

    /// The status byte as a serial poll sees it; `answering` tells whether an answer waits.
    pub(crate) fn status_byte(&mut self, now: Moment, answering: bool) -> StatusByte {
        self.settle(now);
        self.status.byte(answering)
    }

    /// Goes on with a message as far as it will.
    pub(crate) fn step(&mut self, execution: &mut Execution<D::Command>, now: Moment) -> Step {
        loop {
            self.settle(now);
            let unit = match execution.units.front() {
                None => break,
                Some(Err(error)) => {
                    self.note(error.code);
                    break;
                }
                Some(Ok(unit)) => unit.clone(),
            };
            match self.unit(&unit, execution, now) {
                Ok(Unitary::Waits(until)) => return Step::WaitUntil(until),
                Ok(Unitary::Finished(answer)) => execution.response.units.extend(answer),
                Err(code) => self.status.push(error_at(code, &unit)),
            }
            execution.units.pop_front();
            execution.later = None;
        }
        self.settle(now);
        let response = std::mem::take(&mut execution.response);
        Step::Done((!response.units.is_empty()).then(|| response.encode()))
    }

    fn unit(
        &mut self,
        unit: &ProgramUnit,
        execution: &mut Execution<D::Command>,
        now: Moment,
    ) -> Result<Unitary, ErrorCode> {
        let meaning = match execution.later {
            Some(command) => Meaning::Device(command),
            None => {
                let found = unit.resolve(&self.tree)?;
                // Nothing here has a second channel, trace or marker.
                if found.suffixes.iter().any(|suffix| *suffix != 1) {
                    return Err(ErrorCode::HEADER_SUFFIX_OUT_OF_RANGE);
                }
                *found.entry
            }
        };
        let waits = match meaning {
            Meaning::Common(Common::Complete) => unit.query,
            Meaning::Common(Common::Wait) => true,
            _ => execution.later.is_some(),
        };
        if let (true, Some(until)) = (waits, self.device.pending_until()) {
            return Ok(Unitary::Waits(until));
        }
        let answering = !execution.response.units.is_empty();
        let reply = match meaning {
            Meaning::Device(command) => self.device.run(command, &Call { unit, now }),
            Meaning::Common(command) => self.common(command, &Call { unit, now }, answering),
        }?;
        match reply {
            Reply::Done => Ok(Unitary::Finished(None)),
            Reply::Answer(unit) => Ok(Unitary::Finished(Some(unit))),
            Reply::Changed(code) => {
                self.status.push(error_at(code, unit));
                Ok(Unitary::Finished(None))
            }
            Reply::Later(command) => {
                execution.later = Some(command);
                self.settle(now);
                self.unit(unit, execution, now)
            }
        }
    }

    fn common(&mut self, command: Common, call: &Call<'_>, answering: bool) -> Outcome<D::Command> {
        if let Some(outcome) = common::run(&mut self.status, command, call, answering) {
            return outcome;
        }
        if command == Common::Identity {
            let Identity { maker, model, serial, firmware } = self.device.identity();
            let answer = format!("{maker},{model},{serial},{firmware}");
            return call.ask(|| Ok(Reply::word(&answer)));
        }
        let [] = call.unit.exactly()?;
        match command {
            Common::Complete if call.unit.query => return Ok(Reply::flag(true)),
            Common::Complete => self.completing = true,
            Common::ClearStatus => {
                self.status.clear();
                self.completing = false;
            }
            Common::Reset => {
                self.device.reset(call.now);
                self.completing = false;
            }
            Common::Preset => self.device.preset(call.now),
            // `*WAI` has waited already; the others concern the registers alone.
            _ => {}
        }
        Ok(Reply::Done)
    }
}

/// The entry for an error in one unit, with its header as information.
fn error_at(code: ErrorCode, unit: &ProgramUnit) -> InstrumentError {
    let query = if unit.query { "?" } else { "" };
    InstrumentError::standard(code).with_info(&format!("{}{query}", unit.path.join(":")))
}
