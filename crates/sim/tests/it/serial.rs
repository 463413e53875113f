//! The serial line: a pseudo-terminal that a client opens by its link, in virtual time.

use std::time::Duration;

use spurline_sim::{Place, Role};
use tokio_serial::{SerialPortBuilderExt, SerialStream};

use crate::client::{BENCH, Bench, Client, at};

pub(crate) const SERIAL: Place = Place::Serial { path: None };
const DEADLINE: Duration = Duration::from_secs(5);

fn port(bench: &Bench, role: Role) -> SerialStream {
    let Place::Serial { path: Some(path) } = bench.place(role) else { panic!("a serial line") };
    tokio_serial::new(path.to_str().unwrap(), 115_200).open_native_async().unwrap()
}

pub(crate) fn open(bench: &Bench, role: Role) -> Client {
    Client::over(port(bench, role), bench.clock)
}

#[test]
fn thousands_of_exchanges_take_no_virtual_time() {
    let (late, elapsed) = at(BENCH, &SERIAL, |bench| async move {
        let mut late = 0;
        let roles = [Role::Analyser, Role::Relay, Role::PowerMeter, Role::UnitControl];
        let mut clients = roles.map(|role| open(&bench, role));
        let before = bench.clock.elapsed();
        for _ in 0..500 {
            for client in &mut clients {
                client.send("*IDN?;*STB?").await;
                late += u32::from(client.answer_within(DEADLINE).await.is_none());
            }
        }
        (late, bench.clock.elapsed() - before)
    });
    assert_eq!((late, elapsed), (0, Duration::ZERO));
}

/// A trace is longer than all that a terminal holds, so that both ends wait for each other on the way.
#[test]
fn the_longest_trace_takes_no_virtual_time() {
    let (bytes, elapsed) = at(BENCH, &SERIAL, |bench| async move {
        let mut analyser = open(&bench, Role::Analyser);
        analyser.ask("*RST;:SWE:POIN 10001;:INIT;*OPC?").await;
        let before = bench.clock.elapsed();
        let mut bytes = 0;
        for _ in 0..20 {
            analyser.send("TRAC? TRACE1").await;
            bytes += analyser.answer_within(DEADLINE).await.expect("the deadline never fires").len();
        }
        (bytes, bench.clock.elapsed() - before)
    });
    assert!(bytes > 20 * 10_001 * 5, "{bytes}");
    assert_eq!(elapsed, Duration::ZERO);
}

#[test]
fn clients_come_and_go() {
    at(BENCH, &SERIAL, |bench| async move {
        for round in 0..20 {
            let mut client = open(&bench, Role::Relay);
            assert_eq!(client.ask("*OPC?").await, "1", "round {round}");
        }
    });
}
