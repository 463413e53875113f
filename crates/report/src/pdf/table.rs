//! Tables that go on over sheets with their heads repeated; the columns take the room that their contents need.

use super::element::{ElementId, Role};
use super::flow::{ASCENT, LEADING};
use super::font::Face;
use super::ink::Ink;
use super::lines::{lines, widest_word};
use super::sheets::{Placed, Sheets};

const SIZE: f32 = 7.5;
const BETWEEN: f32 = 8.0;
const ABOVE: f32 = 1.6;
const BELOW: f32 = 2.4;
/// The widest that a column grows for what must not be broken: names can be of any length.
const WIDEST_WHOLE: f32 = 130.0;

/// So many rows begin on one sheet with their heads.
const TOGETHER: usize = 3;

/// How a column stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Column {
    /// Words, broken into lines where they are many.
    Words,
    /// Figures, flush right and never broken.
    Figures,
    /// Short words that are not broken.
    Whole,
}

/// One cell.
#[derive(Clone, Debug)]
pub(crate) struct Cell {
    words: String,
    ink: Ink,
    face: Face,
}

impl<T: Into<String>> From<T> for Cell {
    fn from(words: T) -> Self {
        Self { words: words.into(), ink: Ink::BLACK, face: Face::Plain }
    }
}

impl Cell {
    /// In a colour.
    pub(crate) fn ink(self, ink: Ink) -> Self {
        Self { ink, ..self }
    }

    /// In bold letters.
    pub(crate) fn bold(self) -> Self {
        Self { face: Face::Bold, ..self }
    }

    /// In letters of one width.
    pub(crate) fn mono(self) -> Self {
        Self { face: Face::Mono, ..self }
    }
}

/// A table: its columns with their heads, and its rows.
pub(crate) struct Table {
    columns: Vec<(Column, &'static str)>,
    rows: Vec<Vec<Cell>>,
}

impl Table {
    pub(crate) fn new(columns: &[(Column, &'static str)]) -> Self {
        Self { columns: columns.to_vec(), rows: Vec::new() }
    }

    /// Names and what stands for each, without heads.
    pub(crate) fn facts() -> Self {
        Self::new(&[(Column::Words, ""), (Column::Words, "")])
    }

    pub(crate) fn row(&mut self, cells: impl IntoIterator<Item = Cell>) {
        self.rows.push(cells.into_iter().collect());
    }

    /// One name and what stands for it.
    pub(crate) fn fact(&mut self, name: &str, words: impl Into<String>) {
        self.row([Cell::from(name).ink(Ink::SOFT), Cell::from(words.into())]);
    }

    pub(crate) fn is_empty(&self) -> bool {
        self.rows.is_empty()
    }

    fn has_heads(&self) -> bool {
        self.columns.iter().any(|(_, head)| !head.is_empty())
    }
}

/// A row whose words are broken into lines.
struct Set {
    cells: Vec<(Vec<String>, Face, Ink)>,
}

impl Set {
    fn lines(&self) -> usize {
        self.cells.iter().map(|(lines, ..)| lines.len()).max().unwrap_or(0).max(1)
    }
}

/// Where the columns are.
struct Form<'t> {
    table: &'t Table,
    left: f32,
    widths: Vec<f32>,
}

impl Sheets<'_> {
    /// A table; nothing if it has no row.
    pub(crate) fn table(&mut self, table: &Table) {
        if table.is_empty() {
            return;
        }
        let form = Form { table, left: self.left(), widths: self.widths(table) };
        let head = table.has_heads().then(|| {
            let cells = table.columns.iter().map(|(_, head)| Cell::from(*head).ink(Ink::SOFT));
            self.set(&form, &cells.collect::<Vec<_>>())
        });
        let line = SIZE * LEADING;
        let tall = |row: &Set| row.lines() as f32 * line + ABOVE + BELOW;
        let head_tall = head.as_ref().map_or(0.0, tall);
        // No row stands alone at the foot of a sheet, nor one at the top of the next.
        let together: Vec<f32> =
            table.rows.iter().take(TOGETHER).map(|cells| tall(&self.set(&form, cells))).collect();
        let begins: f32 = if together.iter().sum::<f32>() > self.height() / 3.0 {
            together.first().copied().unwrap_or_default().min(6.0 * line + ABOVE + BELOW)
        } else {
            together.iter().sum()
        };
        self.begin(2.0, head_tall + begins);
        let of = self.element(Role::Table, None);
        self.head(&form, head.as_ref(), of);
        for (place, cells) in table.rows.iter().enumerate() {
            let row = self.set(&form, cells);
            if place > 0 && place + 2 == table.rows.len() {
                let both = tall(&row) + tall(&self.set(&form, &table.rows[place + 1]));
                if self.room() < both && self.room() >= tall(&row) && both < self.height() / 3.0 {
                    self.turn();
                    self.head(&form, head.as_ref(), None);
                }
            }
            self.whole_row(&form, head.as_ref(), &row, of);
        }
        self.y += 5.0;
    }

