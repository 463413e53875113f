//! When faults happen: on which messages, how often, how long, how likely, and to which connection.

use super::*;

/// On which of `messages` an answer is late.
fn late(bench: &mut Bench, messages: &[&str]) -> Vec<usize> {
    let late = |(_, message): &(usize, &&str)| !bench.deliveries(message, b"1")[0].wait.is_zero();
    messages.iter().enumerate().filter(late).map(|(place, _)| place).collect()
}

#[test]
fn on_some_messages_after_some_so_many_times() {
    let messages = ["*IDN?", "trac? trace1", "*IDN?", "FREQ 1;:TRAC? TRACE1", "TRAC?", "TRAC?"];
    let fault = Fault { on: Some("TRAC?".to_owned()), ..usual(Does::LateAnswer) };
    assert_eq!(with(vec![fault.clone()], |b| late(b, &messages)), [1]);
    let twice = Fault { times: Some(2), ..fault.clone() };
    assert_eq!(with(vec![twice.clone()], |b| late(b, &messages)), [1, 3]);
    let after = Fault { after_messages: 2, ..twice };
    assert_eq!(with(vec![after], |b| late(b, &messages)), [3, 4]);
    let always = Fault { times: None, ..fault };
    assert_eq!(with(vec![always], |b| late(b, &messages)), [1, 3, 4, 5]);
}

/// A message without an answer is none on which an answer can be late.
#[test]
fn only_what_can_be_befallen_counts() {
    with(vec![usual(Does::LateAnswer)], |bench| {
        let mut taken = bench.take("*CLS");
        assert_eq!(bench.faults.answer(&mut taken, None, LAYOUT, bench.now), []);
        assert_eq!(late(bench, &["*IDN?"]), [0]);
    });
    with(vec![Fault { times: Some(1), ..usual(Does::BlockOddLength) }], |bench| {
        assert_eq!(bench.sent("FREQ?", b"1"), b"1\n");
        assert_eq!(bench.sent("TRAC?", b"#12ab"), b"#11a\n");
        assert_eq!(bench.sent("TRAC?", b"#12ab"), b"#12ab\n");
    });
}

#[test]
fn for_some_time() {
    let fault = Fault { lasts: Some(Duration::from_secs(5)), ..usual(Does::DecimalComma) };
    with(vec![fault], |bench| {
        bench.pass(100.0);
        assert_eq!(bench.sent("READ?", b"1.5"), b"1,5\n", "it begins when it first could happen");
        bench.pass(4.9);
        assert_eq!(bench.sent("READ?", b"1.5"), b"1,5\n");
        bench.pass(0.1);
        assert_eq!(bench.sent("READ?", b"1.5"), b"1.5\n");
    });
}

/// 1000 draws at 20 %: the mean is 200, the standard deviation 12.6; five of them are 63.
#[test]
fn by_chance_and_the_same_for_the_same_seed() {
    let fault = || Fault { chance: 0.2, ..usual(Does::NulBytes) };
    let struck = |seed| {
        run(Pace::Fast, |clock| async move {
            let now = clock.now();
            let mut faults = Faults::new(vec![fault()], Seed(seed), now);
            let Admission::Serve(connection) = faults.admit(now).0 else { panic!("not admitted") };
            let mut bench = Bench { faults, connection, now };
            (0..1000).filter(|_| bench.sent("READ?", b"1")[0] == 0).collect::<Vec<i32>>()
        })
        .unwrap()
    };
    let one = struck(1);
    assert!((137..=263).contains(&one.len()), "{}", one.len());
    assert_eq!(one, struck(1));
    assert_ne!(one, struck(2));
}

/// One more fault, or another connection, does not change what another fault draws.
#[test]
fn draws_of_faults_do_not_touch_each_other() {
    let fault = Fault { chance: 0.5, ..usual(Does::NulBytes) };
    let also = Fault { chance: 0.5, ..usual(Does::LateAnswer) };
    let run = |faults| {
        with(faults, |bench| (0..50).map(|_| bench.sent("READ?", b"1")[0] == 0).collect::<Vec<bool>>())
    };
    assert_eq!(run(vec![fault.clone()]), run(vec![fault, also]));
}

#[test]
fn several_faults_befall_one_answer() {
    let faults = vec![usual(Does::DecimalComma), usual(Does::UnitInAnswer), usual(Does::EndsInSilence)];
    assert_eq!(with(faults, |bench| bench.sent("READ?", b"-1.5")), b"-1,5");
    let faults = vec![usual(Does::PlusSigns), usual(Does::DecimalComma), usual(Does::NulBytes)];
    assert_eq!(with(faults, |bench| bench.sent("READ?", b"1.5")), b"\0+1,5\n\0");
}

#[test]
fn late_answers_come_together_before_the_next() {
    with(vec![usual(Does::LateAnswers)], |bench| {
        assert_eq!(bench.sent("A?", b"1"), b"");
        assert_eq!(bench.sent("B?", b"2"), b"");
        assert_eq!(bench.sent("C?", b"3"), b"1\n2\n3\n");
        assert_eq!(bench.sent("D?", b"4"), b"4\n");
    });
    with(vec![usual(Does::LateAnswers)], |bench| {
        bench.sent("A?", b"1");
        bench.sent("B?", b"2");
        bench.faults.clear(bench.connection);
        assert_eq!(bench.sent("C?", b"3"), b"3\n", "a device clear drops them");
    });
}

