//! Header paths against a table from outside.
//!
//! Tree, messages and answers are those of `tests/test_csv.rs` and `tests/csv/tree_traversal.csv` in the crate `scpi`
//! 1.0.1 (MIT or Apache-2.0): each header answers with a number of its own.

use crate::{Tree, program_units};

fn tree() -> Tree<u32> {
    let mut tree = Tree::new();
    for (pattern, number) in [
        ("*COM?", 100),
        ("INITiate[:IMMediate][:ALL]?", 0),
        ("CONFigure?", 1),
        ("CONFigure[:SCALar]:VOLTage:AC?", 2),
        ("CONFigure[:SCALar]:VOLTage[:DC]?", 3),
        ("SYSTem:ERRor:ALL?", 11),
        ("SYSTem:ERRor:COUNt?", 12),
        ("SYSTem:ERRor[:NEXT]?", 13),
        ("SYSTem:VERSion?", 10),
    ] {
        tree.insert(pattern, number).unwrap();
    }
    tree
}

fn answer(message: &str) -> String {
    let tree = tree();
    let numbers = program_units(message.as_bytes())
        .map(|unit| unit.unwrap().resolve(&tree).map(|found| found.entry.to_string()));
    numbers.collect::<Result<Vec<_>, _>>().unwrap().join(";")
}

#[test]
fn a_message_goes_on_from_its_last_branch_and_default_nodes_may_be_left_out() {
    for (message, expected) in [
        ("syst:version?;err:next?;count?", "10;13;12"),
        ("syst:version?;:syst:err:next?;count?", "10;13;12"),
        ("syst:version?;*com?;err:next?", "10;100;13"),
        ("syst:version?;err?;version?", "10;13;10"),
        ("conf?", "1"),
        ("conf:scal:volt:dc?", "3"),
        ("conf:scal:volt:ac?", "2"),
        ("conf:scal:volt?", "3"),
        ("conf:volt?", "3"),
        ("initiate?", "0"),
        ("init:immediate?", "0"),
        ("init:imm:all?", "0"),
    ] {
        assert_eq!(answer(message), expected, "{message}");
    }
}
