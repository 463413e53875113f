//! `sim`: a simulated bench for other programs to drive.

use std::path::Path;

use clap::Args;
use serde_json::json;
use spurline_plan::Job;
use spurline_runner::Files;

use crate::exit::Exit;
use crate::talk::{Failure, print, print_json};

/// Serve a simulated bench where its file says, over the links that it names, until stopped
///
/// Prints one line per instrument, its name and where it answers, then `ready`.
#[derive(Args, Debug)]
pub(crate) struct Sim {
    /// The bench
    bench: String,
    /// Print one JSON document instead of lines, once everything is served
    #[arg(long)]
    pub(crate) json: bool,
}

impl Sim {
    pub(crate) fn execute(self) -> Result<Exit, Failure> {
        let bench = Job::load_bench(&self.bench, &Files::from_environment())?;
        let Some(simulated) = spurline_runner::read_simulated(&bench)? else {
            let name = Path::new(&self.bench).display().to_string();
            return Err(Failure::Usage {
                message: format!("`{name}` is not a simulated bench"),
                advice: "a simulated bench has the key `simulated`".to_owned(),
            });
        };
        // Other programs live in real time, whatever pace the file asks for.
        let served = spurline_clock::run(spurline_clock::Pace::Real, |clock| async move {
            let stop = crate::stop::told_to_stop();
            let served = spurline_runner::serve_as_written(&bench, &simulated, clock).await?;
            let addresses: Vec<(String, String)> = spurline_runner::addresses(&bench, &served)
                .map(|(role, at)| (role.to_string(), at.to_string()))
                .collect();
            let key_line = served.key_line().map(|path| path.display().to_string());
            if self.json {
                let instruments: Vec<_> =
                    addresses.iter().map(|(role, at)| json!({ "instrument": role, "address": at })).collect();
                print_json(&json!({ "instruments": instruments, "key_line": key_line }))?;
            } else {
                for (role, address) in addresses {
                    print(format!("{role} {address}\n").as_bytes())?;
                }
                if let Some(path) = key_line {
                    print(format!("key-line {path}\n").as_bytes())?;
                }
                print(b"ready\n")?;
            }
            stop.await;
            served.stop().await;
            Ok(Exit::Good)
        });
        served.map_err(Failure::runtime)?
    }
}
