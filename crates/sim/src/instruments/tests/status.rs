//! The status commands as a client uses them: SCPI-1999 volume 2, chapters 20 and 21, and IEEE 488.2 chapters 10 and 11,
//! from memory.

use super::talk;
use crate::instruments::Instrument;

/// Clause 20.7: enable 0, positive filter all, negative filter none; a register below reports everything.
#[test]
fn preset_of_all_registers() {
    let mut talk = talk::analyser();
    for (register, enable) in [("OPER", 0), ("QUES", 0), ("QUES:POW", 32_767)] {
        let header = format!("STAT:{register}");
        talk.say(&format!("{header}:ENAB 21;PTR 0;NTR 85"));
        assert_eq!(talk.say(&format!("{header}:ENAB?;PTR?;NTR?")), "21;0;85");
        talk.say("STAT:PRES");
        assert_eq!(talk.say(&format!("{header}:ENAB?;PTR?;NTR?")), format!("{enable};32767;0"));
    }
}

/// Clause 20.1: bit 15 is never used; a number beyond sixteen bits changes nothing.
#[test]
fn the_highest_bit_is_dropped() {
    let mut talk = talk::supply();
    assert_eq!(talk.say("STAT:OPER:ENAB 65535;ENAB?;ENAB MAX;ENAB?"), "32767;32767");
    assert_eq!(talk.refusal("STAT:OPER:ENAB 65536"), -222);
    assert_eq!(talk.refusal("STAT:OPER:ENAB -1"), -222);
    assert_eq!(talk.say("STAT:OPER:ENAB?"), "32767");
    assert_eq!(talk.refusal("*ESE 256"), -222);
    assert_eq!(talk.refusal("*SRE 1 HZ"), -138);
}

/// Clause 9.3 of volume 1: a negative filter catches the end of a sweep.
#[test]
fn the_end_of_a_sweep_is_an_event() {
    let mut talk = talk::analyser();
    talk.say("*RST;*CLS;:STAT:OPER:PTR 0;NTR 8;ENAB 8;*SRE 128;:SWE:TIME 2;:INIT");
    assert_eq!(talk.say("STAT:OPER:COND?;*STB?"), "8;16");
    talk.pass(3.0);
    assert_eq!(talk.say("*STB?;:STAT:OPER?;:STAT:OPER:COND?"), "192;8;0");
    assert_eq!(talk.say("*STB?;:STAT:OPER:EVEN?"), "0;0");
}

/// `*CLS` (IEEE 488.2 clause 10.3) clears events and the queue, never masks and filters, and gives up `*OPC`.
#[test]
fn clear_status_leaves_masks_alone() {
    let mut talk = talk::analyser();
    talk.say("*RST;*ESE 255;*SRE 255;:STAT:OPER:ENAB 24;PTR 8;NTR 16;:NONSENSE;:SWE:TIME 1;:INIT;*OPC");
    talk.say("*CLS");
    talk.pass(2.0);
    assert_eq!(talk.say("*STB?;*ESR?;:SYST:ERR:COUN?"), "0;0;0");
    assert_eq!(talk.say("*ESE?;*SRE?;:STAT:OPER:ENAB?;PTR?;NTR?"), "255;191;24;8;16");
}

/// `*RST` (clause 10.32) touches neither registers nor queue nor masks.
#[test]
fn reset_leaves_the_status_alone() {
    let mut talk = talk::analyser();
    talk.say("*CLS;*ESE 60;*SRE 48;:STAT:QUES:ENAB 512;PTR 1;:NONSENSE");
    talk.say("*RST");
    assert_eq!(talk.say("*ESE?;*SRE?;:STAT:QUES:ENAB?;PTR?;:SYST:ERR:COUN?;*ESR?"), "60;48;512;1;1;32");
}

/// Too much at the mixer: the register below, its summary above, and the status byte.
#[test]
fn an_overload_goes_all_the_way_up() {
    let mut talk = talk::analyser();
    talk.world.set_supply(talk.now, spurline_units::Volts::new(7.4), spurline_units::Amperes::new(3.0));
    talk.world.tune(talk.now, spurline_units::Hertz::from_mhz(145.0));
    talk.world.set_key(talk.now, true, None);
    talk.pass(1.0);
    talk.say("*RST;*CLS;:STAT:PRES;:STAT:QUES:ENAB 8;*SRE 8;:FREQ:CENT 145E6;SPAN 1E6;:INP:ATT 0;:INIT;*WAI");
    assert_eq!(talk.say("STAT:QUES:POW:COND?;:STAT:QUES:COND?;*STB?"), "1;8;88");
    talk.say("INP:ATT 40;:INIT;*WAI");
    assert_eq!(talk.say("STAT:QUES:POW:COND?;:STAT:QUES:COND?"), "0;0");
    assert_eq!(
        talk.say("STAT:QUES:POW?;:STAT:QUES?;*STB?"),
        "1;8;16",
        "what has been is kept until it is read"
    );
    talk.say("STAT:QUES:POW:ENAB 0;:INP:ATT 0;:INIT;*WAI");
    assert_eq!(talk.say("STAT:QUES:POW:COND?;:STAT:QUES:COND?"), "1;0");
}

