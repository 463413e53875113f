//! Servers that say nothing, say no, or say nonsense.

use std::future::Future;
use std::time::Duration;

use bytes::Bytes;
use spurline_clock::{Clock, Pace, run};
use spurline_transport::{Address, Link, LinkError, LinkSettings, connect};
use spurline_wire::hislip::{ErrorKind, FatalKind, Kind, Message, OVERLAPPED, Version, Welcome};
use spurline_wire::rpc::Outcome;
use spurline_wire::vxi11::{Code, Created, ReadDone, WriteDone};
use tokio::net::TcpListener;

use crate::script::{IDENTITY, Script};
use crate::{ask, hislip, hislip_at, listener, vxi11, vxi11_at};

/// Runs a client against a server of the test's own.
fn against<S, C>(
    at: impl FnOnce(u16) -> Address,
    serve: impl FnOnce(TcpListener) -> S,
    client: impl FnOnce(Result<Box<dyn Link>, LinkError>, Clock) -> C,
) where
    S: Future<Output = ()> + Send + 'static,
    C: Future<Output = ()>,
{
    run(Pace::Fast, |clock| async move {
        let (listener, port) = listener().await;
        tokio::spawn(serve(listener));
        let link = connect(&at(port), &LinkSettings::default(), clock).await;
        client(link, clock).await;
    })
    .unwrap();
}

async fn for_ever() {
    std::future::pending().await
}

/// Whether the refusal is laid to another program that has the instrument.
fn is_of_another_program(link: Result<Box<dyn Link>, LinkError>) -> bool {
    let LinkError::Refused { busy, fatal: true, .. } = link.unwrap_err() else { panic!("refused for good") };
    busy
}

/// Each step of a handshake has 4 s.
async fn is_mute(link: Result<Box<dyn Link>, LinkError>, clock: Clock) {
    let error = link.unwrap_err();
    assert!(matches!(error, LinkError::Mute { .. }), "{error:?}");
    assert!(error.to_string().ends_with("found nothing within 4 s"), "{error}");
    let waited = clock.elapsed();
    assert!(waited >= Duration::from_secs(4) && waited < Duration::from_millis(4100), "{waited:?}");
}

#[test]
fn a_server_that_says_nothing_is_given_up() {
    let mute = |listener: TcpListener| async move {
        let _stream = listener.accept().await.unwrap();
        for_ever().await;
    };
    against(hislip_at, mute, is_mute);
    against(vxi11_at, mute, is_mute);
    let mute_after_welcome = |listener: TcpListener| async move {
        let mut main = hislip::Side::accept(&listener, usize::MAX).await;
        main.expect(Kind::Initialize).await;
        main.send(Welcome { version: Version::ONE, session: 1, overlapped: false }.message()).await;
        for_ever().await;
    };
    against(hislip_at, mute_after_welcome, is_mute);
}

#[test]
fn a_clear_and_a_status_that_nobody_answers_are_given_up() {
    let serve = |listener: TcpListener| async move {
        let _sides = hislip::greet(&listener, Script::PLAIN, false).await;
        for_ever().await;
    };
    against(hislip_at, serve, |link, _| async move {
        let mut link = link.unwrap();
        assert!(matches!(link.status().await, Err(LinkError::Mute { .. })));
        assert!(matches!(link.clear().await, Err(LinkError::Mute { .. })));
    });
    let serve = |listener: TcpListener| async move {
        let mut side = vxi11::Side::accept(&listener, usize::MAX).await;
        side.create_link(1024).await;
        for_ever().await;
    };
    against(vxi11_at, serve, |link, _| async move {
        let mut link = link.unwrap();
        assert!(matches!(link.status().await, Err(LinkError::Mute { .. })));
        assert!(matches!(link.clear().await, Err(LinkError::Mute { .. })));
    });
}

