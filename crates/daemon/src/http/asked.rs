//! What a request brings, a body or what stands behind the question mark, and in words what is wrong with it: where, what
//! was expected and what was found.

use axum::extract::path::ErrorKind;
use axum::extract::rejection::{BytesRejection, FormRejection, PathRejection, QueryRejection};
use axum::extract::{FromRequest, FromRequestParts, Query, Request};
use axum::http::header::CONTENT_TYPE;
use axum::http::request::Parts;
use axum::http::{StatusCode, Uri};
use axum::response::IntoResponse;
use serde::de::DeserializeOwned;

use super::error::Refusal;

const OF_JSON: &str = "a body is one JSON object: names and texts in double quotes, nothing behind the last field or the object";
const OF_FIELDS: &str =
    "`/api/openapi.json` tells every field that an address takes, and what may stand in it";

/// A body of JSON.
pub(super) struct Sent<T>(pub(super) T);

impl<T: DeserializeOwned, S: Send + Sync> FromRequest<S> for Sent<T> {
    type Rejection = Refusal;

    async fn from_request(request: Request, state: &S) -> Result<Self, Refusal> {
        let kind = request.headers().get(CONTENT_TYPE).map(|kind| kind.to_str().unwrap_or("?").to_owned());
        if !kind.as_deref().is_some_and(is_json) {
            let found = kind.map_or_else(|| "none".to_owned(), |kind| format!("`{}`", short(&kind)));
            return Err(Refusal::new(
                StatusCode::UNSUPPORTED_MEDIA_TYPE,
                format!("expected a body with `Content-Type: application/json`, found {found}"),
                Some("send the body as JSON, and say so with that header"),
            ));
        }
        let bytes = axum::body::Bytes::from_request(request, state).await.map_err(unread)?;
        read(&bytes).map(Self)
    }
}

/// What stands behind the question mark of an address.
pub(super) struct Asked<T>(pub(super) T);

impl<T: DeserializeOwned, S: Send + Sync> FromRequestParts<S> for Asked<T> {
    type Rejection = Refusal;

    async fn from_request_parts(parts: &mut Parts, _state: &S) -> Result<Self, Refusal> {
        let read = Query::<T>::try_from_uri(&parts.uri);
        read.map(|Query(read)| Self(read)).map_err(|rejection| misasked(&parts.uri, &rejection))
    }
}

fn is_json(kind: &str) -> bool {
    let essence = kind.split(';').next().unwrap_or_default().trim().to_ascii_lowercase();
    let inner = essence.strip_prefix("application/");
    inner.is_some_and(|inner| inner == "json" || inner.ends_with("+json"))
}

/// What somebody sent, as much of it as a message shows.
fn short(text: &str) -> String {
    let shown: String = text.chars().filter(|letter| !letter.is_control()).take(60).collect();
    if shown.len() < text.len() { format!("{shown}…") } else { shown }
}

fn unread(rejection: BytesRejection) -> Refusal {
    let status = rejection.into_response().status();
    match status {
        StatusCode::PAYLOAD_TOO_LARGE => Refusal::of(status),
        _ => Refusal::new(status, "the body did not come to its end", Some("send it again")),
    }
}

/// Reads a body of JSON.
fn read<T: DeserializeOwned>(bytes: &[u8]) -> Result<T, Refusal> {
    let broken = |error: serde_json::Error| {
        let found = if bytes.iter().all(u8::is_ascii_whitespace) {
            "expected a JSON object, found an empty body".to_owned()
        } else {
            let (line, column) = (error.line(), error.column());
            let what = error.to_string();
            let what = what.split(" at line ").next().unwrap_or_default();
            format!("expected JSON, found what is none at line {line}, column {column}: {what}")
        };
        Refusal::new(StatusCode::BAD_REQUEST, found, Some(OF_JSON))
    };
    let unfit = |message: String| Refusal::new(StatusCode::UNPROCESSABLE_ENTITY, message, Some(OF_FIELDS));
    // A list of the fields' values in order would be read as well: what it means could not be seen on it.
    if bytes.iter().find(|byte| !byte.is_ascii_whitespace()) != Some(&b'{') {
        let value: serde_json::Value = serde_json::from_slice(bytes).map_err(broken)?;
        let found = match value {
            serde_json::Value::Array(_) => "a list",
            serde_json::Value::String(_) => "a text",
            serde_json::Value::Number(_) => "a number",
            serde_json::Value::Bool(_) => "`true` or `false`",
            serde_json::Value::Null | serde_json::Value::Object(_) => "`null`",
        };
        return Err(unfit(format!("expected a JSON object, found {found}")));
    }
    let mut json = serde_json::Deserializer::from_slice(bytes);
    let read = serde_path_to_error::deserialize(&mut json).map_err(|error| {
        let place = error.path().to_string();
        let error = error.into_inner();
        if error.is_data() { unfit(worded(&place, &error.to_string(), None)) } else { broken(error) }
    })?;
    json.end().map_err(broken)?;
    Ok(read)
}

