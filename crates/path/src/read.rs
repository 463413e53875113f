//! Parts as they are written in a bench, a plan or a table file.
//!
//! A part is the name of a table file, or a map with exactly one of `attenuator`, `touchstone` and `loss`.

mod loss;

use spurline_document::{Fields, Node, Reader, Value};
use spurline_units::{Db, Dbm, Power, Seconds, Watts};

use crate::calibration::Calibration;
use crate::distortion::{Distortion, Intercepts};
use crate::mismatch::Reflection;
use crate::part::{Part, Stated};

/// Hands over the text of a file named relative to the document, or says why not.
pub(crate) type Open<'o> = &'o mut dyn FnMut(&str) -> Result<String, String>;

impl Part {
    /// Reads one part from its node; `open` hands over the text of a file named relative to the document.
    ///
    /// `None` means that at least one mistake was noted; an unknown key is noted beside a part that reads, and
    /// [`Reader::finish`] tells in the end. A mistake in a table file is shown at its place there, one
    /// in a Touchstone file at the node with the line of the file in the message.
    pub fn read(
        reader: &mut Reader,
        node: &Node,
        open: &mut dyn FnMut(&str) -> Result<String, String>,
    ) -> Option<Self> {
        if matches!(node.value, Value::Scalar(_)) {
            let found = loss::table_file(reader, node, open)?;
            let uncertainty = uncertainty(reader, node, None, found.uncertainty)?;
            return Some(Self {
                name: found.name,
                loss: found.loss,
                uncertainty,
                rated: None,
                time_constant: None,
                vswr: None,
                calibration: found.calibration,
                distorts: None,
            });
        }
        let mut fields = reader.fields(node, "a part")?;
        let kind = fields.one_of(reader, &["attenuator", "touchstone", "loss"]);
        let name =
            fields.maybe(reader, "name", |reader, node| reader.text(node, "a name").map(str::to_owned));
        let rated = fields.maybe(reader, "rated", rated);
        let time_constant = fields.maybe(reader, "time_constant", time_constant);
        let vswr = fields.maybe(reader, "vswr", vswr);
        let stated = fields.maybe(reader, "uncertainty", positive);
        let calibration = Calibration::read(reader, &mut fields);
        let place_of_calibration = fields.span();
        let distorts = fields.maybe(reader, "distorts", distorts);
        let mut found = kind.and_then(|(key, value)| found(reader, &mut fields, key, value, open));
        fields.close(reader);
        let uncertainty = found.as_mut().zip(kind).zip(stated).and_then(|((found, (_, value)), stated)| {
            uncertainty(reader, value, stated, found.uncertainty.take())
        });

        // A value that was written and does not read has been noted and makes the part unusable.
        let (name, rated, time_constant) = (name?, rated?, time_constant?);
        let (vswr, calibration, distorts) = (vswr?, calibration?, distorts?);
        let found = found?;
        let calibration = match (calibration, found.calibration) {
            (Some(_), Some(_)) => {
                reader
                    .mistake(place_of_calibration, "the calibration of this part is stated twice")
                    .hint("leave the days out here: they stand in its table file");
                return None;
            }
            (here, file) => here.or(file),
        };
        Some(Self {
            name: name.unwrap_or(found.name),
            loss: found.loss,
            uncertainty: uncertainty?,
            rated,
            time_constant,
            vswr,
            calibration,
            distorts,
        })
    }
}

fn found(
    reader: &mut Reader,
    fields: &mut Fields<'_>,
    key: &'static str,
    value: &Node,
    open: Open<'_>,
) -> Option<loss::Found> {
    match key {
        "attenuator" => loss::attenuator(reader, fields, value, open),
        "touchstone" => loss::touchstone_file(reader, value, open),
        _ => loss::table(reader, value, open),
    }
}

/// The uncertainty from the part or from its table file, and from one of them only.
fn uncertainty(
    reader: &mut Reader,
    node: &Node,
    here: Option<Stated<Db>>,
    file: Option<Stated<Db>>,
) -> Option<Stated<Db>> {
    match (here, file) {
        (Some(one), None) | (None, Some(one)) => Some(one),
        (Some(_), Some(file)) => {
            reader
                .mistake(node.span, "the uncertainty of this part is stated twice")
                .hint(format!("remove one of the two: it also stands as {}", file.source));
            None
        }
        (None, None) => {
            reader
                .mistake(node.span, "this part lacks the key `uncertainty`")
                .hint("write the uncertainty of its loss from the certificate, expanded, k = 2: `uncertainty: 0.15 dB`");
            None
        }
    }
}

/// An uncertainty in dB, not below zero, with its place.
fn positive(reader: &mut Reader, node: &Node) -> Option<Stated<Db>> {
    let value: Db = reader.parse(node, "an uncertainty in dB")?;
    if value.get() < 0.0 {
        reader.mistake(node.span, format!("expected an uncertainty of 0 dB or more, found {value}"));
        return None;
    }
    Some(Stated::new(value, place(reader, "uncertainty", node)))
}

fn time_constant(reader: &mut Reader, node: &Node) -> Option<Seconds> {
    let span: Seconds = reader.parse(node, "a time")?;
    if span.get() < SHORTEST_CONSTANT {
        reader
            .mistake(node.span, format!("expected a time from {SHORTEST_CONSTANT} s up, found {span}"))
            .hint("it is that of the body, minutes for a part of some watts");
        return None;
    }
    Some(span)
}

/// No body of a part that bears watts warms faster.
const SHORTEST_CONSTANT: f64 = 1.0;

fn rated(reader: &mut Reader, node: &Node) -> Option<Watts> {
    reader.parse::<Power>(node, "a power").map(Power::watts)
}

/// `unknown`, or the intercepts that somebody guarantees.
fn distorts(reader: &mut Reader, node: &Node) -> Option<Stated<Distortion>> {
    let found = if matches!(node.value, Value::Scalar(_)) {
        reader.choice(node, "`unknown` or a map of intercepts", &[("unknown", Distortion::Unknown)])?
    } else {
        let mut fields = reader.fields(node, "what a part makes by itself")?;
        let [second, third] = ["second_intercept", "third_intercept"].map(|key| fields.required(reader, key));
        fields.close(reader);
        let [second, third] =
            [second, third].map(|node| node.and_then(|node| reader.parse::<Dbm>(node, "a level in dBm")));
        Distortion::AtMost(Intercepts { second: second?, third: third? })
    };
    Some(Stated::new(found, place(reader, "distorts", node)))
}

fn vswr(reader: &mut Reader, node: &Node) -> Option<Stated<Reflection>> {
    let vswr = reader.parse(node, "a standing wave ratio")?;
    Some(Stated::new(Reflection::from_vswr(vswr), place(reader, "vswr", node)))
}

/// A key and where its value stands, for the budget line that uses it.
fn place(reader: &Reader, key: &str, node: &Node) -> String {
    let (line, _) = reader.source().line_and_column(node.span);
    format!("`{key}` in {}, line {line}", reader.source().name())
}

#[cfg(test)]
mod tests;
