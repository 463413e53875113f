//! The figures of one unit over the axis of a course.

use spurline_record::{Column, Limit, Unit};

use super::{finite, named};
use crate::drawing::measure::fitted;
use crate::drawing::scale::Scale;
use crate::drawing::svg::{Anchor, Drawing, Point};
use crate::{figures, limit};

/// The size of the font, which the style sheet repeats.
const FONT: f64 = 12.0;
/// From the top of a panel to its highest figure: what it shows.
const HEAD: f64 = 28.0;
/// Under the lowest figure.
const BELOW: f64 = 12.0;
const LEFT: f64 = 50.0;
const RIGHT: f64 = 12.0;
/// The names of several lines behind their ends.
const NAMES: f64 = 98.0;
/// From one of those names to the next.
const LINE: f64 = 14.0;
const HEIGHT: f64 = 104.0;
const STEPS: u32 = 5;
/// Dashes by which several lines differ.
const DASHES: [&str; 4] = ["course", "course second", "course third", "course fourth"];

/// Where the panels stand from the left.
pub(super) struct Form {
    width: f64,
    pub(super) left: f64,
    pub(super) right: f64,
    /// The most points that are marked one by one.
    marked: usize,
}

impl Form {
    /// The form of a drawing, with room for the names of several lines if there are any.
    pub(super) const fn of(width: f64, names: bool) -> Self {
        let right = width - if names { NAMES } else { RIGHT };
        Self { width, left: LEFT, right, marked: (width / 12.0) as usize }
    }

    /// Where a figure of the axis is.
    pub(super) fn x(&self, axis: &Scale, at: f64) -> f64 {
        self.left + axis.part(at) * (self.right - self.left)
    }
}

/// The lines of one unit.
pub(super) struct Panel<'a> {
    form: &'a Form,
    axis: &'a Scale,
    unit: Unit,
    along: &'a Column,
    columns: Vec<&'a Column>,
    limit: Option<&'a Limit>,
    limits: Vec<f64>,
    scale: Scale,
    top: f64,
    height: f64,
}

impl<'a> Panel<'a> {
    /// A panel from `top` down; `None` if it would be empty.
    pub(super) fn new(
        form: &'a Form,
        axis: &'a Scale,
        (unit, along, columns): (Unit, &'a Column, Vec<&'a Column>),
        limit: Option<&'a Limit>,
        top: f64,
    ) -> Option<Self> {
        columns.iter().find_map(|column| finite(column).next())?;
        let limits = limits(limit, unit, top == 0.0);
        let all: Vec<f64> =
            columns.iter().flat_map(|column| finite(column)).chain(limits.iter().copied()).collect();
        let scale = Scale::of_figures(all.into_iter(), STEPS)?;
        let height = HEIGHT.max(columns.len() as f64 * LINE);
        Some(Self { form, axis, unit, along, columns, limit, limits, scale, top, height })
    }

    /// Where it ends.
    pub(super) fn bottom(&self) -> f64 {
        self.top + HEAD + self.height + BELOW
    }

    pub(super) fn draw(&self, drawing: &mut Drawing) {
        let (left, right) = (self.form.left, self.form.right);
        drawing.text((2.0, self.top + 14.0), Anchor::Start, "axis", &self.title());
        for (figure, words) in self.scale.lines() {
            let y = self.y(figure);
            drawing.line((left, y), (right, y), "grid");
            drawing.text((left - 6.0, y + 4.0), Anchor::End, "axis", &words);
        }
        for (at, _) in self.axis.lines() {
            let x = self.form.x(self.axis, at);
            drawing.line((x, self.top + HEAD), (x, self.top + HEAD + self.height), "grid");
        }
        let class = if matches!(self.limit, Some(Limit::Several(_))) { "limit several" } else { "limit" };
        for limit in &self.limits {
            drawing.line((left, self.y(*limit)), (right, self.y(*limit)), class);
        }
        for (column, class) in self.columns.iter().zip(DASHES.iter().cycle()) {
            self.line(drawing, column, class);
        }
        if self.columns.len() > 1 {
            self.names(drawing);
        }
    }

