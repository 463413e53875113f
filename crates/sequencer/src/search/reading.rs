//! What a search was worth: what was covered, down to which level a line would have been found, and what was seen that
//! is no emission of the keyed unit.

use spurline_judge::{Budget, COVERAGE, Decision, Spread, Verdict, judge_bound};
use spurline_plan::{SearchLayout, analyser_budget};
use spurline_record::{Figure, Floor, Outcome, Quantity, Reading, Reason, ReasonCode, Role, Unit};
use spurline_units::{Db, Dbm, Hertz};

use super::sort::Sorted;
use super::{peaks, spectrum};
use crate::ambient::Source;
use crate::conversion;
use crate::fault::RunFault;
use crate::possible::{self, MeasuredCarrier, Possible};
use crate::scope::{Case, Measuring};

/// A frequency to the kilohertz, as well as a look shows it.
fn shown(at: Hertz) -> Hertz {
    Hertz::new((at.get() / 1e3).round() * 1e3)
}

/// So many lines of a kind are told one by one.
const TOLD: usize = 24;

/// A place of the searched range, and from which level on a line is found there.
struct Depth {
    segment: usize,
    at: Hertz,
    /// At the connector.
    found_from: Dbm,
    floor: Dbm,
    room: f64,
}

/// Everything that keeps a search from saying that it complies.
struct Hindrances {
    invalid: Option<Reason>,
    undecided: Option<Reason>,
}

impl Measuring<'_, '_> {
    /// The reading of the search as a whole.
    pub(super) fn search_reading(
        &mut self,
        case: &Case<'_>,
        carrier: &MeasuredCarrier,
        layout: &SearchLayout,
        sorted: &Sorted,
    ) -> Result<Reading, RunFault> {
        let mut reading = self.blank_of(case, self.job.harmonics_way(), Quantity::Search);
        reading.name = Some(format!("{} to {}", layout.from, layout.to));
        let depths = self.depths(carrier, layout)?;
        let worst = depths.iter().min_by(|one, other| one.room.total_cmp(&other.room));
        let rule = conversion::rule(&self.job.plan);
        let mut decision: Option<Decision> = None;
        let mut settled = None;
        let mut at_worst = layout.segments.first().map_or(layout.from, |segment| segment.from);
        if let Some(worst) = worst {
            at_worst = worst.at;
            let possible = possible::limits(self.job, carrier, worst.at);
            let budget = self.budget_at(carrier, worst.at, &possible)?;
            let spread = Spread::of(&budget);
            decision = possible.judged(|limit| judge_bound(worst.found_from, limit, &spread, rule));
            reading.figure = Some(Figure {
                value: worst.found_from.get(),
                unit: Unit::Dbm,
                level: Some(worst.found_from),
                bound: true,
            });
            reading.limit = possible.recorded(carrier.level);
            reading.budget = Some(conversion::budget(&budget));
            reading.proof.floor = Some(Floor {
                level: worst.floor,
                distance: worst.found_from - worst.floor,
                height: worst.found_from - worst.floor,
                points: peaks::BLOCK as u32,
            });
            settled = possible.settled.clone();
            reading.derivation = possible.derivation;
        }
        reading.frequency = at_worst;
        reading.margin = decision.as_ref().map(|decision| decision.margin.into());
        reading.conformance_probability = decision.as_ref().map(|decision| decision.conformance_probability);
        let Hindrances { invalid, undecided } = self.hindrances(carrier, layout, sorted)?;
        let floor = worst.filter(|_| decision.as_ref().is_some_and(|of| of.verdict != Verdict::Complies));
        let floor = floor.map(|worst| {
            let segment = &layout.segments[worst.segment];
            let text = format!(
                "from {} to {} a line is found from {:.1} on at {}, too near to the limit: less loss in the path, a notch \
                 for the carrier, or a narrower bandwidth would help",
                segment.from, segment.to, worst.found_from, worst.at
            );
            Reason::new(ReasonCode::FloorTooHigh, text)
        });
        (reading.outcome, reading.reason) = if let Some(reason) = invalid {
            (Outcome::Invalid, Some(reason))
        } else if let Some((outcome, reason)) = settled {
            (outcome, Some(reason))
        } else if let Some(reason) = floor.or(undecided) {
            (Outcome::Undecided, Some(reason))
        } else if decision.is_some() {
            (Outcome::Complies, None)
        } else {
            let text = "the rule has no numeric limit here";
            (Outcome::NoLimit, Some(Reason::new(ReasonCode::NoNumericLimit, text)))
        };
        reading.remarks = self.told(layout, sorted, &depths);
        let swept = std::mem::take(&mut self.done.search.swept);
        reading.series = Some(spectrum::series(self.job, carrier, layout, &swept)?);
        for one in swept {
            reading.acquisitions.extend([one.unkeyed, one.keyed]);
            reading.acquisitions.extend(one.off);
        }
        Ok(reading)
    }

