//! The last work on a page: nothing in it acts, and what stands between backticks in a sentence is shown as code is.

use std::borrow::Cow;

use crate::text::plain;

/// Elements in which a backtick stays what it is.
const AS_THEY_ARE: [&str; 5] = ["code", "pre", "style", "svg", "title"];

/// A rendered page as it is handed out.
pub(crate) fn finished(page: &str) -> String {
    let page = plain(page);
    let mut out = String::with_capacity(page.len());
    let mut within: Vec<&str> = Vec::new();
    let mut rest = page.as_str();
    while let Some(at) = rest.find('<') {
        let (text, tag) = rest.split_at(at);
        out.push_str(&if within.is_empty() { coded(text) } else { Cow::Borrowed(text) });
        let end = tag.find('>').map_or(tag.len(), |end| end + 1);
        let (tag, after) = tag.split_at(end);
        let name = |tag: &str| AS_THEY_ARE.into_iter().find(|name| is_tag(tag, name));
        if let Some(closed) = tag.strip_prefix("</").and_then(name) {
            if within.last() == Some(&closed) {
                within.pop();
            }
        } else if let Some(opened) = tag.strip_prefix('<').and_then(name) {
            within.push(opened);
        }
        out.push_str(tag);
        rest = after;
    }
    out.push_str(&coded(rest));
    out
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
    use super::*;

    #[test]
    fn backticks_of_a_sentence_become_code() {
        let found = finished("<p class=\"a`b`\">state it by `--day-sd`, or `&lt;b&gt;`</p>");
        let expected = "<p class=\"a`b`\">state it by <code>--day-sd</code>, or <code>&lt;b&gt;</code></p>";
        assert_eq!(found, expected);
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
        ] {
            assert_eq!(finished(page), page);
        }
        // An element whose name only begins like one of those is another one.
        assert_eq!(finished("<codes>`b`</codes>"), "<codes><code>b</code></codes>");
    }
}
