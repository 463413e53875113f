//! Announcements: a firmware is on the unit, or a unit on the bench.

use axum::Json;
use axum::extract::State;
use axum::extract::rejection::JsonRejection;
use axum::http::StatusCode;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::configuration::Announced;
use crate::http::App;
use crate::http::error::{Answer, Refusal};
use crate::queue::Entry;

/// What is there: one of the two.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(in crate::http) struct Announcement {
    /// The version of a firmware, or the name of its file.
    #[schema(max_length = 100)]
    firmware: Option<String>,
    /// The serial number of a unit.
    #[schema(max_length = 100)]
    unit: Option<String>,
    /// The only bench that is meant.
    bench: Option<String>,
}

/// What follows.
#[derive(Debug, Serialize, ToSchema)]
pub(in crate::http) struct Follows {
    /// What was put into the queue.
    entries: Vec<Entry>,
}

/// Has everything measured that the service's file wants when a firmware or a unit is announced.
#[utoipa::path(post, path = "/api/announce", request_body = Announcement, responses(
    (status = 201, description = "what follows waits", body = Follows), (status = 400, body = Refusal), (status = 401, body = Refusal),
    (status = 404, body = Refusal), (status = 409, body = Refusal), (status = 415, body = Refusal), (status = 422, body = Refusal),
    (status = 503, body = Refusal),
))]
pub(in crate::http) async fn announce(
    State(app): State<App>,
    announcement: Result<Json<Announcement>, JsonRejection>,
) -> Answer<(StatusCode, Json<Follows>)> {
    let Json(Announcement { firmware, unit, bench }) = announcement?;
    let (of, text) = match (firmware, unit) {
        (Some(firmware), None) => (Announced::Firmware, firmware),
        (None, Some(unit)) => (Announced::Unit, unit),
        (Some(_), Some(_)) | (None, None) => {
            let message = "expected `firmware` or `unit`, one of them";
            return Err(Refusal::new(StatusCode::UNPROCESSABLE_ENTITY, message, None));
        }
    };
    let entries = app.service.announce(of, &text, bench.as_deref())?;
    Ok((StatusCode::CREATED, Json(Follows { entries })))
}