    /// A row, on the next sheet if it does not fit on this one, and over several if it fits on none.
    fn whole_row(&mut self, form: &Form<'_>, head: Option<&Set>, row: &Set, of: Option<ElementId>) {
        let line = SIZE * LEADING;
        let element = self.element(Role::Row, of);
        let kinds: Vec<Option<ElementId>> = row
            .cells
            .iter()
            .enumerate()
            .map(|(place, _)| {
                let is_name = place == 0 && !form.table.has_heads();
                self.element(if is_name { Role::HeadOfRow } else { Role::Cell }, element)
            })
            .collect();
        let tall = |lines: usize| ABOVE + lines as f32 * line + BELOW;
        let head_tall = head.map_or(0.0, |head| tall(head.lines()));
        let mut from = 0;
        while from < row.lines() {
            let rest = row.lines() - from;
            let fitting = ((self.room() - ABOVE - BELOW) / line).floor().max(0.0) as usize;
            // What fits on the next sheet goes there whole.
            if fitting < rest && (fitting == 0 || tall(rest) + head_tall <= self.height()) && !self.is_fresh()
            {
                self.turn();
                self.head(form, head, None);
                continue;
            }
            let until = row.lines().min(from + fitting.max(1));
            self.part_of_row(form, row, (from, until), &kinds);
            from = until;
        }
        let y = self.y - 0.4;
        let (left, right) = (form.left, form.left + self.width());
        self.place(Placed::Line { from: (left, y), to: (right, y), ink: Ink::RULE, width: 0.4 }, None);
    }

    /// The heads of the columns; where they are repeated they are not read out again.
    fn head(&mut self, form: &Form<'_>, head: Option<&Set>, of: Option<ElementId>) {
        let Some(head) = head else { return };
        let row = of.and_then(|table| self.element(Role::Row, Some(table)));
        let kinds: Vec<Option<ElementId>> = head
            .cells
            .iter()
            .map(|_| row.and_then(|row| self.element(Role::HeadOfColumn, Some(row))))
            .collect();
        self.part_of_row(form, head, (0, head.lines()), &kinds);
        let y = self.y - 0.4;
        let (left, right) = (form.left, form.left + self.width());
        self.place(Placed::Line { from: (left, y), to: (right, y), ink: Ink::BLACK, width: 0.8 }, None);
    }

    /// Some lines of a row.
    fn part_of_row(
        &mut self,
        form: &Form<'_>,
        row: &Set,
        (from, until): (usize, usize),
        kinds: &[Option<ElementId>],
    ) {
        let line = SIZE * LEADING;
        let mut x = form.left;
        for ((place, (words, face, ink)), kind) in row.cells.iter().enumerate().zip(kinds) {
            let width = form.widths[place];
            let flush_right = form.table.columns[place].0 == Column::Figures;
            for (at, words) in words.iter().enumerate().take(until).skip(from) {
                let wide = if flush_right { self.fonts.width(words, *face, SIZE) } else { width };
                let base = self.y + ABOVE + (at - from) as f32 * line + SIZE * ASCENT;
                self.words((x + (width - wide).max(0.0), base), words, (*face, SIZE, *ink), *kind);
            }
            x += width + BETWEEN;
        }
        self.y += ABOVE + (until - from) as f32 * line + BELOW;
    }

