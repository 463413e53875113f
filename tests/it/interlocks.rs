//! What must hold before a unit is keyed: each trips in its turn, the key stays up, and the record says why.

use std::io::{BufRead, BufReader};
use std::process::Stdio;

use spurline_record::{Event, EventKind, InterlockName};
use spurline_sequencer::{Arming, RunFault};
use spurline_tests::interlocked::{Trial, Tried};
use spurline_units::{Hertz, Range};

use crate::bench::{PARTS, Workshop, instruments, plan, root, shipped, simulated_bench};
use crate::processes::Serving;

fn trial() -> Trial {
    Trial::new(plan("146 MHz", 2), simulated_bench(2, ""))
}

/// Trips an interlock: the key was never pressed, the run ended with it, and the record holds it with its reason.
#[track_caller]
fn trips(trial: &Trial, name: InterlockName, words: &str) -> Tried {
    let tried = trial.run().unwrap();
    assert!(!tried.was_keyed(), "{name}: {:?}", tried.to_relay);
    assert!(!tried.events.iter().any(|event| matches!(event.kind, EventKind::KeyDown { .. })));
    match &tried.fault {
        Some(RunFault::Interlock { name: found, why }) => {
            assert!(*found == name && why.contains(words), "{found}: {why}");
        }
        other => panic!("expected `{name}`, found {other:?}"),
    }
    let told = tried.interlocks();
    let last = told.iter().rfind(|interlock| interlock.name == name).unwrap();
    assert!(!last.holds && last.why.contains(words), "{last:?}");
    tried
}

#[test]
fn with_all_of_them_the_unit_is_keyed_and_the_chain_stands_in_the_record_once() {
    let tried = trial().run().unwrap();
    assert!(tried.was_keyed() && tried.fault.is_none(), "{:?}", tried.fault);
    let told = tried.interlocks();
    let mut names: Vec<InterlockName> = told.iter().map(|interlock| interlock.name).collect();
    assert_eq!(names.pop(), Some(InterlockName::PathProven), "once the glimpse has shown it");
    names.sort_unstable();
    assert_eq!(names, InterlockName::ALL, "each once, for nothing else changed");
    assert!(told.iter().all(|interlock| interlock.holds && !interlock.why.is_empty()));
    let place = |wanted: fn(&EventKind) -> bool| tried.events.iter().position(|event| wanted(&event.kind));
    let chain = place(|kind| matches!(kind, EventKind::Interlocks(_)));
    assert!(chain < place(|kind| matches!(kind, EventKind::KeyDown { .. })));
}

#[test]
fn a_bench_that_nobody_armed_is_not_keyed() {
    trips(&Trial { arming: Arming::Not, ..trial() }, InterlockName::Armed, "nobody has said");
}

#[test]
fn a_store_without_room_keeps_the_key_up() {
    let full = Some("5 MB are free".to_owned());
    trips(&Trial { full, ..trial() }, InterlockName::Store, "5 MB are free");
}

/// ITU Radio Regulations, Appendix 15: whatever path the carrier came by, none of these is keyed.
#[test]
fn distress_frequencies_are_never_keyed() {
    let wide = simulated_bench(2, "").replace("range: 130 MHz", "range: 100 MHz");
    let cases: [fn(&mut spurline_plan::Job); 6] = [
        |job| job.plan.channels[0].carrier = Hertz::new(121.5e6),
        |job| job.plan.channels[0].carrier = Hertz::new(243.0e6),
        |job| job.plan.channels[0].carrier = Hertz::new(156.525e6),
        |job| job.plan.channels[0].carrier = Hertz::new(156.8e6 + 24.9e3),
        |job| job.plan.channels[0].carrier = Hertz::new(406.0e6),
        |job| job.plan.channels[0].carrier = Hertz::new(406.1e6),
    ];
    for changed in cases {
        let trial = Trial { bench: wide.clone(), changed, ..trial() };
        trips(&trial, InterlockName::NeverKeyed, "distress");
    }
}

