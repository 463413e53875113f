//! Being told to stop.

use std::future::Future;

/// Ready when someone wants the program to stop; listened for from the call on.
pub(crate) fn told_to_stop() -> impl Future<Output = ()> {
    use tokio::signal::unix::{SignalKind, signal};
    let kinds = [SignalKind::interrupt(), SignalKind::terminate(), SignalKind::hangup()];
    let mut signals: Vec<_> = kinds.into_iter().filter_map(|kind| signal(kind).ok()).collect();
    std::future::poll_fn(move |context| {
        if signals.iter_mut().any(|signal| signal.poll_recv(context).is_ready()) {
            std::task::Poll::Ready(())
        } else {
            std::task::Poll::Pending
        }
    })
}
