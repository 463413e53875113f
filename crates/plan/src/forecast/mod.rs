//! What can be known without an instrument: levels at every part, limits, floors, times, and what cannot be
//! decided on this bench.

mod loads;
mod modulation;
mod reading;
mod spectrum;
mod stage;
mod time;
mod timetable;
mod worst;

use spurline_document::{Mistakes, Reader};
use spurline_judge::COVERAGE;
use spurline_path::PathError;
use spurline_record::{Decision, Role, Scope};
use spurline_units::{Db, Dbm, Power, Range, Seconds, Watts};

pub use modulation::{FactForecast, SetUpForecast};
pub use reading::{Prospect, ReadingForecast};
pub use spectrum::SpectrumForecast;
pub use stage::{StageDown, StageForecast};
pub(crate) use time::of_carrier as time_of_looks;
pub use timetable::Slot;
use worst::Worst;

use crate::budget::{analyser_budget, meter_budget};
use crate::job::Job;
use crate::key_line::Abandoned;
use crate::keying::{Keying, MOST_RISE, Warmed};
use crate::measure::DRAWN_TIME;
use crate::model::{Channel, Extent, PowerSetting, REST_FACTOR};
use crate::packing::packed;
use crate::search::{MOST_LINES, SearchLayout};
use crate::settings::{Look, carrier_look, suited, width_look, zero_span_look};
use crate::states::State;
use crate::way::{Place, Way};

/// What can be known without an instrument.
#[derive(Clone, Debug, PartialEq)]
pub struct Forecast {
    /// One for each channel, power setting and extent.
    pub scopes: Vec<ScopeForecast>,
    /// Every key-down in its place.
    pub timetable: Vec<Slot>,
    /// What belongs to none of them.
    pub stages: Vec<StageForecast>,
    /// How long the whole run takes, rests included, alignment and zeroing aside.
    pub bench_time: Seconds,
    /// The part of the path that becomes warmest at the end of a key-down; `None` where no part has a rating.
    pub warmest: Option<Warmed>,
    /// What a person should know before keying.
    pub notes: Vec<String>,
}

/// One channel and power setting.
#[derive(Clone, Debug, PartialEq)]
pub struct ScopeForecast {
    /// Which.
    pub scope: Scope,
    /// The supplies that it is measured with; none if the plan names none.
    pub supplies: Vec<String>,
    /// What is measured in it.
    pub extent: Extent,
    /// The window of the carrier's power.
    pub window: Range<Power>,
    /// The uncertainty of the carrier's level that is known beforehand.
    pub expanded: Db,
    /// Whether a carrier in the middle of its window can be decided.
    pub prospect: Prospect,
    /// The key-downs, one for each way that is used.
    pub key_downs: Vec<KeyDownForecast>,
    /// What is read off the carrier's own spectrum.
    pub spectrum: Vec<SpectrumForecast>,
    /// The harmonics.
    pub readings: Vec<ReadingForecast>,
    /// The search for the level of a tone before everything else, if it is done here.
    pub set_up: Option<SetUpForecast>,
    /// What is measured of the modulation.
    pub modulation: Vec<FactForecast>,
    /// The search for spurious emissions, if there is one.
    pub search: Option<SearchLayout>,
    /// How long the key is down for the course of the power, if the plan wants it.
    pub course: Option<Seconds>,
    /// What it takes beyond the key-downs above if it finds as many lines as are assumed.
    pub allowance: Option<Allowance>,
}

/// What depends on what a search finds, each time that it is done.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Allowance {
    /// So many lines are assumed to be found on a channel with a power setting; a search looks at 32 at most.
    pub lines: usize,
    /// Further key-downs, about, those on another channel among them.
    pub key_downs: usize,
    /// How long the key is down in them, about and at most, all together.
    pub keyed: Seconds,
    /// The same with the rests after them.
    pub time: Seconds,
}

impl ScopeForecast {
    /// What can be known of one channel and power setting.
    ///
    /// # Errors
    ///
    /// If a path does not cover the carrier.
    pub fn of(job: &Job, channel: &Channel, power: &PowerSetting, extent: Extent) -> Result<Self, PathError> {
        forecast_scope(job, channel, power, extent)
    }