/// In a plan they are mistakes, as channels and as places where the unit must be silent.
#[test]
fn a_plan_with_a_distress_frequency_is_refused() {
    for carrier in ["121.5 MHz", "243 MHz", "156.525 MHz", "156.8 MHz", "406.025 MHz"] {
        let silent = format!("{}silent_at: [ {carrier} ]\n", plan("146 MHz", 2));
        for text in [plan(carrier, 2), silent] {
            let called = Workshop::with(&text, &simulated_bench(2, "")).call(&["check", "plan.yaml"]);
            assert_eq!(called.exit, 2, "{carrier}: {called:?}");
            assert!(called.talk.contains("distress and safety"), "{called:?}");
        }
    }
}

#[test]
fn outside_the_authorised_bands_nothing_is_keyed() {
    let changed: fn(&mut spurline_plan::Job) = |job| {
        let band = Range::new(Hertz::new(144e6), Hertz::new(145e6)).unwrap();
        let span = job.plan.channels[0].carrier_span;
        job.plan.authorised = vec![(band, span)];
    };
    trips(&Trial { changed, ..trial() }, InterlockName::AuthorisedBand, "in no band that it authorises");
    let bands = format!("{}authorised: [ \"144 MHz..145 MHz\" ]\n", plan("146 MHz", 2));
    let called = Workshop::with(&bands, &simulated_bench(2, "")).call(&["check", "plan.yaml"]);
    assert_eq!(called.exit, 2, "{called:?}");
    assert!(called.talk.contains("outside the bands that the plan authorises"), "{called:?}");
    let within = bands.replace("145 MHz", "146 MHz");
    assert_eq!(Workshop::with(&within, &simulated_bench(2, "")).call(&["check", "plan.yaml"]).exit, 0);
}

#[test]
fn a_part_that_is_rated_for_less_keeps_the_key_up() {
    let bench = simulated_bench(2, "").replace("rated: 25 W", "rated: 2 W");
    trips(&Trial { bench, ..trial() }, InterlockName::PartRatings, "rated for 2 W");
}

/// 5.5 W are 37.4 dBm; 9 dB later 28.4 dBm are less than 10 dB below the 30 dBm that destroy the input.
#[test]
fn an_input_that_gets_too_much_keeps_the_key_up() {
    let bench = simulated_bench(2, "").replace("attenuator: 30 dB", "attenuator: 3 dB");
    trips(&Trial { bench, ..trial() }, InterlockName::InstrumentInput, "input");
}

/// 5.5 W into a pad for 6 W for 600 s: 0.916 of the rise, times 1 - exp(-600 / 180) = 0.964.
#[test]
fn a_part_that_becomes_too_warm_keeps_the_key_up() {
    let bench = simulated_bench(2, "").replace("rated: 25 W", "rated: 6 W");
    let plan = format!("{}key: {{ longest: 600 s }}\n", plan("146 MHz", 2));
    trips(
        &Trial { bench: bench.clone(), plan: plan.clone(), ..trial() },
        InterlockName::PartTemperature,
        "88 %",
    );
    let called = Workshop::with(&plan, &bench).call(&["check", "plan.yaml"]);
    assert_eq!(called.exit, 2, "{called:?}");
    assert!(
        called.talk.contains("would warm `pad` by 88 % of what it may rise by, to 113 degC"),
        "{called:?}"
    );
}

#[test]
fn another_instrument_than_the_pinned_one_keeps_the_key_up() {
    let changed: fn(&mut spurline_plan::Job) = |job| {
        let role = spurline_record::Role::Analyser;
        let analyser = job.bench.instruments.iter_mut().find(|instrument| instrument.role == role);
        analyser.unwrap().serial = Some("A-9999".to_owned());
    };
    trips(&Trial { changed, ..trial() }, InterlockName::BenchIdentity, "`A-9999`, found `A-0001`");
}

