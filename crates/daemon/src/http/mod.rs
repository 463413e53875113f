//! The service on the network: the interface for programs, the page for people, and who may use them.

mod api;
mod asked;
mod bucket;
mod error;
mod events;
mod guard;
mod openapi;
mod page;
mod token;

use std::io;
use std::net::SocketAddr;
use std::sync::Arc;
use std::time::Duration;

use axum::Router;
use axum::extract::DefaultBodyLimit;
use axum::http::StatusCode;
use axum::middleware::from_fn_with_state;
use axum_server::Handle;
use axum_server::tls_rustls::RustlsConfig;
use spurline_clock::Clock;
use thiserror::Error;
use tokio::sync::Semaphore;
use tower_http::catch_panic::CatchPanicLayer;
use tower_http::csrf::CsrfLayer;
use tower_http::limit::RequestBodyLimitLayer;
use tower_http::timeout::{RequestBodyTimeoutLayer, TimeoutLayer};

use crate::configuration::{Configuration, Tls};
use crate::service::Service;
pub use token::{Secret, TokenError};

/// The largest request, in bytes.
const LARGEST_BODY: usize = 1 << 20;
/// How long the head of a request may take to come, and each pause within its body.
const HEAD_WITHIN: Duration = Duration::from_secs(10);
/// How long an answer may take.
const ANSWER_WITHIN: Duration = Duration::from_secs(60);
/// How many listeners hear events at a time.
const MOST_LISTENERS: usize = 32;

/// Why the service cannot be reached.
#[derive(Debug, Error)]
pub enum ServeError {
    /// Other machines would reach it unguarded.
    #[error("{message}")]
    Open {
        /// What is missing.
        message: String,
        /// What to do about it.
        advice: String,
    },
    /// The address cannot be listened on.
    #[error("cannot listen on {address}")]
    Address {
        /// The address.
        address: SocketAddr,
        /// Why.
        #[source]
        source: io::Error,
    },
    /// Certificate and key cannot be used.
    #[error("the certificate in {certificate} and the key in {key} cannot be used")]
    Certificate {
        /// The certificate's file.
        certificate: String,
        /// The key's.
        key: String,
        /// Why.
        #[source]
        source: io::Error,
    },
    /// The connection to everybody broke off.
    #[error("the service cannot be reached any more")]
    Lost(#[source] io::Error),
}

impl ServeError {
    /// What to do about it.
    #[must_use]
    pub fn advice(&self) -> &str {
        match self {
            Self::Open { advice, .. } => advice,
            Self::Address { .. } => {
                "does another program listen there? `listen:` in the service's file names another port"
            }
            Self::Certificate { .. } => {
                "both are files in PEM; this user must be able to read them, and they must belong together"
            }
            Self::Lost(_) => "the system is out of something: files, memory or processes",
        }
    }
}

/// What every request is answered from.
#[derive(Clone, Debug)]
pub(crate) struct App {
    pub(crate) service: Arc<Service>,
    pub(crate) access: Arc<guard::Access>,
    pub(crate) listeners: Arc<Semaphore>,
}

/// Where a service will listen, taken before anything is done on a bench.
#[derive(Debug)]
pub struct Place {
    listener: std::net::TcpListener,
    tls: Option<RustlsConfig>,
}

impl Place {
    /// Takes the address that the configuration names; nobody is answered yet.
    ///
    /// # Errors
    ///
    /// [`ServeError`].
    pub async fn take(configuration: &Configuration) -> Result<Self, ServeError> {
        refuse_open(configuration)?;
        let tls = match &configuration.tls {
            Some(tls) => Some(certified(tls).await?),
            None => None,
        };
        let address = configuration.listen;
        let failed = |source| ServeError::Address { address, source };
        let listener = std::net::TcpListener::bind(address).map_err(failed)?;
        listener.set_nonblocking(true).map_err(failed)?;
        Ok(Self { listener, tls })
    }
}

/// A listening service.
#[derive(Debug)]
pub struct Listening {
    listener: std::net::TcpListener,
    tls: Option<RustlsConfig>,
    app: App,
    handle: Handle<SocketAddr>,
}

impl Listening {
    /// A service at its place; nobody is answered yet.
    ///
    /// # Errors
    ///
    /// [`ServeError`].
    pub fn begin(
        place: Place,
        service: Arc<Service>,
        secret: Secret,
        clock: Clock,
    ) -> Result<Self, ServeError> {
        let Place { listener, tls } = place;
        let configuration = service.configuration();
        let address = listener
            .local_addr()
            .map_err(|source| ServeError::Address { address: configuration.listen, source })?;
        let access = guard::Access::new(secret, &configuration.names, address, tls.is_some(), clock);
        let app =
            App { service, access: Arc::new(access), listeners: Arc::new(Semaphore::new(MOST_LISTENERS)) };
        Ok(Self { listener, tls, app, handle: Handle::new() })
    }