    /// How often it is measured: once with every supply.
    #[must_use]
    pub fn times(&self) -> usize {
        self.supplies.len().max(1)
    }

    /// What all its searches take at most beyond its key-downs.
    fn allowed(&self) -> Option<Allowance> {
        let times = self.times();
        self.allowance.map(|one| Allowance {
            lines: one.lines,
            key_downs: one.key_downs * times,
            keyed: one.keyed * times as f64,
            time: one.time * times as f64,
        })
    }

    fn is_of(&self, state: &State<'_>) -> bool {
        self.scope.channel == state.channel.name
            && self.scope.power_setting == state.power.name
            && self.extent == state.extent()
    }

    /// How many readings it has. A power meter reads the carrier on every key-down.
    #[must_use]
    pub fn count(&self) -> usize {
        let metered = self.key_downs.iter().any(|down| down.meter_input.is_some());
        let once = usize::from(self.search.is_some()) + usize::from(self.course.is_some());
        let others = once + usize::from(self.set_up.is_some()) + self.modulation.len() + self.spectrum.len();
        self.readings.len() + others + if metered { self.key_downs.len() } else { 1 }
    }
}

/// One key-down.
#[derive(Clone, Debug, PartialEq)]
pub struct KeyDownForecast {
    /// The way to the analyser.
    pub path: String,
    /// The carrier's level at the analyser's input, at the upper end of the window.
    pub analyser_input: Dbm,
    /// The carrier's level at the sensor, at the upper end of the window.
    pub meter_input: Option<Dbm>,
    /// What arrives at each part on the way to the analyser.
    pub parts: Vec<PartLoad>,
    /// What is done while the key is down, beside the carrier.
    pub tasks: Vec<Task>,
    /// How long the key will be down.
    pub keyed: Seconds,
}

/// Something that is measured while the key is down.
#[derive(Clone, Debug, PartialEq)]
pub struct Task {
    /// What, for people.
    pub what: String,
    /// Which of several of its kind, such as the order of a harmonic.
    pub number: Option<u32>,
    /// How long it takes.
    pub time: Seconds,
}

impl Task {
    /// A task of one look.
    fn of_look(what: impl Into<String>, number: Option<u32>, look: &Look) -> Self {
        Self { what: what.into(), number, time: look.time_on_the_wire() }
    }
}

/// The power at one part of the path.
#[derive(Clone, Debug, PartialEq)]
pub struct PartLoad {
    /// The part.
    pub name: String,
    /// What arrives there.
    pub incident: Watts,
    /// What it is rated for.
    pub rated: Option<Watts>,
}

impl Forecast {
    /// Looks ahead.
    ///
    /// # Errors
    ///
    /// What would overload a part or an instrument, or break the plan's own key-down time, each at its place in
    /// the file.
    pub fn of(job: &Job) -> Result<Self, Mistakes> {
        let mut plan = Reader::new(&job.document);
        let mut worst = Worst::default();
        let mut scopes: Vec<ScopeForecast> = Vec::new();
        let states = job.states();
        for state in &states {
            let name = state.supply.map(|supply| supply.name.clone());
            if let Some(scope) = scopes.iter_mut().find(|scope| scope.is_of(state)) {
                // The same as with the supply before.
                scope.supplies.extend(name);
                continue;
            }
            let State { channel, power, .. } = *state;
            let looked = loads::check(job, channel, power, &mut worst)
                .and_then(|()| ScopeForecast::of(job, channel, power, state.extent()));
            match looked {
                Ok(mut scope) => {
                    check_key_downs(job, channel, &scope, &mut worst);
                    scope.supplies.extend(name);
                    scopes.push(scope);
                }
                Err(error) => plan.error(channel.carrier_span, &error),
            }
        }
        let stages = match stage::all(job) {
            Ok(stages) => stages,
            Err(error) => {
                plan.error(job.plan.channels[0].carrier_span, &error);
                Vec::new()
            }
        };
        for stage in &stages {
            check_stage(job, stage, &mut worst);
        }
        check_abandoned(job, &mut worst);
        if let Err(error) = stage::check_silence(job, &mut worst) {
            plan.error(job.plan.channels[0].carrier_span, &error);
        }
        let downs = states.iter().filter_map(|state| {
            let scope = scopes.iter().find(|scope| scope.is_of(state))?;
            Some((*state, scope))
        });
        let (timetable, keying) = timetable::timetable(job, downs, &stages).unwrap_or_else(|error| {
            plan.error(job.plan.channels[0].carrier_span, &error);
            (Vec::new(), Keying::new(job.plan.key))
        });
        check_heat(job, &mut worst);
        let keyed_until = timetable.last().map_or(Seconds::default(), |last| last.at + last.keyed);
        let never_keyed = stages.iter().filter(|stage| stage.downs.is_empty());
        let bench_time = never_keyed.fold(keyed_until, |sum, stage| sum + stage.unkeyed);
        plan.adopt(worst.told(job));
        let warmest = keying.warmest().cloned();
        plan.finish(Some(Self { scopes, stages, timetable, bench_time, warmest, notes: notes(job) }))
    }

