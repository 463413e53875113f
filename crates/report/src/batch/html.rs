//! A batch as one self-contained page: a strip for each reading, with a dot for each unit.

use askama::Template;
use spurline_record::Outcome;
use spurline_units::Hertz;

use super::{Batch, Concern, Row};
use crate::drawing::{Drawing, Rows, Scale, Width, rows};
use crate::figures;
use crate::page::finished;
use crate::paragraph::counted;
use crate::view::ReportError;

const STEPS: u32 = 6;
const BETWEEN_PANELS: f64 = 14.0;

#[derive(Template)]
#[template(path = "batch.html")]
struct Page<'a> {
    of: &'a Batch,
    sign: &'static str,
    class: &'static str,
    word: String,
    groups: Vec<Group<'a>>,
    /// How many units, in words.
    units: String,
    /// How many of them exceed, in words.
    meaning: String,
    odd: Vec<String>,
    concerns: Vec<Concern>,
}

/// The readings of one state of unit and bench.
struct Group<'a> {
    name: &'a str,
    wide: Option<Drawing>,
    narrow: Option<Drawing>,
    rows: Vec<&'a Row>,
}

/// The batch as a page, for example to be written to a file. It loads nothing and runs nothing.
///
/// # Errors
///
/// [`ReportError::Page`].
pub fn batch_html(batch: &Batch) -> Result<String, ReportError> {
    let mut places: Vec<&str> = Vec::new();
    for row in &batch.readings {
        if !places.contains(&row.place.as_str()) {
            places.push(&row.place);
        }
    }
    let group = |name: &&str| {
        let rows: Vec<&Row> = batch.readings.iter().filter(|row| row.place == **name).collect();
        let [wide, narrow] = [Width::Wide, Width::Narrow].map(|width| strips(&rows, width));
        (rows, wide, narrow)
    };
    let groups = places.iter().map(|name| {
        let (rows, wide, narrow) = group(name);
        Group { name, wide, narrow, rows }
    });
    let odd = batch.odd().map(|(row, dot)| {
        let median =
            row.median.map_or_else(String::new, |median| format!(", the median is {median:.2} {}", row.unit));
        format!("{}{median}", row.told(dot))
    });
    let seen = batch.outcome.map(|outcome| outcome.of_run_as_seen(batch.without_limit));
    let page = Page {
        of: batch,
        sign: seen.map_or("–", figures::sign),
        class: seen.map_or("soft", figures::class),
        word: batch.word(),
        groups: groups.collect(),
        units: counted(batch.serials.len(), "unit"),
        meaning: meaning(batch),
        odd: odd.collect(),
        concerns: batch.concerns(),
    };
    finished(&page)
}

fn meaning(batch: &Batch) -> String {
    match (batch.exceeding.len(), batch.serials.len()) {
        (0, _) if batch.undecided.is_empty() && batch.invalid.is_empty() => {
            "No unit exceeds a limit.".to_owned()
        }
        (0, _) => "No unit exceeds a limit, but not every reading is decided.".to_owned(),
        (1, 1) => "The unit exceeds a limit.".to_owned(),
        (1, all) => format!("1 of {all} units exceeds a limit."),
        (exceeding, all) => format!("{exceeding} of {all} units exceed a limit."),
    }
}

impl Row {
    pub(crate) fn frequency(&self) -> Hertz {
        Hertz::new(self.frequency_hz)
    }

    pub(crate) fn shown(&self, value: Option<&f64>, unit: &str) -> String {
        value.map_or_else(|| "–".to_owned(), |value| format!("{value:.2} {unit}"))
    }

    pub(crate) fn least(&self) -> String {
        let least = self.least_margin.as_ref();
        least.map_or_else(
            || "–".to_owned(),
            |(margin, serial)| {
                format!("{margin:+.2} {}: {serial}{}", self.unit_of_differences, self.least_to())
            },
        )
    }

    /// To which limit the smallest margin is, where there are several.
    fn least_to(&self) -> String {
        let against = self.least_margin_against.as_ref().filter(|_| self.limits_differ);
        against.map(|against| format!(", to {against}")).unwrap_or_default()
    }

