//! Recorded instruments on real sockets: one port a link.

use std::io;
use std::net::{Ipv4Addr, SocketAddr};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use bytes::BytesMut;
use spurline_clock::Clock;
use spurline_scpi::{Limits, ProgramDecoder};
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::watch;
use tokio::task::{JoinHandle, JoinSet};

use crate::cursor::Cursor;
use crate::difference::{Difference, ReplayError};
use crate::script::{Reply, Script, Sent};

/// Recorded instruments that are being served, until they are stopped or dropped.
#[derive(Debug)]
pub struct Served {
    addresses: Vec<(Arc<str>, SocketAddr)>,
    links: Vec<Arc<Link>>,
    servers: Vec<JoinHandle<()>>,
    found: watch::Receiver<Option<Difference>>,
}

impl Served {
    /// Where each link answers, in the order in which the links were first used.
    #[must_use]
    pub fn addresses(&self) -> &[(Arc<str>, SocketAddr)] {
        &self.addresses
    }

    /// Waits for the first request that is not the recorded one.
    pub async fn difference(&self) -> Difference {
        let mut found = self.found.clone();
        loop {
            if let Some(difference) = found.borrow_and_update().clone() {
                return difference;
            }
            if found.changed().await.is_err() {
                // No link is left that could find one.
                std::future::pending::<()>().await;
            }
        }
    }

    /// The first request that was not the recorded one, else what was recorded and never asked.
    #[must_use]
    pub fn left(&self) -> Option<Difference> {
        let found = self.found.borrow().clone();
        found.or_else(|| self.links.iter().find_map(|link| link.cursor().left()))
    }

    /// Closes every port and connection.
    pub async fn stop(mut self) {
        for server in self.servers.drain(..) {
            server.abort();
            // Aborted is what it should be.
            drop(server.await);
        }
    }
}

impl Drop for Served {
    fn drop(&mut self) {
        self.servers.iter().for_each(JoinHandle::abort);
    }
}

/// Puts each link on a free port of this machine.
///
/// # Errors
///
/// If a port cannot be had.
pub async fn serve(scripts: Vec<Script>, clock: Clock) -> Result<Served, ReplayError> {
    let (differs, found) = watch::channel(None);
    let mut served = Served { addresses: Vec::new(), links: Vec::new(), servers: Vec::new(), found };
    for script in scripts {
        let name = script.link.clone();
        let failed = |source| ReplayError::Listen { link: name.clone(), source };
        let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, 0)).await.map_err(failed)?;
        served.addresses.push((name.clone(), listener.local_addr().map_err(failed)?));
        let cursor = Mutex::new(Cursor::new(Arc::new(script)));
        let link =
            Arc::new(Link { cursor, clock, differs: differs.clone(), over: watch::Sender::new(false) });
        served.links.push(link.clone());
        served.servers.push(tokio::spawn(accept(listener, link)));
    }
    Ok(served)
}

#[derive(Debug)]
struct Link {
    cursor: Mutex<Cursor>,
    clock: Clock,
    differs: watch::Sender<Option<Difference>>,
    /// Whether the link has been lost for good.
    over: watch::Sender<bool>,
}

impl Link {
    fn cursor(&self) -> MutexGuard<'_, Cursor> {
        self.cursor.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// What comes of a request; one that is not the recorded one is told, the first of all links.
    fn ask(&self, asked: &[u8]) -> Option<Vec<Reply>> {
        let replies = self.cursor().ask(asked);
        replies
            .map_err(|difference| {
                self.differs.send_if_modified(|found| {
                    let first = found.is_none();
                    found.get_or_insert(difference);
                    first
                })
            })
            .ok()
    }
}

/// The most connections that one link takes at a time.
const MOST_CONNECTIONS: usize = 16;

/// Takes connections until the link is lost for good: then nobody listens any more, and new ones are refused.
async fn accept(listener: TcpListener, link: Arc<Link>) {
    let mut connections = JoinSet::new();
    let mut over = link.over.subscribe();
    loop {
        let accepted = tokio::select! {
            biased;
            _ = over.wait_for(|over| *over) => return,
            accepted = listener.accept() => accepted,
        };
        let Ok((stream, _)) = accepted else { return };
        while connections.try_join_next().is_some() {}
        if connections.len() < MOST_CONNECTIONS {
            let link = link.clone();
            connections.spawn(async move {
                // That the other end went away in the middle is its own affair.
                drop(converse(stream, &link).await);
            });
        }
    }
}

/// What a request may be: as much as any program sends to an instrument.
const INPUT: Limits = Limits { text: 1 << 20, block: 64 << 20 };

/// One connection: requests in, recorded answers out. It ends where the recorded link ended, and at a difference.
async fn converse(mut stream: TcpStream, link: &Link) -> io::Result<()> {
    stream.set_nodelay(true)?;
    let mut buffer = BytesMut::with_capacity(4096);
    let mut decoder = ProgramDecoder::new(INPUT);
    loop {
        match decoder.decode(&mut buffer) {
            Ok(Some(request)) => {
                let Some(replies) = link.ask(&request) else { return Ok(()) };
                if !answer(&mut stream, &replies, link.clock).await? {
                    link.over.send_replace(link.cursor().is_over());
                    return Ok(());
                }
            }
            Ok(None) => {
                if stream.read_buf(&mut buffer).await? == 0 {
                    return Ok(());
                }
            }
            Err(_) => {
                // What is too long to be read was never recorded.
                let _different = link.ask(&buffer);
                return Ok(());
            }
        }
    }
}

/// Does what the instrument did, when it did it; false if the link ended with it.
async fn answer(stream: &mut TcpStream, replies: &[Reply], clock: Clock) -> io::Result<bool> {
    let asked = clock.now();
    for reply in replies {
        clock.sleep_until(asked.after(reply.after)).await;
        match &reply.sent {
            Sent::Message(bytes) => {
                // One write for one answer: a split one would wait for the peer's acknowledgement.
                let mut message = bytes.to_vec();
                message.push(b'\n');
                stream.write_all(&message).await?;
            }
            Sent::Raw(bytes) => stream.write_all(bytes).await?,
            Sent::End => return Ok(false),
        }
    }
    Ok(true)
}

#[cfg(test)]
mod tests;
