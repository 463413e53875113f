//! The benches: what they do, and their being stopped and paused.

use axum::Json;
use axum::extract::rejection::PathRejection;
use axum::extract::{Path, State};
use axum::http::StatusCode;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::bench::State as Doing;
use crate::http::App;
use crate::http::asked::Sent;
use crate::http::error::{Answer, Refusal};

/// A bench and what it does.
#[derive(Debug, Serialize, ToSchema)]
pub(in crate::http) struct BenchNow {
    /// Its name.
    name: String,
    /// Its title.
    title: String,
    /// Whether it is simulated.
    simulated: bool,
    /// What it does.
    #[serde(flatten)]
    doing: Doing,
}

/// All benches.
#[derive(Debug, Serialize, ToSchema)]
pub(in crate::http) struct Benches {
    benches: Vec<BenchNow>,
    /// The newest event that this has taken into account.
    event: String,
}

/// The benches and what they do now.
#[utoipa::path(get, path = "/api/benches", responses((status = 200, description = "as asked", body = Benches), (status = 401, description = "no token, or a wrong one", body = Refusal)))]
pub(in crate::http) async fn all(State(app): State<App>) -> Json<Benches> {
    // Before the benches are looked at: what happens meanwhile is told again, and nothing is missed.
    let event = app.service.hub().newest();
    let benches = app.service.benches().iter().map(|bench| BenchNow {
        name: bench.at.name.clone(),
        title: bench.title.clone(),
        simulated: bench.simulated,
        doing: bench.state(),
    });
    Json(Benches { benches: benches.collect(), event })
}

/// Whether a bench takes further work.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(in crate::http) struct Pause {
    paused: bool,
}

/// Has a bench take no further work, or take work again. A run that goes on is not disturbed. A pause is kept on the disk: it
/// holds after a restart too.
#[utoipa::path(post, path = "/api/benches/{bench}/pause", params(("bench" = String, Path)), request_body = Pause, responses(
    (status = 204, description = "done"), (status = 400, description = "not as it should be", body = Refusal), (status = 401, description = "no token, or a wrong one", body = Refusal),
    (status = 404, description = "there is none", body = Refusal), (status = 415, description = "not JSON", body = Refusal), (status = 422, description = "not what is wanted", body = Refusal),
))]
pub(in crate::http) async fn pause(
    State(app): State<App>,
    bench: Result<Path<String>, PathRejection>,
    Sent(pause): Sent<Pause>,
) -> Answer<StatusCode> {
    let Path(bench) = bench?;
    app.service.pause(&bench, pause.paused)?;
    Ok(StatusCode::NO_CONTENT)
}

/// Has the run on a bench stop: key up first. What was measured is kept, and can be gone on with. The bench is paused, also if
/// nothing is measured there: nothing of its queue is begun until `paused: false` is sent.
#[utoipa::path(post, path = "/api/benches/{bench}/stop", params(("bench" = String, Path)), responses(
    (status = 204, description = "it stops, and is paused"), (status = 400, description = "not as it should be", body = Refusal), (status = 401, description = "no token, or a wrong one", body = Refusal), (status = 404, description = "there is none", body = Refusal),
))]
pub(in crate::http) async fn stop(
    State(app): State<App>,
    bench: Result<Path<String>, PathRejection>,
) -> Answer<StatusCode> {
    let Path(bench) = bench?;
    app.service.stop(&bench)?;
    Ok(StatusCode::NO_CONTENT)
}

/// Has every run stop: key up first. Every bench is paused: nothing keys until `paused: false` is sent to it.
#[utoipa::path(post, path = "/api/stop", responses((status = 204, description = "they stop, and are paused"), (status = 401, description = "no token, or a wrong one", body = Refusal)))]
pub(in crate::http) async fn stop_all(State(app): State<App>) -> Answer<StatusCode> {
    app.service.stop_all()?;
    Ok(StatusCode::NO_CONTENT)
}
