//! A test day on a bench of a service: lines go in by its door, verdicts and slips come out.

#![expect(clippy::unwrap_used, reason = "a test that cannot go on")]

mod workshop;

use std::path::Path;
use std::time::Duration;

use spurline_clock::{Clock, Pace, run};
use spurline_daemon::door::Seen;
use spurline_daemon::queue::Wanted;
use spurline_daemon::{AskError, Service};

use workshop::Workshop;

/// Waits until what is to be seen is as it should be.
async fn until(service: &Service, clock: Clock, what: impl Fn(&Seen) -> bool) -> Seen {
    for _ in 0..3000 {
        let seen = service.door("door").unwrap().seen();
        if what(&seen) {
            return seen;
        }
        clock.sleep(Duration::from_millis(10)).await;
    }
    panic!("it did not come to that: {:#?}", service.door("door").unwrap().seen());
}

#[test]
fn a_day_is_held_on_a_bench_of_a_service() {
    let workshop = Workshop::new();
    let config = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../config");
    let read = |name: &str| std::fs::read_to_string(config.join(name)).unwrap();
    workshop.write("door.yaml", &read("benches/walk-in.yaml"));
    workshop.write("day.yaml", &read("days/demo.yaml").replace("../benches/walk-in.yaml", "door.yaml"));
    let mut configuration = workshop.configuration(&["door"]);
    configuration.benches[0].day = Some(workshop.path("day.yaml"));
    let record = workshop.record();
    run(Pace::Real, |clock| async move {
        let service = Service::begin(configuration, record, clock).unwrap();
        let waits = |seen: &Seen| !seen.measuring && !seen.asks.is_empty();
        let seen = until(&service, clock, waits).await;
        assert!(
            seen.title.starts_with("Demonstration day") && seen.asks[0].starts_with("reference radio due")
        );
        for (line, word) in [("X1ABC W-0001", "COMPLIES"), ("W-0002", "EXCEEDS"), ("W-0004", "REFUSED")] {
            service.typed("door", line).unwrap();
            let came = |seen: &Seen| {
                waits(seen) && seen.verdict.as_ref().is_some_and(|verdict| verdict.word == word)
            };
            let seen = until(&service, clock, came).await;
            assert!(seen.slip.unwrap().contains("INDICATIVE, NOT A CERTIFICATION"));
            assert!(seen.telling.is_none());
        }
        let seen = service.door("door").unwrap().seen();
        assert_eq!(seen.visits.len(), 3);
        assert_eq!(seen.visits[2][..4].iter().skip(2).collect::<Vec<_>>(), ["X1ABC, W-0001", "complies"]);
        assert!(seen.counts.contains("3 visits: 1 complies, 1 exceeds, 1 refused"), "{}", seen.counts);
        // It works off no queue, and another bench has no door.
        let wanted = Wanted {
            bench: "door".to_owned(),
            plan: "short".to_owned(),
            unit: None,
            firmware: None,
            goes_on: None,
            by: "a test".to_owned(),
        };
        assert!(matches!(service.ask(&wanted), Err(AskError::HoldsDay(_))));
        assert!(matches!(service.typed("other", "x"), Err(AskError::NoBench(_))));
        assert!(matches!(service.typed("door", "x\u{1b}[2J"), Err(AskError::Text { .. })));
        assert!(service.end(Duration::from_secs(10)).await.is_empty());
    })
    .unwrap();
}
