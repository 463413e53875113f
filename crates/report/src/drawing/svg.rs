//! A small writer of SVG: lines, boxes, text and paths with their attributes escaped.

use crate::text::plain;

/// A drawing of a fixed size in its own units; the page scales it.
#[derive(Debug)]
pub(crate) struct Drawing {
    body: String,
    width: f64,
    height: f64,
    label: String,
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
        Self { body: String::new(), width, height, label: label.to_owned() }
    }

    /// Gives the drawing its height, if that is known only when all is placed.
    pub(crate) const fn set_height(&mut self, height: f64) {
        self.height = height;
    }

    /// A line of a style class.
    pub(crate) fn line(&mut self, from: Point, to: Point, class: &str) {
        let (x1, y1, x2, y2) = (from.0, from.1, to.0, to.1);
        self.push(&format!(
            r#"<line x1="{x1:.1}" y1="{y1:.1}" x2="{x2:.1}" y2="{y2:.1}" class="{}"/>"#,
            escaped(class)
        ));
    }

    /// A line through many points, in pieces.
    pub(crate) fn path(&mut self, pieces: &[Vec<Point>], class: &str) {
        let mut data = String::new();
        for piece in pieces {
            for (index, (x, y)) in piece.iter().enumerate() {
                let command = if index == 0 { 'M' } else { 'L' };
                data.push_str(&format!("{command}{x:.1} {y:.1}"));
            }
        }
        self.push(&format!(r#"<path d="{data}" class="{}"/>"#, escaped(class)));
    }

    /// A small disc.
    pub(crate) fn dot(&mut self, at: Point, radius: f64, class: &str) {
        self.push(&format!(
            r#"<circle cx="{:.1}" cy="{:.1}" r="{radius:.1}" class="{}"/>"#,
            at.0,
            at.1,
            escaped(class)
        ));
    }

    /// A box from its upper left corner.
    pub(crate) fn rect(&mut self, at: Point, size: Point, class: &str) {
        self.push(&format!(
            r#"<rect x="{:.1}" y="{:.1}" width="{:.1}" height="{:.1}" class="{}"/>"#,
            at.0,
            at.1,
            size.0,
            size.1,
            escaped(class)
        ));
    }

    /// A short text.
    pub(crate) fn text(&mut self, at: Point, anchor: Anchor, class: &str, text: &str) {
        let anchor = match anchor {
            Anchor::Start => "start",
            Anchor::Middle => "middle",
            Anchor::End => "end",
        };
        self.push(&format!(
            r#"<text x="{:.1}" y="{:.1}" text-anchor="{anchor}" class="{}">{}</text>"#,
            at.0,
            at.1,
            escaped(class),
            escaped(text)
        ));
    }

    /// The drawing as an element of a page.
    pub(crate) fn finish(self) -> String {
        format!(
            r#"<svg viewBox="0 0 {:.0} {:.0}" role="img" aria-label="{}">{}</svg>"#,
            self.width,
            self.height.ceil(),
            escaped(&self.label),
            self.body
        )
    }

    fn push(&mut self, element: &str) {
        self.body.push_str(element);
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
