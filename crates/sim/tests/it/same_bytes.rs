//! The same seed gives the same bytes, whoever else is spoken to in between; another seed gives others.

use std::time::Duration;

use spurline_sim::Role;

use crate::client::{BENCH, Bench, on};

/// What the analyser and the power meter say about a keyed unit; `chatter` speaks to others on the way.
async fn session(bench: Bench, chatter: bool) -> Vec<String> {
    let mut first = if chatter { Some(bench.connect(Role::PowerMeter).await) } else { None };
    let mut analyser = bench.connect(Role::Analyser).await;
    let relay = bench.key(145.0).await;
    let mut said = Vec::new();
    for attenuation in [20, 30] {
        let settings = "*RST;:FREQ:CENT 290E6;SPAN 300E3;:BAND 30E3;:SWE:POIN 401;TIME 0.05;COUN 2;:DET RMS";
        said.push(analyser.ask(&format!("{settings};:INP:ATT {attenuation};:INIT;*WAI;:TRAC? TRACE1")).await);
        if let Some(client) = &mut first {
            client.ask("*IDN?;:SYST:ERR?").await;
            bench.connect(Role::Relay).await.ask("ROUT:CLOS? (@3)").await;
        }
    }
    let mut meter = bench.connect(Role::PowerMeter).await;
    said.push(meter.ask("READ?").await);
    drop(relay);
    bench.clock.sleep(Duration::from_secs(1)).await;
    said
}

#[test]
fn the_order_of_connections_changes_nothing() {
    let quiet = on(BENCH, |bench| session(bench, false));
    let busy = on(BENCH, |bench| session(bench, true));
    assert_eq!(quiet, busy);
    let other = on(&BENCH.replace("seed: 7", "seed: 8"), |bench| session(bench, false));
    assert!(quiet.iter().zip(&other).all(|(one, other)| one != other));
}
