//! A person keys: told what and for how long, seen on the analyser to have done it, and told to let go. No lease ends
//! what a thumb holds: the run says so, again and again, until the carrier has gone.

use std::error::Error;
use std::time::Duration;

use spurline_clock::{Clock, Moment};
use spurline_path::Path;
use spurline_plan::{Heating, Look, Way};
use spurline_record::{EventKind, Reason, ReasonCode};
use spurline_units::{Db, Dbm, Hertz};

use crate::carrier;
use crate::dispatcher::Dispatcher;
use crate::fault::RunFault;
use crate::interlock::{Aim, Air};
use crate::modulation::Prompted;
use crate::rack::Rack;
use crate::scope::{Case, Measuring};
use crate::trace;

/// How often the analyser looks whether the carrier is there, unless a look takes longer.
const EVERY: Duration = Duration::from_millis(300);
/// How long a carrier may stay once the person was told to let go.
pub(crate) const GOES_WITHIN: Duration = Duration::from_secs(5);
/// How often the person is told again meanwhile.
const AGAIN: Duration = Duration::from_secs(1);
/// What a person is given to do what it was told where nobody can see that it was done.
const UNSEEN: Duration = Duration::from_secs(3);

/// What tells whether a person keys.
#[derive(Debug)]
pub(crate) struct Watch {
    /// The look that shows the carrier; nothing where none is to come.
    look: Option<Look>,
    path: Path,
    carrier: Hertz,
    /// What is weaker is none.
    most: Dbm,
    /// Since when the unit is keyed, as far as that is known.
    since: Option<Moment>,
}

/// What one look shows of it.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Seen {
    /// Nothing that could be a carrier.
    None,
    /// A carrier.
    Carrier(Dbm),
    /// Nobody can tell: no look shows it, or the analyser is gone.
    Unknown,
}

/// What became of a carrier whose person was told to let go.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum LetGo {
    /// It was seen to go.
    Gone,
    /// Nobody could see it.
    Unseen,
    /// It is still there.
    Stays(Dbm),
}

impl Watch {
    /// A look at a carrier by a path; what is weaker than `most` at the connector is none.
    pub(crate) fn at(look: Look, path: Path, carrier: Hertz, most: Dbm, since: Option<Moment>) -> Self {
        Self { look: Some(look), path, carrier, most, since }
    }

    /// One that sees nothing: nobody knows where the carrier would come.
    pub(crate) fn blind(path: Path) -> Self {
        Self { look: None, path, carrier: Hertz::new(0.0), most: Dbm::new(0.0), since: None }
    }

    /// The level of the carrier, if it is there.
    async fn level(&self, rack: &mut Rack, keyed: bool, look: &Look) -> Result<Option<Dbm>, RunFault> {
        let seen = rack.analyser.acquire("is it keyed?", keyed, &look.settings, look.sweeps).await?;
        let level = carrier::seen(&seen, &self.path, self.carrier)?;
        let is_line = trace::stands_out(&seen, self.carrier, look.settings.rbw);
        Ok(level.filter(|level| *level > self.most && is_line))
    }

    async fn sees(&self, rack: &mut Rack) -> Seen {
        let Some(look) = &self.look else { return Seen::Unknown };
        match self.level(rack, true, look).await {
            Ok(Some(level)) => Seen::Carrier(level),
            Ok(None) => Seen::None,
            Err(_) => Seen::Unknown,
        }
    }

    /// How long the unit was keyed, if it was.
    pub(crate) fn held(&self, now: Moment) -> Duration {
        self.since.map_or(Duration::ZERO, |since| now.since(since))
    }
}

/// One look each so often: how many fit into a time depends on nothing but the look, so that a run is repeated as it was.
struct Rhythm {
    began: Moment,
    every: Duration,
    number: u32,
    most: u32,
}

impl Rhythm {
    fn new(look: Option<&Look>, within: Duration, now: Moment) -> Self {
        let every = look.map_or(EVERY, |look| EVERY.max(look.time_on_the_wire().duration() * 2));
        let most = (within.as_secs_f64() / every.as_secs_f64()).floor().max(1.0) as u32;
        Self { began: now, every, number: 0, most }
    }

    /// Waits for the next beat; false once the time is over.
    async fn next(&mut self, clock: Clock) -> bool {
        let now = clock.now();
        let passed = (now.since(self.began).as_secs_f64() / self.every.as_secs_f64()).floor() as u32;
        self.number = passed.max(self.number) + 1;
        if self.number >= self.most {
            return false;
        }
        clock.sleep_until(self.began.after(self.every * self.number)).await;
        true
    }
}

