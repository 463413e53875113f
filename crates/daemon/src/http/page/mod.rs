//! The page for people. It is made here, works by keyboard and without scripts, and what an instrument or a file says is
//! escaped by its templates.

mod acts;
mod assets;
mod coded;
mod shown;
mod walk_in;

use askama::Template;
use axum::Router;
use axum::extract::rejection::PathRejection;
use axum::extract::{Form, Path, RawQuery, State};
use axum::http::StatusCode;
use axum::http::header::{CONTENT_TYPE, SET_COOKIE};
use axum::response::{Html, IntoResponse, Redirect, Response};
use axum::routing::{get, post};
use serde::Deserialize;
use spurline_record::Outcome;
use spurline_runner::newest_runs;

use super::App;
use super::api::{aside, compare, runs};
use super::error::{Answer, Refusal};
use super::guard::Access;
use crate::going_on;
use crate::told;
use coded::coded;
use shown::{Card, Frame, QueueRow, RunRow};

const ENDED: u32 = 20;
const RUNS: u32 = 200;
/// The most runs that are looked at as a batch.
const MOST_OF_A_BATCH: usize = 100;

pub(super) fn routes() -> Router<App> {
    Router::new()
        .route("/", get(benches))
        .route("/benches/{bench}", get(bench))
        .route("/runs", get(all_runs))
        .route("/runs/{run}", get(one_run))
        .route("/several", get(several))
        .route("/fragments/benches/{bench}", get(card))
        .route("/fragments/benches/{bench}/trace", get(sweep))
        .route("/fragments/queue", get(queue))
        .route("/enter", get(enter).post(entered))
        .route("/leave", post(leave))
        .route("/assets/{name}", get(assets::asset))
        .merge(acts::routes())
        .merge(walk_in::routes())
}

/// A page, or what is told instead.
type Page = Result<Html<String>, Told>;

/// Something that was not done, told as a page.
pub(super) struct Told {
    app: App,
    refusal: Refusal,
    back: (&'static str, &'static str),
}

/// Where a page leads back to.
const TO_BENCHES: (&str, &str) = ("/", "Back to the benches");
const TO_RUNS: (&str, &str) = ("/runs", "Back to the runs");

impl Told {
    fn of(app: &App) -> impl Fn(Refusal) -> Self + use<> {
        let app = app.clone();
        move |refusal| Self { app: app.clone(), refusal, back: TO_BENCHES }
    }

    /// The same, of a page that is reached from the runs.
    fn of_runs(app: &App) -> impl Fn(Refusal) -> Self + use<> {
        let told = Self::of(app);
        move |refusal| Self { back: TO_RUNS, ..told(refusal) }
    }
}

/// A refusal as a page.
pub(super) fn told(app: &App, refusal: Refusal) -> Response {
    Told::of(app)(refusal).into_response()
}

#[derive(Template)]
#[template(path = "told.html")]
struct ToldPage {
    frame: Frame,
    message: String,
    advice: Option<String>,
    /// Where it leads back to: address and words.
    back: (&'static str, &'static str),
}

impl IntoResponse for Told {
    fn into_response(self) -> Response {
        let frame = Frame::of(&self.app, "");
        let (message, advice) = (coded(self.refusal.message()), self.refusal.advice().map(coded));
        let page = ToldPage { frame, message, advice, back: self.back };
        (self.refusal.status(), Html(rendered(&page))).into_response()
    }
}

/// Texts that are put into a string cannot fail to be written there.
fn rendered(page: &impl Template) -> String {
    page.render().unwrap_or_else(|error| format!("the page could not be made: {error}"))
}

#[derive(Template)]
#[template(path = "benches.html")]
struct BenchesPage {
    frame: Frame,
    cards: Vec<String>,
    names: Vec<String>,
    plans: Vec<String>,
    queue: String,
}

async fn benches(State(app): State<App>) -> Page {
    let told = Told::of(&app);
    let frame = Frame::of(&app, "benches");
    let cards = app.service.benches().iter().map(|bench| rendered(&Card::of(bench))).collect();
    let names = queued(&app);
    let plans = app.service.plans().names().map_err(crate::AskError::from);
    let plans = plans.map_err(|error| told(error.into()))?;
    let queue = queue_rows(&app).map_err(told)?;
    Ok(Html(rendered(&BenchesPage { frame, cards, names, plans, queue })))
}

#[derive(Template)]
#[template(path = "bench.html")]
struct BenchPage {
    frame: Frame,
    name: String,
    card: String,
}