    /// How often the unit will be keyed.
    #[must_use]
    pub fn key_downs(&self) -> usize {
        self.timetable.len()
    }

    /// How many readings there will be.
    #[must_use]
    pub fn readings(&self) -> usize {
        let of_stages: usize = self.stages.iter().map(|stage| stage.readings).sum();
        let of_scopes: usize = self.scopes.iter().map(|scope| scope.times() * scope.count()).sum();
        of_scopes + of_stages
    }

    /// What all searches of the run take at most beyond that; `None` without any.
    #[must_use]
    pub fn allowance(&self) -> Option<Allowance> {
        self.scopes.iter().filter_map(ScopeForecast::allowed).reduce(|sum, one| Allowance {
            lines: sum.lines.max(one.lines),
            key_downs: sum.key_downs + one.key_downs,
            keyed: sum.keyed + one.keyed,
            time: sum.time + one.time,
        })
    }

    /// How long the unit will be keyed, all key-downs together.
    #[must_use]
    pub fn keyed(&self) -> Seconds {
        self.timetable.iter().fold(Seconds::default(), |sum, slot| sum + slot.keyed)
    }
}

fn check_key_downs(job: &Job, channel: &Channel, scope: &ScopeForecast, worst: &mut Worst) {
    if let Some(set_up) = scope.set_up.as_ref().filter(|set_up| set_up.longest > job.plan.key.longest) {
        let span = job.plan.set_up.map_or(channel.carrier_span, |set_up| set_up.span);
        let message = format!(
            "one look at the tone in `{}` needs a key-down of {:.1}, longer than the {} that the plan allows",
            channel.name, set_up.longest, job.plan.key.longest
        );
        let hint = "allow a longer key-down if the unit can bear it, or take a higher tone: its lines are told apart faster";
        worst.note(Place::Plan(span), set_up.longest.get(), message, hint);
    }
    if let Some((over_time, keyed)) = job.plan.measure.over_time.zip(scope.course)
        && keyed > job.plan.key.longest
    {
        let message = format!(
            "the course of the power needs a key-down of {keyed:.1}, longer than the {} that the plan allows",
            job.plan.key.longest
        );
        let hint = "allow a longer key-down if the unit can bear it, or follow the power for a shorter time";
        worst.note(Place::Plan(over_time.place), keyed.get(), message, hint);
    }
    for down in scope.key_downs.iter().filter(|down| down.keyed > job.plan.key.longest) {
        let span = job.plan.key.span.unwrap_or(channel.carrier_span);
        let message = format!(
            "`{}` at `{}` needs a key-down of {:.1}, longer than the {} that the plan allows",
            channel.name, scope.scope.power_setting, down.keyed, job.plan.key.longest
        );
        let hint = "allow a longer key-down if the unit can bear it, or measure fewer harmonics";
        worst.note(Place::Plan(span), down.keyed.get(), message, hint);
    }
}

