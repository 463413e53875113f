//! What every link must keep, whatever wire is behind it: the same statements over an in-process pipe, TCP, a serial
//! line, HiSLIP and VXI-11, each against a small peer that plays a fixed script. Time is virtual throughout.

#![expect(clippy::unwrap_used, reason = "a test may fail")]

mod broken;
mod dialects;
mod hislip;
mod lines;
mod script;
mod statements;
mod vxi11;

use std::future::Future;

use script::Script;
use spurline_clock::{Clock, Pace, run};
use spurline_transport::{Address, Link, LinkSettings, StreamLink, connect};
use tokio::net::TcpListener;
use tokio_serial::SerialStream;

/// The ways to a device.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Way {
    Pipe,
    Tcp,
    Serial,
    Hislip,
    Vxi11,
}

const STREAMS: [Way; 3] = [Way::Pipe, Way::Tcp, Way::Serial];
const ALL: [Way; 5] = [Way::Pipe, Way::Tcp, Way::Serial, Way::Hislip, Way::Vxi11];

/// A listener on a free port, and that port.
async fn listener() -> (TcpListener, u16) {
    let listener = TcpListener::bind(("127.0.0.1", 0)).await.unwrap();
    let port = listener.local_addr().unwrap().port();
    (listener, port)
}

fn hislip_at(port: u16) -> Address {
    format!("TCPIP::127.0.0.1::hislip0,{port}::INSTR").parse().unwrap()
}

fn vxi11_at(port: u16) -> Address {
    format!("TCPIP::127.0.0.1,{port}::inst0::INSTR").parse().unwrap()
}

/// A link to a peer that plays `script`.
async fn open(way: Way, script: Script, settings: &LinkSettings, clock: Clock) -> Box<dyn Link> {
    match way {
        Way::Pipe => {
            let (near, far) = tokio::io::duplex(1 << 16);
            tokio::spawn(script::on_stream(far, script, clock));
            Box::new(StreamLink::with(near, settings, clock))
        }
        Way::Tcp => {
            let (listener, port) = listener().await;
            tokio::spawn(async move {
                let (stream, _) = listener.accept().await.unwrap();
                stream.set_nodelay(true).unwrap();
                script::on_stream(stream, script, clock).await;
            });
            let address = Address::Socket { host: "127.0.0.1".to_owned(), port };
            connect(&address, settings, clock).await.unwrap()
        }
        Way::Serial => {
            let (far, near) = lines::pair();
            let link = connect(&lines::address(&near), settings, clock).await.unwrap();
            let far = SerialStream::try_from(far).unwrap();
            tokio::spawn(script::on_stream(far, script, clock));
            link
        }
        Way::Hislip => {
            let (listener, port) = listener().await;
            tokio::spawn(hislip::serve(listener, script, clock));
            connect(&hislip_at(port), settings, clock).await.unwrap()
        }
        Way::Vxi11 => {
            let (listener, port) = listener().await;
            tokio::spawn(vxi11::serve(listener, script, clock));
            connect(&vxi11_at(port), settings, clock).await.unwrap()
        }
    }
}

/// Runs a statement over each of the ways.
fn over<F: Future<Output = ()>>(
    ways: &[Way],
    script: Script,
    statement: impl Fn(Way, Box<dyn Link>, Clock) -> F,
) {
    for &way in ways {
        run(Pace::Fast, |clock| {
            let statement = &statement;
            async move {
                let link = open(way, script, &LinkSettings::default(), clock).await;
                statement(way, link, clock).await;
            }
        })
        .unwrap();
    }
}

async fn ask(link: &mut Box<dyn Link>, message: &str) -> Vec<u8> {
    link.send(message.as_bytes()).await.unwrap();
    let received = link.receive().await.unwrap();
    assert!(received.end, "{message}");
    received.bytes.to_vec()
}
