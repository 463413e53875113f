//! The whole searched spectrum: the highest of all sweeps over the logarithm of the frequency, with and without the key,
//! the limit, and the lines that were found.

use spurline_record::{Quantity, Reading};

use super::scale::Scale;
use super::svg::{Anchor, Drawing, Point};

const WIDTH: f64 = 720.0;
const HEIGHT: f64 = 300.0;
const LEFT: f64 = 44.0;
const RIGHT: f64 = 8.0;
const TOP: f64 = 30.0;
const BOTTOM: f64 = 24.0;
const STEPS: u32 = 8;
/// The columns of the series of a search.
const COLUMNS: usize = 4;

/// Draws the spectrum of a search with the lines found among the readings of its scope; `None` for other readings.
pub(crate) fn spectrum(reading: &Reading, scope: &[&Reading]) -> Option<String> {
    let series = reading.series.as_ref().filter(|_| reading.quantity == Quantity::Search)?;
    let [frequency, keyed, unkeyed, limit] = series.columns.get(..COLUMNS)? else { return None };
    let places = || frequency.values.iter().flatten().copied().filter(|f| f.is_finite() && *f > 0.0);
    let (low, high) = (places().reduce(f64::min)?, places().reduce(f64::max)?);
    if high <= low {
        return None;
    }
    let found: Vec<(f64, f64)> = scope
        .iter()
        .filter(|other| other.quantity == Quantity::Spurious && other.ordinal < reading.ordinal)
        .filter_map(|other| Some((other.frequency.get(), other.level()?.get())))
        .collect();
    let columns = [keyed, unkeyed, limit];
    let levels: Vec<f64> = columns
        .iter()
        .flat_map(|column| column.values.iter().flatten().copied())
        .chain(found.iter().map(|(_, level)| *level))
        .collect();
    let scale = Scale::over(levels.into_iter(), STEPS)?;
    let x = |f: f64| LEFT + (f / low).ln() / (high / low).ln() * (WIDTH - LEFT - RIGHT);
    let y = |level: f64| TOP + (1.0 - scale.part(level)) * (HEIGHT - TOP - BOTTOM);
    let label = format!("levels from {low:.0} Hz to {high:.0} Hz, {} lines found", found.len());
    let mut drawing = Drawing::new(WIDTH, HEIGHT, &label);
    for (level, words) in scale.lines() {
        drawing.line((LEFT, y(level)), (WIDTH - RIGHT, y(level)), "grid");
        drawing.text((LEFT - 6.0, y(level) + 4.0), Anchor::End, "axis", &words);
    }
    for (at, words) in decades(low, high) {
        drawing.line((x(at), TOP), (x(at), HEIGHT - BOTTOM), "grid");
        drawing.text((x(at), HEIGHT - 7.0), Anchor::Middle, "axis", &words);
    }
    for (column, class) in [(unkeyed, "unkeyed"), (keyed, "trace"), (limit, "limit")] {
        let placed: Vec<Option<Point>> = frequency
            .values
            .iter()
            .zip(&column.values)
            .map(|(f, level)| f.zip(*level).filter(|(f, level)| *f > 0.0 && level.is_finite()))
            .map(|place| place.map(|(f, level)| (x(f), y(level))))
            .collect();
        let pieces: Vec<Vec<Point>> =
            placed.split(Option::is_none).map(|piece| piece.iter().flatten().copied().collect()).collect();
        drawing.path(&pieces, class);
    }
    for (at, level) in &found {
        let (x, tip) = (x(at.clamp(low, high)), y(*level) - 2.0);
        drawing.path(&[vec![(x, tip), (x - 5.0, tip - 9.0), (x + 5.0, tip - 9.0), (x, tip)]], "peak");
    }
    drawing.text(
        (2.0, 14.0),
        Anchor::Start,
        "axis",
        "level at the connector, dBm: keyed, not keyed (dashed), limit, lines found",
    );
    Some(drawing.finish())
}

/// Powers of ten within the range, with their words.
fn decades(low: f64, high: f64) -> Vec<(f64, String)> {
    let all = (low.log10().ceil() as i32)..=(high.log10().floor() as i32);
    all.map(|decade| {
        let at = 10f64.powi(decade);
        let words = match decade {
            ..3 => format!("{at} Hz"),
            3..6 => format!("{} kHz", at / 1e3),
            6..9 => format!("{} MHz", at / 1e6),
            _ => format!("{} GHz", at / 1e9),
        };
        (at, words)
    })
    .collect()
}
