//! How the analyser behaves on the wire, in virtual time and without sockets.

use std::time::Duration;

use spurline_scpi::{ByteOrder, Response};
use spurline_units::Seconds;

use super::*;
use crate::instruments::tests::talk::{Talk, analyser};

impl Talk<Analyser> {
    fn levels(&mut self) -> Vec<f32> {
        let text = self.say("FORM ASC;:TRAC? TRACE1");
        text.split(',').map(|field| field.parse().unwrap()).collect()
    }
}

#[test]
fn what_cannot_be_is_refused_with_its_number() {
    let mut talk = analyser();
    talk.say("*RST;*CLS");
    for (message, code) in [
        ("FREQ:MIDDLE 1", -113),
        ("FREQ:CENT 9 GHZ", -222),
        ("TRAC? TRACE1", -230),
        ("INIT;:INIT", -213),
        ("BAND 1 V", -131),
        ("DET MAGIC", -224),
    ] {
        talk.say(message);
        let error = talk.say("SYST:ERR?");
        assert!(error.starts_with(&format!("{code},")), "{message}: {error}");
        talk.say("ABOR;*CLS");
    }
}

#[test]
fn settings_are_rounded_coupled_and_spelled_either_way() {
    let mut talk = analyser();
    talk.say("*RST;:SENSe:FREQuency:CENTer 144.2 MHZ;SPAN 300 KHZ;:BWID 20 KHZ;:INP:ATT 17");
    assert_eq!(talk.say("FREQ:CENT?;:FREQ:STAR?;:BAND?;:INP:ATT?"), "144200000;144050000;30000;20");
    // k span / RBW^2 with k = 2.5 is shorter than the shortest sweep here.
    assert_eq!(talk.say("SWE:TIME?"), "0.001");
    assert_eq!(talk.say("FREQ:STOP? MAX"), "3000000000");
}

#[test]
fn completion_waits_for_the_sweep() {
    let mut talk = analyser();
    talk.say("*RST;:FREQ:SPAN 1 MHZ;:SWE:TIME 2.5");
    let before = talk.now;
    assert_eq!(talk.say("INIT;*OPC?"), "1");
    assert_eq!(talk.now.since(before), Duration::from_millis(2500));
}

#[test]
fn a_trace_is_the_same_in_every_format() {
    let mut talk = analyser();
    talk.say("*RST;:FREQ:CENT 144.2 MHZ;SPAN 1 MHZ;:SWE:POIN 101;:INIT;*WAI");
    let ascii = talk.levels();
    for (border, order) in [("NORM", ByteOrder::Big), ("SWAP", ByteOrder::Little)] {
        let message = format!("FORM REAL,32;:FORM:BORD {border};:TRAC? TRACE1");
        let answer = talk.answer(message.as_bytes()).unwrap();
        let block = Response::parse(answer.into()).unwrap().units[0].f32_block(order).unwrap();
        assert_eq!(block.len(), 101);
        assert!(block.iter().zip(&ascii).all(|(one, other)| (one - other).abs() < 1e-4));
    }
}

/// -150 dBm in 1 Hz, 10 kHz Gaussian (10 log10 of 10 645 Hz is 40.27 dB), 20 dB of attenuation: -89.73 dBm.
#[test]
fn the_floor_is_where_the_formula_puts_it() {
    let mut talk = analyser();
    talk.say(
        "*RST;:FREQ:CENT 144.2 MHZ;SPAN 1 MHZ;:BAND 10 KHZ;:DET RMS;:INP:ATT 20;:SWE:TIME 10;:INIT;*WAI",
    );
    let levels = talk.levels();
    let mean =
        levels.iter().map(|level| 10f64.powf(f64::from(*level) / 10.0)).sum::<f64>() / levels.len() as f64;
    // The level error of this analyser is drawn with a standard deviation of 0.3 dB, and does not touch noise.
    assert!((10.0 * mean.log10() - -89.73).abs() < 0.15, "{}", 10.0 * mean.log10());
}

#[test]
fn each_point_sees_its_own_instant() {
    let mut talk = analyser();
    talk.world.set_supply(talk.now, spurline_units::Volts::new(7.4), spurline_units::Amperes::new(3.0));
    talk.world.tune(talk.now, spurline_units::Hertz::from_mhz(144.2));
    talk.say("*RST;:FREQ:CENT 144.2 MHZ;SPAN 0;:BAND 100 KHZ;:SWE:TIME 2;:SWE:POIN 201;:INP:ATT 30");
    let key_up = talk.now.after(Seconds::new(1.0).duration());
    talk.world.set_key(talk.now, true, Some(Seconds::new(1.0)));
    talk.say("INIT;*WAI");
    assert!(talk.now > key_up);
    let levels = talk.levels();
    // 36.7 dBm through 30 + 6 + 0.2 dB while keyed; noise of a 100 kHz filter afterwards.
    assert!(levels[50] > -3.0 && levels[150] < -50.0, "{} and {}", levels[50], levels[150]);
}

/// The rule k = 2 for each filter: 1 MHz at 10 kHz needs 20 ms, behind a video filter of 1 kHz ten times as long.
#[test]
fn too_fast_for_either_filter_it_is_uncalibrated() {
    let mut talk = analyser();
    for (settings, uncalibrated) in [
        ("BAND:VID 10 KHZ;:SWE:TIME 0.021", false),
        ("BAND:VID 10 KHZ;:SWE:TIME 0.019", true),
        ("BAND:VID 1 KHZ;:SWE:TIME 0.021", true),
        ("BAND:VID 1 KHZ;:SWE:TIME 0.21", false),
        ("BAND:VID 1 KHZ;:SWE:TIME:AUTO ON", false),
    ] {
        let bit = talk.say(&format!(
            "*RST;:FREQ:CENT 144.2 MHZ;SPAN 1 MHZ;:BAND 10 KHZ;:{settings};:INIT;*WAI;:STAT:QUES:COND?"
        ));
        let bit: u16 = bit.parse().unwrap();
        assert_eq!(bit & Questionable::CALIBRATION.bits() != 0, uncalibrated, "{settings}: {bit}");
    }
}
