//! Every fault of an answer's bytes, as a table: what the instrument says, and what goes out.

use super::*;

#[track_caller]
fn table(rows: &[(Does, &[u8], &[u8])]) {
    for (does, answer, expected) in rows {
        let sent = played(usual(*does), "READ?;:SYST:ERR?", answer);
        let (sent, expected) = (String::from_utf8_lossy(&sent), String::from_utf8_lossy(expected));
        assert_eq!(sent, expected, "{} on {:?}", does.word(), String::from_utf8_lossy(answer));
    }
}

#[test]
fn terminators() {
    table(&[
        (Does::NoTerminator, b"1;2", b"1;2"),
        (Does::EndsInSilence, b"1;2", b"1;2"),
        (Does::NulBytes, b"1;2", b"\x001;2\n\0"),
        (Does::AnswersApart, b"1,2;3;\"a;b\"", b"1,2\n3\n\"a;b\"\n"),
        (Does::NewlineInside, b"1,2;3", b"1\n,2;3\n"),
        (Does::NewlineInside, b"1234", b"12\n34\n"),
        (Does::NewlineInside, b"#12ab;3", b"#12ab\n;3\n"),
    ]);
    let end = |does| with(vec![usual(does)], |bench| bench.deliveries("*IDN?", b"1")[0].end);
    assert!(!end(Does::NoTerminator) && end(Does::EndsInSilence), "END is another end than the byte");
}

/// IEEE 488.2 clauses 8.7.9 and 8.7.10: `#`, the number of digits, the length; `#0` for an indefinite block.
#[test]
fn blocks() {
    let two = b"#18\x01\x02\x03\x04\x05\x06\x07\x08";
    table(&[
        (Does::BlockUnterminated, two, two),
        (Does::BlockTwoNewlines, b"#12ab", b"#12ab\n\n"),
        (Does::BlockOddLength, b"#14abcd;0", b"#13abc;0\n"),
        (Does::BlockIndefinite, b"#14abcd", b"#0abcd\n"),
        (Does::BlockInTwo, two, b"#14\x01\x02\x03\x04,#14\x05\x06\x07\x08\n"),
        (Does::BlockCutShort, b"1;#14abcd;2", b"1;#14ab"),
        (Does::BlockSwapped, two, b"#18\x04\x03\x02\x01\x08\x07\x06\x05\n"),
        // Nothing to befall.
        (Does::BlockOddLength, b"1;2", b"1;2\n"),
        (Does::BlockUnterminated, b"1;2", b"1;2\n"),
    ]);
}

/// A new line in every value, and every value as near to what it was as 255 steps of its last place allow.
#[test]
fn newlines_in_a_block_change_no_value_by_more_than_its_last_byte() {
    let values = [-61.25f32, -0.1, 0.0, 1e-30, -126.987_65, 3.402_823e38];
    for order in [ByteOrder::Big, ByteOrder::Little] {
        let block = spurline_scpi::Element::from_f32s(&values, order);
        let answer = Response { units: vec![block.into()] };
        let mut out = Outgoing::proper(answer);
        let mut act = with(vec![usual(Does::NewlinesInBlock)], |bench| {
            let taken = bench.take("TRAC?");
            let sight = taken.sight(bench.now, Some(&out.response));
            happening(&mut bench.faults.rules, Seed(7), &sight, |_| true).remove(0)
        });
        play(&mut act, &mut out, b"TRAC?", Layout { size: 4, order });
        let sent = out.deliveries().remove(0).bytes;
        for (value, bytes) in values.iter().zip(sent[4..].chunks(4)) {
            let bytes: [u8; 4] = bytes.try_into().unwrap();
            let (found, least) = match order {
                ByteOrder::Big => (f32::from_be_bytes(bytes), bytes[3]),
                ByteOrder::Little => (f32::from_le_bytes(bytes), bytes[0]),
            };
            assert_eq!(least, b'\n');
            assert!(found.to_bits().abs_diff(value.to_bits()) <= 128, "{value} {found}");
            assert!((f64::from(found) - f64::from(*value)).abs() < 0.001 || *value > 1e30, "{value} {found}");
        }
    }
}

