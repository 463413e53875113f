//! Answers that are not as they should be, on a socket.

use std::time::Duration;

use spurline_sim::Role;

use super::{SECOND, with_fault};
use crate::client::{Ending, on};

/// What comes within a minute when `message` is sent to an analyser with one fault and a trace.
fn sent(fault: &str, message: &'static str) -> (Vec<u8>, Ending) {
    on(&with_fault(&format!("{{ instrument: analyser, {fault}, after_messages: 1 }}")), |bench| async move {
        let mut analyser = bench.connect(Role::Analyser).await;
        analyser.ask("*RST;*CLS;:SWE:POIN 101;:FORM REAL,32;:INIT;*OPC?").await;
        analyser.send(message).await;
        analyser.bytes_within(Duration::from_secs(60)).await
    })
}

/// The header of a block of 101 values of 4 bytes.
const HEADER: &[u8] = b"#3404";
const SIZE: usize = HEADER.len() + 404;

#[test]
fn a_trace_arrives_as_the_fault_leaves_it() {
    let (whole, ending) = sent("does: echo", "TRAC? TRACE1");
    let echo = b"TRAC? TRACE1\r\n";
    assert_eq!(ending, Ending::Open);
    let whole = whole.strip_prefix(echo).unwrap();
    assert!(whole.starts_with(HEADER) && whole.ends_with(b"\n") && whole.len() == SIZE + 1);
    let data = &whole[HEADER.len()..SIZE];
    let got = |fault: &str| sent(fault, "TRAC? TRACE1").0;
    assert_eq!(got("does: block-unterminated"), whole[..SIZE]);
    assert_eq!(got("does: block-two-newlines"), [whole, b"\n"].concat());
    assert_eq!(got("does: block-odd-length"), [b"#3403", &data[..403], b"\n"].concat());
    assert_eq!(got("does: block-indefinite"), [b"#0", data, b"\n"].concat());
    assert_eq!(got("does: block-cut-short"), [HEADER, &data[..202]].concat());
    assert_eq!(got("does: full-buffers, bytes: 1024"), [&vec![b' '; 1024 - SIZE], whole].concat());
    let two = [b"#3200", &data[..200], b",#3204", &data[200..], b"\n"].concat();
    assert_eq!(got("does: block-in-two"), two);
    let swapped: Vec<u8> = data.chunks(4).flat_map(|value| value.iter().rev().copied()).collect();
    assert_eq!(got("does: block-swapped"), [HEADER, &swapped, b"\n"].concat());
    let newlines = got("does: newlines-in-block");
    assert!(newlines[HEADER.len()..SIZE].chunks(4).all(|value| value[3] == b'\n'));
    // A trace has new lines in it by chance too: 404 bytes, of which about half are as good as random.
    assert!(data.contains(&b'\n'), "another seed may be needed");
}

/// With the other byte order, the new line is where that order has the least significant byte.
#[test]
fn faults_of_blocks_know_the_byte_order() {
    let fault = "{ instrument: analyser, does: newlines-in-block }";
    on(&with_fault(fault), |bench| async move {
        let mut analyser = bench.connect(Role::Analyser).await;
        analyser.ask("*RST;*CLS;:SWE:POIN 101;:FORM REAL,32;:FORM:BORD SWAP;:INIT;*OPC?").await;
        analyser.send("TRAC? TRACE1").await;
        let (bytes, _) = analyser.bytes_within(SECOND).await;
        assert!(bytes[HEADER.len()..SIZE].chunks(4).all(|value| value[0] == b'\n'));
        assert_eq!(analyser.ask("SYST:ERR?").await, "0,\"No error\"", "nobody saw it ask");
    });
}

#[test]
fn connections_end_in_the_middle() {
    let identity: &[u8] = b"Example,Analyser,A-0001,1.0";
    assert_eq!(sent("does: no-terminator", "*IDN?"), (identity.to_vec(), Ending::Open));
    assert_eq!(sent("does: closes-for-answer", "*IDN?"), (Vec::new(), Ending::Closed));
    assert_eq!(sent("does: half-answer", "*IDN?"), (identity[..13].to_vec(), Ending::Closed));
    let (bytes, ending) = sent("does: reset-inside, bytes: 5", "*IDN?");
    assert_eq!(ending, Ending::Failed);
    assert!(bytes.is_empty() || bytes == identity[..5], "a reset may overtake what is under way: {bytes:?}");
}

#[test]
fn bytes_trickle() {
    let fault = "{ instrument: analyser, does: trickle, bytes: 10, by: 50 ms }";
    on(&with_fault(fault), |bench| async move {
        let mut analyser = bench.connect(Role::Analyser).await;
        let before = bench.clock.elapsed();
        assert_eq!(analyser.ask("*IDN?").await, "Example,Analyser,A-0001,1.0");
        assert_eq!((bench.clock.elapsed() - before).as_millis(), 500);
    });
}

#[test]
fn a_late_answer_keeps_the_next_waiting() {
    let fault = "{ instrument: analyser, does: late-answer, on: \"*idn?\", by: 8 s }";
    on(&with_fault(fault), |bench| async move {
        let mut analyser = bench.connect(Role::Analyser).await;
        analyser.send("*IDN?").await;
        assert_eq!(analyser.answer_within(Duration::from_secs(5)).await, None);
        analyser.send("SYST:VERS?").await;
        assert_eq!(analyser.answer_within(Duration::from_millis(2900)).await, None);
        assert!(analyser.answer_within(Duration::from_millis(200)).await.unwrap().starts_with("Example,"));
        assert_eq!(analyser.answer_within(SECOND).await.unwrap(), "1999.0");
    });
}

#[test]
fn only_cr_lf_ends_a_message_or_cr_is_data() {
    on(&with_fault("{ instrument: analyser, does: wants-cr-lf }"), |bench| async move {
        let mut analyser = bench.connect(Role::Analyser).await;
        analyser.send("*IDN?").await;
        assert_eq!(analyser.answer_within(SECOND).await, None);
        let mut other = bench.connect(Role::Analyser).await;
        other.send_bytes(b"*OPC?\r\n").await;
        assert_eq!(other.answer_within(SECOND).await.unwrap(), "1");
    });
    on(&with_fault("{ instrument: analyser, does: cr-is-data }"), |bench| async move {
        let mut analyser = bench.connect(Role::Analyser).await;
        analyser.send_bytes(b"*CLS\r\n*CLS;*OPC?\n").await;
        assert_eq!(analyser.answer_within(SECOND).await.unwrap(), "1");
        analyser.send_bytes(b"*OPC?\r\n").await;
        assert_eq!(analyser.answer_within(SECOND).await, None);
        assert_eq!(analyser.ask("SYST:ERR?").await, "-101,\"Invalid character\"");
    });
}
