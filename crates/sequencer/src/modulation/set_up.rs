//! The set-up: the level of a tone at the microphone input is searched for with key-downs of its own, before anything is
//! measured with it. What the carrier then carries is what the looks of the rest are chosen for.

use spurline_clock::Moment;
use spurline_instrument::KeyError;
use spurline_plan::{
    Job, Look, MOST_SET_UP_LOOKS, Modulation, ModulationFact, SetUp, SetUpAim, TONE_SETTLE, Way, set_up_looks,
};
use spurline_record::{Acquisition, Derivation, Outcome, Reading, Reason, ReasonCode};
use spurline_units::{Db, Dbm, Hertz, Seconds, Volts};

use super::lines::{self, Seen, show};
use super::reading::{Try, fill, series};
use super::search::{Next, Search, Why};
use crate::by_hand;
use crate::carrier::PRESENT_DB;
use crate::fault::RunFault;
use crate::interlock::Aim;
use crate::scope::{Case, Measuring};

/// What a set-up has found, for the rest of its channel.
#[derive(Clone, Debug)]
pub(crate) struct Kept {
    channel: String,
    supply: Option<String>,
    power: String,
    tone: Hertz,
    found: Result<Found, Reason>,
}

#[derive(Clone, Debug)]
struct Found {
    level: Volts,
    modulation: Modulation,
}

/// What the rest of a scope is measured with.
pub(crate) enum Prepared {
    /// What the plan says.
    AsPlanned,
    /// This, because it was measured.
    Measured(Box<Job>),
    /// Nothing: there is no such modulation.
    Failed(Reason),
}

/// The name of the reading that tells how a set-up went.
pub(crate) const SET_UP: &str = "set-up";
/// What is left of a key-down for key up.
const END: f64 = 0.5;
/// The lowest level that an operator is asked for, where no generator states one.
const LEAST_BY_HAND: Volts = Volts::new(1e-4);

/// A set-up that is under way.
struct Under {
    set_up: SetUp,
    fact: ModulationFact,
    looks: Vec<Acquisition>,
    tries: Vec<Try>,
    /// Until when the key is down, if it is.
    keyed: Option<Moment>,
}

/// Why a set-up ends without a level.
struct Failure {
    code: ReasonCode,
    text: String,
}

/// What a set-up is about.
fn fact_of(set_up: SetUp) -> ModulationFact {
    match set_up.aim {
        SetUpAim::Depth { .. } => ModulationFact::Depth,
        SetUpAim::AboveHalf { .. } | SetUpAim::Share { .. } => ModulationFact::Deviation,
    }
}

impl Measuring<'_, '_> {
    /// The reading of a set-up that was not begun, where the plan wants one.
    pub(crate) fn no_set_up(&mut self, case: &Case<'_>, reason: &Reason) -> Result<(), RunFault> {
        let Some(set_up) = self.job.plan.set_up else { return Ok(()) };
        let mut reading = self.blank_modulation(case, fact_of(set_up));
        reading.name = Some(SET_UP.to_owned());
        reading.reason = Some(reason.clone());
        self.finish(reading)
    }

    /// Finds the level of the tone, or takes the one that was found for this channel, and has the tone given.
    pub(crate) async fn prepared(&mut self, case: &Case<'_>, way: &Way) -> Result<Prepared, RunFault> {
        let Some(set_up) = self.job.plan.set_up else { return Ok(Prepared::AsPlanned) };
        let kept = self.done.set_up.take().filter(|kept| {
            kept.channel == case.channel.name && kept.supply == case.supply && kept.power != case.power.name
        });
        let kept = match kept {
            Some(kept) => kept,
            None => self.set_up(case, way, set_up).await?,
        };
        let prepared = match &kept.found {
            Ok(found) => {
                self.tone_on(kept.tone, found.level, false).await?;
                let mut job = self.job.clone();
                job.plan.modulation = found.modulation;
                Prepared::Measured(Box::new(job))
            }
            Err(reason) => Prepared::Failed(reason.clone()),
        };
        self.done.set_up = Some(kept);
        Ok(prepared)
    }

