//! What must be seen to before virtual time may move: things on their way that the runtime cannot know of.

use std::cell::RefCell;
use std::os::fd::AsFd;
use std::sync::{Arc, Weak};

use crate::arrivals::Arrivals;

type Hurry = dyn Fn() + Send + Sync;

thread_local! {
    /// By thread, because the runtime of a fast clock lives on one.
    static UNDERWAY: RefCell<Vec<Weak<Hurry>>> = const { RefCell::new(Vec::new()) };
    static ARRIVALS: Option<Arrivals> = Arrivals::new().ok();
}

/// Remembers `hurry` for as long as somebody else keeps it.
pub(crate) fn add(hurry: &Arc<impl Fn() + Send + Sync + 'static>) {
    let hurry: Arc<Hurry> = hurry.clone();
    UNDERWAY.with_borrow_mut(|all| all.push(Arc::downgrade(&hurry)));
}

/// Looks at what comes on `socket` until it is closed. Where that cannot be, it costs time and nothing else.
pub(crate) fn watch(socket: impl AsFd) {
    ARRIVALS.with(|arrivals| arrivals.as_ref().map(|arrivals| arrivals.watch(socket)));
}

/// Calls everything that is still kept.
pub(crate) fn hurry() {
    // On a busy machine the kernel's own threads carry what was sent over the loopback interface; they need a turn.
    // Where something has come there is work to do first, and with many benches a turn of others is what costs most.
    if !ARRIVALS.with(|arrivals| arrivals.as_ref().is_some_and(Arrivals::any)) {
        std::thread::yield_now();
    }
    UNDERWAY.with_borrow_mut(|all| all.retain(|hurry| hurry.upgrade().inspect(|hurry| hurry()).is_some()));
}

#[cfg(test)]
mod tests {
    use std::sync::atomic::{AtomicUsize, Ordering};
    use std::time::Duration;

    use super::*;
    use crate::{Pace, run};

    #[test]
    fn it_is_called_before_time_moves_while_it_is_kept() {
        let calls = Arc::new(AtomicUsize::new(0));
        let counted = calls.clone();
        run(Pace::Fast, |clock| async move {
            let hurry = Arc::new(move || {
                counted.fetch_add(1, Ordering::Relaxed);
            });
            clock.before_time_moves(&hurry);
            clock.sleep(Duration::from_secs(1)).await;
            let kept = calls.load(Ordering::Relaxed);
            assert!(kept > 0, "time moved, and nothing was seen to");
            drop(hurry);
            clock.sleep(Duration::from_secs(1)).await;
            assert_eq!(calls.load(Ordering::Relaxed), kept);
        })
        .unwrap();
    }
}
