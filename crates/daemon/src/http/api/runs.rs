//! The runs of the record: what they came to, their traces and reports, and their going on.

use axum::Json;
use axum::extract::rejection::PathRejection;
use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::http::header::{CONTENT_DISPOSITION, CONTENT_SECURITY_POLICY, CONTENT_TYPE};
use axum::response::{IntoResponse, Response};
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};
use spurline_record::{RunId, RunState};
use spurline_report::{Format, Paper};
use spurline_runner::{load, load_readings, newest_runs, particulars, view_with};
use spurline_store::{RunSummary, Store, StoredRun};
use utoipa::{IntoParams, ToSchema};

use super::{aside, at_most};
use crate::going_on;
use crate::http::App;
use crate::http::asked::{Asked, Sent};
use crate::http::error::{Answer, Refusal};
use crate::queue::{Entry, holds};

const RUNS: u32 = 50;
const MOST_RUNS: u32 = 1000;
/// A report is a page of its own that runs nothing and loads nothing.
const REPORT_POLICY: &str = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; frame-ancestors 'none'; sandbox allow-popups";
/// One that leads back to the service: a browser sends its session along only from a page of the same site. It runs nothing
/// all the same.
const LINKED_POLICY: &str = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; frame-ancestors 'none'; sandbox allow-popups allow-same-origin";

/// Which runs.
#[derive(Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(in crate::http) struct Which {
    /// How many of the newest, at most 1000; 50 unless stated.
    #[param(maximum = 1000)]
    most: Option<u32>,
}

/// A run in short.
#[derive(Debug, Serialize, ToSchema)]
pub(in crate::http) struct RunInShort {
    run: String,
    plan: String,
    bench: String,
    /// Model and serial number of the unit.
    unit: String,
    firmware: String,
    rule: String,
    simulated: bool,
    /// When it began.
    #[schema(format = DateTime)]
    started: String,
    /// `running`, `finished`, `failed`, `interrupted`, or `broken off` where its process died.
    state: String,
    /// What it came to; of a run that did not go to its end `exceeds` or nothing.
    outcome: Option<String>,
    readings: u32,
    /// How many of them have no limit, and do not count as complying.
    without_limit: u32,
}

impl From<RunSummary> for RunInShort {
    fn from(run: RunSummary) -> Self {
        Self {
            run: run.id.to_string(),
            plan: run.plan,
            bench: run.bench,
            unit: format!("{} {}", run.unit.model, run.unit.serial).trim().to_owned(),
            firmware: run.unit.firmware,
            rule: run.rule,
            simulated: run.simulated.is_some(),
            started: run.started.to_string(),
            state: run.state.word().to_owned(),
            outcome: run
                .outcome
                .filter(|outcome| holds(run.state == RunState::Finished, *outcome))
                .map(|outcome| outcome.word().to_owned()),
            readings: run.readings,
            without_limit: run.without_limit,
        }
    }
}

/// Runs.
#[derive(Debug, Serialize, ToSchema)]
pub(in crate::http) struct Runs {
    runs: Vec<RunInShort>,
}

/// The newest runs.
#[utoipa::path(get, path = "/api/runs", params(Which), responses(
    (status = 200, description = "as asked", body = Runs), (status = 400, description = "not as it should be", body = Refusal), (status = 401, description = "no token, or a wrong one", body = Refusal),
))]
pub(in crate::http) async fn all(State(app): State<App>, Asked(which): Asked<Which>) -> Answer<Json<Runs>> {
    let most = at_most(MOST_RUNS, which.most.unwrap_or(RUNS))?;
    aside(move || {
        let runs = newest_runs(&store(&app)?, most)?;
        Ok(Json(Runs { runs: runs.into_iter().map(RunInShort::from).collect() }))
    })
    .await
}

/// The record, for looking at.
pub(in crate::http) fn store(app: &App) -> Answer<Store> {
    Ok(Store::open_read_only(&app.service.record().folder)?)
}

/// A run by its whole name or the beginning of it; `last` is the newest.
pub(in crate::http) fn loaded(app: &App, name: &str, with_traces: bool) -> Answer<StoredRun> {
    let store = store(app)?;
    let run = store.resolve(name)?;
    Ok(if with_traces { load(&store, &run)? } else { load_readings(&store, &run)? })
}

