//! What is measured while the unit is keyed, beside the carrier: each kind knows how long it takes, what comes of it
//! if there is no carrier, and how it is done.

use spurline_plan::{DRAWN_TIME, Extent, Look, ModulationMeasure, Way};
use spurline_record::{Reading, Reason};
use spurline_units::Seconds;

use crate::fault::RunFault;
use crate::key_down::{Beyond, Left, Planned};
use crate::possible::MeasuredCarrier;
use crate::scope::{Case, Measuring};
use crate::search::{Candidate, Piece};
use crate::spectrum::PlannedSpectrum;

/// Something that is measured while the unit is keyed, with what was seen there before.
pub(crate) enum Work {
    /// A harmonic.
    Harmonic(Box<Planned>),
    /// The carrier's own spectrum.
    Spectrum(Box<PlannedSpectrum>),
    /// Deviation or depth of the modulation.
    Modulation { measure: ModulationMeasure, look: Box<Look> },
    /// Sweeps of a search.
    Sweeps(Box<Piece>),
    /// A line that a search found.
    Candidate(Box<Candidate>),
    /// What the supply gives while the unit is keyed.
    Drawn,
}

impl Work {
    /// How long it takes, more looks at a line that is near its limit aside.
    pub(crate) fn time(&self) -> Seconds {
        match self {
            Self::Harmonic(planned) => planned.look.time_on_the_wire(),
            Self::Spectrum(planned) => planned.task.time(),
            Self::Modulation { look, .. } => look.time_on_the_wire(),
            Self::Sweeps(piece) => piece.time(),
            Self::Candidate(candidate) => candidate.look.time_on_the_wire(),
            Self::Drawn => DRAWN_TIME,
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
        if case.extent == Extent::Carrier {
            return Ok(works);
        }
        if way.name == self.job.carrier_way().name {
            works.works.extend(self.work_on_modulation(case, way)?);
            let planned = self.spectrum_works(case).await?;
            works.works.extend(planned.into_iter().map(|planned| Work::Spectrum(Box::new(planned))));
        }
        if way.name == self.job.harmonics_way().name {
            let (planned, beyond) = self.unkeyed_looks(case, self.job.harmonics(case.extent)).await?;
            works.works.extend(planned.into_iter().map(|planned| Work::Harmonic(Box::new(planned))));
            works.beyond = beyond;
            let pieces = self.pieces(case).await?;
            works.works.extend(pieces.into_iter().map(|piece| Work::Sweeps(Box::new(piece))));
        }
        Ok(works)
    }

    /// The look at the modulation, if the plan wants it.
    fn work_on_modulation(&self, case: &Case<'_>, way: &Way) -> Result<Option<Work>, RunFault> {
        let Some(measure) = self.job.plan.measure.modulation else { return Ok(None) };
        let at_input = self.job.carrier_at_analyser(way, case.channel, case.power)?;
        let look = self.job.modulation_look(case.channel.carrier, at_input);
        Ok(look.map(|look| Work::Modulation { measure, look: Box::new(look) }))
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
            Work::Spectrum(planned) => self.spectrum(case, carrier, *planned).await,
            Work::Modulation { measure, look } => {
                Ok(vec![self.modulation(case, carrier, measure, &look).await?])
            }
            Work::Sweeps(piece) => {
                self.sweep(*piece).await?;
                Ok(Vec::new())
            }
            Work::Candidate(candidate) => self.candidate(case, carrier, *candidate, left).await,
            // Asked whether or not there is a carrier: it is no work on one.
            Work::Drawn => Ok(Vec::new()),
        }
    }

    /// The readings of a work that could not be done.
    pub(crate) fn not_done(&self, case: &Case<'_>, work: &Work, reason: &Reason) -> Vec<Reading> {
        let blanks = match work {
            Work::Harmonic(planned) => {
                vec![self.blank(case, self.job.harmonics_way(), Some(planned.order))]
            }
            Work::Spectrum(planned) => self.spectrum_blanks(case, &planned.task),
            Work::Modulation { measure, .. } => vec![self.blank_modulation(case, measure.fact)],
            // The reading of the search says so for all of them.
            Work::Sweeps(_) | Work::Candidate(_) => Vec::new(),
            // That of the series shows that there is no figure.
            Work::Drawn => Vec::new(),
        };
        blanks.into_iter().map(|blank| Reading { reason: Some(reason.clone()), ..blank }).collect()
    }
}
