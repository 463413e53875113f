//! The chain of conditions that is looked at before every key-down. What is not known does not hold, and one that does
//! not hold leaves the key up.
//!
//! What costs a round trip is asked at most once for a key-down, before it. The record has the whole chain before the
//! first key-down, and then what has changed.

mod bench;
mod carrier;
mod frequency;
mod keeping;
mod load;
mod path;
mod proof;
mod supply;
mod time;

use spurline_clock::Clock;
use spurline_plan::{Job, Way};
use spurline_record::{EventKind, InstrumentUsed, Interlock, Role};
use spurline_units::Dbm;

use crate::fault::RunFault;
use crate::run::Setup;
use crate::scope::{Case, Measuring};
pub use bench::Arming;
pub(crate) use carrier::Air;
use keeping::Dates;
pub(crate) use path::PathProof;
pub(crate) use proof::before_proof;
pub(crate) use supply::limited;
pub(crate) use time::Keyed;

/// What the unit is keyed for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Aim {
    /// To see for as short as can be whether the path is what its tables say.
    Glimpse,
    /// To measure it on a channel of the plan.
    Measure,
    /// To see that it stays silent: into a load, where it may not transmit.
    Silence,
}

/// What the chain knows of the run so far.
#[derive(Debug, Default)]
pub(crate) struct Chain {
    arming: Arming,
    /// The serial numbers of the instruments, by the part that each plays.
    serials: Vec<(Role, String)>,
    /// Whether a carrier is there while the key is up.
    pub(crate) air: Air,
    pub(crate) path: PathProof,
    /// The highest level that was measured of a channel and power setting, both by name.
    measured: Vec<(String, String, Dbm)>,
    /// When the run began, by both of the machine's clocks.
    dates: Option<Dates>,
    /// When the unit was keyed.
    pub(crate) keyed: Keyed,
    /// What the record says.
    told: Vec<Interlock>,
}

impl Chain {
    /// What is known when a run begins.
    pub(crate) fn begin(job: &Job, setup: &Setup, used: &[InstrumentUsed], clock: Clock) -> Self {
        let path = match (&setup.proven, job.bench.verify_path) {
            (_, Some(false)) => PathProof::SetAside,
            (Some(proven), _) => PathProof::Shown(proven.clone()),
            (None, _) => PathProof::Lowest,
        };
        let keyed = setup.kept.as_ref().map(|kept| Keyed::before(job, kept, clock));
        let mut chain = Self {
            keyed: keyed.unwrap_or_else(|| Keyed::after(job.plan.key, &setup.before, clock)),
            arming: setup.arming,
            serials: used.iter().map(|used| (used.role, used.identity.serial.clone())).collect(),
            path,
            dates: Some(Dates::now(clock)),
            ..Self::default()
        };
        for (scope, level) in setup.kept.iter().flat_map(|kept| &kept.levels) {
            chain.note_level(&scope.channel, &scope.power_setting, *level);
        }
        chain
    }

    /// Takes note of a level that was measured.
    pub(crate) fn measured(&mut self, case: &Case<'_>, level: Dbm) {
        self.note_level(&case.channel.name, &case.power.name, level);
    }

    fn note_level(&mut self, channel: &str, power: &str, level: Dbm) {
        match self.measured.iter_mut().find(|(on, at, _)| (on.as_str(), at.as_str()) == (channel, power)) {
            Some((_, _, known)) => *known = known.max(level),
            None => self.measured.push((channel.to_owned(), power.to_owned(), level)),
        }
    }

    fn measured_on(&self, case: &Case<'_>) -> Option<Dbm> {
        let of = |(on, at, _): &&(String, String, Dbm)| *on == case.channel.name && *at == case.power.name;
        self.measured.iter().find(of).map(|(_, _, level)| *level)
    }
}

impl Measuring<'_, '_> {
    /// Looks at the whole chain just before the key goes down.
    ///
    /// # Errors
    ///
    /// [`RunFault::Interlock`] for the first that does not hold; the key is up.
    pub(crate) async fn interlocks(&mut self, case: &Case<'_>, way: &Way, aim: Aim) -> Result<(), RunFault> {
        self.tell_of_dates()?;
        let mut found = vec![
            bench::armed(self.done.chain.arming),
            bench::battery(self.job, self.done.chain.arming),
            self.store(),
            self.clock_is_sane(),
            self.identity(),
            frequency::never_keyed(case.channel.carrier),
            frequency::authorised(&self.job.plan, case.channel.carrier, aim),
        ];
        found.extend(self.loads(case, way)?);
        found.extend(self.rested(case, way)?);
        found.push(self.path_proven(case, aim));
        // What is asked of instruments comes last: it is the freshest.
        if found.iter().all(|interlock| interlock.holds) {
            found.push(self.supply_feeds(case).await?);
            found.extend(self.air_is_free(case, way).await?);
        }
        self.hold(found)
    }

    /// Has the record told what is new.
    ///
    /// # Errors
    ///
    /// [`RunFault::Interlock`] for the first that does not hold.
    fn hold(&mut self, found: Vec<Interlock>) -> Result<(), RunFault> {
        let tripped = found.iter().find(|interlock| !interlock.holds).cloned();
        let told = &mut self.done.chain.told;
        let news: Vec<Interlock> = found.into_iter().filter(|one| !told.contains(one)).collect();
        for one in &news {
            told.retain(|known| known.name != one.name);
            told.push(one.clone());
        }
        if !news.is_empty() {
            self.emit(EventKind::Interlocks(news))?;
        }
        match tripped {
            Some(Interlock { name, why, .. }) => Err(RunFault::Interlock { name, why }),
            None => Ok(()),
        }
    }
}
