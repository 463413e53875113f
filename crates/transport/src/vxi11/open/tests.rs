//! Where the portmapper sends the client, played on ports of the test's own.

use std::time::Duration;

use spurline_clock::{Pace, run};
use spurline_wire::rpc::{Call, Outcome, RecordDecoder, Reply};
use spurline_wire::vxi11::Code;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpListener, TcpStream};

use super::*;

async fn listener() -> (TcpListener, u16) {
    let listener = TcpListener::bind(("127.0.0.1", 0)).await.unwrap();
    let port = listener.local_addr().unwrap().port();
    (listener, port)
}

/// Takes one call on the next connection and replies to it; the call and the connection.
async fn replies(listener: &TcpListener, outcome: Outcome) -> (Call, TcpStream) {
    let (mut stream, _) = listener.accept().await.unwrap();
    let (mut decoder, mut buffer) = (RecordDecoder::new(4096), BytesMut::new());
    let call = loop {
        if let Some(record) = decoder.decode(&mut buffer).unwrap() {
            break Call::decode(record).unwrap();
        }
        assert!(stream.read_buf(&mut buffer).await.unwrap() > 0);
    };
    stream.write_all(&Reply { xid: call.xid, outcome }.encode().unwrap()).await.unwrap();
    (call, stream)
}

fn address() -> Address {
    "TCPIP::127.0.0.1::gpib0,5::INSTR".parse().unwrap()
}

#[test]
fn the_portmapper_is_asked_for_the_port() {
    run(Pace::Fast, |clock| async move {
        let (core, port) = listener().await;
        let (mapper, portmapper) = listener().await;
        let served = tokio::spawn(async move {
            let (asked, _) = replies(&mapper, Outcome::Done(portmap::encode_port(Some(port)))).await;
            let created = Created { error: Code::NONE, link: 1, abort_port: 0, most_receive: 4096 };
            let (wanted, stream) = replies(&core, Outcome::Done(created.encode())).await;
            (asked, wanted, stream)
        });
        let device = Device { host: "127.0.0.1", port: None, name: "gpib0,5", portmapper };
        let link = open(&address(), device, &LinkSettings::default(), clock).await.unwrap();
        let (asked, wanted, mut stream) = served.await.unwrap();
        assert_eq!((asked.program, asked.version, asked.procedure), (100_000, 2, 3));
        assert_eq!(portmap::Mapping::decode(asked.arguments), Ok(portmap::Mapping::tcp(0x06_07af, 1)));
        assert_eq!(CreateLink::decode(wanted.arguments).unwrap().device, "gpib0,5");
        drop(link);
        // The link is given back before the connection is closed.
        let mut last = Vec::new();
        stream.read_to_end(&mut last).await.unwrap();
        assert_eq!(Call::decode(last.into()).unwrap().procedure, procedure::DESTROY_LINK);
    })
    .unwrap();
}

#[test]
fn a_host_that_does_not_serve_it_is_told() {
    run(Pace::Fast, |clock| async move {
        let (mapper, portmapper) = listener().await;
        tokio::spawn(async move { replies(&mapper, Outcome::Done(portmap::encode_port(None))).await });
        let device = Device { host: "127.0.0.1", port: None, name: "inst0", portmapper };
        let told = open(&address(), device, &LinkSettings::default(), clock).await.unwrap_err().to_string();
        assert!(
            told.ends_with("refused the port of its core channel: the host does not serve VXI-11"),
            "{told}"
        );
    })
    .unwrap();
}

#[test]
fn a_portmapper_that_says_nothing_is_given_up() {
    run(Pace::Fast, |clock| async move {
        let (mapper, portmapper) = listener().await;
        tokio::spawn(async move {
            let _stream = mapper.accept().await.unwrap();
            std::future::pending::<()>().await;
        });
        let device = Device { host: "127.0.0.1", port: None, name: "inst0", portmapper };
        let settings = LinkSettings { connect_within: Duration::from_secs(9), ..LinkSettings::default() };
        let told = open(&address(), device, &settings, clock).await.unwrap_err().to_string();
        assert!(told.starts_with("expected the port of its core channel from"), "{told}");
        assert_eq!(clock.elapsed().as_secs(), 9);
    })
    .unwrap();
}
