//! The page for people.

use axum::Router;

use super::App;

pub(super) fn routes() -> Router<App> {
    Router::new()
}
