//! Text for people in lines: the width that terminals have always had, and names that are never broken.

use textwrap::{Options, WordSeparator, WordSplitter};

/// The columns that text for people keeps to.
pub const WIDTH: usize = 80;

/// `1 reading`, `2 readings`.
#[must_use]
pub fn counted(count: usize, what: &str) -> String {
    format!("{count} {what}{}", if count == 1 { "" } else { "s" })
}

/// A paragraph in lines of at most [`WIDTH`] columns; all but the first begin `indent` columns in. Names of files are
/// never broken at their hyphens and slashes.
#[must_use]
pub fn paragraph(text: &str, indent: usize) -> String {
    let indent = " ".repeat(indent);
    let options = Options::new(WIDTH)
        .subsequent_indent(&indent)
        .word_separator(WordSeparator::AsciiSpace)
        .word_splitter(WordSplitter::NoHyphenation);
    textwrap::fill(text, options)
}
