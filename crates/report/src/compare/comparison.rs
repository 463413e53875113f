//! The whole of a comparison: every pair, the risk shared out over all of them, and what it comes to.

use jiff::Timestamp;
use spurline_judge::holm;
use spurline_record::{Outcome, Quantity, Reading, RunState};
use spurline_units::Db;
use thiserror::Error;

use super::basis::apart;
use super::change::{Change, Question, Said, Setting, says_something};
use super::pair::{Pair, Single, pairs, seen_by_search};
use super::repeat::{self, Between, between};
use super::terms::{ONE_DAY_HOURS, Terms};
use super::words;
use crate::view::RunView;

/// Why two runs are not compared.
#[derive(Clone, Debug, Error, PartialEq, Eq)]
pub enum NotComparable {
    /// They are of different units.
    #[error("the runs are of different units: {before} before, {after} now")]
    Units {
        /// Model and serial number before.
        before: String,
        /// And after.
        after: String,
    },
    /// There is no run before.
    #[error("there is no run to compare with")]
    NoBase,
    /// A run would be compared with itself.
    #[error("run {0} would be compared with itself")]
    Itself(String),
}

impl NotComparable {
    /// What to do about it.
    #[must_use]
    pub const fn advice(&self) -> &'static str {
        match self {
            Self::Units { .. } => "say `--across-units` if that is what is to be compared",
            Self::NoBase => "name the run before the change first, then the one after it",
            Self::Itself(_) => "name two runs",
        }
    }
}

/// What a comparison comes to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// Nothing became worse.
    NotWorse,
    /// Something really became worse.
    Worse,
    /// It cannot be said.
    Undecidable,
}

impl Verdict {
    /// The words for it.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::NotWorse => "nothing worse",
            Self::Worse => "worse",
            Self::Undecidable => "undecidable",
        }
    }
}

/// Two runs held against each other, or one against several before it.
#[derive(Clone, Debug)]
pub struct Comparison<'a> {
    /// The runs before.
    pub before: Vec<RunView<'a>>,
    /// The run after.
    pub after: RunView<'a>,
    /// What was asked.
    pub terms: Terms,
    /// Every reading of both, in the order of the run after.
    pub changes: Vec<Change>,
    /// Readings of the runs before that are not in the run after.
    pub gone: Vec<Single>,
    /// Readings of the run after that the runs before have nothing like.
    pub new: Vec<Single>,
    /// What connectors and days are taken to repeat within, by way.
    pub repeats: Vec<String>,
    /// What differs between the runs beside their readings.
    pub notes: Vec<String>,
    /// What it comes to.
    pub verdict: Verdict,
    /// What became worse, as places among the changes.
    pub worse: Vec<usize>,
    /// Why it cannot be said that nothing else did.
    pub open: Vec<String>,
    /// How many pairs were asked whether they shifted.
    pub asked: usize,
}

impl<'a> Comparison<'a> {
    /// Compares a run with one or several before it, which should be of the same unit and firmware.
    ///
    /// # Errors
    ///
    /// [`NotComparable`].
    pub fn of(before: &[RunView<'a>], after: RunView<'a>, terms: Terms) -> Result<Self, NotComparable> {
        let Some(first) = before.first() else { return Err(NotComparable::NoBase) };
        if let Some(same) = before.iter().find(|run| run.header.id == after.header.id) {
            return Err(NotComparable::Itself(same.header.id.to_string()));
        }
        let same_unit = before.iter().all(|run| unit(run) == unit(&after));
        if !same_unit && !terms.across_units {
            return Err(NotComparable::Units { before: unit(first), after: unit(&after) });
        }
        let other_day =
            before.iter().any(|run| hours_between(run.header.started, after.header.started) > ONE_DAY_HOURS);
        let readings: Vec<&[Reading]> = before.iter().map(|run| run.readings).collect();
        let pairs = pairs(&readings, after.readings);
        let between = between(&pairs, &terms, other_day);
        let setting = Setting { between: &between, same_unit };
        let why_apart = |pair: &Pair<'_>| {
            let reading = pair.after?;
            before.iter().find_map(|run| apart(run, &after, reading))
        };
        let mut questions = Vec::new();
        let (mut gone, mut new) = (Vec::new(), Vec::new());
        let mut open = Vec::new();
        for pair in &pairs {
            if let Some(question) = Question::of(pair, why_apart(pair), &setting) {
                questions.push(question);
                continue;
            }
            match (pair.after, pair.before.iter().flatten().next()) {
                (Some(reading), _) => match found_new(before, reading, why_apart(pair), &setting) {
                    Some(question) => questions.push(question),
                    None => new.push(newcomer(reading, &mut open)),
                },
                (None, Some(reading)) => gone.push(leaver(reading, &after, &mut open)),
                (None, None) => {}
            }
        }
        let chances: Vec<f64> = questions.iter().filter_map(|question| question.chance).collect();
        let asked = chances.len();
        let share = terms.risk / asked.max(1) as f64;
        let mut real = holm(&chances, terms.risk).into_iter();
        let changes: Vec<Change> = questions
            .into_iter()
            .map(|question| {
                let called = question.chance.and_then(|_| real.next()).flatten();
                question.answered(called, share, terms.power)
            })
            .collect();
        let worse = worse(&changes, &terms);
        open.extend(left_open(&changes, &worse, &terms));
        for run in before.iter().chain([&after]) {
            if run.state != RunState::Finished {
                open.push(format!("run {} did not go to its end: {}", run.header.id, run.state.word()));
            }
        }
        if asked == 0 {
            open.insert(0, "no reading of the two runs can be compared".to_owned());
        }
        let verdict = match (worse.is_empty(), open.is_empty()) {
            (false, _) => Verdict::Worse,
            (true, false) => Verdict::Undecidable,
            (true, true) => Verdict::NotWorse,
        };
        Ok(Self {
            before: before.to_vec(),
            after,
            terms,
            changes,
            gone,
            new,
            repeats: between.iter().map(in_words).collect(),
            notes: notes(before, &after, &terms, other_day),
            verdict,
            worse,
            open,
            asked,
        })
    }

