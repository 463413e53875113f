//! Power along a key-down: the course from key down on, the window, a carrier that goes.

use serde_json::Value;

use crate::bench::{reading, shipped};

/// The bench and plan of the courses, with few voltages.
fn course(in_plan: &[(&str, &str)], in_bench: &[(&str, &str)]) -> Value {
    let all = [&[("  steps: 6 ", "  steps: 2 ")], in_plan].concat();
    reading(&shipped(("courses", "warm"), &all, in_bench), "power_over_time")
}

fn column(reading: &Value, place: usize) -> Vec<Option<f64>> {
    reading["course"][place]["values"].as_array().unwrap().iter().map(Value::as_f64).collect()
}

/// 0.4 dB within 60 s, but for 1 %: a time constant of 60 s / ln 100 = 13.03 s, so that 20 s take 0.4 dB (1 - e^-1.535) =
/// 0.314 dB.
#[test]
fn a_warm_unit_is_seen_to_droop() {
    let reading = course(&[], &[]);
    assert_eq!(reading["outcome"], "complies", "{reading:#?}");
    let (times, watts) = (column(&reading, 0), column(&reading, 1));
    assert_eq!(times.len(), 21);
    for (number, at) in times.iter().enumerate() {
        let late = at.unwrap() - number as f64;
        assert!((0.0..0.3).contains(&late), "sample {number} {late} s late");
    }
    let fall = 10.0 * (watts[1].unwrap() / watts[20].unwrap()).log10();
    let before = 0.4 * (1.0 - (-1.0f64 / 13.03).exp());
    assert!((fall - (0.314 - before)).abs() < 0.05, "{fall} dB");
}

#[test]
fn a_droop_below_the_window_exceeds() {
    let reading = course(&[("3.5..6 W", "4.3..6 W")], &[("by: 0.4 dB", "by: 2 dB")]);
    assert_eq!(
        (&reading["outcome"], &reading["reason_code"]),
        (&"exceeds".into(), &"outside-window".into()),
        "{reading:#?}"
    );
    assert!(reading["reason"].as_str().unwrap().contains("after key down"), "{reading:#?}");
}

/// The unit's own timer ends the transmission: that says nothing about its power.
#[test]
fn a_carrier_that_goes_leaves_the_course_invalid() {
    let reading = course(&[], &[("droop: {", "time_out: 12 s, droop: {")]);
    assert_eq!(reading["outcome"], "invalid", "{reading:#?}");
    assert!(reading["reason"].as_str().unwrap().contains("time-out"), "{reading:#?}");
}

/// Without a power meter the analyser follows it.
#[test]
fn the_analyser_follows_it_alone() {
    let meter = "power_meter: { at: \"TCPIP::127.0.0.1::15026::SOCKET\", profile: power-meter-generic }\n";
    let branch = "  power_meter: [ { attenuator: 6 dB, over: 5 kHz..3.2 GHz, uncertainty: 0.1 dB, name: other, vswr: 1.1 } ]\n";
    let truth = "    power_meter: [ { name: other, pad: 6 dB, vswr: 1.1 } ]\n";
    let reading = course(
        &[("3.5..6 W", "3..8 W")],
        &[(meter, ""), (branch, ""), ("  power_meter: {}  ", "#"), (truth, "")],
    );
    assert_eq!(reading["outcome"], "complies", "{reading:#?}");
    assert!(column(&reading, 1).iter().all(Option::is_some));
}

#[test]
fn what_is_longer_than_the_key_may_be_down_is_refused() {
    let workshop = shipped(("courses", "warm"), &[("longest: 25 s", "longest: 15 s")], &[]);
    let called = workshop.call(&["check", "plan.yaml"]);
    assert_eq!(called.exit, 2);
    assert!(called.talk.contains("the course of the power needs a key-down"), "{}", called.talk);
}
