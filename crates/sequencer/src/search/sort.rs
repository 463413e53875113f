//! What stands out of the sweeps, sorted: what may be the unit's, what is there without its carrier, what goes away with
//! it, and places that are looked at whether or not anything stands there.

use spurline_path::PathError;
use spurline_plan::{Job, MOST_LINES, SearchLayout};
use spurline_record::{Acquisition, Quantity, Reading};
use spurline_units::{Db, Dbm, Hertz};

use super::skirt::peaks_in_view;
use super::{Swept, peaks};
use crate::ambient::Source;
use crate::possible::{self, MeasuredCarrier};

/// A line that may be the unit's, or a place where one is expected.
#[derive(Clone, Debug)]
pub(crate) struct Found {
    pub(crate) frequency: Hertz,
    /// The sweep that has it in view.
    pub(super) sweep: usize,
    /// The bandwidth that it was seen with, and that its limit refers to.
    pub(crate) rbw: Hertz,
    pub(crate) reference: Hertz,
    /// At the analyser's input.
    pub(crate) level: Dbm,
    /// The path's loss there.
    pub(crate) loss: Db,
    /// Whose it is, if something was there without the key.
    pub(crate) source: Source,
    /// Why it is looked at although nothing stands there.
    pub(crate) expected: Option<String>,
    /// Whether it stands higher than noise hardly ever does.
    pub(crate) sure: bool,
    /// Whether it is known to be there without the key, and hides what the unit may put there.
    pub(super) hides: bool,
    /// The strictest limit that may apply, at the connector.
    pub(super) limit: Option<Dbm>,
}

/// A line that is none of the keyed unit's.
#[derive(Clone, Copy, Debug)]
pub(super) struct Known {
    pub(super) frequency: Hertz,
    /// At the connector, while the unit is keyed if it is there then.
    pub(super) level: Dbm,
    pub(super) source: Source,
    /// Whether it is there while the unit is keyed.
    pub(super) keyed: bool,
}

/// Everything that was found.
#[derive(Debug, Default)]
pub(super) struct Sorted {
    pub(super) candidates: Vec<Found>,
    pub(super) known: Vec<Known>,
    /// Of those the ones that are there while the unit is keyed, as they were found.
    pub(super) hiding: Vec<Found>,
    /// Those that are not looked at again: there are too many.
    pub(super) cut: Vec<Found>,
    /// Every line of the keyed unit's sweeps at the analyser's input.
    lines: Vec<(Hertz, Dbm)>,
}

/// A keyed line that stands less above what was there without the key is not told from it.
const SAME_DB: f64 = 6.0;
/// So many of the strongest may make products in the analyser that count.
const STRONG: usize = 8;
impl Sorted {
    pub(super) fn of(
        job: &Job,
        layout: &SearchLayout,
        swept: &[Swept],
        carrier: &MeasuredCarrier,
    ) -> Result<Self, PathError> {
        let search = job.plan.measure.search.as_ref().expect("there is a search, or nothing would be sorted");
        let path = &job.harmonics_way().branch.path;
        let mut sorted = Self::default();
        let in_view = |of: fn(&Swept) -> &Acquisition| {
            let looks: Vec<&Acquisition> = swept.iter().map(of).collect();
            peaks_in_view(&looks, search.excursion, search.holds)
        };
        let (keyed, unkeyed) = (in_view(|one| &one.keyed), in_view(|one| &one.unkeyed));
        for (sweep, ((one, keyed), unkeyed)) in swept.iter().zip(keyed).zip(unkeyed).enumerate() {
            let settings = &one.keyed.settings;
            let segment = &layout.segments[one.segment];
            let noise = peaks::noise(&one.keyed, search.holds);
            let lines_before = peaks::of(&one.unkeyed, search.excursion, search.holds);
            let was_line =
                |point: usize| lines_before.iter().any(|before| before.abs_diff(point) <= peaks::NEAR);
            let last = settings.points as usize - 1;
            let found = |point: usize, level: f64, source: Source| -> Result<Found, PathError> {
                let frequency = settings.frequency_of(point);
                Ok(Found {
                    frequency,
                    sweep,
                    rbw: settings.rbw,
                    reference: segment.reference,
                    level: Dbm::new(level),
                    loss: path.loss_at(frequency)?.total,
                    source,
                    expected: None,
                    sure: level >= noise[point / peaks::BLOCK] + segment.detect.get(),
                    hides: false,
                    limit: strictest(job, carrier, frequency),
                })
            };
            for point in keyed {
                let level = peaks::highest_near(&one.keyed, point, 0);
                let before = peaks::highest_near(&one.unkeyed, point, peaks::NEAR);
                let source = source(one, point);
                let found = found(point, level, source)?;
                let from_carrier = (found.frequency - carrier.nominal).get().abs();
                let at_end = point == 0 || point == last;
                if at_end && from_carrier <= (layout.gap + settings.rbw).get() {
                    // The carrier's own skirt, which rises towards the gap.
                    continue;
                }
                sorted.lines.push((found.frequency, found.level));
                if was_line(point) && level - before < SAME_DB {
                    let (frequency, level) = (found.frequency, found.level + found.loss);
                    sorted.known.push(Known { frequency, level, source, keyed: true });
                    sorted.hiding.push(Found { hides: true, ..found });
                } else if !job.is_read_as_harmonic(carrier.nominal, found.frequency, found.rbw) {
                    sorted.candidates.push(found);
                }
            }
            for point in unkeyed {
                let level = peaks::highest_near(&one.unkeyed, point, 0);
                if level - peaks::highest_near(&one.keyed, point, peaks::NEAR) >= SAME_DB {
                    let found = found(point, level, source(one, point))?;
                    let (frequency, level) = (found.frequency, found.level + found.loss);
                    if !found.sure {
                        continue;
                    }
                    sorted.known.push(Known { frequency, level, source: found.source, keyed: false });
                }
            }
        }
        sorted.join();
        sorted.lines.sort_by(|one, other| other.1.get().total_cmp(&one.1.get()));
        let room = |found: &Found| {
            found.limit.map_or(f64::INFINITY, |limit| (limit - found.level - found.loss).get())
        };
        sorted.candidates.sort_by(|one, other| {
            room(one).total_cmp(&room(other)).then(other.level.get().total_cmp(&one.level.get()))
        });
        sorted.cut = sorted.candidates.split_off(sorted.candidates.len().min(MOST_LINES));
        for (at, what) in job.expected_lines(carrier.nominal) {
            if sorted.candidates.len() >= MOST_LINES {
                break;
            }
            sorted.expect(job, layout, swept, carrier, at, what)?;
        }
        Ok(sorted)
    }

