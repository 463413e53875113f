//! `check --watch`: what is written is checked again, however an editor writes it.

use std::io::{BufRead, BufReader};
use std::process::{Child, Stdio};
use std::sync::mpsc::{Receiver, channel};
use std::time::Duration;

use crate::bench::{Workshop, plan, simulated_bench};
use crate::processes::signal;

/// The program, and every line that it says on either stream.
struct Watching {
    child: Child,
    lines: Receiver<String>,
}

impl Watching {
    fn begin(workshop: &Workshop) -> Self {
        let mut command = workshop.command(&["check", "plan.yaml", "--watch"]);
        let mut child = command.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
        let (sender, lines) = channel();
        let streams: [Box<dyn std::io::Read + Send>; 2] =
            [Box::new(child.stdout.take().unwrap()), Box::new(child.stderr.take().unwrap())];
        for stream in streams {
            let sender = sender.clone();
            std::thread::spawn(move || {
                BufReader::new(stream).lines().map_while(Result::ok).for_each(|line| drop(sender.send(line)));
            });
        }
        Self { child, lines }
    }

    /// Waits until a line has these words.
    #[track_caller]
    fn says(&self, words: &str) {
        let mut said = Vec::new();
        loop {
            match self.lines.recv_timeout(Duration::from_secs(20)) {
                Ok(line) if line.contains(words) => return,
                Ok(line) => said.push(line),
                Err(_) => panic!("`{words}` was not said, but\n{}", said.join("\n")),
            }
        }
    }
}

#[test]
fn every_file_that_a_plan_refers_to_is_watched() {
    let good = plan("146 MHz", 3).replace("us-part-97", "my-rule");
    let bench = simulated_bench(1, "");
    let workshop = Workshop::with(&good, &bench);
    let mut watching = Watching::begin(&workshop);
    watching.says("checked again at every change");
    watching.says("there is no rule `my-rule`");
    // A file that was looked for and was not there.
    let rule = std::fs::read_to_string(crate::bench::root().join("config/rules/us-part-97.yaml")).unwrap();
    workshop.write("my-rule.yaml", &rule.replace("rule: us-part-97", "rule: my-rule"));
    watching.says("my-rule.yaml has changed");
    watching.says("readings can be decided");
    // As editors write that keep the old file until the new one is whole.
    workshop.write("new", &bench.replace("rated: 25 W", "rated: 2 W"));
    std::fs::rename(workshop.path("new"), workshop.path("bench.yaml")).unwrap();
    watching.says("bench.yaml has changed");
    watching.says("which is rated for 2 W");
    workshop.write("bench.yaml", &bench);
    watching.says("bench.yaml has changed");
    watching.says("readings can be decided");
    // Gone for a moment, and there again.
    std::fs::remove_file(workshop.path("plan.yaml")).unwrap();
    watching.says("cannot read `plan.yaml`");
    workshop.write("plan.yaml", &good.replace("146 MHz", "146 mHz"));
    watching.says("`mHz` is not a unit of a frequency");
    signal("-INT", &watching.child);
    assert_eq!(watching.child.wait().unwrap().code(), Some(130));
}

#[test]
fn nothing_is_checked_while_nothing_changes() {
    let workshop = Workshop::with(&plan("146 MHz", 3), &simulated_bench(1, ""));
    let mut watching = Watching::begin(&workshop);
    watching.says("readings can be decided");
    std::thread::sleep(Duration::from_millis(1500));
    signal("-TERM", &watching.child);
    assert_eq!(watching.child.wait().unwrap().code(), Some(130));
    assert!(watching.lines.iter().all(|line| !line.contains("has changed")));
}
