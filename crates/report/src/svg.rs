//! A small writer of SVG: lines, text and paths with their attributes escaped.

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

impl Drawing {
    /// An empty drawing; `label` says in words what it shows.
    pub(crate) fn new(width: f64, height: f64, label: &str) -> Self {
        Self { body: String::new(), width, height, label: label.to_owned() }
    }

    /// A line of a style class.
    pub(crate) fn line(&mut self, from: (f64, f64), to: (f64, f64), class: &str) {
        let (x1, y1, x2, y2) = (from.0, from.1, to.0, to.1);
        self.push(&format!(
            r#"<line x1="{x1:.1}" y1="{y1:.1}" x2="{x2:.1}" y2="{y2:.1}" class="{}"/>"#,
            escaped(class)
        ));
    }

    /// A line through many points, in pieces.
    pub(crate) fn path(&mut self, pieces: &[Vec<(f64, f64)>], class: &str) {
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
    pub(crate) fn dot(&mut self, at: (f64, f64), radius: f64, class: &str) {
        self.push(&format!(
            r#"<circle cx="{:.1}" cy="{:.1}" r="{radius:.1}" class="{}"/>"#,
            at.0,
            at.1,
            escaped(class)
        ));
    }

    /// A short text.
    pub(crate) fn text(&mut self, at: (f64, f64), anchor: Anchor, class: &str, text: &str) {
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
            self.height,
            escaped(&self.label),
            self.body
        )
    }

    fn push(&mut self, element: &str) {
        self.body.push_str(element);
    }
}

/// Text that can stand in an element or a quoted attribute. Control characters have no place in XML.
fn escaped(text: &str) -> String {
    let text = text.replace(char::is_control, "\u{fffd}");
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_an_instrument_says_cannot_leave_its_place() {
        let mut drawing = Drawing::new(10.0, 10.0, "a \"b\"");
        drawing.text((1.0, 2.0), Anchor::Middle, "t", "<script>&");
        let svg = drawing.finish();
        assert!(svg.contains("&lt;script&gt;&amp;") && svg.contains("a &quot;b&quot;"), "{svg}");
    }
}
