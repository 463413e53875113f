//! Lines to points, each checked as it is complete.

use spurline_units::{Db, Hertz};

use super::error::{TouchstoneError, shown};
use super::options::{DEFAULT, Options};
use crate::table::LARGEST_GAIN_DB;
use crate::two_port::TwoPort;

/// A frequency and four parameters of two numbers each.
const VALUES: usize = 9;

/// How far the two directions of a passive path may differ: what a calibrated analyser makes of one and the same
/// path.
const RECIPROCAL_WITHIN_DB: f64 = 0.2;

/// All points of a file; at least one.
pub(super) fn parse(text: &str) -> Result<Vec<(Hertz, TwoPort)>, TouchstoneError> {
    let mut parser = Parser { options: None, open: None, points: Vec::new() };
    for (index, raw) in text.trim_start_matches('\u{feff}').lines().enumerate() {
        let content = raw.split('!').next().unwrap_or("").trim();
        if !content.is_empty() {
            parser.line(content, index + 1)?;
        }
    }
    parser.close()?;
    if parser.points.is_empty() { Err(TouchstoneError::NoPoints) } else { Ok(parser.points) }
}

struct Parser {
    options: Option<Options>,
    /// The line on which the unfinished point starts, and its values so far.
    open: Option<(usize, Vec<f64>)>,
    points: Vec<(Hertz, TwoPort)>,
}

impl Parser {
    fn line(&mut self, content: &str, line: usize) -> Result<(), TouchstoneError> {
        if content.starts_with('[') {
            return Err(TouchstoneError::Version2 { line });
        }
        if let Some(options) = content.strip_prefix('#') {
            return self.option_line(options, line);
        }
        let (mut values, mut found) = (Vec::new(), 0);
        for word in content.split_whitespace() {
            let value = number(word, line)?;
            found += 1;
            // A point has no more of them, while a line may go on without end.
            if found <= VALUES {
                values.push(value);
            }
        }
        // A frequency and pairs make an odd count, pairs alone an even one: the format lets a point run on.
        let (start, before) = if found % 2 == 1 {
            self.close()?;
            (line, Vec::new())
        } else {
            self.open
                .take()
                .filter(|(_, open)| open.len() < VALUES)
                .ok_or(TouchstoneError::Count { line, found })?
        };
        let found = before.len() + found;
        if found > VALUES {
            return Err(TouchstoneError::Count { line: start, found });
        }
        self.open = Some((start, [before, values].concat()));
        Ok(())
    }

    fn option_line(&mut self, text: &str, line: usize) -> Result<(), TouchstoneError> {
        // The format tells readers to ignore all option lines but the first.
        if self.options.is_some() {
            return Ok(());
        }
        if self.open.is_some() || !self.points.is_empty() {
            return Err(TouchstoneError::LateOptions { line });
        }
        self.options = Some(Options::parse(text, line)?);
        Ok(())
    }

    /// Finishes the open point, if there is one.
    fn close(&mut self) -> Result<(), TouchstoneError> {
        let Some((line, values)) = self.open.take() else { return Ok(()) };
        let Ok([frequency, rest @ ..]) = <[f64; VALUES]>::try_from(values.as_slice()) else {
            return Err(TouchstoneError::Count { line, found: values.len() });
        };
        let options = self.options.unwrap_or(DEFAULT);
        let frequency = hertz(frequency, options.hertz, line)?;
        if let Some((previous, _)) = self.points.last().filter(|(previous, _)| frequency <= *previous) {
            return Err(TouchstoneError::NotAscending { line, previous: *previous, found: frequency });
        }
        let [a, b, c, d, e, f, g, h] = rest;
        let of = |first, second| options.format.parameter(first, second);
        // The order of two-ports, unlike that of all others, is by columns.
        let point = TwoPort { s11: of(a, b), s21: of(c, d), s12: of(e, f), s22: of(g, h) };
        check(&point, frequency, line)?;
        self.points.push((frequency, point));
        Ok(())
    }
}

fn number(word: &str, line: usize) -> Result<f64, TouchstoneError> {
    let value = word.parse::<f64>().ok().filter(|value| value.is_finite());
    value.ok_or_else(|| TouchstoneError::NotANumber { line, found: shown(word) })
}

fn hertz(value: f64, factor: f64, line: usize) -> Result<Hertz, TouchstoneError> {
    let frequency = value * factor;
    if !frequency.is_finite() {
        return Err(TouchstoneError::TooLarge { line });
    }
    if frequency < 0.0 {
        return Err(TouchstoneError::BelowZero { line, found: frequency });
    }
    Ok(Hertz::new(frequency))
}

/// Whether a passive path can have these parameters.
fn check(point: &TwoPort, frequency: Hertz, line: usize) -> Result<(), TouchstoneError> {
    let TwoPort { s11, s21, s12, s22 } = point;
    if ![s11, s21, s12, s22].iter().all(|parameter| parameter.norm().is_finite()) {
        return Err(TouchstoneError::TooLarge { line });
    }
    let (Some(forward), Some(reverse)) = (point.loss(), point.reverse_loss()) else {
        return Err(TouchstoneError::Opaque { line, frequency });
    };
    let least = forward.min(reverse);
    if least.get() < -LARGEST_GAIN_DB {
        return Err(TouchstoneError::Gain { line, frequency, gain: -least });
    }
    if (forward - reverse).abs().get() > RECIPROCAL_WITHIN_DB {
        return Err(TouchstoneError::NotReciprocal { line, frequency, forward, reverse });
    }
    let found = s11.norm().max(s22.norm());
    if found > Db::new(LARGEST_GAIN_DB).amplitude_ratio() {
        return Err(TouchstoneError::Reflects { line, frequency, found });
    }
    Ok(())
}
