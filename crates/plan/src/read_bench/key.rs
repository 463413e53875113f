//! The key line of a bench.

use spurline_document::{Node, Reader};
use spurline_profile::{Kind, SupplyCommand};
use spurline_record::Role;
use spurline_units::{Amperes, Seconds, Volts};

use super::Shelf;
use crate::bench::InstrumentAt;
use crate::key_line::{BenchKey, CommandKeyLine, KeyMethod, RelayKeyLine, SerialKeyLine, SupplyKeyLine};
use crate::read_plan::above_zero;

/// Where the system names ports by what is plugged in.
const PORTS_BY_ID: &str = "/dev/serial/by-id/";

pub(super) fn read(
    reader: &mut Reader,
    node: &Node,
    shelf: &mut Shelf<'_>,
    instruments: &mut Vec<Option<InstrumentAt>>,
) -> Option<BenchKey> {
    let mut fields = reader.fields(node, "the key")?;
    let found = fields.one_of(reader, &["relay", "serial_line", "supply_output", "command", "operator"]);
    let line = [fields.optional("line"), fields.optional("two_lines")];
    fields.close(reader);
    let (method, of) = found?;
    if let Some(stray) = line.into_iter().flatten().next().filter(|_| method != "serial_line") {
        let message =
            format!("expected `line` and `two_lines` beside `serial_line`, found them beside `{method}`");
        reader
            .mistake(stray.span, message)
            .hint("they say which control line of a serial port keys, and how");
        return None;
    }
    let method = match method {
        "relay" => KeyMethod::Relay(read_relay(reader, of, shelf, instruments)?),
        "serial_line" => KeyMethod::SerialLine(read_line(reader, of, line)?),
        "supply_output" => KeyMethod::SupplyOutput(read_supply(reader, of, shelf, instruments)?),
        "operator" => read_operator(reader, of)?,
        _ => KeyMethod::Command(read_command(reader, of)?),
    };
    Some(BenchKey { method, span: node.span })
}

fn read_line(reader: &mut Reader, of: &Node, [line, two_lines]: [Option<&Node>; 2]) -> Option<SerialKeyLine> {
    let path = reader.text(of, "the path of a serial port").map(str::to_owned);
    let path = path.filter(|path| is_port(reader, of, path));
    let rts = line
        .map_or(Some(true), |node| reader.choice(node, "a control line", &[("rts", true), ("dtr", false)]));
    let two_lines = two_lines.map_or(Some(false), |node| reader.flag(node, "`true` or `false`"));
    Some(SerialKeyLine { path: path?, rts: rts?, two_lines: two_lines? })
}

fn read_relay(
    reader: &mut Reader,
    node: &Node,
    shelf: &mut Shelf<'_>,
    instruments: &mut Vec<Option<InstrumentAt>>,
) -> Option<RelayKeyLine> {
    let mut fields = reader.fields(node, "the relay")?;
    let contact = fields.required(reader, "contact");
    let opens_by_itself = fields.maybe(reader, "opens_by_itself", read_opening);
    let instrument = shelf.instrument_in(reader, Role::Relay, &mut fields);
    fields.close(reader);
    instruments.push(instrument);
    let contact = contact.and_then(|node| reader.whole(node, "the number of a contact", 1, 999));
    Some(RelayKeyLine { contact: contact?, opens_by_itself: opens_by_itself? })
}

fn read_supply(
    reader: &mut Reader,
    node: &Node,
    shelf: &mut Shelf<'_>,
    instruments: &mut Vec<Option<InstrumentAt>>,
) -> Option<SupplyKeyLine> {
    let mut fields = reader.fields(node, "the supply whose output keys")?;
    let set = fields.required(reader, "set");
    let limit = fields.required(reader, "limit");
    let instrument = shelf.instrument_in(reader, Role::Supply, &mut fields);
    fields.close(reader);
    let feeds = instruments.iter().flatten().any(|other| other.role == Role::Supply);
    let tells = instrument.as_ref().is_none_or(|instrument| match &instrument.profile.kind {
        Kind::Supply(profile) => profile.commands.has(SupplyCommand::Output).is_some(),
        _ => true,
    });
    instruments.push(instrument);
    if feeds {
        reader
            .mistake(
                node.span,
                "expected one supply on the bench, found one that feeds the unit and one that keys it",
            )
            .hint("let the supply feed the unit, and key it by a relay; or feed the unit from elsewhere");
        return None;
    }
    if !tells {
        reader
            .mistake(
                node.span,
                "expected a supply that says whether its output is on, found a profile without `output`",
            )
            .hint("add `output` to the commands of the profile, such as `output: \"OUTP?\"`");
        return None;
    }
    let set = set.and_then(|node| above_zero(reader, node, "a voltage", Volts::new(0.0)));
    let limit = limit.and_then(|node| above_zero(reader, node, "a current", Amperes::new(0.0)));
    Some(SupplyKeyLine { set: set?, limit: limit? })
}

