//! What a link does beside the messages: IEEE 488.2 clauses 5.8, 6.3 and 11.3, from memory.

use super::talk;
use crate::instruments::{Execution, Step};

/// Clauses 6.5.7.1 to 6.5.7.5 and 11.5.1.1: each is a query error with a number of its own, and bit 2 of the events.
#[test]
fn errors_of_the_exchange_have_their_numbers() {
    let mut talk = talk::analyser();
    talk.say("*CLS");
    talk.instrument.interrupted();
    talk.instrument.unterminated();
    assert_eq!(talk.errors(), [-410, -420]);
    assert_eq!(talk.say("*ESR?"), "4");
}

/// Clause 5.8: messages and waits are given up; settings, status and errors stay, and so does the measurement.
#[test]
fn a_device_clear_gives_up_waits_and_nothing_else() {
    let mut talk = talk::analyser();
    talk.say("*RST;*CLS;*ESE 60;:FREQ:CENT 145E6;:SWE:TIME 10;:FREQ:MIDDLE 1;:INIT;*OPC");
    let mut waiting = Execution::new(b"*OPC?;:FREQ:CENT 1E9;CENT?");
    assert!(matches!(talk.instrument.step(&mut waiting, talk.now), Step::WaitUntil(_)));
    talk.instrument.device_clear();
    assert_eq!(talk.instrument.step(&mut waiting, talk.now), Step::Done(None));
    assert_eq!(talk.say("FREQ:CENT?;:STAT:OPER:COND?;*ESE?"), "145000000;8;60");
    talk.pass(20.0);
    // The `*OPC` of before was given up, so that its bit does not come.
    assert_eq!(talk.say("*ESR?;:SYST:ERR:COUN?"), "32;1");
    assert_eq!(talk.say("*OPC;*ESR?"), "1", "it is ready for new ones");
}

/// A wait for a trigger that never comes is ended by a device clear, and by nothing else.
#[test]
fn a_clear_ends_a_wait_for_a_trigger() {
    let mut talk = talk::analyser();
    talk.say("*RST;:TRIG:SOUR EXT;:INIT");
    assert_eq!(talk.answer(b"*OPC?"), None);
    talk.instrument.device_clear();
    assert_eq!(talk.say("STAT:OPER:COND?;:ABOR;*OPC?"), "32;1");
}

/// Clause 11.3.1: a poll tells RQS and takes it, `*STB?` tells MSS and changes nothing.
#[test]
fn a_poll_beside_the_messages() {
    let mut talk = talk::analyser();
    talk.say("*CLS;*SRE 16");
    assert_eq!(talk.instrument.status_byte(talk.now, false).bits(), 0);
    talk.say("*IDN?");
    assert!(talk.instrument.requests_service(talk.now, true));
    assert_eq!(talk.instrument.status_byte(talk.now, true).bits(), 16 + 64);
    assert_eq!(talk.instrument.status_byte(talk.now, true).bits(), 16);
    assert!(!talk.instrument.requests_service(talk.now, true));
    talk.say("*IDN?");
    assert_eq!(talk.instrument.status_byte(talk.now, true).bits(), 16 + 64, "a new answer is a new reason");
    talk.say("*SRE 4;:NONSENSE");
    assert_eq!(talk.say("*STB?"), "68");
    assert_eq!(talk.instrument.status_byte(talk.now, false).bits(), 68);
    assert_eq!(talk.instrument.status_byte(talk.now, false).bits(), 4);
    assert_eq!(talk.say("*STB?"), "68", "MSS stays with its reason");
}

/// The end of a sweep asks for service without anybody looking.
#[test]
fn completion_asks_for_service() {
    let mut talk = talk::analyser();
    talk.say("*RST;*CLS;*ESE 1;*SRE 32;:SWE:TIME 5;:INIT;*OPC");
    talk.pass(4.0);
    assert!(!talk.instrument.requests_service(talk.now, false));
    talk.pass(1.5);
    assert!(talk.instrument.requests_service(talk.now, false));
    assert_eq!(talk.instrument.status_byte(talk.now, false).bits(), 32 + 64);
}

/// Clause 11.2.1.3: the answer before `*STB?` in the same message waits already.
#[test]
fn an_answer_in_the_same_message_is_available() {
    let mut talk = talk::supply();
    talk.say("*CLS");
    assert_eq!(talk.say("*STB?"), "0");
    assert_eq!(talk.say("*ESE?;*STB?"), "0;16");
}

/// Clause 6.3.1.7: a message that asks for more than the output queue holds is given up.
#[test]
fn a_short_message_cannot_fill_the_memory() {
    let mut talk = talk::analyser();
    talk.say("*RST;*CLS;:SWE:POIN 10001;:INIT;*WAI;:FORM REAL,64");
    let message = vec!["TRAC? TRACE1"; 300].join(";:") + ";*ESE 7";
    assert_eq!(talk.answer(message.as_bytes()), Some(Vec::new()));
    assert_eq!(talk.errors(), [-430]);
    assert_eq!(talk.say("*ESE?"), "0");
}

/// Clauses 5.12 and 10.25.
#[test]
fn switching_off_and_on() {
    let mut talk = talk::analyser();
    talk.say("*CLS;*PSC 0;*ESE 60;*SRE 32;:FREQ:CENT 145E6;*SAV 1;:FREQ:MIDDLE 1;:STAT:QUES:ENAB 8");
    talk.power_cycle();
    assert_eq!(talk.say("*ESR?;*ESE?;*SRE?;:STAT:QUES:ENAB?;:SYST:ERR:COUN?"), "128;60;32;0;0");
    assert_eq!(talk.say("FREQ:CENT?;:INIT:CONT?;*RCL 1;:FREQ:CENT?"), "1500000000;1;145000000");
    talk.say("*PSC 1");
    talk.power_cycle();
    assert_eq!(talk.say("*ESE?;*SRE?;*PSC?"), "0;0;1");
}
