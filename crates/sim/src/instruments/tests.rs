//! Whatever comes in, an instrument answers or complains: it never panics.

use proptest::prelude::*;
use spurline_clock::{Moment, Pace, run};

use super::*;
use crate::bench::SimulatedBench;
use crate::bench::tests::{WHOLE, read};
use crate::world::World;

fn moment() -> Moment {
    run(Pace::Fast, |clock| async move { clock.now() }).unwrap()
}

/// Carries a message out, letting time pass where the instrument waits.
fn say<D: Device>(instrument: &mut Instrument<D>, message: &[u8], now: &mut Moment) {
    let mut execution = Execution::new(message);
    while let Step::WaitUntil(moment) = instrument.step(&mut execution, *now) {
        assert!(moment > *now, "what is pending ends later");
        *now = moment;
    }
}

fn say_all<D: Device>(device: D, messages: &[Vec<u8>]) {
    let mut instrument = Instrument::new(device);
    let mut now = moment();
    for message in messages {
        say(&mut instrument, message, &mut now);
    }
}

fn all_instruments(messages: &[Vec<u8>]) {
    let bench: SimulatedBench = read(WHOLE).unwrap();
    let world = std::sync::Arc::new(World::new(&bench, moment()));
    let seed = bench.seed;
    say_all(Analyser::new(bench.analyser.as_ref().unwrap(), seed, world.clone()), messages);
    say_all(PowerMeter::new(bench.power_meter.as_ref().unwrap(), seed, world.clone()), messages);
    say_all(Supply::new(bench.supply.clone().unwrap(), world.clone()), messages);
    say_all(Relay::new(bench.relay.clone().unwrap(), world.clone(), Wired::Key(1)), messages);
    say_all(UnitControl::new(world), messages);
}

/// Units that come near to meaning something: known headers with any parameter.
fn near_miss() -> impl Strategy<Value = Vec<u8>> {
    let headers = prop::sample::select(vec![
        "FREQ:CENT",
        "FREQ:SPAN",
        "FREQ:STAR",
        "FREQ:STOP",
        "FREQ",
        "BAND",
        "BAND:AUTO",
        "BAND:VID",
        "SWE:POIN",
        "SWE:TIME",
        "SWE:TIME:AUTO",
        "SWE:COUN",
        "DET",
        "INP:ATT",
        "INP:ATT:AUTO",
        "INP:GAIN:STAT",
        "UNIT:POW",
        "DISP:WIND:TRAC:Y:RLEV",
        "INIT:CONT",
        "INIT",
        "ABOR",
        "FORM",
        "FORM:BORD",
        "TRAC",
        "CALC:MARK",
        "CALC:MARK:X",
        "CALC:MARK:Y",
        "CALC:MARK:MAX",
        "CAL",
        "CAL:AUTO",
        "CAL:ZERO:AUTO",
        "AVER:COUN",
        "AVER",
        "FETC",
        "READ",
        "MEAS",
        "VOLT",
        "CURR",
        "OUTP",
        "MEAS:VOLT",
        "MEAS:CURR",
        "ROUT:CLOS",
        "ROUT:OPEN",
        "ROUT:OPEN:ALL",
        "ROUT:CLOS:TIM",
        "POW",
        "*RST",
        "*CLS",
        "*OPC",
        "*WAI",
        "*ESE",
        "*SRE",
        "*STB",
        "*ESR",
        "*TST",
        "SYST:ERR",
        "SYST:PRES",
        "STAT:QUES:ENAB",
        "STAT:OPER:COND",
        "STAT:PRES",
    ]);
    let parameters = prop::sample::select(vec![
        "",
        " MIN",
        " MAX",
        " DEF",
        " UP",
        " 0",
        " 1",
        " -1",
        " 1E9",
        " 1E300",
        " 1E-300",
        " 2.5 MHZ",
        " ON",
        " OFF",
        " RMS",
        " NEG",
        " AVER",
        " SAMP",
        " POS",
        " REAL,32",
        " ASC",
        " SWAP",
        " TRACE1",
        " (@1)",
        " (@1:8)",
        " (@0)",
        " (@3,99)",
        " \"high\"",
        " LOW",
        " #13abc",
        " ONCE",
        " W",
        ",",
        " 10001",
    ]);
    (headers, any::<bool>(), parameters).prop_map(|(header, query, parameter)| {
        format!("{header}{}{parameter}", if query { "?" } else { "" }).into_bytes()
    })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, ..ProptestConfig::default() })]

    #[test]
    fn no_bytes_panic_an_instrument(messages in prop::collection::vec(prop::collection::vec(any::<u8>(), 0..40), 1..8)) {
        all_instruments(&messages);
    }

    #[test]
    fn no_command_panics_an_instrument(units in prop::collection::vec(near_miss(), 1..14), compound in any::<bool>()) {
        // Ten thousand points at once cost seconds each; a few are enough here.
        let start = b"SWE:POIN 5".to_vec();
        let messages: Vec<Vec<u8>> = std::iter::once(start).chain(units).collect();
        if compound {
            all_instruments(&[messages.join(b";:".as_slice())]);
        } else {
            all_instruments(&messages);
        }
    }
}
