//! What is at the place of a line while the unit's connector gives none: whether a line, and how much of a keyed reading
//! it may have been.
//!
//! The powers of two emissions add, wherever they come from. What was there without the unit is known only as well as
//! the noise lets it be seen: everything at the line's place beyond the mean noise counts, whether or not it stands out.

use spurline_judge::{DecisionRule, Spread, Verdict, judge_upper};
use spurline_path::PathError;
use spurline_plan::{Job, reach};
use spurline_record::{Acquisition, Budget, Floor, Limit, Outcome, Reading, Reason, ReasonCode};
use spurline_units::{Db, Dbm, Hertz};

use super::apparent::{voltage_difference, voltage_sum};
use super::search_width;
use crate::trace::{self, FLOOR_GUARD};

/// A line that is there must be this far below the keyed reading to be no part of it.
const PART_DB: f64 = 10.0;

/// Three standard deviations are no chance, and a filter shared by neighbouring points makes fewer samples of them.
const CHANCE: f64 = 5.0;
/// The standard deviation of one sample of the power of noise: 10 / ln 10.
const OF_NOISE_DB: f64 = 4.342_9;
/// From here on it is no chance however few samples there are.
const ADDED_DB: f64 = 1.0;

/// What a look without the unit's line shows, referred to the connector.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Unkeyed {
    /// The highest point, noise and all.
    pub(crate) level: Dbm,
    /// Whether it stands out of the noise.
    pub(crate) is_line: bool,
    /// What may be there beside the noise.
    most: Option<Dbm>,
    /// The mean of that noise.
    floor: Option<Dbm>,
}

impl Unkeyed {
    /// Where nothing was looked at.
    pub(crate) fn nothing() -> Self {
        Self { level: Dbm::new(-174.0), is_line: false, most: None, floor: None }
    }

    /// At a line of a frequency and an order, `width` wide.
    pub(crate) fn at(
        job: &Job,
        frequency: Hertz,
        order: u32,
        width: Hertz,
        look: &Acquisition,
    ) -> Result<Self, PathError> {
        let settings = &look.settings;
        let loss = job.harmonics_way().branch.path.loss_at(frequency)?.total;
        let mean = trace::mean_power(&look.sweeps);
        let levels = trace::smoothed(&mean, reach(settings));
        let within = search_width(settings, order) + width / 2.0;
        let Some(peak) = trace::peak(&levels, settings, frequency, within) else {
            return Ok(Self::nothing());
        };
        let guard = settings.rbw * FLOOR_GUARD + width / 2.0;
        let floor = trace::floor(&levels, settings, &peak, guard, loss);
        let level = peak.level + loss;
        // Without a floor beside it nothing is known to be noise.
        let in_filter = floor.map_or(Some(level), |floor| less(level, floor.level));
        let bandwidth = settings.rbw * job.bench.analyser_profile().noise.bandwidth;
        let all = trace::integrated(&mean, settings, frequency, within * 2.0, bandwidth);
        let in_width = all.filter(|_| width.get() > 0.0).map(|all| {
            let noise = floor.map(|floor| floor.level + Db::new(10.0 * (within * 2.0 / bandwidth).log10()));
            noise.map_or(Some(all + loss), |noise| less(all + loss, noise))
        });
        let most = match (in_filter, in_width.flatten()) {
            (Some(one), Some(other)) => Some(one.max(other)),
            (one, other) => one.or(other),
        };
        let is_line = floor.is_some_and(|floor| trace::is_clear(&floor));
        Ok(Self { level, is_line, most, floor: floor.map(|floor| floor.level) })
    }

    /// At the place of a reading, in a look with the settings of its last keyed one.
    pub(crate) fn like(
        job: &Job,
        reading: &Reading,
        order: u32,
        look: &Acquisition,
    ) -> Result<Self, PathError> {
        let searched = search_width(&look.settings, order) * 2.0;
        let occupied = reading.proof.width.map_or(Hertz::new(0.0), |width| width - searched);
        Self::at(job, reading.frequency, order, occupied.max(Hertz::new(0.0)), look)
    }

    /// As it is to be held against a reading by other settings: only a line says something there.
    pub(crate) fn as_line(self) -> Self {
        Self { most: self.most.filter(|_| self.is_line), ..self }
    }

    /// Whether it is a line that may be a part of a keyed reading.
    pub(crate) fn may_be_part(&self, level: Dbm) -> bool {
        self.is_line && (level - self.level) < Db::new(PART_DB)
    }