/// Parts that become too warm in one longest key-down, however long they rest.
fn check_heat(job: &Job, worst: &mut Worst) {
    for channel in &job.plan.channels {
        for power in &channel.powers {
            for way in [job.carrier_way(), job.harmonics_way()] {
                // What the path does not cover is told at its channel.
                let heating = job.heating(way, channel.carrier, job.most_of(power)).unwrap_or_default();
                let Err(hot) = Keying::new(job.plan.key).wait(Seconds::default(), &heating) else { continue };
                let span = job.plan.key.span.unwrap_or(channel.carrier_span);
                let message = format!(
                    "in a key-down of {} `{}` at `{}` would warm `{}` by {:.0} % of what it may rise by, to {:.0} degC; at \
                     most {:.0} % are let pass",
                    job.plan.key.longest,
                    channel.name,
                    power.name,
                    hot.part,
                    100.0 * hot.rise,
                    hot.temperature(),
                    100.0 * MOST_RISE
                );
                let hint =
                    "key for a shorter time: `key: { longest: … }`, or use a part that is rated for more";
                worst.note(Place::Plan(span), hot.rise, message, hint);
            }
        }
    }
}

/// A stage whose key-downs are longer than the plan allows.
fn check_stage(job: &Job, stage: &StageForecast, worst: &mut Worst) {
    let keyed = stage.longest();
    if keyed <= job.plan.key.longest {
        return;
    }
    let span = job.plan.key.span.unwrap_or(job.plan.channels[0].carrier_span);
    let message = format!(
        "{} needs a key-down of {keyed:.1}, longer than the {} that the plan allows",
        stage.what, job.plan.key.longest
    );
    let hint = "allow a longer key-down if the unit can bear it, or measure for a shorter time";
    worst.note(Place::Plan(span), keyed.get(), message, hint);
}

/// A relay looks at its own time only so often (common practice).
const OPENS_LATE: f64 = 0.1;

/// What becomes of the key when nobody is left to bring it up, for whoever stands at the bench.
#[must_use]
pub fn abandoned_key(job: &Job) -> String {
    let line = job.bench.key.words();
    match (job.bench.key.abandoned(), job.plan.key.own_timer) {
        (Abandoned::Drops, _) => format!(
            "the key is {line}: if the program and the process that holds the key both die, the system drops the line"
        ),
        (Abandoned::Opens(span), _) => format!(
            "the key is {line}: if the program and the process that holds the key both die, it opens by itself within \
             {}",
            span + Seconds::new(OPENS_LATE)
        ),
        (Abandoned::ByHand, timer) => {
            let timer = timer.map_or_else(
                || "set the unit's own time-out timer".to_owned(),
                |timer| format!("the unit's own time-out timer ends it after {timer}, as the plan says"),
            );
            format!(
                "the key is {line}: the run says when to key and when to let go, and sounds a bell, but there is no lease on \
                 a thumb, and nothing brings the key up for it; {timer}"
            )
        }
        (Abandoned::StaysDown, Some(timer)) => format!(
            "the key is {line}: if the program and the process that holds the key both die, the unit stays keyed until \
             its own time-out timer ends it after {timer}, as the plan says"
        ),
        (Abandoned::StaysDown, None) => format!(
            "the key is {line}: if the program and the process that holds the key both die, the unit stays keyed until \
             its own time-out timer ends it. Set that timer, and write its value into the plan: `key: {{ own_timer: 60 s }}`"
        ),
    }
}

/// A key that nobody brings up any more once this program is gone wants a unit that ends it by itself.
fn check_abandoned(job: &Job, worst: &mut Worst) {
    let stays = job.bench.key.abandoned() == Abandoned::StaysDown;
    if stays && job.bench.simulated.is_none() && job.plan.key.own_timer.is_none() {
        let message = format!(
            "{} stays as it is when everything else dies, and the plan does not say after how long the unit ends its \
             transmission by itself",
            job.bench.key.words()
        );
        let hint = "set the unit's own time-out timer and write its value into the plan, `key: { own_timer: 60 s }`, or \
                    use a relay that opens by itself: `opens_by_itself: 1 s`";
        worst.note(Place::Bench(job.bench.key.span), 0.0, message, hint);
    }
}

