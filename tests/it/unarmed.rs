//! What a program is told that would run a bench which nobody has armed.

use crate::bench::{Workshop, plan};
use crate::processes::Serving;

#[test]
fn a_bench_that_nobody_armed_says_so_in_its_document() {
    let workshop = Workshop::with(&plan("146 MHz", 2), "");
    let serving = Serving::start(&workshop, "");
    let armed = std::fs::read_to_string(workshop.path("bench.yaml")).unwrap();
    workshop.write("bench.yaml", &armed.replace("armed: true\n", ""));
    let called = workshop.call(&["run", "plan.yaml", "--json"]);
    assert_eq!((called.exit, serving.keyed()), (2, false), "{called:?}");
    let error = &called.json()["error"];
    assert_eq!(error["exit_status"], 2, "{error}");
    let cause = "the bench is real, and nobody has said that it may key; nothing was keyed";
    assert_eq!(error["message"], cause, "{error}");
    assert!(error["advice"].as_str().unwrap().contains("`--arm`"), "{error}");
}
