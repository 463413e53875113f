//! Who may ask: the right name of this machine, the token or a browser that has shown it, and not too often.

use std::net::SocketAddr;

use axum::extract::{Request, State};
use axum::http::header::{
    AUTHORIZATION, CACHE_CONTROL, CONTENT_SECURITY_POLICY, COOKIE, HOST, REFERRER_POLICY,
    X_CONTENT_TYPE_OPTIONS, X_FRAME_OPTIONS,
};
use axum::http::{HeaderName, HeaderValue, Method, StatusCode};
use axum::middleware::Next;
use axum::response::{IntoResponse, Redirect, Response};
use spurline_clock::Clock;

use super::App;
use super::bucket::Bucket;
use super::error::Refusal;
use super::token::Secret;

/// The cookie of a browser that has shown the token.
const SESSION: &str = "spurline_session";
/// What anybody may have: nothing of it says anything about a bench.
const OPEN: [&str; 3] = ["/healthz", "/enter", "/assets/"];
/// So many requests at once, and so many in a second after that.
const REQUESTS: (f64, f64) = (400.0, 200.0);
/// So many wrong tokens at once, and one in so many seconds after that.
const WRONG_TOKENS: (f64, f64) = (10.0, 0.2);

/// What a page of ours may load and be loaded by: itself, and nothing.
const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; \
                      frame-ancestors 'none'; base-uri 'none'; form-action 'self'";

/// Who is let in.
#[derive(Debug)]
pub(crate) struct Access {
    secret: Secret,
    hosts: Vec<String>,
    secure: bool,
    clock: Clock,
    requests: Bucket,
    wrong_tokens: Bucket,
}

impl Access {
    pub(super) fn new(secret: Secret, names: &[String], at: SocketAddr, secure: bool, clock: Clock) -> Self {
        let port = at.port();
        let own = ["127.0.0.1", "localhost", "[::1]"].map(str::to_owned);
        let bound = match at {
            SocketAddr::V4(at) => at.ip().to_string(),
            SocketAddr::V6(at) => format!("[{}]", at.ip()),
        };
        let mut hosts: Vec<String> = own
            .into_iter()
            .chain([bound])
            .chain(names.iter().cloned())
            .map(|name| format!("{name}:{port}"))
            .collect();
        // Behind the port of the scheme nobody writes it.
        hosts.extend(names.iter().cloned());
        let bucket = |(most, in_a_second)| Bucket::new(most, in_a_second, clock);
        Self { secret, hosts, secure, clock, requests: bucket(REQUESTS), wrong_tokens: bucket(WRONG_TOKENS) }
    }

    /// The cookie for a browser that shows the token, or why another one is not let in.
    pub(super) fn enter(&self, token: &str) -> Result<String, Refusal> {
        match self.token(Some(token)) {
            Admitted::Yes => {}
            Admitted::TooManyTokens => return Err(too_many_tokens()),
            Admitted::WrongToken | Admitted::Unknown => {
                return Err(Refusal::new(StatusCode::UNAUTHORIZED, "that is not the token", None));
            }
        }
        let session = self.secret.session(self.clock.timestamp());
        let secure = if self.secure { "; Secure" } else { "" };
        Ok(format!("{SESSION}={session}; Path=/; HttpOnly; SameSite=Strict{secure}"))
    }

    /// The cookie that takes the session away.
    pub(super) fn leave() -> String {
        format!("{SESSION}=; Path=/; HttpOnly; SameSite=Strict; Max-Age=0")
    }

    /// Whether a text is the token. Wrong ones are counted; the right one is let in however many there were.
    fn token(&self, text: Option<&str>) -> Admitted {
        if text.is_some_and(|text| self.secret.is(text)) {
            return Admitted::Yes;
        }
        if self.wrong_tokens.take() { Admitted::WrongToken } else { Admitted::TooManyTokens }
    }

