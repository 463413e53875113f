//! Work that takes too long, settings that come too late, and power that fails.

use std::time::Duration;

use spurline_sim::Role;

use super::{SECOND, with_fault};
use crate::client::on;

/// The sweep is asked for 1 s and takes 20: for `*OPC?`, for `*OPC` and for the register, and for nobody else.
#[test]
fn a_slow_sweep_is_slow_whoever_asks() {
    on(&with_fault("{ instrument: analyser, does: slow-sweep }"), |bench| async move {
        let mut analyser = bench.connect(Role::Analyser).await;
        let before = bench.clock.elapsed();
        assert_eq!(analyser.ask("*RST;*CLS;:SWE:TIME 1;TIME?;:INIT;*OPC?").await, "1;1");
        assert_eq!((bench.clock.elapsed() - before).as_secs(), 20);
        assert_eq!(analyser.ask("INIT;*OPC;:STAT:OPER:COND?").await, "8");
        bench.clock.sleep(Duration::from_millis(19_900)).await;
        assert_eq!(analyser.ask("STAT:OPER:COND?;*ESR?").await, "8;0");
        bench.clock.sleep(Duration::from_millis(200)).await;
        assert_eq!(analyser.ask("STAT:OPER:COND?;*ESR?").await, "0;1");
        // Given up, it is over at once.
        let before = bench.clock.elapsed();
        assert_eq!(analyser.ask("INIT;:ABOR;*OPC?").await, "1");
        assert_eq!(bench.clock.elapsed(), before);
    });
}

/// What is measured is what there was when the sweep should have ended, as on a keyed unit.
#[test]
fn a_slow_sweep_still_measures() {
    let fault = "{ instrument: analyser, does: slow-sweep, count: 3, times: 1 }";
    on(&with_fault(fault), |bench| async move {
        let relay = bench.key(145.0).await;
        let mut analyser = bench.connect(Role::Analyser).await;
        let settings = "*RST;:FREQ:CENT 145E6;SPAN 1E6;:BAND 100E3;:INP:ATT 30";
        let mut levels = Vec::new();
        for _ in 0..2 {
            levels
                .push(analyser.number(&format!("{settings};:INIT;*WAI;:CALC:MARK:MAX;:CALC:MARK:Y?")).await);
        }
        assert!((levels[0] - levels[1]).abs() < 0.5 && levels[0] > -10.0, "{levels:?}");
        drop(relay);
    });
}

#[test]
fn a_reset_keeps_the_instrument_busy() {
    on(&with_fault("{ instrument: analyser, does: slow-reset }"), |bench| async move {
        let mut analyser = bench.connect(Role::Analyser).await;
        let mut other = bench.connect(Role::Analyser).await;
        analyser.send("*RST").await;
        bench.clock.sleep(SECOND).await;
        let before = bench.clock.elapsed();
        assert_eq!(other.ask("*OPC?").await, "1");
        assert_eq!((bench.clock.elapsed() - before).as_secs(), 14, "whoever asks");
        assert_eq!(analyser.ask("*RST;*OPC?").await, "1");
        assert_eq!((bench.clock.elapsed() - before).as_secs(), 29);
    });
}

#[test]
fn settings_take_effect_later() {
    on(&with_fault("{ instrument: analyser, does: late-settings }"), |bench| async move {
        let mut analyser = bench.connect(Role::Analyser).await;
        assert_eq!(analyser.ask("*RST;:BAND?").await, "3000000");
        assert_eq!(analyser.ask("BAND 10E3;:BAND?").await, "3000000");
        bench.clock.sleep(Duration::from_millis(299)).await;
        assert_eq!(analyser.ask("BAND?").await, "3000000");
        bench.clock.sleep(Duration::from_millis(2)).await;
        assert_eq!(analyser.ask("BAND?").await, "10000");
    });
}

#[test]
fn a_setting_is_clipped_in_silence() {
    on(&with_fault("{ instrument: supply, does: clipped-setting, on: VOLT }"), |bench| async move {
        let mut supply = bench.connect(Role::Supply).await;
        assert_eq!(supply.ask("VOLT 7.5;:CURR 2;:VOLT?;:CURR?;:SYST:ERR?").await, "6;2;0,\"No error\"");
    });
}

/// A relay that loses its power opens, whatever it was told; the bit for power on says so.
#[test]
fn a_dip_of_the_power_loses_everything_but_the_connection() {
    let fault = "{ instrument: relay, does: power-dip, on: \"*OPC?\" }";
    on(&with_fault(fault), |bench| async move {
        let mut relay = bench.key(145.0).await;
        assert_eq!(relay.ask("*ESR?;:ROUT:CLOS? (@3)").await, "128;1");
        assert!(bench.served.observed().keyed);
        assert_eq!(relay.ask("*OPC?").await, "1");
        assert_eq!(relay.ask("*ESR?;:ROUT:CLOS? (@3)").await, "128;0");
        assert!(!bench.served.observed().keyed);
    });
}

#[test]
fn a_power_cycle_takes_the_connections_as_well() {
    let fault = "{ instrument: supply, does: power-cycle, after_messages: 1 }";
    on(&with_fault(fault), |bench| async move {
        let mut supply = bench.connect(Role::Supply).await;
        assert_eq!(supply.ask("*CLS;:VOLT 7.5;:OUTP ON;:VOLT?").await, "7.5");
        supply.send("VOLT?").await;
        assert_eq!(supply.answer_within(SECOND).await, None);
        assert!(tokio::net::TcpStream::connect(bench.address(Role::Supply)).await.is_err());
        bench.clock.sleep(Duration::from_secs(6)).await;
        let mut again = bench.connect(Role::Supply).await;
        assert_eq!(again.ask("*ESR?;:VOLT?;:OUTP?").await, "128;0;0");
    });
}
