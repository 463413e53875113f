//! How a harmonic is approached: what the rule allows, and with which settings the analyser looks.
//!
//! The forecast and the run ask here, so that what was promised beforehand is what is done.

use spurline_judge::COVERAGE;
use spurline_limits::Finding;
use spurline_path::PathError;
use spurline_record::Role;
use spurline_units::{Db, Dbm, Hertz, Watts};

use crate::budget::analyser_budget;
use crate::job::Job;
use crate::model::{Channel, Extent, Modulation, PowerSetting};
use crate::settings::{LineTask, Look, NARROWEST_OF_BURSTS, first_look, span_of, suited, usual_reference};
use crate::way::Way;

/// How a harmonic is approached on this bench.
#[derive(Clone, Debug, PartialEq)]
pub enum Approach {
    /// It cannot be reached, for this reason.
    Beyond(String),
    /// It is looked at so.
    Within {
        /// What is to be read, which further looks are chosen by.
        task: LineTask,
        /// The first look.
        look: Look,
        /// The path's loss at the harmonic.
        path_loss: Db,
    },
}

impl Job {
    /// The orders that are measured.
    pub fn harmonics(&self, extent: Extent) -> impl Iterator<Item = u32> + use<> {
        let highest = match extent {
            Extent::Everything => self.plan.measure.harmonics_up_to,
            Extent::Carrier => 1,
        };
        2..=highest
    }

    /// What the rule says about a harmonic at the lower and at the upper end of the power window.
    #[must_use]
    pub fn findings_over_window(&self, channel: &Channel, power: &PowerSetting, order: u32) -> Vec<Finding> {
        let at = channel.carrier.harmonic(order);
        [power.window.low(), power.window.high()]
            .into_iter()
            .filter_map(|power| self.limit(channel.carrier, power.watts(), at).ok())
            .collect()
    }

    /// The bandwidth that the limit of an emission refers to: the rule's, or where it names none the usual one.
    #[must_use]
    pub fn reference_bandwidth(&self, carrier: Hertz, emission: Hertz) -> Hertz {
        let named = self.limit(carrier, Watts::new(1.0), emission).ok();
        named.and_then(|finding| finding.reference_bandwidth).unwrap_or_else(|| usual_reference(emission))
    }

    /// The carrier's level at the analyser's input by one way, at the upper end of the power window.
    ///
    /// # Errors
    ///
    /// If the path does not cover the carrier.
    pub fn carrier_at_analyser(
        &self,
        way: &Way,
        channel: &Channel,
        power: &PowerSetting,
    ) -> Result<Dbm, PathError> {
        let loss = way.branch.path.loss_at(channel.carrier)?.total;
        Ok(power.window.high().dbm() - loss)
    }

    /// How a harmonic is approached by the way of the harmonics, given what the rule says about it.
    ///
    /// # Errors
    ///
    /// If the path does not cover the carrier.
    pub fn approach(
        &self,
        channel: &Channel,
        power: &PowerSetting,
        order: u32,
        findings: &[Finding],
    ) -> Result<Approach, PathError> {
        let frequency = channel.carrier.harmonic(order);
        let occupied = self.plan.modulation.occupied(order);
        if let Some(why) = self.bench.beyond_analyser(frequency, span_of(occupied) / 2.0) {
            return Ok(Approach::Beyond(why));
        }
        let way = self.harmonics_way();
        let path_loss = match way.branch.path.loss_at(frequency) {
            Ok(loss) => loss.total,
            Err(error) => return Ok(Approach::Beyond(crate::bench::first_line(&error))),
        };
        let strictest = findings.iter().filter_map(Finding::level).reduce(Dbm::min);
        let profile = self.bench.analyser_profile();
        let file = self.instrument(Role::Analyser).profile.source.name();
        let budget = analyser_budget(profile, file, &way.branch.path, &self.plan.unit, frequency, true)?;
        let task = LineTask {
            frequency,
            order,
            carrier_at_input: self.carrier_at_analyser(way, channel, power)?,
            limit_at_input: strictest.map(|limit| limit - path_loss),
            expanded: budget.expanded(COVERAGE),
            occupied,
            narrowest: match self.plan.modulation {
                Modulation::Burst { .. } => NARROWEST_OF_BURSTS,
                Modulation::None | Modulation::Tone { .. } | Modulation::Am { .. } => Hertz::new(0.0),
            },
            reference: findings.iter().filter_map(|finding| finding.reference_bandwidth).reduce(Hertz::min),
            span: None,
        };
        let look = suited(first_look(profile, &task), &self.plan.modulation);
        Ok(Approach::Within { look, task, path_loss })
    }
}