    fn y(&self, figure: f64) -> f64 {
        self.top + HEAD + (1.0 - self.scale.part(figure)) * self.height
    }

    /// What the lines are, and the limit if it is drawn here.
    fn title(&self) -> String {
        let what = match self.columns.as_slice() {
            [only] => named(only),
            several => {
                let names: Vec<&str> = several.iter().map(|column| column.name.as_str()).collect();
                let names = match names.as_slice() {
                    [first, _, _, .., last] => format!("{first} to {last}"),
                    few => few.join(", "),
                };
                format!("{names}, {}", self.unit.symbol())
            }
        };
        let limit = if self.limits.is_empty() { String::new() } else { figures::against(self.limit) };
        let words = if limit.is_empty() { what } else { format!("{what}; {limit}") };
        fitted(&words, self.form.width - 4.0, FONT)
    }

    fn points(&self, column: &Column) -> Vec<Option<Point>> {
        let places = self.along.values.iter().zip(&column.values);
        let finite = |value: &Option<f64>| value.filter(|value| value.is_finite());
        places
            .map(|(at, figure)| finite(at).zip(finite(figure)))
            .map(|place| place.map(|(at, figure)| (self.form.x(self.axis, at), self.y(figure))))
            .collect()
    }

    /// A line in as many pieces as there are gaps; points that are few, or alone between two gaps, are marked.
    fn line(&self, drawing: &mut Drawing, column: &Column, class: &str) {
        let points = self.points(column);
        let pieces: Vec<Vec<Point>> =
            points.split(Option::is_none).map(|piece| piece.iter().flatten().copied().collect()).collect();
        drawing.path(&pieces, class);
        let few = points.iter().flatten().count() <= self.form.marked;
        for piece in pieces.iter().filter(|piece| few || piece.len() == 1) {
            for point in piece {
                drawing.dot(*point, 2.5, "full");
            }
        }
    }

    /// The name of each line where it comes nearest to the right edge, moved so far that none lies on another.
    fn names(&self, drawing: &mut Drawing) {
        let end = |column: &&&Column| {
            let points = self.points(column);
            points.into_iter().flatten().max_by(|one, other| one.0.total_cmp(&other.0)).map(|(_, y)| y)
        };
        let mut places: Vec<(f64, &str)> =
            self.columns.iter().filter_map(|c| Some((end(&c)?, c.name.as_str()))).collect();
        places.sort_by(|one, other| one.0.total_cmp(&other.0));
        let floor = self.top + HEAD + self.height;
        let count = places.len();
        let mut free = self.top + HEAD;
        for (place, (y, name)) in places.into_iter().enumerate() {
            // What is still to come needs its room below.
            let last = floor - (count - 1 - place) as f64 * LINE;
            let base = (y + 4.0).max(free).min(last);
            let words = fitted(name, NAMES - 10.0, FONT);
            drawing.text((self.form.right + 8.0, base), Anchor::Start, "axis", &words);
            free = base + LINE;
        }
    }
}

/// A limit as figures of a unit; that of the reading's own power belongs into its first panel alone.
fn limits(limit: Option<&Limit>, unit: Unit, is_first: bool) -> Vec<f64> {
    let all = match (limit, unit) {
        (Some(Limit::Between { low, high, unit: of }), _) if *of == unit => {
            [*low, *high].into_iter().flatten().collect()
        }
        (Some(Limit::Between { .. }) | None, _) => Vec::new(),
        (Some(Limit::Window { low, high }), Unit::W) if is_first => vec![*low, *high],
        (Some(Limit::Upper { level, .. }), Unit::W) if is_first => vec![level.to_watts().get()],
        (Some(Limit::Several(levels)), Unit::W) if is_first => {
            levels.iter().map(|level| level.to_watts().get()).collect()
        }
        (limit, Unit::Dbm) if is_first => limit::levels(limit),
        _ => Vec::new(),
    };
    all.into_iter().filter(|end: &f64| end.is_finite()).collect()
}
