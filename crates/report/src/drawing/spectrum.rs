//! The whole searched spectrum: the highest of all sweeps over the logarithm of the frequency, with and without the key,
//! the limit, and the lines that were found.

use spurline_record::{Quantity, Reading};
use spurline_units::Hertz;

use super::scale::Scale;
use super::svg::{Anchor, Drawing, Point};
use super::{Width, foot, measure};

/// The size of the font, which the style sheet repeats.
const FONT: f64 = 12.0;
/// From one line of words to the next.
const LINE: f64 = 16.0;
const LEFT: f64 = 44.0;
const RIGHT: f64 = 8.0;
const BOTTOM: f64 = 24.0;
/// Between the words above and the highest level.
const ABOVE: f64 = 14.0;
/// The columns of the series of a search.
const COLUMNS: usize = 4;
/// Fewer marks than this do not tell where a range begins and ends.
const FEW: usize = 3;
const WHAT: &str = "level at the connector, dBm: keyed, not keyed (dashed), limit, lines found";

/// How large it is: its width, and the height of the levels.
struct Form {
    width: f64,
    height: f64,
    steps: u32,
    /// Half the width of an arrow onto a line that was found.
    arrow: f64,
}

const WIDE: Form = Form { width: 720.0, height: 246.0, steps: 8, arrow: 5.0 };
const NARROW: Form = Form { width: 360.0, height: 220.0, steps: 6, arrow: 4.0 };

/// Draws the spectrum of a search with the lines found among the readings of its scope; `None` for other readings.
pub(crate) fn spectrum(reading: &Reading, scope: &[&Reading], width: Width) -> Option<Drawing> {
    let form = match width {
        Width::Wide => &WIDE,
        Width::Narrow => &NARROW,
    };
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
    let scale = Scale::over(levels.into_iter(), form.steps)?;
    let right = form.width - RIGHT;
    let head = measure::wrapped(WHAT, form.width - 4.0, FONT, 3);
    let top = head.len() as f64 * LINE + ABOVE;
    let bottom = top + form.height;
    let x = |f: f64| LEFT + (f / low).ln() / (high / low).ln() * (right - LEFT);
    let y = |level: f64| top + (1.0 - scale.part(level)) * form.height;
    let label = format!("levels from {low:.0} Hz to {high:.0} Hz, {} lines found", found.len());
    let mut drawing = Drawing::new(form.width, bottom + BOTTOM, &label);
    for (line, words) in (1..).zip(&head) {
        drawing.text((2.0, f64::from(line) * LINE - 2.0), Anchor::Start, "axis", words);
    }
    for (level, words) in scale.lines() {
        drawing.line((LEFT, y(level)), (right, y(level)), "grid");
        drawing.text((LEFT - 6.0, y(level) + 4.0), Anchor::End, "axis", &words);
    }
    let marks = marks(low, high);
    for (at, _) in &marks {
        drawing.line((x(*at), top), (x(*at), bottom), "grid");
    }
    let marks = marks.into_iter().map(|(at, words)| (x(at), words));
    foot::words(&mut drawing, bottom + 17.0, (2.0, form.width - 2.0), marks);
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
        let (x, tip, half) = (x(at.clamp(low, high)), y(*level) - 2.0, form.arrow);
        let (left, right) = ((x - half, tip - 1.8 * half), (x + half, tip - 1.8 * half));
        drawing.path(&[vec![(x, tip), left, right, (x, tip)]], "peak");
    }
    Some(drawing)
}

/// Frequencies within the range that get a line, with their words: powers of ten, and where these are few also twice
/// and five times those; both ends where there would be hardly any.
fn marks(low: f64, high: f64) -> Vec<(f64, String)> {
    let times: &[f64] = if high / low < 300.0 { &[1.0, 2.0, 5.0] } else { &[1.0] };
    let decades = (low.log10().floor() as i32)..=(high.log10().ceil() as i32);
    let mut marks: Vec<(f64, String)> = decades
        .flat_map(|decade| times.iter().map(move |times| (decade, times * 10f64.powi(decade))))
        .filter(|(_, at)| (low..=high).contains(at))
        .map(|(decade, at)| {
            let words = match decade {
                ..3 => format!("{at:.0} Hz"),
                3..6 => format!("{:.0} kHz", at / 1e3),
                6..9 => format!("{:.0} MHz", at / 1e6),
                _ => format!("{:.0} GHz", at / 1e9),
            };
            (at, words)
        })
        .collect();
    if marks.len() < FEW {
        marks.extend([low, high].map(|at| (at, Hertz::new(at).to_string())));
        marks.sort_by(|one, other| one.0.total_cmp(&other.0));
    }
    marks
}
