//! The instruments as a client meets them: what they refuse, how long they take, what they read.

use std::time::Duration;

use spurline_sim::Role;

use crate::client::{BENCH, on};

/// The unit's 4.7 W through 30 dB + 0.2 dB per GHz, 6 dB and a cable with a root-of-frequency loss.
fn expected_dbm(megahertz: f64, cable_at_1_ghz: f64) -> f64 {
    let gigahertz = megahertz / 1000.0;
    10.0 * 4700f64.log10() - (30.0 + 0.2 * gigahertz + 6.0 + cable_at_1_ghz * gigahertz.sqrt())
}

#[test]
fn all_of_them_say_who_they_are_and_that_power_came_on() {
    on(BENCH, |bench| async move {
        for role in Role::ALL {
            let mut client = bench.connect(role).await;
            assert_eq!(client.ask("*IDN?").await.split(',').count(), 4, "{role}");
            assert_eq!(client.ask("*ESR?;*ESR?").await, "128;0", "{role}");
            assert_eq!(client.ask("SYST:VERS?;*TST?").await, "1999.0;0", "{role}");
            client.send("NO:SUCH:HEADER").await;
            let error = client.ask("SYST:ERR?;*ESR?").await;
            assert!(
                error.starts_with("-113,\"Undefined header") && error.ends_with(";32"),
                "{role}: {error}"
            );
            assert_eq!(client.ask("SYSTem:ERRor:NEXT?").await, "0,\"No error\"", "{role}");
        }
        let mut unit = bench.connect(Role::UnitControl).await;
        assert_eq!(unit.ask("*IDN?").await, "Example,FH-2,FH2-0001,1.0.3");
    });
}

/// The mismatch of all pairs stays below 0.4 dB; the analyser's own errors are drawn with 0.3, 0.3 and 0.1 dB, so four
/// standard deviations are 1.75 dB.
#[test]
fn both_meters_find_the_carrier() {
    on(BENCH, |bench| async move {
        let relay = bench.key(145.0).await;
        let mut analyser = bench.connect(Role::Analyser).await;
        let settings = "*RST;:FREQ:CENT 145E6;SPAN 1E6;:BAND 100E3;:INP:ATT 30;:INIT;*WAI";
        let peak = analyser.ask(&format!("{settings};:CALC:MARK:MAX;:CALC:MARK:X?;:CALC:MARK:Y?")).await;
        let (at, level) = peak.split_once(';').unwrap();
        let (at, level): (f64, f64) = (at.parse().unwrap(), level.parse().unwrap());
        assert!((at - 145e6).abs() <= 50e3, "{at}");
        assert!((level - expected_dbm(145.0, 0.5)).abs() < 2.15, "{level}");
        let mut meter = bench.connect(Role::PowerMeter).await;
        meter.send("*RST;:FREQ 145E6").await;
        let level = meter.number("READ?").await;
        assert!((level - expected_dbm(145.0, 0.3)).abs() < 0.6, "{level}");
        drop(relay);
    });
}

#[test]
fn an_abort_on_one_connection_ends_the_wait_on_another() {
    on(BENCH, |bench| async move {
        let mut one = bench.connect(Role::Analyser).await;
        let mut other = bench.connect(Role::Analyser).await;
        one.send("*RST;:SWE:TIME 100;:INIT;*OPC?").await;
        assert_eq!(one.answer_within(Duration::from_secs(10)).await, None);
        assert_eq!(other.ask("STAT:OPER:COND?").await, "8");
        other.send("ABOR").await;
        assert_eq!(one.answer_within(Duration::from_secs(1)).await.as_deref(), Some("1"));
    });
}

