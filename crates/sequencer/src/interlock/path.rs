//! Whether the path has shown that it loses what its tables say, before more than the lowest power goes into it.

use spurline_record::{Interlock, InterlockName, Outcome, Quantity, ReasonCode};

use super::Aim;
use crate::scope::{Case, Measuring};

/// What shows it.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) enum PathProof {
    /// Nothing yet: the lowest power setting is to show it, or a glimpse where none is lower.
    #[default]
    Lowest,
    /// This, in words.
    Shown(String),
    /// The bench file does not want it shown.
    SetAside,
}

impl Measuring<'_, '_> {
    /// Takes note that a power setting has shown the path to be what its tables say, if it could be measured at all.
    pub(crate) fn path_is_shown(&mut self, case: &Case<'_>) {
        let carriers = self.done.held.iter().filter(|reading| reading.quantity == Quantity::CarrierPower);
        // One that is invalid for being outside its window was measured as well as any.
        let measured = carriers.into_iter().any(|reading| {
            reading.outcome != Outcome::Invalid || reading.has_reason(ReasonCode::OutsideWindow)
        });
        if measured && self.done.chain.path == PathProof::Lowest {
            let how = format!("`{}` has shown that the path is what its tables say", case.power.name);
            self.done.chain.path = PathProof::Shown(how);
        }
    }

    /// Takes note of what has shown the path, in words: a glimpse, or that a run that goes on has found a carrier to be
    /// what it was.
    pub(crate) fn path_is_as_it_was(&mut self, how: &str) {
        if self.done.chain.path == PathProof::Lowest {
            self.done.chain.path = PathProof::Shown(how.to_owned());
        }
    }

    pub(super) fn path_proven(&self, case: &Case<'_>, aim: Aim) -> Interlock {
        const NAME: InterlockName = InterlockName::PathProven;
        let most = self.job.most_of(case.power);
        match &self.done.chain.path {
            PathProof::Shown(how) => Interlock::holds(NAME, how.clone()),
            PathProof::SetAside => Interlock::set_aside(
                NAME,
                "nothing shows that the path is what its tables say",
                "verify_path: false",
            ),
            PathProof::Lowest if self.job.glimpses() && aim != Aim::Silence => match aim {
                Aim::Glimpse => Interlock::holds(NAME, "a glimpse is to show the path"),
                _ => Interlock::trips(
                    NAME,
                    format!(
                        "{most} would go into a path that no glimpse has shown to be what its tables say"
                    ),
                ),
            },
            PathProof::Lowest => {
                let first = self.job.states().first().map(|state| state.power.window.high().watts());
                if first.is_some_and(|first| case.power.window.high().watts() <= first) {
                    return Interlock::holds(
                        NAME,
                        format!("`{}` is the lowest power setting, which is to show it", case.power.name),
                    );
                }
                Interlock::trips(
                    NAME,
                    format!(
                        "{most} would go into a path that no lower power has shown to be what its tables say"
                    ),
                )
            }
        }
    }
}
