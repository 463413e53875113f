//! What a page is shown with: built in, so that nothing is ever fetched from elsewhere.

use axum::extract::Path;
use axum::http::StatusCode;
use axum::http::header::{CACHE_CONTROL, CONTENT_TYPE};
use axum::response::{IntoResponse, Response};

const ASSETS: [(&str, &str, &str); 6] = [
    ("page.css", "text/css; charset=utf-8", include_str!("../../../assets/page.css")),
    ("page.js", "text/javascript; charset=utf-8", include_str!("../../../assets/page.js")),
    ("enter.js", "text/javascript; charset=utf-8", include_str!("../../../assets/enter.js")),
    ("uplot.js", "text/javascript; charset=utf-8", include_str!("../../../assets/uplot/uPlot.iife.min.js")),
    ("uplot.css", "text/css; charset=utf-8", include_str!("../../../assets/uplot/uPlot.min.css")),
    ("uplot-licence.txt", "text/plain; charset=utf-8", include_str!("../../../assets/uplot/LICENSE")),
];

pub(super) async fn asset(Path(name): Path<String>) -> Response {
    match ASSETS.iter().find(|(known, ..)| *known == name) {
        Some((_, kind, text)) => {
            ([(CONTENT_TYPE, *kind), (CACHE_CONTROL, "no-cache")], *text).into_response()
        }
        None => StatusCode::NOT_FOUND.into_response(),
    }
}
