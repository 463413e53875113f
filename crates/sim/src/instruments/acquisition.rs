//! When a measurement starts: the trigger model of SCPI-1999 volume 1, chapter 10 (clauses from memory), as far as an
//! instrument with one trigger layer needs it.

use std::time::Duration;

use spurline_clock::Moment;
use spurline_scpi::{ErrorCode, Operation};
use spurline_units::Seconds;

/// What starts a measurement that was initiated.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Source {
    /// Nothing more is needed.
    Immediate,
    /// A trigger from the bus.
    Bus,
    /// A signal at the trigger input, to which nothing is connected here.
    External,
}

/// The sources by name.
pub(crate) const SOURCES: [(&str, Source); 3] =
    [("IMMediate", Source::Immediate), ("BUS", Source::Bus), ("EXTernal", Source::External)];

/// How measurements are started.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Mode {
    pub(crate) source: Source,
    /// `INITiate:CONTinuous`: one measurement after the other.
    pub(crate) continuous: bool,
}

/// The state of the trigger system, and of what keeps it from being idle.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Acquisition {
    mode: Mode,
    phase: Phase,
}

#[derive(Clone, Copy, Debug, PartialEq)]
enum Phase {
    /// Nothing is pending. An instrument that runs freely is here too: it measures when it is asked.
    Idle,
    Waiting,
    Acquiring {
        end: Moment,
    },
    Calibrating {
        end: Moment,
    },
}

/// What came to its end, and when.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Finished {
    Acquired(Moment),
    Calibrated(Moment),
}

/// How long what waits for a trigger may wait: nobody knows, and no deadline of a client is as long.
const FOR_EVER: Duration = Duration::from_secs(10 * 365 * 86_400);

impl Mode {
    /// As `*RST` leaves it.
    pub(crate) const RESET: Self = Self { source: Source::Immediate, continuous: false };

    /// As after switching on: measuring freely.
    pub(crate) const FREE: Self = Self { source: Source::Immediate, continuous: true };
}

impl Acquisition {
    /// The trigger system in its idle state, or on its way round if it is continuous.
    pub(crate) fn new(mode: Mode) -> Self {
        let mut acquisition = Self { mode, phase: Phase::Idle };
        acquisition.rearm();
        acquisition
    }

    pub(crate) const fn mode(&self) -> Mode {
        self.mode
    }

    /// Whether it measures all the time without being asked to start.
    pub(crate) fn runs_freely(&self) -> bool {
        self.mode == Mode::FREE && self.phase == Phase::Idle
    }

    /// `INITiate`: -213 while it is on its way already.
    pub(crate) fn initiate(&mut self, now: Moment, span: Seconds) -> Result<(), ErrorCode> {
        if self.mode.continuous || self.phase != Phase::Idle {
            return Err(ErrorCode::INIT_IGNORED);
        }
        self.phase = Phase::Waiting;
        if self.mode.source == Source::Immediate {
            self.start(now, span);
        }
        Ok(())
    }

    /// `READ?`: from the start, whatever was going on; -214 when the trigger could only come behind the answer.
    pub(crate) fn restart(&mut self, now: Moment, span: Seconds) -> Result<(), ErrorCode> {
        if matches!(self.phase, Phase::Calibrating { .. }) {
            return Err(ErrorCode::SETTINGS_CONFLICT);
        }
        if self.mode.source == Source::Bus {
            return Err(ErrorCode::TRIGGER_DEADLOCK);
        }
        (self.mode.continuous, self.phase) = (false, Phase::Idle);
        self.initiate(now, span)
    }

    /// `CONFigure`: one measurement at a time, started without more; what is measured or waited for is given up.
    pub(crate) fn configure(&mut self) {
        self.mode = Mode::RESET;
        self.change();
    }

    /// A trigger from the bus: -211 unless it is waited for.
    pub(crate) fn bus_trigger(&mut self, now: Moment, span: Seconds) -> Result<(), ErrorCode> {
        if self.mode.source == Source::Bus { self.force(now, span) } else { Err(ErrorCode::TRIGGER_IGNORED) }
    }

    /// `TRIGger:IMMediate`: as if the trigger had come, from wherever; -211 unless one is waited for.
    pub(crate) fn force(&mut self, now: Moment, span: Seconds) -> Result<(), ErrorCode> {
        if self.phase != Phase::Waiting {
            return Err(ErrorCode::TRIGGER_IGNORED);
        }
        self.start(now, span);
        Ok(())
    }

    /// `ABORt`: gives up what is measured or waited for; continuous, it begins anew.
    pub(crate) fn abort(&mut self) {
        if matches!(self.phase, Phase::Waiting | Phase::Acquiring { .. }) {
            self.rearm();
        }
    }

    /// Keeps the instrument busy with itself.
    pub(crate) fn calibrate(&mut self, now: Moment, span: Seconds) {
        self.phase = Phase::Calibrating { end: now.after(span.duration()) };
    }

    /// `INITiate:CONTinuous`. Switched on or off, a measurement that is under way or waited for is given up.
    pub(crate) fn set_continuous(&mut self, on: bool) {
        if on != self.mode.continuous {
            self.mode.continuous = on;
            self.change();
        }
    }

    /// `TRIGger:SOURce`. What is waited for is waited for from there.
    pub(crate) fn set_source(&mut self, source: Source, now: Moment, span: Seconds) {
        self.mode.source = source;
        if self.mode.continuous {
            self.change();
        } else if self.phase == Phase::Waiting && source == Source::Immediate {
            self.start(now, span);
        }
    }

    /// What has come to its end by `now`.
    pub(crate) fn finish(&mut self, now: Moment) -> Option<Finished> {
        let finished = match self.phase {
            Phase::Acquiring { end } if end <= now => Finished::Acquired(end),
            Phase::Calibrating { end } if end <= now => Finished::Calibrated(end),
            Phase::Idle | Phase::Waiting | Phase::Acquiring { .. } | Phase::Calibrating { .. } => {
                return None;
            }
        };
        self.rearm();
        Some(finished)
    }

    /// When what is pending ends. Continuous measuring is never pending: it never ends.
    pub(crate) fn pending_until(&self, now: Moment) -> Option<Moment> {
        match self.phase {
            Phase::Calibrating { end } => Some(end),
            Phase::Acquiring { end } if !self.mode.continuous => Some(end),
            Phase::Waiting if !self.mode.continuous => Some(now.after(FOR_EVER)),
            Phase::Idle | Phase::Waiting | Phase::Acquiring { .. } => None,
        }
    }

    /// What it is doing; `measuring` is the instrument's bit for a measurement under way.
    pub(crate) fn operation(&self, measuring: Operation) -> Operation {
        match self.phase {
            Phase::Idle if self.mode == Mode::FREE => measuring,
            Phase::Idle => Operation::NONE,
            Phase::Waiting => Operation::WAITING_FOR_TRIGGER,
            Phase::Acquiring { .. } => measuring,
            Phase::Calibrating { .. } => Operation::CALIBRATING,
        }
    }

    fn start(&mut self, now: Moment, span: Seconds) {
        self.phase = Phase::Acquiring { end: now.after(span.duration()) };
    }

    /// Begins anew under a new mode; a calibration goes on.
    fn change(&mut self) {
        if !matches!(self.phase, Phase::Calibrating { .. }) {
            self.rearm();
        }
    }

    fn rearm(&mut self) {
        let waits = self.mode.continuous && self.mode.source != Source::Immediate;
        self.phase = if waits { Phase::Waiting } else { Phase::Idle };
    }
}

#[cfg(test)]
mod tests;
