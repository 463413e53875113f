//! The page of the book that tells what each fault comes to.

use super::cases::{CASES, DIALECTS, LINKS, OTHERS};
use super::outcome::Ended;

const HEAD: &str = "\
# What a run makes of each fault

Made by the test `no_fault_makes_a_wrong_number`: a plan of three readings on a simulated bench, once for each line and
column, with the fault that [the table of faults](faults.md) explains. In every case every reading that was finished is
the one of a run without a fault, within its own uncertainty, and the key is up at the end.

`when` says when the fault may begin: always, before the key (after the instruments were prepared), or while the unit is
keyed for the first time. `other-serial` is given a link that is cut for a second.

- `right`: every reading, as if nothing had been.
- `right, again`: every reading, after a link was made again and the readings were taken once more.
- `told`: an error, or a reading that is `invalid`, says what is wrong; what was finished before is kept.
- `alarm`: nobody can confirm any more that the key is up, because the link to the relay is gone for good: the error says
  to switch the supply off by hand. The simulated relay opens by itself.

";

pub(super) fn must_be(analyser: &[Ended], others: &[Ended]) {
    let mut page = HEAD.to_owned();
    page.push_str("## The analyser, over every link\n\n");
    table(&mut page, &LINKS.map(|link| link.name()), analyser);
    page.push_str("\n## The other instruments, over sockets\n\n");
    table(&mut page, &OTHERS, others);
    page.push_str(
        "\n## With a profile that says so\n\nWhat is the way of an instrument is said in its profile; then the run is \
         `right` over a socket and over a serial line:\n\n| fault | under `messages` |\n|---|---|\n",
    );
    for (does, _, own) in DIALECTS {
        page.push_str(&format!("| `{does}` | `{}` |\n", own.trim()));
    }
    let path = crate::bench::root().join("docs/src/recovery.md");
    if std::env::var_os("SPURLINE_WRITE_DOCS").is_some() {
        std::fs::write(&path, &page).unwrap();
    }
    let kept = std::fs::read_to_string(&path).unwrap_or_default();
    for (found, kept) in page.lines().zip(kept.lines()) {
        assert_eq!(found, kept, "the book tells otherwise");
    }
    assert_eq!(page.lines().count(), kept.lines().count());
}

fn table(page: &mut String, columns: &[&str], outcomes: &[Ended]) {
    page.push_str(&format!(
        "| fault | keys | when | {} |\n|---|---|---|{}\n",
        columns.join(" | "),
        "---|".repeat(columns.len())
    ));
    for (case, outcomes) in CASES.iter().zip(outcomes.chunks(columns.len())) {
        let keys = case.keys.trim_start_matches(", ").replace('|', "\\|");
        let keys = if keys.is_empty() { String::new() } else { format!("`{keys}`") };
        let words: Vec<&str> = outcomes.iter().map(Ended::word).collect();
        page.push_str(&format!("| `{}` | {keys} | {} | {} |\n", case.does, case.when(), words.join(" | ")));
    }
}
