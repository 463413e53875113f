//! What happens, as it happens: server-sent events, each with a name by which a listener that comes back goes on.

use std::collections::VecDeque;
use std::convert::Infallible;
use std::sync::Arc;

use axum::Router;
use axum::extract::State;
use axum::http::{HeaderMap, StatusCode};
use axum::response::sse::{Event, KeepAlive, Sse};
use axum::routing::get;
use futures_util::Stream;
use futures_util::stream::unfold;
use tokio::sync::OwnedSemaphorePermit;
use tokio::sync::broadcast::Receiver;
use tokio::sync::broadcast::error::RecvError;
use utoipa::ToSchema;

use super::App;
use super::error::{Answer, Refusal};
use crate::hub::{Message, Missed};

pub(super) fn routes() -> Router<App> {
    Router::new().route("/api/events", get(events))
}

/// One who listens.
struct Listener {
    app: App,
    /// What is still to be told: messages, or that everything must be looked at anew.
    due: VecDeque<Due>,
    receiver: Receiver<Arc<Message>>,
    /// Held for as long as it listens.
    _place: OwnedSemaphorePermit,
}

enum Due {
    This(Arc<Message>),
    Anew,
}

/// One event as it is sent.
#[derive(ToSchema)]
#[schema(as = Event)]
#[expect(dead_code, reason = "it stands in the interface's document; an event is written as lines")]
pub(super) struct Told {
    /// Its name, for `Last-Event-ID`.
    id: String,
    /// `bench`, `trace`, `queue`, `walk-in`, `anew` or `ends`.
    event: String,
    /// A JSON document.
    data: String,
}

/// What happens on the benches from now on, or from the event that `Last-Event-ID` names.
///
/// `bench` tells what a bench does, with the keys of `/api/benches`; `trace` the trace of a reading; `queue` that the
/// queue has changed; `walk-in` that a test day has; `anew` that more was missed than is kept, so that everything must be
/// asked for again; `ends` that the service ends.
#[utoipa::path(get, path = "/api/events", params(("Last-Event-ID" = Option<String>, Header)), responses(
    (status = 200, description = "events without end", body = Told, content_type = "text/event-stream"),
    (status = 401, description = "no token, or a wrong one", body = Refusal), (status = 429, description = "too many listen", body = Refusal),
))]
pub(super) async fn events(
    State(app): State<App>,
    headers: HeaderMap,
) -> Answer<Sse<impl Stream<Item = Result<Event, Infallible>>>> {
    let place = app.listeners.clone().try_acquire_owned().map_err(|_| {
        Refusal::new(
            StatusCode::TOO_MANY_REQUESTS,
            "too many listen already",
            Some("close a page that nobody looks at"),
        )
    })?;
    let last = headers.get("last-event-id").and_then(|header| header.to_str().ok());
    let (missed, receiver) = app.service.hub().listen(last);
    let due = match missed {
        Missed::These(these) => these.into_iter().map(Due::This).collect(),
        Missed::TooMuch => VecDeque::from([Due::Anew]),
    };
    let listener = Listener { app, due, receiver, _place: place };
    Ok(Sse::new(unfold(listener, next)).keep_alive(KeepAlive::default()))
}

async fn next(mut listener: Listener) -> Option<(Result<Event, Infallible>, Listener)> {
    let due = match listener.due.pop_front() {
        Some(due) => due,
        None => match listener.receiver.recv().await {
            Ok(message) => Due::This(message),
            // It was too slow: what it missed is not told bit by bit.
            Err(RecvError::Lagged(_)) => Due::Anew,
            Err(RecvError::Closed) => return None,
        },
    };
    let hub = listener.app.service.hub();
    let event = match due {
        Due::This(message) => {
            Event::default().id(hub.name(message.number)).event(message.kind).data(&message.text)
        }
        Due::Anew => Event::default().id(hub.newest()).event("anew").data("{}"),
    };
    Some((Ok(event), listener))
}
