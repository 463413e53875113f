//! Who writes the reports: one thread for all benches. A report needs the whole of a run for a moment, and every thread
//! keeps what it once needed.

use std::io;
use std::path::PathBuf;
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};

use spurline_record::RunId;
use spurline_runner::{Failure, write_report};

struct Ask {
    run: RunId,
    written: SyncSender<Result<(), Failure>>,
}

/// The thread, as long as somebody asks it.
#[derive(Debug)]
pub(crate) struct Scribe {
    asks: SyncSender<Ask>,
}

impl Scribe {
    /// Begins the thread, for the record in a folder.
    pub(crate) fn begin(folder: PathBuf) -> io::Result<Self> {
        let (asks, inbox): (_, Receiver<Ask>) = sync_channel(0);
        std::thread::Builder::new().name("reports".to_owned()).spawn(move || {
            for Ask { run, written } in inbox {
                // Nobody waits for it any more: then it is written all the same.
                drop(written.send(write_report(&folder, &run).map(drop)));
            }
        })?;
        Ok(Self { asks })
    }

    /// Has the report of a run written, and waits for it.
    pub(crate) fn write(&self, run: &RunId) -> Result<(), Failure> {
        let gone = || Failure::Runtime(io::Error::other("the thread that writes reports is gone"));
        let (written, answer) = sync_channel(1);
        self.asks.send(Ask { run: run.clone(), written }).map_err(|_| gone())?;
        answer.recv().map_err(|_| gone())?
    }
}