    fn budget_at(
        &self,
        carrier: &MeasuredCarrier,
        at: Hertz,
        possible: &Possible,
    ) -> Result<Budget, RunFault> {
        let file = self.job.instrument(Role::Analyser).profile.source.name();
        let profile = self.job.bench.analyser_profile();
        let path = &self.job.harmonics_way().branch.path;
        let budget = analyser_budget(profile, file, path, &self.job.plan.unit, at, true)?;
        // At two frequencies the same part has two errors.
        let follows = possible.follows_carrier;
        Ok(if follows { budget.of_difference(&carrier.budget, |_| false) } else { budget })
    }

    /// From which level on a line is found, along everything that was swept.
    fn depths(&self, carrier: &MeasuredCarrier, layout: &SearchLayout) -> Result<Vec<Depth>, RunFault> {
        let path = &self.job.harmonics_way().branch.path;
        let holds = self.holds();
        let mut depths = Vec::new();
        for swept in &self.done.search.swept {
            let settings = &swept.keyed.settings;
            for (block, noise) in peaks::noise(&swept.keyed, holds).into_iter().enumerate() {
                let last = settings.points as usize - 1;
                let at = settings.frequency_of((block * peaks::BLOCK + peaks::BLOCK / 2).min(last));
                let loss = path.loss_at(at)?.total;
                let floor = Dbm::new(noise) + loss;
                let found_from = floor + layout.segments[swept.segment].detect;
                let limit = possible::limits(self.job, carrier, at).levels.into_iter().reduce(Dbm::min);
                let room = limit.map_or(f64::INFINITY, |limit| (limit - found_from).get());
                depths.push(Depth { segment: swept.segment, at, found_from, floor, room });
            }
        }
        Ok(depths)
    }

    fn hindrances(
        &self,
        carrier: &MeasuredCarrier,
        layout: &SearchLayout,
        sorted: &Sorted,
    ) -> Result<Hindrances, RunFault> {
        let search = &self.done.search;
        let faults = search.swept.iter().filter_map(|swept| {
            let segment = &layout.segments[swept.segment];
            let fault = swept.fault.as_ref()?;
            let text = format!("from {} to {}: {}", segment.from, segment.to, fault.text);
            Some(Reason::new(fault.code, text))
        });
        let invalid = search.doubt.clone().or(faults.into_iter().next());
        let mut undecided = layout.beyond.first().map(|(from, to, why)| {
            Reason::new(
                ReasonCode::BeyondThisBench,
                format!("from {from} to {to} nothing was looked at: {why}"),
            )
        });
        undecided = match undecided {
            Some(beyond) => Some(beyond),
            None => self.hidden(carrier, sorted)?,
        };
        for (at, level) in &search.unseen {
            if undecided.is_none() && self.hides(carrier, *at, *level)? {
                let text = format!("{level:.1} was seen at {at} and not again: it comes and goes");
                undecided = Some(Reason::new(ReasonCode::LooksDisagree, text));
            }
        }
        for cut in &sorted.cut {
            if undecided.is_none() && self.hides(carrier, cut.frequency, cut.level + cut.loss)? {
                let text = format!(
                    "there are more lines near their limits than are looked at again, at {}",
                    cut.frequency
                );
                undecided = Some(Reason::new(ReasonCode::LooksDisagree, text));
            }
        }
        Ok(Hindrances { invalid, undecided })
    }

    /// Why the unit's lines cannot be told at some places, each with what stands there instead.
    fn hidden(&self, carrier: &MeasuredCarrier, sorted: &Sorted) -> Result<Option<Reason>, RunFault> {
        let search = &self.done.search;
        let was_looked_at =
            |at: Hertz| search.closer.iter().any(|(there, within)| (*there - at).get().abs() <= within.get());
        let swept = sorted.known.iter().filter(|known| known.keyed && !was_looked_at(known.frequency));
        let others = swept.map(|known| (known.frequency, known.level));
        let others = others.chain(search.there.iter().chain(&search.gone).copied());
        let mut code = None;
        let mut words = Vec::new();
        let kinds = [
            (ReasonCode::Ambient, others.collect::<Vec<_>>()),
            (ReasonCode::AnalyserResponse, search.responses.clone()),
        ];
        for (of_kind, lines) in kinds {
            let mut places = Vec::new();
            for (at, level) in lines {
                if self.hides(carrier, at, level)? {
                    let limit = possible::limits(self.job, carrier, at).levels.into_iter().reduce(Dbm::min);
                    let limit = limit.map_or_else(String::new, |limit| format!(", limit {limit:.1}"));
                    places.push(format!("{} ({level:.1}{limit})", shown(at)));
                }
            }
            if places.is_empty() {
                continue;
            }
            code = code.or(Some(of_kind));
            let more = places.len().saturating_sub(TOLD);
            places.truncate(TOLD);
            let more = if more > 0 { format!(" and {more} more") } else { String::new() };
            let (what, advice) = if of_kind == ReasonCode::Ambient {
                (
                    "is there without the key",
                    "screen the bench from what is on the air; what the analyser itself makes falls with less attenuation, \
                     behind a notch for the carrier",
                )
            } else {
                (
                    "is made of the carrier by the analyser",
                    "look with another analyser, or behind a notch for the carrier",
                )
            };
            words.push(format!(
                "what {what} hides whether the unit's would comply at {}{more}: {advice}",
                places.join(", ")
            ));
        }
        Ok(code.map(|code| Reason::new(code, words.join("; "))))
    }