/// The lowest power gives no carrier, so that nothing has shown the path when full power is due.
#[test]
fn a_path_that_nothing_has_shown_gets_no_full_power() {
    let plan = plan("146 MHz", 2).replace("{ high: 4..5.5 W }", "{ high: 4..5.5 W, low: 0.5..1.5 W }");
    let bench =
        simulated_bench(2, "").replace("powers: { high: 4.7 W }", "powers: { high: 4.7 W, low: 1 pW }");
    let tried = Trial { plan: plan.clone(), bench: bench.clone(), ..trial() }.run().unwrap();
    assert!(
        matches!(&tried.fault, Some(RunFault::Interlock { name: InterlockName::PathProven, .. })),
        "{:?}",
        tried.fault
    );
    let downs = tried.events.iter().filter(|event| matches!(event.kind, EventKind::KeyDown { .. })).count();
    assert_eq!(downs, 1, "the lowest power alone");
    // Where the bench file sets it aside, that is told with every run.
    let bench = bench + "verify_path: false\n";
    let workshop = Workshop::with(&plan, &bench);
    assert_eq!(workshop.call(&["run", "plan.yaml"]).exit, 3);
    let shown = workshop.call(&["show", "last"]);
    assert!(
        shown.out.contains("`verify_path: false` in the bench file sets the interlock `path-proven` aside"),
        "{shown:?}"
    );
}

/// A receiver draws 0.15 A.
#[test]
fn a_supply_at_its_limit_before_the_key_keeps_it_up() {
    let workshop = shipped(("demo", "demo"), &[("limit: 2.5 A", "limit: 0.1 A")], &[]);
    let called = workshop.call(&["run", "plan.yaml"]);
    assert_eq!(called.exit, 4, "{called:?}");
    assert!(
        !called.talk.contains("KEY DOWN") && called.talk.contains("the interlock `supply`"),
        "{called:?}"
    );
}

#[test]
fn something_on_the_air_before_the_key_keeps_it_up() {
    let ambient = "  ambient: [ { frequency: 146 MHz, level: 20 dBm } ]\n";
    let tried = Trial { bench: simulated_bench(2, ambient), ..trial() }.run().unwrap();
    assert!(!tried.was_keyed(), "{:?}", tried.to_relay);
    let reason = tried.events.iter().find_map(|event| match &event.kind {
        EventKind::ReadingFinished(reading) => reading.reason.clone(),
        _ => None,
    });
    assert_eq!(reason.unwrap().code, spurline_record::ReasonCode::CarrierBeforeKey);
}

/// A carrier that is there from just before the key comes up on: it is told as one that stayed, and nothing more is keyed.
#[test]
fn a_carrier_that_stays_ends_the_run_and_stands_in_the_record() {
    let before = trial().run().unwrap();
    let at =
        |wanted: fn(&EventKind) -> bool| before.events.iter().find(|event| wanted(&event.kind)).unwrap().at;
    let began = at(|kind| matches!(kind, EventKind::RunStarted(_)));
    let came_up = at(|kind| matches!(kind, EventKind::KeyUp { .. }));
    let from = came_up.duration_since(began).as_secs_f64() - 0.05;
    let stays = format!("  ambient: [ {{ frequency: 146 MHz, level: 0 dBm, from: {from:.3} s }} ]\n");
    let tried = Trial { bench: simulated_bench(2, &stays), ..trial() }.run().unwrap();
    assert!(matches!(tried.fault, Some(RunFault::CarrierStays { .. })), "{:?}", tried.fault);
    let told = tried.interlocks();
    let last = told.iter().rfind(|interlock| interlock.name == InterlockName::CarrierWent).unwrap();
    assert!(!last.holds && last.why.contains("stayed when the key came up"), "{last:?}");
    let downs = tried.events.iter().filter(|event| matches!(event.kind, EventKind::KeyDown { .. })).count();
    assert_eq!(downs, 1, "nothing is keyed any more");
}