fn notes(job: &Job) -> Vec<String> {
    let mut notes = Vec::new();
    if matches!(job.bench.key.abandoned(), Abandoned::StaysDown | Abandoned::ByHand) {
        notes.push(abandoned_key(job));
    }
    let opens = job.bench.key.relay().and_then(|relay| relay.opens_by_itself);
    if let Some(span) = opens.filter(|span| *span > job.plan.key.longest) {
        notes.push(format!(
            "the relay opens by itself only after {span}, later than the longest key-down of {}: a shorter time \
             guards the unit better",
            job.plan.key.longest
        ));
    }
    let first = job.carrier_way().branch.path.parts.first();
    if let Some(part) = first.filter(|part| part.rated.is_none()) {
        notes.push(format!(
            "`{}` takes the unit's whole power and has no `rated`: nobody can tell whether it bears it",
            part.name
        ));
    }
    notes.extend(unpinned(job));
    notes.extend(same_addresses(job));
    let matchless = matchless_parts(job);
    if !matchless.is_empty() {
        notes.push(format!(
            "without a `vswr` or a Touchstone file a part counts as a perfect match, and its mismatch is in no \
             budget: `{}`",
            matchless.join("`, `")
        ));
    }
    if job.bench.meter.is_none() {
        notes.push(
            "the bench has no power meter: the analyser stands alone, nothing else confirms its level, and its \
             uncertainty is that of every reading"
                .to_owned(),
        );
    }
    if job.plan.set_up.is_some() && job.bench.audio_generator().is_none() {
        notes.push(
            "the bench has no audio generator: the operator is asked to set each tone by hand, and the unit is keyed \
             once for each"
                .to_owned(),
        );
    }
    notes.extend(job.reservations());
    notes
}

/// Instruments of a real bench that should be pinned to a serial number and are not: what reads, and what keys.
fn unpinned(job: &Job) -> Option<String> {
    let open = [Some(Role::Analyser), job.bench.key.role()]
        .into_iter()
        .flatten()
        .filter(|role| job.bench.instrument(*role).is_some_and(|instrument| instrument.serial.is_none()));
    let open: Vec<&str> = open.filter(|_| job.bench.is_real()).map(Role::name).collect();
    (!open.is_empty()).then(|| {
        format!(
            "no `serial` pins the {}: another one at its address would be taken for it",
            open.join(" and the ")
        )
    })
}

/// Instruments of different parts that answer at one address.
fn same_addresses(job: &Job) -> Vec<String> {
    let instruments = &job.bench.instruments;
    let twins = instruments.iter().enumerate().filter_map(|(place, instrument)| {
        let before = instruments[..place].iter().find(|before| before.address == instrument.address)?;
        (before.role != instrument.role).then_some((before, instrument))
    });
    twins
        .map(|(one, other)| {
            format!(
                "{} and {} have one address, {}: is that one instrument that plays both parts?",
                one.role, other.role, one.address
            )
        })
        .collect()
}

/// The parts on the ways that are used whose reflection nobody states.
fn matchless_parts(job: &Job) -> Vec<&str> {
    let meter = job.bench.meter.iter();
    let branches = [&job.carrier_way().branch, &job.harmonics_way().branch].into_iter().chain(meter);
    let mut names: Vec<&str> = Vec::new();
    for part in branches.flat_map(|branch| &branch.path.parts) {
        let stated = part.vswr.is_some() || matches!(part.loss.value, spurline_path::Loss::TwoPort(_));
        if !stated && !names.contains(&part.name.as_str()) {
            names.push(&part.name);
        }
    }
    names
}