#[test]
fn a_refusal_has_the_servers_words() {
    let full = |listener: TcpListener| async move {
        let mut main = hislip::Side::accept(&listener, usize::MAX).await;
        main.expect(Kind::Initialize).await;
        main.send(Message::fatal(FatalKind::Clients, "all\n4 seats taken")).await;
        for_ever().await;
    };
    against(hislip_at, full, |link, _| async move {
        let told = link.unwrap_err().to_string();
        assert!(
            told.contains("refused a session: all\\u{a}4 seats taken (fatal error 4)\nend another"),
            "{told}"
        );
    });
    let locked = |listener: TcpListener| async move {
        let mut side = vxi11::Side::accept(&listener, usize::MAX).await;
        let call = side.next().await.unwrap();
        let created = Created { error: Code::RESOURCES, link: 0, abort_port: 0, most_receive: 0 };
        side.reply(call.xid, Outcome::Done(created.encode())).await;
        for_ever().await;
    };
    against(vxi11_at, locked, |link, _| async move {
        let told = link.unwrap_err().to_string();
        assert!(told.ends_with("refused a link: out of resources (9)"), "{told}");
    });
    let other_program = |listener: TcpListener| async move {
        let mut side = vxi11::Side::accept(&listener, usize::MAX).await;
        let call = side.next().await.unwrap();
        side.reply(call.xid, Outcome::NoProgram).await;
        for_ever().await;
    };
    against(vxi11_at, other_program, |link, _| async move {
        let told = link.unwrap_err().to_string();
        assert!(told.ends_with("refused a call: the program is not served there"), "{told}");
    });
}

/// Fatal errors 3 and 4 of IVI-6.1, and errors 3, 9 and 11 of VXI-11 (table B.2), from memory: only a server that is full, or
/// locked, is waited for; one that does not know the device is not.
#[test]
fn only_what_another_program_holds_is_waited_for() {
    for (kind, busy) in [(FatalKind::Clients, true), (FatalKind::Initialization, false)] {
        let refuse = move |listener: TcpListener| async move {
            let mut main = hislip::Side::accept(&listener, usize::MAX).await;
            main.expect(Kind::Initialize).await;
            main.send(Message::fatal(kind, "no")).await;
            for_ever().await;
        };
        against(hislip_at, refuse, |link, _| async move {
            assert_eq!(is_of_another_program(link), busy, "{kind:?}");
        });
    }
    for (error, busy) in [(Code::NOT_ACCESSIBLE, false), (Code::RESOURCES, true), (Code::LOCKED, true)] {
        let refuse = move |listener: TcpListener| async move {
            let mut side = vxi11::Side::accept(&listener, usize::MAX).await;
            let call = side.next().await.unwrap();
            let created = Created { error, link: 0, abort_port: 0, most_receive: 0 };
            side.reply(call.xid, Outcome::Done(created.encode())).await;
            for_ever().await;
        };
        against(vxi11_at, refuse, |link, _| async move {
            assert_eq!(is_of_another_program(link), busy, "{error}");
        });
    }
}

#[test]
fn what_is_no_such_server_is_told() {
    against(hislip_at, hislip::garbage, |link, _| async move {
        let error = link.unwrap_err();
        assert!(matches!(error, LinkError::Protocol { protocol: "HiSLIP", .. }), "{error:?}");
    });
    against(vxi11_at, hislip::greeting_only, |link, _| async move {
        let error = link.unwrap_err();
        assert!(matches!(error, LinkError::Protocol { protocol: "VXI-11", .. }), "{error:?}");
    });
}

#[test]
fn a_server_that_ends_the_session_in_a_clear_is_heard() {
    let serve = |listener: TcpListener| async move {
        let (_main, mut beside) = hislip::greet(&listener, Script::PLAIN, false).await;
        beside.expect(Kind::AsyncDeviceClear).await;
        beside.send(Message::fatal(FatalKind::Header, "lost step")).await;
        for_ever().await;
    };
    against(hislip_at, serve, |link, _| async move {
        let told = link.unwrap().clear().await.unwrap_err().to_string();
        assert!(told.ends_with("refused a device clear: lost step (fatal error 1)"), "{told}");
    });
}

