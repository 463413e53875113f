//! How many clients an instrument serves at a time, and what it does with one more.

use std::sync::Arc;

use tokio::sync::watch;

use crate::bench::{Busy, LinkTruth};

/// The seats of one instrument.
#[derive(Debug)]
pub(crate) struct Seats {
    limit: Option<u32>,
    busy: Busy,
    taken: watch::Sender<u32>,
}

/// A seat that is taken; free again when dropped.
#[derive(Debug)]
pub(crate) struct Seat(Arc<Seats>);

impl Seats {
    pub(crate) fn new(truth: &LinkTruth) -> Arc<Self> {
        Arc::new(Self { limit: truth.connections, busy: truth.busy, taken: watch::Sender::new(0) })
    }

    /// What becomes of a client for whom there is no seat.
    pub(crate) fn busy(&self) -> Busy {
        self.busy
    }

    /// Whether there is no seat.
    pub(crate) fn are_taken(&self) -> bool {
        self.limit.is_some_and(|limit| *self.taken.borrow() >= limit)
    }

    /// A seat, if there is one.
    pub(crate) fn take(self: &Arc<Self>) -> Option<Seat> {
        let limit = self.limit.unwrap_or(u32::MAX);
        let took = self.taken.send_if_modified(|taken| {
            let free = *taken < limit;
            *taken += u32::from(free);
            free
        });
        took.then(|| Seat(self.clone()))
    }

    /// Ready once there is a seat, which somebody else may take first.
    pub(crate) async fn freed(&self) {
        let mut taken = self.taken.subscribe();
        while self.are_taken() {
            if taken.changed().await.is_err() {
                std::future::pending::<()>().await;
            }
        }
    }

    /// A seat, however long that takes.
    pub(crate) async fn wait(self: &Arc<Self>) -> Seat {
        loop {
            if let Some(seat) = self.take() {
                return seat;
            }
            self.freed().await;
        }
    }
}

impl Drop for Seat {
    fn drop(&mut self) {
        self.0.taken.send_modify(|taken| *taken -= 1);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::Output;

    #[test]
    fn a_seat_is_free_again_when_its_holder_leaves() {
        let truth = LinkTruth { connections: Some(1), busy: Busy::Wait, output: Output::Queue };
        let seats = Seats::new(&truth);
        let seat = seats.take().unwrap();
        assert!(seats.are_taken() && seats.take().is_none());
        drop(seat);
        assert!(!seats.are_taken() && seats.take().is_some());
    }

    #[test]
    fn without_a_limit_there_is_always_a_seat() {
        let seats = Seats::new(&LinkTruth::default());
        let all: Vec<Seat> = (0..100).filter_map(|_| seats.take()).collect();
        assert!(all.len() == 100 && !seats.are_taken());
    }
}
