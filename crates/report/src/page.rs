//! The last work on a page: nothing in it acts, and what stands between backticks in a sentence is shown as code is.

use std::borrow::Cow;
use std::{fmt, io};

use askama::Template;

use crate::text::push_plain;
use crate::view::ReportError;

/// Elements in which a backtick stays what it is.
const AS_THEY_ARE: [&str; 5] = ["code", "pre", "style", "svg", "title"];

/// A page as it is handed out, in one piece.
pub(crate) fn finished(page: &impl Template) -> Result<String, ReportError> {
    let mut out = String::new();
    finish(page, &mut out)?;
    Ok(out)
}

/// A page as it is handed out, written as it is rendered: one of a long run is larger than all that it tells of.
pub(crate) fn finish_into(page: &impl Template, out: &mut dyn io::Write) -> Result<(), ReportError> {
    let mut out = Written { out, failed: None };
    let finished = finish(page, &mut out);
    out.failed.map_or(finished, |failed| Err(failed.into()))
}

fn finish(page: &impl Template, out: &mut dyn fmt::Write) -> Result<(), ReportError> {
    let mut finishing = Finishing { out, held: String::new(), looked: 0, within: Vec::new() };
    page.render_into(&mut finishing)?;
    finishing.end().map_err(askama::Error::from)?;
    Ok(())
}

/// Text for a file, and why that could not be written.
struct Written<'w> {
    out: &'w mut dyn io::Write,
    failed: Option<io::Error>,
}

impl fmt::Write for Written<'_> {
    fn write_str(&mut self, text: &str) -> fmt::Result {
        self.out.write_all(text.as_bytes()).map_err(|error| {
            self.failed = Some(error);
            fmt::Error
        })
    }
}

/// A page on its way from what renders it: text is handed on up to the last tag that is whole.
struct Finishing<'w> {
    out: &'w mut dyn fmt::Write,
    /// What has come and is not handed on.
    held: String,
    /// In so much of it no tag begins.
    looked: usize,
    /// The elements that are open and that stay as they are.
    within: Vec<&'static str>,
}

impl fmt::Write for Finishing<'_> {
    fn write_str(&mut self, text: &str) -> fmt::Result {
        push_plain(&mut self.held, text);
        let held = std::mem::take(&mut self.held);
        let mut done = 0;
        while let Some(begins) = held[self.looked..].find('<').map(|at| self.looked + at) {
            self.looked = begins;
            let Some(ends) = held[begins..].find('>').map(|at| begins + at + 1) else { break };
            self.text(&held[done..begins])?;
            self.tag(&held[begins..ends])?;
            (done, self.looked) = (ends, ends);
        }
        if !held[self.looked..].starts_with('<') {
            self.looked = held.len();
        }
        self.held = held;
        self.held.drain(..done);
        self.looked -= done;
        Ok(())
    }
}

impl Finishing<'_> {
    fn text(&mut self, text: &str) -> fmt::Result {
        self.out.write_str(&if self.within.is_empty() { coded(text) } else { Cow::Borrowed(text) })
    }

    fn tag(&mut self, tag: &str) -> fmt::Result {
        let name = |tag: &str| AS_THEY_ARE.into_iter().find(|name| is_tag(tag, name));
        if let Some(closed) = tag.strip_prefix("</").and_then(name) {
            if self.within.last() == Some(&closed) {
                self.within.pop();
            }
        } else if let Some(opened) = tag.strip_prefix('<').and_then(name) {
            self.within.push(opened);
        }
        self.out.write_str(tag)
    }

    /// Nothing more comes.
    fn end(mut self) -> fmt::Result {
        let held = std::mem::take(&mut self.held);
        let (text, tag) = held.split_at(held.find('<').unwrap_or(held.len()));
        self.text(text)?;
        self.out.write_str(tag)
    }
}

fn is_tag(tag: &str, name: &str) -> bool {
    tag.strip_prefix(name).is_some_and(|rest| rest.starts_with(['>', ' ', '\n', '/']))
}

/// The text between two tags; a backtick without a second one on its line stays.
fn coded(text: &str) -> Cow<'_, str> {
    if !text.contains('`') {
        return Cow::Borrowed(text);
    }
    let mut out = String::with_capacity(text.len() + 26);
    for (piece, is_code) in pieces(text) {
        if is_code { out.push_str(&format!("<code>{piece}</code>")) } else { out.push_str(piece) }
    }
    Cow::Owned(out)
}

/// A text in pieces, and which of them stand between backticks, on one line, without these; a backtick that is alone stays.
pub(crate) fn pieces(text: &str) -> Vec<(&str, bool)> {
    let mut pieces = Vec::new();
    let (mut from, mut look) = (0, 0);
    while let Some(at) = text[look..].find('`').map(|at| look + at) {
        let inner = text[at + 1..].find('`').map(|end| at + 1 + end);
        let closed = inner.filter(|end| *end > at + 1 && !text[at + 1..*end].contains('\n'));
        match closed {
            Some(end) => {
                pieces.push((&text[from..at], false));
                pieces.push((&text[at + 1..end], true));
                (from, look) = (end + 1, end + 1);
            }
            None => look = at + 1,
        }
    }
    pieces.push((&text[from..], false));
    pieces
}

#[cfg(test)]
mod tests {
    use std::fmt::Write;

    use super::*;

    /// A page that comes in pieces of so many characters.
    fn in_pieces(page: &str, size: usize) -> String {
        let mut out = String::new();
        let mut finishing = Finishing { out: &mut out, held: String::new(), looked: 0, within: Vec::new() };
        let letters: Vec<char> = page.chars().collect();
        for piece in letters.chunks(size) {
            finishing.write_str(&piece.iter().collect::<String>()).unwrap();
        }
        finishing.end().unwrap();
        out
    }

    #[track_caller]
    fn assert_finished(page: &str, expected: &str) {
        for size in 1..=page.len() {
            assert_eq!(in_pieces(page, size), expected, "in pieces of {size}");
        }
    }

    #[test]
    fn what_cannot_be_written_is_told() {
        #[derive(Template)]
        #[template(source = "<p>{{ text }}</p>", ext = "html")]
        struct Page {
            text: &'static str,
        }
        let page = Page { text: "`a` and \u{202e}b" };
        assert_eq!(finished(&page).unwrap(), "<p><code>a</code> and \u{fffd}b</p>");
        let mut room = [0; 5];
        let error = finish_into(&page, &mut room.as_mut_slice()).unwrap_err();
        assert!(matches!(error, ReportError::Write(_)), "{error:?}");
    }

    #[test]
    fn backticks_of_a_sentence_become_code() {
        let page = "<p class=\"a`b`\">state it by `--day-sd`, or `&lt;b&gt;`</p>";
        let expected = "<p class=\"a`b`\">state it by <code>--day-sd</code>, or <code>&lt;b&gt;</code></p>";
        assert_finished(page, expected);
    }

    #[test]
    fn what_is_text_already_stays() {
        for page in [
            "<pre>a: `b`</pre>",
            "<svg><text>`b`</text></svg>",
            "<title>`b`</title>",
            "<code>`b`</code>",
            "<p>one ` alone</p>",
            "<p>``</p>",
            "<p>`over\nlines`</p>",
            "<p>`over <b>tags`</b></p>",
            "",
        ] {
            assert_finished(page, page);
        }
        // An element whose name only begins like one of those is another one.
        assert_finished("<codes>`b`</codes>", "<codes><code>b</code></codes>");
        // What is not closed stays as it is.
        assert_finished("<p>`a` <b", "<p><code>a</code> <b");
    }
}
