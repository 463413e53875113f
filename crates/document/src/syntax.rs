//! What to do about a text that is no YAML: the library's words say what it met, not what the writer slipped on.

use crate::node::Span;

/// The first tab that a line is indented with.
pub(crate) fn first_tab(text: &str) -> Option<Span> {
    let mut start = 0;
    for line in text.split_inclusive('\n') {
        let indent = line.len() - line.trim_start().len();
        let says_something = !line.trim().is_empty() && !line.trim_start().starts_with('#');
        if let Some(tab) = line[..indent].find('\t').filter(|_| says_something) {
            return Some(Span { start: start + tab, end: start + tab + 1 });
        }
        start += line.len();
    }
    None
}

/// Where the outermost brace or bracket opens that is still open at a place: the library says only where it gave up.
pub(crate) fn still_open(text: &str, until: usize) -> Option<(char, usize)> {
    let (mut outermost, mut depth) = (None, 0_usize);
    let mut quote: Option<char> = None;
    let mut before = ' ';
    let mut letters = text.char_indices().take_while(|(at, _)| *at < until).peekable();
    while let Some((at, c)) = letters.next() {
        // Within a word an apostrophe quotes nothing, and a sign of number begins no comment.
        let begins = before.is_whitespace() || "{[,:".contains(before);
        match (quote, c) {
            (Some('"'), '\\') => drop(letters.next()),
            (Some(mark), _) if mark == c => quote = None,
            (Some(_), _) => {}
            (None, '"' | '\'') if begins => quote = Some(c),
            (None, '#') if before.is_whitespace() => while letters.next_if(|(_, c)| *c != '\n').is_some() {},
            (None, '{' | '[') if depth > 0 => depth += 1,
            (None, '{' | '[') if begins => (outermost, depth) = (Some((c, at)), 1),
            (None, '}' | ']') => depth = depth.saturating_sub(1),
            (None, _) => {}
        }
        before = c;
    }
    outermost.filter(|_| depth > 0)
}

/// Advice for a syntax error, by what the library says and by the line that it says it of.
pub(crate) fn advice(message: &str, line: &str) -> &'static str {
    let message = message.to_lowercase();
    let indent: String = line.chars().take_while(|c| c.is_whitespace()).collect();
    let says = |words: &[&str]| words.iter().any(|word| message.contains(word));
    if indent.contains('\t') || says(&["tab"]) {
        "indent with blanks: YAML knows no tabs"
    } else if says(&["bracket", "flow sequence"]) {
        "close the list with `]`, or write it with one `- ` per line"
    } else if says(&["brace", "flow mapping"]) {
        "close the keys with `}`, or write them one per line"
    } else if says(&["quote", "quoted"]) || line.matches('"').count() % 2 == 1 {
        "close the quotation mark on the line where it opens"
    } else if says(&[
        "mapping values",
        "indentation",
        "block mapping",
        "simple key",
        "expected ':'",
        "block entry",
    ]) {
        "at or above this place: keys of one map begin in the same column, and a text with `: ` in it stands in quotes"
    } else {
        "at or above this place: look for a colon without a blank behind it, another indentation, open brackets or quotes"
    }
}

#[cfg(test)]
mod tests {
    use crate::Document;

    #[test]
    fn slips_of_the_pen_get_advice() {
        for (text, advice) in [
            ("plan: x\n\tbench: y\n", "blanks"),
            ("unit:\n\tmodel: y\n", "blanks"),
            ("plan: x\nlist: [ y\n", "`]`"),
            ("plan: x\nunit: { a: y\nrule: b\n", "}"),
            ("plan: x\nunit: { a: 5 W\nrule: b\nkey: { c: d }\n", "the `{` of line 2 is not closed"),
            (
                "plan: it's # {\nlist: [ 'a {', \"[\\\"\", b\nkey: { c: d }\n",
                "the `[` of line 2 is not closed",
            ),
            ("plan: \"x\nrule: y\n", "quotation mark"),
            ("plan: x\n  rule: y\n", "same column"),
            ("plan: x\nrule: a: b\n", "quotes"),
            ("- a\nb: c\n", ""),
        ] {
            let mistakes = Document::parse("f.yaml", text).unwrap_err();
            let mistake = &mistakes.all()[0];
            let found = mistake.advice().unwrap_or_else(|| panic!("{text:?}: {mistakes}"));
            assert!(found.contains(advice), "{text:?}: {mistakes}");
        }
    }
}