#[test]
fn a_wedged_connection_needs_a_device_clear_or_another_connection() {
    with(vec![Fault { after_messages: 1, ..usual(Does::Wedged) }], |bench| {
        assert_eq!(bench.sent("A?", b"1"), b"1\n");
        let wedged = bench.connection;
        assert!(bench.take("A?").is_lost() && bench.take("A?").is_lost());
        bench.connection = bench.connect();
        assert_eq!(bench.sent("A?", b"1"), b"1\n");
        bench.connection = wedged;
        assert!(bench.take("A?").is_lost());
        bench.faults.clear(wedged);
        assert_eq!(bench.sent("A?", b"1"), b"1\n");
    });
}

#[test]
fn an_idle_connection_dies_alone() {
    with(vec![usual(Does::IdleDeath)], |bench| {
        assert_eq!(bench.sent("A?", b"1"), b"1\n");
        bench.pass(60.0);
        assert_eq!(bench.sent("A?", b"1"), b"1\n");
        bench.pass(60.1);
        assert!(bench.take("A?").is_lost() && bench.take("A?").is_lost());
        assert!(!bench.faults.attends(bench.connection, bench.now));
        bench.faults.clear(bench.connection);
        assert!(bench.take("A?").is_lost(), "nobody hears a clear");
        bench.connection = bench.connect();
        assert_eq!(bench.sent("A?", b"1"), b"1\n");
    });
}

#[test]
fn the_first_answer_of_every_connection_is_slow() {
    with(vec![usual(Does::SlowStart)], |bench| {
        assert_eq!(late(bench, &["A?", "A?"]), [0]);
        bench.connection = bench.connect();
        assert_eq!(late(bench, &["A?", "A?"]), [0]);
    });
}

/// What becomes of connections made now, and after some seconds.
fn admissions(fault: Fault, seconds: &[f64]) -> Vec<Admission> {
    run(Pace::Fast, |clock| async move {
        let start = clock.now();
        let mut faults = Faults::new(vec![fault], Seed(7), start);
        let at = |seconds: &f64| faults.admit(start.after(Duration::from_secs_f64(*seconds))).0;
        seconds.iter().map(at).collect()
    })
    .unwrap()
}

#[test]
fn connections_that_are_not_served() {
    use Admission::{Close, Ignore, Serve};
    let lasting = |does| Fault { lasts: Some(Duration::from_secs(5)), ..usual(does) };
    let serve = |number| Serve(Connection(number));
    assert_eq!(admissions(lasting(Does::BusyClosed), &[0.0, 4.9, 5.0]), [Close, Close, serve(3)]);
    assert_eq!(admissions(lasting(Does::BusyMute), &[0.0, 4.9, 5.0]), [Ignore, Ignore, serve(3)]);
    assert_eq!(admissions(usual(Does::MuteHandshake), &[0.0, 0.0]), [Ignore, serve(2)]);
    let leak = admissions(usual(Does::SlotLeak), &[0.0, 1.0, 2.0, 3.0, 62.9, 63.0]);
    assert_eq!(leak, [serve(1), serve(2), serve(3), Close, Close, serve(6)]);
}

#[test]
fn outages_begin_and_end() {
    let outage = |bench: &Bench| bench.faults.outage(bench.now).map(|outage| outage.cut);
    let fault = Fault {
        after_messages: 2,
        times: Some(2),
        lasts: Some(Duration::from_secs(5)),
        ..usual(Does::CutLink)
    };
    with(vec![fault], |bench| {
        for _ in 0..2 {
            assert!(!bench.take("A").is_lost() && !bench.take("A").is_lost() && outage(bench).is_none());
            assert!(bench.take("A").is_lost());
            assert_eq!(outage(bench), Some(Cut::All));
            bench.pass(5.0);
            assert_eq!(outage(bench), None);
        }
        for _ in 0..10 {
            assert!(!bench.take("A").is_lost());
        }
    });
    with(vec![usual(Does::BusyRefused)], |bench| {
        assert_eq!(outage(bench), Some(Cut::NewOnly), "from the beginning");
        assert!(!bench.take("A").is_lost(), "whoever is there is served");
    });
}

#[test]
fn what_a_link_is_to_do_it_is_told_once() {
    with(vec![usual(Does::StaleReply), usual(Does::StrayServiceRequest)], |bench| {
        let connection = bench.connection;
        assert!(!bench.faults.repeats_old_reply(connection) && !bench.faults.cries_for_service(connection));
        bench.sent("A?", b"1");
        assert!(bench.faults.repeats_old_reply(connection) && bench.faults.cries_for_service(connection));
        assert!(!bench.faults.repeats_old_reply(connection) && !bench.faults.cries_for_service(connection));
    });
    with(vec![usual(Does::LockedElsewhere), usual(Does::LeftExclusive)], |bench| {
        assert!(bench.take("A").is_lost());
        let stands = |does| bench.faults.stands(does, bench.now);
        assert!(stands(Does::LockedElsewhere) && stands(Does::LeftExclusive) && !stands(Does::MuteLink));
    });
}
