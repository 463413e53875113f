//! Who has an instrument to himself: the locks of HiSLIP and VXI-11.

use std::collections::BTreeSet;

use bytes::Bytes;
use tokio::sync::watch;

/// A client, for as long as it is connected.
pub(super) type Client = u64;

/// The locks of one instrument.
#[derive(Debug, Default)]
pub(super) struct Locks(watch::Sender<Held>);

#[derive(Debug, Default)]
struct Held {
    exclusive: Option<Client>,
    /// Clients that name the same key share a lock.
    shared: Option<(Bytes, BTreeSet<Client>)>,
}

/// What became of a request for a lock.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Granted {
    /// It is granted.
    Yes,
    /// Somebody else has one that does not go with it.
    No,
    /// This client has that lock already.
    Twice,
}

/// Which lock was given back.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Released {
    /// The exclusive one.
    Exclusive,
    /// A shared one.
    Shared,
}

impl Held {
    /// Whether the locks let a client through.
    fn are_open_to(&self, client: Client) -> bool {
        match (self.exclusive, &self.shared) {
            (Some(holder), _) => holder == client,
            (None, Some((_, holders))) => holders.contains(&client),
            (None, None) => true,
        }
    }

    fn take(&mut self, client: Client, key: &Bytes) -> Granted {
        let shares = self.shared.as_ref().is_some_and(|(_, holders)| holders.contains(&client));
        if key.is_empty() {
            return match self.exclusive {
                Some(holder) if holder == client => Granted::Twice,
                None if self.shared.is_none() || shares => {
                    self.exclusive = Some(client);
                    Granted::Yes
                }
                _ => Granted::No,
            };
        }
        if shares {
            return Granted::Twice;
        }
        match &mut self.shared {
            _ if self.exclusive.is_some_and(|holder| holder != client) => Granted::No,
            None => {
                self.shared = Some((key.clone(), BTreeSet::from([client])));
                Granted::Yes
            }
            Some((known, holders)) if known == key => {
                holders.insert(client);
                Granted::Yes
            }
            Some(_) => Granted::No,
        }
    }

    fn release(&mut self, client: Client) -> Option<Released> {
        if self.exclusive == Some(client) {
            self.exclusive = None;
            return Some(Released::Exclusive);
        }
        let (_, holders) = self.shared.as_mut()?;
        let held = holders.remove(&client);
        if holders.is_empty() {
            self.shared = None;
        }
        held.then_some(Released::Shared)
    }
}

impl Locks {
    /// Asks for a lock: the exclusive one, or with a key one that is shared with those who name the same.
    pub(super) fn try_take(&self, client: Client, key: &Bytes) -> Granted {
        let mut granted = Granted::No;
        self.0.send_if_modified(|held| {
            granted = held.take(client, key);
            granted == Granted::Yes
        });
        granted
    }

    /// Asks for a lock and waits until it is granted.
    pub(super) async fn take(&self, client: Client, key: &Bytes) -> Granted {
        let mut changes = self.0.subscribe();
        loop {
            match self.try_take(client, key) {
                Granted::No => changed(&mut changes).await,
                granted => return granted,
            }
        }
    }

    /// Gives a lock back: the exclusive one first.
    pub(super) fn release(&self, client: Client) -> Option<Released> {
        let mut released = None;
        self.0.send_if_modified(|held| {
            released = held.release(client);
            released.is_some()
        });
        released
    }

    /// Gives back everything that a client has, because it has gone.
    pub(super) fn forget(&self, client: Client) {
        while self.release(client).is_some() {}
    }

    /// Whether the locks let a client through.
    pub(super) fn are_open_to(&self, client: Client) -> bool {
        self.0.borrow().are_open_to(client)
    }

    /// Ready when the locks let a client through.
    pub(super) async fn open_to(&self, client: Client) {
        let mut changes = self.0.subscribe();
        while !self.are_open_to(client) {
            changed(&mut changes).await;
        }
    }

    /// Whether somebody has the exclusive lock, and how many clients have one of either kind.
    pub(super) fn held(&self) -> (bool, u32) {
        let held = self.0.borrow();
        let mut holders = held.shared.as_ref().map_or_else(BTreeSet::new, |(_, holders)| holders.clone());
        holders.extend(held.exclusive);
        (held.exclusive.is_some(), u32::try_from(holders.len()).unwrap_or(u32::MAX))
    }
}

async fn changed(changes: &mut watch::Receiver<Held>) {
    if changes.changed().await.is_err() {
        std::future::pending::<()>().await;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const NONE: Bytes = Bytes::new();
    const KEY: Bytes = Bytes::from_static(b"key");

    /// IVI-6.1 clause 6.5, from memory: an exclusive lock shuts out everybody else.
    #[test]
    fn an_exclusive_lock_is_for_one() {
        let locks = Locks::default();
        assert_eq!(locks.try_take(1, &NONE), Granted::Yes);
        assert_eq!(locks.try_take(1, &NONE), Granted::Twice);
        assert_eq!(locks.try_take(2, &NONE), Granted::No);
        assert_eq!(locks.try_take(2, &KEY), Granted::No);
        assert!(locks.are_open_to(1) && !locks.are_open_to(2));
        assert_eq!((locks.held(), locks.release(2)), ((true, 1), None));
        assert_eq!(locks.release(1), Some(Released::Exclusive));
        assert_eq!(locks.try_take(2, &NONE), Granted::Yes);
    }

    /// Same clause: those who name the same key share, and one of them may have the exclusive lock besides.
    #[test]
    fn a_shared_lock_is_for_those_who_name_its_key() {
        let locks = Locks::default();
        assert_eq!(locks.try_take(1, &KEY), Granted::Yes);
        assert_eq!(locks.try_take(2, &KEY), Granted::Yes);
        assert_eq!(locks.try_take(3, &Bytes::from_static(b"other")), Granted::No);
        assert_eq!(locks.try_take(3, &NONE), Granted::No);
        assert_eq!(locks.try_take(1, &NONE), Granted::Yes);
        assert_eq!(locks.held(), (true, 2));
        assert!(!locks.are_open_to(2));
        assert_eq!(locks.release(1), Some(Released::Exclusive));
        assert!(locks.are_open_to(1) && locks.are_open_to(2) && !locks.are_open_to(3));
        locks.forget(1);
        locks.forget(2);
        assert_eq!((locks.held(), locks.are_open_to(3)), ((false, 0), true));
    }
}