/// Tells the person something, whether or not it can be kept.
pub(crate) fn told(
    rack: &mut Rack,
    out: &mut Dispatcher<'_>,
    what: Prompted,
    text: &str,
) -> Result<(), Box<dyn Error + Send + Sync>> {
    let kept = out.emit(EventKind::Prompt(text.to_owned()));
    if let Some(operator) = &mut rack.operator {
        operator.prompted(what);
    }
    kept
}

/// Tells the person to let go, every second until the carrier has gone or has stayed for too long.
///
/// # Errors
///
/// [`RunFault::Record`] if that could not be kept; all of it was done.
pub(crate) async fn let_go(
    rack: &mut Rack,
    clock: Clock,
    out: &mut Dispatcher<'_>,
    watch: &Watch,
    text: &str,
) -> (LetGo, Result<(), RunFault>) {
    let began = clock.now();
    let mut kept = told(rack, out, Prompted::LetGo, text);
    let mut last = began;
    let mut rhythm = Rhythm::new(watch.look.as_ref(), GOES_WITHIN, began);
    let end = loop {
        let seen = watch.sees(rack).await;
        let passed = clock.now().since(began);
        match seen {
            // Whoever was never seen to key may be about to.
            Seen::None if watch.since.is_some() || passed >= UNSEEN => break LetGo::Gone,
            // What cannot be seen is given its time.
            Seen::Unknown if passed >= UNSEEN => break LetGo::Unseen,
            Seen::None | Seen::Unknown | Seen::Carrier(_) => {}
        }
        if !rhythm.next(clock).await {
            break match seen {
                Seen::None => LetGo::Gone,
                Seen::Unknown => LetGo::Unseen,
                Seen::Carrier(level) => LetGo::Stays(level),
            };
        }
        let again = match seen {
            Seen::Carrier(_) => Some("let go now: the carrier is still there"),
            Seen::Unknown => {
                watch.look.is_some().then_some("let go now: nobody can see whether the carrier has gone")
            }
            Seen::None => None,
        };
        if let Some(text) = again.filter(|_| clock.now().since(last) >= AGAIN) {
            last = clock.now();
            kept = kept.and(told(rack, out, Prompted::LetGo, text));
        }
    };
    if let LetGo::Stays(level) = end {
        let text =
            format!("LET GO NOW: {level} is still there, {} s after you were told", GOES_WITHIN.as_secs());
        kept = kept.and(told(rack, out, Prompted::LetGo, &text));
    }
    (end, kept.map_err(RunFault::Record))
}

/// The end of work in which somebody may still key: told to let go, whatever became of the work. How long the unit was
/// keyed, counted until the carrier had gone; and whether all of it could be kept.
///
/// # Errors
///
/// [`RunFault::CarrierStays`]: then nobody may say that the key is up.
pub(crate) async fn leave(
    rack: &mut Rack,
    clock: Clock,
    out: &mut Dispatcher<'_>,
    watch: &Watch,
    text: &str,
) -> Result<(Duration, Result<(), RunFault>), RunFault> {
    let (end, kept) = let_go(rack, clock, out, watch, text).await;
    match end {
        LetGo::Stays(level) => Err(RunFault::CarrierStays { level }),
        LetGo::Gone | LetGo::Unseen => Ok((watch.held(clock.now()), kept)),
    }
}

/// Why nothing was measured, if it is that nobody keyed.
pub(crate) fn nobody_keyed(fault: &RunFault) -> Option<Reason> {
    matches!(fault, RunFault::NobodyKeyed { .. })
        .then(|| Reason::new(ReasonCode::NotKeyed, fault.to_string()))
}

impl Measuring<'_, '_> {
    pub(crate) fn is_by_hand(&self) -> bool {
        self.job.bench.key.is_by_hand()
    }

    /// What shows whether a person keys in a case, on a way.
    fn watch(&self, case: &Case<'_>, way: &Way, aim: Aim) -> Result<Watch, RunFault> {
        let look = match aim {
            Aim::Glimpse | Aim::Measure => Some(self.carrier_look(case, way)?),
            // Of a unit that is as it should be nothing comes.
            Aim::Silence => None,
        };
        Ok(Watch {
            look,
            path: way.branch.path.clone(),
            carrier: case.channel.carrier,
            most: least_of(case),
            since: None,
        })
    }

    fn tell(&mut self, what: Prompted, text: &str) -> Result<(), RunFault> {
        told(self.rack, self.out, what, text).map_err(RunFault::Record)
    }