fn forecast_scope(
    job: &Job,
    channel: &Channel,
    power: &PowerSetting,
    extent: Extent,
) -> Result<ScopeForecast, PathError> {
    let mut readings = Vec::new();
    let mut lines: Vec<Task> = Vec::new();
    for order in job.harmonics(extent) {
        let (reading, look) = reading::forecast(job, channel, power, order)?;
        readings.push(reading);
        lines.extend(look.map(|look| Task::of_look("harmonic", Some(order), &look)));
    }
    let search = if extent == Extent::Everything { job.search(channel, power)? } else { None };
    let pieces = search.iter().flat_map(|search| search.pieces(job.plan.key.longest));
    lines.extend(pieces.map(|piece| Task { time: piece.time(), what: piece.what, number: None }));
    let expanded = carrier_uncertainty(job, channel, power)?;
    let (of_modulation, set_up, modulation) = match extent {
        Extent::Everything => (
            modulation::look(job, channel, power)?,
            modulation::set_up(job, channel, power)?,
            modulation::facts(job),
        ),
        Extent::Carrier => (None, None, Vec::new()),
    };
    let (spectrum, of_spectrum) = match extent {
        Extent::Everything => spectrum::forecast(job, channel, power)?,
        Extent::Carrier => (Vec::new(), Vec::new()),
    };
    let of_modulation = of_modulation.map(|look| Task::of_look("modulation", None, &look));
    let by_carrier = of_modulation.into_iter().chain(of_spectrum).collect();
    let mut key_downs = key_downs(job, channel, power, by_carrier, lines)?;
    let mut allowance = None;
    if let Some(layout) = &search {
        let (downs, beyond) = after_search(job, channel, power, layout)?;
        key_downs.extend(downs);
        allowance = Some(beyond);
    }
    Ok(ScopeForecast {
        scope: Scope {
            channel: channel.name.clone(),
            carrier: channel.carrier,
            power_setting: power.name.clone(),
            supply: None,
            path: job.carrier_way().name.clone(),
        },
        supplies: Vec::new(),
        extent,
        window: power.window,
        expanded,
        prospect: prospect_of_window(job.plan.decision, power.window, expanded),
        key_downs,
        spectrum,
        readings,
        set_up,
        modulation,
        search,
        course: job.time_of_course().filter(|_| extent == Extent::Everything),
        allowance,
    })
}

/// The uncertainty of the carrier's level at the lower end of its window, by the instrument that reads it.
fn carrier_uncertainty(job: &Job, channel: &Channel, power: &PowerSetting) -> Result<Db, PathError> {
    let (carrier, unit) = (channel.carrier, &job.plan.unit);
    let file = |role| job.instrument(role).profile.source.name();
    let budget = match job.bench.meter.as_ref().zip(job.bench.meter_profile()) {
        Some((branch, profile)) => {
            let shown = power.window.low().dbm() - branch.path.loss_at(carrier)?.total;
            meter_budget(profile, file(Role::PowerMeter), &branch.path, unit, carrier, shown)?
        }
        None => {
            let path = &job.carrier_way().branch.path;
            analyser_budget(job.bench.analyser_profile(), file(Role::Analyser), path, unit, carrier, false)?
        }
    };
    Ok(budget.expanded(COVERAGE))
}

fn prospect_of_window(decision: Decision, window: Range<Power>, expanded: Db) -> Prospect {
    let width = window.high().dbm() - window.low().dbm();
    if decision == Decision::Simple || width > expanded * 2.0 {
        return Prospect::Able;
    }
    Prospect::Unable(format!(
        "the window is {width:.2} wide, no wider than twice the uncertainty of {expanded:.2}: widen it, or read the \
         carrier with a better instrument"
    ))
}

/// The key-downs of a scope: what goes by the way of the carrier, then what goes by that of the harmonics.
fn key_downs(
    job: &Job,
    channel: &Channel,
    power: &PowerSetting,
    mut by_carrier: Vec<Task>,
    mut by_harmonics: Vec<Task>,
) -> Result<Vec<KeyDownForecast>, PathError> {
    if job.one_key_down() {
        by_carrier.append(&mut by_harmonics);
    }
    let mut downs = Vec::new();
    for (way, tasks) in [(job.carrier_way(), by_carrier), (job.harmonics_way(), by_harmonics)] {
        // But for the first, a key-down without anything to do is none.
        if tasks.is_empty() && !downs.is_empty() {
            continue;
        }
        let fixed = job.time_of_carrier(way, channel, power, true)?;
        for tasks in packed(tasks, fixed, job.plan.key.longest, |task| task.time) {
            downs.push(key_down(job, way, channel, power, downs.is_empty(), tasks)?);
        }
    }
    Ok(downs)
}

/// So many lines are assumed to be found by a search: a transmitter in order has few that stand out (common practice).
const ASSUMED_LINES: usize = 8;

