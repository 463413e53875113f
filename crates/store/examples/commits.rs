//! How many readings a record takes in a second, each with its raw sweeps and a commit of its own:
//! `commits COUNT FOLDER`. The folder decides what is measured: its disk must be the one that counts.

#![expect(clippy::print_stdout, reason = "an example talks to a person")]
#![expect(clippy::unwrap_used, reason = "the specimen is one of the tests")]

#[path = "../tests/specimen/mod.rs"]
mod specimen;

use std::error::Error;
use std::path::Path;

use spurline_record::{Event, EventKind};
use spurline_store::Store;

fn main() -> Result<(), Box<dyn Error>> {
    let mut arguments = std::env::args().skip(1);
    let (Some(count), Some(folder)) = (arguments.next(), arguments.next()) else {
        return Err("expected `commits COUNT FOLDER`".into());
    };
    let count: u32 = count.parse()?;
    let mut recorder = Store::open(Path::new(&folder))?.into_recorder();
    let header = specimen::header("20261125-103012-7c1e", 0);
    let started = EventKind::RunStarted(Box::new(header));
    recorder.record(&[Event { sequence: 1, at: specimen::at(0), kind: started }])?;
    let seconds = spurline_clock::run(spurline_clock::Pace::Real, |clock| async move {
        let from = clock.now();
        for ordinal in 1..=count {
            let kind = EventKind::ReadingFinished(Box::new(specimen::reading(ordinal)));
            recorder.record(&[Event { sequence: u64::from(ordinal) + 1, at: specimen::at(1), kind }])?;
        }
        Ok::<f64, spurline_store::StoreError>(clock.now().since(from).as_secs_f64())
    })??;
    println!("{:.0}", f64::from(count) / seconds);
    Ok(())
}