#[test]
fn a_status_query_that_is_refused_does_not_silence_the_next_one() {
    let serve = |listener: TcpListener| async move {
        let (_main, mut beside) = hislip::greet(&listener, Script::PLAIN, false).await;
        beside.expect(Kind::AsyncStatusQuery).await;
        beside.send(Message::error(ErrorKind::Unidentified, "not now")).await;
        beside.expect(Kind::AsyncStatusQuery).await;
        beside.bare(Kind::AsyncStatusResponse, 0x50, 0).await;
        for_ever().await;
    };
    against(hislip_at, serve, |link, _| async move {
        let mut link = link.unwrap();
        assert!(matches!(link.status().await, Err(LinkError::Refused { fatal: false, .. })));
        assert_eq!(link.status().await.unwrap(), Some(0x50));
    });
}

/// While one sign of an interruption is missing, and from a server that answers what was not asked.
#[test]
fn answers_that_nobody_fetches_are_not_piled_up() {
    const PIECE: usize = 1 << 20;
    let flood = |listener: TcpListener| async move {
        let (mut main, _beside) = hislip::greet(&listener, Script::PLAIN, false).await;
        let id = main.expect(Kind::DataEnd).await.parameter;
        main.bare(Kind::Interrupted, 0, id).await;
        let big = Bytes::from(vec![b'1'; PIECE]);
        for _ in 0..40 {
            main.send(Message::new(Kind::DataEnd, 0, id, big.clone())).await;
        }
        for_ever().await;
    };
    against(hislip_at, flood, |link, _| async move {
        let mut link = link.unwrap();
        link.send(b"A?").await.unwrap();
        link.receive().await.unwrap();
        assert!(matches!(link.send(b"B?").await, Err(LinkError::Mute { .. })));
        assert!(link.unread().await.unwrap() <= PIECE);
    });
    let many = |listener: TcpListener| async move {
        let (mut main, _beside) = hislip::greet(&listener, Script::PLAIN, false).await;
        let id = main.expect(Kind::DataEnd).await.parameter;
        for _ in 0..1000 {
            main.send(Message::new(Kind::DataEnd, 0, id, &b"1"[..])).await;
        }
        for_ever().await;
    };
    against(hislip_at, many, |link, clock| async move {
        let mut link = link.unwrap();
        link.send(b"A?").await.unwrap();
        let mut looks = 0;
        let error = loop {
            looks += 1;
            match link.unread().await {
                Ok(unread) => assert!(unread <= 1000 && looks < 10_000, "{unread} bytes unread"),
                Err(error) => break error,
            }
            clock.sleep(Duration::from_millis(1)).await;
        };
        assert!(matches!(error, LinkError::Protocol { .. }), "{error:?}");
    });
}

#[test]
fn an_answer_without_end_is_refused() {
    let flood = |listener: TcpListener| async move {
        let (mut main, _beside) = hislip::greet(&listener, Script::PLAIN, false).await;
        let id = main.expect(Kind::DataEnd).await.parameter;
        let part = Bytes::from(vec![b'1'; 1 << 20]);
        for _ in 0..81 {
            main.send(Message::new(Kind::Data, 0, id, part.clone())).await;
        }
        for_ever().await;
    };
    against(hislip_at, flood, |link, _| async move {
        let mut link = link.unwrap();
        link.send(b"*IDN?").await.unwrap();
        assert!(matches!(link.receive().await, Err(LinkError::TooLong { .. })));
    });
}

