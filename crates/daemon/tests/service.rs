//! A service on simulated benches, without its network: what is asked for is measured, in order, through deaths and stops.

#![expect(clippy::unwrap_used, reason = "a test that cannot go on")]

mod workshop;

use std::path::PathBuf;
use std::time::Duration;

use spurline_clock::{Clock, Pace, run};
use spurline_daemon::configuration::{Announced, Configuration, OnAnnouncement};
use spurline_daemon::queue::{Entry, Standing, Wanted};
use spurline_daemon::{AskError, Service, ServiceError};
use spurline_record::RunState;
use spurline_store::Store;

use workshop::Workshop;

struct Place {
    workshop: Workshop,
}

impl Place {
    /// Two benches and a plan; the second bench goes by the wall's clock.
    fn new() -> Self {
        let workshop = Workshop::new();
        workshop.bench("fast", ("clock: fast", "clock: fast"));
        workshop.bench("real", ("clock: fast", "clock: real"));
        Self { workshop }
    }

    fn path(&self, name: &str) -> PathBuf {
        self.workshop.path(name)
    }

    fn begin(&self, clock: Clock) -> Service {
        let follows = |of| OnAnnouncement { of, bench: "fast".to_owned(), plan: "short".to_owned() };
        let announced = vec![follows(Announced::Firmware), follows(Announced::Unit)];
        let configuration = Configuration { announced, ..self.workshop.configuration(&["fast", "real"]) };
        Service::begin(configuration, self.workshop.record(), clock).unwrap()
    }

    fn store(&self) -> Store {
        Store::open_read_only(&self.path("data")).unwrap()
    }
}

fn wanted(bench: &str) -> Wanted {
    Wanted {
        bench: bench.to_owned(),
        plan: "short".to_owned(),
        unit: None,
        firmware: None,
        goes_on: None,
        by: "test".to_owned(),
    }
}

async fn until(clock: Clock, what: &str, mut holds: impl FnMut() -> bool) {
    for _ in 0..3000 {
        if holds() {
            return;
        }
        clock.sleep(Duration::from_millis(10)).await;
    }
    panic!("{what}: not within 30 s");
}

fn entry(service: &Service, id: u64) -> Entry {
    service.entries(100).unwrap().into_iter().find(|entry| entry.id == id).unwrap()
}

async fn end(service: Service) {
    assert_eq!(service.end(Duration::from_secs(10)).await, Vec::<String>::new());
}

#[test]
fn what_is_asked_for_is_measured_in_order() {
    let place = Place::new();
    run(Pace::Real, |clock| async move {
        let service = place.begin(clock);
        let asked: Vec<u64> = (0..3).map(|_| service.ask(&wanted("fast")).unwrap().id).collect();
        until(clock, "all three", || entry(&service, asked[2]).standing == Standing::Done).await;
        let store = place.store();
        let runs = store.runs().unwrap();
        assert_eq!(runs.len(), 3);
        for (id, run) in asked.iter().rev().zip(&runs) {
            let entry = entry(&service, *id);
            assert_eq!((entry.run.as_ref(), entry.outcome), (Some(&run.id), run.outcome));
            assert!(place.path(&format!("data/reports/{}.html", run.id)).is_file());
        }
        let metrics = service.metrics().unwrap();
        assert!(
            metrics.contains("spurline_runs_total{bench=\"fast\",ended=\"done\",outcome=\"complies\"} 3")
        );
        end(service).await;
    })
    .unwrap();
}

#[test]
fn a_run_that_is_stopped_brings_the_key_up_and_goes_on_when_asked() {
    let place = Place::new();
    run(Pace::Real, |clock| async move {
        let service = place.begin(clock);
        let asked = service.ask(&wanted("real")).unwrap();
        let bench = service.bench("real").unwrap().clone();
        until(clock, "the key is down", || bench.state().key_down.is_some()).await;
        service.stop("real").unwrap();
        until(clock, "it is stopped", || entry(&service, asked.id).standing == Standing::Stopped).await;
        assert!(bench.state().key_down.is_none());
        let run = entry(&service, asked.id).run.unwrap();
        assert_eq!(place.store().load(&run).unwrap().state, RunState::Interrupted);
        let again = service.go_on("real", "short", &run, "test").unwrap();
        service.pause("real", false).unwrap();
        until(clock, "it went on", || entry(&service, again.id).standing == Standing::Done).await;
        assert_eq!(place.store().load(&run).unwrap().state, RunState::Finished);
        end(service).await;
    })
    .unwrap();
}