    /// The noise that a keyed look of the same settings has more, in the bandwidth that the limit refers to, for unlike a
    /// line it goes with the bandwidth: the most of it where the two floors differ by more than chance makes of means of
    /// so many samples, `None` where they do not.
    pub(crate) fn added_noise(
        &self,
        job: &Job,
        keyed: &Floor,
        look: &Acquisition,
        reference: Hertz,
    ) -> Option<Dbm> {
        let added = self.added_in_filter(keyed, look)?;
        let bandwidth = look.settings.rbw * job.bench.analyser_profile().noise.bandwidth;
        Some(added + Db::new(10.0 * (reference / bandwidth).log10()))
    }

    fn added_in_filter(&self, keyed: &Floor, look: &Acquisition) -> Option<Dbm> {
        let before = self.floor?;
        let unsure = unsure(keyed, look);
        if keyed.level - before <= Db::new(ADDED_DB).min(unsure * CHANCE) {
            return None;
        }
        less(keyed.level + unsure * 2.0, before)
    }

    /// What is left of a level if all of this is a part of it; `None` if that is nothing.
    pub(crate) fn leaves(&self, level: Dbm) -> Option<Dbm> {
        self.most.map_or(Some(level), |most| less(level, most))
    }

    /// What leaks is the same oscillation as the line: it adds as a voltage, with any sign.
    pub(crate) fn leaves_open(&self, reading: &Reading, rule: DecisionRule) -> Option<Reason> {
        let most = self.most?;
        let level = reading.level()?;
        let (low, high) = (reading.proof.lowest.unwrap_or(level), reading.proof.highest.unwrap_or(level));
        let (least, highest) = (voltage_difference(low, most), voltage_sum(high, most));
        let stands = match reading.outcome {
            Outcome::Exceeds => least.is_some_and(|least| all_are(reading, least, rule, Verdict::Exceeds)),
            Outcome::Complies => all_are(reading, highest, rule, Verdict::Complies),
            _ => true,
        };
        if stands {
            return None;
        }
        let least = least.map_or_else(|| "nothing".to_owned(), |least| least.to_string());
        let text = format!(
            "with the unit on its load up to {most} may be there: what leaks adds to the line or takes from it, and leaves \
             between {least} and {highest}"
        );
        Some(Reason::new(ReasonCode::Leak, text))
    }

    /// A reading that exceeds stays so only if it does without all that may be here; if not, what to tell instead.
    pub(crate) fn takes_back(&self, reading: &Reading, rule: DecisionRule) -> Option<Reason> {
        let figure = reading.figure?;
        let expanded = reading.budget.as_ref()?.expanded_db()?;
        if reading.outcome != Outcome::Exceeds {
            return None;
        }
        let least = if figure.bound { reading.proof.lowest } else { figure.level };
        let left = least.and_then(|least| self.leaves(least));
        if left.is_some_and(|left| all_are(reading, left, rule, Verdict::Exceeds)) {
            return None;
        }
        let there = self.most.unwrap_or(self.level);
        let left = left.map_or_else(|| "nothing".to_owned(), |left| left.to_string());
        let text = format!(
            "up to {there} may be there without the unit, as far as the noise lets it be seen: less that, {left} is left, \
             give or take {}",
            expanded
        );
        Some(Reason::new(ReasonCode::Ambient, text))
    }
}

/// The standard deviation of the difference of two floors, each the mean of this look's samples of noise.
fn unsure(floor: &Floor, look: &Acquisition) -> Db {
    let settings = &look.settings;
    let dwell = settings.sweep_time.get() / f64::from(settings.points);
    let of_point = (settings.rbw.get() * dwell).max(1.0);
    let samples = f64::from(floor.points) * look.sweeps.len().max(1) as f64 * of_point;
    Db::new(OF_NOISE_DB * std::f64::consts::SQRT_2 / samples.sqrt())
}

/// Whether a level comes to the same against every limit of a reading.
fn all_are(reading: &Reading, level: Dbm, rule: DecisionRule, verdict: Verdict) -> bool {
    let expanded = reading.budget.as_ref().and_then(Budget::expanded_db);
    let Some((limit, expanded)) = reading.limit.as_ref().zip(expanded) else { return false };
    let limits = match limit {
        Limit::Upper { level, .. } => std::slice::from_ref(level),
        Limit::Several(levels) => levels.as_slice(),
        Limit::Window { .. } | Limit::Between { .. } => &[],
    };
    let spread = Spread::normal(expanded);
    limits.iter().all(|limit| judge_upper(level, *limit, &spread, rule).verdict == verdict)
}

