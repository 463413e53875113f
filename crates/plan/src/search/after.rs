//! What follows the sweeps of a search: looks at what they showed and at places where lines are expected, and looks on
//! another channel that tell what moves with the carrier.

use spurline_judge::{mean_peak, peak_looks};
use spurline_path::PathError;
use spurline_units::{Db, Hertz, Seconds};

use super::{SearchLayout, Segment};
use crate::job::Job;
use crate::model::{Channel, PowerSetting};
use crate::settings::{CARRIER_ERROR, Look, first_look, noise_at_input, suited};

/// So many lines of a channel and power setting are looked at again at most.
pub const MOST_LINES: usize = 32;
/// So many times as far as the carrier a line is looked for when that is moved.
pub const TIMES: [i32; 8] = [1, 2, -1, 3, -2, -3, 4, 5];
/// With where it stands, and where a part of the carrier would.
const PLACES_WHEN_MOVED: f64 = TIMES.len() as f64 + 2.0;
/// Parts of the carrier that a synthesiser or a multiplier makes (common practice).
const SHARES: [(u32, u32); 6] = [(1, 2), (1, 3), (1, 4), (2, 3), (3, 2), (5, 2)];
/// Known frequencies are looked for up to these multiples, by themselves and beside the carrier.
const MULTIPLES: u32 = 3;

/// What follows the sweeps, as far as it is known beforehand.
#[derive(Clone, Debug, PartialEq)]
pub struct AfterSweeps {
    /// The looks at places where lines are expected, whether or not the sweeps show any.
    pub expected: Vec<Look>,
    /// What one look at one line takes at most, the quickest with which it is decided.
    pub line: Seconds,
    /// What looking for it takes at most when the carrier has moved; zero without a channel to move it to.
    pub moved: Seconds,
}

impl Job {
    /// What follows the sweeps of a search of a channel and power setting.
    ///
    /// # Errors
    ///
    /// If the path does not cover the carrier.
    pub fn after_sweeps(
        &self,
        channel: &Channel,
        power: &PowerSetting,
        layout: &SearchLayout,
    ) -> Result<AfterSweeps, PathError> {
        let look = |at: Hertz, segment: &Segment| {
            let task = self.spurious_task(channel, power, at, segment.rbw, self.shown(segment))?;
            Ok(suited(first_look(self.bench.analyser_profile(), &task), &self.plan.modulation))
        };
        let mut expected = Vec::new();
        for (at, _) in self.expected_lines(channel.carrier) {
            let segment = layout.segments.iter().find(|segment| segment.from <= at && at <= segment.to);
            let segment = segment.filter(|of| !self.is_read_as_harmonic(channel.carrier, at, of.rbw));
            if let Some(segment) = segment.filter(|_| expected.len() < MOST_LINES) {
                expected.push(look(at, segment)?);
            }
        }
        let mut line = Seconds::default();
        for segment in &layout.segments {
            let middle = segment.from + (segment.to - segment.from) / 2.0;
            line = line.max(look(middle, segment)?.time_on_the_wire());
        }
        let moves = self.second_channel(channel, power).is_some();
        let moved = if moves { line * PLACES_WHEN_MOVED } else { Seconds::default() };
        Ok(AfterSweeps { expected, line, moved })
    }

    /// What a held sweep of a segment shows of its noise.
    fn shown(&self, segment: &Segment) -> spurline_units::Dbm {
        let profile = self.bench.analyser_profile();
        let noise = noise_at_input(profile, segment.rbw, segment.attenuation);
        let looks = segment.looks.first().map_or(1.0, |look| {
            let dwell = look.settings.sweep_time.get() / f64::from(look.settings.points);
            peak_looks(segment.rbw.get(), dwell) * f64::from(look.sweeps)
        });
        noise + mean_peak(looks) - Db::new(BELOW_PROFILE_DB)
    }

    /// Where lines are expected of every transmitter, and of this one by what the plan says of it.
    #[must_use]
    pub fn expected_lines(&self, carrier: Hertz) -> Vec<(Hertz, String)> {
        let Some(search) = &self.plan.measure.search else { return Vec::new() };
        let mut places: Vec<(Hertz, String)> = Vec::new();
        for reference in &search.references {
            for times in 1..=MULTIPLES {
                let offset = *reference * f64::from(times);
                places.push((offset, format!("{times} × {reference}")));
                places.push((carrier + offset, format!("carrier + {times} × {reference}")));
                places.push((carrier - offset, format!("carrier - {times} × {reference}")));
            }
        }
        for (part, of) in SHARES {
            places.push((carrier * (f64::from(part) / f64::from(of)), format!("{part}/{of} of the carrier")));
        }
        let (_, to) = search.range(carrier);
        let orders = self.plan.measure.harmonics_up_to + 1..=(to / carrier) as u32;
        places.extend(orders.map(|order| (carrier.harmonic(order), format!("harmonic {order}"))));
        places.retain(|(at, _)| at.get() > 0.0);
        places
    }

    /// Whether a frequency that a sweep with this bandwidth showed is that of a harmonic with a reading of its own.
    #[must_use]
    pub fn is_read_as_harmonic(&self, carrier: Hertz, at: Hertz, rbw: Hertz) -> bool {
        let order = (at / carrier).round();
        let read = (1.0..=f64::from(self.plan.measure.harmonics_up_to)).contains(&order);
        let apart = (at - carrier * order).get().abs();
        read && apart <= (rbw + CARRIER_ERROR * order).get()
    }
}

/// A profile states the most that the noise may be; an analyser in use has less, by about this (common practice).
const BELOW_PROFILE_DB: f64 = 5.0;