/// A pinned analyser whose link breaks while the unit is keyed, and another one behind its address: the key is up before
/// anything else is done, and nothing is keyed any more.
#[test]
fn another_instrument_after_a_link_was_lost_ends_the_run() {
    let faults = "  faults: [ { instrument: analyser, does: other-serial }, { instrument: analyser, does: cut-link, \
                  on: \"SPAN 0\", lasts: 2 s, times: 1 } ]\n";
    let tried = Trial { bench: simulated_bench(2, faults), ..trial() }.run().unwrap();
    let fault = format!("{:?}", tried.fault);
    assert!(fault.contains("Another") && fault.contains("A-0001"), "{fault}");
    let downs = tried.events.iter().filter(|event| matches!(event.kind, EventKind::KeyDown { .. })).count();
    assert_eq!(downs, 1, "{fault}");
    let closed = tried.to_relay.iter().rposition(|text| text.contains("CLOS (@")).unwrap();
    let after = &tried.to_relay[closed..];
    assert!(
        after.iter().any(|text| text.contains("OPEN")) && after.iter().any(|text| text.contains("CLOS?"))
    );
}

/// What cannot be kept is not keyed: the record has the key-down before the relay is told.
#[test]
fn a_store_that_fails_just_before_the_key_goes_down_keeps_it_up() {
    let fails_on = |_: &[Event], kind: &EventKind| matches!(kind, EventKind::KeyDown { .. });
    let tried = Trial { fails_on, ..trial() }.run().unwrap();
    assert!(matches!(tried.fault, Some(RunFault::Record(_))), "{:?}", tried.fault);
    assert!(!tried.was_keyed(), "{:?}", tried.to_relay);
}

/// A store that fails while the key is down: the key comes up, and that is what failed.
#[test]
fn a_store_that_fails_while_the_key_is_down_brings_it_up() {
    let fails_on = |kept: &[Event], _: &EventKind| {
        kept.last().is_some_and(|event| matches!(event.kind, EventKind::KeyDown { .. }))
    };
    let tried = Trial { fails_on, ..trial() }.run().unwrap();
    assert!(matches!(tried.fault, Some(RunFault::Record(_))), "{:?}", tried.fault);
    let closed = tried.to_relay.iter().rposition(|message| message.contains("CLOS (@")).unwrap();
    let after = &tried.to_relay[closed + 1..];
    assert!(after.iter().any(|message| message.contains("OPEN")), "{:?}", tried.to_relay);
    assert!(after.iter().any(|message| message.contains("CLOS?")), "confirmed: {:?}", tried.to_relay);
}

/// A link that is cut while the unit is keyed: nothing is reset before the relay has confirmed that it is open.
#[test]
fn no_reset_comes_before_the_key_is_confirmed_up() {
    let cut =
        "  faults: [ { instrument: analyser, does: cut-link, on: \"SPAN 0\", lasts: 2 s, times: 1 } ]\n";
    let tried = Trial { bench: simulated_bench(2, cut), ..trial() }.run().unwrap();
    assert!(tried.fault.is_none(), "{:?}", tried.fault);
    let resets: Vec<usize> = (0..tried.sent.len())
        .filter(|place| tried.sent[*place].1.contains("*RST") || tried.sent[*place].1.contains("SYST:PRES"))
        .collect();
    let closed = |until: usize| tried.sent[..until].iter().rposition(|(_, text)| text.contains("CLOS (@"));
    let after_keying: Vec<usize> = resets.iter().copied().filter(|place| closed(*place).is_some()).collect();
    assert!(!after_keying.is_empty(), "nothing was reset after the unit had been keyed: {:?}", tried.sent);
    for reset in after_keying {
        let between = &tried.sent[closed(reset).unwrap()..reset];
        let of_relay: Vec<&String> =
            between.iter().filter(|(link, _)| link == "relay").map(|(_, text)| text).collect();
        let opened = of_relay.iter().rposition(|text| text.contains("OPEN"));
        let confirmed = of_relay.iter().rposition(|text| text.contains("CLOS?"));
        assert!(opened.is_some() && confirmed >= opened, "{of_relay:?}");
    }
}