/// A run with its readings, as `spurline show RUN --json` prints it.
#[utoipa::path(get, path = "/api/runs/{run}", params(("run" = String, Path, description = "its name, the beginning of it, or `last`")), responses(
    (status = 200, description = "the run; the keys are those of the JSON report", body = Value, content_type = "application/json"),
    (status = 400, description = "not as it should be", body = Refusal), (status = 401, description = "no token, or a wrong one", body = Refusal), (status = 404, description = "there is none", body = Refusal),
))]
pub(in crate::http) async fn one(
    State(app): State<App>,
    run: Result<Path<String>, PathRejection>,
) -> Answer<Response> {
    let Path(run) = run?;
    let text = aside(move || {
        let stored = loaded(&app, &run, false)?;
        let particulars = particulars(&store(&app)?, &stored, None)?;
        Ok(spurline_report::json(&view_with(&stored, &particulars))?)
    })
    .await?;
    Ok(([(CONTENT_TYPE, "application/json")], text).into_response())
}

/// In which form.
#[derive(Clone, Copy, Debug, Default, Deserialize, ToSchema)]
#[serde(rename_all = "lowercase")]
pub(in crate::http) enum Form {
    /// A page for people.
    #[default]
    Html,
    /// A table for spreadsheets.
    Csv,
    /// A document for programs.
    Json,
    /// A document for pipelines.
    Junit,
    /// A test report that can be handed on.
    Pdf,
    /// What does not comply, for a comment in a pipeline.
    Markdown,
}

impl From<Form> for Format {
    fn from(form: Form) -> Self {
        match form {
            Form::Html => Self::Html,
            Form::Csv => Self::Csv,
            Form::Json => Self::Json,
            Form::Junit => Self::Junit,
            Form::Pdf => Self::Pdf,
            Form::Markdown => Self::Markdown,
        }
    }
}

/// The size of the sheets of a PDF.
#[derive(Clone, Copy, Debug, Default, Deserialize, ToSchema)]
#[serde(rename_all = "lowercase")]
pub(in crate::http) enum Sheet {
    /// ISO A4.
    #[default]
    A4,
    /// North American letter.
    Letter,
}

/// In which form.
#[derive(Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(in crate::http) struct InForm {
    /// `html` unless stated.
    #[serde(default)]
    #[param(inline)]
    format: Form,
    /// `a4` unless stated; of a PDF alone.
    #[serde(default)]
    #[param(inline)]
    paper: Sheet,
}

/// The report of a run.
#[utoipa::path(get, path = "/api/runs/{run}/report", params(("run" = String, Path), InForm), responses(
    (status = 200, description = "the report", content((String = "text/html"), (String = "text/csv"), (Value = "application/json"), (String = "application/xml"), (Vec<u8> = "application/pdf"), (String = "text/markdown"))),
    (status = 400, description = "not as it should be", body = Refusal), (status = 401, description = "no token, or a wrong one", body = Refusal), (status = 404, description = "there is none", body = Refusal),
))]
pub(in crate::http) async fn report(
    State(app): State<App>,
    run: Result<Path<String>, PathRejection>,
    Asked(InForm { format, paper }): Asked<InForm>,
) -> Answer<Response> {
    let Path(run) = run?;
    let paper = match paper {
        Sheet::A4 => Paper::A4,
        Sheet::Letter => Paper::Letter,
    };
    let format = Format::from(format);
    let (bytes, run) = aside(move || {
        let stored = loaded(&app, &run, format.shows_traces())?;
        let looked = store(&app)?;
        // What is handed on is what was recorded, or nothing.
        looked.refuse_broken(&stored.header.id)?;
        let particulars = particulars(&looked, &stored, None)?;
        let bytes = format.report(&view_with(&stored, &particulars), paper)?;
        Ok((bytes, stored.header.id))
    })
    .await?;
    if format == Format::Html {
        return Ok(page_of_its_own(bytes));
    }
    let mut response = ([(CONTENT_TYPE, format.media_type())], bytes).into_response();
    // Its own name is made of digits and letters; nothing of what an instrument said comes into a header.
    if run.is_well_formed()
        && let Ok(value) = format!("attachment; filename=\"{run}.{}\"", format.ending()).parse()
    {
        response.headers_mut().insert(CONTENT_DISPOSITION, value);
    }
    Ok(response)
}

/// A page that brings its own style, and that runs and loads nothing.
pub(in crate::http) fn page_of_its_own(text: impl IntoResponse) -> Response {
    let kind = (CONTENT_TYPE, "text/html; charset=utf-8");
    ([kind, (CONTENT_SECURITY_POLICY, REPORT_POLICY)], text).into_response()
}

