//! Writes the calibration tables of a simulated bench: `calibrate BENCH.yaml FOLDER`.
//!
//! The tables of the shipped benches were made with it.

#![expect(clippy::print_stdout, reason = "an example talks to a person")]

use std::error::Error;
use std::path::Path;

use spurline_document::{Document, Reader};
use spurline_sim::{SimulatedBench, calibrate};
use spurline_units::Hertz;

fn main() -> Result<(), Box<dyn Error>> {
    let mut arguments = std::env::args().skip(1);
    let (Some(file), Some(folder)) = (arguments.next(), arguments.next()) else {
        return Err("expected `calibrate BENCH.yaml FOLDER`".into());
    };
    let document = Document::parse(&file, &std::fs::read_to_string(&file)?)?;
    let simulated = document.root.get("simulated").ok_or("expected a simulated bench")?;
    let mut reader = Reader::new(&document);
    let bench = SimulatedBench::read(&mut reader, simulated);
    let bench = reader.finish(bench)?;
    for table in calibrate(&bench, Hertz::new(3.2e9)) {
        let path = Path::new(&folder).join(format!("{}.s2p", table.name));
        std::fs::write(&path, table.touchstone)?;
        println!("{}: within {} (k = 2)", path.display(), table.within);
    }
    Ok(())
}