/// A second Ctrl-C changes nothing: the key comes up, and the record says so.
#[test]
fn a_second_signal_does_not_leave_the_key_down() {
    for name in ["-INT", "-TERM", "-HUP"] {
        let workshop = Workshop::with(&plan("146 MHz", 10), "");
        let serving = Serving::start(&workshop, "  key_log: key.log\n");
        let (mut child, _talk) = crate::processes::running_keyed(&workshop);
        crate::processes::signal(name, &child);
        crate::processes::signal(name, &child);
        assert_eq!(child.wait().unwrap().code(), Some(130), "{name}");
        assert!(!serving.keyed(), "{name}");
        assert_eq!(workshop.call(&["show", "last", "--json"]).json()["state"], "interrupted");
    }
}

/// A real bench with a supply: nobody has stated that the battery is out.
fn with_supply(more: &str) -> Workshop {
    let supply = "supply: { at: \"TCPIP::127.0.0.1::25029::SOCKET\", profile: supply-generic }\n";
    let bench = [&instruments(25_025, "A-0001"), PARTS, supply, more].concat();
    let plan = format!("{}supply: [ {{ name: battery, set: 7.4 V, limit: 2.5 A }} ]\n", plan("146 MHz", 2));
    Workshop::with(&plan, &bench)
}

#[test]
fn a_real_bench_with_a_supply_needs_the_battery_to_be_out() {
    for command in ["check", "run"] {
        let called = with_supply("").call(&[command, "plan.yaml"]);
        assert_eq!(called.exit, 2, "{called:?}");
        assert!(called.talk.contains("nobody has stated that its battery is out"), "{called:?}");
        assert!(called.talk.contains("write `battery: removed`"), "{called:?}");
    }
    let stated = with_supply("battery: removed\n").call(&["check", "plan.yaml"]);
    assert_eq!(stated.exit, 0, "{stated:?}");
}

/// What is not armed is identified, told in full, and left.
#[test]
fn a_real_bench_is_keyed_only_once_somebody_has_said_so() {
    let workshop = Workshop::with(&plan("146 MHz", 2), "");
    let serving = Serving::start(&workshop, "");
    let armed = std::fs::read_to_string(workshop.path("bench.yaml")).unwrap();
    workshop.write("bench.yaml", &armed.replace("armed: true\n", ""));
    let called = workshop.call(&["run", "plan.yaml"]);
    assert_eq!(called.exit, 2, "{called:?}");
    for told in [
        "cautions:",
        "stay hot after the key is up",
        "Local rules and qualified people decide",
        "a glimpse first, unless a proof of the bench holds: 1 key-down",
        "one, 146 MHz, high at 4..5.5 W: 1 key-down",
        "never more than 20 s",
        "`pad` turns up to 5.49 W into heat, rated 25 W",
        "analyser: Example Analyser, serial A-0001, at TCPIP::127.0.0.1::",
        "nobody has said that it may key",
        "say `--arm`",
    ] {
        assert!(words(&called.talk).contains(told), "`{told}`: {}", called.talk);
    }
    assert!(!called.talk.contains("KEY DOWN") && !serving.keyed());
    assert_eq!(workshop.call(&["show", "last"]).exit, 2, "nothing was begun");
    let called = workshop.call(&["run", "plan.yaml", "--arm"]);
    assert_eq!(called.exit, 0, "{called:?}");
    assert!(called.talk.contains("cautions:") && called.talk.contains("KEY DOWN"), "{called:?}");
    let shown = workshop.call(&["show", "last", "--json"]).json();
    let chain = shown["interlocks"].as_array().unwrap();
    assert!(
        chain.iter().any(|one| one["name"] == "armed" && one["why"] == "`--arm`, for this run"),
        "{chain:?}"
    );
    // An arming holds for one run.
    assert_eq!(workshop.call(&["run", "plan.yaml"]).exit, 2);
}

