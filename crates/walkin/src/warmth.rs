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