    /// Which firmware it was before and is now, in words.
    #[must_use]
    pub fn firmware(&self) -> String {
        let of = |run: &RunView<'a>| words::stated(&run.header.unit.firmware).to_owned();
        let now = of(&self.after);
        let mut before: Vec<String> = self.before.iter().map(of).collect();
        before.sort();
        before.dedup();
        match before.as_slice() {
            [same] if *same == now => format!("firmware {now}, before and now"),
            before => format!("firmware {} → {now}", before.join(", ")),
        }
    }

    /// The changes whose outcome differs, then the real ones, then all others, as places among them.
    #[must_use]
    pub fn in_order(&self) -> [Vec<usize>; 4] {
        let mut groups = [const { Vec::new() }; 4];
        for (place, change) in self.changes.iter().enumerate() {
            let group = if change.before.outcome != change.after.outcome {
                0
            } else if change.is_real() {
                1
            } else if change.is_compared() {
                2
            } else {
                3
            };
            groups[group].push(place);
        }
        groups
    }
}

fn unit(run: &RunView<'_>) -> String {
    format!("{} {}", run.header.unit.model, run.header.unit.serial)
}

fn hours_between(one: Timestamp, other: Timestamp) -> f64 {
    (other.as_second() - one.as_second()).unsigned_abs() as f64 / 3600.0
}

fn in_words(way: &Between) -> String {
    let by =
        if way.by_meter { "the power meter".to_owned() } else { format!("the analyser, by {}", way.path) };
    format!("{by}: {}", way.words)
}

