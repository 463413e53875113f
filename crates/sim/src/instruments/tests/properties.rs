//! Whatever comes in, an instrument answers or complains: it never panics, and answers nothing that was not asked.

use proptest::prelude::*;
use spurline_scpi::{Response, program_units};

use super::talk::{self, Talk};
use crate::instruments::Device;
use crate::instruments::status::Status;

/// Deep enough to lose no error of one message.
const DEEP: usize = 10_000;

/// Says each message; the answers must be as many as the queries that did not fail.
fn say_all<D: Device>(mut talk: Talk<D>, messages: &[Vec<u8>]) {
    talk.instrument.status = Status::at_power_on(DEEP);
    for message in messages {
        talk.instrument.status.errors.clear();
        let Some(answer) = talk.answer(message) else {
            // It waits for a trigger that does not come.
            talk.instrument.device_clear();
            continue;
        };
        let asked = program_units(message).flatten().filter(|unit| unit.query).count();
        let answered =
            if answer.is_empty() { 0 } else { Response::parse(answer.into()).unwrap().units.len() };
        let shown = String::from_utf8_lossy(message);
        // What reads or clears the queue hides what failed.
        let hides = ["ERR", "CLS", "QUE:"].iter().any(|word| shown.to_ascii_uppercase().contains(word));
        let errors = talk.instrument.status.errors.drain();
        let failed =
            errors.iter().filter(|error| error.info().is_some_and(|info| info.ends_with('?'))).count();
        if hides {
            assert!(answered <= asked, "{shown}: {answered} answers to {asked} queries");
        } else {
            assert_eq!(answered + failed, asked, "{shown}: {answered} answers and {failed} failures");
        }
    }
}

fn all_instruments(messages: &[Vec<u8>]) {
    say_all(talk::analyser(), messages);
    say_all(talk::power_meter(), messages);
    say_all(talk::supply(), messages);
    say_all(talk::relay(), messages);
    say_all(talk::unit_control(), messages);
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
        "FREQ:CENT:STEP",
        "TRIG:SOUR",
        "TRIG",
        "TRAC:POIN",
        "CALC:MARK:MAX:NEXT",
        "CONF",
        "CORR:OFFS",
        "VOLT:STEP",
        "ROUT:CLOS:EXCL",
        "ROUT:CLOS:STAT",
        "INP:IMP",
        "*TRG",
        "*SAV",
        "*RCL",
        "*PSC",
        "*CAL",
        "*OPT",
        "SYST:ERR:ALL",
        "SYST:HELP:HEAD",
        "STAT:QUES:POW:PTR",
        "STAT:OPER:NTR",
        "DISP:ENAB",
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
        " BUS",
        " EXT",
        " IMM",
        " DBUV",
        " REAL,64",
        " INT,32",
        " 9",
        ",",
        " 10001",
    ]);
    (headers, any::<bool>(), parameters).prop_map(|(header, query, parameter)| {
        // A hundred thousand points with the longest sweep and the widest filter take minutes.
        let parameter =
            if header == "SWE:POIN" && parameter.contains(['M', 'E']) { " 2001" } else { parameter };
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

    /// SCPI-1999 volume 2, clause 20.1: all bits but the highest read back as they were set.
    #[test]
    fn masks_read_back(mask: u16, which in 0_usize..9) {
        let registers = ["OPER", "QUES", "QUES:POW"];
        let filters = ["ENAB", "PTR", "NTR"];
        let header = format!("STAT:{}:{}", registers[which / 3], filters[which % 3]);
        let mut talk = talk::supply();
        let answer = talk.say(&format!("{header} {mask};:{header}?;*ESE {0};*ESE?;*SRE {0};*SRE?", mask & 0xff));
        let expected = format!("{};{};{}", mask & 0x7fff, mask & 0xff, mask & 0xbf);
        prop_assert_eq!(answer, expected);
        let hexadecimal = talk.say(&format!("{header} #H{mask:X};:{header}?"));
        prop_assert_eq!(hexadecimal, (mask & 0x7fff).to_string());
    }

    /// Each unit for itself: what a unit answers does not depend on the mistakes around it.
    #[test]
    fn mistakes_do_not_reach_their_neighbours(mistakes in prop::collection::vec(any::<bool>(), 1..10)) {
        let units: Vec<&str> = mistakes.iter().map(|wrong| if *wrong { ":FREQ:MIDDLE?" } else { ":FREQ:CENT?" }).collect();
        let mut talk = talk::analyser();
        talk.say("*CLS;:FREQ:CENT 1E9");
        let answer = talk.say(&units.join(";"));
        let right = mistakes.iter().filter(|wrong| !**wrong).count();
        prop_assert_eq!(answer, vec!["1000000000"; right].join(";"));
        prop_assert_eq!(talk.errors(), vec![-113; mistakes.len() - right]);
    }
}
