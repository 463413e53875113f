//! A course as plain text: the figures of a series in columns of at most 80 characters in all.

use spurline_record::{Column, Quantity, Reading, Unit};

use crate::text::plain;

/// Columns beside the first that stand next to one another; more begin a table below.
const ABREAST: usize = 6;
/// The widest column: seven of them with a blank before each fit 80.
const WIDEST: usize = 10;
/// Before each column.
const GAP: usize = 1;

/// A column as text: the lines of its heading, and its figures.
struct Shown {
    heading: Vec<String>,
    cells: Vec<String>,
}

/// Whether the series of a reading is a course that is shown figure by figure.
pub(crate) fn is_one(reading: &Reading) -> bool {
    matches!(reading.quantity, Quantity::PowerOverSupply | Quantity::PowerOverTime)
}

/// The course of a reading against time or supply voltage, in lines of at most 80 columns; `None` for other readings.
///
/// Of more than `most` rows only some at equal distances are shown, and the last; a line says so.
#[must_use]
pub fn course(reading: &Reading, most: usize) -> Option<String> {
    let series = reading.series.as_ref().filter(|_| is_one(reading))?;
    let (along, columns) = series.columns.split_first()?;
    let rows = along.values.len();
    let every = rows.div_ceil(most.max(1)).max(1);
    let shown: Vec<usize> = (0..rows).filter(|row| row % every == 0 || row + 1 == rows).collect();
    let mut text = String::new();
    for abreast in columns.chunks(ABREAST) {
        let columns: Vec<Shown> = std::iter::once(along)
            .chain(abreast)
            .map(|column| Shown { heading: heading(column), cells: cells(column, &shown) })
            .collect();
        let head = columns.iter().map(|column| column.heading.len()).max().unwrap_or(0);
        let widths: Vec<usize> =
            columns.iter().map(|column| widest(&column.heading).max(widest(&column.cells))).collect();
        let mut line = |cell: &dyn Fn(&Shown) -> String| {
            let cells = columns.iter().zip(&widths);
            let words: String =
                cells.map(|(column, width)| format!("{:>1$}", cell(column), width + GAP)).collect();
            text.push_str(&format!(" {}\n", words.trim_end()));
        };
        for place in 0..head {
            // Headings stand on their last line.
            line(&|Shown { heading, .. }| {
                let above = head - heading.len();
                place.checked_sub(above).map_or_else(String::new, |place| heading[place].clone())
            });
        }
        for place in 0..shown.len() {
            line(&|column| column.cells[place].clone());
        }
    }
    if every > 1 {
        text.push_str(&format!("  {} of {rows} rows; the whole reading has them all\n", shown.len()));
    }
    (!columns.is_empty() && rows > 0).then_some(text)
}

fn widest(cells: &[String]) -> usize {
    cells.iter().map(|cell| cell.chars().count()).max().unwrap_or(0)
}

/// The name in short lines, and the unit below.
fn heading(column: &Column) -> Vec<String> {
    let name = plain(&column.name).replace('\n', " ");
    let options = textwrap::Options::new(WIDEST).break_words(true);
    let mut lines: Vec<String> = textwrap::wrap(&name, options).into_iter().map(Into::into).collect();
    lines.push(column.unit.symbol().to_owned());
    lines
}

fn cells(column: &Column, rows: &[usize]) -> Vec<String> {
    let cell = |row: &usize| {
        let value = column.values.get(*row).copied().flatten().filter(|value| value.is_finite());
        let digits = digits(column.unit);
        let shown = value.map_or_else(|| "-".to_owned(), |value| format!("{value:.digits$}"));
        if shown.len() > WIDEST { format!("{:.2e}", value.unwrap_or_default()) } else { shown }
    };
    rows.iter().map(cell).collect()
}

const fn digits(unit: Unit) -> usize {
    match unit {
        Unit::W | Unit::A => 3,
        Unit::Dbm | Unit::Db | Unit::V | Unit::S => 2,
        Unit::Percent => 1,
        Unit::Hz => 0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_stand_below_their_names() {
        let column = |name: &str, unit, values: &[Option<f64>]| Column {
            name: name.to_owned(),
            unit,
            values: values.to_vec(),
        };
        let power = column("carrier power", Unit::W, &[Some(4.7), None]);
        assert_eq!(heading(&power), ["carrier", "power", "W"]);
        assert_eq!(cells(&power, &[0, 1]), ["4.700", "-"]);
        assert_eq!(cells(&column("x", Unit::Hz, &[Some(f64::MAX)]), &[0]), ["1.80e308"]);
        assert!(heading(&column(&"x".repeat(300), Unit::V, &[])).iter().all(|line| line.len() <= WIDEST));
    }
}
