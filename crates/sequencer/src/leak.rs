//! What reaches the analyser by another way than the unit's connector: the unit is keyed into a load, the path's input
//! is terminated, and the lines that matter are looked for once more.

use spurline_path::PathError;
use spurline_plan::Job;
use spurline_record::{Acquisition, Margin, Outcome, Quantity, Reading, Reason, ReasonCode};

use crate::ambient::{last_look, order_of, shows_line};
use crate::conversion;
use crate::fault::RunFault;
use crate::interlock::Aim;
use crate::line::Unkeyed;
use crate::scope::{Case, Measuring};

/// What such a look is for.
pub(crate) const INTO_THE_LOAD: &str = "into the load";
/// A reading that complies by less than this is looked after as well.
const NEAR_DB: f64 = 6.0;
const NO_WAY: &str = "whether it leaks to the analyser behind the pad was not looked for: the plan names no path \
    that puts the unit on a load (`use: { leaks: … }`)";
const NOT_SEEN: &str = "whether it leaks to the analyser behind the pad was not looked for: a person keys, and with \
    the unit on its load nobody sees whether it is keyed";

impl Measuring<'_, '_> {
    /// Looks after every harmonic of the scope that is near its limit or beyond it.
    pub(crate) async fn look_for_leaks(&mut self, case: &Case<'_>) -> Result<(), RunFault> {
        let suspects: Vec<usize> = self
            .done
            .held
            .iter()
            .enumerate()
            .filter(|(_, held)| matters(held))
            .map(|(place, _)| place)
            .collect();
        let way = match (why_not(self.job), self.job.leak_way()) {
            (None, Some(way)) => way,
            (why, _) => {
                for place in suspects {
                    not_looked_for(&mut self.done.held[place], why.unwrap_or(NO_WAY));
                }
                return Ok(());
            }
        };
        if suspects.is_empty() {
            return Ok(());
        }
        self.switch(case, way).await?;
        let looked = self.keyed_into_the_load(case, &suspects).await;
        self.up_after(looked).await
    }

    async fn keyed_into_the_load(&mut self, case: &Case<'_>, suspects: &[usize]) -> Result<(), RunFault> {
        let way = self.job.leak_way().expect("there is a way, or nothing would be looked for");
        self.wait_and_key(case, way, Aim::Measure).await?;
        self.settle().await?;
        for place in suspects {
            let place = *place;
            let reading = &self.done.held[place];
            let Some(look) = last_look(reading) else { continue };
            let title = reading.title().to_lowercase();
            self.doing(&format!("{title} with the unit on its load"))?;
            let seen = self.keyed_look(INTO_THE_LOAD, &look).await?;
            judge_leak(self.job, &case.channel.name, &mut self.done.held[place], seen)?;
        }
        Ok(())
    }
}

/// Judges a reading by a look with the unit on its load, and keeps that look with it.
pub(crate) fn judge_leak(
    job: &Job,
    channel: &str,
    reading: &mut Reading,
    seen: Acquisition,
) -> Result<(), PathError> {
    let order = order_of(reading).unwrap_or(1);
    // Counted back to the connector as the reading was, though it did not come from there.
    let leak = Unkeyed::like(job, reading, order, &seen)?;
    if reading.level().is_some_and(|level| leak.may_be_part(level)) {
        let text = format!(
            "with the unit on its load and the path terminated, {} is still there: it leaks to the analyser behind the \
             pad, and says nothing about the connector. Look for a loose or single-screened cable",
            leak.level
        );
        reading.outcome = Outcome::Invalid;
        reading.reason = Some(Reason::new(ReasonCode::Leak, text));
    } else if let Some(reason) = leak.leaves_open(reading, conversion::rule(&job.plan)) {
        (reading.outcome, reading.reason) = (Outcome::Undecided, Some(reason));
    } else {
        reading.remarks.push(format!(
            "looked for leaks with the unit on its load, in `{channel}`: {}",
            if leak.is_line { format!("{}, too little to count", leak.level) } else { "none".to_owned() }
        ));
    }
    reading.acquisitions.push(seen);
    Ok(())
}

/// Why nothing is looked for, if so.
pub(crate) fn why_not(job: &Job) -> Option<&'static str> {
    match job.leak_way() {
        None => Some(NO_WAY),
        Some(_) => job.bench.key.is_by_hand().then_some(NOT_SEEN),
    }
}

/// That nothing was looked for, where there is no way to.
pub(crate) fn not_looked_for(reading: &mut Reading, why: &str) {
    if reading.outcome != Outcome::Complies {
        reading.remarks.push(why.to_owned());
    }
}

/// Whether a line is looked for once more with the unit on its load.
pub(crate) fn matters(reading: &Reading) -> bool {
    let open = matches!(reading.outcome, Outcome::Exceeds | Outcome::Undecided);
    let near = reading.margin.and_then(Margin::db).is_some_and(|margin| margin.get() < NEAR_DB);
    matches!(reading.quantity, Quantity::Harmonic | Quantity::Spurious)
        && shows_line(reading)
        && (open || (near && reading.outcome == Outcome::Complies))
}