    fn set(&self, form: &Form<'_>, cells: &[Cell]) -> Set {
        let cells = cells.iter().zip(&form.widths).map(|(cell, width)| {
            // As wide as what was measured: what is a hair wider by rounding is not broken.
            (lines(self.fonts, &cell.words, cell.face, SIZE, width + 0.01), cell.face, cell.ink)
        });
        Set { cells: cells.collect() }
    }

    /// The widths of the columns: what each needs where that fits, else words are broken.
    fn widths(&self, table: &Table) -> Vec<f32> {
        let count = table.columns.len();
        let available = self.width() - BETWEEN * (count.saturating_sub(1)) as f32;
        let mut natural = vec![0.0_f32; count];
        let mut least = vec![0.0_f32; count];
        for (place, (column, head)) in table.columns.iter().enumerate() {
            let cells = table.rows.iter().filter_map(|row| row.get(place));
            let head = Cell::from(*head);
            for cell in cells.chain([&head]) {
                let shown = self.fonts.typeset(&cell.words, cell.face);
                let wide = self.fonts.width(&shown, cell.face, SIZE);
                let word = widest_word(self.fonts, &cell.words, cell.face, SIZE);
                let whole = *column != Column::Words;
                natural[place] = natural[place].max(wide);
                least[place] = least[place].max(if whole { wide.min(WIDEST_WHOLE) } else { word });
            }
            least[place] = least[place].min(available / 2.5);
        }
        if !table.has_heads() && count == 2 {
            let name = natural[0].min(available * 0.3);
            return vec![name, available - name];
        }
        let wanted: f32 = natural.iter().sum();
        if wanted <= available {
            let spare = available - wanted;
            let words: Vec<usize> =
                (0..count).filter(|place| table.columns[*place].0 == Column::Words).collect();
            let of_each = if words.is_empty() { spare / count as f32 } else { spare / words.len() as f32 };
            let takes = |place: usize| words.is_empty() || words.contains(&place);
            return (0..count)
                .map(|place| natural[place] + if takes(place) { of_each } else { 0.0 })
                .collect();
        }
        let needed: f32 = least.iter().sum();
        if needed >= available {
            return narrowed(table, &least, available);
        }
        // What needs less than its share leaves the rest to the others.
        let mut order: Vec<usize> = (0..count).filter(|place| natural[*place] > least[*place]).collect();
        order.sort_by(|one, other| natural[*one].total_cmp(&natural[*other]));
        let mut widths = least.clone();
        let mut free = available - needed + order.iter().map(|place| least[*place]).sum::<f32>();
        for (done, place) in order.iter().enumerate() {
            let rest: f32 = order[done + 1..].iter().map(|place| least[*place]).sum();
            let share = free / (order.len() - done) as f32;
            widths[*place] = natural[*place].min(share.max(least[*place])).min(free - rest);
            free -= widths[*place];
        }
        widths
    }
}

/// Columns narrower than their widest words: first those of words, which can be broken, then all.
fn narrowed(table: &Table, least: &[f32], available: f32) -> Vec<f32> {
    /// What columns of words keep together at the least, as a part of the whole.
    const WORDS: f32 = 0.25;
    let is_words = |place: usize| table.columns[place].0 == Column::Words;
    let sum = |words: bool| -> f32 {
        (0..least.len()).filter(|place| is_words(*place) == words).map(|place| least[place]).sum()
    };
    let (words, others) = (sum(true), sum(false));
    let left = (available - others).max(if words > 0.0 { available * WORDS } else { 0.0 }).min(words);
    let of_words = if words > 0.0 { left / words } else { 1.0 };
    let of_others = if others > 0.0 { ((available - left) / others).min(1.0) } else { 1.0 };
    let part = |place: usize| if is_words(place) { of_words } else { of_others };
    (0..least.len()).map(|place| least[place] * part(place)).collect()
}
