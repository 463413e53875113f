//! The reference radio: whether the bench still shows what it showed when the day began.

use spurline_record::{Drift, VisitResult};

use crate::day::ReferenceRadio;

/// How each line stands that both measurements have: the carrier within the tolerance of what it is known to be, or of what
/// it was; a harmonic within the uncertainty of a reading.
pub(crate) fn drifts(
    reference: &ReferenceRadio,
    before: Option<&VisitResult>,
    now: &VisitResult,
) -> Vec<Drift> {
    let mut drifts = Vec::new();
    for line in now.lines.iter().filter(|line| !line.bound) {
        let Some(is) = line.level else { continue };
        let former = before.and_then(|before| before.lines.iter().find(|other| other.order == line.order));
        let was = former.filter(|former| !former.bound).and_then(|former| former.level);
        if line.order == 1 {
            let known = reference.carrier.or(was);
            drifts.extend(known.map(|was| Drift { order: 1, was, is, allowed: reference.tolerance }));
        } else if let Some((was, allowed)) = was.zip(line.uncertainty) {
            drifts.push(Drift { order: line.order, was, is, allowed });
        }
    }
    drifts
}

/// The same in words.
pub(crate) fn words(drifts: &[Drift]) -> String {
    let real: Vec<&Drift> = drifts.iter().filter(|drift| drift.is_real()).collect();
    if drifts.is_empty() {
        return "reference radio: measured; later ones are held against it".to_owned();
    }
    if real.is_empty() {
        let most = drifts.iter().map(|drift| drift.by().get().abs()).fold(0.0, f64::max);
        return format!(
            "reference radio: as it was, within {most:.2} dB in {} line{}",
            drifts.len(),
            if drifts.len() == 1 { "" } else { "s" }
        );
    }
    let lines: Vec<String> = real
        .iter()
        .map(|drift| {
            let what =
                if drift.order == 1 { "the carrier".to_owned() } else { format!("harmonic {}", drift.order) };
            format!("{what} by {:+.2} dB, {:.2} dB is let pass", drift.by().get(), drift.allowed.get())
        })
        .collect();
    format!(
        "REFERENCE RADIO HAS DRIFTED: {}. Look for a loose connector or a warm pad, then measure it again",
        lines.join("; ")
    )
}

#[cfg(test)]
mod tests {
    use spurline_record::{DayLine, Outcome, VisitOutcome};
    use spurline_units::{Db, Dbm, Hertz, Seconds};

    use super::*;

    fn result(carrier: f64, second: f64) -> VisitResult {
        let line = |order: u32, level: f64, bound: bool| DayLine {
            order,
            frequency: Hertz::from_mhz(145.0 * f64::from(order)),
            level: Some(Dbm::new(level)),
            bound,
            limit: None,
            margin: None,
            uncertainty: Some(Db::new(1.5)),
            outcome: Outcome::Complies,
        };
        VisitResult {
            outcome: VisitOutcome::Complies,
            run: None,
            carrier: None,
            lines: vec![line(1, carrier, false), line(2, second, false), line(3, -80.0, true)],
            why: None,
            seconds: 1.0,
            reference_overdue: false,
            keyed: 0.0,
        }
    }

    fn radio(carrier: Option<f64>) -> ReferenceRadio {
        ReferenceRadio {
            tag: "REF".to_owned(),
            every: Seconds::new(3600.0),
            carrier: carrier.map(Dbm::new),
            tolerance: Db::new(0.5),
        }
    }

    #[test]
    fn a_drift_is_what_is_beyond_what_is_let_pass() {
        let first = result(36.0, -30.0);
        assert!(drifts(&radio(None), None, &first).is_empty());
        let real = |now: &VisitResult, known| {
            let drifts = drifts(&radio(known), Some(&first), now);
            drifts.iter().filter(|drift| drift.is_real()).map(|drift| drift.order).collect::<Vec<_>>()
        };
        assert!(real(&result(36.5, -31.5), None).is_empty());
        assert_eq!(real(&result(35.4, -31.6), None), [1, 2]);
        assert_eq!(real(&result(36.0, -30.0), Some(37.0)), [1], "what it is known to be comes first");
        let told = words(&drifts(&radio(None), Some(&first), &result(35.0, -30.0)));
        assert!(told.contains("the carrier by -1.00 dB, 0.50 dB is let pass"), "{told}");
    }
}
