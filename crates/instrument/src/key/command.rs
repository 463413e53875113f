//! A key that commands of this machine bring down and up.

use std::io::{self, Read};
use std::os::unix::process::CommandExt;
use std::process::{Child, Command, Stdio};
use std::time::Duration;

use async_trait::async_trait;
use rustix::process::{Pid, Signal, kill_process_group};
use serde::{Deserialize, Serialize};
use spurline_clock::Clock;

use super::KeyLine;
use crate::error::InstrumentFault;

/// How often the state is asked while the key is down.
const ASK_EVERY: Duration = Duration::from_secs(1);
/// How often a command that runs is looked at.
const LOOK_EVERY: Duration = Duration::from_millis(5);
/// The longest answer that is read, in bytes.
const LONGEST_ANSWER: u64 = 64;

/// Commands that key: program and arguments each, run without a shell.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct KeyCommands {
    /// Key down; exit status 0 is done.
    pub down: Vec<String>,
    /// Key up; exit status 0 is done. It is run also when the key is up.
    pub up: Vec<String>,
    /// Prints `down` or `up`.
    pub state: Option<Vec<String>>,
    /// How long each may take; then it is ended with all that it started.
    pub within: Duration,
}

#[derive(Debug)]
pub(super) struct CommandLine {
    commands: KeyCommands,
    clock: Clock,
}

/// A command that runs; ended with its whole process group when dropped.
struct Running(Child);

impl Drop for Running {
    fn drop(&mut self) {
        // Gone already is what it should be.
        if let Some(group) = i32::try_from(self.0.id()).ok().and_then(Pid::from_raw) {
            let _gone = kill_process_group(group, Signal::KILL);
        }
        drop(self.0.wait());
    }
}

impl CommandLine {
    pub(super) fn new(commands: KeyCommands, clock: Clock) -> Self {
        Self { commands, clock }
    }

    fn failed(command: &[String], what: impl Into<String>, source: Option<io::Error>) -> InstrumentFault {
        InstrumentFault::KeyCommand { command: command.join(" "), what: what.into(), source }
    }

    /// Runs a command to its end; what it printed, as far as it is read.
    async fn run(&self, command: &[String]) -> Result<String, InstrumentFault> {
        let (program, arguments) = command.split_first().expect("a command that was read has a program");
        let mut started = Command::new(program);
        started.args(arguments).stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::null());
        let child = started.process_group(0).spawn();
        let child = child.map_err(|error| Self::failed(command, "cannot be started", Some(error)))?;
        let mut running = Running(child);
        let began = self.clock.now();
        let status = loop {
            match running.0.try_wait() {
                Ok(Some(status)) => break status,
                Ok(None) if self.clock.now().since(began) >= self.commands.within => {
                    let within = self.commands.within.as_secs_f64();
                    return Err(Self::failed(command, format!("did not end within {within} s"), None));
                }
                Ok(None) => self.clock.sleep(LOOK_EVERY).await,
                Err(error) => return Err(Self::failed(command, "cannot be waited for", Some(error))),
            }
        };
        if !status.success() {
            return Err(Self::failed(command, format!("ended with {status}"), None));
        }
        // What it left running may hold the pipe open: only what is there is read.
        let mut answer = Vec::new();
        if let Some(stdout) = running.0.stdout.take() {
            let quiet = rustix::fs::fcntl_setfl(&stdout, rustix::fs::OFlags::NONBLOCK);
            if quiet.is_ok() {
                drop(stdout.take(LONGEST_ANSWER).read_to_end(&mut answer));
            }
        }
        Ok(String::from_utf8_lossy(&answer).trim().to_owned())
    }

    async fn is(&self, wanted: &'static str) -> Result<(), InstrumentFault> {
        let Some(state) = &self.commands.state else { return Ok(()) };
        let found = self.run(state).await?;
        if found == wanted {
            return Ok(());
        }
        Err(Self::failed(state, format!("was expected to print `{wanted}`, and printed `{found}`"), None))
    }
}

#[async_trait]
impl KeyLine for CommandLine {
    async fn arm(&mut self) -> Result<(), InstrumentFault> {
        self.up().await
    }

    async fn ready(&mut self) -> Result<(), InstrumentFault> {
        if self.commands.state.is_some() && self.is("up").await.is_ok() {
            return Ok(());
        }
        self.up().await
    }

    async fn down(&mut self) -> Result<(), InstrumentFault> {
        self.run(&self.commands.down).await?;
        self.is("down").await
    }

    async fn hold(&mut self) -> Result<(), InstrumentFault> {
        self.is("down").await
    }

    async fn up(&mut self) -> Result<(), InstrumentFault> {
        self.run(&self.commands.up).await?;
        self.is("up").await
    }

    /// It stays as it is until it is told, unless something else tells it.
    fn refresh_every(&self) -> Option<Duration> {
        self.commands.state.is_some().then_some(ASK_EVERY)
    }
}

#[cfg(test)]
mod tests;
