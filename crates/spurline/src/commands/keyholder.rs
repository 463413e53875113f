//! `keyholder`: the process that holds the key of a run. A run starts it; no person does.

use std::os::fd::AsFd;
use std::os::unix::net::UnixStream;

use clap::Args;
use spurline_clock::Pace;
use tokio::signal::unix::{SignalKind, signal};

use crate::exit::Exit;
use crate::talk::{Failure, say};

/// Hold the key of a run: started by the run itself, with a socket as standard input
#[derive(Args, Debug)]
pub(crate) struct Keyholder {}

impl Keyholder {
    pub(crate) fn execute(self) -> Result<Exit, Failure> {
        let stdin = std::io::stdin().as_fd().try_clone_to_owned().map(UnixStream::from);
        let socket = stdin.and_then(|socket| socket.peer_addr().map(|_| socket));
        let socket = socket.map_err(|error| Failure::Usage {
            message: format!("`keyholder` is started by a run, and by nobody else: {error}"),
            advice: "use `spurline run`".to_owned(),
        })?;
        // A session of its own: what a terminal sends to all that runs on it is not for the key, nor does its end.
        // A process that leads a group already is in no terminal's way.
        let _leads_already = rustix::process::setsid();
        let held = spurline_clock::run(Pace::Real, |clock| async move {
            // Once listened for, a signal does nothing else. Only the run's words, or its end, end this process.
            let deaf = [
                SignalKind::interrupt(),
                SignalKind::terminate(),
                SignalKind::hangup(),
                SignalKind::quit(),
                SignalKind::user_defined1(),
                SignalKind::user_defined2(),
                SignalKind::alarm(),
            ];
            let _deaf: Vec<_> = deaf.into_iter().filter_map(|kind| signal(kind).ok()).collect();
            spurline_instrument::keyholder(socket, clock, say).await
        });
        // The run tells what became of it; without a run there is nobody to tell.
        Ok(match held.map_err(Failure::runtime)? {
            Ok(()) => Exit::Good,
            Err(_) => Exit::Bench,
        })
    }
}
