//! Faults as HiSLIP carries them.

use super::*;
use crate::faults::with_fault;

const SECOND: Duration = Duration::from_secs(1);

#[test]
fn a_request_for_service_has_no_reason() {
    on(&with_fault("{ instrument: analyser, does: stray-service-request }"), |bench| async move {
        let mut client = Client::open(&bench, Role::Analyser).await;
        assert_eq!(client.ask("*OPC?").await, "1");
        let request = client.asynchronous.next_within(SECOND).await.unwrap();
        assert_eq!((request.kind, request.control & 64), (Kind::AsyncServiceRequest, 0));
        assert_eq!(client.ask("*OPC?").await, "1");
        assert_eq!(client.asynchronous.next_within(SECOND).await, None, "once");
    });
}

/// What has no END is no whole answer, whatever its bytes are.
#[test]
fn an_answer_has_no_end() {
    on(&with_fault("{ instrument: analyser, does: no-terminator }"), |bench| async move {
        let mut client = Client::open(&bench, Role::Analyser).await;
        let id = client.tell("*OPC?").await;
        let answer = client.sync.next().await;
        assert_eq!((answer.kind, answer.parameter, &answer.payload[..]), (Kind::Data, id, &b"1"[..]));
        assert_eq!(client.sync.next_within(SECOND).await, None);
    });
    on(&with_fault("{ instrument: analyser, does: ends-in-silence }"), |bench| async move {
        let mut client = Client::open(&bench, Role::Analyser).await;
        client.tell("*OPC?").await;
        let answer = client.sync.next().await;
        assert_eq!((answer.kind, &answer.payload[..]), (Kind::DataEnd, &b"1"[..]));
    });
}

#[test]
fn a_wedged_instrument_needs_a_device_clear() {
    let fault = "{ instrument: analyser, does: wedged, after_messages: 1 }";
    on(&with_fault(fault), |bench| async move {
        let mut client = Client::open(&bench, Role::Analyser).await;
        assert_eq!(client.ask("*OPC?").await, "1");
        for _ in 0..2 {
            client.tell("*OPC?").await;
            assert_eq!(client.sync.next_within(SECOND).await, None);
        }
        client.clear().await;
        assert_eq!(client.ask("*OPC?").await, "1");
    });
}

/// IVI-6.1 clause 6.5: 0 in the control code of the answer says that the lock was not granted in time.
#[test]
fn somebody_else_holds_the_lock() {
    let fault = "{ instrument: analyser, does: locked-elsewhere, lasts: 5 s }";
    on(&with_fault(fault), |bench| async move {
        let mut client = Client::open(&bench, Role::Analyser).await;
        let info = client.beside(Message::bare(Kind::AsyncLockInfo, 0, 0)).await;
        assert_eq!((info.control, info.parameter), (1, 1));
        let refused = client.beside(Message::bare(Kind::AsyncLock, 1, 1000)).await;
        assert_eq!((refused.kind, refused.control), (Kind::AsyncLockResponse, 0));
        let granted = client.beside(Message::bare(Kind::AsyncLock, 1, 10_000)).await;
        assert_eq!((granted.kind, granted.control), (Kind::AsyncLockResponse, 1));
        assert_eq!(bench.clock.elapsed().as_secs(), 5);
    });
}

#[test]
fn nothing_is_said_on_a_mute_link_or_after_the_greeting() {
    let fault = "{ instrument: analyser, does: mute-link, after_messages: 1, lasts: 5 s }";
    on(&with_fault(fault), |bench| async move {
        let mut client = Client::open(&bench, Role::Analyser).await;
        client.ask("*OPC?").await;
        client.tell("*OPC?").await;
        assert_eq!(client.sync.next_within(SECOND).await, None);
        client.asynchronous.send(Message::bare(Kind::AsyncStatusQuery, 0, client.id)).await;
        assert_eq!(client.asynchronous.next_within(Duration::from_secs(6)).await, None);
        assert_eq!(client.status().await, 0, "it is over");
    });
    on(&with_fault("{ instrument: analyser, does: mute-handshake }"), |bench| async move {
        let mut channel = Channel::open(&bench, Role::Analyser).await;
        channel.send(greeting("hislip0")).await;
        assert_eq!(channel.next_within(Duration::from_secs(60)).await, None);
        Client::open(&bench, Role::Analyser).await;
    });
}

#[test]
fn a_connection_ends_inside_the_answer() {
    on(&with_fault("{ instrument: analyser, does: half-answer }"), |bench| async move {
        let mut client = Client::open(&bench, Role::Analyser).await;
        client.tell("*IDN?").await;
        let half = client.sync.next().await;
        assert_eq!((half.kind, &half.payload[..]), (Kind::Data, &b"Example,Analy"[..]));
        assert_eq!(client.sync.next_within(SECOND).await, None);
        assert_eq!(client.sync.stream.read_buf(&mut client.sync.buffer).await.unwrap(), 0, "closed");
    });
}

#[test]
fn bytes_trickle() {
    let fault = "{ instrument: analyser, does: trickle, bytes: 10, by: 50 ms }";
    on(&with_fault(fault), |bench| async move {
        let mut client = Client::open(&bench, Role::Analyser).await;
        client.tell("*IDN?").await;
        let (mut text, mut messages) = (Vec::new(), 0);
        loop {
            let message = client.sync.next().await;
            text.extend_from_slice(&message.payload);
            messages += 1;
            if message.kind == Kind::DataEnd {
                break;
            }
        }
        assert_eq!((text.trim_ascii(), messages), (&b"Example,Analyser,A-0001,1.0"[..], 11));
        assert_eq!(bench.clock.elapsed().as_millis(), 500);
    });
}

#[test]
fn a_message_that_waited_for_room_is_dropped_by_a_clear() {
    on(BENCH, |bench| async move {
        let mut client = Client::open(&bench, Role::Analyser).await;
        client.tell("*RST;:INIT:CONT OFF;:FREQ:CENT 144.2E6;SPAN 1MHZ;:BAND 10 KHZ;:SWE:TIME 20").await;
        let before = client.ask("FREQ:CENT?").await;
        client.tell("INIT;*WAI").await;
        for _ in 0..16 {
            client.tell("*WAI").await;
        }
        client.tell("FREQ:CENT 150E6").await;
        assert_eq!(client.sync.next_within(SECOND).await, None);
        client.clear().await;
        assert_eq!(client.ask("FREQ:CENT?").await, before, "cleared before it was begun");
    });
}

#[test]
fn what_is_kept_without_power_is_kept() {
    on(&with_fault("{ instrument: analyser, does: power-dip, on: \"*OPC?\" }"), |bench| async move {
        let mut client = Client::open(&bench, Role::Analyser).await;
        client.tell("*PSC 0").await;
        client.tell("*ESE 32").await;
        client.tell("*SAV 1").await;
        client.ask("*OPC?").await;
        assert_eq!(client.ask("*ESR?").await, "128");
        assert_eq!(client.ask("*PSC?;*ESE?;*RCL 1;:SYST:ERR:CODE?").await, "0;32;0");
    });
}