    /// How many figures have an outcome.
    pub(crate) fn with(&self, outcome: Outcome) -> usize {
        self.units.iter().filter(|dot| dot.outcome == outcome).count()
    }

    /// The sign of the worst figure, and its style, where somebody has to look at it.
    fn mark(&self) -> Option<(&'static str, &'static str)> {
        let worst = self.units.iter().map(|dot| dot.outcome).max()?;
        match worst {
            Outcome::Exceeds => Some(("mark bad", figures::sign(worst))),
            Outcome::Invalid | Outcome::Undecided => Some(("mark unsure", figures::sign(worst))),
            Outcome::Complies | Outcome::NoLimit => None,
        }
    }

    pub(crate) fn counts(&self) -> String {
        let odd = self.units.iter().filter(|dot| dot.odd).count();
        let mut words = Vec::new();
        for (count, what) in [
            (self.with(Outcome::Exceeds), "exceed"),
            (self.with(Outcome::Invalid), "invalid"),
            (self.with(Outcome::Undecided), "undecided"),
            (self.with(Outcome::NoLimit), "without limit"),
            (odd, "unlike the others"),
            (self.bounds(), "below what can be seen"),
            (self.unseen.len(), "without this line"),
            (self.missing.len(), "not measured"),
        ] {
            if count > 0 {
                words.push(format!("{count} {what}"));
            }
        }
        words.join(", ")
    }
}

/// A strip for each reading that is a level; `None` if none is.
pub(crate) fn strips(all: &[&Row], width: Width) -> Option<Drawing> {
    let with_levels: Vec<&Row> = all
        .iter()
        .filter(|row| row.unit == "dBm" && row.units.iter().any(|dot| dot.value.is_some()))
        .copied()
        .collect();
    let (carriers, others): (Vec<&Row>, Vec<&Row>) = with_levels.iter().partition(|row| row.windows);
    let words = with_levels.iter().map(|row| {
        format!(
            "{}: median {}, {}",
            row.title,
            row.shown(row.median.as_ref(), row.unit),
            counted(row.units.len(), "unit")
        )
    });
    let label = format!("levels of all units against limits. {}", words.collect::<Vec<_>>().join(". "));
    let mut drawing = Drawing::new(rows::width_of(width), 0.0, &label);
    let mut top = 0.0;
    for of_kind in [carriers, others] {
        let shown = of_kind.iter().flat_map(|row| {
            row.units.iter().filter_map(|dot| dot.value).chain(row.limits.iter().copied()).collect::<Vec<_>>()
        });
        let shown: Vec<f64> = shown.collect();
        let Some(scale) = Scale::over(shown.into_iter(), STEPS) else { continue };
        let panel = Rows::new(width, scale, top);
        panel.axis(&mut drawing, "level at the connector, dBm", of_kind.len());
        for (place, row) in of_kind.iter().enumerate() {
            let exceeds = row.units.iter().any(|dot| dot.outcome == Outcome::Exceeds);
            let y = panel.row(&mut drawing, place, (&row.title, row.frequency()), exceeds);
            strip(&panel, &mut drawing, y, row);
            let words = row.median.map(|median| format!("{median:.1} dBm")).unwrap_or_default();
            panel.right(&mut drawing, place, &words, row.mark());
        }
        top = panel.bottom(of_kind.len()) + BETWEEN_PANELS;
    }
    drawing.set_height(top);
    (top > 0.0).then_some(drawing)
}

fn strip(panel: &Rows, drawing: &mut Drawing, y: f64, row: &Row) {
    for limit in &row.limits {
        panel.upright(drawing, *limit, y, "limit");
    }
    if let Some(median) = row.median {
        panel.upright(drawing, median, y, "floor");
    }
    for dot in &row.units {
        let Some(value) = dot.value else { continue };
        let class = if dot.bound {
            "unkeyed"
        } else if dot.odd {
            "open"
        } else {
            "full"
        };
        drawing.dot((panel.x(value), y), 3.0, class);
    }
}
