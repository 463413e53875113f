//! Announcements: a firmware is on the unit, or a unit on the bench.

use axum::Json;
use axum::extract::State;
use axum::http::StatusCode;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::configuration::Announced;
use crate::http::App;
use crate::http::asked::Sent;
use crate::http::error::{Answer, Refusal};
use crate::queue::Entry;

/// What is there.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(in crate::http) struct Announcement {
    /// What is announced.
    of: Kind,
    /// The version of a firmware or the name of its file; the serial number of a unit.
    #[schema(min_length = 1, max_length = 100)]
    name: String,
    /// The only bench that is meant.
    bench: Option<String>,
}

/// What can be announced.
#[derive(Clone, Copy, Debug, Deserialize, ToSchema)]
#[serde(rename_all = "lowercase")]
enum Kind {
    Firmware,
    Unit,
}

/// What follows.
#[derive(Debug, Serialize, ToSchema)]
pub(in crate::http) struct Follows {
    /// What was put into the queue.
    entries: Vec<Entry>,
}

/// Has everything measured that the service's file wants when a firmware or a unit is announced.
#[utoipa::path(post, path = "/api/announce", request_body = Announcement, responses(
    (status = 201, description = "what follows waits", body = Follows), (status = 400, description = "not as it should be", body = Refusal), (status = 401, description = "no token, or a wrong one", body = Refusal),
    (status = 404, description = "there is none", body = Refusal), (status = 409, description = "not as it stands now", body = Refusal), (status = 415, description = "not JSON", body = Refusal), (status = 422, description = "not what is wanted", body = Refusal),
    (status = 503, description = "the service ends", body = Refusal),
))]
pub(in crate::http) async fn announce(
    State(app): State<App>,
    Sent(Announcement { of, name, bench }): Sent<Announcement>,
) -> Answer<(StatusCode, Json<Follows>)> {
    let of = match of {
        Kind::Firmware => Announced::Firmware,
        Kind::Unit => Announced::Unit,
    };
    let entries = app.service.announce(of, &name, bench.as_deref())?;
    Ok((StatusCode::CREATED, Json(Follows { entries })))
}