    /// Where it listens.
    #[must_use]
    pub fn address(&self) -> Option<SocketAddr> {
        self.listener.local_addr().ok()
    }

    /// What a browser is told to open.
    #[must_use]
    pub fn link(&self) -> String {
        let scheme = if self.tls.is_some() { "https" } else { "http" };
        let address = self.address().map_or_else(String::new, |address| address.to_string());
        format!("{scheme}://{address}/")
    }

    /// Ends the answering: those under way have so long.
    #[must_use]
    pub fn handle(&self) -> Handle<SocketAddr> {
        self.handle.clone()
    }

    /// Answers until the handle ends it.
    ///
    /// # Errors
    ///
    /// [`ServeError::Lost`].
    pub async fn answer(self) -> Result<(), ServeError> {
        let routes = router(self.app).into_make_service();
        let handle = self.handle;
        match self.tls {
            None => {
                let mut server = axum_server::from_tcp(self.listener)
                    .map_err(ServeError::Lost)?
                    .handle(handle)
                    .http1_only();
                server.http_builder().http1().header_read_timeout(HEAD_WITHIN);
                server.serve(routes).await
            }
            Some(tls) => {
                let mut server = axum_server::from_tcp_rustls(self.listener, tls)
                    .map_err(ServeError::Lost)?
                    .handle(handle)
                    .http1_only();
                server.http_builder().http1().header_read_timeout(HEAD_WITHIN);
                server.serve(routes).await
            }
        }
        .map_err(ServeError::Lost)
    }
}

async fn certified(tls: &Tls) -> Result<RustlsConfig, ServeError> {
    let read = RustlsConfig::from_pem_chain_file(&tls.certificate, &tls.key).await;
    read.map_err(|source| ServeError::Certificate {
        certificate: tls.certificate.display().to_string(),
        key: tls.key.display().to_string(),
        source,
    })
}

/// Everything that is answered, behind the guard.
pub(crate) fn router(app: App) -> Router {
    let answered = Router::new()
        .merge(api::routes())
        .merge(page::routes())
        .layer(TimeoutLayer::with_status_code(StatusCode::SERVICE_UNAVAILABLE, ANSWER_WITHIN));
    answered
        // Events go on for hours.
        .merge(events::routes())
        .fallback(error::not_found)
        .layer(DefaultBodyLimit::max(LARGEST_BODY))
        .layer(RequestBodyLimitLayer::new(LARGEST_BODY))
        .layer(RequestBodyTimeoutLayer::new(HEAD_WITHIN))
        .layer(from_fn_with_state(app.clone(), guard::guard))
        .layer(CsrfLayer::new())
        .layer(CatchPanicLayer::custom(error::panicked))
        .layer(from_fn_with_state(app.clone(), error::worded))
        .layer(from_fn_with_state(app.clone(), guard::headers))
        .with_state(app)
}

/// What a service must not be: reached from other machines by anybody, or readable on the way.
fn refuse_open(configuration: &Configuration) -> Result<(), ServeError> {
    if configuration.listen.ip().is_loopback() {
        return Ok(());
    }
    let missing: Vec<&str> =
        [("`token_file`", configuration.token_file.is_none()), ("`tls`", configuration.tls.is_none())]
            .into_iter()
            .filter_map(|(key, missing)| missing.then_some(key))
            .collect();
    if missing.is_empty() {
        return Ok(());
    }
    Err(ServeError::Open {
        message: format!(
            "expected {} with `listen: {}`, which other machines reach",
            missing.join(" and "),
            configuration.listen
        ),
        advice: "name them in the service's file, or listen on 127.0.0.1 and reach it through a tunnel"
            .to_owned(),
    })
}
