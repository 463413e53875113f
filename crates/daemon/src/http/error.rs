//! What went wrong with a request, as a program reads it.

use std::any::Any;

use axum::Json;
use axum::extract::rejection::{FormRejection, JsonRejection, PathRejection, QueryRejection};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use serde::Serialize;
use spurline_store::StoreError;
use utoipa::ToSchema;

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
            AskError::NothingGoesOn(_)
            | AskError::HoldsDay(_)
            | AskError::TooManyLines(_)
            | AskError::DayIsOver { .. }
            | AskError::Paused(_)
            | AskError::Queue(QueueError::Full(_) | QueueError::NotWaiting(_)) => StatusCode::CONFLICT,
            AskError::Text { .. } | AskError::NoName => StatusCode::UNPROCESSABLE_ENTITY,
            AskError::Ending => StatusCode::SERVICE_UNAVAILABLE,
            AskError::Plan(PlanError::Folder { .. })
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
        Self::new(StatusCode::INTERNAL_SERVER_ERROR, told::chain(&error), None)
    }
}

macro_rules! rejected {
    ($($rejection:ty),+) => {$(
        impl From<$rejection> for Refusal {
            fn from(rejection: $rejection) -> Self {
                Self::new(rejection.status(), rejection.body_text(), None)
            }
        }
    )+};
}

rejected!(JsonRejection, PathRejection, QueryRejection, FormRejection);

/// Nothing is there.
pub(super) async fn not_found() -> Refusal {
    Refusal::new(
        StatusCode::NOT_FOUND,
        "there is nothing at this address",
        Some("`/` is the page, `/api/openapi.json` the interface"),
    )
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