#[test]
fn the_key_comes_up_by_itself() {
    on(BENCH, |bench| async move {
        let mut relay = bench.connect(Role::Relay).await;
        assert_eq!(relay.ask("ROUT:CLOS:TIM 1;TIM?;:ROUT:CLOS (@3);CLOS? (@3,4)").await, "1;1,0");
        bench.clock.sleep(Duration::from_millis(700)).await;
        // Held again before its time was up, it stays.
        assert_eq!(relay.ask("ROUT:CLOS (@3);CLOS? (@3)").await, "1");
        bench.clock.sleep(Duration::from_millis(950)).await;
        assert!(bench.served.observed().keyed);
        bench.clock.sleep(Duration::from_millis(60)).await;
        assert_eq!(relay.ask("ROUT:CLOS? (@3)").await, "0");
        let seen = bench.served.observed();
        assert!(!seen.keyed && !seen.transmitting);
        assert!(seen.longest_key_down >= Duration::from_millis(1700), "{seen:?}");
        assert!(seen.longest_key_down < Duration::from_millis(1710), "{seen:?}");
        relay.send("ROUT:CLOS (@9)").await;
        assert!(relay.ask("SYST:ERR?").await.starts_with("-222,"));
    });
}

/// SCPI-1999 volume 2: `READ?` measures, `FETCh?` does not; -230 where nothing was measured.
#[test]
fn the_power_meter_settles_zeroes_and_must_be_told_the_frequency() {
    on(
        &BENCH.replace("harmonics: { 2: 62 dB, 3: 68 dB, 4: 75 dB, 5: 80 dB }", "harmonics: {}"),
        |bench| async move {
            let mut meter = bench.connect(Role::PowerMeter).await;
            meter.send("*RST;*CLS;:FETC?").await;
            assert!(meter.ask("SYST:ERR?").await.starts_with("-230,"));
            let before = bench.clock.elapsed();
            meter.ask("CAL:ZERO:AUTO ONCE;*OPC?").await;
            assert_eq!((bench.clock.elapsed() - before).as_secs(), 2);
            let relay = bench.key(450.0).await;
            meter.send("AVER:COUN 16;:FREQ 450E6").await;
            let before = bench.clock.elapsed();
            let told = meter.number("READ?").await;
            // 50 ms of settling and 16 conversions of 20 ms.
            assert_eq!((bench.clock.elapsed() - before).as_millis(), 370);
            assert_eq!(meter.number("FETC?").await, told);
            let untold = meter.number("FREQ 50E6;:READ?").await;
            // The sensor loses 0.3 dB per GHz: 0.4 GHz off are 0.12 dB.
            assert!((told - untold - 0.12).abs() < 0.01, "{told} {untold}");
            let watts = meter.number("FREQ 450E6;:UNIT:POW W;:READ?").await;
            assert!((10.0 * (watts * 1e3).log10() - told).abs() < 0.01);
            // Zeroed while power comes in, it takes that for nothing.
            let wrong = meter.number("CAL:ZERO:AUTO ONCE;*WAI;:READ?").await;
            assert!(wrong.abs() < watts / 100.0, "{wrong}");
            drop(relay);
        },
    );
}

#[test]
fn the_unit_refuses_what_it_cannot_do() {
    on(BENCH, |bench| async move {
        let mut unit = bench.connect(Role::UnitControl).await;
        assert_eq!(unit.ask("*CLS;:FREQ 145.5 MHZ;:POW low;:FREQ?;:POW?").await, "145500000;LOW");
        for (message, code) in [("FREQ 600E6", -222), ("POW MEDIUM", -224), ("POW 5", -104), ("FREQ", -109)] {
            unit.send(message).await;
            let error = unit.ask("SYST:ERR?").await;
            assert!(error.starts_with(&format!("{code},")), "{message}: {error}");
        }
        assert_eq!(unit.ask("FREQ?;:POW?").await, "145500000;LOW", "it stays where it was");
    });
}

