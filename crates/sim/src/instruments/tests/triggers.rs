//! Overlapped commands and triggers: IEEE 488.2 chapter 12 and SCPI-1999 volume 1, chapter 10, from memory.

use std::time::Duration;

use super::talk;

/// IEEE 488.2 clauses 12.8.1 to 12.8.3: `INIT` overlaps, the three of them wait for it.
#[test]
fn operation_complete_in_three_ways() {
    let mut talk = talk::analyser();
    talk.say("*RST;*CLS;:SWE:TIME 4");
    let before = talk.now;
    assert_eq!(talk.say("INIT;*OPC;:STAT:OPER:COND?;*ESR?"), "8;0");
    assert_eq!(talk.now, before, "nothing waits for an overlapped command");
    assert_eq!(talk.say("*OPC?;*ESR?"), "1;1");
    assert_eq!(talk.now.since(before), Duration::from_secs(4));
    assert_eq!(talk.say("INIT;*WAI;:STAT:OPER:COND?"), "0");
    assert_eq!(talk.now.since(before), Duration::from_secs(8));
    assert_eq!(talk.say("INIT;:INIT;:SYST:ERR:CODE?"), "-213");
}

#[test]
fn sweeping_by_itself_is_never_complete_and_never_waited_for() {
    let mut talk = talk::analyser();
    let before = talk.now;
    assert_eq!(talk.say("*RST;:SWE:TIME 4;:INIT:CONT ON;*OPC?;:STAT:OPER:COND?;:INIT:CONT?"), "1;8;1");
    assert_eq!(talk.now, before);
    assert_eq!(talk.refusal("INIT"), -213);
}

/// IEEE 488.2 clause 10.37: `*TRG` does what a trigger on the bus does.
#[test]
fn a_sweep_on_a_trigger_from_the_bus() {
    let mut talk = talk::analyser();
    talk.say("*RST;*CLS;:SWE:TIME 2;:TRIG:SOUR BUS");
    assert_eq!(talk.refusal("*TRG"), -211);
    assert_eq!(talk.say("INIT;:STAT:OPER:COND?;*TRG;:STAT:OPER:COND?"), "32;8");
    let before = talk.now;
    assert_eq!(talk.say("*OPC?"), "1");
    assert_eq!(talk.now.since(before), Duration::from_secs(2));
    talk.say("INIT");
    talk.instrument.trigger(talk.now);
    assert_eq!(talk.say("STAT:OPER:COND?"), "8");
    talk.instrument.trigger(talk.now);
    assert_eq!(talk.errors(), [-211], "while it sweeps it is not ready for another");
    talk.say("ABOR;:TRIG:SOUR IMM");
    talk.instrument.trigger(talk.now);
    assert_eq!(talk.errors(), [-211]);
    assert_eq!(talk.say("TRIG:SOUR EXT;:INIT;:TRIG;:STAT:OPER:COND?;:TRIG:SEQ:SOUR?"), "8;EXT");
}

#[test]
fn continuous_sweeps_each_take_a_trigger() {
    let mut talk = talk::analyser();
    talk.say("*RST;*CLS;:SWE:TIME 1;:SWE:POIN 101;:TRIG:SOUR BUS;:INIT:CONT ON");
    assert_eq!(talk.say("STAT:OPER:COND?;*OPC?"), "32;1");
    assert_eq!(talk.refusal("TRAC? TRACE1"), -230, "nothing was measured yet");
    talk.say("*TRG");
    talk.pass(1.5);
    assert_eq!(talk.say("STAT:OPER:COND?"), "32");
    assert_eq!(talk.say("TRAC? TRACE1").split(',').count(), 101);
}

#[test]
fn the_meter_is_triggered_too() {
    let mut talk = talk::power_meter();
    talk.say("*RST;*CLS;:TRIG:SOUR BUS");
    assert_eq!(talk.refusal("READ?"), -214);
    assert_eq!(talk.say("INIT;:STAT:OPER:COND?;*TRG;:STAT:OPER:COND?"), "32;16");
    let before = talk.now;
    assert!(!talk.say("FETC?").is_empty());
    // 50 ms of settling and four conversions of 20 ms.
    assert_eq!(talk.now.since(before), Duration::from_millis(130));
    assert!(!talk.say("MEAS:POW:AC? DEF,DEF;:TRIG:SOUR?").is_empty());
    assert_eq!(talk.say("CONF?;:TRIG:SOUR?"), "\"POW:AC\";IMM");
}

/// IEEE 488.2 clause 10.2 and SCPI-1999 volume 2, chapter 6: asked, a calibration is waited for and says how it went.
#[test]
fn a_calibration_answers_when_it_has_ended() {
    let mut analyser = talk::analyser();
    let before = analyser.now;
    assert_eq!(analyser.say("*RST;:CAL:ALL?;*CAL?"), "0;0");
    assert_eq!(analyser.now.since(before), Duration::from_secs(6));
    assert_eq!(analyser.say("CAL;:STAT:OPER:COND?;:ABOR;:STAT:OPER:COND?"), "1;1", "no measurement to abort");
    let mut meter = talk::power_meter();
    let before = meter.now;
    assert_eq!(meter.say("*RST;:CAL?;:CAL:ZERO:AUTO?"), "0;0");
    assert_eq!(meter.now.since(before), Duration::from_secs(2));
    meter.say("CAL:ZERO:AUTO ONCE");
    assert_eq!(meter.refusal("READ?"), -221);
}

#[test]
fn what_has_no_trigger_says_so() {
    assert_eq!(talk::supply().refusal("*TRG"), -211);
    assert_eq!(talk::relay().refusal("*TRG"), -211);
    assert_eq!(talk::unit_control().refusal("*TRG"), -211);
}
