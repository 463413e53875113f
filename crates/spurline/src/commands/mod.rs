//! One file per command.

mod batch;
mod check;
mod compare;
mod completions;
mod discover;
mod export;
mod identify;
mod judge;
mod keyholder;
mod limit;
mod lockdown;
mod man;
mod new;
pub(crate) mod operator;
mod path;
mod prove;
mod prune;
mod replay;
pub(crate) mod report;
mod resume;
mod run;
mod runs;
mod schema;
mod serve;
mod show;
mod sign;
mod sim;
mod transcript;
mod verify;
mod walk_in;

use clap::Subcommand;

use crate::exit::Exit;
use crate::talk::Failure;

/// What the program can do.
#[derive(Debug, Subcommand)]
pub(crate) enum Command {
    Run(run::Run),
    Resume(resume::Resume),
    Check(check::Check),
    Prove(prove::Prove),
    Path(path::Path),
    Limit(Box<limit::Limit>),
    Identify(identify::Identify),
    Discover(discover::Discover),
    Sim(sim::Sim),
    Serve(serve::Serve),
    WalkIn(walk_in::WalkIn),
    Runs(runs::Runs),
    Show(show::Show),
    Replay(replay::Replay),
    Judge(judge::Judge),
    Report(report::Report),
    Compare(compare::Compare),
    Batch(batch::Batch),
    Lockdown(lockdown::Lockdown),
    Verify(verify::Verify),
    Sign(sign::Sign),
    Prune(prune::Prune),
    Export(export::Export),
    Import(export::Import),
    New(new::New),
    Schema(schema::Schema),
    Completions(completions::Completions),
    Man(man::Man),
    #[command(hide = true)]
    Keyholder(keyholder::Keyholder),
}

impl Command {
    /// Whether standard output is to be one JSON document.
    pub(crate) fn json(&self) -> bool {
        match self {
            Self::Run(command) => command.json,
            Self::Resume(command) => command.json,
            Self::Check(command) => command.json,
            Self::Prove(command) => command.json,
            Self::Path(command) => command.json,
            Self::Limit(command) => command.json,
            Self::Identify(command) => command.json,
            Self::Discover(command) => command.json,
            Self::Sim(command) => command.json,
            Self::Runs(command) => command.json,
            Self::Show(command) => command.json,
            Self::Replay(command) => command.json,
            Self::Judge(command) => command.json,
            Self::Report(command) => command.is_json(),
            Self::Compare(command) => command.json,
            Self::Batch(command) => command.is_json(),
            Self::Lockdown(command) => command.is_json(),
            Self::Verify(command) => command.json,
            Self::Sign(command) => command.json,
            Self::Prune(command) => command.json,
            Self::Export(command) => command.json,
            Self::Import(command) => command.json,
            Self::New(command) => command.json,
            Self::WalkIn(command) => command.is_json(),
            Self::Serve(_) | Self::Schema(_) | Self::Completions(_) | Self::Man(_) | Self::Keyholder(_) => {
                false
            }
        }
    }

    pub(crate) fn execute(self) -> Result<Exit, Failure> {
        match self {
            Self::Run(command) => command.execute(),
            Self::Resume(command) => command.execute(),
            Self::Check(command) => command.execute(),
            Self::Prove(command) => command.execute(),
            Self::Path(command) => command.execute(),
            Self::Limit(command) => command.execute(),
            Self::Identify(command) => command.execute(),
            Self::Discover(command) => command.execute(),
            Self::Sim(command) => command.execute(),
            Self::Serve(command) => command.execute(),
            Self::WalkIn(command) => command.execute(),
            Self::Runs(command) => command.execute(),
            Self::Show(command) => command.execute(),
            Self::Replay(command) => command.execute(),
            Self::Judge(command) => command.execute(),
            Self::Report(command) => command.execute(),
            Self::Compare(command) => command.execute(),
            Self::Batch(command) => command.execute(),
            Self::Lockdown(command) => command.execute(),
            Self::Verify(command) => command.execute(),
            Self::Sign(command) => command.execute(),
            Self::Prune(command) => command.execute(),
            Self::Export(command) => command.execute(),
            Self::Import(command) => command.execute(),
            Self::New(command) => command.execute(),
            Self::Schema(command) => command.execute(),
            Self::Completions(command) => command.execute(),
            Self::Man(command) => command.execute(),
            Self::Keyholder(command) => command.execute(),
        }
    }
}
