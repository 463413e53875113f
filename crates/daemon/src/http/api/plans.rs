//! The plans that may be asked for, and what is known of one before it is measured.

use axum::Json;
use axum::extract::rejection::PathRejection;
use axum::extract::{Path, State};
use serde::{Deserialize, Serialize};
use spurline_plan::{Forecast, Job, LoadError};
use spurline_runner::Files;
use utoipa::{IntoParams, ToSchema};

use super::aside;
use crate::http::App;
use crate::http::asked::Asked;
use crate::http::error::{Answer, Refusal};
use crate::told;

/// The names of all plans.
#[derive(Debug, Serialize, ToSchema)]
pub(in crate::http) struct PlanNames {
    plans: Vec<String>,
}

/// The plans that may be asked for.
#[utoipa::path(get, path = "/api/plans", responses((status = 200, description = "as asked", body = PlanNames), (status = 401, description = "no token, or a wrong one", body = Refusal)))]
pub(in crate::http) async fn all(State(app): State<App>) -> Answer<Json<PlanNames>> {
    let names = aside(move || Ok(app.service.plans().names().map_err(crate::AskError::from)?)).await?;
    Ok(Json(PlanNames { plans: names }))
}

/// A plan.
#[derive(Debug, Serialize, ToSchema)]
pub(in crate::http) struct PlanNow {
    /// Its name.
    name: String,
    /// Its whole text.
    text: String,
    /// How many readings it makes; `null` if it cannot be measured so.
    readings: Option<usize>,
    /// How long the unit is keyed, in seconds.
    keyed_s: Option<f64>,
    /// Why it cannot be measured, in words.
    mistakes: Option<String>,
}

/// On which bench.
#[derive(Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(in crate::http) struct On {
    /// The bench on which it would be measured; the first, unless stated.
    bench: Option<String>,
}

/// A plan, and what can be known of it without an instrument.
#[utoipa::path(get, path = "/api/plans/{plan}", params(("plan" = String, Path), On), responses(
    (status = 200, description = "as asked", body = PlanNow), (status = 400, description = "not as it should be", body = Refusal), (status = 401, description = "no token, or a wrong one", body = Refusal), (status = 404, description = "there is none", body = Refusal),
))]
pub(in crate::http) async fn one(
    State(app): State<App>,
    name: Result<Path<String>, PathRejection>,
    Asked(on): Asked<On>,
) -> Answer<Json<PlanNow>> {
    let Path(name) = name?;
    aside(move || {
        let path = app.service.plans().path(&name).map_err(crate::AskError::from)?;
        let bench = match &on.bench {
            Some(bench) => app.service.bench(bench)?,
            None => &app.service.benches()[0],
        };
        let text = std::fs::read_to_string(&path).unwrap_or_default();
        let file = bench.at.file.display().to_string();
        let read = Job::load(&path.display().to_string(), Some(&file), &Files::from_environment());
        let read = read.and_then(|job| {
            Ok(Forecast::of(&job).map(|forecast| (forecast.readings(), forecast.keyed().get()))?)
        });
        let (known, mistakes) = match read {
            Ok(known) => (Some(known), None),
            Err(LoadError::Mistakes(mistakes)) => (None, Some(mistakes.to_string())),
            Err(other) => (None, Some(told::chain(&other))),
        };
        let (readings, keyed_s) = (known.map(|known| known.0), known.map(|known| known.1));
        Ok(Json(PlanNow { name, text, readings, keyed_s, mistakes }))
    })
    .await
}
