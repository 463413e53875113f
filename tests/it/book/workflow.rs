//! What the workflow has a pipeline do is a script of the repository, which the gate runs too.

use serde_json::Value;

use crate::bench::root;

#[test]
fn every_step_of_the_workflow_calls_a_script_that_is_there() {
    let folder = root().join(".github/workflows");
    let mut calls = 0;
    for entry in std::fs::read_dir(folder).unwrap() {
        let text = std::fs::read_to_string(entry.unwrap().path()).unwrap();
        let workflow: Value = serde_yaml::from_str(&text).unwrap();
        for job in workflow["jobs"].as_object().unwrap().values() {
            for line in job["steps"].as_array().unwrap().iter().filter_map(|step| step["run"].as_str()) {
                let script = line.split_whitespace().next().unwrap();
                assert!(script.starts_with("scripts/") && root().join(script).is_file(), "{line}");
                let gate = std::fs::read_to_string(root().join("scripts/test")).unwrap();
                // Their tools take minutes to build: they stand beside the gate.
                let beside = ["scripts/test", "scripts/deny", "scripts/book"].contains(&script);
                assert!(beside || gate.contains(script), "the gate does not run {script}");
                calls += 1;
            }
        }
    }
    assert!(calls > 0, "no step runs anything");
}
