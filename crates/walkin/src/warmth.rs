//! How warm the parts of the path are from all the radios of a day. Each run waits for its own key-downs; what the radios
//! before it left in the pad, nobody else knows.

use jiff::{SignedDuration, Timestamp};
use spurline_plan::{Heating, Job, Keying, Warm};
use spurline_units::{Hertz, Seconds};

use crate::ledger::Ledger;

/// The parts that are warm, and when they were so warm.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Warmth {
    parts: Vec<Warm>,
    at: Timestamp,
}

impl Warmth {
    /// What the visits of a day so far have left: each warmed when it ended.
    pub(crate) fn after(ledger: &Ledger, search: &Job, now: Timestamp) -> Self {
        let mut warmth = Self { parts: Vec::new(), at: Timestamp::UNIX_EPOCH };
        for (at, result) in ledger.visits().iter().filter_map(|visit| visit.ended.as_ref()) {
            warmth.heat(search, result.carrier, Seconds::new(result.keyed), *at);
        }
        warmth.pass(now);
        warmth
    }

    /// How warm each part is at a moment.
    pub(crate) fn now(&mut self, now: Timestamp) -> Vec<Warm> {
        self.pass(now);
        self.parts.clone()
    }

    /// Lets the parts cool until a moment; a date that was set back cools nothing.
    fn pass(&mut self, now: Timestamp) {
        let passed = now.duration_since(self.at).max(SignedDuration::ZERO).as_secs_f64();
        self.cool(Seconds::new(passed));
        self.at = now;
    }

    /// Lets the parts cool for some time.
    pub(crate) fn cool(&mut self, time: Seconds) {
        self.parts = std::mem::take(&mut self.parts).into_iter().map(|warm| warm.cooled(time)).collect();
    }

    /// A radio was keyed for so long and has just let go: at the most power that the day takes, which is more than it gave.
    pub(crate) fn heat(&mut self, job: &Job, carrier: Option<Hertz>, held: Seconds, now: Timestamp) {
        self.pass(now);
        if held.get() <= 0.0 {
            return;
        }
        let heating = heating(job, carrier);
        let mut keying = Keying::new(job.plan.key).warm_at(Seconds::default(), &self.parts);
        // It cooled while it was warmed: what it was at the beginning is what it is now, and a little more.
        keying.keyed(Seconds::default(), held, &heating);
        self.parts = keying.warm(held);
    }

    /// How long until the longest key-down makes no part too warm.
    pub(crate) fn wait(&mut self, job: &Job, now: Timestamp) -> Seconds {
        self.pass(now);
        let keying = Keying::new(job.plan.key).warm_at(Seconds::default(), &self.parts);
        // What no rest helps was refused when the day was read, or is the interlock's to tell.
        keying.wait(Seconds::default(), &heating(job, None)).unwrap_or_default()
    }
}

/// What a radio warms; where its carrier was not seen, as one in the middle of the first band.
fn heating(job: &Job, carrier: Option<Hertz>) -> Vec<Heating> {
    let channel = job.plan.channels.first().expect("a plan has a channel");
    let power = channel.powers.first().expect("a channel has a power setting");
    let at = |carrier| job.heating(job.carrier_way(), carrier, job.most_of(power)).ok();
    carrier.and_then(at).or_else(|| at(channel.carrier)).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use spurline_runner::Files;

    use super::*;
    use crate::{plan, specimen};

    /// The job of the shipped day, with a pad that is rated for little more than the day takes.
    fn job(folder: &std::path::Path) -> Job {
        let day = specimen::day(folder, &[("rated: 50 W", "rated: 14 W")]);
        plan::of_search(&day, &Files::from_environment()).unwrap()
    }

    fn at(second: i64) -> Timestamp {
        Timestamp::from_second(1_800_000_000 + second).unwrap()
    }

    /// By hand: 8 W and 2 dB of room are 12.68 W at the connector, of which 40 dB leave all but nothing: 0.906 of what the pad is
    /// rated for. 10 s warm it by 0.906 (1 - exp(-10/180)) = 0.0489; without a pause 400 s come to 0.906 (1 - exp(-400/180)) =
    /// 0.808, and more than two thirds are too much.
    #[test]
    fn a_queue_of_strong_radios_warms_the_pad_until_it_must_cool() {
        let folder = tempfile::tempdir().unwrap();
        let job = job(folder.path());
        let mut warmth = Warmth { parts: Vec::new(), at: at(0) };
        warmth.heat(&job, None, Seconds::new(10.0), at(0));
        let rise = warmth.now(at(0))[0].rise;
        assert!((rise - 0.0489).abs() < 0.0005, "{rise}");
        assert_eq!(warmth.wait(&job, at(0)), Seconds::default());
        for _ in 1..40 {
            warmth.heat(&job, None, Seconds::new(10.0), at(0));
        }
        let rise = warmth.now(at(0))[0].rise;
        assert!((rise - 0.808).abs() < 0.005, "{rise}");
        let wait = warmth.wait(&job, at(0));
        // It may begin at (0.6667 - 0.0489) / exp(-10/180) = 0.653: 180 s ln(0.808 / 0.653) = 38 s.
        assert!((wait.get() - 38.0).abs() < 3.0, "{wait}");
        let waited = at(40);
        assert_eq!(warmth.wait(&job, waited), Seconds::default());
        // An hour later it is cold; a date that was set back cools nothing.
        assert!(warmth.now(at(3600))[0].rise < 1e-6);
        warmth.heat(&job, None, Seconds::new(10.0), at(3600));
        assert!((warmth.now(at(0))[0].rise - 0.0489).abs() < 0.0005);
    }
}
