//! What a person has stated about the bench, and who answers on it.

use spurline_plan::Job;
use spurline_record::{Interlock, InterlockName, Role};

use crate::scope::Measuring;

/// Who has said that the bench may key.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Arming {
    /// Nobody.
    #[default]
    Not,
    /// Nobody needs to: the bench exists in this process alone.
    Simulated,
    /// Nobody needs to: what was recorded is answered again, and nothing is keyed.
    Replayed,
    /// Somebody, for this one run.
    ThisRun,
    /// The bench file.
    BenchFile,
}

/// Somebody has said that the bench may key, or nobody needs to.
pub(super) fn armed(arming: Arming) -> Interlock {
    const NAME: InterlockName = InterlockName::Armed;
    match arming {
        Arming::Not => Interlock::trips(NAME, "nobody has said that this bench may key"),
        Arming::Simulated => Interlock::holds(NAME, "the bench is simulated in this process"),
        Arming::Replayed => Interlock::holds(NAME, "the instruments answer as recorded; nothing is keyed"),
        Arming::ThisRun => Interlock::holds(NAME, "`--arm`, for this run"),
        Arming::BenchFile => Interlock::holds(NAME, "`armed: true` in the bench file"),
    }
}

/// Nothing but the supply feeds the unit, where the plan has one.
pub(super) fn battery(job: &Job, arming: Arming) -> Interlock {
    const NAME: InterlockName = InterlockName::BatteryRemoved;
    if job.plan.supplies.is_empty() {
        return Interlock::holds(NAME, "the plan sets no supply");
    }
    if job.bench.battery_removed {
        return Interlock::holds(NAME, "`battery: removed` in the bench file");
    }
    if arming == Arming::Simulated || !job.bench.is_real() {
        return Interlock::holds(NAME, "the unit is simulated");
    }
    Interlock::trips(
        NAME,
        "the plan feeds the unit from a supply, and nobody has stated that its battery is out",
    )
}

impl Measuring<'_, '_> {
    /// The pinned serial numbers are those that answer; one that is not pinned is told.
    pub(super) fn identity(&self) -> Interlock {
        const NAME: InterlockName = InterlockName::BenchIdentity;
        let mut words = Vec::new();
        // What should be pinned to a serial number: what reads, and what keys.
        for role in [Some(Role::Analyser), self.job.bench.key.role()].into_iter().flatten() {
            let Some(instrument) = self.job.bench.instrument(role) else { continue };
            let found = self.done.chain.serials.iter().find(|(of, _)| *of == role).map(|(_, serial)| serial);
            match (&instrument.serial, found) {
                (Some(pinned), Some(found)) if pinned == found => {
                    words.push(format!("the {role} is the pinned one, `{found}`"));
                }
                (Some(pinned), found) => {
                    let found = found.map_or("nothing", String::as_str);
                    let why = format!("expected the {role} with serial number `{pinned}`, found `{found}`");
                    return Interlock::trips(NAME, why);
                }
                (None, Some(found)) => {
                    words.push(format!(
                        "the {role}, `{found}`, is not pinned by a `serial` in the bench file"
                    ));
                }
                (None, None) => {
                    words.push(format!("the {role} is not pinned by a `serial` in the bench file"))
                }
            }
        }
        Interlock::holds(NAME, words.join("; "))
    }
}
