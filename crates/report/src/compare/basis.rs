//! What two readings share: as much as cancels in their difference.

use spurline_record::{InstrumentUsed, LaidWay, Reading, Role};

use super::repeat::is_by_meter;
use crate::view::RunView;

/// Why the readings of two runs do not share what would cancel; `None` if they do.
pub(super) fn apart(before: &RunView<'_>, after: &RunView<'_>, reading: &Reading) -> Option<String> {
    if before.header.simulated != after.header.simulated {
        return Some("simulated benches of different seeds are different benches".to_owned());
    }
    let role = if is_by_meter(reading) { Role::PowerMeter } else { Role::Analyser };
    let of = |run: &RunView<'_>| -> Option<InstrumentUsed> {
        run.instruments.iter().find(|instrument| instrument.role == role).cloned()
    };
    match (of(before), of(after)) {
        (Some(one), Some(other)) => {
            let (one, other) = (one.identity, other.identity);
            if (&one.maker, &one.model, &one.serial) != (&other.maker, &other.model, &other.serial) {
                return Some(format!(
                    "the {role} is another one: {} {} before, {} {} now",
                    one.model, one.serial, other.model, other.serial
                ));
            }
        }
        _ => return Some(format!("the record does not say which {role} it was")),
    }
    let calibrated = |run: &RunView<'_>| {
        let of_role = |laid: &&spurline_record::LaidCalibration| laid.role == Some(role);
        run.header.layout.calibrations.iter().find(of_role).and_then(|laid| laid.calibrated)
    };
    if calibrated(before) != calibrated(after) {
        return Some(format!("the {role} was calibrated in between"));
    }
    let way = |run: &RunView<'_>| -> Option<LaidWay> {
        let ways = run.header.layout.ways.iter();
        ways.filter(|way| way.ends_at == role).find(|way| by(way, reading)).cloned()
    };
    let parts = |run: &RunView<'_>| (run.header.layout.common.clone(), way(run).map(|way| way.parts));
    if parts(before) != parts(after) {
        return Some("the path is made of other parts, or was calibrated anew".to_owned());
    }
    None
}

/// Whether a reading passed a way: the one of its path, or the meter's.
fn by(way: &LaidWay, reading: &Reading) -> bool {
    way.ends_at == Role::PowerMeter || way.name == reading.scope.path
}

#[cfg(test)]
mod tests {
    use spurline_record::Identity;

    use crate::compare::change::tests::Bench;

    #[test]
    fn another_analyser_shares_nothing() {
        let (before, mut after) = (Bench::new(), Bench::new());
        let apart =
            |before: &Bench, after: &Bench| super::apart(&before.view(), &after.view(), &after.readings[0]);
        assert_eq!(apart(&before, &after), None);
        after.instruments[0].identity = Identity { serial: "A-2".to_owned(), ..Identity::default() };
        assert!(apart(&before, &after).unwrap().contains("another one"));
        let mut after = Bench::new();
        after.header.simulated = Some(2);
        assert!(apart(&before, &after).unwrap().contains("seeds"));
    }
}
