//! What went wrong with a request, as a program reads it.

use std::any::Any;

use axum::Json;
use axum::extract::{Request, State};
use axum::http::header::{CONTENT_LENGTH, CONTENT_TYPE};
use axum::http::{Method, StatusCode};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use serde::Serialize;
use spurline_store::StoreError;
use utoipa::ToSchema;

use super::{App, page};
use crate::plans::PlanError;
use crate::queue::QueueError;
use crate::service::AskError;
use crate::told;

/// A request that was not done.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub(crate) struct Refusal {
    error: Told,
}

/// Why, and what to do about it.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub(crate) struct Told {
    /// What went wrong.
    message: String,
    /// What to do about it.
    advice: Option<String>,
    #[serde(skip)]
    status: u16,
}

pub(crate) type Answer<T> = Result<T, Refusal>;

impl Refusal {
    pub(crate) fn new(status: StatusCode, message: impl Into<String>, advice: Option<&str>) -> Self {
        let advice = advice.map(str::to_owned);
        Self { error: Told { message: message.into(), advice, status: status.as_u16() } }
    }

    /// What a status says by itself, for what was refused on the way to whoever would have answered.
    pub(crate) fn of(status: StatusCode) -> Self {
        let (message, advice) = match status {
            StatusCode::FORBIDDEN => (
                "this was asked for by a page of another site, and is not done",
                "open the service's own page, or send the token from a program without `Origin` and `Sec-Fetch-Site`",
            ),
            StatusCode::NOT_FOUND => {
                ("there is nothing at this address", "`/` is the page, `/api/openapi.json` the interface")
            }
            StatusCode::METHOD_NOT_ALLOWED => (
                "this address does not take that method",
                "the header `Allow` of this answer names those it takes, `/api/openapi.json` what each does",
            ),
            StatusCode::REQUEST_TIMEOUT => ("the request did not come within 10 s", "send it again"),
            StatusCode::PAYLOAD_TOO_LARGE => {
                ("the body is larger than 1 MB", "nothing that this service takes is nearly as large")
            }
            StatusCode::SERVICE_UNAVAILABLE => {
                ("there was no answer within 60 s", "look at the service's log, and ask again later")
            }
            _ => (
                status.canonical_reason().unwrap_or("the request was refused"),
                "`/api/openapi.json` is the interface, the service's log may say more",
            ),
        };
        Self::new(status, message, Some(advice))
    }

    pub(crate) fn status(&self) -> StatusCode {
        StatusCode::from_u16(self.error.status).unwrap_or(StatusCode::INTERNAL_SERVER_ERROR)
    }

    pub(crate) fn message(&self) -> &str {
        &self.error.message
    }

    pub(crate) fn advice(&self) -> Option<&str> {
        self.error.advice.as_deref()
    }
}

impl IntoResponse for Refusal {
    fn into_response(self) -> Response {
        (self.status(), Json(self)).into_response()
    }
}

impl From<AskError> for Refusal {
    fn from(error: AskError) -> Self {
        let status = match &error {
            AskError::NoBench(_)
            | AskError::NoDay(_)
            | AskError::Plan(PlanError::Unknown(_))
            | AskError::Queue(QueueError::Unknown(_)) => StatusCode::NOT_FOUND,
            AskError::HoldsDay(_)
            | AskError::TooManyLines(_)
            | AskError::DayIsOver { .. }
            | AskError::Paused(_)
            | AskError::Queue(QueueError::Full(_) | QueueError::NotWaiting(_) | QueueError::GoesOn { .. }) => {
                StatusCode::CONFLICT
            }
            AskError::Text { .. } | AskError::NoName => StatusCode::UNPROCESSABLE_ENTITY,
            AskError::Ending => StatusCode::SERVICE_UNAVAILABLE,
            AskError::Plan(PlanError::Folder { .. })
            | AskError::NotKept { .. }
            | AskError::Queue(QueueError::File { .. } | QueueError::Later { .. }) => {
                StatusCode::INTERNAL_SERVER_ERROR
            }
        };
        Self::new(status, told::chain(&error), error.advice())
    }
}

impl From<StoreError> for Refusal {
    fn from(error: StoreError) -> Self {
        let status =
            if error.is_wrong_question() { StatusCode::NOT_FOUND } else { StatusCode::INTERNAL_SERVER_ERROR };
        Self::new(status, told::chain(&error), Some(error.advice()))
    }
}

impl From<spurline_report::ReportError> for Refusal {
    fn from(error: spurline_report::ReportError) -> Self {
        let advice = "the run is whole in the record: `spurline show` and `spurline verify` look at it";
        Self::new(StatusCode::INTERNAL_SERVER_ERROR, told::chain(&error), Some(advice))
    }
}

/// Nothing is there.
pub(super) async fn not_found() -> StatusCode {
    StatusCode::NOT_FOUND
}

/// Whether an address is for programs, which read JSON, and not for people.
pub(super) fn is_for_programs(path: &str) -> bool {
    ["/api", "/metrics", "/healthz"]
        .iter()
        .any(|place| path.strip_prefix(place).is_some_and(|rest| rest.is_empty() || rest.starts_with('/')))
}

/// Gives words to what was refused without any, or with those of somebody else: as JSON where a program asks, as a page
/// where a person does.
pub(super) async fn worded(State(app): State<App>, request: Request, next: Next) -> Response {
    let for_programs = is_for_programs(request.uri().path());
    let has_body = request.method() != Method::HEAD;
    let answer = next.run(request).await;
    let status = answer.status();
    let kind = answer.headers().get(CONTENT_TYPE).and_then(|kind| kind.to_str().ok()).unwrap_or_default();
    let is_ours = kind.starts_with("application/json") || kind.starts_with("text/html");
    if !(status.is_client_error() || status.is_server_error()) || is_ours || !has_body {
        return answer;
    }
    let refusal = Refusal::of(status);
    let worded = if for_programs { refusal.into_response() } else { page::told(&app, refusal) };
    let (kept, body) = worded.into_parts();
    let mut answer = answer.map(|_| body);
    answer.headers_mut().remove(CONTENT_LENGTH);
    answer.headers_mut().extend(kept.headers);
    answer
}

/// A handler broke off: whoever asked is told so, and the service goes on.
pub(super) fn panicked(cause: Box<dyn Any + Send>) -> Response {
    let words = cause.downcast_ref::<String>().map(String::as_str);
    let words = words.or_else(|| cause.downcast_ref::<&str>().copied()).unwrap_or("no words");
    tracing::error!("an answer broke off: {words}");
    Refusal::new(
        StatusCode::INTERNAL_SERVER_ERROR,
        "the answer broke off",
        Some("the service's log says more"),
    )
    .into_response()
}