    /// Everything that the scope would have measured, for one reason not measured; nothing is keyed for it.
    pub(crate) async fn nothing_modulated(
        &mut self,
        case: &Case<'_>,
        reason: &Reason,
    ) -> Result<(), RunFault> {
        let reason = Reason::new(reason.code, format!("the modulation could not be set up: {}", reason.text));
        let mut reading = self.blank(case, self.job.carrier_way(), None);
        reading.reason = Some(reason.clone());
        self.nothing_of_the_scope(case, reading, reason).await
    }

    /// Every reading of a scope in which nothing can be measured: `reading` is that of its carrier, and `reason` why there is
    /// none of all else.
    pub(crate) async fn nothing_of_the_scope(
        &mut self,
        case: &Case<'_>,
        reading: Reading,
        reason: Reason,
    ) -> Result<(), RunFault> {
        let (first, second) = (self.job.carrier_way(), self.job.harmonics_way());
        self.finish(reading)?;
        let mut works = self.works(case, first).await?;
        if !self.job.one_key_down() {
            self.switch(case, second).await?;
            let by_second = self.works(case, second).await?;
            works.works.extend(by_second.works);
            works.beyond.extend(by_second.beyond);
        }
        for work in &works.works {
            for reading in self.not_done(case, work, &reason) {
                self.finish(reading)?;
            }
        }
        self.all_beyond(case, &Err(reason), &works.beyond)
    }

    async fn set_up(&mut self, case: &Case<'_>, way: &Way, set_up: SetUp) -> Result<Kept, RunFault> {
        self.doing(&format!("set up the modulation with {}", set_up.tone))?;
        let fact = fact_of(set_up);
        let mut under = Under { set_up, fact, looks: Vec::new(), tries: Vec::new(), keyed: None };
        let worked = self.search(case, way, &mut under).await;
        if let Err(fault @ RunFault::Key(KeyError::StillDown(_))) = worked {
            // It was tried for long enough: now the supply is the way off, and the tone goes after it.
            return Err(fault);
        }
        // Whatever came of it: key up first, then the tone off.
        self.up_again(case, way, &mut under).await?;
        self.tone_away().await?;
        let outcome = worked?;
        let mut reading = self.blank_modulation(case, fact);
        reading.name = Some(SET_UP.to_owned());
        reading.series = Some(series(fact, &under.tries));
        let found = match outcome {
            Ok((at_target, level, at_end)) => {
                written(self.job, &under, &at_target, level, &at_end, &mut reading);
                Ok(Found { level, modulation: at_end.modulation(set_up.tone) })
            }
            Err(failure) => {
                let reason = Reason::new(failure.code, failure.text);
                reading.reason = Some(reason.clone());
                Err(reason)
            }
        };
        reading.acquisitions = under.looks;
        self.finish(reading)?;
        Ok(Kept {
            channel: case.channel.name.clone(),
            supply: case.supply.clone(),
            power: case.power.name.clone(),
            tone: set_up.tone,
            found,
        })
    }