#[test]
fn numbers() {
    table(&[
        (Does::PlusSigns, b"1.5,-2,+3;0,\"No error\"", b"+1.5,-2,+3;+0,\"No error\"\n"),
        (Does::DecimalComma, b"1.5,-2;0,\"1.5\"", b"1,5,-2;0,\"1.5\"\n"),
        (Does::UnitInAnswer, b"-42.1;0,\"No error\"", b"-42.1 DBM;0,\"No error\"\n"),
        (Does::IntegersAsReals, b"4000,-1,0,1.5;0,\"a\"", b"4.0000E+03,-1.0000E+00,0.0000E+00,1.5;0,\"a\"\n"),
        (Does::IntegersAsReals, b"145512345", b"1.45512345E+08\n"),
        // Names are not numbers, whatever digits are in them.
        (Does::DecimalComma, b"Example,A-1,1.0.3", b"Example,A-1,1.0.3\n"),
    ]);
    let sent = played(usual(Does::UnitInAnswer), "FREQ:CENT?;:SWE:TIME?", b"1;2");
    assert_eq!(sent, b"1 HZ;2 S\n");
}

/// Every word comes up, always in the place of one number, never in the error queue's.
#[test]
fn what_is_not_a_number_is_drawn() {
    let words: std::collections::BTreeSet<String> = with(vec![usual(Does::NotANumber)], |bench| {
        let sent = (0..300).map(|_| bench.sent("READ?;:SYST:ERR?", b"1,2;0,\"No error\""));
        sent.map(|bytes| {
            let text = String::from_utf8(bytes).unwrap();
            let fields = text.strip_suffix(";0,\"No error\"\n").unwrap();
            fields.strip_prefix("1,").or_else(|| fields.strip_suffix(",2")).unwrap().to_owned()
        })
        .collect()
    });
    assert_eq!(words, numbers::NONE.map(str::to_owned).into_iter().collect());
}

#[test]
fn fields() {
    table(&[
        (Does::TrailingComma, b"1,2;3,4", b"1,2;3,4,\n"),
        (Does::DoubledBlanks, b"1,2;0,\"No error\"", b"  1  ,  2  ;  0  ,\"No error\"\n"),
        (Does::HeaderInAnswer, b"1;0,\"No error\"", b"READ 1;SYST:ERR 0,\"No error\"\n"),
        (Does::HeaderInAnswer, b"#12ab", b"READ #12ab\n"),
    ]);
    let foreign = played(usual(Does::NotAscii), "*IDN?", b"Maker,Model,1,2");
    assert_eq!(foreign.len(), "Maker,Model,1,2\n".len() + 1);
    assert_eq!(foreign.iter().filter(|byte| !byte.is_ascii()).count(), 1);
}

#[test]
fn another_instrument_answers_on_the_next_connection() {
    with(vec![usual(Does::OtherSerial)], |bench| {
        assert_eq!(bench.sent("*IDN?", b"Maker,Model,A-1,2"), b"Maker,Model,A-1,2\n");
        bench.connection = bench.connect();
        assert_eq!(bench.sent("*IDN?", b"Maker,Model,A-1,2"), b"Maker,Model,A-1-B,2\n");
        assert_eq!(bench.sent("FREQ?;*IDN?", b"5;Maker,Model,A-1,2"), b"5;Maker,Model,A-1-B,2\n");
    });
}

#[test]
fn full_buffers_have_exactly_their_length_before_the_terminator() {
    for length in [1, 4095, 4096, 4097] {
        let answer = vec![b'7'; length];
        let sent = with(vec![usual(Does::FullBuffers)], |bench| bench.deliveries("TRAC?", &answer));
        assert_eq!(sent[0].bytes.len() % 4096, 0, "{length}");
        assert!(sent[0].bytes.ends_with(&answer) && !sent[0].end);
        assert_eq!((&sent[1].bytes[..], sent[1].wait.as_millis(), sent[1].end), (&b"\n"[..], 200, true));
    }
}

#[test]
fn times_and_ends() {
    let first = |does| with(vec![usual(does)], |bench| bench.deliveries("*IDN?", b"1234").remove(0));
    assert_eq!(first(Does::LateAnswer).wait, Duration::from_secs(10));
    assert_eq!(first(Does::Stall).wait, Duration::from_secs(121));
    assert_eq!(first(Does::SlowStart).wait, Duration::from_secs(2));
    assert_eq!(first(Does::Trickle).pieces, Some((1, Duration::from_millis(50))));
    let ends = |does| {
        let delivery = first(does);
        (delivery.bytes.to_vec(), delivery.then)
    };
    assert_eq!(ends(Does::ClosesForAnswer), (b"".to_vec(), Then::Close));
    assert_eq!(ends(Does::HalfAnswer), (b"12".to_vec(), Then::Close));
    assert_eq!(ends(Does::ResetInside), (b"1".to_vec(), Then::Reset));
}
