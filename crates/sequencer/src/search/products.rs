//! Whether a line may be a product of two lines in the analyser's own mixer: sums, differences and third order.

use spurline_path::PathError;
use spurline_plan::Job;
use spurline_profile::{Intercepts, Limits};
use spurline_units::{Dbm, Hertz};

use crate::line::{Own, Product};
use crate::possible::MeasuredCarrier;

/// What the analyser may make at a frequency of a carrier as strong as it can be, and of other lines at its input, which
/// are known as well as a sweep shows them.
pub(super) fn of_carrier(
    job: &Job,
    carrier: &MeasuredCarrier,
    others: &[(Hertz, Dbm)],
    at: Hertz,
    within: Hertz,
) -> Result<Own, PathError> {
    let path = &job.harmonics_way().branch.path;
    let by_table = carrier.level - path.loss_at(carrier.nominal)?.total;
    let at_input = carrier.at_analyser.map_or(by_table, |seen| seen.max(by_table)) + carrier.expanded();
    let limits = &job.bench.analyser_profile().limits;
    Ok(own(limits, (carrier.nominal, at_input), others, at, within))
}

/// What the analyser may make at a frequency of a carrier and of other lines, all by their levels at its input; lines
/// are known to `within`.
fn own(limits: &Limits, carrier: (Hertz, Dbm), others: &[(Hertz, Dbm)], at: Hertz, within: Hertz) -> Own {
    let mut found: Option<(u32, f64)> = None;
    let mut note = |order: u32, frequency: f64, level: Dbm| {
        if (frequency.abs() - at.get()).abs() <= within.get() * f64::from(order) {
            let more = found.is_none_or(|(_, known)| level.get() > known);
            found = if more { Some((order, level.get())) } else { found };
        }
    };
    let (f0, p0) = (carrier.0.get(), carrier.1);
    // Levels are those at the input, without attenuation.
    let made = spurline_plan::intercepts(limits);
    // A line is no product of itself.
    for (frequency, level) in
        others.iter().filter(|(frequency, _)| (*frequency - at).get().abs() > within.get())
    {
        let (f, p) = (frequency.get(), *level);
        for sign in [1.0, -1.0] {
            note(2, f0 + sign * f, made.second_order(p0, p));
            note(3, 2.0 * f0 + sign * f, made.third_order(p0, p));
            note(3, 2.0 * f + sign * f0, made.third_order(p, p0));
        }
        note(2, 2.0 * f, made.product(2, p));
    }
    let guaranteed = matches!(limits.intercepts, Intercepts::Guaranteed);
    found.map_or(Own::Nothing, |(order, level)| {
        Own::Product(Product { order, at_most: guaranteed.then(|| Dbm::new(level)) })
    })
}

#[cfg(test)]
mod tests {
    use spurline_units::Vswr;

    use super::*;

    /// Closed forms: -10 and -30 dBm with an intercept of 45 dBm make -10 - 30 - 45 + 6.02 = -78.98 dBm at their sum; with
    /// 15 dBm twice the first and once the other make -20 - 30 - 30 = -80 dBm.
    #[test]
    fn sums_and_third_order_are_known() {
        let limits = Limits {
            second_intercept: Dbm::new(45.0),
            third_intercept: Dbm::new(15.0),
            linear_to: Dbm::new(-10.0),
            damage: Dbm::new(30.0),
            vswr: Vswr::new(1.5).unwrap(),
            intercepts: Intercepts::Guaranteed,
        };
        let carrier = (Hertz::from_mhz(145.0), Dbm::new(-10.0));
        let others = [(Hertz::from_mhz(26.0), Dbm::new(-30.0))];
        let at = |mhz: f64| own(&limits, carrier, &others, Hertz::from_mhz(mhz), Hertz::new(10e3));
        let level = |own: Own| match own {
            Own::Product(Product { at_most: Some(level), order }) => {
                (order, (level.get() * 100.0).round() / 100.0)
            }
            other => panic!("{other:?}"),
        };
        assert_eq!(level(at(171.0)), (2, -78.98));
        assert_eq!(level(at(119.0)), (2, -78.98));
        assert_eq!(level(at(264.0)), (3, -80.0));
        assert_eq!(at(300.0), Own::Nothing);
        assert_eq!(at(26.0), Own::Nothing);
        let typical = Limits { intercepts: Intercepts::Typical, ..limits };
        let found = own(&typical, carrier, &others, Hertz::from_mhz(171.0), Hertz::new(10e3));
        assert_eq!(found, Own::Product(Product { order: 2, at_most: None }));
    }
}
