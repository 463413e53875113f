//! Serves the analyser of a simulated bench in virtual time: `fast_analyser BENCH.yaml`, the far end of
//! `scripts/bench sim`.
//!
//! It prints the port. Sweeps take no longer than their computing.

#![expect(clippy::print_stdout, reason = "it talks to the script that started it")]

use std::error::Error;

use spurline_clock::{Pace, run};
use spurline_document::{Document, Reader};
use spurline_sim::{Place, Role, SimulatedBench, Wiring, serve};

fn main() -> Result<(), Box<dyn Error>> {
    let file = std::env::args().nth(1).ok_or("expected `fast_analyser BENCH.yaml`")?;
    let document = Document::parse(&file, &std::fs::read_to_string(&file)?)?;
    let simulated = document.root.get("simulated").ok_or("expected a simulated bench")?;
    let mut reader = Reader::new(&document);
    let bench = SimulatedBench::read(&mut reader, simulated);
    let bench = reader.finish(bench)?;
    run(Pace::Fast, |clock| async move {
        let wiring = Wiring {
            key_channel: 1,
            listen: vec![(Role::Analyser, Place::any_socket())],
            ..Wiring::default()
        };
        let served = serve(&bench, &wiring, clock).await?;
        let (_, place) = served.places().first().ok_or("expected an analyser on the bench")?;
        println!("{}", place.socket().ok_or("expected a socket")?.port());
        std::future::pending::<Result<(), Box<dyn Error>>>().await
    })?
}
