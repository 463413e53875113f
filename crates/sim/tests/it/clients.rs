//! How many clients a raw socket takes, and what becomes of an answer when the next message is there before it.

use std::time::Duration;

use spurline_sim::{Place, Role};
use tokio::io::{AsyncReadExt, AsyncWriteExt};
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

/// A program that has nothing more to ask may close its own direction and still wait for the answer.
#[test]
fn a_client_that_only_listens_any_more_is_answered() {
    on(BENCH, |bench| async move {
        let mut stream = TcpStream::connect(bench.address(Role::Analyser)).await.unwrap();
        stream.write_all(b"*RST;:INIT:CONT OFF;:SWE:TIME 5;:INIT;*OPC?\n*OPC?\n").await.unwrap();
        bench.clock.sleep(SECOND).await;
        stream.shutdown().await.unwrap();
        let mut answers = String::new();
        stream.read_to_string(&mut answers).await.unwrap();
        assert_eq!(answers, "1\n1\n");
    });
}

/// Those who connect and say nothing do not add up without end.
#[test]
fn connections_that_never_speak_are_bounded() {
    const MOST: usize = 256;
    on(BENCH, |bench| async move {
        let mut mute = Vec::new();
        for _ in 0..MOST {
            mute.push(TcpStream::connect(bench.address(Role::Relay)).await.unwrap());
        }
        bench.clock.sleep(SECOND).await;
        let mut further = TcpStream::connect(bench.address(Role::Relay)).await.unwrap();
        assert_eq!(further.read(&mut [0]).await.unwrap(), 0, "closed at once");
        drop(mute);
        bench.clock.sleep(SECOND).await;
        assert_eq!(bench.connect(Role::Relay).await.ask("*OPC?").await, "1");
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

#[test]
fn a_client_that_leaves_while_it_waits_gives_its_seat_back() {
    let text = BENCH.replace("\n  analyser:", "\n  analyser:\n    link: { connections: 1, busy: wait }");
    on(&text, |bench| async move {
        let mut first = bench.connect(Role::Analyser).await;
        first.ask("*RST;:INIT:CONT OFF;:SWE:TIME 100;:INIT;:SYST:ERR?").await;
        first.send("*OPC?").await;
        assert_eq!(first.answer_within(SECOND).await, None);
        drop(first);
        let mut second = bench.connect(Role::Analyser).await;
        second.send("*IDN?").await;
        let answer = second.answer_within(20 * SECOND).await;
        assert!(answer.is_some(), "{answer:?}");
    });
}
