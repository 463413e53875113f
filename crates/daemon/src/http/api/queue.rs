//! The queue: what waits, and what is asked for.

use axum::Json;
use axum::extract::rejection::PathRejection;
use axum::extract::{Path, State};
use axum::http::StatusCode;
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use super::at_most;
use crate::http::App;
use crate::http::asked::{Asked, Sent};
use crate::http::error::{Answer, Refusal};
use crate::queue::{Entry, Wanted};

/// So many entries that ended are told unless more are asked for.
const ENDED: u32 = 50;
const MOST_ENDED: u32 = 1000;

/// How much is told.
#[derive(Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(in crate::http) struct HowMany {
    /// How many entries that ended, at most 1000; 50 unless stated.
    #[param(maximum = 1000)]
    ended: Option<u32>,
}

/// The queue.
#[derive(Debug, Serialize, ToSchema)]
pub(in crate::http) struct Entries {
    /// What runs and waits, in order, then what ended, the newest first.
    entries: Vec<Entry>,
}

/// What runs and waits, and what ended last.
#[utoipa::path(get, path = "/api/queue", params(HowMany), responses(
    (status = 200, description = "as asked", body = Entries), (status = 400, description = "not as it should be", body = Refusal), (status = 401, description = "no token, or a wrong one", body = Refusal),
))]
pub(in crate::http) async fn all(
    State(app): State<App>,
    Asked(many): Asked<HowMany>,
) -> Answer<Json<Entries>> {
    let most = at_most(MOST_ENDED, many.ended.unwrap_or(ENDED))?;
    Ok(Json(Entries { entries: app.service.entries(most)? }))
}

/// A run that is wanted.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(in crate::http) struct Ask {
    /// The bench.
    bench: String,
    /// The plan.
    plan: String,
    /// The serial number that the unit must have.
    #[schema(max_length = 100)]
    unit: Option<String>,
    /// The firmware version to write into the record.
    #[schema(max_length = 100)]
    firmware: Option<String>,
}

/// Puts a run at the end of its bench's queue.
#[utoipa::path(post, path = "/api/queue", request_body = Ask, responses(
    (status = 201, description = "it waits", body = Entry), (status = 400, description = "not as it should be", body = Refusal), (status = 401, description = "no token, or a wrong one", body = Refusal),
    (status = 404, description = "no such bench or plan", body = Refusal), (status = 409, description = "the queue is full", body = Refusal),
    (status = 415, description = "not JSON", body = Refusal), (status = 422, description = "not what is wanted", body = Refusal), (status = 503, description = "the service ends", body = Refusal),
))]
pub(in crate::http) async fn ask(
    State(app): State<App>,
    Sent(Ask { bench, plan, unit, firmware }): Sent<Ask>,
) -> Answer<(StatusCode, Json<Entry>)> {
    let wanted = Wanted { bench, plan, unit, firmware, goes_on: None, by: "a program".to_owned() };
    Ok((StatusCode::CREATED, Json(app.service.ask(&wanted)?)))
}

/// Takes out a run whose turn has not come.
#[utoipa::path(delete, path = "/api/queue/{id}", params(("id" = u64, Path)), responses(
    (status = 204, description = "it is out"), (status = 400, description = "not as it should be", body = Refusal), (status = 401, description = "no token, or a wrong one", body = Refusal), (status = 404, description = "there is none", body = Refusal),
    (status = 409, description = "its turn has come", body = Refusal),
))]
pub(in crate::http) async fn withdraw(
    State(app): State<App>,
    id: Result<Path<u64>, PathRejection>,
) -> Answer<StatusCode> {
    let Path(id) = id?;
    app.service.withdraw(id)?;
    Ok(StatusCode::NO_CONTENT)
}

/// Has a run that waits come next.
#[utoipa::path(post, path = "/api/queue/{id}/first", params(("id" = u64, Path)), responses(
    (status = 204, description = "it comes next"), (status = 400, description = "not as it should be", body = Refusal), (status = 401, description = "no token, or a wrong one", body = Refusal), (status = 404, description = "there is none", body = Refusal),
    (status = 409, description = "its turn has come", body = Refusal),
))]
pub(in crate::http) async fn first(
    State(app): State<App>,
    id: Result<Path<u64>, PathRejection>,
) -> Answer<StatusCode> {
    let Path(id) = id?;
    app.service.first(id)?;
    Ok(StatusCode::NO_CONTENT)
}
