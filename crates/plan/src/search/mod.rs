//! How a search for spurious emissions is laid out: segments by reference bandwidth, sweeps, and what they will show.
//!
//! The forecast and the run ask here, so that what was promised beforehand is what is done.

mod after;
mod front_end;
mod segment;

use spurline_path::PathError;
use spurline_record::Role;
use spurline_units::{Db, Dbm, Hertz, Seconds};

use crate::job::Job;
use crate::model::{Channel, PowerSetting};
use crate::settings::{LineTask, Look};
use crate::way::Way;
pub use after::{AfterSweeps, MOST_LINES, TIMES};
pub use segment::Segment;

/// A search on one channel and power setting.
#[derive(Clone, Debug, PartialEq)]
pub struct SearchLayout {
    /// Where it begins.
    pub from: Hertz,
    /// Where it ends.
    pub to: Hertz,
    /// Nothing is said about what lies less than this from the carrier.
    pub gap: Hertz,
    /// What is swept, in rising order.
    pub segments: Vec<Segment>,
    /// What is not reached, and why.
    pub beyond: Vec<(Hertz, Hertz, String)>,
}

/// Sweeps of one segment that are taken one after the other.
#[derive(Clone, Debug, PartialEq)]
pub struct Piece {
    /// Which segment.
    pub segment: usize,
    /// What it is, for people.
    pub what: String,
    /// The looks.
    pub looks: Vec<Look>,
}

impl Piece {
    /// How long it takes, round trips included.
    #[must_use]
    pub fn time(&self) -> Seconds {
        self.looks.iter().fold(Seconds::default(), |sum, look| sum + look.time_on_the_wire())
    }
}

/// A piece takes no more than this share of the longest key-down, so that pieces can be packed.
const SHARE: f64 = 0.3;

impl SearchLayout {
    /// What is done in one go.
    #[must_use]
    pub fn pieces(&self, longest: Seconds) -> Vec<Piece> {
        let most = longest * SHARE;
        let mut pieces = Vec::new();
        for (place, segment) in self.segments.iter().enumerate() {
            let mut parts: Vec<Vec<Look>> = vec![Vec::new()];
            let mut used = Seconds::default();
            for look in &segment.looks {
                let takes = look.time_on_the_wire();
                let last = parts.last_mut().expect("there is a first part");
                if used + takes > most && !last.is_empty() {
                    parts.push(vec![*look]);
                    used = takes;
                } else {
                    last.push(*look);
                    used = used + takes;
                }
            }
            let count = parts.len();
            pieces.extend(parts.into_iter().enumerate().map(|(part, looks)| {
                let of = if count > 1 { format!(", part {} of {count}", part + 1) } else { String::new() };
                let what = format!("search {} to {}{of}", segment.from, segment.to);
                Piece { segment: place, what, looks }
            }));
        }
        pieces
    }

    /// How long all sweeps take, keyed.
    #[must_use]
    pub fn time(&self) -> Seconds {
        let looks = self.segments.iter().flat_map(|segment| &segment.looks);
        looks.fold(Seconds::default(), |sum, look| sum + look.time())
    }
}

/// The second channel must be this far away, so that what moves by a part of it is told from what stands still.
const FARTHER: Hertz = Hertz::new(100e3);
/// A line is looked at in a span of so many bandwidths of the sweep that found it.
const ZOOM: f64 = 20.0;
const WIDEST_ZOOM: f64 = 300e3;

impl Job {
    /// How the search of a channel and power setting is laid out; `None` if the plan has none.
    ///
    /// # Errors
    ///
    /// If the path does not cover the carrier.
    pub fn search(&self, channel: &Channel, power: &PowerSetting) -> Result<Option<SearchLayout>, PathError> {
        let Some(search) = &self.plan.measure.search else { return Ok(None) };
        segment::layout(self, search, channel, power).map(Some)
    }

    /// The channel to which the carrier is moved to see what moves with it: the nearest other one that has the same
    /// power setting and is not too near. A unit is keyed on no frequency that the plan does not name.
    #[must_use]
    pub fn second_channel<'a>(
        &'a self,
        channel: &Channel,
        power: &PowerSetting,
    ) -> Option<(&'a Channel, &'a PowerSetting)> {
        let apart = |other: &Channel| (other.carrier - channel.carrier).get().abs();
        let fits = self.plan.channels.iter().filter_map(|other| {
            let setting = other.powers.iter().find(|setting| setting.name == power.name)?;
            (apart(other) >= FARTHER.get()).then_some((other, setting))
        });
        fits.min_by(|(one, _), (other, _)| apart(one).total_cmp(&apart(other)))
    }

    /// What is to be read of a line that a sweep with a bandwidth of `rbw` showed at a frequency and a level at the
    /// analyser's input.
    ///
    /// # Errors
    ///
    /// If the path does not cover the frequency.
    pub fn spurious_task(
        &self,
        channel: &Channel,
        power: &PowerSetting,
        at: Hertz,
        rbw: Hertz,
        level: Dbm,
    ) -> Result<LineTask, PathError> {
        let way = self.harmonics_way();
        let carrier = self.carrier_at_analyser(way, channel, power)?;
        self.line_shown((way, carrier), at, rbw, level)
    }

    /// The same by another way, with so much of a carrier at the analyser's input.
    pub(crate) fn line_shown(
        &self,
        (way, carrier_at_input): (&Way, Dbm),
        at: Hertz,
        rbw: Hertz,
        level: Dbm,
    ) -> Result<LineTask, PathError> {
        let file = self.instrument(Role::Analyser).profile.source.name();
        let profile = self.bench.analyser_profile();
        let path = &way.branch.path;
        let budget = crate::budget::analyser_budget(profile, file, path, &self.plan.unit, at, true)?;
        let span = Hertz::new(WIDEST_ZOOM.min(rbw.get() * ZOOM));
        let range = profile.ranges.frequency;
        let half = span / 2.0;
        let centre = at.max(range.low() + half).min(range.high() - half);
        Ok(LineTask {
            frequency: centre,
            order: 1,
            carrier_at_input,
            limit_at_input: Some(level),
            expanded: budget.expanded(spurline_judge::COVERAGE),
            occupied: Hertz::new(0.0),
            reference: Some(rbw),
            narrowest: Hertz::new(0.0),
            span: Some(span),
        })
    }
}

/// How far a line may lie from where a sweep showed it.
#[must_use]
pub fn found_within(rbw: Hertz) -> Hertz {
    rbw * FOUND_WITHIN
}

/// Points stand half a bandwidth apart, and noise moves the highest by one.
const FOUND_WITHIN: f64 = 1.0;

/// What a front end is chosen by, at the analyser's input.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Wanted {
    pub(crate) carrier_at_input: Dbm,
    /// The strictest limit, less what is uncertain.
    pub(crate) most: Option<Dbm>,
    /// The excursion over the noise of a sweep.
    pub(crate) excursion: Db,
}
