//! Whether the service lives, and what it has counted.

use axum::extract::State;
use axum::http::StatusCode;
use axum::http::header::CONTENT_TYPE;
use axum::response::{IntoResponse, Response};

use crate::http::App;
use crate::http::error::{Answer, Refusal};

/// Says `ok` as long as every bench has its thread.
#[utoipa::path(get, path = "/healthz", security(()), responses(
    (status = 200, description = "it lives", body = String, content_type = "text/plain"),
    (status = 503, description = "a bench has no thread any more", body = Refusal),
))]
pub(in crate::http) async fn healthz(State(app): State<App>) -> Answer<&'static str> {
    match app.service.lives() {
        true => Ok("ok\n"),
        false => Err(Refusal::new(
            StatusCode::SERVICE_UNAVAILABLE,
            "a bench has lost its thread",
            Some("begin the service anew"),
        )),
    }
}

/// Counters of what the benches did, as Prometheus text.
#[utoipa::path(get, path = "/metrics", responses(
    (status = 200, description = "the counters", body = String, content_type = "text/plain"),
    (status = 401, description = "no token, or a wrong one", body = Refusal),
))]
pub(in crate::http) async fn metrics(State(app): State<App>) -> Answer<Response> {
    let text = app.service.metrics()?;
    Ok(([(CONTENT_TYPE, "text/plain; version=0.0.4; charset=utf-8")], text).into_response())
}