/// Words for what the reader of a text said: expected first, then found.
fn worded(place: &str, told: &str, found: Option<&str>) -> String {
    let told = told.split(" at line ").next().unwrap_or(told);
    if let Some(field) = told.strip_prefix("missing field ") {
        return format!("expected a field {field}, found none");
    }
    if let Some(field) = told.strip_prefix("duplicate field ") {
        return format!("expected the field {field} once, found it twice");
    }
    if let Some(rest) = told.strip_prefix("unknown field ") {
        let (field, known) = rest.split_once(", expected ").unwrap_or((rest, "no field"));
        return format!("expected {known}, found a field {}", short(field));
    }
    let at = if place.is_empty() || place == "." { String::new() } else { format!("`{place}`: ") };
    for (begins, between) in [
        ("unknown variant ", ", expected "),
        ("invalid type: ", ", expected "),
        ("invalid value: ", ", expected "),
    ] {
        if let Some((found, expected)) = told.strip_prefix(begins).and_then(|rest| rest.split_once(between)) {
            return format!("{at}expected {}, found {}", plain(expected), plain(found));
        }
    }
    let expected = match told {
        "invalid digit found in string"
        | "cannot parse integer from empty string"
        | "number too large to fit in target type" => "a whole number, 0 or more",
        _ if told.starts_with("provided string was not ") => "`true` or `false`",
        _ => return format!("{at}{told}"),
    };
    let found = found.map_or_else(|| "something else".to_owned(), |found| format!("`{}`", short(found)));
    format!("{at}expected {expected}, found {found}")
}

/// Words of the reader's own language as those of JSON.
fn plain(words: &str) -> String {
    let kinds = [
        ("sequence", "a list"),
        ("map", "an object"),
        ("boolean", "`true` or `false`"),
        ("a boolean", "`true` or `false`"),
    ];
    if let Some((_, plain)) = kinds.iter().find(|(word, _)| *word == words) {
        return (*plain).to_owned();
    }
    if words.starts_with("struct ") {
        return "an object".to_owned();
    }
    for (word, plain) in [
        ("string \"", "the text \""),
        ("integer `", "the number `"),
        ("floating point `", "the number `"),
        ("boolean `", "`"),
    ] {
        if let Some(rest) = words.strip_prefix(word) {
            return format!("{plain}{}", short(rest));
        }
    }
    match words {
        "a string" => "a text".to_owned(),
        "null" => "`null`".to_owned(),
        "u32" | "u64" => "a whole number, 0 or more".to_owned(),
        _ => words.to_owned(),
    }
}

fn misasked(uri: &Uri, rejection: &QueryRejection) -> Refusal {
    let told = rejection.body_text();
    let told = told.strip_prefix("Failed to deserialize query string: ").unwrap_or(&told);
    let (place, told) = placed(told);
    let pairs = uri.query().unwrap_or_default().split('&').filter_map(|pair| pair.split_once('='));
    let found = pairs.clone().find(|(key, _)| *key == place).map(|(_, value)| value);
    let advice = "`/api/openapi.json` tells what may stand behind the `?` of an address";
    Refusal::new(StatusCode::BAD_REQUEST, worded(place, told, found), Some(advice))
}

/// Where something stands, and what is said of it.
fn placed(told: &str) -> (&str, &str) {
    let begins = ["missing field ", "unknown field ", "duplicate field ", "invalid ", "unknown variant "];
    match told.split_once(": ") {
        Some((place, rest)) if !begins.iter().any(|words| told.starts_with(words)) => (place, rest),
        _ => ("", told),
    }
}

impl From<PathRejection> for Refusal {
    fn from(rejection: PathRejection) -> Self {
        let kind = match &rejection {
            PathRejection::FailedToDeserializePathParams(failed) => Some(failed.kind()),
            _ => None,
        };
        let message = match kind {
            Some(ErrorKind::ParseErrorAtKey { key, value, .. }) => {
                format!(
                    "`{key}` in the address: expected a whole number, 0 or more, found `{}`",
                    short(value)
                )
            }
            Some(ErrorKind::ParseErrorAtIndex { value, .. } | ErrorKind::ParseError { value, .. }) => {
                format!("in the address: expected a whole number, 0 or more, found `{}`", short(value))
            }
            Some(ErrorKind::InvalidUtf8InPathParam { key }) => {
                format!("`{key}` in the address: expected letters in UTF-8, found other bytes")
            }
            _ => format!("the address cannot be read: {}", rejection.body_text()),
        };
        let advice = "`/api/openapi.json` tells what stands at which place of an address";
        Self::new(rejection.status(), message, Some(advice))
    }
}

