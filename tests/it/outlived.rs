//! What is said of a run whose keyholder died in it: it went on with another one, and cannot be repeated beyond that place.

use crate::bench::{Workshop, plan};
use crate::keyholder::{holder_of, kill};
use crate::processes::{Serving, running_keyed};

#[test]
fn a_run_whose_keyholder_died_is_not_replayed_beyond_that() {
    let text = [plan("146 MHz", 2), "key: { longest: 4 s, rest: 1 s }\n".to_owned()].concat();
    let workshop = Workshop::with(&text, "");
    let key = format!("key: {{ serial_line: {}, line: rts }}", workshop.path("key").display());
    let serving = Serving::keyed_by(&workshop, "  key_log: key.log\n", Some(&key));
    let (mut run, _talk) = running_keyed(&workshop);
    kill(holder_of(&run), "-KILL");
    assert_eq!(run.wait().unwrap().code(), Some(0));
    drop(serving);
    let called = workshop.call(&["replay", "last", "--json"]);
    assert_eq!(called.exit, 4, "{called:?}");
    let error = &called.json()["error"];
    assert!(
        error["message"].as_str().unwrap().contains("where the process that held its key ended"),
        "{error}"
    );
    let advice = error["advice"].as_str().unwrap();
    assert!(
        !advice.contains("version of the program") && advice.contains("`spurline judge RUN`"),
        "{advice}"
    );
    // What is advised works.
    assert_eq!(workshop.call(&["judge", "last", "--dry-run"]).exit, 0);
    assert_eq!(workshop.call(&["show", "last", "--transcript"]).exit, 0);
}
