//! A serial line: a pseudo-terminal whose other end stands behind a symbolic link.
//!
//! It carries no rate, no parity and no break; what it has of a serial line is that nobody connects and nobody leaves.

mod pair;

use std::io;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

use spurline_clock::{Clock, Pace};
use tempfile::TempDir;

use super::delivery::Then;
use super::port::{Admission, Guest, Port};
use super::stream;
use crate::bench::Output;
use pair::{Line, Pair};

/// How often the port is made free for all again, which a client that was killed can no longer do.
const FREE_EVERY: Duration = Duration::from_secs(1);

/// A serial line that can be opened.
#[derive(Debug)]
pub(super) struct Pty {
    pair: Arc<Pair>,
    link: Link,
}

/// The symbolic link to the terminal; gone when dropped.
#[derive(Debug)]
struct Link {
    path: PathBuf,
    /// What it leads to, once it is made.
    target: Option<PathBuf>,
    /// The folder that was made for it.
    _folder: Option<TempDir>,
}

impl Pty {
    /// Opens a pseudo-terminal and makes the link to it at `path`, or in a folder of its own.
    pub(super) fn open(path: Option<&Path>) -> io::Result<Self> {
        let pair = Arc::new(Pair::open()?);
        let mut link = match path {
            Some(path) => Link { path: path.to_owned(), target: None, _folder: None },
            None => {
                let folder = tempfile::Builder::new().prefix("spurline-").tempdir()?;
                Link { path: folder.path().join("serial"), target: None, _folder: Some(folder) }
            }
        };
        link.make(pair.name())?;
        Ok(Self { pair, link })
    }

    /// Where it can be opened.
    pub(super) fn path(&self) -> &Path {
        &self.link.path
    }

    /// Serves an instrument on the line until it is dropped. While the link is cut there is nothing to be opened.
    pub(super) async fn serve<P: Port>(self, port: Arc<P>, output: Output, clock: Clock) {
        let Self { pair, mut link } = self;
        let mut pair = Some(pair);
        while let Some(open) = pair.take() {
            tokio::select! {
                biased;
                _ = port.cut() => {}
                () = plugged_in(open, &port, output, clock) => {}
            }
            link.remove();
            port.mended().await;
            pair = Pair::open().ok().filter(|pair| link.make(pair.name()).is_ok()).map(Arc::new);
        }
    }
}

/// Talks until the line is torn down.
async fn plugged_in<P: Port>(pair: Arc<Pair>, port: &Arc<P>, output: Output, clock: Clock) {
    let hurry = {
        let pair = pair.clone();
        Arc::new(move || pair.hurry())
    };
    clock.before_time_moves(&hurry);
    let freed = async {
        // In virtual time no client is killed: they all live in this process.
        while clock.pace() == Pace::Real {
            clock.sleep(FREE_EVERY).await;
            pair.make_free();
        }
        std::future::pending::<()>().await;
    };
    let Ok(mut line) = Line::new(pair.clone()) else { return };
    // A line is one connection for as long as it is plugged in, whoever opens it.
    let connection = match port.admit() {
        Admission::Serve(connection) => connection,
        Admission::Close | Admission::Ignore => std::future::pending().await,
    };
    let guest = Guest::of(port, connection);
    let talk = async {
        // A line cannot be closed by one side: only a reset, or a failure, unplugs it.
        while let Ok(Then::Stay | Then::Close) =
            stream::talk(&mut line, &**port, connection, output, clock, None).await
        {}
    };
    tokio::select! {
        () = talk => {}
        () = freed => {}
        () = claim(&pair, &**port, clock) => {}
    }
    drop(guest);
}

/// Claims the port as a program that is gone would have, for as long as a fault says so.
async fn claim<P: Port>(pair: &Pair, port: &P, clock: Clock) {
    while port.is_left_exclusive() {
        pair.claim();
        clock.sleep(FREE_EVERY).await;
    }
    pair.give_up_claim();
    std::future::pending::<()>().await;
}

impl Link {
    fn make(&mut self, target: &Path) -> io::Result<()> {
        if self.is_left_over() {
            std::fs::remove_file(&self.path)?;
        }
        std::os::unix::fs::symlink(target, &self.path)?;
        self.target = Some(target.to_owned());
        Ok(())
    }

    /// Whether a bench that was killed has left the link there, to a terminal that is gone.
    fn is_left_over(&self) -> bool {
        let target = std::fs::read_link(&self.path);
        target.is_ok_and(|target| target.starts_with("/dev/pts") && !target.exists())
    }

    /// Removes it, unless something else is there by now.
    fn remove(&mut self) {
        let target = self.target.take();
        if target.is_some() && std::fs::read_link(&self.path).ok() == target {
            // That it is gone already is as good.
            drop(std::fs::remove_file(&self.path));
        }
    }
}

impl Drop for Link {
    fn drop(&mut self) {
        self.remove();
    }
}

#[cfg(test)]
mod tests;