/// Also before the run has recorded its beginning, and between any two messages.
#[test]
fn a_run_can_be_stopped_at_any_instant() {
    let place = Place::new();
    run(Pace::Real, |clock| async move {
        let service = place.begin(clock);
        let rests = |asked: &Entry| {
            !matches!(entry(&service, asked.id).standing, Standing::Waiting | Standing::Running)
        };
        for delay in [0, 0, 0, 1, 2, 5, 10, 20, 40, 80] {
            let asked = service.ask(&wanted("fast")).unwrap();
            while entry(&service, asked.id).standing == Standing::Waiting {
                clock.sleep(Duration::from_micros(100)).await;
            }
            clock.sleep(Duration::from_millis(delay)).await;
            // It may have ended by itself.
            service.stop("fast").unwrap();
            until(clock, "it rests", || rests(&asked)).await;
            let ended = entry(&service, asked.id);
            assert!(matches!(ended.standing, Standing::Stopped | Standing::Done), "{ended:?}");
            service.pause("fast", false).unwrap();
        }
        end(service).await;
    })
    .unwrap();
}

#[test]
fn what_goes_on_when_the_service_ends_goes_on_when_it_begins() {
    let place = Place::new();
    run(Pace::Real, |clock| async move {
        let service = place.begin(clock);
        let asked = service.ask(&wanted("real")).unwrap();
        let waits = service.ask(&wanted("real")).unwrap();
        let bench = service.bench("real").unwrap().clone();
        until(clock, "the key is down", || bench.state().key_down.is_some()).await;
        end(service).await;
        let service = place.begin(clock);
        until(clock, "both", || entry(&service, waits.id).standing == Standing::Done).await;
        assert_eq!(entry(&service, asked.id).standing, Standing::Done);
        assert_eq!(place.store().runs().unwrap().len(), 2, "the first went on as itself");
        end(service).await;
    })
    .unwrap();
}

#[test]
fn a_second_service_on_the_same_record_does_not_begin() {
    let place = Place::new();
    run(Pace::Real, |clock| async move {
        let service = place.begin(clock);
        let second = Service::begin(place.workshop.configuration(&["fast"]), place.workshop.record(), clock)
            .unwrap_err();
        let ServiceError::Record(failure) = second else { panic!("{second:?}") };
        assert!(failure.to_string().contains("in use by another"), "{failure}");
        end(service).await;
        end(place.begin(clock)).await;
    })
    .unwrap();
}

#[test]
fn a_bench_that_is_paused_takes_nothing_new() {
    let place = Place::new();
    run(Pace::Real, |clock| async move {
        let service = place.begin(clock);
        service.pause("fast", true).unwrap();
        let asked = service.ask(&wanted("fast")).unwrap();
        clock.sleep(Duration::from_millis(300)).await;
        assert_eq!(entry(&service, asked.id).standing, Standing::Waiting);
        service.pause("fast", false).unwrap();
        until(clock, "it is done", || entry(&service, asked.id).standing == Standing::Done).await;
        end(service).await;
    })
    .unwrap();
}

/// A stop of one bench, and of all, on one that measures and on one that does nothing.
#[test]
fn after_a_stop_nothing_keys_until_a_person_says_so() {
    let place = Place::new();
    run(Pace::Real, |clock| async move {
        let service = place.begin(clock);
        let bench = service.bench("real").unwrap().clone();
        let asked = [(); 3].map(|()| service.ask(&wanted("real")).unwrap());
        for (all, (asked, next)) in [(false, (&asked[0], &asked[1])), (true, (&asked[1], &asked[2]))] {
            until(clock, "the key is down", || bench.state().key_down.is_some()).await;
            if all {
                service.stop_all().unwrap()
            } else {
                service.stop("real").unwrap()
            }
            let stopped = || entry(&service, asked.id).standing == Standing::Stopped;
            until(clock, "it is stopped", stopped).await;
            // As long as a run needs to key, several times over.
            for _ in 0..100 {
                clock.sleep(Duration::from_millis(10)).await;
                assert!(bench.state().key_down.is_none());
                assert_eq!(entry(&service, next.id).standing, Standing::Waiting);
            }
            let state = bench.state();
            assert!(state.paused);
            let why = state.paused_because.unwrap().in_words();
            assert!(why.contains("stopped by hand") && why.contains("`paused: false`"), "{why}");
            // One that did nothing takes nothing new either after all were stopped.
            assert_eq!(service.bench("fast").unwrap().state().paused, all);
            service.pause("real", false).unwrap();
            assert_eq!(bench.state().paused_because, None);
            until(clock, "the next begins", || entry(&service, next.id).standing == Standing::Running).await;
        }
        let other = service.ask(&wanted("fast")).unwrap();
        clock.sleep(Duration::from_millis(300)).await;
        assert_eq!(entry(&service, other.id).standing, Standing::Waiting);
        end(service).await;
    })
    .unwrap();
}

