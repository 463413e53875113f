//! `serve`: benches that work off a queue by themselves, with a page and an interface for programs.

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

use clap::{Args, ValueEnum};
use spurline_clock::{Clock, Pace};
use spurline_daemon::http::{Listening, Place, Secret};
use spurline_daemon::{Configuration, Service, configuration};
use spurline_document::Document;
use spurline_plan::Library;
use spurline_runner::Files;

use crate::data::{DataArgument, record_at};
use crate::exit::Exit;
use crate::stop::told_to_stop;
use crate::talk::{Failure, say, style};

/// How long the benches may take to bring their keys up and keep what they measured.
const ENDS_WITHIN: Duration = Duration::from_secs(12);
/// How long answers that are under way may take when the service ends.
const ANSWERS_WITHIN: Duration = Duration::from_secs(2);

/// Let benches work off a queue, with a page for people and an interface for programs
///
/// Reads one file that names the benches, the plans and the schedules; `config/services/demo.yaml` shows it. The page
/// and the interface ask for the token that is in the token file. Real benches are keyed only if their own file says
/// `armed: true`: nobody stands beside them.
///
/// Ends with 0 when it was told to stop and every bench has ended with its key up, 2 for a wrong file, 4 if a bench did
/// not end in time or the service cannot be reached, 5 if the record failed.
#[derive(Args, Debug)]
pub(crate) struct Serve {
    /// The service's file
    service: String,
    /// Where it listens, instead of what the file says, for example "127.0.0.1:9000"
    #[arg(long, value_name = "ADDRESS")]
    listen: Option<std::net::SocketAddr>,
    /// How the log is written on standard error
    #[arg(long, value_enum, default_value_t = Log::Text)]
    log: Log,
    #[command(flatten)]
    data: DataArgument,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Log {
    /// A line for people
    Text,
    /// A JSON object on each line
    Json,
}

impl Serve {
    pub(crate) fn execute(self) -> Result<Exit, Failure> {
        let mut configuration = read(&self.service)?;
        if let Some(listen) = self.listen {
            configuration.listen = listen;
        }
        let folder = match &configuration.data {
            Some(folder) => folder.clone(),
            None => self.data.folder()?,
        };
        log_to_standard_error(self.log);
        let ran = spurline_clock::run(Pace::Real, |clock| serve(configuration, folder, clock));
        ran.map_err(Failure::runtime)?
    }
}

fn read(file: &str) -> Result<Configuration, Failure> {
    let text = Files::from_environment().file("", file).map_err(|missing| Failure::Usage {
        message: missing.message,
        advice: "name the file of a service; `config/services/demo.yaml` shows every key".to_owned(),
    })?;
    let document = Document::parse(&text.name, &text.text)?;
    Ok(configuration::read(&document)?)
}

async fn serve(configuration: Configuration, folder: PathBuf, clock: Clock) -> Result<Exit, Failure> {
    let stop = told_to_stop();
    let secret = secret(&configuration, &folder)?;
    // Before any bench takes up what it was doing: a service that nobody can reach keys nothing.
    let place = Place::take(&configuration).await?;
    let service = Arc::new(Service::begin(configuration, record_at(folder)?, clock)?);
    let token = secret.reveal().to_owned();
    let listening = match Listening::begin(place, service.clone(), secret, clock) {
        Ok(listening) => listening,
        Err(error) => {
            service.end(ENDS_WITHIN).await;
            return Err(error.into());
        }
    };
    tell(&service, &listening, &token);
    let handle = listening.handle();
    let times = service.keep_times();
    let alive = keep_alive(&service, clock);
    let mut answered = std::pin::pin!(listening.answer());
    let lost = tokio::select! {
        () = stop => None,
        ended = &mut answered => Some(ended),
        () = times => None,
        () = alive => None,
    };
    // In steps: nothing new, the keys up, what was measured kept; then the last answers.
    notify(&[sd_notify::NotifyState::Stopping]);
    tracing::info!("ends: key up on every bench first");
    let left = service.end(ENDS_WITHIN).await;
    if lost.is_none() {
        handle.graceful_shutdown(Some(ANSWERS_WITHIN));
        answered.await?;
    }
    if let Some(Err(error)) = lost {
        return Err(error.into());
    }
    match left.as_slice() {
        [] => {
            tracing::info!("ended: every bench is at rest");
            Ok(Exit::Good)
        }
        left => {
            tracing::error!("these benches did not end in time: {}", left.join(", "));
            Ok(Exit::Bench)
        }
    }
}

fn secret(configuration: &Configuration, folder: &Path) -> Result<Secret, Failure> {
    let path = match &configuration.token_file {
        Some(path) => path.clone(),
        None => {
            spurline_runner::make_folder(folder)?;
            folder.join("token")
        }
    };
    Secret::in_file(&path).map_err(|error| {
        let message = std::error::Error::source(&error)
            .map_or_else(|| error.to_string(), |cause| format!("{error}: {cause}"));
        Failure::Usage { message, advice: error.advice() }
    })
}

/// What whoever started it sees first. The token is told to a person at a terminal, and to no log.
fn tell(service: &Service, listening: &Listening, token: &str) {
    use std::io::IsTerminal;
    let link = listening.link();
    let benches = service.benches().len();
    tracing::info!("{benches} benches; the page is at {link}");
    if std::io::stderr().is_terminal() {
        say(&format!("page {link}#{token}"));
    }
    notify(&[sd_notify::NotifyState::Ready, sd_notify::NotifyState::Status("benches wait for work")]);
}

/// Tells whoever watches over the service that it lives, as long as every bench has its thread.
async fn keep_alive(service: &Service, clock: Clock) {
    let Some(within) = sd_notify::watchdog_enabled() else { return std::future::pending().await };
    loop {
        if service.lives() {
            notify(&[sd_notify::NotifyState::Watchdog]);
        }
        clock.sleep(within / 3).await;
    }
}

/// Outside a service manager nobody listens.
fn notify(what: &[sd_notify::NotifyState<'_>]) {
    if let Err(error) = sd_notify::notify(what) {
        tracing::debug!("the service manager was not told: {error}");
    }
}

fn log_to_standard_error(log: Log) {
    use tracing_subscriber::EnvFilter;
    let filter = EnvFilter::try_from_env("SPURLINE_LOG")
        .unwrap_or_else(|_| EnvFilter::new(if crate::talk::is_quiet() { "warn" } else { "info" }));
    let colours = style() == spurline_document::Style::Coloured;
    // A log that nobody reads any more must not end the benches: what cannot be written is not complained of there.
    let made = tracing_subscriber::fmt()
        .with_env_filter(filter)
        .with_writer(std::io::stderr)
        .with_ansi(colours && log == Log::Text)
        .log_internal_errors(false);
    // Only the first of a process counts, and there is one.
    drop(match log {
        Log::Text => made.with_target(false).try_init(),
        Log::Json => made.json().flatten_event(true).try_init(),
    });
}
