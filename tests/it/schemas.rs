//! The JSON Schemas of the files that people write: sound in themselves, and of one mind with the readers.
//!
//! A schema states a second time what a reader takes. Nothing makes one of the other, so these tests hold them
//! together: the same keys at every place, the same words and units refused, the same variants taken.

mod agreement;
mod bounds;
mod defaults;
mod document;
mod quantities;
mod removal;
mod sample;
mod schema;
mod slips;
mod sound;

use crate::bench::Workshop;
use sample::Kind;

#[test]
fn the_program_prints_them_as_they_are() {
    let workshop = Workshop::new();
    for kind in Kind::ALL {
        let called = workshop.call(&["schema", kind.word()]);
        assert_eq!((called.exit, called.talk.as_str()), (0, ""), "{called:?}");
        assert_eq!(called.out, kind.file(), "{}", kind.word());
        assert_eq!(&called.json(), kind.schema().root());
    }
    let called = workshop.call(&["schema", "tables"]);
    assert_eq!(called.exit, 2, "{called:?}");
}