impl From<FormRejection> for Refusal {
    fn from(rejection: FormRejection) -> Self {
        let text = rejection.body_text();
        let message = match text.split_once(" form body: ").or_else(|| text.split_once(" form: ")) {
            Some((_, told)) => {
                let (place, told) = placed(told);
                worded(place, told, None)
            }
            None => text,
        };
        Self::new(rejection.status(), message, Some("load the page anew and fill the form in again"))
    }
}

#[cfg(test)]
mod tests {
    use serde::Deserialize;

    use super::*;

    #[derive(Debug, Deserialize)]
    #[serde(deny_unknown_fields)]
    #[expect(dead_code, reason = "it is only read")]
    struct Wanted {
        bench: String,
        paused: Option<bool>,
        of: Option<Kind>,
        many: Option<u32>,
    }

    #[derive(Debug, Deserialize)]
    #[serde(rename_all = "lowercase")]
    enum Kind {
        Firmware,
        Unit,
    }

    #[test]
    fn a_body_that_does_not_fit_is_told_with_place_expected_and_found() {
        for (body, status, words) in [
            ("", 400, "expected a JSON object, found an empty body"),
            ("bench=one", 400, "expected JSON, found what is none at line 1, column 1: expected value"),
            (
                "{\"bench\":\n \"one\",}",
                400,
                "expected JSON, found what is none at line 2, column 8: trailing comma",
            ),
            (
                "{\"bench\": \"one\"} x",
                400,
                "expected JSON, found what is none at line 1, column 18: trailing characters",
            ),
            ("[\"one\", true]", 422, "expected a JSON object, found a list"),
            ("7", 422, "expected a JSON object, found a number"),
            ("{}", 422, "expected a field `bench`, found none"),
            ("{\"bench\": 5}", 422, "`bench`: expected a text, found the number `5`"),
            ("{\"bench\": null}", 422, "`bench`: expected a text, found `null`"),
            ("{\"bench\": [\"a\"]}", 422, "`bench`: expected a text, found a list"),
            ("{\"bench\": \"a\", \"bench\": \"b\"}", 422, "expected the field `bench` once, found it twice"),
            (
                "{\"bench\": \"a\", \"paused\": \"no\"}",
                422,
                "`paused`: expected `true` or `false`, found the text \"no\"",
            ),
            (
                "{\"bench\": \"a\", \"many\": -1}",
                422,
                "`many`: expected a whole number, 0 or more, found the number `-1`",
            ),
            (
                "{\"bench\": \"a\", \"of\": \"rain\"}",
                422,
                "`of`: expected `firmware` or `unit`, found `rain`",
            ),
            (
                "{\"bench\": \"a\", \"plam\": 1}",
                422,
                "expected one of `bench`, `paused`, `of`, `many`, found a field `plam`",
            ),
        ] {
            let refusal = read::<Wanted>(body.as_bytes()).unwrap_err();
            assert_eq!((refusal.status().as_u16(), refusal.message()), (status, words), "{body}");
            assert!(refusal.advice().is_some(), "{body}");
        }
        assert!(read::<Wanted>(b" {\"bench\": \"one\"}\n").is_ok());
    }

    #[test]
    fn what_stands_behind_the_question_mark_is_told_in_the_same_way() {
        for (query, words) in [
            ("", "expected a field `bench`, found none"),
            ("bench=a&many=x%20y", "`many`: expected a whole number, 0 or more, found `x%20y`"),
            ("bench=a&many=", "`many`: expected a whole number, 0 or more, found ``"),
            ("bench=a&of=rain", "`of`: expected `firmware` or `unit`, found `rain`"),
            ("bench=a&paused=no", "`paused`: expected `true` or `false`, found `no`"),
            ("bench=a&bench=b", "expected the field `bench` once, found it twice"),
            ("bench=a&plam=1", "expected one of `bench`, `paused`, `of`, `many`, found a field `plam`"),
        ] {
            let uri: Uri = format!("/api/thing?{query}").parse().unwrap();
            let rejection = Query::<Wanted>::try_from_uri(&uri).unwrap_err();
            let refusal = misasked(&uri, &rejection);
            assert_eq!((refusal.status().as_u16(), refusal.message()), (400, words), "{query}");
            assert!(refusal.advice().is_some(), "{query}");
        }
    }
}
