//! How the analyser behaves on the wire, in virtual time and without sockets.

use std::time::Duration;

use spurline_clock::{Pace, run};
use spurline_scpi::Response;
use spurline_units::Seconds;

use super::*;
use crate::bench::tests::{WHOLE, read};
use crate::instruments::{Execution, Instrument, Step};

struct Played {
    instrument: Instrument<Analyser>,
    world: Arc<World>,
    now: Moment,
}

impl Played {
    fn new() -> Self {
        let bench = read(WHOLE).unwrap();
        let now = run(Pace::Fast, |clock| async move { clock.now() }).unwrap();
        let world = Arc::new(World::new(&bench, now));
        let truth = bench.analyser.as_ref().unwrap();
        let instrument = Instrument::new(Analyser::new(truth, bench.seed, world.clone()));
        Self { instrument, world, now }
    }

    /// Carries a message out, letting time pass where the analyser waits.
    fn say(&mut self, message: &str) -> String {
        let mut execution = Execution::new(message.as_bytes());
        loop {
            match self.instrument.step(&mut execution, self.now) {
                Step::Done(answer) => {
                    return answer.map_or_else(String::new, |a| String::from_utf8_lossy(&a).into_owned());
                }
                Step::WaitUntil(moment) => self.now = moment,
            }
        }
    }

    fn levels(&mut self) -> Vec<f32> {
        let text = self.say("FORM ASC;:TRAC? TRACE1");
        text.split(',').map(|field| field.parse().unwrap()).collect()
    }
}

#[test]
fn what_cannot_be_is_refused_with_its_number() {
    let mut played = Played::new();
    played.say("*RST;*CLS");
    for (message, code) in [
        ("FREQ:MIDDLE 1", -113),
        ("FREQ:CENT 9 GHZ", -222),
        ("TRAC? TRACE1", -230),
        ("INIT;:INIT", -213),
        ("BAND 1 V", -131),
        ("DET MAGIC", -224),
    ] {
        played.say(message);
        let error = played.say("SYST:ERR?");
        assert!(error.starts_with(&format!("{code},")), "{message}: {error}");
        played.say("ABOR;*CLS");
    }
}

#[test]
fn settings_are_rounded_coupled_and_spelled_either_way() {
    let mut played = Played::new();
    played.say("*RST;:SENSe:FREQuency:CENTer 144.2 MHZ;SPAN 300 KHZ;:BWID 20 KHZ;:INP:ATT 17");
    assert_eq!(played.say("FREQ:CENT?;:FREQ:STAR?;:BAND?;:INP:ATT?"), "144200000;144050000;30000;20");
    // k span / RBW^2 with k = 2.5 is shorter than the shortest sweep here.
    assert_eq!(played.say("SWE:TIME?"), "0.001");
    assert_eq!(played.say("FREQ:STOP? MAX"), "3000000000");
}

#[test]
fn completion_waits_for_the_sweep() {
    let mut played = Played::new();
    played.say("*RST;:FREQ:SPAN 1 MHZ;:SWE:TIME 2.5");
    let before = played.now;
    assert_eq!(played.say("INIT;*OPC?"), "1");
    assert_eq!(played.now.since(before), Duration::from_millis(2500));
}

#[test]
fn a_trace_is_the_same_in_every_format() {
    let mut played = Played::new();
    played.say("*RST;:FREQ:CENT 144.2 MHZ;SPAN 1 MHZ;:SWE:POIN 101;:INIT;*WAI");
    let ascii = played.levels();
    for (border, order) in [("NORM", ByteOrder::Big), ("SWAP", ByteOrder::Little)] {
        let mut execution =
            Execution::new(format!("FORM REAL,32;:FORM:BORD {border};:TRAC? TRACE1").as_bytes());
        let Step::Done(Some(answer)) = played.instrument.step(&mut execution, played.now) else {
            panic!("done")
        };
        let block = Response::parse(answer).unwrap().units[0].f32_block(order).unwrap();
        assert_eq!(block.len(), 101);
        assert!(block.iter().zip(&ascii).all(|(one, other)| (one - other).abs() < 1e-4));
    }
}

/// -150 dBm in 1 Hz, 10 kHz Gaussian (10 log10 of 10 645 Hz is 40.27 dB), 20 dB of attenuation: -89.73 dBm.
#[test]
fn the_floor_is_where_the_formula_puts_it() {
    let mut played = Played::new();
    played.say(
        "*RST;:FREQ:CENT 144.2 MHZ;SPAN 1 MHZ;:BAND 10 KHZ;:DET RMS;:INP:ATT 20;:SWE:TIME 10;:INIT;*WAI",
    );
    let levels = played.levels();
    let mean =
        levels.iter().map(|level| 10f64.powf(f64::from(*level) / 10.0)).sum::<f64>() / levels.len() as f64;
    // The level error of this analyser is drawn with a standard deviation of 0.3 dB, and does not touch noise.
    assert!((10.0 * mean.log10() - -89.73).abs() < 0.15, "{}", 10.0 * mean.log10());
}

#[test]
fn each_point_sees_its_own_instant() {
    let mut played = Played::new();
    played.world.set_supply(played.now, spurline_units::Volts::new(7.4), spurline_units::Amperes::new(3.0));
    played.world.tune(played.now, spurline_units::Hertz::from_mhz(144.2));
    played.say("*RST;:FREQ:CENT 144.2 MHZ;SPAN 0;:BAND 100 KHZ;:SWE:TIME 2;:SWE:POIN 201;:INP:ATT 30");
    let key_up = played.now.after(Seconds::new(1.0).duration());
    played.world.set_key(played.now, true, Some(Seconds::new(1.0)));
    played.say("INIT;*WAI");
    assert!(played.now > key_up);
    let levels = played.levels();
    // 36.7 dBm through 30 + 6 + 0.2 dB while keyed; noise of a 100 kHz filter afterwards.
    assert!(levels[50] > -3.0 && levels[150] < -50.0, "{} and {}", levels[50], levels[150]);
}
