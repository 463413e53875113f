//! The page of a test day: a line to type into, what whoever holds the radio is told, the verdict large, the slip and the
//! visits. It works without scripts.

use std::sync::Arc;

use askama::Template;
use axum::Router;
use axum::extract::rejection::{FormRejection, PathRejection};
use axum::extract::{Form, Path, State};
use axum::response::{Html, IntoResponse, Redirect, Response};
use axum::routing::{get, post};
use serde::Deserialize;
use spurline_record::VisitOutcome;

use super::shown::Frame;
use super::{Page, Told, rendered};
use crate::door::{Door, Seen, Telling};
use crate::http::App;
use crate::http::error::{Answer, Refusal};
use crate::service::AskError;

pub(super) fn routes() -> Router<App> {
    Router::new()
        .route("/walk-in", get(first))
        .route("/walk-in/{bench}", get(page))
        .route("/fragments/walk-in/{bench}", get(fragment))
        .route("/act/walk-in", post(typed))
}

/// What is to be seen, as a fragment.
#[derive(Template)]
#[template(path = "door.html")]
struct DoorFragment {
    name: String,
    seen: Seen,
    class: &'static str,
    tells: &'static str,
    is_due: bool,
}

#[derive(Template)]
#[template(path = "walk-in.html")]
struct DoorPage {
    frame: Frame,
    name: String,
    title: String,
    door: String,
    measuring: bool,
}

fn fragment_of(app: &App, name: &str) -> Result<(String, Arc<Door>), AskError> {
    let door = app.service.door(name)?.clone();
    let seen = door.seen();
    let class = seen.verdict.as_ref().map_or("", |verdict| match verdict.outcome {
        VisitOutcome::Complies => "good",
        VisitOutcome::Exceeds => "bad",
        _ => "unsure",
    });
    let tells = match seen.telling {
        Some(Telling::Key) => "KEY NOW",
        Some(Telling::LetGo) => "LET GO",
        None => "",
    };
    let is_due = seen.due.is_some_and(|due| due <= app.service.now());
    let fragment = DoorFragment { name: name.to_owned(), seen, class, tells, is_due };
    Ok((rendered(&fragment), door))
}

/// The first bench that holds a day.
async fn first(State(app): State<App>) -> Result<Redirect, Told> {
    let named = app.service.benches().iter().find(|bench| bench.door.is_some());
    let named = named.map(|bench| Redirect::to(&format!("/walk-in/{}", bench.at.name)));
    named.ok_or_else(|| Told::of(&app)(AskError::NoDay("any bench".to_owned()).into()))
}

async fn page(State(app): State<App>, name: Result<Path<String>, PathRejection>) -> Page {
    let told = Told::of(&app);
    let Path(name) = name.map_err(|rejection| told(rejection.into()))?;
    let (door, of) = fragment_of(&app, &name).map_err(|error| told(error.into()))?;
    let seen = of.seen();
    let frame = Frame::of(&app, "walk-in");
    Ok(Html(rendered(&DoorPage { frame, name, title: seen.title, door, measuring: seen.measuring })))
}

async fn fragment(State(app): State<App>, name: Result<Path<String>, PathRejection>) -> Answer<Html<String>> {
    let Path(name) = name?;
    Ok(Html(fragment_of(&app, &name)?.0))
}

#[derive(Deserialize)]
struct Typed {
    bench: String,
    #[serde(default)]
    line: String,
}

async fn typed(State(app): State<App>, form: Result<Form<Typed>, FormRejection>) -> Response {
    let did = form.map_err(Refusal::from).and_then(|Form(typed)| {
        app.service.typed(&typed.bench, &typed.line)?;
        Ok(Redirect::to(&format!("/walk-in/{}", typed.bench)))
    });
    match did {
        Ok(back) => back.into_response(),
        Err(refusal) => Told::of(&app)(refusal).into_response(),
    }
}
