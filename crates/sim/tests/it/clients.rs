//! How many clients a raw socket takes, and what becomes of an answer when the next message is there before it.

use std::time::Duration;

use spurline_sim::{Place, Role};
use tokio::net::TcpStream;

use crate::client::{BENCH, Client, at, on};

const SECOND: Duration = Duration::from_secs(1);

fn with_link(link: &str) -> String {
    BENCH.replace("  supply: {}", &format!("  supply: {{ link: {{ {link} }} }}"))
}

#[test]
fn one_more_client_waits_until_the_first_has_gone() {
    on(&with_link("connections: 1, busy: wait"), |bench| async move {
        let mut first = bench.connect(Role::Supply).await;
        first.ask("*OPC?").await;
        let mut second = bench.connect(Role::Supply).await;
        second.send("*OPC?").await;
        assert_eq!(second.answer_within(60 * SECOND).await, None);
        drop(first);
        assert_eq!(second.answer_within(SECOND).await.as_deref(), Some("1"));
    });
}

#[test]
fn one_more_client_is_refused() {
    on(&with_link("connections: 2, busy: refuse"), |bench| async move {
        let mut clients = [bench.connect(Role::Supply).await, bench.connect(Role::Supply).await];
        for client in &mut clients {
            client.ask("*OPC?").await;
        }
        assert!(TcpStream::connect(bench.address(Role::Supply)).await.is_err());
        drop(clients);
        bench.clock.sleep(SECOND).await;
        assert_eq!(bench.connect(Role::Supply).await.ask("*OPC?").await, "1");
    });
}

#[test]
fn one_more_client_is_let_in_and_shut_out() {
    on(&with_link("connections: 1, busy: close"), |bench| async move {
        let mut first = bench.connect(Role::Supply).await;
        first.ask("*OPC?").await;
        let mut second = bench.connect(Role::Supply).await;
        assert_eq!(second.answer_within(SECOND).await, None);
        assert!(bench.clock.elapsed() < SECOND, "closed, not silent");
        assert_eq!(first.ask("*OPC?").await, "1");
    });
}

/// IEEE 488.2 clause 6.3.2.3: a new message that comes before the answer was read interrupts it.
async fn two_questions(mut client: Client) -> (Option<String>, Option<String>, String) {
    client.ask("*CLS;*OPC?").await;
    client.send("*IDN?\n*OPC?").await;
    let first = client.answer_within(SECOND).await;
    let second = client.answer_within(SECOND).await;
    (first, second, client.ask("SYST:ERR?").await)
}

#[test]
fn a_stream_queues_its_answers_unless_told_to_interrupt() {
    let queued = on(BENCH, |bench| async move { two_questions(bench.connect(Role::Supply).await).await });
    assert_eq!(queued.0.map(|answer| answer.split(',').count()), Some(4));
    assert_eq!((queued.1.as_deref(), queued.2.as_str()), (Some("1"), "0,\"No error\""));
    for place in [Place::any_socket(), Place::Serial { path: None }] {
        let text = with_link("output: interrupt");
        let interrupted = at(&text, &place, |bench| async move {
            let client = match bench.place(Role::Supply) {
                Place::Serial { .. } => crate::serial::open(&bench, Role::Supply),
                _ => bench.connect(Role::Supply).await,
            };
            two_questions(client).await
        });
        assert_eq!((interrupted.0.as_deref(), interrupted.1), (Some("1"), None), "{place}");
        assert!(interrupted.2.starts_with("-410,"), "{place}: {}", interrupted.2);
    }
}