/// Between the taking of an entry and the beginning of its run too: whichever comes first, the run does not go to its end.
#[test]
fn a_stop_is_heard_in_the_instant_in_which_a_run_begins() {
    let place = Place::new();
    run(Pace::Real, |clock| async move {
        let service = place.begin(clock);
        for delay in 0..30 {
            let asked = service.ask(&wanted("real")).unwrap();
            clock.sleep(Duration::from_micros(100 * delay)).await;
            service.stop("real").unwrap();
            let rests = || entry(&service, asked.id).standing != Standing::Running;
            until(clock, "it rests", rests).await;
            let standing = entry(&service, asked.id).standing;
            assert!(matches!(standing, Standing::Waiting | Standing::Stopped), "{standing:?} after {delay}");
            drop(service.withdraw(asked.id));
            service.pause("real", false).unwrap();
        }
        end(service).await;
    })
    .unwrap();
}

#[test]
fn a_pause_holds_after_a_restart() {
    let place = Place::new();
    run(Pace::Real, |clock| async move {
        let service = place.begin(clock);
        service.pause("fast", true).unwrap();
        service.stop("real").unwrap();
        let asked = ["fast", "real"].map(|bench| service.ask(&wanted(bench)).unwrap().id);
        end(service).await;
        let service = place.begin(clock);
        clock.sleep(Duration::from_millis(300)).await;
        for (bench, why) in [("fast", "paused by hand"), ("real", "stopped by hand")] {
            let state = service.bench(bench).unwrap().state();
            assert!(state.paused && state.paused_because.unwrap().in_words().contains(why), "{state:?}");
        }
        assert!(asked.iter().all(|id| entry(&service, *id).standing == Standing::Waiting));
        service.pause("fast", false).unwrap();
        until(clock, "it is done", || entry(&service, asked[0]).standing == Standing::Done).await;
        end(service).await;
        let service = place.begin(clock);
        let paused = |bench: &str| service.bench(bench).unwrap().state().paused;
        assert!(!paused("fast") && paused("real"));
        end(service).await;
    })
    .unwrap();
}

#[test]
fn what_is_announced_is_measured_with_its_name() {
    let place = Place::new();
    run(Pace::Real, |clock| async move {
        let service = place.begin(clock);
        let asked = service.announce(Announced::Firmware, "2.0-rc1", None).unwrap();
        assert_eq!(asked.len(), 1);
        assert!(service.announce(Announced::Unit, "FH2-0001", Some("real")).unwrap().is_empty());
        until(clock, "it is done", || entry(&service, asked[0].id).standing == Standing::Done).await;
        let run = entry(&service, asked[0].id).run.unwrap();
        assert_eq!(place.store().load(&run).unwrap().header.unit.firmware, "2.0-rc1");
        end(service).await;
    })
    .unwrap();
}

#[test]
fn what_cannot_be_measured_is_told_and_does_not_hold_up_the_rest() {
    let place = Place::new();
    std::fs::write(place.path("plans/wrong.yaml"), "plan: wrong\n").unwrap();
    run(Pace::Real, |clock| async move {
        let service = place.begin(clock);
        let wrong = service.ask(&Wanted { plan: "wrong".to_owned(), ..wanted("fast") }).unwrap();
        let other = service.ask(&Wanted { unit: Some("another".to_owned()), ..wanted("fast") }).unwrap();
        let good = service.ask(&wanted("fast")).unwrap();
        until(clock, "the good one", || entry(&service, good.id).standing == Standing::Done).await;
        let told = |id| {
            let entry = entry(&service, id);
            assert_eq!(entry.standing, Standing::Failed);
            entry.told.unwrap()
        };
        assert!(told(wrong.id).contains("wrong.yaml"), "{}", told(wrong.id));
        assert!(told(other.id).contains("another"), "{}", told(other.id));
        for (bench, plan) in [("none", "short"), ("fast", "none"), ("fast", "../plans/short")] {
            let asked = service.ask(&Wanted { plan: plan.to_owned(), ..wanted(bench) });
            assert!(matches!(asked, Err(AskError::NoBench(_) | AskError::Plan(_))), "{asked:?}");
        }
        for unit in ["a\nb", "a\u{1b}[2J", "a\u{202e}b", &"x".repeat(101)] {
            let asked = service.ask(&Wanted { unit: Some(unit.to_owned()), ..wanted("fast") });
            assert!(matches!(asked, Err(AskError::Text { .. })), "{unit:?}: {asked:?}");
        }
        end(service).await;
    })
    .unwrap();
}
