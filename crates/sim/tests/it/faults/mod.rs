//! Faults on the wire: a link that is cut, or falls silent, and may come back.

mod answers;
mod serial;
mod states;
mod work;

use std::time::Duration;

use spurline_sim::Role;
use tokio::net::TcpStream;

use crate::client::{BENCH, on};

fn with_fault(fault: &str) -> String {
    let (before, _) = BENCH.split_once("  faults:").unwrap();
    format!("{before}  faults: [ {fault} ]\n")
}

const SECOND: Duration = Duration::from_secs(1);

#[test]
fn a_cut_link_takes_all_connections_and_refuses_new_ones() {
    on(&with_fault("{ instrument: analyser, does: cut-link, after_messages: 3 }"), |bench| async move {
        let mut one = bench.connect(Role::Analyser).await;
        let mut other = bench.connect(Role::Analyser).await;
        one.ask("*IDN?").await;
        other.ask("*IDN?").await;
        one.ask("*IDN?").await;
        one.send("*IDN?").await;
        assert_eq!(one.answer_within(SECOND).await, None);
        assert_eq!(other.answer_within(SECOND).await, None, "closed, not silent");
        assert!(TcpStream::connect(bench.address(Role::Analyser)).await.is_err());
        // Only that instrument.
        assert!(bench.connect(Role::Relay).await.ask("*IDN?").await.contains("Relay"));
    });
}

#[test]
fn a_cut_link_comes_back_when_its_time_is_up() {
    let fault = "{ instrument: analyser, does: cut-link, after_messages: 1, lasts: 30 s }";
    on(&with_fault(fault), |bench| async move {
        let mut analyser = bench.connect(Role::Analyser).await;
        analyser.ask("BAND 10E3;:BAND?").await;
        analyser.send("*IDN?").await;
        assert_eq!(analyser.answer_within(SECOND).await, None);
        bench.clock.sleep(Duration::from_secs(31)).await;
        let mut again = bench.connect(Role::Analyser).await;
        assert_eq!(again.ask("BAND?").await, "10000", "its power was never off");
    });
}

#[test]
fn a_mute_link_stays_open_and_says_nothing() {
    let fault = "{ instrument: power-meter, does: mute-link, after_messages: 2, lasts: 10 s }";
    on(&with_fault(fault), |bench| async move {
        let mut meter = bench.connect(Role::PowerMeter).await;
        meter.ask("*IDN?").await;
        meter.ask("*IDN?").await;
        meter.send("*IDN?").await;
        assert_eq!(meter.answer_within(Duration::from_secs(5)).await, None);
        bench.clock.sleep(Duration::from_secs(6)).await;
        assert!(meter.ask("*IDN?").await.contains("Power meter"));
    });
}
