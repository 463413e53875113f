//! The part of an uncertainty budget that is known before anything is measured.
//!
//! Every line names the file and key that its figure came from; the lines that only a measurement can give are
//! added to it later.

use spurline_judge::{Budget, Contribution, Distribution, HertzBudget};
use spurline_path::{Path, PathError, Reflection, Stated, Termination};
use spurline_profile::{AnalyserProfile, MeterProfile, Specification};
use spurline_units::{Db, Dbm, Hertz, Vswr, Watts};

use crate::model::Unit;

/// Certificates state expanded uncertainties with this factor.
const CERTIFICATE: f64 = 2.0;

/// The budget of a level read with the analyser.
///
/// # Errors
///
/// If the path does not cover the frequency.
pub fn analyser_budget(
    profile: &AnalyserProfile,
    file: &str,
    path: &Path,
    unit: &Unit,
    frequency: Hertz,
    off_carrier: bool,
) -> Result<Budget, PathError> {
    let mut lines: Vec<Contribution> = profile.accuracy.iter().map(stated).collect();
    let end = termination("analyser", profile.limits.vswr, format!("{file}: limits.vswr"));
    add_path(&mut lines, path, unit, frequency, off_carrier, &end)?;
    Ok(Budget { lines })
}

/// The budget of a power read with the power meter, which shows `at_sensor`.
///
/// # Errors
///
/// If the path does not cover the frequency.
pub fn meter_budget(
    profile: &MeterProfile,
    file: &str,
    path: &Path,
    unit: &Unit,
    frequency: Hertz,
    at_sensor: Dbm,
) -> Result<Budget, PathError> {
    let mut lines: Vec<Contribution> = profile.accuracy.iter().map(stated).collect();
    lines.push(Contribution::new(
        "power meter: zero",
        zero_in_db(profile.zero, at_sensor.to_watts()),
        Distribution::Rectangular,
        profile.zero_source.clone(),
    ));
    let end = termination("power meter", profile.vswr, format!("{file}: limits.vswr"));
    add_path(&mut lines, path, unit, frequency, false, &end)?;
    Ok(Budget { lines })
}

/// The budget of analyser minus meter for the same carrier: what both share cancels.
#[must_use]
pub fn difference_budget(analyser: &Budget, meter: &Budget) -> Budget {
    // The same part of the path, read from the same key of the same file, is the same error in both.
    analyser.of_difference(meter, |line| line.name.starts_with("path: "))
}

/// The budget of one level over another, both read with the analyser by the same path near the same frequency: all that
/// stays is the scale between them, and with `switched` bandwidths what these differ by.
#[must_use]
pub fn ratio_budget(profile: &AnalyserProfile, switched: bool) -> Budget {
    let keys = ["scale_fidelity", "bandwidth_switching"];
    let keys = if switched { &keys[..] } else { &keys[..1] };
    Budget { lines: keys.iter().filter_map(|key| profile.accuracy_of(key)).map(stated).collect() }
}

/// How far all frequencies of the analyser may be off at one of them; `None` where nobody states it.
#[must_use]
pub fn frequency_budget(profile: &AnalyserProfile, frequency: Hertz) -> Option<HertzBudget> {
    let reference = profile.reference.as_ref()?;
    Some(HertzBudget::default().with(
        "analyser: frequency reference",
        frequency * reference.within.get(),
        spread_as(reference.distribution),
        reference.source.clone(),
    ))
}

/// A figure of a data sheet as a line of a budget.
#[must_use]
pub fn stated(figure: &Specification) -> Contribution {
    let distribution = spread_as(figure.distribution);
    Contribution::new(figure.name.clone(), figure.value, distribution, figure.source.clone())
}

fn spread_as(distribution: spurline_profile::Distribution) -> Distribution {
    match distribution {
        spurline_profile::Distribution::Normal => Distribution::Normal { k: CERTIFICATE },
        spurline_profile::Distribution::Rectangular => Distribution::Rectangular,
        spurline_profile::Distribution::UShaped => Distribution::UShaped,
    }
}

/// What a meter may show without power, in dB of what it shows.
pub(crate) fn zero_in_db(zero: Watts, shown: Watts) -> Db {
    Db::new(10.0 * (zero / shown).ln_1p() / std::f64::consts::LN_10)
}

fn termination(name: &str, vswr: Vswr, source: String) -> Termination {
    Termination { name: name.to_owned(), reflection: Stated::new(Reflection::from_vswr(vswr), source) }
}

fn add_path(
    lines: &mut Vec<Contribution>,
    path: &Path,
    unit: &Unit,
    frequency: Hertz,
    off_carrier: bool,
    instrument: &Termination,
) -> Result<(), PathError> {
    for part in path.loss_at(frequency)?.parts {
        lines.push(Contribution::new(
            format!("path: {}", part.name),
            part.uncertainty,
            Distribution::Normal { k: CERTIFICATE },
            part.source,
        ));
    }
    let (magnitude, source) = if off_carrier { &unit.reflection_off_carrier } else { &unit.reflection };
    let transmitter = Reflection::new(*magnitude)
        .map(|value| Termination { name: "unit".to_owned(), reflection: Stated::new(value, source.clone()) });
    for interface in path.interfaces_at(frequency, transmitter.as_ref(), Some(instrument))? {
        let name = format!("mismatch: {} to {}", interface.left, interface.right);
        lines.push(Contribution::mismatch(name, interface.mismatch.above(), interface.source));
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// numpy 2.4.6: 10 log10(1 + 50 nW / 1 uW) and the same at 100 nW, -30 and -40 dBm at the sensor.
    #[test]
    fn a_zero_error_weighs_more_the_less_there_is() {
        for (level, expected) in [(-30.0, 0.211_893), (-40.0, 1.760_913)] {
            let found = zero_in_db(Watts::new(50e-9), Dbm::new(level).to_watts()).get();
            assert!((found - expected).abs() < 1e-6, "{level} dBm: {found}");
        }
    }
}