    /// Whether a level at a place is not surely within the limit.
    pub(super) fn hides(&self, carrier: &MeasuredCarrier, at: Hertz, level: Dbm) -> Result<bool, RunFault> {
        let possible = possible::limits(self.job, carrier, at);
        let budget = self.budget_at(carrier, at, &possible)?;
        let spread = Spread::normal(budget.expanded(COVERAGE));
        let rule = conversion::rule(&self.job.plan);
        let decision = possible.judged(|limit| judge_bound(level, limit, &spread, rule));
        Ok(decision.is_some_and(|decision| decision.verdict != Verdict::Complies))
    }

    /// What a reader of the search should know.
    fn told(&self, layout: &SearchLayout, sorted: &Sorted, depths: &[Depth]) -> Vec<String> {
        let search = &self.done.search;
        let mut told = vec![format!(
            "looked for by the highest of {} sweeps of a peak detector each; nothing is said about {} to either side of the \
             carrier",
            self.holds(),
            layout.gap
        )];
        for (place, segment) in layout.segments.iter().enumerate() {
            let of_segment = depths.iter().filter(|depth| depth.segment == place);
            let Some(worst) = of_segment.min_by(|one, other| one.room.total_cmp(&other.room)) else {
                continue;
            };
            let limit = if worst.room.is_finite() {
                format!(", {:.1} below the limit", Db::new(worst.room))
            } else {
                String::new()
            };
            let time = segment.looks.first().map_or_else(Default::default, |look| look.settings.sweep_time);
            told.push(format!(
                "{} to {}: RBW {}, attenuation {:.0}, {} × {:.3}; a line is found from {:.1} on{limit}",
                segment.from,
                segment.to,
                segment.rbw,
                segment.attenuation,
                segment.looks.len(),
                time,
                worst.found_from
            ));
        }
        for (from, to, why) in &layout.beyond {
            told.push(format!("{from} to {to}: not looked at, {why}"));
        }
        let place = |(at, level): &(Hertz, Dbm)| format!("{} ({level:.1})", shown(*at));
        let whose = |source: Source, keyed: bool| -> Vec<(Hertz, Dbm)> {
            let of_kind = sorted.known.iter().filter(|known| known.source == source && known.keyed == keyed);
            of_kind.map(|known| (known.frequency, known.level)).collect()
        };
        let mut kinds = Vec::new();
        for keyed in [true, false] {
            let gone = if keyed { "" } else { ", gone while it is keyed" };
            kinds.push((
                format!("there with the unit off, none of the unit's{gone}"),
                whose(Source::Surroundings, keyed),
            ));
            kinds.push((format!("there while the unit is not keyed{gone}"), whose(Source::Unknown, keyed)));
            kinds.push((
                format!("of the unit's receiver, gone with the unit off{gone}"),
                whose(Source::Receiver, keyed),
            ));
        }
        kinds.push(("there without the key as well, by a closer look".to_owned(), search.there.clone()));
        let gone = "there without the key by the sweeps, in a closer look gone or no more than";
        kinds.push((gone.to_owned(), search.gone.clone()));
        kinds.push(("made by the analyser".to_owned(), search.responses.clone()));
        kinds.push(("seen by a sweep and not again".to_owned(), search.unseen.clone()));
        let cut = sorted.cut.iter().map(|found| (found.frequency, found.level + found.loss)).collect();
        kinds.push(("weaker ones that were not looked at again".to_owned(), cut));
        for (what, lines) in kinds.into_iter().filter(|(_, lines)| !lines.is_empty()) {
            let places: Vec<String> = lines.iter().take(TOLD).map(place).collect();
            let more = lines.len().saturating_sub(TOLD);
            let more = if more > 0 { format!(" and {more} more") } else { String::new() };
            told.push(format!("{what}: {}{more}", places.join(", ")));
        }
        if !search.empty.is_empty() {
            told.push(format!("looked for and not there: {}", search.empty.join(", ")));
        }
        told
    }
}
