//! Many subjects, measured side by side: a thread and a runtime for each that is under way.

use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

use super::run::{Broke, Ran, measured};
use super::subject::Subject;

/// One subject of a crowd and what it came to.
#[derive(Debug)]
pub struct Member {
    /// Its name.
    pub name: String,
    /// What it came to.
    pub ran: Result<Ran, Broke>,
}

/// Subjects that were measured, in the order in which they were given.
#[derive(Debug, Default)]
pub struct Crowd(pub Vec<Member>);

impl Crowd {
    /// Measures `count` subjects, `threads` at a time; `subject` makes that of a number.
    pub fn measure(count: usize, threads: usize, subject: impl Fn(usize) -> Subject + Sync) -> Self {
        let next = AtomicUsize::new(0);
        let members: Mutex<Vec<Option<Member>>> = Mutex::new((0..count).map(|_| None).collect());
        std::thread::scope(|scope| {
            for _ in 0..threads.clamp(1, count.max(1)) {
                scope.spawn(|| {
                    loop {
                        let number = next.fetch_add(1, Ordering::Relaxed);
                        if number >= count {
                            return;
                        }
                        let subject = subject(number);
                        let ran = measured(&subject);
                        let member = Member { name: subject.name, ran };
                        members.lock().expect("no thread panics with the lock")[number] = Some(member);
                    }
                });
            }
        });
        let members = members.into_inner().expect("no thread panics with the lock");
        Self(members.into_iter().flatten().collect())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::truth::Summary;

    /// An analyser that reads 4 dB low and says nothing of it calls complying what is not: the judgement must see that. With
    /// 6 dB the first key-down would show it, and nothing more would be keyed.
    #[test]
    fn a_bench_that_is_not_what_it_says_is_found_out() {
        let crowd = Crowd::measure(8, 2, |number| {
            let mut subject = Subject::draw(9, number as u64);
            subject.meter = None;
            subject.analyser.level_error = Some(-4.0);
            subject
        });
        let summary = Summary::of(&crowd);
        assert_eq!(summary.units, 8, "{:?}", summary.broken);
        assert!(summary.outcomes.complies_beyond > 0, "{:?}", summary.by_outcome);
        assert!(summary.coverage.harmonic.get() < 0.5 && !summary.keeps_all());
    }
}
