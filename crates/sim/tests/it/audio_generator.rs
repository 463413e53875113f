//! The audio generator, and the unit's microphone input behind it, as a client meets them.

use spurline_sim::Role;

use crate::client::{BENCH, on};

/// 2 kHz of deviation for 10 mV at 2.5 kHz: with an index of 0.8, give or take what 1 dB of spread draws, the sideband
/// stands some 9 dB below the carrier (J1(0.8) is 0.369), and is gone without the tone.
#[test]
fn a_tone_at_the_microphone_modulates_the_carrier_while_it_is_on() {
    on(BENCH, |bench| async move {
        let mut audio = bench.connect(Role::AudioGenerator).await;
        let mut analyser = bench.connect(Role::Analyser).await;
        let mut unit = bench.connect(Role::UnitControl).await;
        let mut relay = bench.connect(Role::Relay).await;
        unit.send("FREQ 145E6").await;
        let mut supply = bench.connect(Role::Supply).await;
        supply.ask("VOLT 7.4;CURR 2.5;:OUTP ON;*OPC?").await;
        audio.send("*RST;:FREQ 2.5E3;:VOLT 0.01").await;
        assert_eq!(audio.ask("FREQ?;:VOLT?;:OUTP?;:FUNC?").await, "2500;0.01;0;SIN");
        assert_eq!(relay.ask("ROUT:CLOS (@3);CLOS? (@3)").await, "1");
        analyser.send("*RST;:FREQ:CENT 145.0025E6;SPAN 1000;:BAND 100;:INP:ATT 30").await;
        let look = "INIT;*WAI;:CALC:MARK:MAX;:CALC:MARK:Y?";
        let off = analyser.number(look).await;
        audio.send("OUTP ON").await;
        let on = analyser.number(look).await;
        assert!(on > off + 20.0, "the sideband: {off} before, {on} dBm with the tone");
        audio.send("OUTP OFF").await;
        assert!(analyser.number(look).await < on - 20.0);
        assert!(audio.ask("SYST:ERR?").await.starts_with("0,"));
    });
}

#[test]
fn a_level_that_it_does_not_give_changes_nothing_and_a_reset_switches_off() {
    on(BENCH, |bench| async move {
        let mut audio = bench.connect(Role::AudioGenerator).await;
        audio.send("VOLT 12.3449 MV;:OUTP ON;:VOLT 1 KV").await;
        assert!(audio.ask("SYST:ERR?").await.starts_with("-222"));
        assert_eq!(audio.ask("VOLT?;:OUTP?").await, "0.01234;1", "four digits");
        audio.send("*RST").await;
        assert_eq!(audio.ask("OUTP?").await, "0");
    });
}
