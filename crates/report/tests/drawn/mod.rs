//! Looks at the drawings of a page: whether they are sound, and where their texts lie.

#![allow(dead_code, reason = "each test file uses a part of it")]
#![allow(unreachable_pub, reason = "shared by several test crates")]

use roxmltree::{Document, Node};

/// The drawings of a page.
pub fn drawings(page: &str) -> Vec<&str> {
    page.match_indices("<svg")
        .map(|(at, _)| &page[at..at + page[at..].find("</svg>").expect("a drawing ends") + 6])
        .collect()
}

/// The drawings inside the figures of a style class, without the marks of their legends.
pub fn figures<'p>(page: &'p str, class: &str) -> Vec<&'p str> {
    let opening = format!("<figure class=\"{class}\">");
    page.split(opening.as_str())
        .skip(1)
        .flat_map(|rest| drawings(&rest[..rest.find("</figure>").expect("a figure ends")]))
        .filter(|drawing| drawing.contains("role=\"img\""))
        .collect()
}

/// How many elements of a drawing are of exactly this class.
pub fn count(drawing: &str, class: &str) -> usize {
    let read = Document::parse(drawing).expect("a drawing is XML");
    read.descendants().filter(|node| node.attribute("class") == Some(class)).count()
}

/// A number in an attribute, for every element of a class.
pub fn numbers(drawing: &str, class: &str, name: &str) -> Vec<f64> {
    let read = Document::parse(drawing).expect("a drawing is XML");
    let of_class = read.descendants().filter(|node| node.attribute("class") == Some(class));
    of_class.map(|node| number(node, name)).collect()
}

fn number(node: Node<'_, '_>, name: &str) -> f64 {
    node.attribute(name).expect("the attribute is there").parse().expect("a number")
}

/// Every number in an attribute of a drawing must read as a finite number.
pub fn assert_sound(page: &str) {
    for drawing in drawings(page) {
        let read = Document::parse(drawing).unwrap_or_else(|e| panic!("{e}: {drawing}"));
        for node in read.descendants() {
            for name in ["x", "y", "x1", "x2", "y1", "y2", "cx", "cy", "r", "width", "height"] {
                if node.attribute(name).is_some() {
                    assert!(number(node, name).is_finite(), "{name} in {drawing}");
                }
            }
            let path = node.attribute("d").unwrap_or_default();
            for number in path.split(['M', 'L', ' ']).filter(|number| !number.is_empty()) {
                assert!(number.parse::<f64>().expect("a number").is_finite(), "{number} in {path}");
            }
        }
    }
    for word in ["NaN", "Infinity"] {
        assert!(!page.contains(word), "{word}");
    }
}

/// A box that a text or a `rect` fills.
#[derive(Clone, Debug)]
pub struct Place {
    pub words: String,
    pub left: f64,
    pub right: f64,
    pub top: f64,
    pub bottom: f64,
}

impl Place {
    fn meets(&self, other: &Self) -> bool {
        self.left < other.right
            && other.left < self.right
            && self.top < other.bottom
            && other.top < self.bottom
    }

    fn holds(&self, other: &Self) -> bool {
        self.left <= other.left
            && other.right <= self.right
            && self.top <= other.top
            && other.bottom <= self.bottom
    }
}

/// About how wide a character is for its height in the commonest of sans-serif fonts.
fn em(c: char) -> f64 {
    match c {
        ' ' | '\u{a0}' | '.' | ',' | ':' | ';' | '\'' | '|' | '!' | '/' | '-' | '(' | ')' | '[' | ']' => 0.33,
        'i' | 'j' | 'l' | 't' | 'f' | 'r' | 'I' => 0.33,
        'm' | 'M' | 'W' | '@' | '%' => 0.95,
        'w' | 'A'..='Z' => 0.72,
        c if c < '\u{250}' => 0.56,
        _ => 1.0,
    }
}

/// Where each text lies; letters are 12 units high.
fn texts(read: &Document<'_>) -> Vec<Place> {
    let texts = read.descendants().filter(|node| node.has_tag_name("text"));
    texts
        .map(|node| {
            let words = node.text().unwrap_or_default().to_owned();
            let em: f64 = words.chars().map(em).sum();
            let (x, y, width) = (number(node, "x"), number(node, "y"), 12.0 * em);
            let left = match node.attribute("text-anchor") {
                Some("middle") => x - width / 2.0,
                Some("end") => x - width,
                _ => x,
            };
            Place { words, left, right: left + width, top: y - 10.0, bottom: y + 3.0 }
        })
        .collect()
}

/// No text leaves the drawing, and none lies on another.
pub fn assert_legible(drawing: &str) {
    let read = Document::parse(drawing).expect("a drawing is XML");
    let view: Vec<f64> = read
        .root_element()
        .attribute("viewBox")
        .expect("a drawing has a view box")
        .split(' ')
        .map(|n| n.parse().expect("a number"))
        .collect();
    let view = Place { words: String::new(), left: view[0], right: view[2], top: view[1], bottom: view[3] };
    let texts = texts(&read);
    for (index, text) in texts.iter().enumerate() {
        assert!(view.holds(text), "{text:?} leaves the drawing {view:?}");
        for other in &texts[index + 1..] {
            assert!(!text.meets(other), "{text:?} lies on {other:?}");
        }
    }
}

/// Every box lies in the drawing, no box lies on another, and texts in the middle of something are inside a box.
pub fn assert_boxed(drawing: &str) {
    let read = Document::parse(drawing).expect("a drawing is XML");
    let boxes: Vec<Place> = read
        .descendants()
        .filter(|node| node.has_tag_name("rect"))
        .map(|node| {
            let (left, top) = (number(node, "x"), number(node, "y"));
            let words = node.attribute("class").unwrap_or_default().to_owned();
            Place {
                words,
                left,
                right: left + number(node, "width"),
                top,
                bottom: top + number(node, "height"),
            }
        })
        .collect();
    for (index, one) in boxes.iter().enumerate() {
        for other in &boxes[index + 1..] {
            assert!(!one.meets(other), "{one:?} lies on {other:?}");
        }
    }
    let middles: Vec<bool> = read
        .descendants()
        .filter(|node| node.has_tag_name("text"))
        .map(|node| node.attribute("text-anchor") == Some("middle"))
        .collect();
    for (text, in_box) in texts(&read).iter().zip(middles) {
        let held = boxes.iter().any(|one| one.holds(text));
        let crossed = boxes.iter().any(|one| one.meets(text));
        assert_eq!((held, crossed), (in_box, in_box), "{text:?}");
    }
}