/// A supply whose current is limited does not give the voltage that was set.
#[test]
fn a_limited_current_makes_the_voltage_questionable() {
    let mut talk = talk::supply();
    talk.say("VOLT 7.4;CURR 0.1;:OUTP ON");
    assert_eq!(talk.say("MEAS:CURR?;:STAT:QUES:COND?"), "0.100;1");
    assert_eq!(talk.say("CURR 1;:MEAS:CURR?;:MEAS:POW?;:STAT:QUES:COND?"), "0.150;1.110;0");
}

/// SCPI-1999 volume 2, clause 21.8: the queue is read one by one, all at once, or as numbers.
#[test]
fn the_queue_is_read_in_every_way() {
    let mut talk = talk::analyser();
    let fill = "*CLS;:NONSENSE;:FREQ:CENT 1 V;:DET MAGIC";
    talk.say(fill);
    assert_eq!(talk.say("SYST:ERR:COUN?"), "3");
    assert_eq!(
        talk.say("SYST:ERR?;ERR:NEXT?"),
        r#"-113,"Undefined header;NONSENSE";-131,"Invalid suffix;FREQ:CENT""#
    );
    assert_eq!(talk.say("SYST:ERR:CODE?;CODE:NEXT?"), "-224;0");
    talk.say(fill);
    assert_eq!(talk.say("SYST:ERR:CODE:ALL?;ALL?"), "-113,-131,-224;0");
    talk.say("NONSENSE");
    assert_eq!(talk.say("SYST:ERR:ALL?;ALL?"), r#"-113,"Undefined header;NONSENSE";0,"No error""#);
    talk.say("NONSENSE");
    assert_eq!(
        talk.say("STAT:QUE?;:STAT:QUE:NEXT?;*ESR?"),
        r#"-113,"Undefined header;NONSENSE";0,"No error";48"#
    );
}

/// The same clause: on overflow the oldest stay; the depth is the maker's.
#[test]
fn a_queue_of_another_depth() {
    let mut talk = talk::supply();
    talk.instrument = Instrument::with_queue(crate::instruments::tests::talk::supply().instrument.device, 3);
    for message in ["A", "B", "C", "D"] {
        talk.say(message);
    }
    assert_eq!(talk.errors(), [-113, -113, -350]);
    assert_eq!(talk.say("*ESR?"), (128 + 32 + 8).to_string());
}

/// IEEE 488.2 clauses 10.25, 10.29, 10.33 and 10.20.
#[test]
fn the_other_common_commands() {
    let mut talk = talk::analyser();
    assert_eq!(talk.say("*OPT?;*TST?;*PSC?;*PSC 0;*PSC?;*PSC -5;*PSC?"), "0;0;1;0;1");
    talk.say("FREQ:CENT 145E6;:DET RMS;:TRIG:SOUR BUS;*SAV 3;*RST;*SAV 9");
    assert_eq!(talk.say("DET?;*RCL 3;:DET?;:FREQ:CENT?;:TRIG:SOUR?"), "POS;RMS;145000000;BUS");
    assert_eq!(talk.say("*RCL 9;:DET?"), "POS");
    for (message, code) in
        [("*RCL 4", -224), ("*SAV 10", -222), ("*SAV", -109), ("*RCL MIN", -224), ("*PSC 40000", -222)]
    {
        assert_eq!(talk.refusal(message), code, "{message}");
    }
    let mut supply = talk::supply();
    assert_eq!(supply.say("VOLT 7.4;:OUTP ON;*SAV 0;*RST;*RCL 0;:VOLT?;:OUTP?"), "7.4;0", "it stays dead");
    let mut relay = talk::relay();
    assert_eq!(relay.say("ROUT:CLOS (@2,3);*SAV 0;*RST;*RCL 0;:ROUT:CLOS? (@1:4)"), "0,1,1,0");
    let mut unit = talk::unit_control();
    assert_eq!(unit.say("FREQ 145E6;:POW LOW;*SAV 0;*RST;*RCL 0;:FREQ?;:POW?"), "145000000;LOW");
}
