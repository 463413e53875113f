//! What must be seen to before virtual time may move: things on their way that the runtime cannot know of.

use std::cell::{Cell, RefCell};
use std::os::fd::AsFd;
use std::sync::{Arc, Weak};

use crate::arrivals::Arrivals;

/// The loopback interface carries about twice as much at once.
const ONE_PIECE: usize = 32 << 10;
/// For each piece so many turns of others are waited, and no more: it may be lost, or come together with another one.
const TURNS: usize = 2;

type Hurry = dyn Fn() + Send + Sync;

thread_local! {
    /// By thread, because the runtime of a fast clock lives on one.
    static UNDERWAY: RefCell<Vec<Weak<Hurry>>> = const { RefCell::new(Vec::new()) };
    static ARRIVALS: Option<Arrivals> = Arrivals::new().ok();
    /// How many turns are still waited for what was sent and has not come, where all that is sent is told.
    static OWED: Cell<Option<usize>> = const { Cell::new(None) };
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

/// Forgets what an earlier runtime of this thread knew.
pub(crate) fn begin() {
    OWED.set(None);
}

/// From now on all that is sent is told.
pub(crate) fn tells_all() {
    OWED.set(Some(0));
}

/// So many bytes go out, in one piece or, if they are many, in several.
pub(crate) fn sent(bytes: usize) {
    let pieces = 1 + bytes / ONE_PIECE;
    OWED.set(OWED.get().map(|owed| owed.saturating_add(pieces.saturating_mul(TURNS))));
}

/// Whether something may be on its way that has not come: then a turn is waited for it, which is counted.
fn is_owed() -> bool {
    let Some(owed) = OWED.get() else { return true };
    let news = ARRIVALS.with(|arrivals| arrivals.as_ref().map_or(0, Arrivals::news));
    let owed = owed.saturating_sub(news.saturating_mul(TURNS));
    OWED.set(Some(owed.saturating_sub(1)));
    owed > 0
}

/// Calls everything that is still kept.
pub(crate) fn hurry() {
    // On a busy machine the kernel's own threads carry what was sent over the loopback interface; they need a turn.
    // With many benches a turn of others is what costs most: none where all that was sent has come.
    if is_owed() {
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
    fn what_was_sent_and_has_not_come_is_waited_for() {
        use std::io::Write;
        use std::os::unix::net::UnixStream;

        begin();
        assert!(is_owed(), "nobody tells what is sent: it may be anything");
        tells_all();
        assert!(!is_owed(), "nothing was sent");
        sent(10);
        assert!(is_owed() && is_owed() && !is_owed(), "it may be lost");
        let (here, mut there) = UnixStream::pair().unwrap();
        watch(&here);
        sent(1);
        there.write_all(b"a").unwrap();
        assert!(!is_owed() && !is_owed(), "it has come");
        sent(1);
        sent(1);
        there.write_all(b"b").unwrap();
        assert!(is_owed(), "one of the two has come, the other one has not");
        drop(there);
        sent(1);
        assert!(is_owed(), "an end is nothing that was sent");
    }

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
