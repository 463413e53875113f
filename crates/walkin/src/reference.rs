//! The reference radio: whether the bench still shows what it showed when the day began.

use spurline_record::{DayLine, Drift, Outcome, VisitResult};

use crate::day::ReferenceRadio;

/// How each line stands that both measurements have, and that is valid in both: the carrier within the tolerance of what
/// it is known to be, or of what it was; a harmonic within the uncertainty of a reading.
pub(crate) fn drifts(
    reference: &ReferenceRadio,
    before: Option<&VisitResult>,
    now: &VisitResult,
) -> Vec<Drift> {
    let mut drifts = Vec::new();
    for line in now.lines.iter().filter(|line| is_shown(line)) {
        let Some(is) = line.level else { continue };
        let former = before.and_then(|before| before.lines.iter().find(|other| other.order == line.order));
        let was = former.filter(|former| is_shown(former)).and_then(|former| former.level);
        if line.order == 1 {
            let known = reference.carrier.or(was);
            drifts.extend(known.map(|was| Drift { order: 1, was, is, allowed: reference.tolerance }));
        } else if let Some((was, allowed)) = was.zip(line.uncertainty) {
            drifts.push(Drift { order: line.order, was, is, allowed });
        }
    }
    drifts
}

/// Whether a line says how strong it is: neither a bound nor a reading that the method is at fault for.
fn is_shown(line: &DayLine) -> bool {
    !line.bound && line.outcome != Outcome::Invalid
}

/// The same in words; of the look that all later ones are held against as well.
pub(crate) fn words(drifts: &[Drift], is_first: bool) -> String {
    let real: Vec<&Drift> = drifts.iter().filter(|drift| drift.is_real()).collect();
    if drifts.is_empty() && !is_first {
        return "reference radio: measured, but no line of it can be held against what it was: measure it again".to_owned();
    }
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
    use spurline_record::VisitOutcome;
    use spurline_units::{Db, Dbm, Hertz, Seconds};

    use super::*;
    use crate::specimen;

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
        let lines = vec![line(1, carrier, false), line(2, second, false), line(3, -80.0, true)];
        VisitResult { lines, ..specimen::result(VisitOutcome::Complies) }
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
        let told = words(&drifts(&radio(None), Some(&first), &result(35.0, -30.0)), false);
        assert!(told.contains("the carrier by -1.00 dB, 0.50 dB is let pass"), "{told}");
    }

    /// A reading that the method is at fault for shows nothing of the bench, in whichever look it is.
    #[test]
    fn an_invalid_line_is_held_against_nothing() {
        let (good, mut faulty) = (result(36.0, -30.0), result(30.0, -20.0));
        faulty.lines[0].outcome = Outcome::Invalid;
        faulty.lines[1].outcome = Outcome::Invalid;
        assert!(drifts(&radio(None), Some(&good), &faulty).is_empty());
        assert!(drifts(&radio(None), Some(&faulty), &good).is_empty());
        assert!(drifts(&radio(Some(36.0)), Some(&good), &faulty).is_empty());
        assert!(
            !words(&[], false).contains("held against it;") && words(&[], false).contains("measure it again")
        );
        assert!(words(&[], true).contains("later ones are held against it"));
    }
}