/// There is one way to key by hand.
fn read_operator(reader: &mut Reader, node: &Node) -> Option<KeyMethod> {
    if reader.flag(node, "`true`")? {
        return Some(KeyMethod::Operator);
    }
    reader
        .mistake(node.span, "expected `operator: true`, found `false`")
        .hint("a unit that no person keys is keyed by `relay`, `serial_line`, `supply_output` or `command`");
    None
}

/// A port by its number may be another one after the next restart, and opening the wrong one may key something.
fn is_port(reader: &mut Reader, node: &Node, path: &str) -> bool {
    let by_id = path.strip_prefix(PORTS_BY_ID).is_some_and(|name| !name.is_empty() && !name.contains('/'));
    let simulated =
        path.starts_with('/') && !path.starts_with("/dev/") && !path.split('/').any(|part| part == "..");
    if by_id || simulated {
        return true;
    }
    let hint = "name the port by what is plugged in: `ls /dev/serial/by-id`. A path outside `/dev` is the control line \
                of a simulated bench, written from `/` on";
    let message = format!("expected a port under `{PORTS_BY_ID}`, found `{path}`");
    reader.mistake(node.span, message).hint(hint);
    false
}

/// Told again three times within it, a shorter time would leave no room for one slow answer.
const SHORTEST_OPENING: f64 = 0.5;

fn read_opening(reader: &mut Reader, node: &Node) -> Option<Seconds> {
    let span: Seconds = reader.parse(node, "a time")?;
    if span.get() < SHORTEST_OPENING {
        let message = format!("expected a time of {SHORTEST_OPENING} s or more, found {span}");
        reader.mistake(node.span, message).hint("1 s leaves room for an answer that comes late");
        return None;
    }
    Some(span)
}

/// How long a command that keys may take, in seconds, and the most and the least that may be stated: a key that takes
/// longer to go down counts as failed.
const COMMAND_WITHIN: f64 = 2.0;
const SHORTEST_COMMAND: f64 = 0.1;

fn read_command(reader: &mut Reader, node: &Node) -> Option<CommandKeyLine> {
    let mut fields = reader.fields(node, "the commands that key")?;
    let down = fields.required(reader, "down");
    let up = fields.required(reader, "up");
    let state = fields.maybe(reader, "state", read_words);
    let within = fields.or(reader, "within", read_within, Seconds::new(COMMAND_WITHIN));
    fields.close(reader);
    let down = down.and_then(|node| read_words(reader, node));
    let up = up.and_then(|node| read_words(reader, node));
    Some(CommandKeyLine { down: down?, up: up?, state: state?, within: within? })
}

/// Program and arguments.
fn read_words(reader: &mut Reader, node: &Node) -> Option<Vec<String>> {
    let items = reader.list(node, "a program and its arguments")?;
    let words: Option<Vec<String>> =
        items.iter().map(|item| reader.text(item, "a word of a command").map(str::to_owned)).collect();
    let words = words?;
    if words.is_empty() {
        reader.mistake(node.span, "expected a program and its arguments, found an empty list");
        return None;
    }
    Some(words)
}

fn read_within(reader: &mut Reader, node: &Node) -> Option<Seconds> {
    let span: Seconds = reader.parse(node, "a time")?;
    if !(SHORTEST_COMMAND..=COMMAND_WITHIN).contains(&span.get()) {
        let message =
            format!("expected a time from {SHORTEST_COMMAND} s to {COMMAND_WITHIN} s, found {span}");
        reader.mistake(node.span, message).hint("a key that takes longer to go down has failed");
        return None;
    }
    Some(span)
}