/// IVI-6.1 clause 6.12: in a device clear the two ends agree on the mode.
#[test]
fn a_server_that_would_rather_overlap_is_talked_out_of_it() {
    let agree = |control: u8| {
        move |listener: TcpListener| async move {
            let (mut main, mut beside) = hislip::greet(&listener, Script::PLAIN, true).await;
            beside.expect(Kind::AsyncDeviceClear).await;
            beside.bare(Kind::AsyncDeviceClearAcknowledge, OVERLAPPED, 0).await;
            assert_eq!(main.expect(Kind::DeviceClearComplete).await.control, 0);
            main.bare(Kind::DeviceClearAcknowledge, control, 0).await;
            let id = main.expect(Kind::DataEnd).await.parameter;
            main.send(Message::new(Kind::DataEnd, 0, id, IDENTITY)).await;
            for_ever().await;
        }
    };
    against(hislip_at, agree(0), |link, _| async move {
        assert_eq!(ask(&mut link.unwrap(), "*IDN?").await, IDENTITY);
    });
    against(hislip_at, agree(OVERLAPPED), |link, _| async move {
        assert!(matches!(link.unwrap_err(), LinkError::Refused { fatal: true, .. }));
    });
}

/// Clause 3.1.1: what was interrupted is dropped, and nothing is sent before both signs of it have come.
#[test]
fn an_interrupted_answer_is_not_taken_for_the_next_one() {
    let serve = |listener: TcpListener| async move {
        let (mut main, mut beside) = hislip::greet(&listener, Script::PLAIN, false).await;
        let first = main.expect(Kind::DataEnd).await.parameter;
        main.send(Message::new(Kind::Data, 0, first, &b"half of"[..])).await;
        let second = main.expect(Kind::DataEnd).await.parameter;
        main.bare(Kind::Interrupted, 0, second).await;
        main.send(Message::new(Kind::DataEnd, 0, second, &b"two\n"[..])).await;
        beside.bare(Kind::AsyncInterrupted, 0, second).await;
        let third = main.expect(Kind::DataEnd).await.parameter;
        beside.bare(Kind::AsyncInterrupted, 0, third).await;
        main.bare(Kind::Interrupted, 0, second).await;
        let fourth = main.expect(Kind::DataEnd).await.parameter;
        main.send(Message::new(Kind::DataEnd, 0, fourth, &b"four\n"[..])).await;
        for_ever().await;
    };
    against(hislip_at, serve, |link, clock| async move {
        let mut link = link.unwrap();
        link.send(b"ECHO? one").await.unwrap();
        assert!(clock.within(Duration::from_secs(1), link.receive()).await.is_err());
        assert_eq!(ask(&mut link, "ECHO? two").await, b"two");
        link.send(b"ECHO? three").await.unwrap();
        let error = link.receive().await.unwrap_err();
        assert!(matches!(error, LinkError::Interrupted) && error.is_passing(), "{error:?}");
        assert_eq!(ask(&mut link, "ECHO? four").await, b"four");
    });
}

/// VXI-11 clause B.6.3 and B.6.4: errors of a write and of a read, and a write that took a part of its bytes.
#[test]
fn a_device_that_cannot_is_told() {
    let serve = |listener: TcpListener| async move {
        let mut side = vxi11::Side::accept(&listener, usize::MAX).await;
        side.create_link(0).await;
        let answers = [
            WriteDone { error: Code::TIMEOUT, size: 2 }.encode(),
            WriteDone { error: Code::NONE, size: 99 }.encode(),
            ReadDone { error: Code::LOCKED, reason: 0, data: Bytes::new() }.encode(),
            WriteDone { error: Code::NONE, size: 0 }.encode(),
        ];
        for answer in answers {
            let call = side.next().await.unwrap();
            side.reply(call.xid, Outcome::Done(answer)).await;
        }
        for_ever().await;
    };
    against(vxi11_at, serve, |link, _| async move {
        let mut link = link.unwrap();
        link.send(b"*IDN?").await.unwrap();
        let told = link.receive().await.unwrap_err().to_string();
        assert!(told.contains("refused a read: device locked by another link (11)\nunlock"), "{told}");
        let told = link.send(b"*IDN?").await.unwrap_err().to_string();
        assert!(told.ends_with("refused a message: it took none of its bytes"), "{told}");
    });
}