/// The same with links to pages of the service.
pub(in crate::http) fn page_with_links(text: impl IntoResponse) -> Response {
    let kind = (CONTENT_TYPE, "text/html; charset=utf-8");
    ([kind, (CONTENT_SECURITY_POLICY, LINKED_POLICY)], text).into_response()
}

/// The raw looks of a reading.
#[utoipa::path(get, path = "/api/runs/{run}/readings/{ordinal}/traces", params(("run" = String, Path), ("ordinal" = u32, Path)), responses(
    (status = 200, description = "the looks: settings and, for each sweep, levels in dBm at the analyser's input", body = Value),
    (status = 400, description = "not as it should be", body = Refusal), (status = 401, description = "no token, or a wrong one", body = Refusal), (status = 404, description = "there is none", body = Refusal),
))]
pub(in crate::http) async fn traces(
    State(app): State<App>,
    which: Result<Path<(String, u32)>, PathRejection>,
) -> Answer<Json<Value>> {
    let Path((run, ordinal)) = which?;
    aside(move || {
        let stored = loaded(&app, &run, true)?;
        let reading = stored.readings.iter().find(|reading| reading.ordinal == ordinal);
        let reading = reading.ok_or_else(|| {
            let message = format!("run {} has no reading {ordinal}", stored.header.id);
            Refusal::new(
                StatusCode::NOT_FOUND,
                message,
                Some("`/api/runs/RUN` tells the numbers of its readings"),
            )
        })?;
        let looks: Vec<Value> = reading
            .acquisitions
            .iter()
            .map(|look| {
                let settings = look.settings;
                json!({
                    "purpose": look.purpose,
                    "keyed": look.keyed,
                    "centre_hz": settings.centre.get(),
                    "span_hz": settings.span.get(),
                    "rbw_hz": settings.rbw.get(),
                    "sweeps_dbm": look.sweeps.iter().map(|sweep| &sweep.levels).collect::<Vec<_>>(),
                })
            })
            .collect();
        Ok(Json(json!({ "run": stored.header.id.as_str(), "reading": ordinal, "looks": looks })))
    })
    .await
}

/// On which bench a run goes on.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(in crate::http) struct GoOn {
    bench: String,
}

/// Has a run that broke off or was stopped go on, on the bench that it was begun with: another one is refused, and so is a run
/// that waits or goes on already, or that went to its end.
#[utoipa::path(post, path = "/api/runs/{run}/go-on", params(("run" = String, Path)), request_body = GoOn, responses(
    (status = 201, description = "it waits", body = Entry), (status = 400, description = "not as it should be", body = Refusal), (status = 401, description = "no token, or a wrong one", body = Refusal),
    (status = 404, description = "there is none", body = Refusal), (status = 409, description = "not as it stands now", body = Refusal), (status = 415, description = "not JSON", body = Refusal), (status = 422, description = "not what is wanted", body = Refusal),
    (status = 503, description = "the service ends", body = Refusal),
))]
pub(in crate::http) async fn go_on(
    State(app): State<App>,
    run: Result<Path<String>, PathRejection>,
    Sent(on): Sent<GoOn>,
) -> Answer<(StatusCode, Json<Entry>)> {
    let Path(run) = run?;
    let entry = aside(move || goes_on(&app, &run, &on.bench, "a program")).await?;
    Ok((StatusCode::CREATED, Json(entry)))
}

/// Puts the going on of a run into the queue.
pub(in crate::http) fn goes_on(app: &App, run: &str, bench: &str, by: &str) -> Answer<Entry> {
    let stored = loaded(app, run, false)?;
    if stored.state == RunState::Finished {
        let message = format!("run {} went to its end: there is nothing to go on with", stored.header.id);
        let advice = "to measure the same again, ask for its plan with `POST /api/queue`";
        return Err(Refusal::new(StatusCode::CONFLICT, message, Some(advice)));
    }
    let (service, texts) = (&app.service, &stored.header.texts);
    let on = service.bench(bench)?;
    if on.door.is_none() && !going_on::fits(on, texts) {
        let message = format!(
            "`bench`: run {} was begun with {}, and bench `{bench}` has another file, {}, or a changed one",
            stored.header.id,
            going_on::file_of(texts),
            on.at.file.display()
        );
        let before = service.bench_of(&stored.header.id)?;
        let advice = going_on::advice(&going_on::fitting(service.benches(), texts, before.as_deref()));
        return Err(Refusal::new(StatusCode::CONFLICT, message, Some(&advice)));
    }
    let run: RunId = stored.header.id;
    Ok(app.service.go_on(bench, &stored.header.plan, &run, by)?)
}
