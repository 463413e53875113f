//! The interface for programs: JSON, one room for each kind of thing.

pub(super) mod announce;
pub(super) mod benches;
pub(super) mod compare;
pub(super) mod health;
pub(super) mod plans;
pub(super) mod queue;
pub(super) mod runs;

use axum::Router;
use axum::routing::{delete, get, post};

use super::App;
use super::openapi;

pub(super) fn routes() -> Router<App> {
    Router::new()
        .route("/healthz", get(health::healthz))
        .route("/metrics", get(health::metrics))
        .route("/api/openapi.json", get(openapi::document))
        .route("/api/benches", get(benches::all))
        .route("/api/benches/{bench}/pause", post(benches::pause))
        .route("/api/benches/{bench}/stop", post(benches::stop))
        .route("/api/stop", post(benches::stop_all))
        .route("/api/plans", get(plans::all))
        .route("/api/plans/{plan}", get(plans::one))
        .route("/api/queue", get(queue::all).post(queue::ask))
        .route("/api/queue/{id}", delete(queue::withdraw))
        .route("/api/queue/{id}/first", post(queue::first))
        .route("/api/announce", post(announce::announce))
        .route("/api/runs", get(runs::all))
        .route("/api/runs/{run}", get(runs::one))
        .route("/api/runs/{run}/report", get(runs::report))
        .route("/api/runs/{run}/readings/{ordinal}/traces", get(runs::traces))
        .route("/api/runs/{run}/go-on", post(runs::go_on))
        .route("/api/compare", get(compare::compare))
}

/// Does what may take a while beside the answering of others.
pub(super) async fn aside<T: Send + 'static>(
    work: impl FnOnce() -> super::error::Answer<T> + Send + 'static,
) -> super::error::Answer<T> {
    use axum::http::StatusCode;
    let done = tokio::task::spawn_blocking(work).await;
    done.unwrap_or_else(|_| {
        let message = "the answer broke off";
        Err(super::error::Refusal::new(
            StatusCode::INTERNAL_SERVER_ERROR,
            message,
            Some("the service's log says more"),
        ))
    })
}

/// A number that is asked for, if it is not more than may be.
fn at_most(most: u32, asked: u32) -> super::error::Answer<u32> {
    use axum::http::StatusCode;
    if asked > most {
        let message = format!("expected at most {most}, found {asked}");
        let advice = "ask for fewer: the newest come first";
        return Err(super::error::Refusal::new(StatusCode::BAD_REQUEST, message, Some(advice)));
    }
    Ok(asked)
}
