//! What has come on sockets since the last look, so that nobody gives up the processor to wait for it.

#[cfg(not(target_os = "linux"))]
pub(crate) use elsewhere::Arrivals;
#[cfg(target_os = "linux")]
pub(crate) use linux::Arrivals;

#[cfg(target_os = "linux")]
mod linux {
    use std::io;
    use std::os::fd::{AsFd, OwnedFd};

    use rustix::event::Timespec;
    use rustix::event::epoll::{CreateFlags, Event, EventData, EventFlags, add, create, wait};

    /// More than this is told of at the next look.
    const AT_ONCE: usize = 16;
    const AT_ONCE_ONLY: Timespec = Timespec { tv_sec: 0, tv_nsec: 0 };

    /// The sockets of one thread.
    #[derive(Debug)]
    pub(crate) struct Arrivals(OwnedFd);

    impl Arrivals {
        pub(crate) fn new() -> io::Result<Self> {
            Ok(Self(create(CreateFlags::CLOEXEC)?))
        }

        /// Looks at `socket` too, until it is closed.
        pub(crate) fn watch(&self, socket: impl AsFd) -> io::Result<()> {
            // Edges: what was told of once, and is not read, is no news.
            let flags = EventFlags::IN | EventFlags::RDHUP | EventFlags::ET;
            Ok(add(&self.0, socket, EventData::new_u64(0), flags)?)
        }

        /// On how many sockets something has come since the last look; none where that is not known. That the other end
        /// has closed one is nothing that was sent.
        pub(crate) fn news(&self) -> usize {
            let mut events = [Event { flags: EventFlags::empty(), data: EventData::new_u64(0) }; AT_ONCE];
            let told = wait(&self.0, &mut events, Some(&AT_ONCE_ONLY)).unwrap_or(0);
            let ends = EventFlags::RDHUP | EventFlags::HUP | EventFlags::ERR;
            let came = |event: &&Event| !{ event.flags }.intersects(ends);
            events.iter().take(told).filter(came).count()
        }
    }
}

#[cfg(not(target_os = "linux"))]
mod elsewhere {
    use std::io;
    use std::os::fd::AsFd;

    /// Knows of nothing.
    #[derive(Debug)]
    pub(crate) struct Arrivals;

    impl Arrivals {
        pub(crate) fn new() -> io::Result<Self> {
            Ok(Self)
        }

        pub(crate) fn watch(&self, _socket: impl AsFd) -> io::Result<()> {
            Ok(())
        }

        pub(crate) fn news(&self) -> usize {
            0
        }
    }
}

#[cfg(all(test, target_os = "linux"))]
mod tests {
    use std::io::{Read, Write};
    use std::os::unix::net::UnixStream;

    use super::*;

    #[test]
    fn what_comes_is_news_once() {
        let (mut here, mut there) = UnixStream::pair().unwrap();
        let arrivals = Arrivals::new().unwrap();
        arrivals.watch(&here).unwrap();
        assert_eq!(arrivals.news(), 0);
        there.write_all(b"a").unwrap();
        assert_eq!(arrivals.news(), 1);
        assert_eq!(arrivals.news(), 0, "it is still unread, and no news");
        there.write_all(b"b").unwrap();
        assert_eq!(arrivals.news(), 1);
        here.read_exact(&mut [0; 2]).unwrap();
        there.shutdown(std::net::Shutdown::Write).unwrap();
        assert_eq!(arrivals.news(), 0, "an end is nothing that was sent");
        drop(here);
        assert_eq!(arrivals.news(), 0, "a closed socket is no longer looked at");
    }
}