    /// What was seen at the target, the level for the measurement, and what it makes.
    async fn search(
        &mut self,
        case: &Case<'_>,
        way: &Way,
        under: &mut Under,
    ) -> Result<Result<(Seen, Volts, Seen), Failure>, RunFault> {
        let set_up = under.set_up;
        let at_input = self.job.carrier_at_analyser(way, case.channel, case.power)?;
        let profile = self.job.bench.analyser_profile();
        let [(at_target, few), (at_end, many)] =
            set_up_looks(profile, case.channel.carrier, at_input, &set_up);
        let given = self.job.bench.audio_generator().map(|profile| profile.level);
        let least = given.map_or(LEAST_BY_HAND, |given| given.low());
        let most = given.map_or(set_up.most, |given| set_up.most.min(given.high()));
        let (target, window) = set_up.target();
        let start = set_up.start.max(least).min(most);
        let mut search = Search { target, window, start, least, most, seen: Vec::new() };
        let mut last: Option<(Volts, Seen)> = None;
        // The very last look is for what the level makes in the end.
        let (level, seen) = loop {
            match search.next(MOST_SET_UP_LOOKS as usize - 1) {
                Next::Try(level) => {
                    let shot = Shot { tone: set_up.searched_with(), level, look: &at_target, lines: few };
                    match self.tried(case, way, under, &shot).await? {
                        Ok(seen) => {
                            search.seen.push((level, seen.figure));
                            last = Some((level, seen));
                        }
                        Err(failure) => return Ok(Err(failure)),
                    }
                }
                Next::Found => break last.expect("what was found was seen"),
                Next::Fails(why) => return Ok(Err(in_words(&set_up, under.fact, &why))),
            }
        };
        if let Some(text) = seen.complaint {
            return Ok(Err(Failure { code: ReasonCode::ModulationDisagrees, text }));
        }
        let SetUpAim::AboveHalf { above, .. } = set_up.aim else {
            return Ok(Ok((seen.clone(), level, seen)));
        };
        let raised = level * above.amplitude_ratio();
        if raised > most {
            let text = format!(
                "{} makes half of the deviation: {above} above that is {}, more than the {most} that may be given",
                volts(level),
                volts(raised)
            );
            return Ok(Err(Failure { code: ReasonCode::SetUpFailed, text }));
        }
        let shot = Shot { tone: set_up.tone, level: raised, look: &at_end, lines: many };
        Ok(match self.tried(case, way, under, &shot).await? {
            Ok(Seen { complaint: Some(text), .. }) => {
                Err(Failure { code: ReasonCode::ModulationDisagrees, text })
            }
            Ok(end) => Ok((seen, raised, end)),
            Err(failure) => Err(failure),
        })
    }

    /// Gives a tone of a level and looks at what it makes, on this key-down if there is time for it, else on the next.
    async fn tried(
        &mut self,
        case: &Case<'_>,
        way: &Way,
        under: &mut Under,
        shot: &Shot<'_>,
    ) -> Result<Result<Seen, Failure>, RunFault> {
        let Shot { tone, level, look, lines } = *shot;
        let needed = look.time_on_the_wire() + Seconds::from(TONE_SETTLE) + Seconds::new(END);
        let time = under.keyed.map(|ends| Seconds::from(ends.since(self.clock.now())));
        if !(self.sets_tones_itself() && time.is_some_and(|time| time >= needed)) {
            self.up_again(case, way, under).await?;
        }
        self.doing(&format!("tone of {tone}, {}", volts(level)))?;
        self.tone_on(tone, level, under.keyed.is_some()).await?;
        if under.keyed.is_none() {
            match self.wait_and_key(case, way, Aim::Measure).await {
                Ok(ends) => under.keyed = Some(ends),
                Err(fault) => {
                    let Some(reason) = by_hand::nobody_keyed(&fault) else { return Err(fault) };
                    return Ok(Err(Failure { code: reason.code, text: reason.text }));
                }
            }
            self.settle().await?;
        }
        let look = self.keyed_look("set-up", look).await?;
        let seen = sound(&look).and_then(|()| {
            lines::seen(self.job, &look, tone, under.fact, lines).ok_or_else(|| Failure {
                code: ReasonCode::NotKeyed,
                text: "no carrier came: the analyser sees nothing at its frequency".to_owned(),
            })
        });
        under.looks.push(look);
        let seen = match seen {
            Ok(seen) => seen,
            Err(failure) => return Ok(Err(failure)),
        };
        let loss = way.branch.path.loss_at(case.channel.carrier)?.total;
        let at_connector = Dbm::new(seen.level) + loss;
        if at_connector < case.power.window.low().dbm() - Db::new(PRESENT_DB) {
            let text = format!("no carrier came: the analyser sees {at_connector} at the connector");
            return Ok(Err(Failure { code: ReasonCode::NotKeyed, text }));
        }
        self.bears(way, case.channel.carrier, Some(at_connector))?;
        under.tries.push(Try { tone, level, made: seen.figure });
        Ok(Ok(seen))
    }

    /// Key up, and the carrier seen to go, if it is down.
    async fn up_again(&mut self, case: &Case<'_>, way: &Way, under: &mut Under) -> Result<(), RunFault> {
        if under.keyed.take().is_none() && !self.done.key_is_down {
            return Ok(());
        }
        self.key_up().await?;
        self.confirm_gone(case, way).await
    }
}

/// What is given, and how it is looked at.
struct Shot<'a> {
    tone: Hertz,
    level: Volts,
    look: &'a Look,
    /// How many lines to either side it shows.
    lines: u32,
}

