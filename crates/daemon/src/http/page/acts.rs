//! What a person does on the page: forms, each of which leads back to where it was sent from.

use axum::Router;
use axum::extract::rejection::FormRejection;
use axum::extract::{Form, State};
use axum::http::HeaderMap;
use axum::http::header::REFERER;
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::post;
use serde::Deserialize;

use super::Told;
use crate::http::App;
use crate::http::api::{aside, runs};
use crate::http::error::{Answer, Refusal};
use crate::queue::Wanted;
use crate::service::AskError;

/// Who asks.
const BY: &str = "the page";

pub(super) fn routes() -> Router<App> {
    Router::new()
        .route("/act/ask", post(ask))
        .route("/act/stop", post(stop))
        .route("/act/stop-all", post(stop_all))
        .route("/act/pause", post(pause))
        .route("/act/first", post(first))
        .route("/act/withdraw", post(withdraw))
        .route("/act/go-on", post(go_on))
}

/// Back to the page that the form stands on, if that is one of ours.
fn back(headers: &HeaderMap) -> Redirect {
    let from = headers.get(REFERER).and_then(|header| header.to_str().ok());
    let path = from.and_then(|from| from.split_once("://")).and_then(|(_, rest)| rest.split_once('/'));
    match path {
        Some((_, path)) if path.starts_with("benches/") || path.starts_with("runs") => {
            Redirect::to(&format!("/{path}"))
        }
        _ => Redirect::to("/"),
    }
}

/// What a form asks for.
type Filled<F> = Result<Form<F>, FormRejection>;

/// Does what a form asks for, and leads back.
fn acted<F>(
    app: &App,
    headers: &HeaderMap,
    form: Filled<F>,
    act: impl FnOnce(F) -> Result<(), AskError>,
) -> Response {
    let did = form.map_err(Refusal::from).and_then(|Form(form)| act(form).map_err(Refusal::from));
    done(app, headers, did)
}

fn done(app: &App, headers: &HeaderMap, what: Answer<()>) -> Response {
    match what {
        Ok(()) => back(headers).into_response(),
        Err(refusal) => Told::of(app)(refusal).into_response(),
    }
}

#[derive(Deserialize)]
struct Ask {
    bench: String,
    plan: String,
    #[serde(default)]
    unit: String,
    #[serde(default)]
    firmware: String,
}

async fn ask(State(app): State<App>, headers: HeaderMap, form: Filled<Ask>) -> Response {
    acted(&app, &headers, form, |Ask { bench, plan, unit, firmware }| {
        // A field that was left empty asks for nothing.
        let said = |text: String| Some(text.trim().to_owned()).filter(|text| !text.is_empty());
        let (unit, firmware) = (said(unit), said(firmware));
        app.service.ask(&Wanted { bench, plan, unit, firmware, goes_on: None, by: BY.to_owned() }).map(drop)
    })
}

#[derive(Deserialize)]
struct OfBench {
    bench: String,
}

async fn stop(State(app): State<App>, headers: HeaderMap, form: Filled<OfBench>) -> Response {
    acted(&app, &headers, form, |of| app.service.stop(&of.bench))
}

async fn stop_all(State(app): State<App>, headers: HeaderMap) -> Response {
    done(&app, &headers, app.service.stop_all().map_err(Refusal::from))
}

#[derive(Deserialize)]
struct Pause {
    bench: String,
    paused: bool,
}

async fn pause(State(app): State<App>, headers: HeaderMap, form: Filled<Pause>) -> Response {
    acted(&app, &headers, form, |pause| app.service.pause(&pause.bench, pause.paused))
}

#[derive(Deserialize)]
struct OfEntry {
    id: u64,
}

async fn first(State(app): State<App>, headers: HeaderMap, form: Filled<OfEntry>) -> Response {
    acted(&app, &headers, form, |of| app.service.first(of.id))
}

async fn withdraw(State(app): State<App>, headers: HeaderMap, form: Filled<OfEntry>) -> Response {
    acted(&app, &headers, form, |of| app.service.withdraw(of.id))
}

#[derive(Deserialize)]
struct GoOn {
    run: String,
    bench: String,
}

async fn go_on(State(app): State<App>, headers: HeaderMap, form: Filled<GoOn>) -> Response {
    let asked = app.clone();
    let went = match form {
        Ok(Form(on)) => aside(move || runs::goes_on(&asked, &on.run, &on.bench, BY).map(drop)).await,
        Err(rejection) => Err(rejection.into()),
    };
    done(&app, &headers, went)
}
