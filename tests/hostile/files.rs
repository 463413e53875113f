//! Files that were written to hurt: depth, anchors, size, numbers without end.

use spurline_document::{Document, Mistakes};
use spurline_path::{Touchstone, TouchstoneError};

fn refused(text: &str) -> Mistakes {
    let Err(mistakes) = Document::parse("hostile.yaml", text) else {
        panic!("{} bytes were read", text.len())
    };
    let told = mistakes.to_string();
    assert!(told.contains("hostile.yaml") && told.len() < 1 << 12, "{} bytes of message", told.len());
    mistakes
}

#[test]
fn depth_is_refused() {
    let maps = (0..64).map(|depth| format!("{}a:\n", "  ".repeat(depth))).collect::<String>();
    let dashes = format!("{}a\n", "- ".repeat(64));
    for text in [maps, dashes, "[".repeat(64) + &"]".repeat(64), "{a: ".repeat(64) + "b" + &"}".repeat(64)] {
        let mistakes = refused(&text);
        assert!(mistakes.all()[0].message().contains("depth"), "{mistakes}");
    }
}

/// As deep as a file that is not refused for its size can be: no stack bears a call for each.
#[test]
fn a_million_open_brackets_are_refused() {
    for opening in ["[", "{", "- ", "? ", "[{", "!!seq [", "&a ["] {
        refused(&opening.repeat((1 << 20) / opening.len()));
    }
}

#[test]
fn anchors_that_multiply_are_refused() {
    let mut text = "a: &a [x, x, x, x, x, x, x, x, x, x]\n".to_owned();
    for pair in "abcdefghij".as_bytes().windows(2) {
        let (last, next) = (char::from(pair[0]), char::from(pair[1]));
        let nine = format!("*{last}, ").repeat(9);
        text += &format!("{next}: &{next} [{nine}*{last}]\n");
    }
    let mistakes = refused(&text);
    assert!(mistakes.all()[0].message().contains("an anchor"), "{mistakes}");
    refused("a: &a [*a]\n");
    refused("a: { <<: { b: c } , <<: { d: e } }\nf: &f { <<: *f }\n");
}

#[test]
fn a_text_of_more_than_a_mebibyte_is_refused() {
    for text in
        ["a: ".to_owned() + &"x".repeat(1 << 20), "# a comment\n".repeat(1 << 17), "- x\n".repeat(1 << 19)]
    {
        refused(&text);
    }
}

/// A file of another kind altogether: what is wrong is told in as many words as a person reads.
#[test]
fn thousands_of_mistakes_are_not_all_shown() {
    let text = "profile: x\n".to_owned() + &(0..9_000).map(|key| format!("k{key}: 1\n")).collect::<String>();
    let document = Document::parse("hostile.yaml", &text).unwrap();
    let mistakes = spurline_limits::Rule::read(&document).unwrap_err();
    assert!(mistakes.all().len() > 9_000);
    let told = mistakes.to_string();
    let more = format!("and {} more", mistakes.all().len() - 100);
    assert!(told.ends_with(&more) && told.len() < 1 << 17, "{} bytes of message", told.len());
}

#[test]
fn ten_million_numbers_on_a_line_are_no_point() {
    let text = "# MHz S DB R 50\n1".to_owned() + &" 1".repeat(10_000_000);
    assert_eq!(Touchstone::parse(&text), Err(TouchstoneError::Count { line: 2, found: 10_000_001 }));
    let running_on = "# MHz S DB R 50\n1 0 0\n".to_owned() + &"1 1 ".repeat(1_000_000);
    assert_eq!(Touchstone::parse(&running_on), Err(TouchstoneError::Count { line: 2, found: 2_000_003 }));
}

#[test]
fn a_word_without_end_is_shown_by_its_start() {
    let long = "9".repeat(10_000_000) + "x";
    for text in [format!("1 {long}\n"), format!("# {long}\n"), format!("# R {long}\n")] {
        let error = Touchstone::parse(&text).unwrap_err();
        assert!(error.to_string().len() < 400, "{} bytes of message", error.to_string().len());
    }
}