/// A level in a few digits.
fn volts(level: Volts) -> String {
    let rounded = |unit: f64, digits: usize| format!("{:.digits$}", level.get() * unit);
    if level.get() < 1.0 { format!("{} mV", rounded(1e3, 2)) } else { format!("{} V", rounded(1.0, 3)) }
}

fn sound(look: &Acquisition) -> Result<(), Failure> {
    let failure = |code, text: &str| Err(Failure { code, text: text.to_owned() });
    if look.flags.overload {
        return failure(ReasonCode::Overload, "the analyser was overloaded by the carrier");
    }
    if look.flags.uncalibrated {
        return failure(ReasonCode::Uncalibrated, "the analyser swept too fast for its bandwidth");
    }
    Ok(())
}

/// Why the search came to nothing.
fn in_words(set_up: &SetUp, fact: ModulationFact, why: &Why) -> Failure {
    let (target, _) = set_up.target();
    let target = show(fact, target);
    let tone = set_up.searched_with();
    let text = match why {
        Why::TooLittle { level, made }
            if *made < lines::NOTHING * if fact == ModulationFact::Depth { 1.0 } else { tone.get() } =>
        {
            format!(
                "a tone of {tone} modulates the carrier with nothing to speak of, even at {}: is it connected to the \
                 microphone input, and the unit set to this modulation?",
                volts(*level)
            )
        }
        Why::TooLittle { level, made } => format!(
            "{}, the most that may be given, makes {} of the {target} that is wanted",
            volts(*level),
            show(fact, *made)
        ),
        Why::TooMuch { level, made } => format!(
            "{}, the least that can be given, makes {} already, more than the {target} that is wanted",
            volts(*level),
            show(fact, *made)
        ),
        Why::Held { level, made } => format!(
            "more level makes no more than {}, at {}: a limiter holds it below the {target} that is wanted. Is what the \
             plan says of the unit right?",
            show(fact, *made),
            volts(*level)
        ),
        Why::NotNearEnough { level, made } => format!(
            "after {} looks {} makes {}, not within {:.1} % of {target}: the modulator goes in steps, or is not steady",
            MOST_SET_UP_LOOKS - 1,
            volts(*level),
            show(fact, *made),
            set_up.within * 100.0
        ),
    };
    Failure { code: ReasonCode::SetUpFailed, text }
}

/// Writes down what was found. The window of the search says when to stop, and not whether a limit is kept: the reading
/// has none.
fn written(job: &Job, under: &Under, at_target: &Seen, level: Volts, at_end: &Seen, reading: &mut Reading) {
    let set_up = &under.set_up;
    fill(reading, at_target);
    let (target, [low, high]) = set_up.target();
    reading.outcome = Outcome::Complies;
    let show = |figure| show(under.fact, figure);
    let mut steps = vec![format!(
        "a level is searched for with which a tone of {} makes {}, from {} to {}: that is when the search ends, and no \
         limit",
        set_up.searched_with(),
        show(target),
        show(low),
        show(high)
    )];
    if let SetUpAim::AboveHalf { rated, above } = set_up.aim {
        steps.push(format!(
            "half of the rated {}; the tone of the measurement is {above} above that level",
            rated
        ));
    }
    reading.derivation =
        Derivation { source: format!("{}: modulation.set_up", job.document.source.name()), steps };
    let found = under.tries.iter().rev().find(|one| one.made == at_target.figure);
    if let Some(found) = found {
        reading.remarks.push(format!(
            "{} makes {} with a tone of {}, after {} looks in all",
            volts(found.level),
            show(found.made),
            found.tone,
            under.tries.len()
        ));
    }
    reading.remarks.push(format!(
        "measured with a tone of {} at {}: it makes {}",
        set_up.tone,
        volts(level),
        show(at_end.figure)
    ));
    if let SetUpAim::AboveHalf { .. } = set_up.aim {
        reading.remarks.extend(at_end.remarks.iter().map(|remark| format!("with it, {remark}")));
        if set_up.maximum_response.is_none() {
            reading.remarks.push(
                "the plan names no frequency of maximum response: the level was found with the tone itself"
                    .to_owned(),
            );
        }
    }
}
