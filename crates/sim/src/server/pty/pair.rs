//! The two ends of a pseudo-terminal, and the instrument's end as a stream of bytes.

use std::ffi::OsString;
use std::io;
use std::os::fd::OwnedFd;
use std::os::unix::ffi::OsStringExt;
use std::path::{Path, PathBuf};
use std::pin::Pin;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::task::{Context, Poll, ready};

use rustix::event::{PollFd, PollFlags, Timespec};
use rustix::fs::{Mode, OFlags};
use rustix::pty::OpenptFlags;
use rustix::termios::OptionalActions;
use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};
use tokio::net::unix::pipe::{Receiver, Sender};

/// Both ends.
#[derive(Debug)]
pub(super) struct Pair {
    instrument: OwnedFd,
    /// Held open so that the line does not hang up when a client closes it.
    client: OwnedFd,
    name: PathBuf,
    /// Whether a claim is left on the line on purpose.
    claimed: AtomicBool,
}

impl Pair {
    /// A new pair that passes every byte as it is.
    pub(super) fn open() -> io::Result<Self> {
        let instrument = rustix::pty::openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY | OpenptFlags::CLOEXEC)?;
        rustix::pty::grantpt(&instrument)?;
        rustix::pty::unlockpt(&instrument)?;
        let name = rustix::pty::ptsname(&instrument, Vec::new())?;
        let flags = OFlags::RDWR | OFlags::NOCTTY | OFlags::CLOEXEC;
        let client = rustix::fs::open(name.as_c_str(), flags, Mode::empty())?;
        let mut settings = rustix::termios::tcgetattr(&client)?;
        settings.make_raw();
        rustix::termios::tcsetattr(&client, OptionalActions::Now, &settings)?;
        rustix::io::ioctl_fionbio(&instrument, true)?;
        let name = PathBuf::from(OsString::from_vec(name.into_bytes()));
        Ok(Self { instrument, client, name, claimed: AtomicBool::new(false) })
    }

    /// The terminal that a client opens.
    pub(super) fn name(&self) -> &Path {
        &self.name
    }

    /// Lets anybody open the line again, although somebody wanted it for himself: a client that was killed has left
    /// its claim behind.
    pub(super) fn make_free(&self) {
        if !self.claimed.load(Ordering::Relaxed) {
            // If the line is gone, so is the claim.
            rustix::termios::ioctl_tiocnxcl(&self.client).ok();
        }
    }

    /// Lets nobody but the system's administrator open the line, as if a program had been killed that had it.
    pub(super) fn claim(&self) {
        self.claimed.store(true, Ordering::Relaxed);
        rustix::termios::ioctl_tiocexcl(&self.client).ok();
    }

    /// The claim is gone.
    pub(super) fn give_up_claim(&self) {
        if self.claimed.swap(false, Ordering::Relaxed) {
            self.make_free();
        }
    }

    /// Has the bytes that are under way arrive. A terminal hands them on behind the writer's back, in a moment of its
    /// own; asked whether there are any, it does so at once.
    pub(super) fn hurry(&self) {
        let mut ends = [&self.instrument, &self.client].map(|end| PollFd::new(end, PollFlags::IN));
        rustix::event::poll(&mut ends, Some(&Timespec::default())).ok();
    }
}

/// The instrument's end as a stream.
#[derive(Debug)]
pub(super) struct Line {
    incoming: Receiver,
    outgoing: Sender,
    pair: Arc<Pair>,
}

impl Line {
    pub(super) fn new(pair: Arc<Pair>) -> io::Result<Self> {
        // A terminal is no pipe, but read, written and waited for in the same way, which is all that is done with it.
        let incoming = Receiver::from_owned_fd_unchecked(pair.instrument.try_clone()?)?;
        let outgoing = Sender::from_owned_fd_unchecked(pair.instrument.try_clone()?)?;
        Ok(Self { incoming, outgoing, pair })
    }
}

impl AsyncRead for Line {
    fn poll_read(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
        buffer: &mut ReadBuf<'_>,
    ) -> Poll<io::Result<()>> {
        let read = ready!(Pin::new(&mut self.incoming).poll_read(context, buffer));
        self.pair.make_free();
        Poll::Ready(read)
    }
}

impl AsyncWrite for Line {
    fn poll_write(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
        bytes: &[u8],
    ) -> Poll<io::Result<usize>> {
        Pin::new(&mut self.outgoing).poll_write(context, bytes)
    }

    fn poll_flush(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.outgoing).poll_flush(context)
    }

    fn poll_shutdown(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.outgoing).poll_shutdown(context)
    }
}
