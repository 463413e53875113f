//! What is wrong with an analyser's levels: drawn from what is stated of them, and always the same on one bench.

use spurline_clock::Moment;
use spurline_units::{Db, Dbm, Hertz};

use super::super::fidelity::Fidelity;
use super::settings::Settings;
use crate::bench::{AnalyserTruth, ResponseTruth, Stated};
use crate::draw::Seed;
use crate::drawn::SmoothError;
use crate::physics::response::Response;

/// All errors of one analyser.
#[derive(Debug)]
pub(super) struct Errors {
    seed: Seed,
    level: Db,
    response: Over,
    attenuator: Stated,
    bandwidth: Option<Stated>,
    fidelity: Option<Fidelity>,
    /// In an hour.
    drift: Db,
    /// When it was aligned, or at first looked at.
    aligned: Option<Moment>,
}

/// An error over frequency.
#[derive(Debug)]
enum Over {
    Spread(Response),
    Stated(SmoothError),
}

/// The response that is drawn with a spread is flat by definition here.
const RESPONSE_REFERENCE: f64 = 50e6;
const HOUR: f64 = 3600.0;

impl Errors {
    pub(super) fn draw(truth: &AnalyserTruth, seed: Seed) -> Self {
        let errors = &truth.errors;
        let purpose = "analyser response";
        Self {
            seed,
            level: truth.level_error.unwrap_or_else(|| errors.level.at(seed.normal("analyser level"))),
            response: match errors.response {
                ResponseTruth::Spread(spread) => {
                    Over::Spread(Response::draw(seed, purpose, spread, Hertz::new(RESPONSE_REFERENCE)))
                }
                ResponseTruth::Stated(stated) => Over::Stated(SmoothError::draw(seed, purpose, stated)),
            },
            attenuator: errors.attenuator,
            bandwidth: errors.bandwidth,
            fidelity: errors.fidelity.map(|stated| Fidelity::draw(seed, "analyser scale", stated)),
            drift: truth.drift,
            aligned: None,
        }
    }

    /// Notes that the analyser is on.
    pub(super) fn begin(&mut self, now: Moment) {
        self.aligned.get_or_insert(now);
    }

    /// Takes the drift back.
    pub(super) fn align(&mut self, now: Moment) {
        self.aligned = Some(now);
    }

    /// The error of all lines with these settings at a moment.
    pub(super) fn of_settings(&self, settings: &Settings, at: Moment) -> Db {
        let hours = self.aligned.map_or(0.0, |since| at.since(since).as_secs_f64() / HOUR);
        self.level
            + self.attenuator(settings.attenuation())
            + self.bandwidth(settings.rbw())
            + self.drift * hours
    }

    /// That of a line because of its frequency.
    pub(super) fn of_frequency(&self, frequency: Hertz) -> Db {
        match &self.response {
            Over::Spread(response) => response.at(frequency),
            Over::Stated(error) => error.at(frequency),
        }
    }

    /// A level in dBm as the scale shows it.
    pub(super) fn on_scale(&self, level: f64, settings: &Settings) -> f64 {
        let Some(fidelity) = &self.fidelity else { return level };
        level + fidelity.at(settings.reference_level() - Dbm::new(level)).get()
    }

    /// Each setting of the attenuator has an error of its own, always the same.
    fn attenuator(&self, attenuation: f64) -> Db {
        self.attenuator.at(self.seed.normal(&format!("analyser attenuator {attenuation:.0} dB")))
    }

    /// And so has each resolution bandwidth.
    fn bandwidth(&self, rbw: f64) -> Db {
        let error = |stated: Stated| stated.at(self.seed.normal(&format!("analyser bandwidth {rbw:.0} Hz")));
        self.bandwidth.map_or(Db::new(0.0), error)
    }
}

#[cfg(test)]
mod tests;
