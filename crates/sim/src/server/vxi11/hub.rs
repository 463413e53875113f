//! All links to one instrument.

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError, Weak};

use spurline_clock::Clock;

use super::link::Link;
use crate::server::locks::Locks;
use crate::server::port::{Connection, Guest, Port};
use crate::server::seats::{Seat, Seats};

/// Links at a time, whatever the bench file allows.
const MOST_LINKS: usize = 64;

/// The links of one instrument.
pub(super) struct Hub<P: Port> {
    pub(super) port: Arc<P>,
    pub(super) seats: Arc<Seats>,
    pub(super) locks: Arc<Locks>,
    pub(super) device: String,
    pub(super) abort_port: u16,
    pub(super) clock: Clock,
    links: Mutex<Links<P>>,
}

struct Links<P: Port> {
    last: i32,
    /// A link belongs to its connection; the abort channel finds it here.
    all: BTreeMap<i32, Weak<Link<P>>>,
}

impl<P: Port> Hub<P> {
    pub(super) fn new(
        port: Arc<P>,
        seats: Arc<Seats>,
        device: String,
        abort_port: u16,
        clock: Clock,
    ) -> Self {
        let links = Mutex::new(Links { last: 0, all: BTreeMap::new() });
        Self { port, seats, locks: Arc::default(), device, abort_port, clock, links }
    }

    fn links(&self) -> MutexGuard<'_, Links<P>> {
        self.links.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// A new link, if there may be one more.
    pub(super) fn open(&self, connection: Connection, guest: Guest<P>, seat: Seat) -> Option<Arc<Link<P>>> {
        let mut links = self.links();
        links.all.retain(|_, link| link.strong_count() > 0);
        if links.all.len() >= MOST_LINKS {
            return None;
        }
        let mut id = links.last.checked_add(1).unwrap_or(1);
        while links.all.contains_key(&id) {
            id = id.checked_add(1).unwrap_or(1);
        }
        links.last = id;
        let link = Arc::new(Link::new(id, &self.port, (connection, guest), &self.locks, seat, self.clock));
        links.all.insert(id, Arc::downgrade(&link));
        Some(link)
    }

    /// Gives up the call in progress on a link; whether there is such a link.
    pub(super) fn abort(&self, id: i32) -> bool {
        let found = self.links().all.get(&id).and_then(Weak::upgrade);
        found.inspect(|link| link.aborted.notify_waiters()).is_some()
    }
}
