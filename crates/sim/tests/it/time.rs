//! Real sockets under virtual time: an exchange takes none of it, however many there are.

use std::time::Duration;

use spurline_sim::Role;

use crate::client::{BENCH, on};

const DEADLINE: Duration = Duration::from_secs(5);

#[test]
fn thousands_of_exchanges_take_no_virtual_time() {
    let (late, elapsed) = on(BENCH, |bench| async move {
        let mut late = 0;
        let mut clients = Vec::new();
        for role in [Role::Analyser, Role::Relay, Role::PowerMeter, Role::UnitControl] {
            clients.push(bench.connect(role).await);
        }
        let before = bench.clock.elapsed();
        for _ in 0..1000 {
            for client in &mut clients {
                client.send("*IDN?;*STB?").await;
                late += u32::from(client.answer_within(DEADLINE).await.is_none());
            }
        }
        (late, bench.clock.elapsed() - before)
    });
    assert_eq!((late, elapsed), (0, Duration::ZERO));
}

/// The longest answer there is: 10 001 points as text.
#[test]
fn the_longest_trace_takes_no_virtual_time() {
    let (bytes, elapsed) = on(BENCH, |bench| async move {
        let mut analyser = bench.connect(Role::Analyser).await;
        analyser.ask("*RST;:SWE:POIN 10001;:INIT;*OPC?").await;
        let before = bench.clock.elapsed();
        let mut bytes = 0;
        for _ in 0..50 {
            analyser.send("TRAC? TRACE1").await;
            bytes += analyser.answer_within(DEADLINE).await.expect("the deadline never fires").len();
        }
        (bytes, bench.clock.elapsed() - before)
    });
    assert!(bytes > 50 * 10_001 * 5, "{bytes}");
    assert_eq!(elapsed, Duration::ZERO);
}

/// Sequential tasks on both sides: exchanges of several spawned clients at once.
#[test]
fn clients_of_their_own_tasks_do_not_make_time_jump() {
    let late = on(BENCH, |bench| async move {
        let mut tasks = Vec::new();
        for _ in 0..8 {
            let mut client = bench.connect(Role::Analyser).await;
            tasks.push(tokio::spawn(async move {
                let mut late = 0;
                for _ in 0..300 {
                    client.send("FREQ:CENT?").await;
                    late += u32::from(client.answer_within(DEADLINE).await.is_none());
                }
                late
            }));
        }
        let mut late = 0;
        for task in tasks {
            late += task.await.unwrap();
        }
        late
    });
    assert_eq!(late, 0);
}
