//! What becomes of messages: what is carried out of them, when, and with which errors.

use super::*;

/// What is carried out, and the errors.
fn heard(fault: Fault, message: &str) -> (Option<String>, Vec<i16>) {
    with(vec![fault], |bench| {
        let taken = bench.take(message);
        let errors: Vec<i16> = taken.errors().iter().map(|error| error.number()).collect();
        (taken.heard().map(|heard| String::from_utf8_lossy(heard).into_owned()), errors)
    })
}

fn on(does: Does, on: &str) -> Fault {
    Fault { on: Some(on.to_owned()), ..usual(does) }
}

#[test]
fn unknown_headers() {
    let message = "*CLS;:trac? TRACE1;:SYST:ERR?";
    let left = |fault, message| heard(fault, message).0.unwrap();
    let unknown = "*CLS;:TRAC:NOWHERE?;:SYST:ERR?";
    assert_eq!(left(on(Does::UnknownHeader, "TRAC?"), message), unknown);
    assert_eq!(left(on(Does::UnknownHeader, "*IDN"), "*IDN?"), "*IDNNOWHERE?");
    assert_eq!(left(on(Does::UnknownHeader, "TRAC?"), "*CLS"), "*CLS");
    assert_eq!(left(usual(Does::UnknownHeader), "FREQ 1;:BAND 2"), ":FREQ:NOWHERE;:BAND:NOWHERE");
    assert_eq!(left(on(Does::RestSkipped, "TRAC?"), message), "*CLS;:TRAC:NOWHERE?");
    // What was relative to a header that is gone still means the same.
    let relative = left(on(Does::UnknownHeader, "CENT"), "FREQ:CENT 1;SPAN 2");
    assert_eq!(relative, ":FREQ:CENT:NOWHERE;:FREQ:SPAN 2");
}

#[test]
fn long_messages() {
    let long = format!("FREQ {}", "1".repeat(200));
    assert_eq!(heard(usual(Does::ShortInput), &long), (None, vec![-363]));
    let (left, errors) = heard(usual(Does::ShortInput), &long[..200]);
    assert_eq!((left.unwrap().len(), errors), (200, vec![]));
}

#[test]
fn lost_bytes_and_lost_messages() {
    let (left, _) = heard(usual(Does::LostByte), "FREQ 145E6");
    let left = left.unwrap();
    let without = |gone: usize| {
        let kept = "FREQ 145E6".char_indices().filter(|(place, _)| *place != gone);
        kept.map(|(_, letter)| letter).collect::<String>()
    };
    assert!((0..10).any(|gone| without(gone) == left), "{left}");
    with(vec![usual(Does::DeafWhenRushed)], |bench| {
        assert!(bench.take("A").heard().is_some());
        bench.pass(0.019);
        assert!(bench.take("B").heard().is_none());
        bench.pass(0.020);
        assert!(bench.take("C").heard().is_some());
    });
}

#[test]
fn settings() {
    for (asked, set) in [
        ("FREQ:CENT 145.5 MHZ", ":FREQ:CENT 116.4 MHZ"),
        ("SWE:POIN 401;:SWE:POIN?", ":SWE:POIN 320.8;:SWE:POIN?"),
        ("BAND 10E3;*OPC?", ":BAND 8000;*OPC?"),
        ("BAND 10 EHZ", ":BAND 8 EHZ"),
        ("FORM REAL,32", ":FORM REAL,32"),
    ] {
        assert_eq!(heard(usual(Does::ClippedSetting), asked), (Some(set.to_owned()), vec![]), "{asked}");
    }
    with(vec![usual(Does::LateSettings)], |bench| {
        let mut taken = bench.take("FREQ:CENT 1E6;SPAN 2E6;:INIT;*WAI;:FREQ:CENT?");
        assert_eq!(taken.heard().unwrap(), b":INIT;*WAI;:FREQ:CENT?");
        let (span, part) = taken.later().unwrap();
        assert_eq!((span.as_millis(), &part[..]), (300, &b":FREQ:CENT 1E6;:FREQ:SPAN 2E6"[..]));
        let mut taken = bench.take("*RST;:INIT");
        assert!(taken.later().is_none());
    });
}