/// A reading that complies stays so only if it does with the noise that comes with the key; if not, what to tell.
pub(crate) fn with_noise(reading: &Reading, noise: Dbm, rule: DecisionRule) -> Option<Reason> {
    let level = reading.level()?;
    let most = more(reading.proof.highest.unwrap_or(level), noise);
    if reading.outcome != Outcome::Complies || all_are(reading, most, rule, Verdict::Complies) {
        return None;
    }
    let text = format!(
        "the floor rises with the key: as much as {noise} of noise may be in the bandwidth of the limit, {most} with the \
         line"
    );
    Some(Reason::new(ReasonCode::NoiseLike, text))
}

/// One power and another.
pub(super) fn more(one: Dbm, other: Dbm) -> Dbm {
    let share = (other - one).amplitude_ratio().powi(2);
    one + Db::new(10.0 * share.ln_1p() / std::f64::consts::LN_10)
}

/// One power less another; `None` if nothing is left.
fn less(one: Dbm, other: Dbm) -> Option<Dbm> {
    let share = (other - one).amplitude_ratio().powi(2);
    (share < 1.0).then(|| one + Db::new(10.0 * (-share).ln_1p() / std::f64::consts::LN_10))
}

#[cfg(test)]
mod tests {
    use spurline_record::{Sweep, SweepFlags};

    use super::*;
    use crate::trace::specimen;

    /// 10 log10(1 - 0.1) and 10 log10(1 - 0.5) (numpy 2.4.6).
    #[test]
    fn powers_are_taken_from_each_other() {
        let left = less(Dbm::new(-40.0), Dbm::new(-50.0)).unwrap();
        assert!((left.get() - -40.457_575).abs() < 1e-6, "{left:?}");
        let left = less(Dbm::new(-40.0), Dbm::new(-43.010_3)).unwrap();
        assert!((left.get() - -43.010_3).abs() < 1e-6, "{left:?}");
        assert_eq!(less(Dbm::new(-40.0), Dbm::new(-40.0)), None);
        assert_eq!(less(Dbm::new(-40.0), Dbm::new(-30.0)), None);
    }

    fn look(sweeps: usize) -> Acquisition {
        Acquisition {
            purpose: "harmonic".to_owned(),
            at: jiff::Timestamp::UNIX_EPOCH,
            keyed: true,
            settings: specimen(401, 300e3, 1e3),
            sweeps: vec![Sweep { levels: Vec::new() }; sweeps],
            marker: None,
            flags: SweepFlags::default(),
        }
    }

    fn floor(level: f64) -> Floor {
        Floor { level: Dbm::new(level), distance: Db::new(0.0), height: Db::new(1.0), points: 300 }
    }

    /// By hand: 300 points of 5 sweeps with one sample each are 1500; 4.3429 dB x sqrt(2 / 1500) is 0.1586 dB.
    #[test]
    fn more_samples_leave_less_to_chance() {
        assert!((unsure(&floor(-90.0), &look(5)).get() - 0.158_6).abs() < 1e-4);
        assert!((unsure(&floor(-90.0), &look(20)).get() - 0.079_3).abs() < 1e-4);
    }

    /// Twice the power is 3.0103 dB; of that one part is the unit's, or a little more: what chance leaves is added.
    #[test]
    fn a_floor_that_rises_with_the_key_is_the_units() {
        let before = Unkeyed { floor: Some(Dbm::new(-90.0)), ..Unkeyed::nothing() };
        let added = before.added_in_filter(&floor(-90.0 + 3.010_3), &look(1_000_000)).unwrap();
        assert!((added.get() - -90.0).abs() < 2e-3, "{added:?}");
        assert!(before.added_in_filter(&floor(-90.0 + 3.010_3), &look(5)).unwrap() > added);
        // 0.9 dB is chance after one sweep, and none after five.
        assert_eq!(before.added_in_filter(&floor(-89.1), &look(1)), None);
        assert!(before.added_in_filter(&floor(-89.1), &look(5)).is_some());
        assert_eq!(Unkeyed::nothing().added_in_filter(&floor(-50.0), &look(5)), None);
        let half = less(Dbm::new(-90.0 + 3.010_3), Dbm::new(-90.0)).unwrap();
        assert!((half.get() - -90.0).abs() < 1e-4, "{half:?}");
        assert!((more(half, Dbm::new(-90.0)).get() - -86.989_7).abs() < 1e-3);
    }

    #[test]
    fn a_line_ten_decibels_below_is_no_part() {
        let there =
            |is_line| Unkeyed { level: Dbm::new(-50.0), is_line, most: Some(Dbm::new(-51.0)), floor: None };
        assert!(there(true).may_be_part(Dbm::new(-40.1)));
        assert!(!there(true).may_be_part(Dbm::new(-40.0)));
        assert!(!there(false).may_be_part(Dbm::new(-55.0)));
        assert_eq!(there(true).leaves(Dbm::new(-52.0)), None);
    }
}
