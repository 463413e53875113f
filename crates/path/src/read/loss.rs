//! The loss of a part: a figure, a table, or a file that holds one.

use spurline_document::{Document, Fields, Node, Reader, Value};
use spurline_units::{Db, Hertz, Range};

use super::{Open, place, positive};
use crate::calibration::Calibration;
use crate::measured::Measured;
use crate::part::{Loss, Stated};
use crate::table::LossTable;
use crate::touchstone::Touchstone;

/// A loss, and what comes with it.
pub(super) struct Found {
    /// What the part is called if nobody names it.
    pub(super) name: String,
    pub(super) loss: Stated<Loss>,
    /// From the table file, where it states one.
    pub(super) uncertainty: Option<Stated<Db>>,
    /// From the table file as well.
    pub(super) calibration: Option<Calibration>,
}

impl Found {
    /// A loss with nothing beside it.
    fn bare(name: String, loss: Stated<Loss>) -> Self {
        Self { name, loss, uncertainty: None, calibration: None }
    }
}

/// `attenuator`: a nominal loss with the range `over` which it holds, or a file.
pub(super) fn attenuator(
    reader: &mut Reader,
    fields: &mut Fields<'_>,
    node: &Node,
    open: Open<'_>,
) -> Option<Found> {
    let text = reader.text(node, "a loss in dB or a file")?;
    if !is_quantity(text) {
        return if is_table_file(text) {
            table_file(reader, node, open)
        } else {
            touchstone_file(reader, node, open)
        };
    }
    let over = fields.optional("over").map(|node| range(reader, node));
    if over.is_none() {
        reader
            .mistake(node.span, "an attenuator given as a figure lacks the key `over`")
            .hint("write the range over which the figure and its uncertainty hold: `over: 9 kHz..3 GHz`");
    }
    let loss: Db = reader.parse(node, "a loss in dB")?;
    if loss.get() < 0.0 {
        reader
            .mistake(node.span, format!("expected a loss, found a gain of {}", -loss))
            .hint("write a loss as a positive number of dB; an amplifier is no part of a path");
        return None;
    }
    let loss_stated = Stated::new(Loss::Flat { loss, over: over?? }, place(reader, "attenuator", node));
    Some(Found::bare(format!("attenuator {text}"), loss_stated))
}

/// Whether a text is a number, with or without a unit, rather than the name of a file.
fn is_quantity(text: &str) -> bool {
    let number = text.trim_end_matches(|c: char| c.is_ascii_alphabetic()).trim_end();
    number.parse::<f64>().is_ok()
}

fn is_table_file(name: &str) -> bool {
    let name = name.to_ascii_lowercase();
    [".yaml", ".yml"].iter().any(|ending| name.ends_with(ending))
}

/// A range of frequencies, where `DC` may stand for the lower end.
fn range(reader: &mut Reader, node: &Node) -> Option<Range<Hertz>> {
    let text = reader.text(node, "a range of frequencies")?;
    let parsed = match text.strip_prefix("DC") {
        Some(rest) => format!("0 Hz{rest}").parse(),
        None => text.parse(),
    };
    parsed.map_err(|error| reader.error(node.span, &error)).ok()
}

/// `loss`: a table of pairs, or the name of a file that holds one.
pub(super) fn table(reader: &mut Reader, node: &Node, open: Open<'_>) -> Option<Found> {
    if matches!(node.value, Value::Scalar(_)) {
        return table_file(reader, node, open);
    }
    let table = pairs(reader, node)?;
    let loss = Stated::new(Loss::Table(table), place(reader, "loss", node));
    Some(Found::bare("loss table".to_owned(), loss))
}

/// A YAML file with the key `loss` and, if they are stated there, `uncertainty`, the days of its calibration and how it
/// was measured.
pub(super) fn table_file(reader: &mut Reader, node: &Node, open: Open<'_>) -> Option<Found> {
    let file = reader.text(node, "the name of a table file")?;
    if !is_table_file(file) {
        reader
            .mistake(node.span, format!("expected a table file ending in `.yaml`, found `{file}`"))
            .hint("a Touchstone file is written as `{ touchstone: FILE, uncertainty: 0.15 dB }`");
        return None;
    }
    let text = opened(reader, node, file, open)?;
    let found = Document::parse(file, &text).and_then(|document| {
        let mut inner = Reader::new(&document);
        let found = table_document(&mut inner, &document.root, file);
        inner.finish(found)
    });
    reader.adopt(found)
}