#[test]
fn errors_that_nobody_made() {
    let (_, errors) = heard(usual(Does::ErrorFlood), "*CLS");
    assert_eq!((errors.len(), &errors[..4]), (30, &[-221, -231, -211, -241][..]));
    with(vec![usual(Does::StaleErrors)], |bench| {
        // The first connection has had them.
        assert_eq!(bench.faults.admit(bench.now).1, []);
    });
    run(Pace::Fast, |clock| async move {
        let mut faults = Faults::new(vec![usual(Does::StaleErrors)], Seed(7), clock.now());
        assert_eq!(faults.admit(clock.now()).1.len(), 3);
    })
    .unwrap();
}

/// Two connections, one queue of the instrument's: each hears of its own errors only, oldest first.
#[test]
fn every_connection_has_its_own_error_queue() {
    let parse = |text: &str| Response::parse(Bytes::copy_from_slice(text.as_bytes())).unwrap();
    with(vec![usual(Does::ErrorsPerConnection)], |bench| {
        let ask = |bench: &mut Bench, connection, answer: &str, made: &str| {
            bench.connection = connection;
            let taken = bench.take("SYST:ERR?");
            assert!(taken.has_own_errors());
            let mut response = (!answer.is_empty()).then(|| parse(answer));
            let made = if made.is_empty() { Vec::new() } else { parse(made).units };
            bench.faults.keep_errors_apart(&taken, response.as_mut(), made);
            response.map(|response| String::from_utf8(response.encode().to_vec()).unwrap())
        };
        let (one, other) = (bench.connection, bench.connect());
        let none = "0,\"No error\"";
        assert_eq!(ask(bench, one, "", "-113,\"a\";-222,\"b\""), None);
        assert_eq!(ask(bench, other, none, "").unwrap(), none);
        assert_eq!(ask(bench, one, none, "").unwrap(), "-113,\"a\"");
        assert_eq!(ask(bench, one, "5;-109,\"c\"", "").unwrap(), "5;-222,\"b\"");
        assert_eq!(ask(bench, one, none, "").unwrap(), "-109,\"c\"");
        assert_eq!(ask(bench, one, none, "").unwrap(), none);
        // Sixteen entries are what it holds; the last says that there were more.
        let many = vec!["-113,\"a\""; 20].join(";");
        ask(bench, one, "", &many);
        let all: Vec<String> = (0..17).map(|_| ask(bench, one, none, "").unwrap()).collect();
        assert_eq!(
            (&all[14][..], &all[15][..], &all[16][..]),
            ("-113,\"a\"", "-350,\"Queue overflow\"", none)
        );
    });
}

#[test]
fn carriage_returns() {
    let hear = |does, pieces: &[&str]| {
        with(vec![usual(does)], |bench| {
            let mut all = String::new();
            for piece in pieces {
                let mut bytes = piece.as_bytes().to_vec();
                bench.faults.hear(bench.connection, &mut bytes, bench.now);
                all.push_str(&String::from_utf8(bytes).unwrap());
            }
            all
        })
    };
    assert_eq!(hear(Does::WantsCrLf, &["*CLS\n*CLS\r\n*CLS\r", "\n\n"]), "*CLS *CLS\r\n*CLS\r\n ");
    assert_eq!(hear(Does::CrIsData, &["*CLS\r\n*CLS\n"]), "*CLS\x7f\n*CLS\n");
    assert_eq!(hear(Does::NulBytes, &["*CLS\r\n"]), "*CLS\r\n");
}

#[test]
fn echoes_and_prompts() {
    assert_eq!(played(usual(Does::Echo), "*IDN?", b"1"), b"*IDN?\r\n1\n");
    assert_eq!(played(usual(Does::Prompt), "*IDN?", b"1"), b"1\n> ");
    let unanswered = with(vec![usual(Does::Echo), usual(Does::Prompt)], |bench| {
        let mut taken = bench.take("*CLS");
        bench.faults.answer(&mut taken, None, LAYOUT, bench.now)
    });
    let bytes: Vec<u8> = unanswered.iter().flat_map(|delivery| delivery.bytes.to_vec()).collect();
    assert_eq!(bytes, b"*CLS\r\n> ");
}