/// Key-downs in any 5 minutes: foretold, kept, and told. With 20 s allowed and 20 s for each, one in 5 min.
#[test]
fn the_unit_is_keyed_for_no_more_than_it_may_be_in_five_minutes() {
    let channels = "channels: [ { name: one, carrier: 146 MHz, power: { high: 4..5.5 W } }, { name: two, carrier: 147 MHz, \
                    power: { high: 4..5.5 W } }, { name: three, carrier: 145 MHz, power: { high: 4..5.5 W } } ]";
    let one = plan("146 MHz", 2);
    let line = one.lines().find(|line| line.starts_with("channels")).unwrap();
    let text = one.replace(line, channels) + "key: { longest: 20 s, rest: 1 s, most_in_5_min: 20 s }\n";
    let workshop = Workshop::with(&text, &simulated_bench(2, ""));
    let foretold = workshop.call(&["check", "plan.yaml", "--json"]).json();
    let slots = foretold["timetable"].as_array().unwrap();
    let at = |place: usize| slots[place]["at_s"].as_f64().unwrap();
    // The glimpse comes first, and counts.
    assert!(slots.len() == 4 && (1..4).all(|place| at(place) - at(place - 1) >= 280.0), "{slots:#?}");
    let ran = workshop.call(&["run", "plan.yaml", "--json"]).json();
    let keyed = &ran["keyed"];
    assert_eq!(keyed["count"], 4);
    assert!(keyed["most_in_5_min_s"].as_f64().unwrap() <= 20.0, "{keyed}");
    assert!(keyed["least_rest_s"].as_f64().unwrap() >= 270.0, "{keyed}");
    let shown = workshop.call(&["show", "last"]);
    assert!(shown.out.contains("keyed 4 times, ") && shown.out.contains("in the worst 5 min"), "{shown:?}");
    let less = text.replace("most_in_5_min: 20 s", "most_in_5_min: 10 s");
    let refused = Workshop::with(&less, &simulated_bench(2, "")).call(&["check", "plan.yaml"]);
    assert_eq!(refused.exit, 2, "{refused:?}");
    assert!(refused.talk.contains("expected at least the longest key-down, 20 s, found 10 s"), "{refused:?}");
}

/// Full power takes more than 1 A at 7.4 V: what the unit then gives is not charged to it.
#[test]
fn power_that_the_supply_holds_back_is_not_charged_to_the_unit() {
    let series = "supply_series:";
    let workshop = shipped(("courses", "warm"), &[("limit: 2.5 A", "limit: 0.9 A")], &[]);
    let text = std::fs::read_to_string(workshop.path("plan.yaml")).unwrap();
    workshop.write("plan.yaml", text.split_once(series).unwrap().0);
    let called = workshop.call(&["run", "plan.yaml", "--json"]);
    let document = called.json();
    let carrier = &document["readings"][0];
    assert_eq!(carrier["quantity"], "carrier_power", "{carrier:#?}");
    assert!(carrier["outcome"] == "undecided" || carrier["outcome"] == "invalid", "{carrier:#?}");
    assert_eq!(carrier["reason_code"], "supply-limit", "{carrier:#?}");
}

/// No carrier comes: the key-down ends at once, long before all its work would be done.
#[test]
fn a_carrier_that_does_not_come_ends_the_key_down_at_once() {
    let bench = simulated_bench(2, "").replace("powers: { high: 4.7 W }", "powers: { high: 1 pW }");
    let tried = Trial { plan: plan("146 MHz", 10), bench, ..trial() }.run().unwrap();
    let held: Vec<f64> = tried
        .events
        .iter()
        .filter_map(|event| if let EventKind::KeyUp { held } = &event.kind { Some(held.get()) } else { None })
        .collect();
    assert!(held.len() == 1 && held[0] < 2.5, "{held:?}");
}

