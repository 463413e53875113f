//! The signal generator as a client meets it.

use spurline_sim::{Connected, Role};

use crate::client::{BENCH, on};

/// -10 dBm through 6 dB, 30 dB, 6 dB and a cable of 0.5 dB at 1 GHz, about -52.4 dBm at 500 MHz; generator, analyser
/// and mismatches are off by less than 2.5 dB together.
#[test]
fn its_line_is_there_while_it_is_connected_and_on() {
    on(BENCH, |bench| async move {
        let mut generator = bench.connect(Role::Generator).await;
        let mut analyser = bench.connect(Role::Analyser).await;
        let look = "FREQ:CENT 500E6;SPAN 1E6;:BAND 30E3;:INP:ATT 10;:INIT;*WAI;:CALC:MARK:MAX;:CALC:MARK:Y?";
        analyser.send("*RST").await;
        generator.send("FREQ 500 MHZ;:POW -10;:OUTP ON").await;
        assert_eq!(generator.ask("FREQ?;:POW?;:OUTP?").await, "500000000;-10;1");
        assert!(analyser.number(look).await < -80.0, "it is not connected");
        bench.served.connect(Connected::Generator);
        let level = analyser.number(look).await;
        assert!((level + 52.4).abs() < 2.5, "{level}");
        generator.send("OUTP OFF").await;
        assert!(analyser.number(look).await < -80.0, "it is off");
    });
}

#[test]
fn a_level_that_it_does_not_give_changes_nothing_and_a_reset_switches_off() {
    on(BENCH, |bench| async move {
        let mut generator = bench.connect(Role::Generator).await;
        generator.send("POW -20;:OUTP ON;:POW 40").await;
        assert!(generator.ask("SYST:ERR?").await.starts_with("-222"));
        assert_eq!(generator.ask("POW?;:OUTP?").await, "-20;1");
        generator.send("*RST").await;
        assert_eq!(generator.ask("OUTP?").await, "0");
    });
}