    /// Has a person key, and waits until the carrier has come; the interlocks hold.
    ///
    /// # Errors
    ///
    /// [`RunFault::NobodyKeyed`] if it does not come; the person was told to let go all the same.
    pub(crate) async fn keyed_by_hand(
        &mut self,
        case: &Case<'_>,
        way: &Way,
        aim: Aim,
        heating: Vec<Heating>,
    ) -> Result<Moment, RunFault> {
        let longest = self.longest(aim);
        let watch = self.watch(case, way, aim)?;
        let look = watch.look;
        // From here on somebody may key, whatever becomes of this work.
        self.done.thumb = Some(watch);
        let (channel, power) = (case.channel, case.power);
        let told = self.clock.now();
        self.tell(
            Prompted::Key,
            &format!(
                "key the unit now: {}, {}, {}; at most {longest}",
                channel.name, channel.carrier, power.name
            ),
        )?;
        match look {
            Some(look) => {
                if !self.carrier_comes(&look).await? {
                    return self.withdraw(told, aim, heating).await;
                }
            }
            None => self.clock.sleep(UNSEEN).await,
        }
        let down = self.key.down(longest.duration()).await;
        let now = self.clock.now();
        if let Some(watch) = &mut self.done.thumb {
            watch.since = Some(now);
        }
        self.done.key_is_down = true;
        self.done.chain.air = Air::Unknown;
        self.done.chain.keyed.goes_down(now, aim, heating);
        self.emit(EventKind::KeyDown { lease: longest })?;
        down?;
        Ok(now.after(longest.duration()))
    }

    /// Looks until the carrier comes; false if it does not.
    async fn carrier_comes(&mut self, look: &Look) -> Result<bool, RunFault> {
        let mut rhythm = Rhythm::new(Some(look), self.job.plan.key.comes_within.duration(), self.clock.now());
        loop {
            let watch = self.done.thumb.as_ref().expect("it was put there before anybody was told to key");
            if watch.level(self.rack, false, look).await?.is_some() {
                return Ok(true);
            }
            if !rhythm.next(self.clock).await {
                return Ok(false);
            }
        }
    }

    /// Nobody was seen to key: the person is told to let go, for a carrier may be there unseen, and not to key any more.
    /// Unit and parts rest as after what was asked for at `told`.
    async fn withdraw(&mut self, told: Moment, aim: Aim, heating: Vec<Heating>) -> Result<Moment, RunFault> {
        let within = self.job.plan.key.comes_within;
        let text = format!("let go now, and do not key any more: no carrier came within {within}");
        self.all_let_go(&text).await?;
        let now = self.clock.now();
        let before = now.since(told).saturating_sub(self.longest(aim).duration());
        self.done.chain.keyed.goes_down(told.after(before), aim, heating);
        self.done.chain.keyed.comes_up(self.job.plan.key, now);
        Err(RunFault::NobodyKeyed { within })
    }

    /// Has the person let go and sees the carrier go, if one was told to key.
    ///
    /// # Errors
    ///
    /// [`RunFault::CarrierStays`]: the supply is off, where there is one.
    pub(crate) async fn let_go(&mut self) -> Result<Option<Duration>, RunFault> {
        self.all_let_go("let go now").await
    }

    async fn all_let_go(&mut self, text: &str) -> Result<Option<Duration>, RunFault> {
        if self.done.thumb.is_none() {
            return Ok(None);
        }
        self.doing("see the carrier go")?;
        // It stays there meanwhile: a run that is stopped here tells the person all the same.
        let watch = self.done.thumb.as_ref().expect("it is there, as seen above");
        let (end, kept) = let_go(self.rack, self.clock, self.out, watch, text).await;
        let (held, unseen) = (watch.held(self.clock.now()), watch.look.is_none());
        self.done.thumb = None;
        match end {
            LetGo::Gone => {}
            LetGo::Unseen if unseen => {}
            LetGo::Unseen => {
                self.emit(EventKind::Note(
                    "nobody could see whether the carrier went when the person let go".to_owned(),
                ))?;
            }
            LetGo::Stays(level) => {
                // The lease is not kept alive any more; that it ends says nothing of the thumb.
                drop(self.key.up().await);
                self.done.key_is_down = false;
                // Whether that way works or not: what matters is that the carrier is there.
                drop(self.second_way_off().await);
                return Err(self.stays(level));
            }
        }
        kept?;
        Ok(Some(held))
    }

    /// Switches the unit's supply off, where the plan feeds it from one.
    async fn second_way_off(&mut self) -> Result<(), RunFault> {
        if self.job.plan.supplies.is_empty() {
            return Ok(());
        }
        if let Some(supply) = &mut self.rack.supply {
            supply.off().await?;
            self.emit(EventKind::Note(
                "the unit's supply was switched off: nobody let go of the key".to_owned(),
            ))?;
        }
        Ok(())
    }
}

/// What is weaker than this is no carrier of a case.
pub(crate) fn least_of(case: &Case<'_>) -> Dbm {
    case.power.window.low().dbm() - Db::new(carrier::ABSENT_DB)
}