/// The benches of which a run can be asked for: one that holds a test day has no queue.
fn queued(app: &App) -> Vec<String> {
    let benches = app.service.benches().iter().filter(|bench| bench.door.is_none());
    benches.map(|bench| bench.at.name.clone()).collect()
}

async fn bench(State(app): State<App>, name: Result<Path<String>, PathRejection>) -> Page {
    let told = Told::of(&app);
    let Path(name) = name.map_err(|rejection| told(rejection.into()))?;
    let bench = app.service.bench(&name).map_err(|error| told(error.into()))?;
    let card = rendered(&Card::of(bench));
    Ok(Html(rendered(&BenchPage { frame: Frame::of(&app, "bench"), name, card })))
}

async fn card(State(app): State<App>, name: Result<Path<String>, PathRejection>) -> Answer<Html<String>> {
    let Path(name) = name?;
    Ok(Html(rendered(&Card::of(app.service.bench(&name)?))))
}

/// The sweep of the reading that was finished last on a bench: of this life of the program, or of the newest run that has one.
async fn sweep(State(app): State<App>, name: Result<Path<String>, PathRejection>) -> Answer<Response> {
    const RUNS_BACK: usize = 3;
    let Path(name) = name?;
    let known = app.service.bench(&name)?.trace();
    let found = match known {
        Some(trace) => Some(trace),
        None => {
            aside(move || {
                let entries = app.service.entries(ENDED)?.into_iter();
                let of_bench = entries.filter(|entry| entry.wanted.bench == name);
                for run in of_bench.filter_map(|entry| entry.run).take(RUNS_BACK) {
                    let stored = runs::loaded(&app, run.as_str(), true)?;
                    if let Some(reading) =
                        stored.readings.iter().rev().find(|reading| told::is_drawn(reading))
                    {
                        return Ok(Some(told::trace(&name, reading)));
                    }
                }
                Ok(None)
            })
            .await?
        }
    };
    Ok(match found {
        Some(trace) => ([(CONTENT_TYPE, "application/json")], trace).into_response(),
        None => StatusCode::NO_CONTENT.into_response(),
    })
}

#[derive(Template)]
#[template(path = "queue.html")]
struct QueueFragment {
    entries: Vec<QueueRow>,
}

fn queue_rows(app: &App) -> Answer<String> {
    let is_paused = |name: &str| app.service.bench(name).is_ok_and(|bench| bench.state().paused);
    let entries = app.service.entries(ENDED)?.into_iter();
    let entries = entries.map(|entry| QueueRow::of(is_paused(&entry.wanted.bench), entry)).collect();
    Ok(rendered(&QueueFragment { entries }))
}

async fn queue(State(app): State<App>) -> Answer<Html<String>> {
    Ok(Html(queue_rows(&app)?))
}

#[derive(Template)]
#[template(path = "runs.html")]
struct RunsPage {
    frame: Frame,
    runs: Vec<RunRow>,
}

async fn all_runs(State(app): State<App>) -> Page {
    let told = Told::of(&app);
    let frame = Frame::of(&app, "runs");
    let rows = aside(move || {
        Ok(newest_runs(&runs::store(&app)?, RUNS)?.into_iter().map(RunRow::of).collect::<Vec<_>>())
    })
    .await
    .map_err(told)?;
    Ok(Html(rendered(&RunsPage { frame, runs: rows })))
}

#[derive(Template)]
#[template(path = "run.html")]
struct RunPage {
    frame: Frame,
    id: String,
    plan: String,
    unit: String,
    bench: String,
    simulated: bool,
    at: String,
    when: String,
    state: &'static str,
    readings: usize,
    class: &'static str,
    sign: &'static str,
    outcome: String,
    /// Whether there is something to go on with.
    is_open: bool,
    /// The entry of the queue that goes on with it already.
    pending: Option<u64>,
    /// The benches that it can go on with, the one where it was first.
    names: Vec<String>,
    /// The bench's file that it was begun with.
    file: String,
}

