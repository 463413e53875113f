//! A test day on a bench of a service: lines go in by its door, verdicts and slips come out.

#![expect(clippy::unwrap_used, reason = "a test that cannot go on")]

mod workshop;

use std::path::Path;
use std::time::Duration;

use spurline_clock::{Clock, Pace, run};
use spurline_daemon::door::{Seen, Telling};
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
        // The day so far is shown where somebody asks for it, and nobody ends it here.
        service.typed("door", "d").unwrap();
        let seen = until(&service, clock, |seen| waits(seen) && seen.day.is_some()).await;
        assert!(seen.day.unwrap().contains("3 visits: 1 complies, 1 exceeds, 1 refused"));
        service.typed("door", "quit").unwrap();
        let told = |seen: &Seen| seen.words.iter().any(|word| word.contains("the page does not end the day"));
        let seen = until(&service, clock, |seen| waits(seen) && told(seen)).await;
        assert!(seen.day.is_none() && !seen.is_over);
        // A look at the reference radio is no visit.
        service.typed("door", "REF-1").unwrap();
        let looked = |seen: &Seen| seen.counts.contains("3 visits and 1 look at the reference radio");
        until(&service, clock, |seen| waits(seen) && looked(seen)).await;
        let metrics = service.metrics().unwrap();
        for line in [
            "spurline_visits_total{bench=\"door\",outcome=\"complies\"} 1",
            "spurline_visits_total{bench=\"door\",outcome=\"refused\"} 1",
            "spurline_runs_total{bench=\"door\",ended=\"done\",outcome=\"exceeds\"} 1",
            "spurline_readings_total{bench=\"door\",outcome=\"exceeds\"} 1",
            // Two key-downs of each that was measured, the reference radio among them, one of the one that was refused.
            "spurline_key_downs_total{bench=\"door\"} 7",
        ] {
            assert!(metrics.lines().any(|found| found == line), "{line}\n{metrics}");
        }
        let keyed = metrics
            .lines()
            .find_map(|line| line.strip_prefix("spurline_keyed_seconds_total{bench=\"door\"} "));
        let keyed: f64 = keyed.unwrap().parse().unwrap();
        assert!((6.0..20.0).contains(&keyed), "{keyed}");
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

/// A thumb that does not let go: the page says so until somebody has seen to it, and nobody else is told to key.
#[test]
fn a_carrier_that_stays_is_seen_until_somebody_says_that_it_is_gone() {
    let workshop = Workshop::new();
    let config = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../config");
    let read = |name: &str| std::fs::read_to_string(config.join(name)).unwrap();
    let jams = "harmonics: { 2: 72 dB, 3: 74 dB, 4: 82 dB }";
    let bench = read("benches/walk-in.yaml");
    assert!(bench.contains(jams));
    workshop.write("door.yaml", &bench.replace(jams, "hand: { lets_go: false }"));
    workshop.write("day.yaml", &read("days/demo.yaml").replace("../benches/walk-in.yaml", "door.yaml"));
    let mut configuration = workshop.configuration(&["door"]);
    configuration.benches[0].day = Some(workshop.path("day.yaml"));
    let record = workshop.record();
    run(Pace::Real, |clock| async move {
        let again = (configuration.clone(), record.clone());
        let service = Service::begin(configuration, record, clock).unwrap();
        let key_down = || service.benches().iter().find(|b| b.at.name == "door").unwrap().state().key_down;
        until(&service, clock, |seen| !seen.measuring && !seen.asks.is_empty()).await;
        service.typed("door", "W-0001").unwrap();
        let stays = |seen: &Seen| {
            !seen.measuring
                && seen.asks.first().is_some_and(|asks| asks.starts_with("A CARRIER IS STILL THERE"))
        };
        let seen = until(&service, clock, stays).await;
        assert_eq!(seen.telling, Some(Telling::LetGo));
        assert!(seen.trouble.unwrap().contains("a carrier is there") && key_down().is_some());
        service.typed("door", "W-0002").unwrap();
        let refused =
            |seen: &Seen| stays(seen) && seen.words.iter().any(|word| word.contains("nobody is told to key"));
        let seen = until(&service, clock, refused).await;
        assert!(seen.telling == Some(Telling::LetGo) && key_down().is_some() && seen.visits.len() == 1);
        // It is not gone because the service ends.
        assert!(service.end(Duration::from_secs(10)).await.is_empty());
        drop(service);
        let service = Service::begin(again.0, again.1, clock).unwrap();
        let key_down = || service.benches().iter().find(|b| b.at.name == "door").unwrap().state().key_down;
        let seen = until(&service, clock, stays).await;
        assert!(seen.telling == Some(Telling::LetGo) && key_down().is_some());
        // Paused or not: that it is gone can be said, and nobody is told to key by that.
        service.pause("door", true).unwrap();
        service.typed("door", "off").unwrap();
        let seen = until(&service, clock, |seen| !seen.measuring && seen.trouble.is_none()).await;
        assert!(seen.telling.is_none() && key_down().is_none());
        // What a paused bench is told is refused, rather than carried out later when nobody looks.
        assert!(matches!(service.typed("door", "W-0002"), Err(AskError::Paused(_))));
        assert!(service.end(Duration::from_secs(10)).await.is_empty());
    })
    .unwrap();
}
