//! The key line of a bench.

use spurline_document::{Node, Reader};
use spurline_record::Role;
use spurline_units::Seconds;

use super::Shelf;
use crate::bench::InstrumentAt;
use crate::key_line::{BenchKey, CommandKeyLine, KeyMethod, RelayKeyLine, SerialKeyLine};

/// Where the system names ports by what is plugged in.
const PORTS_BY_ID: &str = "/dev/serial/by-id/";

pub(super) fn read(
    reader: &mut Reader,
    node: &Node,
    shelf: &mut Shelf<'_>,
    instruments: &mut Vec<Option<InstrumentAt>>,
) -> Option<BenchKey> {
    let mut fields = reader.fields(node, "the key")?;
    let (method, of) = fields.one_of(reader, &["relay", "serial_line", "command"])?;
    let method = match method {
        "relay" => {
            fields.close(reader);
            KeyMethod::Relay(read_relay(reader, of, shelf, instruments)?)
        }
        "serial_line" => {
            let line = fields.optional("line");
            let active_low = fields.or(reader, "active", read_active, false);
            let two_lines = fields.or(reader, "two_lines", read_flag, false);
            fields.close(reader);
            let path = reader.text(of, "the path of a serial port").map(str::to_owned);
            let path = path.filter(|path| is_port(reader, of, path));
            let (active_low, two_lines) = (active_low?, two_lines?);
            let rts = match line {
                Some(line) => reader.choice(line, "a control line", &[("rts", true), ("dtr", false)])?,
                None if two_lines => false,
                None => {
                    let message = "expected `line`, the control line that keys, found none";
                    reader.mistake(node.span, message).hint("write `line: rts` or `line: dtr`");
                    return None;
                }
            };
            if active_low && two_lines {
                let message = "expected `active: high` with `two_lines`, found `low`";
                reader.mistake(node.span, message).hint("two lines key while DTR is asserted and RTS is not");
                return None;
            }
            KeyMethod::SerialLine(SerialKeyLine { path: path?, rts, active_low, two_lines })
        }
        _ => {
            fields.close(reader);
            KeyMethod::Command(read_command(reader, of)?)
        }
    };
    Some(BenchKey { method, span: node.span })
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

fn read_active(reader: &mut Reader, node: &Node) -> Option<bool> {
    reader.choice(node, "what keys", &[("high", false), ("low", true)])
}

fn read_flag(reader: &mut Reader, node: &Node) -> Option<bool> {
    reader.flag(node, "`true` or `false`")
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
