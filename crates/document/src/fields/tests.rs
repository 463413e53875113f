//! What a person sees when a file is wrong.

use insta::assert_snapshot;

use crate::{Document, Mistakes, Reader, Value};

fn read(text: &str) -> Result<(String, u32), Mistakes> {
    let document = Document::parse("demo.yaml", text)?;
    let mut reader = Reader::new(&document);
    let value = reader.fields(&document.root, "a demo").and_then(|mut fields| {
        let name = fields.required(&mut reader, "name");
        let count = fields.required(&mut reader, "count");
        let kind = fields.optional("kind");
        fields.close(&mut reader);
        let name = name.and_then(|node| reader.text(node, "a name").map(str::to_owned));
        let count = count.and_then(|node| reader.whole(node, "a count", 1, 10));
        if let Some(kind) = kind {
            reader.choice(kind, "a kind", &[("solid", 1), ("hollow", 2)]);
        }
        name.zip(count)
    });
    reader.finish(value)
}

#[test]
fn a_right_text_reads() {
    assert_eq!(read("name: 1e3\ncount: 3 # three\n"), Ok(("1e3".to_owned(), 3)));
    assert_eq!(read("{ name: \"no\", count: 3 }"), Ok(("no".to_owned(), 3)));
}

#[test]
fn every_mistake_is_reported_at_once() {
    assert_snapshot!(read("nam: x\ncount: 30\nkind: holow\ncolour: red\n").unwrap_err(), @"
    error: `nam` is not a key of a demo
     --> demo.yaml:1:1
      |
    1 | nam: x
      | ^^^
      |
      = help: did you mean `name`?

    error: expected a count from 1 to 10, found `30`
     --> demo.yaml:2:8
      |
    2 | count: 30
      |        ^^
      |
      = help: write a whole number from 1 to 10, without a unit

    error: expected a kind, found `holow`
     --> demo.yaml:3:7
      |
    3 | kind: holow
      |       ^^^^^
      |
      = help: did you mean `hollow`?

    error: `colour` is not a key of a demo
     --> demo.yaml:4:1
      |
    4 | colour: red
      | ^^^^^^
      |
      = help: keys known here: name, count, kind
    ");
}

#[test]
fn syntax_errors_have_a_place() {
    assert_snapshot!(read("name: [x\ncount: 3\n").unwrap_err(), @"
    error: illegal placement of ':' indicator
     --> demo.yaml:2:10
      |
    2 | count: 3
      |         ^
      |
      = help: the `[` of line 1 is not closed: close it with `]`
    ");
    assert_snapshot!(read("name: x\nname: y\ncount: 3\n").unwrap_err(), @"
    error: the key `name` stands here twice
     --> demo.yaml:2:1
      |
    2 | name: y
      | ^^^^
      |
      = help: remove one of the two
    ");
    assert_snapshot!(read("name: &a x\ncount: *a\n").unwrap_err(), @"
    error: an anchor, an alias, a merge key, a second document, or too much text or depth
     --> demo.yaml:1:10
      |
    1 | name: &a x
      |          ^
      |
      = help: a file here needs none of them: write every value where it belongs
    ");
}

#[test]
fn scalars_keep_their_text_and_place() {
    let document =
        Document::parse("t", "a: 0x1F\nb: yes\nc: -1.50e3\nd: 'it''s'\ne:\nf: 5 W # five\n").unwrap();
    let Value::Map(entries) = &document.root.value else { panic!("a map") };
    let texts: Vec<_> = entries
        .iter()
        .map(|entry| match &entry.node.value {
            Value::Scalar(text) => text.as_str(),
            Value::Empty | Value::List(_) | Value::Map(_) => "(none)",
        })
        .collect();
    assert_eq!(texts, ["0x1F", "yes", "-1.50e3", "it's", "(none)", "5 W"]);
    assert_eq!(document.source.line_and_column(entries[5].node.span), (6, 4));
    assert_eq!(entries[5].node.span.end - entries[5].node.span.start, 3);
}

proptest::proptest! {
    #[test]
    fn parsing_never_panics(text in "[-a-z0-9:,{}\\[\\]&*!'\"# \n]{0,60}") {
        drop(read(&text));
    }
}
