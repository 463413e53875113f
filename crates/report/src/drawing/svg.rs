//! A drawing as a list of shapes with style classes, and a small writer of SVG that escapes what it is given.

use crate::text::plain;

/// A drawing of a fixed size in its own units; the page scales it.
#[derive(Clone, Debug)]
pub(crate) struct Drawing {
    shapes: Vec<Shape>,
    width: f64,
    height: f64,
    label: String,
}

/// One shape, and the style classes by which a page colours it.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Shape {
    pub(crate) what: What,
    pub(crate) class: String,
}

/// What a shape is.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum What {
    Line { from: Point, to: Point },
    Path { pieces: Vec<Vec<Point>> },
    Dot { at: Point, radius: f64 },
    Rect { at: Point, size: Point },
    Text { at: Point, anchor: Anchor, words: String },
}

/// Where text is set from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Anchor {
    Start,
    Middle,
    End,
}

/// A place in a drawing.
pub(crate) type Point = (f64, f64);

impl Drawing {
    /// An empty drawing; `label` says in words what it shows.
    pub(crate) fn new(width: f64, height: f64, label: &str) -> Self {
        Self { shapes: Vec::new(), width, height, label: label.to_owned() }
    }

    /// Gives the drawing its height, if that is known only when all is placed.
    pub(crate) const fn set_height(&mut self, height: f64) {
        self.height = height;
    }

    /// Its width and its height.
    pub(crate) fn size(&self) -> Point {
        (self.width, self.height.ceil())
    }

    /// What it shows, in words.
    pub(crate) fn label(&self) -> &str {
        &self.label
    }

    /// What it is made of, in the order in which it is drawn.
    pub(crate) fn shapes(&self) -> &[Shape] {
        &self.shapes
    }

    /// A line of a style class.
    pub(crate) fn line(&mut self, from: Point, to: Point, class: &str) {
        self.push(What::Line { from, to }, class);
    }

    /// A line through many points, in pieces.
    pub(crate) fn path(&mut self, pieces: &[Vec<Point>], class: &str) {
        self.push(What::Path { pieces: pieces.to_vec() }, class);
    }

    /// A small disc.
    pub(crate) fn dot(&mut self, at: Point, radius: f64, class: &str) {
        self.push(What::Dot { at, radius }, class);
    }

    /// A box from its upper left corner.
    pub(crate) fn rect(&mut self, at: Point, size: Point, class: &str) {
        self.push(What::Rect { at, size }, class);
    }

    /// A short text.
    pub(crate) fn text(&mut self, at: Point, anchor: Anchor, class: &str, text: &str) {
        self.push(What::Text { at, anchor, words: text.to_owned() }, class);
    }

    /// The drawing as an element of a page.
    pub(crate) fn finish(&self) -> String {
        let body: String = self.shapes.iter().map(Shape::svg).collect();
        format!(
            r#"<svg viewBox="0 0 {:.0} {:.0}" role="img" aria-label="{}">{body}</svg>"#,
            self.width,
            self.height.ceil(),
            escaped(&self.label),
        )
    }

    fn push(&mut self, what: What, class: &str) {
        self.shapes.push(Shape { what, class: class.to_owned() });
    }
}

impl Shape {
    fn svg(&self) -> String {
        let class = escaped(&self.class);
        match &self.what {
            What::Line { from, to } => {
                let (x1, y1, x2, y2) = (from.0, from.1, to.0, to.1);
                format!(r#"<line x1="{x1:.1}" y1="{y1:.1}" x2="{x2:.1}" y2="{y2:.1}" class="{class}"/>"#)
            }
            What::Path { pieces } => {
                let mut data = String::new();
                for piece in pieces {
                    for (index, (x, y)) in piece.iter().enumerate() {
                        let command = if index == 0 { 'M' } else { 'L' };
                        data.push_str(&format!("{command}{x:.1} {y:.1}"));
                    }
                }
                format!(r#"<path d="{data}" class="{class}"/>"#)
            }
            What::Dot { at: (x, y), radius } => {
                format!(r#"<circle cx="{x:.1}" cy="{y:.1}" r="{radius:.1}" class="{class}"/>"#)
            }
            What::Rect { at: (x, y), size: (width, height) } => format!(
                r#"<rect x="{x:.1}" y="{y:.1}" width="{width:.1}" height="{height:.1}" class="{class}"/>"#
            ),
            What::Text { at: (x, y), anchor, words } => {
                let anchor = match anchor {
                    Anchor::Start => "start",
                    Anchor::Middle => "middle",
                    Anchor::End => "end",
                };
                let words = escaped(words);
                format!(
                    r#"<text x="{x:.1}" y="{y:.1}" text-anchor="{anchor}" class="{class}">{words}</text>"#
                )
            }
        }
    }
}

/// Text that can stand in an element or a quoted attribute.
fn escaped(text: &str) -> String {
    plain(text).replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_an_instrument_says_cannot_leave_its_place() {
        let mut drawing = Drawing::new(10.0, 10.0, "a \"b\"\u{1b}");
        drawing.text((1.0, 2.0), Anchor::Middle, "t", "<script>&\u{0}");
        let svg = drawing.finish();
        assert!(
            svg.contains("&lt;script&gt;&amp;\u{fffd}") && svg.contains("a &quot;b&quot;\u{fffd}"),
            "{svg}"
        );
    }
}
