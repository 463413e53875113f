//! What lasts: somebody else's connections, locks, queues.

use std::time::Duration;

use spurline_sim::Role;
use tokio::net::TcpStream;

use super::{SECOND, with_fault};
use crate::client::{Ending, on};

#[test]
fn new_connections_are_refused_and_old_ones_stay() {
    let fault = "{ instrument: analyser, does: busy-refused, after_messages: 1, lasts: 5 s }";
    on(&with_fault(fault), |bench| async move {
        let mut analyser = bench.connect(Role::Analyser).await;
        analyser.ask("*IDN?").await;
        bench.clock.sleep(SECOND).await;
        assert!(TcpStream::connect(bench.address(Role::Analyser)).await.is_err());
        assert_eq!(analyser.ask("*OPC?").await, "1");
        bench.clock.sleep(Duration::from_secs(5)).await;
        assert_eq!(bench.connect(Role::Analyser).await.ask("*OPC?").await, "1");
        assert_eq!(analyser.ask("*OPC?").await, "1");
    });
}

#[test]
fn new_connections_are_closed_or_not_listened_to() {
    on(&with_fault("{ instrument: analyser, does: busy-closed }"), |bench| async move {
        let mut analyser = bench.connect(Role::Analyser).await;
        assert_eq!(analyser.bytes_within(SECOND).await, (Vec::new(), Ending::Closed));
    });
    on(&with_fault("{ instrument: analyser, does: mute-handshake }"), |bench| async move {
        let mut analyser = bench.connect(Role::Analyser).await;
        analyser.send("*IDN?").await;
        assert_eq!(analyser.bytes_within(SECOND).await, (Vec::new(), Ending::Open));
        assert_eq!(bench.connect(Role::Analyser).await.ask("*OPC?").await, "1");
    });
}

#[test]
fn a_locked_instrument_says_nothing_on_a_stream() {
    let fault = "{ instrument: analyser, does: locked-elsewhere, lasts: 5 s }";
    on(&with_fault(fault), |bench| async move {
        let mut analyser = bench.connect(Role::Analyser).await;
        analyser.send("*IDN?").await;
        assert_eq!(analyser.answer_within(Duration::from_secs(6)).await, None);
        assert_eq!(analyser.ask("*OPC?").await, "1");
    });
}

#[test]
fn a_quiet_connection_dies_and_a_new_one_works() {
    let fault = "{ instrument: analyser, does: idle-death, by: 30 s }";
    on(&with_fault(fault), |bench| async move {
        let mut analyser = bench.connect(Role::Analyser).await;
        analyser.ask("*IDN?").await;
        bench.clock.sleep(Duration::from_secs(31)).await;
        analyser.send("*IDN?").await;
        assert_eq!(analyser.bytes_within(SECOND).await, (Vec::new(), Ending::Open));
        assert_eq!(bench.connect(Role::Analyser).await.ask("*OPC?").await, "1");
    });
}

/// SCPI-1999 volume 2, 21.8.1: the queue is full, its last entry says so.
#[test]
fn floods_of_errors_and_stale_ones() {
    on(&with_fault("{ instrument: analyser, does: error-flood }"), |bench| async move {
        let mut analyser = bench.connect(Role::Analyser).await;
        assert_eq!(analyser.ask("*CLS;:SYST:ERR:COUN?").await, "0", "they come behind the message");
        assert_eq!(analyser.ask("SYST:ERR:COUN?").await, "16");
        let mut last = String::new();
        for _ in 0..16 {
            last = analyser.ask("SYST:ERR?").await;
        }
        assert_eq!(last, "-350,\"Queue overflow\"");
    });
    on(&with_fault("{ instrument: analyser, does: stale-errors, count: 2 }"), |bench| async move {
        let mut analyser = bench.connect(Role::Analyser).await;
        assert_eq!(analyser.ask("SYST:ERR:COUN?;*ESR?").await, "2;144");
        let mut other = bench.connect(Role::Analyser).await;
        assert_eq!(other.ask("SYST:ERR:COUN?").await, "2");
    });
}

#[test]
fn errors_of_one_connection_are_not_told_on_another() {
    on(&with_fault("{ instrument: analyser, does: errors-per-connection }"), |bench| async move {
        let mut analyser = bench.connect(Role::Analyser).await;
        let mut other = bench.connect(Role::Analyser).await;
        analyser.send("NO:SUCH").await;
        analyser.send("INP:ATT 99").await;
        bench.clock.sleep(SECOND).await;
        assert_eq!(other.ask("BAND?;:SYST:ERR?").await, "3000000;0,\"No error\"");
        let entry = analyser.ask("SYST:ERR?").await;
        assert!(entry.starts_with("-113,\"Undefined header"), "{entry}");
        let both = analyser.ask("ANOTHER?;:SYST:ERR?;:SYST:ERR?").await;
        let codes: Vec<&str> = both.split(';').filter(|part| part.starts_with('-')).collect();
        assert!(codes.len() == 2 && codes[0].starts_with("-222") && codes[1].starts_with("-113"), "{both}");
        assert_eq!(analyser.ask("SYST:ERR?").await, "0,\"No error\"");
    });
}

#[test]
fn several_faults_of_one_instrument() {
    let faults = "{ instrument: supply, does: decimal-comma, on: MEAS }, \
                  { instrument: supply, does: unknown-header, on: \"CURR?\" }, \
                  { instrument: relay, does: short-input, bytes: 10 }";
    on(&with_fault(faults), |bench| async move {
        let mut supply = bench.connect(Role::Supply).await;
        let answer = supply.ask("*CLS;:MEAS:VOLT?;:MEAS:CURR?;:SYST:ERR?").await;
        assert!(answer.starts_with("0,000;-113,\"Undefined header"), "{answer}");
        let mut relay = bench.connect(Role::Relay).await;
        relay.send("*CLS;*OPC?;*IDN?").await;
        assert_eq!(relay.answer_within(SECOND).await, None);
        assert_eq!(relay.ask("SYST:ERR?").await, "-363,\"Input buffer overrun\"");
    });
}
