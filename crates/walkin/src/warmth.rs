//! How warm the parts of the path are from all the radios of a day. Each run waits for its own key-downs; what the radios
//! before it left in the pad, nobody else knows.

use jiff::{SignedDuration, Timestamp};
use spurline_plan::{Heating, Job, Keying, Warm};
use spurline_record::{VisitOutcome, VisitResult};
use spurline_units::{Hertz, Seconds, Watts};

use crate::ledger::{Ledger, Stay};

/// The parts that are warm, and when they were so warm.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Warmth {
    parts: Vec<Warm>,
    at: Timestamp,
}

impl Warmth {
    /// What all radios of a bench have left by a moment, on whichever days they came, those whose carrier stayed among them.
    pub(crate) fn after(days: &[Ledger], stays: &[Stay], search: &Job, now: Timestamp) -> Self {
        let ended = days.iter().flat_map(Ledger::visits).filter_map(|visit| visit.ended.as_ref());
        let of_visit = |(at, result): &(Timestamp, VisitResult)| {
            (*at, result.carrier, power_of(search, result), Seconds::new(result.keyed))
        };
        let of_stay = |stay: &Stay| {
            let to = stay.to.unwrap_or(now);
            (to, None, borne(search, None), between(stay.from, to))
        };
        let mut keyed: Vec<_> = ended.map(of_visit).chain(stays.iter().map(of_stay)).collect();
        keyed.sort_by_key(|(at, ..)| *at);
        let mut warmth = Self { parts: Vec::new(), at: Timestamp::UNIX_EPOCH };
        for (at, carrier, power, held) in keyed {
            warmth.heat(search, (carrier, power), held, at);
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
        self.cool(between(self.at, now));
        self.at = now;
    }

    /// Lets the parts cool for some time.
    pub(crate) fn cool(&mut self, time: Seconds) {
        self.parts = std::mem::take(&mut self.parts).into_iter().map(|warm| warm.cooled(time)).collect();
    }

    /// A radio was keyed for so long and has just let go.
    pub(crate) fn heat(
        &mut self,
        job: &Job,
        (carrier, power): (Option<Hertz>, Watts),
        held: Seconds,
        now: Timestamp,
    ) {
        // What it cooled while it was warmed is in how it was warmed.
        let before = between(self.at, now) - held;
        self.cool(Seconds::new(before.get().max(0.0)));
        self.at = now;
        if held.get() <= 0.0 {
            return;
        }
        let heating = heating(job, carrier, power);
        let mut keying = Keying::new(job.plan.key).warm_at(Seconds::default(), &self.parts);
        keying.keyed(Seconds::default(), held, &heating);
        self.parts = keying.warm(held);
    }

    /// A carrier that stayed is gone: it was there since anything was heard of it last.
    pub(crate) fn stayed(&mut self, job: &Job, now: Timestamp) {
        self.heat(job, (None, borne(job, None)), between(self.at, now), now);
    }

    /// How long until the longest key-down makes no part too warm.
    pub(crate) fn wait(&mut self, job: &Job, now: Timestamp) -> Seconds {
        self.pass(now);
        let keying = Keying::new(job.plan.key).warm_at(Seconds::default(), &self.parts);
        // What no rest helps was refused when the day was read, or is the interlock's to tell.
        keying.wait(Seconds::default(), &heating(job, None, taken(job))).unwrap_or_default()
    }
}

/// How long from one moment to another, by a date that may have been set back.
fn between(from: Timestamp, to: Timestamp) -> Seconds {
    Seconds::new(to.duration_since(from).max(SignedDuration::ZERO).as_secs_f64())
}

/// The most that a radio gives that the day takes.
pub(crate) fn taken(job: &Job) -> Watts {
    let channel = job.plan.channels.first().expect("a plan has a channel");
    job.most_of(channel.powers.first().expect("a channel has a power setting"))
}

/// What a radio may have given of which nobody has a level: one that was not let in may have given more than the day takes, and
/// one that broke off or did not let go as well. It was not as much as overloads the bench, for that is told.
pub(crate) fn borne(job: &Job, carrier: Option<Hertz>) -> Watts {
    let channel = job.plan.channels.first().expect("a plan has a channel");
    let overloads = |power: Watts| {
        let at = |carrier| job.overload(job.carrier_way(), carrier, power).ok();
        let found = carrier.and_then(at).or_else(|| at(channel.carrier));
        found.is_some_and(|overload| overload.is_some())
    };
    let least = taken(job);
    let steps =
        (1..=MOST_STEPS).map(|step| Watts::new(least.get() * 10f64.powf(f64::from(step) * STEP_DB / 10.0)));
    steps.take_while(|power| !overloads(*power)).last().unwrap_or(least)
}

/// In such steps is looked for what a bench bears, to a hundred times what the day takes: a part that bears more warms little.
const STEP_DB: f64 = 0.2;
const MOST_STEPS: u32 = 100;

/// What a radio gave, by what came of its visit.
fn power_of(job: &Job, result: &VisitResult) -> Watts {
    if matches!(result.outcome, VisitOutcome::Refused | VisitOutcome::Failed) {
        return borne(job, result.carrier);
    }
    let level = result.carrier_line().and_then(|line| line.level);
    level.map_or(taken(job), |level| taken(job).max(level.to_watts()))
}

/// What a radio warms; where its carrier was not seen, as one in the middle of the first band.
fn heating(job: &Job, carrier: Option<Hertz>, power: Watts) -> Vec<Heating> {
    let channel = job.plan.channels.first().expect("a plan has a channel");
    let at = |carrier| job.heating(job.carrier_way(), carrier, power).ok();
    carrier.and_then(at).or_else(|| at(channel.carrier)).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use spurline_record::{DayEntry, DayEvent, Label};
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
        warmth.heat(&job, (None, taken(&job)), Seconds::new(10.0), at(0));
        let rise = warmth.now(at(0))[0].rise;
        assert!((rise - 0.0489).abs() < 0.0005, "{rise}");
        assert_eq!(warmth.wait(&job, at(0)), Seconds::default());
        for _ in 1..40 {
            warmth.heat(&job, (None, taken(&job)), Seconds::new(10.0), at(0));
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
        warmth.heat(&job, (None, taken(&job)), Seconds::new(10.0), at(3600));
        assert!((warmth.now(at(0))[0].rise - 0.0489).abs() < 0.0005);
    }

    fn ledger(second: i64, result: VisitResult) -> Ledger {
        let label = Label { serial: Some("1".to_owned()), ..Label::default() };
        let entry = |event| DayEntry { number: 1, day: "d".to_owned(), at: at(second), event };
        let came = DayEvent::Came { visit: 1, label, reference: false };
        Ledger::of(&[entry(came), entry(DayEvent::Ended { visit: 1, result })])
    }

    /// What another day has left under another name is as warm.
    #[test]
    fn the_bench_is_as_warm_as_all_its_days_have_left_it() {
        let folder = tempfile::tempdir().unwrap();
        let job = job(folder.path());
        let keyed = |keyed| VisitResult { keyed, ..specimen::result(VisitOutcome::Complies) };
        let days = [ledger(0, keyed(10.0)), ledger(10, keyed(10.0))];
        let one = Warmth::after(&days[..1], &[], &job, at(10)).now(at(10))[0].rise;
        let both = Warmth::after(&days, &[], &job, at(10)).now(at(10))[0].rise;
        // The second of 10 s began as warm as the first had left it: 0.0489 (1 + exp(-10/180)).
        assert!((both - 0.0951).abs() < 0.001 && both > 1.9 * one, "{one}, {both}");
    }

    /// By hand: 14 W of rating bear a carrier of 14 W and no more; one that stayed for 600 s warms by up to 1 - exp(-600/180) =
    /// 0.964 of the share that it puts into the pad.
    #[test]
    fn a_carrier_that_stayed_warms_until_it_is_gone() {
        let folder = tempfile::tempdir().unwrap();
        let job = job(folder.path());
        let share = heating(&job, None, borne(&job, None))[0].share;
        assert!((0.9..=1.0).contains(&share), "{share}");
        let stay = |to| Stay { why: "30 dBm".to_owned(), from: at(0), to };
        let rise = |to, now: i64| Warmth::after(&[], &[stay(to)], &job, at(now)).now(at(now))[0].rise;
        assert!((rise(Some(at(600)), 600) - share * 0.964).abs() < 0.002);
        assert!(
            (rise(None, 600) - rise(Some(at(600)), 600)).abs() < 1e-9,
            "until now, as far as anybody has said"
        );
        assert!(rise(Some(at(600)), 900) < 0.3);
        let mut live = Warmth { parts: Vec::new(), at: at(0) };
        live.stayed(&job, at(600));
        assert!((live.now(at(600))[0].rise - rise(Some(at(600)), 600)).abs() < 1e-9);
        assert!(live.wait(&job, at(600)).get() > 10.0);
    }

    /// What was not let in because it was too strong gave more than the day takes.
    #[test]
    fn a_radio_that_was_refused_warms_by_what_the_bench_bears() {
        let folder = tempfile::tempdir().unwrap();
        let day = specimen::day(folder.path(), &[]);
        let job = plan::of_search(&day, &Files::from_environment()).unwrap();
        // 8 W and 2 dB of room; the pad bears 50 W.
        assert!((taken(&job).get() - 12.68).abs() < 0.01);
        let most = borne(&job, None).get();
        assert!((40.0..=50.0).contains(&most), "{most}");
        let rise = |outcome| {
            let result = VisitResult { keyed: 5.0, ..specimen::result(outcome) };
            Warmth::after(&[ledger(0, result)], &[], &job, at(0)).now(at(0))[0].rise
        };
        let (refused, taken_in) = (rise(VisitOutcome::Refused), rise(VisitOutcome::Complies));
        assert!((refused / taken_in - most / 12.68).abs() < 0.05, "{refused}, {taken_in}");
    }
}
