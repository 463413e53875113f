//! What is measured while the unit is keyed, beside the carrier: each kind knows how long it takes, what comes of it
//! if there is no carrier, and how it is done.

use spurline_plan::Way;
use spurline_record::{Reading, Reason};
use spurline_units::Seconds;

use crate::fault::RunFault;
use crate::key_down::{Beyond, Left, Planned};
use crate::possible::MeasuredCarrier;
use crate::scope::{Case, Measuring};
use crate::search::{Candidate, Piece};

/// Something that is measured while the unit is keyed, with what was seen there before.
pub(crate) enum Work {
    /// A harmonic.
    Harmonic(Box<Planned>),
    /// Sweeps of a search.
    Sweeps(Box<Piece>),
    /// A line that a search found.
    Candidate(Box<Candidate>),
}

impl Work {
    /// How long it takes, more looks at a line that is near its limit aside.
    pub(crate) fn time(&self) -> Seconds {
        match self {
            Self::Harmonic(planned) => planned.look.time_on_the_wire(),
            Self::Sweeps(piece) => piece.time(),
            Self::Candidate(candidate) => candidate.look.time_on_the_wire(),
        }
    }
}

/// What is measured by one way.
#[derive(Default)]
pub(crate) struct Works {
    /// In the order in which it is done.
    pub(crate) works: Vec<Work>,
    /// The harmonics that this bench cannot reach.
    pub(crate) beyond: Vec<Beyond>,
}

impl Measuring<'_, '_> {
    /// What is measured by a way, with everything that is looked at before the key goes down.
    pub(crate) async fn works(&mut self, case: &Case<'_>, way: &Way) -> Result<Works, RunFault> {
        let mut works = Works::default();
        if way.name == self.job.harmonics_way().name {
            let (planned, beyond) = self.unkeyed_looks(case).await?;
            works.works.extend(planned.into_iter().map(|planned| Work::Harmonic(Box::new(planned))));
            works.beyond = beyond;
            let pieces = self.pieces(case).await?;
            works.works.extend(pieces.into_iter().map(|piece| Work::Sweeps(Box::new(piece))));
        }
        Ok(works)
    }

    /// Does one of them.
    pub(crate) async fn perform(
        &mut self,
        case: &Case<'_>,
        carrier: &MeasuredCarrier,
        work: Work,
        left: Left,
    ) -> Result<Vec<Reading>, RunFault> {
        match work {
            Work::Harmonic(planned) => Ok(vec![self.harmonic(case, carrier, *planned, left).await?]),
            Work::Sweeps(piece) => {
                self.sweep(*piece).await?;
                Ok(Vec::new())
            }
            Work::Candidate(candidate) => self.candidate(case, carrier, *candidate, left).await,
        }
    }

    /// The readings of a work that could not be done.
    pub(crate) fn not_done(&self, case: &Case<'_>, work: &Work, reason: &Reason) -> Vec<Reading> {
        let blank = match work {
            Work::Harmonic(planned) => self.blank(case, self.job.harmonics_way(), Some(planned.order)),
            // The reading of the search says so for all of them.
            Work::Sweeps(_) | Work::Candidate(_) => return Vec::new(),
        };
        vec![Reading { reason: Some(reason.clone()), ..blank }]
    }
}