/// Over every shipped plan: no supply is ever reset, one is switched on only after it was told what to give, and no
/// instrument is reset between a key-down and the relay's word that the key is up.
#[test]
fn no_supply_is_ever_reset_and_nothing_while_the_key_may_be_down() {
    let mut fed = 0;
    for entry in std::fs::read_dir(root().join("config/plans")).unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_stem().unwrap().to_string_lossy().into_owned();
        let workshop = Workshop::new();
        let called = workshop.call(&["run", path.to_str().unwrap()]);
        assert!([0, 1, 3].contains(&called.exit), "{name}: {called:?}");
        let shown = workshop.call(&["show", "last", "--transcript", "--json"]).json();
        let sent: Vec<(&str, &str)> = shown["entries"]
            .as_array()
            .unwrap()
            .iter()
            .filter(|entry| entry["direction"] == "to")
            .map(|entry| (entry["link"].as_str().unwrap(), entry["text"].as_str().unwrap()))
            .collect();
        let resets = |text: &str| text.contains("*RST") || text.contains("SYST:PRES");
        let (mut may_be_down, mut told_up) = (false, false);
        for (link, text) in &sent {
            assert!(!(may_be_down && resets(text)), "{name}: {link}: {text}");
            if *link == "relay" {
                let closes = text.contains("CLOS (@");
                may_be_down |= closes;
                told_up = (told_up || text.contains("OPEN")) && !closes;
                // Asked after it was told to open, it confirms that.
                may_be_down &= !(told_up && text.contains("CLOS?"));
            }
        }
        assert!(!may_be_down, "{name}: the last word on the key is that it is up");
        let to_supply: Vec<&str> =
            sent.iter().filter(|(link, _)| *link == "supply").map(|(_, text)| *text).collect();
        assert!(!to_supply.iter().any(|text| resets(text) || text.contains("PRES")), "{name}: {to_supply:?}");
        if let Some(on) = to_supply.iter().position(|text| text.contains("OUTP ON")) {
            assert!(to_supply[..on].iter().any(|text| text.contains("VOLT ")), "{name}: {to_supply:?}");
            fed += 1;
        }
    }
    assert!(fed >= 5, "{fed} of the shipped plans feed their unit");
}

/// The text on one line, wherever it was broken.
fn words(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// The cautions of the manual are those of the program.
#[test]
fn the_manual_has_the_cautions_of_the_program() {
    let page = std::fs::read_to_string(root().join("docs/src/interlocks.md")).unwrap();
    let workshop = Workshop::with(&plan("146 MHz", 2), "");
    let _serving = Serving::start(&workshop, "");
    let mut child =
        workshop.command(&["run", "plan.yaml"]).stderr(Stdio::piped()).stdout(Stdio::null()).spawn().unwrap();
    let lines: Vec<String> =
        BufReader::new(child.stderr.take().unwrap()).lines().map(Result::unwrap).collect();
    assert!(child.wait().unwrap().code().is_some());
    let told = words(&lines.join(" "));
    let listed: Vec<&str> = page.lines().filter_map(|line| line.strip_prefix("> - ")).collect();
    assert_eq!(listed.len(), 7, "{listed:?}");
    for caution in listed {
        assert!(told.contains(caution), "`{caution}`: {told}");
    }
    for name in InterlockName::ALL {
        assert!(page.contains(&format!("| `{name}` |")), "`{name}` is not explained");
    }
}

/// A power that is invalid only for being outside its window has been measured, and shows the path as any.
#[test]
fn a_power_outside_its_window_shows_the_path() {
    for says in ["exceeds", "invalid"] {
        let text = plan("146 MHz", 2)
            .replace("{ high: 4..5.5 W }", "{ low: 0.2..0.4 W, high: 4..5.5 W }")
            .replacen("rule:", &format!("outside_window: {says}\nrule:"), 1);
        let bench =
            simulated_bench(2, "").replace("powers: { high: 4.7 W }", "powers: { low: 1 W, high: 4.7 W }");
        let workshop = Workshop::with(&text, &bench);
        let called = workshop.call(&["run", "plan.yaml"]);
        assert!([1, 3].contains(&called.exit), "{says}: {called:?}");
        let shown = workshop.call(&["show", "last", "--json"]).json();
        assert_eq!(shown["state"], "finished", "{says}: {called:?}");
        assert_eq!(shown["readings"][0]["outcome"], says, "{shown:#}");
    }
}
