//! Where the unit must be silent, as a plan says it.

use spurline_document::{Node, Reader, Span, Value};
use spurline_units::{Hertz, Range, Seconds};

use super::{ceiling, refuse_distress};
use crate::measure::{Ceiling, Silence};
use crate::read_bench::Shelf;

/// A plan that looks at more is a slip.
const MOST: usize = 100;

/// A list of frequencies, or a map with one and more.
pub(super) fn read(reader: &mut Reader, node: &Node, shelf: &mut Shelf<'_>) -> Option<Silence> {
    if matches!(node.value, Value::List(_)) {
        let source = "assumed: the plan has neither silent_at.threshold nor silent_at.rule".to_owned();
        return Some(Silence {
            frequencies: frequencies(reader, node)?,
            ceiling: Ceiling::Level { level: Silence::THRESHOLD, source },
            power: None,
            key_for: Silence::KEY_FOR,
            bands: Vec::new(),
        });
    }
    let mut fields = reader.fields(node, "where the unit must be silent")?;
    let at = fields.required(reader, "at");
    let ceiling =
        ceiling::read(reader, &mut fields, ("silent_at", "threshold"), Some(Silence::THRESHOLD), shelf);
    let power = fields.maybe(reader, "power", |reader, node| {
        Some((reader.text(node, "the name of a power setting")?.to_owned(), node.span))
    });
    let key_for = fields.or(reader, "key_for", read_time, Silence::KEY_FOR);
    let bands = fields.or(reader, "bands", read_bands, Vec::new());
    fields.close(reader);
    Some(Silence {
        frequencies: frequencies(reader, at?)?,
        ceiling: ceiling?,
        power: power?,
        key_for: key_for?,
        bands: bands?,
    })
}

fn frequencies(reader: &mut Reader, node: &Node) -> Option<Vec<(Hertz, Span)>> {
    let items = reader.list(node, "the frequencies")?;
    if items.is_empty() || items.len() > MOST {
        reader
            .mistake(node.span, format!("expected from 1 to {MOST} frequencies, found {}", items.len()))
            .hint("write `silent_at: [ 50.5 MHz, 223.5 MHz ]`");
        return None;
    }
    let read: Vec<Option<(Hertz, Span)>> = items
        .iter()
        .map(|item| {
            let frequency: Hertz = reader.parse(item, "a frequency")?;
            refuse_distress(reader, item, frequency)?;
            refuse_watched(reader, item, frequency)?;
            Some((frequency, item.span))
        })
        .collect();
    let frequencies: Vec<(Hertz, Span)> = read.into_iter().collect::<Option<_>>()?;
    let twice = frequencies
        .iter()
        .enumerate()
        .find(|(place, (at, _))| frequencies[..*place].iter().any(|(known, _)| known == at));
    if let Some((_, (at, span))) = twice {
        reader.mistake(*span, format!("{at} is named twice")).hint("leave one of them out");
        return None;
    }
    Some(frequencies)
}

/// What is watched for distress and safety beside what no plan keys: centre and half width in hertz. No channel of a unit
/// under test lies there unless it is made for it, and nobody needs to try (ITU Radio Regulations, Appendix 15, and the
/// aeronautical auxiliary frequency; from memory).
const WATCHED: [(f64, f64); 20] = [
    (490e3, 1e3),
    (500e3, 5e3),
    (518e3, 1e3),
    (2.182e6, 3e3),
    (2.1875e6, 1e3),
    (4.125e6, 3e3),
    (4.2075e6, 1e3),
    (4.2095e6, 1e3),
    (6.215e6, 3e3),
    (6.312e6, 1e3),
    (8.291e6, 3e3),
    (8.4145e6, 1e3),
    (12.29e6, 3e3),
    (12.577e6, 1e3),
    (16.42e6, 3e3),
    (16.8045e6, 1e3),
    (123.1e6, 25e3),
    (156.3e6, 25e3),
    (161.975e6, 25e3),
    (162.025e6, 25e3),
];

fn refuse_watched(reader: &mut Reader, node: &Node, frequency: Hertz) -> Option<()> {
    if WATCHED.iter().all(|(centre, half)| (frequency.get() - centre).abs() > *half) {
        return Some(());
    }
    reader
        .mistake(node.span, format!("{frequency} is watched for distress and safety and is not tried"))
        .hint("choose another frequency of the same band: a signal leaks even from a load");
    None
}

fn read_time(reader: &mut Reader, node: &Node) -> Option<Seconds> {
    let time: Seconds = reader.parse(node, "a time")?;
    if time < Silence::SHORTEST {
        reader
            .mistake(node.span, format!("expected a time from {} up, found {time}", Silence::SHORTEST))
            .hint("a transmitter may take a while to come up, and a band a while to be looked through");
        return None;
    }
    Some(time)
}

fn read_bands(reader: &mut Reader, node: &Node) -> Option<Vec<(Range<Hertz>, Span)>> {
    let items = reader.list(node, "the bands")?;
    let read: Vec<Option<(Range<Hertz>, Span)>> = items
        .iter()
        .map(|item| {
            let band: Range<Hertz> = reader.parse(item, "a band")?;
            if band.low() >= band.high() {
                reader
                    .mistake(item.span, format!("expected a band with some width, found {band}"))
                    .hint("write `136 MHz..174 MHz`");
                return None;
            }
            Some((band, item.span))
        })
        .collect();
    read.into_iter().collect()
}
