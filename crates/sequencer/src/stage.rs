//! What stages that belong to no channel and power setting share: a state to come from, and how a level is judged.

use spurline_judge::Budget;
use spurline_path::{Path, PathError};
use spurline_plan::{Ceiling, Extent, Job, Way, analyser_budget};
use spurline_record::{
    Acquisition, Correction, Figure, Limit, Outcome, Reading, Reason, ReasonCode, Role, Sweep, Unit,
};
use spurline_units::{Db, Dbm, Hertz, Watts};

use crate::conversion;
use crate::fault::RunFault;
use crate::possible;
use crate::scope::{Case, Measuring};

/// A point of a look, counted back to the connector.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Place {
    pub(crate) frequency: Hertz,
    /// At the analyser's input.
    pub(crate) raw: Dbm,
    pub(crate) level: Dbm,
    pub(crate) point: u32,
    /// How far it may lie beside that, by its filter and its points.
    pub(crate) unsure: Hertz,
}

impl<'a> Measuring<'a, '_> {
    /// The first channel at its first power setting, with the first supply: a state that the plan allows.
    pub(crate) fn home(&self) -> Case<'a> {
        let plan = &self.job.plan;
        let channel = plan.channels.first().expect("a plan has a channel");
        let power = channel.powers.first().expect("a channel has a power setting");
        let supply = plan.supplies.first().map(|supply| supply.name.clone());
        Case { channel, power, supply, extent: Extent::Everything }
    }

    /// Feeds the unit as the first supply of the plan says.
    pub(crate) async fn feed_home(&mut self) -> Result<(), RunFault> {
        let job = self.job;
        match job.plan.supplies.first() {
            Some(setting) => self.rack.feed(setting).await,
            None => Ok(()),
        }
    }

    /// Brings unit and bench into the home state on a way, for what is done next; the carrier that is there although
    /// nothing is keyed, if one is.
    pub(crate) async fn go_home(
        &mut self,
        place: String,
        way: &Way,
    ) -> Result<Option<(Dbm, Acquisition)>, RunFault> {
        self.place = place;
        self.tap.step(&self.place);
        self.rack.check().await?;
        self.feed_home().await?;
        let home = self.home();
        self.rack.unit.tune(home.channel.carrier, &home.power.name).await?;
        self.switch(&home, way).await?;
        self.carrier_before_key(&home, way).await
    }
}

impl Place {
    /// Where it is, for people: no finer than the sweep tells it.
    pub(crate) fn about(&self) -> Hertz {
        let step = 10f64.powf(self.unsure.get().max(1.0).log10().floor());
        Hertz::new((self.frequency.get() / step).round() * step)
    }

    /// A point of a look with the level that is read there.
    pub(crate) fn of(way: &Way, look: &Acquisition, point: usize, raw: f64) -> Result<Self, PathError> {
        let frequency = look.settings.frequency_of(point);
        let raw = Dbm::new(raw);
        let level = raw + way.branch.path.loss_at(frequency)?.total;
        let unsure = look.settings.rbw.max(look.settings.spacing());
        Ok(Self { frequency, raw, level, point: point as u32, unsure })
    }
}

/// The highest of all sweeps at each point.
pub(crate) fn held(sweeps: &[Sweep]) -> Vec<f64> {
    let points = sweeps.first().map_or(0, |sweep| sweep.levels.len());
    (0..points)
        .map(|point| sweeps.iter().map(|sweep| f64::from(sweep.levels[point])).fold(f64::MIN, f64::max))
        .collect()
}

/// What is uncertain of a level that the analyser reads by a way.
pub(crate) fn budget_at(
    job: &Job,
    way: &Way,
    frequency: Hertz,
    off_carrier: bool,
) -> Result<Budget, RunFault> {
    let file = job.instrument(Role::Analyser).profile.source.name();
    let profile = job.bench.analyser_profile();
    Ok(analyser_budget(profile, file, &way.branch.path, &job.plan.unit, frequency, off_carrier)?)
}

/// Writes what is let pass at a frequency into a reading, with where it comes from. Where there is no number the
/// reading is settled by that.
pub(crate) fn put_limit(
    reading: &mut Reading,
    ceiling: &Ceiling,
    power: Watts,
    frequency: Hertz,
) -> Option<Dbm> {
    let carrier = reading.scope.carrier;
    let limit = ceiling.at(carrier, power, frequency);
    reading.limit = limit.map(|level| Limit::Upper { level, below_carrier: None });
    reading.derivation = ceiling.derivation(carrier, power, frequency);
    if limit.is_none() {
        let verdict = ceiling.finding(carrier, power, frequency).map(|finding| finding.verdict);
        let settled = verdict.as_ref().and_then(possible::settled);
        let several = || {
            let text = "the rule leaves several limits possible here";
            (Outcome::Undecided, Reason::new(ReasonCode::BranchesDisagree, text))
        };
        let (outcome, reason) = settled.unwrap_or_else(several);
        (reading.outcome, reading.reason) = (outcome, Some(reason));
    }
    limit
}

/// The figure of a reading with all that is behind it.
pub(crate) fn fill(
    reading: &mut Reading,
    way: &Way,
    place: &Place,
    budget: &Budget,
    bound: bool,
) -> Result<(), PathError> {
    let (level, correction) = corrected(place.raw, &way.branch.path, place.frequency)?;
    reading.figure = Some(Figure { value: level.get(), unit: Unit::Dbm, level: Some(level), bound });
    reading.correction = Some(correction);
    reading.budget = Some(conversion::budget(budget));
    reading.proof.peak_point = Some(place.point);
    Ok(())
}

/// A raw level, counted back to the connector.
fn corrected(raw: Dbm, path: &Path, frequency: Hertz) -> Result<(Dbm, Correction), PathError> {
    let loss = path.loss_at(frequency)?;
    let path = loss.parts.into_iter().map(|part| (part.name, part.loss)).collect();
    Ok((raw + loss.total, Correction { raw, path, path_loss: loss.total, noise: Db::new(0.0) }))
}