    fn is_own_host(&self, request: &Request) -> bool {
        let header = request.headers().get(HOST).and_then(|host| host.to_str().ok());
        let host = request.uri().authority().map(|authority| authority.as_str()).or(header);
        host.is_some_and(|host| self.hosts.iter().any(|own| own.eq_ignore_ascii_case(host)))
    }

    fn admits(&self, request: &Request) -> Admitted {
        if let Some(header) = request.headers().get(AUTHORIZATION) {
            return self.token(header.to_str().ok().and_then(|text| text.strip_prefix("Bearer ")));
        }
        let cookies = request.headers().get_all(COOKIE).iter().filter_map(|header| header.to_str().ok());
        let mut sessions = cookies
            .flat_map(|text| text.split(';'))
            .filter_map(|pair| pair.trim().split_once('='))
            .filter(|(name, _)| *name == SESSION);
        match sessions.any(|(_, session)| self.secret.admits(session, self.clock.timestamp())) {
            true => Admitted::Yes,
            false => Admitted::Unknown,
        }
    }
}

enum Admitted {
    Yes,
    WrongToken,
    TooManyTokens,
    Unknown,
}

fn too_many_tokens() -> Refusal {
    let (_, in_a_second) = WRONG_TOKENS;
    let advice = format!(
        "one more can be tried every {:.0} s; the right one is let in at any time",
        1.0 / in_a_second
    );
    Refusal::new(StatusCode::TOO_MANY_REQUESTS, "too many wrong tokens", Some(&advice))
}

/// Lets a request through, or says why not.
pub(super) async fn guard(State(app): State<App>, request: Request, next: Next) -> Response {
    let access = &app.access;
    if !access.is_own_host(&request) {
        let advice = "`names:` in the service's file tells under which other names it is reached";
        let message = "this service does not answer under that name";
        return Refusal::new(StatusCode::MISDIRECTED_REQUEST, message, Some(advice)).into_response();
    }
    if !access.requests.take() {
        return Refusal::new(StatusCode::TOO_MANY_REQUESTS, "too many requests", Some("wait a second"))
            .into_response();
    }
    let path = request.uri().path();
    if OPEN.iter().any(|open| path == *open || (open.ends_with('/') && path.starts_with(open))) {
        return next.run(request).await;
    }
    let advice = "the token is in the service's token file; send it as `Authorization: Bearer TOKEN`, or enter it on the page";
    match access.admits(&request) {
        Admitted::Yes => next.run(request).await,
        Admitted::Unknown
            if request.method() == Method::GET && !path.starts_with("/api/") && path != "/metrics" =>
        {
            Redirect::to("/enter").into_response()
        }
        Admitted::Unknown => {
            Refusal::new(StatusCode::UNAUTHORIZED, "expected a token, found none", Some(advice))
                .into_response()
        }
        Admitted::WrongToken => {
            tracing::warn!("somebody showed a wrong token");
            Refusal::new(StatusCode::UNAUTHORIZED, "that is not the token", Some(advice)).into_response()
        }
        Admitted::TooManyTokens => too_many_tokens().into_response(),
    }
}

/// What every answer says of itself to a browser.
pub(super) async fn headers(State(app): State<App>, request: Request, next: Next) -> Response {
    let mut response = next.run(request).await;
    let headers = response.headers_mut();
    let mut say = |name: HeaderName, value: &'static str| {
        headers.entry(name).or_insert(HeaderValue::from_static(value));
    };
    say(CONTENT_SECURITY_POLICY, POLICY);
    say(X_CONTENT_TYPE_OPTIONS, "nosniff");
    say(X_FRAME_OPTIONS, "DENY");
    say(REFERRER_POLICY, "no-referrer");
    say(CACHE_CONTROL, "no-store");
    say(HeaderName::from_static("cross-origin-opener-policy"), "same-origin");
    say(HeaderName::from_static("cross-origin-resource-policy"), "same-origin");
    if app.access.secure {
        say(HeaderName::from_static("strict-transport-security"), "max-age=31536000");
    }
    response
}
