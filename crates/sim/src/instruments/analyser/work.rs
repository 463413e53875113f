//! What the analyser is busy with: nothing, one acquisition, sweep after sweep, or aligning itself.
//!
//! ```text
//! Idle ──INIT──> Sweeping ──time or ABORt──> Idle      Idle <──INIT:CONT──> Continuous
//! Idle ──CAL──> Aligning ──time──> Idle
//! ```
//!
//! Nothing is computed while a sweep runs: its trace follows from the bench's timeline once it has ended.

use spurline_clock::Moment;
use spurline_scpi::{ErrorCode, InstrumentError};
use spurline_units::Seconds;

use super::Analyser;
use super::sweep::Bench;
use crate::world::Port;

/// What the analyser does.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Work {
    Idle,
    Continuous { since: Moment },
    Sweeping { start: Moment, end: Moment, first: u64 },
    Aligning { end: Moment },
}

/// The time that an alignment takes.
const ALIGNMENT: f64 = 2.0;

impl Work {
    /// When the pending operation ends; continuous sweeping never does and so is not pending.
    pub(super) fn pending_until(self) -> Option<Moment> {
        match self {
            Self::Idle | Self::Continuous { .. } => None,
            Self::Sweeping { end, .. } | Self::Aligning { end } => Some(end),
        }
    }
}

impl Analyser {
    fn bench(&self) -> Bench<'_> {
        Bench { front_end: &self.front_end, world: &self.world, seed: self.seed }
    }

    /// `INITiate`.
    pub(super) fn initiate(&mut self, now: Moment) -> Result<(), ErrorCode> {
        if self.work != Work::Idle {
            return Err(ErrorCode::INIT_IGNORED);
        }
        self.start_sweeping(now);
        Ok(())
    }

    fn start_sweeping(&mut self, now: Moment) {
        let count = self.settings.count;
        let end = now.after((self.settings.sweep_time() * f64::from(count)).duration());
        self.work = Work::Sweeping { start: now, end, first: self.sweeps };
        self.sweeps += u64::from(count);
    }

    /// `ABORt`: a single acquisition is given up, continuous sweeping starts afresh.
    pub(super) fn abort(&mut self, now: Moment) {
        self.work = match self.work {
            Work::Continuous { .. } => Work::Continuous { since: now },
            Work::Idle | Work::Sweeping { .. } | Work::Aligning { .. } => Work::Idle,
        };
    }

    /// `INITiate:CONTinuous`.
    pub(super) fn sweep_on(&mut self, on: bool, now: Moment) {
        let sweeps_on = matches!(self.work, Work::Continuous { .. });
        if on && !sweeps_on {
            self.work = Work::Continuous { since: now };
        } else if !on && sweeps_on {
            self.work = Work::Idle;
        }
    }

    /// `CALibration`.
    pub(super) fn align(&mut self, now: Moment) -> Result<(), ErrorCode> {
        if matches!(self.work, Work::Sweeping { .. } | Work::Aligning { .. }) {
            return Err(ErrorCode::SETTINGS_CONFLICT);
        }
        self.work = Work::Aligning { end: now.after(Seconds::new(ALIGNMENT).duration()) };
        Ok(())
    }

    /// A changed setting restarts what is running.
    pub(super) fn restart(&mut self, now: Moment) {
        match self.work {
            Work::Sweeping { .. } => self.start_sweeping(now),
            Work::Continuous { .. } => self.work = Work::Continuous { since: now },
            Work::Idle | Work::Aligning { .. } => {}
        }
    }

    /// Finishes what has come to its end by `now`.
    pub(super) fn finish_work(&mut self, now: Moment) {
        match self.work {
            Work::Sweeping { start, end, first } if end <= now => {
                self.trace = Some(self.bench().acquire(&self.settings, start, first));
                self.work = Work::Idle;
            }
            Work::Aligning { end } if end <= now => self.work = Work::Idle,
            Work::Idle | Work::Sweeping { .. } | Work::Aligning { .. } | Work::Continuous { .. } => {}
        }
    }

    /// Takes the last whole sweep of continuous sweeping for the trace.
    pub(super) fn catch_up(&mut self, now: Moment) {
        let Work::Continuous { since } = self.work else { return };
        let time = self.settings.sweep_time();
        let whole = (Seconds::from(now.since(since)) / time).floor();
        if whole < 1.0 {
            return;
        }
        let start = since.after((time * (whole - 1.0)).duration());
        let trace = self.bench().sweep(&self.settings, start, self.sweeps);
        self.trace = Some(trace);
        self.sweeps += 1;
    }

    /// Notes damage at the moment at which it happened.
    pub(super) fn watch_input(&mut self, now: Moment, errors: &mut Vec<InstrumentError>) {
        let from = std::mem::replace(&mut self.watched, now);
        if self.world.is_damaged(now) {
            return;
        }
        // Between two changes the power only rises to its full value, so the start of each stretch is enough.
        let starts = std::iter::once(from).chain(self.world.changes(from, now));
        for start in starts {
            let full = self.world.emission(start).map(|emission| emission.at_full_power());
            let total = self.world.lines(Port::Analyser, full).iter().map(|line| line.power).sum();
            if self.front_end.breaks_at(total) {
                self.world.damage(start);
                errors.push(InstrumentError::standard(ErrorCode::HARDWARE_ERROR).with_info("input damaged"));
                return;
            }
        }
    }
}