/// The key-downs that follow the sweeps of a search in any case, and what those take at most that go by what is found.
fn after_search(
    job: &Job,
    channel: &Channel,
    power: &PowerSetting,
    layout: &SearchLayout,
) -> Result<(Vec<KeyDownForecast>, Allowance), PathError> {
    let (way, key) = (job.harmonics_way(), &job.plan.key);
    let after = job.after_sweeps(channel, power, layout)?;
    let fixed = job.time_of_carrier(way, channel, power, true)?;
    let expected: Vec<Seconds> = after.expected.iter().map(Look::time_on_the_wire).collect();
    let mut downs = Vec::new();
    for looks in packed(expected.clone(), fixed, key.longest, |time| *time) {
        if !looks.is_empty() {
            let what = format!("{} places where lines are expected", looks.len());
            let time = looks.into_iter().fold(Seconds::default(), |sum, time| sum + time);
            let task = Task { what, number: None, time };
            downs.push(key_down(job, way, channel, power, false, vec![task])?);
        }
    }
    let key_downs_for = |looks: Vec<Seconds>| packed(looks, fixed, key.longest, |time| *time).len();
    // Where a line stands none is expected beside it: no more than these are looked at.
    let looks = expected.into_iter().chain([after.line; ASSUMED_LINES]).take(MOST_LINES).collect();
    let moves = after.moved > Seconds::default();
    let moved = if moves { key_downs_for(vec![after.moved; ASSUMED_LINES]) } else { 0 };
    // A line near its limit is looked at until it is decided, or the key-down is over.
    let key_downs = key_downs_for(looks).saturating_sub(downs.len()) + moved;
    let more = downs.iter().fold(Seconds::default(), |sum, down| sum + (key.longest - down.keyed));
    let keyed = key.longest * key_downs as f64 + more.max(Seconds::default());
    let rest = key.rest.max(key.longest * f64::from(REST_FACTOR));
    let time = keyed + rest * key_downs as f64;
    Ok((downs, Allowance { lines: ASSUMED_LINES, key_downs, keyed, time }))
}

impl Job {
    /// How long the key is down for the carrier alone; `first` if all is found out about it.
    ///
    /// # Errors
    ///
    /// If the path does not cover the carrier.
    pub fn time_of_carrier(
        &self,
        way: &Way,
        channel: &Channel,
        power: &PowerSetting,
        first: bool,
    ) -> Result<Seconds, PathError> {
        let profile = self.bench.analyser_profile();
        let at_input = self.carrier_at_analyser(way, channel, power)?;
        // Once at the beginning and once at the end.
        let mut looks = vec![zero_span_look(profile, channel.carrier, at_input); 2];
        if first {
            looks.push(carrier_look(profile, channel.carrier, at_input));
            looks.push(width_look(profile, channel.carrier, at_input));
        }
        let looks: Vec<Look> = looks.into_iter().map(|look| suited(look, &self.plan.modulation)).collect();
        // Where the plan sets a supply, it is asked what it gives.
        let asked = if self.plan.supplies.is_empty() { Seconds::default() } else { DRAWN_TIME };
        Ok(time::of_carrier(&looks) + asked)
    }
}

/// One key-down by a way; `first` is the one on which the analyser reads the carrier.
fn key_down(
    job: &Job,
    way: &Way,
    channel: &Channel,
    power: &PowerSetting,
    first: bool,
    tasks: Vec<Task>,
) -> Result<KeyDownForecast, PathError> {
    let most = power.window.high().watts();
    let analyser_input = job.carrier_at_analyser(way, channel, power)?;
    let meter_loss = job.bench.meter.as_ref().map(|meter| meter.path.loss_at(channel.carrier)).transpose()?;
    let powers = way.branch.path.power_into_each(most, channel.carrier)?;
    let fixed = job.time_of_carrier(way, channel, power, first)?;
    let keyed = tasks.iter().fold(fixed, |sum, task| sum + task.time);
    Ok(KeyDownForecast {
        path: way.name.clone(),
        analyser_input,
        meter_input: meter_loss.map(|loss| most.to_dbm() - loss.total),
        parts: powers
            .into_iter()
            .map(|part| PartLoad { name: part.name, incident: part.incident, rated: part.rated })
            .collect(),
        tasks,
        keyed,
    })
}
