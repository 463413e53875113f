//! Program messages as an instrument gets them: framing, units, parameters, header tree, and the client's own reading
//! of the same text.

use std::sync::LazyLock;

use bytes::{Bytes, BytesMut};
use spurline_scpi::{
    DecodeError, Limits, Message, Numeric, Parameter, ProgramDecoder, ProgramUnit, Quantity, Tree,
    program_units,
};

use super::cut;

const LIMITS: Limits = Limits { text: 300, block: 200 };
/// The digits of a block header that are not counted before the header is whole.
const HEADER: usize = 24;
/// The deepest header that is taken.
const DEEPEST: usize = 32;

/// Headers of every shape: optional nodes, alternatives, numeric suffixes, commands and queries.
static TREE: LazyLock<Tree<usize>> = LazyLock::new(|| {
    const PATTERNS: [&str; 10] = [
        "*IDN?",
        "*ESE[?]",
        "[SENSe:]FREQuency:CENTer[?]",
        "[SENSe:]BANDwidth|BWIDth[:RESolution][?]",
        "INITiate[:IMMediate][:ALL]",
        "CALCulate#:MARKer#:X[?]",
        "[SENSe#:]SWEep#:TIME[?]",
        "TRACe[:DATA]?",
        "ROUTe:CLOSe[?]",
        "SYSTem:ERRor[:NEXT]?",
    ];
    let mut tree = Tree::new();
    for (at, pattern) in PATTERNS.iter().enumerate() {
        tree.insert(pattern, at).expect("the patterns are well formed and differ");
    }
    tree
});

/// Program messages arrive in pieces, are cut out, and every unit is looked up and read.
pub fn messages(data: &[u8]) {
    let Some((size, stream)) = cut(data) else { return };
    let found = decoded(stream, size);
    assert_eq!(found, decoded(stream, usize::MAX), "pieces change nothing");
    for message in found.into_iter().flatten() {
        carried_out(&message);
    }
    carried_out(stream);
    if let Ok(text) = std::str::from_utf8(stream) {
        both_ends_agree(text);
    }
}

fn decoded(stream: &[u8], size: usize) -> Vec<Result<Bytes, DecodeError>> {
    let mut decoder = ProgramDecoder::new(LIMITS);
    let mut buffer = BytesMut::new();
    let mut found = Vec::new();
    for piece in stream.chunks(size) {
        buffer.extend_from_slice(piece);
        loop {
            match decoder.decode(&mut buffer) {
                Ok(Some(message)) => {
                    assert!(message.len() <= LIMITS.text + LIMITS.block + HEADER);
                    found.push(Ok(message));
                }
                Ok(None) => break,
                Err(error) => {
                    assert!(error.code().number() < 0);
                    found.push(Err(error));
                }
            }
        }
        assert!(buffer.len() <= LIMITS.text + LIMITS.block + HEADER, "{} bytes are held", buffer.len());
    }
    found
}

fn carried_out(message: &[u8]) {
    let units: Vec<_> = program_units(message).collect();
    assert!(units.iter().rev().skip(1).all(Result::is_ok), "nothing comes behind a mistake");
    for unit in units {
        match unit {
            Ok(unit) => handled(&unit),
            Err(error) => assert!(error.at <= message.len() && error.code.number() < 0),
        }
    }
}

fn handled(unit: &ProgramUnit) {
    assert!(!unit.path.is_empty() && unit.path.len() <= DEEPEST);
    match unit.resolve(&TREE) {
        Ok(found) => assert!(found.suffixes.len() <= 2),
        Err(code) => assert!(matches!(code.number(), -113 | -114), "{code}"),
    }
    for parameter in &unit.parameters {
        taken(parameter);
    }
}

/// Takes a parameter for everything that it could be.
fn taken(parameter: &Parameter) {
    for quantity in [Quantity::Frequency, Quantity::Level] {
        if let Ok(Numeric::Value(value)) = parameter.numeric(quantity) {
            assert!(value.is_finite());
        }
    }
    let codes = [
        parameter.boolean().err(),
        parameter.choice(&[("POSitive", 1), ("RMS", 2)]).err(),
        parameter.word().err(),
        parameter.string().err(),
        parameter.channels().err(),
    ];
    assert!(codes.into_iter().flatten().all(|code| code.number() < 0));
}

/// What the client takes for a message, and the instrument too, has as many units and queries at both ends.
fn both_ends_agree(text: &str) {
    let Ok(message) = Message::new().compound(text) else { return };
    let units: Result<Vec<ProgramUnit>, _> = program_units(message.as_bytes()).collect();
    // Blocks are bytes, which the client's texts do not carry.
    if let Ok(units) = units.map_err(drop)
        && !text.contains('#')
    {
        assert_eq!(units.len(), message.units().count(), "`{message}`");
        assert_eq!(units.iter().filter(|unit| unit.query).count(), message.queries(), "`{message}`");
    }
    let parts = message.split(40);
    assert_eq!(parts.iter().map(Message::queries).sum::<usize>(), message.queries());
}
