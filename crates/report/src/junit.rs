//! A run as a JUnit document, so that a pipeline stops where a transmitter does not comply.

use quick_junit::{NonSuccessKind, Property, Report, TestCase, TestCaseStatus, TestSuite};
use spurline_record::{Outcome, Reading, RunState, Scope};

use crate::text::plain;
use crate::view::{ReportError, RunView};
use crate::{figures, scope, timeline};

/// The run as a JUnit document: one suite for each scope, one case for each reading.
///
/// `complies` passes. `exceeds` and `undecided` are failures of those types: what is not decided must not pass.
/// `invalid` is an error, `no limit` is skipped with its reason. A run that did not go to its end, or that read
/// nothing, is an error in a suite of its own. There are no times: a reading has no duration of its own.
///
/// # Errors
///
/// [`ReportError::Junit`].
pub fn junit(run: &RunView<'_>) -> Result<String, ReportError> {
    let mut report = Report::new(plain(&run.header.plan));
    for (scope, readings) in scope::by_scope(run.readings) {
        report.add_test_suite(suite(run, scope, &readings));
    }
    report.add_test_suites(unfinished(run));
    Ok(report.to_string()?)
}

fn suite(run: &RunView<'_>, scope: &Scope, readings: &[&Reading]) -> TestSuite {
    let name = plain(&format!("{}, {}", scope::name(scope), scope.path));
    let mut suite = TestSuite::new(&name);
    describe(&mut suite, run);
    for reading in readings {
        let mut case =
            TestCase::new(format!("{} at {}", reading.running_title(), reading.frequency), status(reading));
        case.set_classname(&name);
        case.set_system_out(plain(&format!("reading {}: {}", reading.ordinal, message(reading))));
        suite.add_test_case(case);
    }
    suite
}

/// What the readings belong to: a result that leaves the house alone must still say so.
fn describe(suite: &mut TestSuite, run: &RunView<'_>) {
    let header = run.header;
    let mut add = |name: &str, value: &str| {
        suite.add_property(Property::new(name, plain(value)));
    };
    add("run", header.id.as_str());
    add("unit", &format!("{} {}", header.unit.model, header.unit.serial));
    add("rule", &format!("{} ({})", header.rule, header.rule_status));
    add("decision", &header.decision_words());
    add("software", &header.software);
    if let Some(seed) = header.simulated {
        add("simulated bench", &format!("seed {seed}: not evidence about a real transmitter"));
    }
}

fn status(reading: &Reading) -> TestCaseStatus {
    let mut status = match reading.outcome {
        Outcome::Complies => return TestCaseStatus::success(),
        Outcome::Exceeds | Outcome::Undecided => TestCaseStatus::non_success(NonSuccessKind::Failure),
        Outcome::Invalid => TestCaseStatus::non_success(NonSuccessKind::Error),
        Outcome::NoLimit => TestCaseStatus::skipped(),
    };
    status.set_type(reading.outcome.word());
    status.set_message(plain(&message(reading)));
    status
}

/// The figures of a reading and why it came out as it did, in one line.
fn message(reading: &Reading) -> String {
    let mut parts = vec![format!("level {}", figures::level(reading.figure.as_ref()))];
    parts.push(figures::against(reading.limit.as_ref()));
    parts.extend(reading.margin.map(|margin| format!("margin {}", figures::signed(margin))));
    parts.extend(reading.budget.as_ref().map(|budget| format!("U {}", budget.unit.show(budget.expanded, 2))));
    let reason = reading.reason.as_ref().map(|reason| format!(": {} ({})", reason.text, reason.code.code()));
    format!("{}{}", parts.join(", "), reason.unwrap_or_default())
}

/// The suite of a run that says less than its plan asked for.
fn unfinished(run: &RunView<'_>) -> Option<TestSuite> {
    let what = match run.state {
        RunState::Finished if run.readings.is_empty() => "nothing was read".to_owned(),
        RunState::Finished => return None,
        RunState::Running | RunState::Failed | RunState::Interrupted | RunState::BrokenOff => {
            format!("the run did not go to its end: {}", run.state.word())
        }
    };
    let faults = timeline::faults(run.events).into_iter().map(figures::fault);
    let message = std::iter::once(what).chain(faults).collect::<Vec<_>>().join("; ");
    let mut status = TestCaseStatus::non_success(NonSuccessKind::Error);
    status.set_type(run.state.word());
    status.set_message(plain(&message));
    let mut case = TestCase::new("the run went to its end", status);
    case.set_classname("run");
    let mut suite = TestSuite::new("run");
    describe(&mut suite, run);
    suite.add_test_case(case);
    Some(suite)
}