async fn one_run(State(app): State<App>, run: Result<Path<String>, PathRejection>) -> Page {
    let told = Told::of_runs(&app);
    let Path(run) = run.map_err(|rejection| told(rejection.into()))?;
    let asked = app.clone();
    let stored = aside(move || runs::loaded(&asked, &run, false)).await.map_err(&told)?;
    let header = &stored.header;
    let without_limit = stored.readings.iter().filter(|reading| reading.outcome == Outcome::NoLimit).count();
    let (class, sign, outcome) = shown::outcome(stored.outcome, without_limit, stored.state);
    let goes_on = app.service.benches().iter().any(|bench| bench.state().run.as_ref() == Some(&header.id));
    let is_open = stored.state != spurline_record::RunState::Finished && !goes_on;
    let (pending, before) = (app.service.pending(&header.id), app.service.bench_of(&header.id));
    let pending = pending.map_err(|error| told(error.into()))?;
    let before = before.map_err(|error| told(error.into()))?;
    let names = going_on::fitting(app.service.benches(), &header.texts, before.as_deref());
    let page = RunPage {
        frame: Frame::of(&app, "runs"),
        id: header.id.to_string(),
        plan: header.plan.clone(),
        unit: format!("{} {}", header.unit.model, header.unit.serial),
        bench: header.bench.clone(),
        simulated: header.simulated.is_some(),
        at: header.started.to_string(),
        when: shown::when(header.started),
        state: stored.state.word(),
        readings: stored.readings.len(),
        class,
        sign,
        outcome,
        is_open,
        pending,
        names,
        file: going_on::file_of(&header.texts).to_owned(),
    };
    Ok(Html(rendered(&page)))
}

/// Several runs that were marked: two compared, or all of them as a batch.
async fn several(State(app): State<App>, RawQuery(query): RawQuery) -> Result<Response, Told> {
    let told = Told::of_runs(&app);
    let refused = |message: &str| {
        let advice = "go back to the runs and mark them";
        Told::of_runs(&app)(Refusal::new(StatusCode::UNPROCESSABLE_ENTITY, message, Some(advice)))
    };
    let pairs = query.unwrap_or_default();
    let pairs: Vec<(&str, &str)> = pairs.split('&').filter_map(|pair| pair.split_once('=')).collect();
    // Names of runs have no letter that is written otherwise in an address.
    let marked: Vec<String> =
        pairs.iter().filter(|(key, _)| *key == "run").map(|(_, run)| (*run).to_owned()).collect();
    let compares = pairs.contains(&("as", "compare"));
    let asked = app.clone();
    let page = if compares {
        let [newer, older] = marked.try_into().map_err(|marked: Vec<String>| {
            refused(&format!("expected two marked runs to compare, found {}", marked.len()))
        })?;
        aside(move || {
            compare::compared(&asked, &older, &newer, true, |comparison| {
                Ok(spurline_report::comparison_html(comparison)?)
            })
        })
        .await
        .map_err(told)?
    } else {
        if marked.is_empty() || marked.len() > MOST_OF_A_BATCH {
            return Err(refused("expected one to a hundred marked runs"));
        }
        aside(move || {
            let stored: Vec<_> =
                marked.iter().map(|run| runs::loaded(&asked, run, false)).collect::<Answer<_>>()?;
            let views: Vec<_> = stored.iter().map(spurline_runner::view).collect();
            Ok(spurline_report::batch_html(&spurline_report::Batch::of(&views))?)
        })
        .await
        .map_err(told)?
    };
    let (to, words) = TO_RUNS;
    // Behind the link that skips to the content, and not on paper.
    let style = "<style>@media print { .back { display: none; } }</style>";
    let back = format!("{style}<p class=\"back\"><a href=\"{to}\">{words}</a></p>\n<header>");
    Ok(runs::page_with_links(page.replacen("<header>", &back, 1)))
}

#[derive(Template)]
#[template(path = "enter.html")]
struct EnterPage<'a> {
    service: &'a str,
    /// As HTML.
    wrong: Option<String>,
}

async fn enter(State(app): State<App>) -> Html<String> {
    Html(rendered(&EnterPage { service: &app.service.configuration().title, wrong: None }))
}

#[derive(Deserialize)]
struct Shown {
    token: String,
}

async fn entered(State(app): State<App>, Form(shown): Form<Shown>) -> Response {
    match app.access.enter(shown.token.trim()) {
        Ok(cookie) => ([(SET_COOKIE, cookie)], Redirect::to("/")).into_response(),
        Err(refusal) => {
            let service = &app.service.configuration().title;
            let words = [Some(refusal.message()), refusal.advice()];
            let words = words.into_iter().flatten().collect::<Vec<_>>().join(": ");
            let wrong = Some(coded(&words));
            (refusal.status(), Html(rendered(&EnterPage { service, wrong }))).into_response()
        }
    }
}

async fn leave() -> Response {
    ([(SET_COOKIE, Access::leave())], Redirect::to("/enter")).into_response()
}
