//! The key-downs in their order, as a table.

use spurline_plan::{Slot, Task};

use crate::paint;
use crate::table::{fit, flush_right, table};

/// A row for each key-down; nothing without any.
pub(super) fn timetable(slots: &[Slot]) -> String {
    if slots.is_empty() {
        return String::new();
    }
    let fed = slots.iter().any(|slot| slot.supply != slots[0].supply);
    let mut rows = table(&["at", "keyed", "rest", "state", "path", "beside the carrier"]);
    for slot in slots {
        let supply =
            slot.supply.as_ref().filter(|_| fed).map_or_else(String::new, |name| format!(", {name}"));
        rows.add_row([
            clock(slot.at.get()),
            format!("{:.1} s", slot.keyed.get()),
            format!("{:.0} s", slot.rest.get()),
            format!("{}, {}{supply}", slot.channel, slot.power_setting),
            slot.path.clone(),
            tasks(&slot.tasks),
        ]);
    }
    flush_right(&mut rows, &[0, 1, 2]);
    fit(&mut rows, 5);
    format!("\n{}\n{}\n", paint::heading("timetable, from the start of the run"), rows.trim_fmt())
}

/// Minutes and seconds from the start; with hours where there are any.
fn clock(seconds: f64) -> String {
    let whole = seconds.round() as u64;
    let (hours, minutes, seconds) = (whole / 3600, whole / 60 % 60, whole % 60);
    if hours > 0 { format!("{hours}:{minutes:02}:{seconds:02}") } else { format!("{minutes}:{seconds:02}") }
}

/// The tasks in a few words: numbers of one kind that follow each other are drawn together.
fn tasks(tasks: &[Task]) -> String {
    let mut runs: Vec<(&str, Vec<u32>)> = Vec::new();
    for task in tasks {
        match runs.last_mut() {
            Some((what, numbers)) if *what == task.what && task.number.is_some() => {
                numbers.extend(task.number)
            }
            _ => runs.push((&task.what, task.number.into_iter().collect())),
        }
    }
    let words: Vec<String> = runs.iter().map(|(what, numbers)| run(what, numbers)).collect();
    if words.is_empty() { "nothing".to_owned() } else { words.join(", ") }
}

fn run(what: &str, numbers: &[u32]) -> String {
    let follow = numbers.windows(2).all(|pair| pair[1] == pair[0] + 1);
    match numbers {
        [] => what.to_owned(),
        [one] => format!("{what} {one}"),
        [first, .., last] if follow && numbers.len() > 2 => format!("{what}s {first} to {last}"),
        several => {
            let numbers: Vec<String> = several.iter().map(ToString::to_string).collect();
            format!("{what}s {}", numbers.join(", "))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_that_follow_are_drawn_together() {
        assert_eq!(run("harmonic", &[2, 3, 4]), "harmonics 2 to 4");
        assert_eq!(run("harmonic", &[2, 4]), "harmonics 2, 4");
        assert_eq!(run("harmonic", &[2]), "harmonic 2");
        assert_eq!(run("occupied bandwidth", &[]), "occupied bandwidth");
        assert_eq!((clock(59.6), clock(3661.0)), ("1:00".to_owned(), "1:01:01".to_owned()));
    }
}
