//! From program messages to answers: header tree, status, and waiting for what is pending.
//!
//! Without input or output: [`Instrument::step`] says when it can go on, the server waits and comes back.

use spurline_clock::Moment;
use spurline_scpi::{ErrorCode, InstrumentError, ProgramUnit, Tree, Unit};

use super::call::{Call, Outcome, Reply};
use super::common::{self, Common};
use super::device::Device;
use super::execution::{Execution, Full, Step};
use super::memory::Memory;
use super::status::{DEPTH, Status};
use crate::bench::Identity;

/// A device that can be spoken to.
#[derive(Debug)]
pub(crate) struct Instrument<D: Device> {
    pub(super) device: D,
    pub(super) status: Status,
    tree: Tree<Meaning<D::Command>>,
    memory: Memory<D::Setup>,
    /// `DISPlay:ENABle`: nothing is seen of it, but it is answered.
    pub(super) display: bool,
    /// Whether `*OPC` waits to set its bit.
    pub(super) completing: bool,
    /// How many times it was cleared: messages that began before are given up.
    pub(super) cleared: u64,
}

#[derive(Clone, Copy, Debug, PartialEq)]
enum Meaning<C> {
    Common(Common),
    Device(C),
}

/// What became of the unit at the front.
enum Unitary {
    Finished(Option<Unit>),
    Waits(Moment),
}

impl<D: Device> Instrument<D> {
    /// The instrument just after it was switched on.
    pub(crate) fn new(device: D) -> Self {
        Self::with_queue(device, DEPTH)
    }

    /// The same with an error queue for `depth` entries.
    pub(crate) fn with_queue(device: D, depth: usize) -> Self {
        let mut tree = Tree::new();
        let own = D::headers().into_iter().map(|(pattern, command)| (pattern, Meaning::Device(command)));
        let shared = common::HEADERS.iter().map(|(pattern, command)| (*pattern, Meaning::Common(*command)));
        for (pattern, meaning) in shared.chain(own) {
            tree.insert(pattern, meaning).expect("the headers of a device are well-formed and differ");
        }
        Self {
            device,
            status: Status::at_power_on(depth),
            tree,
            memory: Memory::default(),
            display: true,
            completing: false,
            cleared: 0,
        }
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
        self.status.update(self.device.conditions());
        if self.completing && self.device.pending_until(now).is_none() {
            self.completing = false;
            self.status.complete();
        }
    }

    /// Goes on with a message as far as it will.
    pub(crate) fn step(&mut self, execution: &mut Execution<D::Command>, now: Moment) -> Step {
        if *execution.began.get_or_insert(self.cleared) != self.cleared {
            execution.abandon();
        }
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
                Ok(Unitary::Finished(None)) => {}
                Ok(Unitary::Finished(Some(answer))) => {
                    if let Err(Full) = execution.answer(answer) {
                        self.note(ErrorCode::QUERY_DEADLOCKED);
                        execution.abandon();
                    }
                }
                Err(code) => self.status.push(error_at(code, &unit)),
            }
            execution.units.pop_front();
            execution.later = None;
        }
        self.settle(now);
        let response = std::mem::take(&mut execution.response);
        if response.units.is_empty() {
            return Step::Done(None);
        }
        self.status.answered();
        Step::Done(Some(response.encode()))
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
        if let (true, Some(until)) = (waits, self.device.pending_until(now)) {
            return Ok(Unitary::Waits(until));
        }
        let reply = match meaning {
            Meaning::Device(command) => self.device.run(command, &Call { unit, now }),
            Meaning::Common(command) => self.common(command, &Call { unit, now }, execution.answering()),
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
        match command {
            Common::Identity => {
                let Identity { maker, model, serial, firmware } = self.device.identity();
                let answer = format!("{maker},{model},{serial},{firmware}");
                return call.ask(|| Ok(Reply::word(&answer)));
            }
            Common::Headers => return call.ask(|| Ok(common::headers(self.tree.patterns()))),
            Common::Display => return call.flag(self.display, |on| self.display = on),
            Common::Save => {
                let place = common::place(call)?;
                self.memory.save(place, self.device.setup(call.now));
                return Ok(Reply::Done);
            }
            Common::Recall => {
                let setup = self.memory.saved(common::place(call)?)?;
                self.device.restore(setup, call.now);
                self.completing = false;
                return Ok(Reply::Done);
            }
            _ => {}
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
                (self.completing, self.display) = (false, true);
            }
            Common::Preset => self.device.preset(call.now),
            Common::Trigger => self.device.trigger(call.now)?,
            // `*WAI` has waited already, and there is no front panel to lock or unlock.
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
