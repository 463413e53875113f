//! What is said to a person: one grammar and one renderer for everything that went wrong.

use std::error::Error;
use std::io::{ErrorKind, Write};
use std::sync::atomic::{AtomicBool, Ordering};

use spurline_document::{Mistakes, Style};
use spurline_plan::LoadError;
pub(crate) use spurline_report::{WIDTH, counted, paragraph as wrapped};
use spurline_runner::WHEN_MISTAKEN;
use spurline_sequencer::RunFault;
use thiserror::Error as ThisError;

use crate::exit::Exit;

/// Why a command did not do what it was asked.
#[derive(Debug, ThisError)]
pub(crate) enum Failure {
    /// Files with mistakes.
    #[error("the files have mistakes")]
    Mistakes(#[from] Mistakes),
    /// Something on the command line is not right.
    #[error("{message}")]
    Usage {
        /// What.
        message: String,
        /// What to do about it.
        advice: String,
    },
    /// Somebody stopped what would have been done.
    #[error("{message}")]
    Stopped {
        /// What was not done.
        message: String,
        /// How it is done after all.
        advice: String,
    },
    /// A run that was not made, or broke off, and why else work like that of a run was not done.
    #[error(transparent)]
    Runner(spurline_runner::Failure),
    /// The bench failed while it was to be proven.
    #[error("the bench could not be proven")]
    Prove(#[source] RunFault),
    /// The bench failed while a path was measured.
    #[error("the path could not be measured")]
    Path(#[source] RunFault),
    /// The record failed.
    #[error("the record failed")]
    Store(#[source] spurline_store::StoreError),
    /// The log of test days failed.
    #[error("the log of test days failed")]
    DayLog(#[source] spurline_store::DayLogError),
    /// A key could not be made or read.
    #[error("the key cannot be used")]
    Key(#[from] spurline_store::KeyError),
    /// A run could not be repeated from its transcript.
    #[error("the run cannot be replayed")]
    Replay(#[from] spurline_replay::ReplayError),
    /// The process that held the key ended in a run, and no instrument answers for that.
    #[error("the run cannot be replayed beyond the place where the process that held its key ended")]
    ReplayedSoFar(#[source] spurline_replay::Difference),
    /// An instrument could not be spoken to.
    #[error("the instrument cannot be identified")]
    Identify(#[source] spurline_instrument::IdentifyError),
    /// The service could not begin.
    #[error("the service cannot begin")]
    Service(#[from] spurline_daemon::ServiceError),
    /// The service could not be reached.
    #[error("the service cannot be reached")]
    Serve(#[from] spurline_daemon::http::ServeError),
    /// The network could not be listened to.
    #[error("the network cannot be listened to")]
    Discovery(#[source] spurline_discovery::DiscoveryError),
}

impl From<spurline_store::StoreError> for Failure {
    fn from(error: spurline_store::StoreError) -> Self {
        if error.is_wrong_question() {
            return Self::Usage { message: error.to_string(), advice: error.advice().to_owned() };
        }
        Self::Store(error)
    }
}

impl From<spurline_runner::Failure> for Failure {
    fn from(failure: spurline_runner::Failure) -> Self {
        use spurline_runner::Failure as Of;
        match failure {
            Of::Mistakes(mistakes) => Self::Mistakes(mistakes),
            Of::Usage { message, advice } => Self::Usage { message, advice },
            Of::Store(error) => error.into(),
            other => Self::Runner(other),
        }
    }
}

impl From<LoadError> for Failure {
    fn from(error: LoadError) -> Self {
        spurline_runner::Failure::from(error).into()
    }
}

impl From<spurline_report::ReportError> for Failure {
    fn from(error: spurline_report::ReportError) -> Self {
        spurline_runner::Failure::from(error).into()
    }
}

impl From<spurline_sim::ServeError> for Failure {
    fn from(error: spurline_sim::ServeError) -> Self {
        spurline_runner::Failure::from(error).into()
    }
}

impl Failure {
    /// The program could not begin to work.
    pub(crate) fn runtime(source: std::io::Error) -> Self {
        Self::Runner(spurline_runner::Failure::Runtime(source))
    }

    /// Reading or writing failed: what was tried where, and why.
    pub(crate) fn file(action: &'static str, path: impl Into<String>, source: std::io::Error) -> Self {
        Self::Runner(spurline_runner::Failure::File { action, path: path.into(), source })
    }

    fn exit(&self) -> Exit {
        use spurline_runner::Failure as Of;
        match self {
            Self::Mistakes(_) | Self::Usage { .. } | Self::Key(_) => Exit::Usage,
            Self::Stopped { .. } => Exit::Interrupted,
            Self::Store(_) | Self::DayLog(_) => Exit::Store,
            Self::Runner(failure) => match failure {
                Of::Mistakes(_) | Of::Load(_) | Of::Usage { .. } => Exit::Usage,
                Of::Run(RunFault::Record(_)) | Of::Store(_) | Of::Report(_) | Of::File { .. } => Exit::Store,
                Of::InUse { .. } | Of::Run(_) | Of::Simulated(_) | Of::Runtime(_) => Exit::Bench,
            },
            Self::Discovery(spurline_discovery::DiscoveryError::Interface { .. }) => Exit::Usage,
            Self::Service(
                spurline_daemon::ServiceError::Bench { .. }
                | spurline_daemon::ServiceError::Day { .. }
                | spurline_daemon::ServiceError::Plan { .. }
                | spurline_daemon::ServiceError::OfDay { .. },
            )
            | Self::Serve(spurline_daemon::http::ServeError::Open { .. }) => Exit::Usage,
            Self::Service(_) => Exit::Store,
            Self::Serve(_)
            | Self::Prove(_)
            | Self::Path(_)
            | Self::Replay(_)
            | Self::ReplayedSoFar(_)
            | Self::Identify(_)
            | Self::Discovery(_) => Exit::Bench,
        }
    }

    fn advice(&self) -> Option<String> {
        match self {
            Self::Usage { advice, .. } | Self::Stopped { advice, .. } => Some(advice.clone()),
            Self::Runner(failure) => failure.advice(),
            Self::Prove(fault) | Self::Path(fault) => fault.advice().map(str::to_owned),
            Self::Mistakes(_) => Some(WHEN_MISTAKEN.to_owned()),
            Self::Store(error) => Some(error.advice().to_owned()),
            Self::DayLog(error) => Some(error.advice().to_owned()),
            Self::Key(error) => Some(error.advice().to_owned()),
            Self::Replay(error) => Some(error.advice().to_owned()),
            Self::ReplayedSoFar(_) => Some(
                "the run went on with another process, which the transcript knows nothing of; `spurline judge RUN` works its \
                 readings out anew, and `spurline show RUN --transcript` shows what passed"
                    .to_owned(),
            ),
            Self::Identify(error) => Some(error.advice().to_owned()),
            Self::Discovery(error) => Some(error.advice().to_owned()),
            Self::Service(error) => error.advice(),
            Self::Serve(error) => Some(error.advice().to_owned()),
        }
    }
}

/// Prints a failure with its causes and advice, and says how the program ends. With `json` it is one document on
/// standard output as well.
pub(crate) fn report(failure: &Failure, json: bool) -> Exit {
    tell(&as_text(failure));
    if json && let Err(second) = print_json(&as_json(failure)) {
        tell(&as_text(&second));
    }
    failure.exit()
}

/// Prints what is wrong with the arguments, or the help that was asked for, and says how the program ends.
pub(crate) fn misused(error: &clap::Error, json: bool) -> Exit {
    if !error.use_stderr() {
        return match printed(error.print()) {
            Ok(()) => Exit::Good,
            Err(failure) => report(&failure, false),
        };
    }
    drop(error.print());
    if json && let Err(second) = print_json(&misuse_json(&error.render().to_string())) {
        tell(&as_text(&second));
    }
    Exit::Usage
}

/// The first paragraph of a message is what is wrong, the others say what may be done.
fn misuse_json(rendered: &str) -> serde_json::Value {
    let (message, advice) = rendered.trim().split_once("\n\n").unwrap_or((rendered.trim(), ""));
    let one_line = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
    serde_json::json!({ "error": {
        "message": one_line(message.strip_prefix("error: ").unwrap_or(message)),
        "causes": [],
        "advice": one_line(advice),
        "mistakes": [],
        "exit_status": Exit::Usage as u8,
    }})
}

fn as_text(failure: &Failure) -> String {
    if let Failure::Mistakes(mistakes) = failure {
        let count = counted(mistakes.all().len(), "mistake");
        return format!("{}\n\n{count}; nothing was keyed", mistakes.render(style()));
    }
    let mut text = format!("error: {failure}");
    for cause in causes(failure) {
        text.push_str(&format!("\n  because: {cause}"));
    }
    if let Some(advice) = failure.advice() {
        text.push_str(&format!("\n  help: {advice}"));
    }
    text
}

/// A failure as one document.
pub(crate) fn as_json(failure: &Failure) -> serde_json::Value {
    let mistakes: Vec<_> = match failure {
        Failure::Mistakes(mistakes) => mistakes.in_order().into_iter().map(mistake_json).collect(),
        _ => Vec::new(),
    };
    let causes = if mistakes.is_empty() { causes(failure) } else { Vec::new() };
    serde_json::json!({ "error": {
        "message": failure.to_string(),
        "causes": causes,
        "advice": failure.advice(),
        "mistakes": mistakes,
        "exit_status": failure.exit() as u8,
    }})
}

fn mistake_json(mistake: &spurline_document::Mistake) -> serde_json::Value {
    let (line, column) = mistake.line_and_column();
    serde_json::json!({
        "file": mistake.file(), "line": line, "column": column,
        "message": mistake.message(), "advice": mistake.advice(),
    })
}

/// Why, from the outermost cause to the innermost. An error that only hands another one on is told once.
fn causes(failure: &Failure) -> Vec<String> {
    let mut causes: Vec<String> =
        std::iter::successors(failure.source(), |&cause| cause.source()).map(ToString::to_string).collect();
    causes.dedup();
    causes
}

/// Whether only errors are told, and what nobody may miss.
static QUIET: AtomicBool = AtomicBool::new(false);

/// Told once, before anything is said.
pub(crate) fn be_quiet(quiet: bool) {
    QUIET.store(quiet, Ordering::Relaxed);
}

/// Whether talk is left out.
pub(crate) fn is_quiet() -> bool {
    QUIET.load(Ordering::Relaxed)
}

/// Prints talk on standard error, unless it is to be quiet.
pub(crate) fn say(text: &str) {
    if !is_quiet() {
        tell(text);
    }
}

/// Prints on standard error what is told whatever happens: errors, questions, dangers. A closed pipe is nobody's fault.
pub(crate) fn tell(text: &str) {
    let mut stream = anstream::stderr().lock();
    drop(writeln!(stream, "{text}"));
}

/// Sounds the terminal's bell.
pub(crate) fn sound() {
    let mut stream = std::io::stderr().lock();
    drop(stream.write_all(b"\x07").and_then(|()| stream.flush()));
}

/// What somebody has written before pressing Enter; `None` if there is nobody. The thread that waits may outlive the
/// wait: it holds nothing.
pub(crate) async fn answer() -> Option<String> {
    let (sender, receiver) = tokio::sync::oneshot::channel();
    std::thread::spawn(move || {
        let mut line = String::new();
        let read = std::io::stdin().read_line(&mut line);
        let answer = read.is_ok_and(|bytes| bytes > 0).then_some(line);
        // Nobody waits any more, if it was stopped meanwhile.
        drop(sender.send(answer));
    });
    receiver.await.ok().flatten()
}

/// Begins a question on standard error; the answer is written behind it.
pub(crate) fn prompt(text: &str) {
    let mut stream = anstream::stderr().lock();
    drop(write!(stream, "{text}").and_then(|()| stream.flush()));
}

/// Prints text for people on standard output.
pub(crate) fn print_text(text: &str) -> Result<(), Failure> {
    let mut stream = anstream::stdout().lock();
    printed(write!(stream, "{text}").and_then(|()| stream.flush()))
}

/// A reader that went away has had what it wanted; what could not be written otherwise is missing somewhere.
fn printed(outcome: std::io::Result<()>) -> Result<(), Failure> {
    match outcome {
        Err(source) if source.kind() != ErrorKind::BrokenPipe => {
            Err(Failure::file("write", "standard output", source))
        }
        Ok(()) | Err(_) => Ok(()),
    }
}

/// Prints data on standard output, as it is. A closed pipe ends quietly.
pub(crate) fn print(bytes: &[u8]) -> Result<(), Failure> {
    let mut stream = std::io::stdout().lock();
    printed(stream.write_all(bytes).and_then(|()| stream.flush()))
}

/// Prints one JSON document and nothing else.
pub(crate) fn print_json(value: &serde_json::Value) -> Result<(), Failure> {
    print(format!("{value:#}\n").as_bytes())
}

/// Whether messages may be coloured: on a terminal that has colours, unless `NO_COLOR` or `CLICOLOR=0` is set, and
/// anywhere by `CLICOLOR_FORCE`.
pub(crate) fn style() -> Style {
    match anstream::AutoStream::choice(&std::io::stderr()) {
        anstream::ColorChoice::Never => Style::Plain,
        anstream::ColorChoice::Auto | anstream::ColorChoice::AlwaysAnsi | anstream::ColorChoice::Always => {
            Style::Coloured
        }
    }
}
