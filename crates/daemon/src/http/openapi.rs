//! The interface as an OpenAPI document, made of what the handlers say of themselves.

use axum::Json;
use utoipa::openapi::security::{HttpAuthScheme, HttpBuilder, SecurityScheme};
use utoipa::{Modify, OpenApi};

use super::api::{announce, benches, compare, health, plans, queue, runs};
use super::events;

#[derive(OpenApi)]
#[openapi(
    info(
        title = "Spurline",
        description = "Benches that measure what radio transmitters really put out. Levels are in dBm at the unit's connector, frequencies in Hz, times in UTC."
    ),
    paths(
        health::healthz, health::metrics, benches::all, benches::pause, benches::stop, benches::stop_all, plans::all, plans::one,
        queue::all, queue::ask, queue::withdraw, queue::first, announce::announce, runs::all, runs::one, runs::report, runs::traces,
        runs::go_on, compare::compare, events::events
    ),
    modifiers(&Token),
    security(("token" = []))
)]
struct Interface;

struct Token;

impl Modify for Token {
    fn modify(&self, document: &mut utoipa::openapi::OpenApi) {
        let scheme = HttpBuilder::new().scheme(HttpAuthScheme::Bearer).build();
        let components = document.components.get_or_insert_default();
        components.add_security_scheme("token", SecurityScheme::Http(scheme));
    }
}

/// The interface as an OpenAPI document.
pub(super) async fn document() -> Json<utoipa::openapi::OpenApi> {
    Json(Interface::openapi())
}
