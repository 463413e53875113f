//! Two runs, or several and one: what really changed.

use axum::extract::State;
use axum::http::StatusCode;
use axum::http::header::CONTENT_TYPE;
use axum::response::{IntoResponse, Response};
use serde::Deserialize;
use spurline_report::{Comparison, Terms};
use spurline_runner::view;
use spurline_store::StoredRun;
use utoipa::IntoParams;

use super::{aside, runs};
use crate::http::App;
use crate::http::asked::Asked;
use crate::http::error::{Answer, Refusal};

/// Which runs.
#[derive(Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(in crate::http) struct Pair {
    /// The run before the change.
    base: String,
    /// The run after it.
    run: String,
    /// Whether runs of different units are compared.
    #[serde(default)]
    across_units: bool,
}

/// What changed between two runs, as `spurline compare BASE RUN --json` prints it.
#[utoipa::path(get, path = "/api/compare", params(Pair), responses(
    (status = 200, description = "the comparison", body = Value, content_type = "application/json"),
    (status = 400, description = "not as it should be", body = Refusal), (status = 401, description = "no token, or a wrong one", body = Refusal), (status = 404, description = "there is none", body = Refusal),
    (status = 409, description = "they cannot be compared", body = Refusal),
))]
pub(in crate::http) async fn compare(State(app): State<App>, Asked(pair): Asked<Pair>) -> Answer<Response> {
    let text = aside(move || {
        compared(&app, &pair.base, &pair.run, pair.across_units, |comparison| {
            Ok(spurline_report::comparison_json(comparison)?)
        })
    })
    .await?;
    Ok(([(CONTENT_TYPE, "application/json")], text).into_response())
}

/// Has two runs compared, and something made of that.
pub(in crate::http) fn compared<T>(
    app: &App,
    base: &str,
    run: &str,
    across_units: bool,
    made: impl FnOnce(&Comparison<'_>) -> Answer<T>,
) -> Answer<T> {
    let before: StoredRun = runs::loaded(app, base, false)?;
    let after: StoredRun = runs::loaded(app, run, false)?;
    let terms = Terms { across_units, ..Terms::default() };
    let comparison = Comparison::of(&[view(&before)], view(&after), terms)
        .map_err(|error| Refusal::new(StatusCode::CONFLICT, error.to_string(), Some(error.advice())))?;
    made(&comparison)
}
