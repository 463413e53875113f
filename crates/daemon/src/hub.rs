//! What is told to whoever listens: numbered messages, of which the newest are kept for a listener that comes back.
//!
//! A listener that is slow loses messages and is told so; it never holds up who tells.

use std::collections::VecDeque;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use tokio::sync::broadcast;

/// So many messages are kept for a listener that comes back, and may be under way to one.
const KEPT: usize = 2048;

/// One message.
#[derive(Debug)]
pub struct Message {
    /// Its number in this life of the program, from 1.
    pub number: u64,
    /// What kind it is.
    pub kind: &'static str,
    /// JSON on one line.
    pub text: String,
}

/// What a listener that comes back has missed.
#[derive(Debug)]
pub enum Missed {
    /// These, in order.
    These(Vec<Arc<Message>>),
    /// More than is kept: it must look at everything anew.
    TooMuch,
}

/// Where messages come from.
#[derive(Debug)]
pub struct Hub {
    /// Tells one life of the program from another.
    life: String,
    kept: Mutex<(u64, VecDeque<Arc<Message>>)>,
    sender: broadcast::Sender<Arc<Message>>,
}

impl Hub {
    /// A hub of a life of the program.
    #[must_use]
    pub fn new(life: String) -> Self {
        Self { life, kept: Mutex::default(), sender: broadcast::channel(KEPT).0 }
    }

    /// Tells something to everybody who listens.
    pub fn tell(&self, kind: &'static str, text: String) {
        let mut kept = self.lock();
        kept.0 += 1;
        let message = Arc::new(Message { number: kept.0, kind, text });
        if kept.1.len() == KEPT {
            kept.1.pop_front();
        }
        kept.1.push_back(message.clone());
        // Under the lock, so that all hear the same order. Nobody may be listening.
        drop(self.sender.send(message));
    }

    /// Listens from now on; `last` is what a listener that comes back heard last.
    #[must_use]
    pub fn listen(&self, last: Option<&str>) -> (Missed, broadcast::Receiver<Arc<Message>>) {
        let kept = self.lock();
        let receiver = self.sender.subscribe();
        let Some(last) = last else { return (Missed::These(Vec::new()), receiver) };
        let heard = last
            .split_once(':')
            .filter(|(life, _)| *life == self.life)
            .and_then(|(_, number)| number.parse::<u64>().ok())
            .filter(|heard| *heard <= kept.0);
        let oldest = kept.1.front().map_or(1, |message| message.number);
        let missed = match heard {
            Some(heard) if heard + 1 >= oldest => {
                Missed::These(kept.1.iter().filter(|message| message.number > heard).cloned().collect())
            }
            Some(_) | None => Missed::TooMuch,
        };
        (missed, receiver)
    }

    /// The name of a message over all lives of the program.
    #[must_use]
    pub fn name(&self, number: u64) -> String {
        format!("{}:{number}", self.life)
    }

    /// The name of the newest message.
    #[must_use]
    pub fn newest(&self) -> String {
        self.name(self.lock().0)
    }

    fn lock(&self) -> MutexGuard<'_, (u64, VecDeque<Arc<Message>>)> {
        // A message is whole before it is put in.
        self.kept.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn hub(messages: usize) -> Hub {
        let hub = Hub::new("life".to_owned());
        for number in 0..messages {
            hub.tell("test", number.to_string());
        }
        hub
    }

    fn missed(hub: &Hub, last: &str) -> Option<Vec<u64>> {
        match hub.listen(Some(last)).0 {
            Missed::These(these) => Some(these.iter().map(|message| message.number).collect()),
            Missed::TooMuch => None,
        }
    }

    #[test]
    fn who_comes_back_hears_exactly_what_was_missed() {
        let hub = hub(5);
        assert_eq!(missed(&hub, "life:3"), Some(vec![4, 5]));
        assert_eq!(missed(&hub, "life:5"), Some(Vec::new()));
        assert_eq!(missed(&hub, "life:0").unwrap().len(), 5);
        assert_eq!(hub.newest(), "life:5");
    }

    #[test]
    fn who_was_away_too_long_or_in_another_life_begins_anew() {
        let hub = hub(KEPT + 10);
        assert_eq!(missed(&hub, "life:9"), None);
        assert_eq!(missed(&hub, "life:10").unwrap().len(), KEPT);
        for other in ["death:5", "life:x", "life", "", "life:99999999", "life:18446744073709551615"] {
            assert_eq!(missed(&hub, other), None, "{other}");
        }
    }

    #[test]
    fn who_listens_hears_what_comes() {
        let hub = hub(3);
        let (missed, mut receiver) = hub.listen(None);
        assert!(matches!(missed, Missed::These(these) if these.is_empty()));
        hub.tell("test", "x".to_owned());
        assert_eq!(receiver.try_recv().unwrap().number, 4);
    }
}