/// What a refused command does not do is keep a key from being heard: the old carrier comes.
#[test]
fn a_unit_that_refused_transmits_where_it_was() {
    on(BENCH, |bench| async move {
        let mut unit = bench.connect(Role::UnitControl).await;
        let mut analyser = bench.connect(Role::Analyser).await;
        let relay = bench.key(145.0).await;
        unit.send("FREQ 600E6").await;
        assert!(unit.ask("SYST:ERR?").await.starts_with("-222,"));
        let strongest = "*RST;:FREQ:CENT {MHZ} MHZ;SPAN 10 MHZ;:BAND 100 KHZ;:INIT:CONT OFF;:INIT;*WAI;:CALC:MARK:MAX;:CALC:MARK:Y?";
        let mut level = async |mhz: &str| -> f64 {
            analyser.ask(&strongest.replace("{MHZ}", mhz)).await.parse().unwrap()
        };
        let (old, new) = (level("145").await, level("600").await);
        assert!(old > new + 40.0, "{old} dBm at 145 MHz, {new} dBm at 600 MHz");
        drop(relay);
    });
}

#[test]
fn the_supply_shows_the_key() {
    on(BENCH, |bench| async move {
        let mut supply = bench.connect(Role::Supply).await;
        assert_eq!(supply.ask("MEAS:CURR?;:OUTP?").await, "0.000;0");
        let relay = bench.key(145.0).await;
        assert_eq!(supply.ask("MEAS:VOLT?;:MEAS:CURR?").await, "7.400;1.500");
        supply.send("OUTP OFF").await;
        assert_eq!(supply.ask("MEAS:CURR?").await, "0.000");
        assert!(!bench.served.observed().transmitting && bench.served.observed().keyed);
        supply.send("VOLT 99").await;
        assert!(supply.ask("SYST:ERR?;:VOLT?").await.starts_with("-222,"));
        drop(relay);
    });
}

/// A resistor of 7.4 V / 1.35 A behind 0.2 ohm: (7.4 - 0.2 · 0.15) / (1 + 0.2 · 1.35 / 7.4) V at the unit, and
/// 0.15 A + 1.35 A · 7.1106 / 7.4 (closed forms). At a limit of 1.2 A the unit has 7.4 V · 1.05 / 1.35.
#[test]
fn the_supply_reads_what_it_senses() {
    let with = |supply: &str| {
        BENCH
            .replace("  supply: {}", &format!("  supply: {supply}"))
            .replace("      rise: 20 ms", "      rise: 20 ms\n      power_follows_supply: true")
    };
    on(&with("{ cable: 0.2 ohm }"), |bench| async move {
        let mut supply = bench.connect(Role::Supply).await;
        let relay = bench.key(145.0).await;
        assert_eq!(supply.ask("MEAS:VOLT?;:MEAS:CURR?;:STAT:QUES:COND?").await, "7.400;1.447;0");
        drop(relay);
    });
    on(&with("{ cable: 0.2 ohm, senses: unit }"), |bench| async move {
        let mut supply = bench.connect(Role::Supply).await;
        let relay = bench.key(145.0).await;
        assert_eq!(supply.ask("MEAS:VOLT?;:MEAS:CURR?").await, "7.400;1.500");
        supply.send("CURR 1.2").await;
        assert_eq!(supply.ask("MEAS:VOLT?;:MEAS:CURR?;:STAT:QUES:COND?").await, "5.756;1.200;1");
        drop(relay);
    });
}

/// 37 dBm through a bare cable is beyond the 30 dBm that the input stands, whether a sweep looks or not.
#[test]
fn an_input_breaks_without_being_watched() {
    let bare = BENCH.replace("pad: 30 dB", "pad: 0 dB").replace("pad: 6 dB", "pad: 0 dB");
    on(&bare, |bench| async move {
        let mut analyser = bench.connect(Role::Analyser).await;
        analyser.ask("*RST;*CLS;*OPC?").await;
        let mut relay = bench.key(145.0).await;
        relay.ask("ROUT:OPEN (@3);*OPC?").await;
        bench.clock.sleep(Duration::from_secs(5)).await;
        let error = analyser.ask("SYST:ERR?").await;
        assert!(error.starts_with("-240,"), "{error}");
        assert!(bench.served.observed().analyser_damaged.is_some());
    });
}
