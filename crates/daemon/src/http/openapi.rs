//! The interface as an OpenAPI document, made of what the handlers say of themselves.

use axum::Json;
use utoipa::openapi::path::Operation;
use utoipa::openapi::security::{HttpAuthScheme, HttpBuilder, SecurityScheme};
use utoipa::openapi::{Content, Ref, ResponseBuilder};
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
    modifiers(&Token, &Refused),
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

/// What any request may be refused for, whatever it asks.
struct Refused;

impl Modify for Refused {
    fn modify(&self, document: &mut utoipa::openapi::OpenApi) {
        for item in document.paths.paths.values_mut() {
            let changing = [&mut item.post, &mut item.delete].into_iter().flatten();
            for operation in changing {
                refused(operation, "403", "a page of another site asked for it");
                if operation.request_body.is_some() {
                    refused(operation, "413", "the body is larger than 1 MB");
                }
            }
            for operation in [&mut item.get, &mut item.post, &mut item.delete].into_iter().flatten() {
                refused(operation, "421", "the service does not answer under that name");
                refused(operation, "429", "too many requests or wrong tokens");
            }
        }
    }
}

fn refused(operation: &mut Operation, status: &str, description: &str) {
    let body = Content::new(Some(Ref::from_schema_name("Refusal")));
    let response = ResponseBuilder::new().description(description).content("application/json", body);
    operation.responses.responses.entry(status.to_owned()).or_insert_with(|| response.build().into());
}

/// The interface as an OpenAPI document.
pub(super) async fn document() -> Json<utoipa::openapi::OpenApi> {
    Json(Interface::openapi())
}