    /// One line that two sweeps show at their common edge is one.
    fn join(&mut self) {
        self.candidates.sort_by(|one, other| one.frequency.get().total_cmp(&other.frequency.get()));
        let mut joined: Vec<Found> = Vec::new();
        for found in std::mem::take(&mut self.candidates) {
            match joined.last_mut().filter(|last| (found.frequency - last.frequency).get() <= found.rbw.get())
            {
                Some(last) if last.level >= found.level => {}
                Some(last) => *last = found,
                None => joined.push(found),
            }
        }
        self.candidates = joined;
    }

    /// A place where a line is expected, unless one stands there anyway.
    fn expect(
        &mut self,
        job: &Job,
        layout: &SearchLayout,
        swept: &[Swept],
        carrier: &MeasuredCarrier,
        at: Hertz,
        what: String,
    ) -> Result<(), PathError> {
        let holds = |one: &Swept| point_of(&one.keyed, at).is_some();
        let Some(sweep) = swept.iter().position(holds) else { return Ok(()) };
        let one = &swept[sweep];
        let point = point_of(&one.keyed, at).expect("the sweep holds it");
        let rbw = one.keyed.settings.rbw;
        let is_there = |other: Hertz| (other - at).get().abs() <= rbw.get();
        let known = self.candidates.iter().map(|found| found.frequency);
        if known.chain(self.known.iter().map(|known| known.frequency)).any(is_there) {
            return Ok(());
        }
        let found = Found {
            frequency: at,
            sweep,
            rbw,
            reference: layout.segments[one.segment].reference,
            level: Dbm::new(peaks::highest_near(&one.keyed, point, peaks::NEAR)),
            loss: job.harmonics_way().branch.path.loss_at(at)?.total,
            source: Source::Unknown,
            expected: Some(what),
            sure: false,
            hides: false,
            limit: strictest(job, carrier, at),
        };
        if !job.is_read_as_harmonic(carrier.nominal, found.frequency, found.rbw) {
            self.candidates.push(found);
        }
        Ok(())
    }

    /// The strongest lines at the analyser's input, the harmonics that were read among them.
    pub(super) fn strong(&self, held: &[Reading], job: &Job) -> Result<Vec<(Hertz, Dbm)>, PathError> {
        let path = &job.harmonics_way().branch.path;
        let mut lines: Vec<(Hertz, Dbm)> = self.lines.iter().copied().take(STRONG).collect();
        for reading in held.iter().filter(|reading| reading.quantity == Quantity::Harmonic) {
            if let (Some(level), Ok(loss)) = (reading.level(), path.loss_at(reading.frequency)) {
                lines.push((reading.frequency, level - loss.total));
            }
        }
        lines.sort_by(|one, other| other.1.get().total_cmp(&one.1.get()));
        lines.truncate(STRONG);
        Ok(lines)
    }
}

/// The strictest limit that may apply at a frequency.
fn strictest(job: &Job, carrier: &MeasuredCarrier, at: Hertz) -> Option<Dbm> {
    possible::limits(job, carrier, at).levels.into_iter().reduce(Dbm::min)
}

/// Whose what was there without the key is: gone with the unit off, it is the unit's.
fn source(swept: &Swept, point: usize) -> Source {
    let Some(off) = &swept.off else { return Source::Unknown };
    let on = peaks::highest_near(&swept.unkeyed, point, peaks::NEAR);
    let gone = on - peaks::highest_near(off, point, peaks::NEAR) >= SAME_DB;
    if gone { Source::Receiver } else { Source::Surroundings }
}

/// The point of a sweep that shows a frequency, if it reaches it.
pub(super) fn point_of(look: &Acquisition, at: Hertz) -> Option<usize> {
    let settings = &look.settings;
    let from_first = (at - settings.frequency_of(0)) / settings.spacing();
    let last = f64::from(settings.points - 1);
    (-0.5..=last + 0.5).contains(&from_first).then(|| from_first.round().clamp(0.0, last) as usize)
}
