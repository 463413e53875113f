//! The queue, through turns, withdrawals and deaths.

use super::*;

fn at(second: i64) -> Timestamp {
    Timestamp::from_second(second).unwrap()
}

fn wanted(bench: &str, plan: &str) -> Wanted {
    Wanted {
        bench: bench.to_owned(),
        plan: plan.to_owned(),
        unit: None,
        firmware: None,
        goes_on: None,
        by: "test".to_owned(),
    }
}

fn queue() -> (tempfile::TempDir, Queue) {
    let folder = tempfile::tempdir().unwrap();
    let queue = Queue::open(folder.path()).unwrap();
    (folder, queue)
}

fn plans(entries: &[Entry]) -> Vec<&str> {
    entries.iter().map(|entry| entry.wanted.plan.as_str()).collect()
}

#[test]
fn each_bench_has_its_turn_in_order() {
    let (_folder, queue) = queue();
    for (bench, plan) in [("one", "a"), ("two", "b"), ("one", "c")] {
        queue.add(&wanted(bench, plan), at(1)).unwrap();
    }
    assert_eq!(queue.waiting("one").unwrap(), 2);
    let first = queue.take("one", at(2)).unwrap().unwrap();
    assert_eq!(
        (first.wanted.plan.as_str(), first.standing, first.began),
        ("a", Standing::Running, Some(at(2)))
    );
    assert_eq!(queue.take("two", at(2)).unwrap().unwrap().wanted.plan, "b");
    assert_eq!(queue.take("two", at(2)).unwrap(), None);
    assert_eq!(plans(&queue.entries(9).unwrap()), ["a", "b", "c"]);
}

#[test]
fn what_waits_can_be_taken_out_or_come_first() {
    let (_folder, queue) = queue();
    let [a, b, c] = ["a", "b", "c"].map(|plan| queue.add(&wanted("one", plan), at(1)).unwrap().id);
    queue.first(c).unwrap();
    queue.withdraw(a, at(2)).unwrap();
    assert_eq!(plans(&queue.entries(9).unwrap()), ["c", "b", "a"]);
    assert_eq!(queue.take("one", at(3)).unwrap().unwrap().id, c);
    for gone in [a, c] {
        assert!(matches!(queue.withdraw(gone, at(4)), Err(QueueError::NotWaiting(id)) if id == gone));
        assert!(matches!(queue.first(gone), Err(QueueError::NotWaiting(_))));
    }
    for never in [99, u64::MAX] {
        assert!(matches!(queue.withdraw(never, at(4)), Err(QueueError::Unknown(id)) if id == never));
        assert!(matches!(queue.first(never), Err(QueueError::Unknown(_))));
    }
    assert_eq!(queue.take("one", at(5)).unwrap().unwrap().id, b);
}

#[test]
fn what_was_running_goes_on_first_after_a_death() {
    let (folder, queue) = queue();
    let run = RunId::from_record("20261126-000000-0001".to_owned());
    let ids = ["a", "b", "c"].map(|plan| queue.add(&wanted("one", plan), at(1)).unwrap().id);
    queue.take("one", at(2)).unwrap();
    queue.named(ids[0], &run).unwrap();
    drop(queue);
    let queue = Queue::open(folder.path()).unwrap();
    let recovered = queue.recover().unwrap();
    assert_eq!(
        (recovered.len(), recovered[0].id, recovered[0].wanted.goes_on.as_ref()),
        (1, ids[0], Some(&run))
    );
    queue.first(ids[2]).unwrap();
    queue.first(ids[0]).unwrap();
    assert_eq!(queue.take("one", at(3)).unwrap().unwrap().wanted.goes_on, Some(run));
    assert_eq!(queue.take("one", at(3)).unwrap().unwrap().id, ids[2]);
}

#[test]
fn an_ending_is_kept() {
    let (folder, queue) = queue();
    let id = queue.add(&wanted("one", "a"), at(1)).unwrap().id;
    queue.take("one", at(2)).unwrap();
    for outcome in Outcome::ALL.map(Some).into_iter().chain([None]) {
        let told = Some("why\n  help: so".to_owned());
        let ending = Ending { standing: Standing::Done, outcome, told: told.clone() };
        queue.ended(id, &ending, at(3)).unwrap();
        assert_eq!(queue.entry(id).unwrap().unwrap().outcome, outcome);
        let ending = Ending { standing: Standing::Failed, ..ending };
        queue.ended(id, &ending, at(3)).unwrap();
        let entry = Queue::open(folder.path()).unwrap().entry(id).unwrap().unwrap();
        assert_eq!(
            (entry.standing, entry.outcome, entry.told, entry.ended),
            (Standing::Failed, outcome.filter(|outcome| *outcome == Outcome::Exceeds), told, Some(at(3)))
        );
    }
}

#[test]
fn no_more_than_so_many_wait() {
    let (_folder, queue) = queue();
    for _ in 0..MOST_WAITING {
        queue.add(&wanted("one", "a"), at(1)).unwrap();
    }
    assert!(matches!(queue.add(&wanted("one", "a"), at(1)), Err(QueueError::Full(_))));
    queue.add(&wanted("two", "a"), at(1)).unwrap();
}

/// The tables as version 1 of the file had them.
#[test]
fn a_queue_of_before_keeps_its_entries_and_learns_of_pauses() {
    let (folder, queue) = queue();
    let id = queue.add(&wanted("one", "a"), at(1)).unwrap().id;
    queue.with(|connection| connection.execute_batch("DROP TABLE pause; PRAGMA user_version = 1")).unwrap();
    drop(queue);
    let queue = Queue::open(folder.path()).unwrap();
    assert_eq!(plans(&queue.entries(9).unwrap()), ["a"]);
    queue.pause("one", Some(Cause::Asked), at(2)).unwrap();
    queue.pause("one", Some(Cause::Stopped), at(3)).unwrap();
    queue.pause("two", Some(Cause::Asked), at(4)).unwrap();
    queue.pause("two", None, at(5)).unwrap();
    drop(queue);
    let queue = Queue::open(folder.path()).unwrap();
    let kept = Pause { bench: "one".to_owned(), cause: Cause::Stopped, since: at(2) };
    assert_eq!((queue.pauses().unwrap(), queue.take("one", at(6)).unwrap().unwrap().id), (vec![kept], id));
}

#[test]
fn a_queue_of_a_later_program_is_left_alone() {
    let (folder, queue) = queue();
    queue.with(|connection| connection.pragma_update(None, "user_version", 7)).unwrap();
    drop(queue);
    assert!(matches!(Queue::open(folder.path()), Err(QueueError::Later { version: 7, .. })));
}
