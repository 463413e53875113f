//! What becomes of calls that a device clear or a poll overtakes.

use std::time::Duration;

use bytes::{Bytes, BytesMut};
use spurline_clock::{Clock, Pace, run};
use spurline_wire::rpc::{Call, Outcome, RecordDecoder, Reply};
use spurline_wire::vxi11::{Code, Created, ReadDone, StatusDone, WriteDone, encode_error, procedure};
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpListener;

use super::*;
use crate::address::Address;
use crate::settings::LinkSettings;

/// Plays a device that takes its time for each write or read: `write` and `read` are their results.
async fn device(listener: TcpListener, write: Bytes, read: Bytes, clock: Clock) {
    let (mut stream, _) = listener.accept().await.unwrap();
    stream.set_nodelay(true).unwrap();
    let (mut decoder, mut buffer) = (RecordDecoder::new(4096), BytesMut::new());
    loop {
        let Some(record) = decoder.decode(&mut buffer).unwrap() else {
            if stream.read_buf(&mut buffer).await.unwrap() == 0 {
                return;
            }
            continue;
        };
        let call = Call::decode(record).unwrap();
        let results = match call.procedure {
            procedure::CREATE_LINK => {
                Created { error: Code::NONE, link: 1, abort_port: 0, most_receive: 4096 }.encode()
            }
            procedure::DEVICE_WRITE => {
                clock.sleep(Duration::from_secs(3)).await;
                write.clone()
            }
            procedure::DEVICE_READ => {
                clock.sleep(Duration::from_secs(3)).await;
                read.clone()
            }
            procedure::DEVICE_CLEAR => encode_error(Code::NONE),
            procedure::DEVICE_READSTB => StatusDone { error: Code::NONE, status: 16 }.encode(),
            _ => return,
        };
        let reply = Reply { xid: call.xid, outcome: Outcome::Done(results) };
        stream.write_all(&reply.encode().unwrap()).await.unwrap();
    }
}

async fn link_to(write: Bytes, read: Bytes, clock: Clock) -> Vxi11Link {
    let listener = TcpListener::bind(("127.0.0.1", 0)).await.unwrap();
    let port = listener.local_addr().unwrap().port();
    tokio::spawn(device(listener, write, read, clock));
    let address: Address = format!("TCPIP::127.0.0.1,{port}::inst0::INSTR").parse().unwrap();
    let device = Device { host: "127.0.0.1", port: Some(port), name: "inst0", portmapper: 0 };
    open(&address, device, &LinkSettings::default(), clock).await.unwrap()
}

fn written() -> Bytes {
    WriteDone { error: Code::NONE, size: 6 }.encode()
}

fn failed_read() -> Bytes {
    ReadDone { error: Code::IO, reason: 0, data: Bytes::new() }.encode()
}

#[test]
fn the_late_reply_to_a_cleared_write_is_nobodys() {
    for reply in [written(), WriteDone { error: Code::IO, size: 0 }.encode()] {
        run(Pace::Fast, |clock| async move {
            let mut link = link_to(reply, failed_read(), clock).await;
            assert!(clock.within(Duration::from_secs(2), link.send(b"*RST")).await.is_err());
            assert_eq!(link.clear().await.unwrap(), Cleared::Device);
            assert_eq!(link.status().await.unwrap(), Some(16));
        })
        .unwrap();
    }
}

/// Many devices end a read that a clear overtakes with an error: common practice.
#[test]
fn a_read_that_a_clear_ends_does_not_fail_the_clear() {
    run(Pace::Fast, |clock| async move {
        let mut link = link_to(written(), failed_read(), clock).await;
        link.send(b"*IDN?").await.unwrap();
        assert!(clock.within(Duration::from_secs(2), link.receive()).await.is_err());
        assert_eq!(link.clear().await.unwrap(), Cleared::Device);
    })
    .unwrap();
}

#[test]
fn a_failed_read_is_told_to_the_reader_and_not_to_a_poll() {
    run(Pace::Fast, |clock| async move {
        let mut link = link_to(written(), failed_read(), clock).await;
        link.send(b"*IDN?").await.unwrap();
        assert!(clock.within(Duration::from_secs(2), link.receive()).await.is_err());
        assert_eq!(link.status().await.unwrap(), Some(16));
        let told = link.receive().await.unwrap_err();
        assert!(matches!(told, LinkError::Refused { asked: "a read", .. }), "{told:?}");
    })
    .unwrap();
}