/// A line that a search found and the searches before did not: held against the most that they saw there.
fn found_new(
    before: &[RunView<'_>],
    reading: &Reading,
    apart: Option<String>,
    setting: &Setting<'_>,
) -> Option<Question> {
    if reading.quantity != Quantity::Spurious || !says_something(reading) {
        return None;
    }
    let seen: Option<Vec<_>> = before.iter().map(|run| seen_by_search(run.readings, reading)).collect();
    let level = seen?.into_iter().reduce(|one, other| one.max(other))?;
    // Everything about the place is as it is now, but for what was there.
    let mut earlier = reading.clone();
    if let Some(figure) = &mut earlier.figure {
        (figure.value, figure.level, figure.bound) = (level.get(), Some(level), true);
    }
    earlier.outcome = Outcome::Complies;
    earlier.margin = None;
    let pair = Pair { before: vec![Some(&earlier)], after: Some(reading) };
    let mut question = Question::of(&pair, apart, setting)?;
    question.change.remarks.push(format!("a new line: the search before saw nothing above {level:.1} there"));
    Some(question)
}

fn newcomer(reading: &Reading, open: &mut Vec<String>) -> Single {
    if matches!(reading.outcome, Outcome::Exceeds | Outcome::Undecided | Outcome::Invalid) {
        open.push(format!(
            "{} is {} and was not measured before",
            words::about(&reading.title(), &crate::scope::name(&reading.scope), reading.frequency),
            reading.outcome
        ));
    }
    Single::of(reading, "not measured before")
}

fn leaver(reading: &Reading, after: &RunView<'_>, open: &mut Vec<String>) -> Single {
    if reading.quantity == Quantity::Spurious {
        let remark = match seen_by_search(after.readings, reading) {
            Some(level) => format!("the search now saw nothing above {level:.1} there"),
            None => "no search looked there now".to_owned(),
        };
        if !remark.starts_with("the search") {
            open.push(format!(
                "{remark}: {}",
                words::about(&reading.title(), &crate::scope::name(&reading.scope), reading.frequency)
            ));
        }
        return Single::of(reading, remark);
    }
    open.push(format!(
        "{} was measured before and not now",
        words::about(&reading.title(), &crate::scope::name(&reading.scope), reading.frequency)
    ));
    Single::of(reading, "not measured now")
}

/// What really became worse: a real shift towards the limit by as much as matters, or a graver outcome with one.
fn worse(changes: &[Change], terms: &Terms) -> Vec<usize> {
    let matters = terms.worse.map_or(0.0, Db::get);
    let is_worse = |change: &Change| {
        let towards = change.towards_limit().is_some_and(|by| by > 0.0 && by >= matters);
        change.is_real() && (towards || change.has_worse_outcome())
    };
    changes.iter().enumerate().filter(|(_, change)| is_worse(change)).map(|(place, _)| place).collect()
}

/// Why it cannot be said of the others that they did not become worse.
fn left_open(changes: &[Change], worse: &[usize], terms: &Terms) -> Vec<String> {
    let mut open = Vec::new();
    for (place, change) in changes.iter().enumerate() {
        if worse.contains(&place) {
            continue;
        }
        let about = words::about(&change.title, &change.place, change.frequency);
        if change.has_worse_outcome() {
            open.push(format!(
                "{about}: outcome {} before and {} now, and no real shift explains it",
                change.before.outcome, change.after.outcome
            ));
            continue;
        }
        if let Said::Nothing(why) = &change.said
            && change.after.value.is_none()
            && change.before.value.is_some()
        {
            open.push(format!("{about}: {why}"));
        }
        if let Said::Fall { shift, .. } = change.said
            && shift.shift > 0.0
            && change.near_noise.is_none()
        {
            open.push(format!(
                "{about} is now hidden, and may have risen by up to {}",
                change.unit.show(shift.shift, 1)
            ));
        }
        let at_most = change.at_most_towards().filter(|_| matches!(change.said, Said::Shift { .. }));
        if let (Some(matters), Some(at_most)) = (terms.worse, at_most)
            && at_most >= matters.get()
            && change.unit == spurline_record::Unit::Db
        {
            open.push(format!(
                "{about} may have come nearer to its limit by {matters:.2}: by up to {at_most:.2} dB"
            ));
        }
    }
    open
}

/// What differs between the runs beside their readings.
fn notes(before: &[RunView<'_>], after: &RunView<'_>, terms: &Terms, other_day: bool) -> Vec<String> {
    let mut notes = Vec::new();
    let mut note = |text: String| {
        if !notes.contains(&text) {
            notes.push(text);
        }
    };
    for run in before {
        let (one, other) = (run.header, after.header);
        if unit(run) != unit(after) {
            note(format!("a comparison of units: {} before, {} now", unit(run), unit(after)));
        }
        note(match (one.unit.firmware.as_str(), other.unit.firmware.as_str()) {
            ("", "") => "neither run says which firmware it was".to_owned(),
            (same, now) if same == now => {
                format!("the firmware is the same in {} and {}: {same}", one.id, other.id)
            }
            (before, now) => {
                format!(
                    "the firmware is another one: {} before, {} now",
                    words::stated(before),
                    words::stated(now)
                )
            }
        });
        if one.rule != other.rule {
            note(format!("the rule is another one: {} before, {} now", one.rule, other.rule));
        }
        if one.bench != other.bench {
            note(format!("the bench is another one: {} before, {} now", one.bench, other.bench));
        }
        if one.software != other.software {
            note(format!("measured by {} before and by {} now", one.software, other.software));
        }
        let plan = |header: &spurline_record::RunHeader| {
            let plan = header.texts.iter().find(|text| text.role == spurline_record::TextRole::Plan);
            plan.map(|text| text.text.clone())
        };
        if plan(one) != plan(other) {
            note("the plan was changed in between: readings are paired by what they are".to_owned());
        }
        if one.simulated.is_some() || other.simulated.is_some() {
            note("a simulated bench: no evidence about a real transmitter".to_owned());
        }
    }
    if before.len() > 1 && before.iter().any(|run| run.header.unit.firmware != before[0].header.unit.firmware)
    {
        note("the runs before are not of one firmware: their scatter holds what it changed".to_owned());
    }
    if terms.assumes(other_day) && before.len() == 1 {
        note(
            "how connectors and days repeat is assumed: state it by `--reconnect-sd` and `--day-sd`, or name several \
             runs before the change"
                .to_owned(),
        );
    }
    notes
}

/// Readings near the noise, whose scatter is that of the noise.
pub(super) const fn near_noise_db() -> f64 {
    repeat::NEAR_NOISE_DB
}
