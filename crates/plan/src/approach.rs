//! How a harmonic is approached: what the rule allows, and with which settings the analyser looks.
//!
//! The forecast and the run ask here, so that what was promised beforehand is what is done.

use spurline_limits::Finding;
use spurline_path::PathError;
use spurline_units::{Db, Dbm};

use crate::job::Job;
use crate::model::{Channel, PowerSetting};
use crate::settings::{LINE_SPAN, Look, line_look};
use crate::way::Way;

/// How a harmonic is approached on this bench.
#[derive(Clone, Debug, PartialEq)]
pub enum Approach {
    /// It cannot be reached, for this reason.
    Beyond(String),
    /// It is looked at so.
    Within {
        /// The look.
        look: Look,
        /// The path's loss at the harmonic.
        path_loss: Db,
    },
}

impl Job {
    /// What the rule says about a harmonic at the lower and at the upper end of the power window.
    #[must_use]
    pub fn findings_over_window(&self, channel: &Channel, power: &PowerSetting, order: u32) -> Vec<Finding> {
        let at = channel.carrier.harmonic(order);
        [power.window.low(), power.window.high()]
            .into_iter()
            .filter_map(|power| self.limit(channel.carrier, power.watts(), at).ok())
            .collect()
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
        if let Some(why) = self.bench.beyond_analyser(frequency, LINE_SPAN / 2.0) {
            return Ok(Approach::Beyond(why));
        }
        let way = self.harmonics_way();
        let path_loss = match way.branch.path.loss_at(frequency) {
            Ok(loss) => loss.total,
            Err(error) => return Ok(Approach::Beyond(crate::bench::first_line(&error))),
        };
        let strictest = findings.iter().filter_map(Finding::level).reduce(Dbm::min);
        let carrier = self.carrier_at_analyser(way, channel, power)?;
        let limit = strictest.map(|limit| limit - path_loss);
        let look = line_look(self.bench.analyser_profile(), frequency, order, carrier, limit);
        Ok(Approach::Within { look, path_loss })
    }
}
