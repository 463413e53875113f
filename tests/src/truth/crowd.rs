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
