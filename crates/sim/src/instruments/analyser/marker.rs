//! The marker: where it goes and what it reads.

use spurline_clock::Moment;
use spurline_scpi::{Element, ErrorCode, Number, Quantity};

use super::Analyser;
use super::commands::{Command, Marker};
use crate::instruments::call::{Bounds, Call, Outcome, Reply};

/// Which of several peaks is looked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Peak {
    /// The highest that is lower than here.
    Lower,
    /// The nearest at lower frequencies.
    Left,
    /// The nearest at higher frequencies.
    Right,
}

impl Analyser {
    pub(super) fn run_marker(&mut self, marker: Marker, call: &Call<'_>) -> Outcome<Command> {
        let now = call.now;
        match marker {
            Marker::State => {
                let middle = self.settings.points as usize / 2;
                let place = &mut self.marker;
                call.flag(place.is_some(), |on| *place = on.then(|| place.unwrap_or(middle)))
            }
            Marker::Off => call.act(|| {
                self.marker = None;
                Ok(())
            }),
            Marker::Maximum => call.act(|| self.go_to_extreme(now, |one, other| one.total_cmp(&other))),
            Marker::Minimum => call.act(|| self.go_to_extreme(now, |one, other| other.total_cmp(&one))),
            Marker::Next => call.act(|| self.go_to_peak(now, Peak::Lower)),
            Marker::Left => call.act(|| self.go_to_peak(now, Peak::Left)),
            Marker::Right => call.act(|| self.go_to_peak(now, Peak::Right)),
            Marker::X => self.x(call),
            Marker::Y => call.ask(|| Ok(self.y(now))),
            Marker::Counter => call.flag(self.counter, |on| self.counter = on),
            Marker::Counted => call.ask(|| {
                // It counts what is there now, at the last sweep's settings; switched off it counts nothing.
                let marker = self.frequency().filter(|_| self.counter);
                let settings = self.trace.as_ref().map_or(self.settings, |trace| trace.settings);
                let counted = marker.and_then(|marker| self.front_end.counted(&settings, marker, now));
                let number = counted.map_or(Number::NotANumber, Number::Finite);
                Ok(Reply::Answer(Element::from_number(number).into()))
            }),
            Marker::Centre => call.act(|| {
                let frequency = self.frequency().ok_or(ErrorCode::SETTINGS_CONFLICT)?;
                let range = self.front_end.range();
                self.settings.centre = frequency.clamp(range.low().get(), range.high().get());
                Ok(())
            }),
        }
    }

    /// To the point that comes last in this order; of several alike to the last one.
    fn go_to_extreme(
        &mut self,
        now: Moment,
        order: impl Fn(f32, f32) -> std::cmp::Ordering,
    ) -> Result<(), ErrorCode> {
        let levels = &self.newest(now)?.levels;
        let extreme = levels.iter().enumerate().max_by(|one, other| order(*one.1, *other.1));
        self.marker = extreme.map(|(point, _)| point);
        Ok(())
    }

    /// From where it is to another peak: a point that no neighbour tops.
    fn go_to_peak(&mut self, now: Moment, wanted: Peak) -> Result<(), ErrorCode> {
        let here = self.marker.ok_or(ErrorCode::SETTINGS_CONFLICT)?;
        let levels = &self.newest(now)?.levels;
        let level = *levels.get(here).ok_or(ErrorCode::DATA_CORRUPT_OR_STALE)?;
        let tops = |point: usize, other: Option<&f32>| other.is_none_or(|other| levels[point] >= *other);
        let is_peak = |point: &usize| {
            tops(*point, point.checked_sub(1).and_then(|before| levels.get(before)))
                && tops(*point, levels.get(point + 1))
        };
        let mut peaks = (0..levels.len()).filter(is_peak);
        let found = match wanted {
            Peak::Lower => peaks
                .filter(|point| levels[*point] < level)
                .max_by(|one, other| levels[*one].total_cmp(&levels[*other])),
            Peak::Left => peaks.rfind(|point| *point < here),
            Peak::Right => peaks.find(|point| *point > here),
        };
        // Where there is no such peak the marker stays.
        self.marker = Some(found.ok_or(ErrorCode::EXECUTION_ERROR)?);
        Ok(())
    }

    fn frequency(&self) -> Option<f64> {
        let settings = self.trace.as_ref().map_or(&self.settings, |trace| &trace.settings);
        self.marker.map(|point| settings.frequency_of(point))
    }

    fn x(&mut self, call: &Call<'_>) -> Outcome<Command> {
        if call.unit.query && call.unit.parameters.is_empty() {
            let number = self.frequency().map_or(Number::NotANumber, Number::Finite);
            return Ok(Reply::Answer(Element::from_number(number).into()));
        }
        let (low, high) = self.settings.edges();
        let bounds = Bounds { low, high, default: self.settings.centre };
        let (settings, marker) = (&self.settings, &mut self.marker);
        call.numeric(Quantity::Frequency, bounds, bounds.default, |v| *marker = Some(settings.point_of(v)))
    }

    /// The level at the marker, or what stands for none.
    fn y(&mut self, now: Moment) -> Reply<Command> {
        let marker = self.marker;
        let unit = self.settings.unit;
        let level = self.newest(now).ok().zip(marker).and_then(|(trace, point)| trace.levels.get(point));
        let number = level.map(|level| Number::Finite(unit.of_dbm(f64::from(*level))));
        Reply::Answer(Element::from_number(number.unwrap_or(Number::NotANumber)).into())
    }
}