fn table_document(reader: &mut Reader, root: &Node, file: &str) -> Option<Found> {
    let mut fields = reader.fields(root, "a table file")?;
    let rows = fields.required(reader, "loss");
    let uncertainty_node = fields.optional("uncertainty");
    let uncertainty = uncertainty_node.map(|node| positive(reader, node));
    let calibration = Calibration::read(reader, &mut fields);
    let measured = fields.maybe(reader, "measured", Measured::read);
    fields.close(reader);
    let rows = rows?;
    let table = rows_of_file(reader, rows)?;
    let place = place(reader, "loss", rows);
    let own = table.largest_uncertainty().map(|largest| Stated::new(largest, place.clone()));
    if let (Some(_), Some(node)) = (&own, uncertainty_node) {
        reader
            .mistake(node.span, "the uncertainty of this table is stated twice")
            .hint("remove it here: every row of the table has its own");
        return None;
    }
    measured?;
    Some(Found {
        name: base_name(file),
        loss: Stated::new(Loss::Table(table), place),
        uncertainty: own.or(uncertainty.flatten()),
        calibration: calibration?,
    })
}

/// Rows of frequency and loss; with a third value, its uncertainty, and with a fourth, the spread of the repeats.
fn rows_of_file(reader: &mut Reader, node: &Node) -> Option<LossTable> {
    let with_own = |row: &Node| matches!(&row.value, Value::List(items) if items.len() > 2);
    let rows = reader.list(node, "a table of frequency and loss")?;
    if !rows.iter().any(with_own) {
        return pairs(reader, node);
    }
    let read: Vec<_> = rows.iter().map(|row| measured_row(reader, row)).collect();
    let points = read.into_iter().collect::<Option<Vec<_>>>()?;
    ascending(reader, node, rows, LossTable::with_uncertainties(&points))
}

fn measured_row(reader: &mut Reader, row: &Node) -> Option<(Hertz, Db, Db)> {
    let items = reader.list(row, "a row of a measured table")?;
    let (frequency, loss, uncertainty, spread) = match items {
        [frequency, loss, uncertainty] => (frequency, loss, uncertainty, None),
        [frequency, loss, uncertainty, spread] => (frequency, loss, uncertainty, Some(spread)),
        _ => {
            reader
                .mistake(row.span, format!("expected the 3 or 4 values of a row, found {}", items.len()))
                .hint(
                    "write a frequency, its loss, the uncertainty and the spread of the repeats: \
                     `[145 MHz, 0.25 dB, 0.08 dB, 0.01 dB]`",
                );
            return None;
        }
    };
    let frequency = reader.parse(frequency, "a frequency");
    let loss = reader.parse(loss, "a loss in dB");
    let uncertainty = positive(reader, uncertainty);
    let spread = spread.map_or(Some(()), |node| positive(reader, node).map(drop));
    let (uncertainty, ()) = (uncertainty?, spread?);
    Some((frequency?, loss?, uncertainty.value))
}

/// Pairs of frequency and loss.
fn pairs(reader: &mut Reader, node: &Node) -> Option<LossTable> {
    let rows = reader.list(node, "a table of frequency and loss")?;
    // All rows are read before any is given up, so that every mistake is noted.
    let pairs: Vec<_> = rows.iter().map(|row| pair(reader, row)).collect();
    let points = pairs.into_iter().collect::<Option<Vec<_>>>()?;
    ascending(reader, node, rows, LossTable::new(&points))
}

fn ascending(
    reader: &mut Reader,
    node: &Node,
    rows: &[Node],
    table: Result<LossTable, crate::table::TableError>,
) -> Option<LossTable> {
    table
        .map_err(|error| {
            let span = error.index().and_then(|index| rows.get(index)).map_or(node.span, |row| row.span);
            reader.error(span, &error);
        })
        .ok()
}

fn pair(reader: &mut Reader, row: &Node) -> Option<(Hertz, Db)> {
    let items = reader.list(row, "a pair of frequency and loss")?;
    let [frequency, loss] = items else {
        reader
            .mistake(row.span, format!("expected the 2 values of a row, found {}", items.len()))
            .hint("write a frequency and its loss: `[145 MHz, 0.25 dB]`");
        return None;
    };
    let frequency = reader.parse(frequency, "a frequency");
    let loss = reader.parse(loss, "a loss in dB");
    frequency.zip(loss)
}

/// A Touchstone file.
pub(super) fn touchstone_file(reader: &mut Reader, node: &Node, open: Open<'_>) -> Option<Found> {
    let file = reader.text(node, "the name of a Touchstone file")?;
    let text = opened(reader, node, file, open)?;
    match Touchstone::parse(&text) {
        Ok(two_port) => {
            let loss = Stated::new(Loss::TwoPort(two_port), file);
            Some(Found::bare(base_name(file), loss))
        }
        Err(error) => {
            let message = error.to_string();
            let (message, advice) = message.split_once('\n').unwrap_or((&message, ""));
            reader.mistake(node.span, format!("`{file}` does not read: {message}")).hint(advice);
            None
        }
    }
}

fn opened(reader: &mut Reader, node: &Node, file: &str, open: Open<'_>) -> Option<String> {
    open(file)
        .map_err(|why| {
            reader
                .mistake(node.span, format!("`{file}` does not open: {why}"))
                .hint("files are named relative to the file that names them");
        })
        .ok()
}

fn base_name(file: &str) -> String {
    file.rsplit(['/', '\\']).next().unwrap_or(file).to_owned()
}
