//! The limit of one row: terms, the strictest or loosest of them, and their values as printed arithmetic.

use spurline_units::{Db, Dbm};

use crate::finding::Binding;
use crate::formula::Attenuation;
use crate::world::World;

/// Levels this close are a tie: several published limits meet exactly and rounding must not pick one.
const TIE: f64 = 0.005;

/// One term.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Term {
    /// A level, and how the file writes it.
    Absolute { level: Dbm, written: String },
    /// So far below the power that the decibels count from.
    Below(Attenuation),
}

/// A term, or several of which one binds.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Expression {
    /// The number counts the terms of the row from 1.
    Term { number: usize, term: Term },
    /// The lowest level binds.
    Strictest(Vec<Expression>),
    /// The highest level binds.
    Loosest(Vec<Expression>),
}

/// The value of an expression.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Bound {
    pub(crate) level: Dbm,
    /// The terms that give it, more than one where they tie.
    pub(crate) terms: Vec<BindingTerm>,
}

/// One term that gives the level.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct BindingTerm {
    pub(crate) number: usize,
    text: String,
    follows_power: bool,
}

impl Bound {
    pub(crate) fn binding(&self) -> Binding {
        let following = self.terms.iter().filter(|term| term.follows_power).count();
        match following {
            0 => Binding::Absolute,
            all if all == self.terms.len() => Binding::Relative,
            _ => Binding::Both,
        }
    }

    pub(crate) fn say(&self) -> String {
        match self.terms.as_slice() {
            [one] => format!("{} binds", one.text),
            several => {
                let texts: Vec<_> = several.iter().map(|term| term.text.as_str()).collect();
                format!("{} agree within {TIE} dB and bind alike", texts.join(" and "))
            }
        }
    }
}

impl Expression {
    /// The value, and a line for each step.
    pub(crate) fn evaluate(&self, reference: &str, world: &World<'_>, lines: &mut Vec<String>) -> Bound {
        match self {
            Self::Term { number, term } => {
                let (level, arithmetic) = term.evaluate(world);
                let text = term.say(reference);
                lines.push(format!("{text}: {arithmetic}"));
                let term = BindingTerm { number: *number, text, follows_power: term.follows_power(world) };
                Bound { level, terms: vec![term] }
            }
            Self::Strictest(parts) => self.combine(parts, Dbm::min, reference, world, lines),
            Self::Loosest(parts) => self.combine(parts, Dbm::max, reference, world, lines),
        }
    }

    fn combine(
        &self,
        parts: &[Self],
        choose: fn(Dbm, Dbm) -> Dbm,
        reference: &str,
        world: &World<'_>,
        lines: &mut Vec<String>,
    ) -> Bound {
        let bounds: Vec<Bound> = parts.iter().map(|part| part.evaluate(reference, world, lines)).collect();
        let level = bounds.iter().map(|bound| bound.level).reduce(choose).expect("a combination has parts");
        lines.push(format!("{} = {level}", self.say(reference)));
        let terms = bounds
            .into_iter()
            .filter(|bound| (bound.level - level).abs() <= Db::new(TIE))
            .flat_map(|b| b.terms);
        Bound { level, terms: terms.collect() }
    }
}

impl Expression {
    /// Whether its level goes with the offset of the emission.
    pub(crate) fn goes_by_offset(&self) -> bool {
        match self {
            Self::Term { term: Term::Below(attenuation), .. } => attenuation.goes_by_offset(),
            Self::Term { term: Term::Absolute { .. }, .. } => false,
            Self::Strictest(parts) | Self::Loosest(parts) => parts.iter().any(Self::goes_by_offset),
        }
    }

    /// Whether its distance from the reference power grows with a power.
    pub(crate) fn goes_by_power(&self) -> bool {
        match self {
            Self::Term { term: Term::Below(attenuation), .. } => attenuation.growth().is_some(),
            Self::Term { term: Term::Absolute { .. }, .. } => false,
            Self::Strictest(parts) | Self::Loosest(parts) => parts.iter().any(Self::goes_by_power),
        }
    }

    fn say(&self, reference: &str) -> String {
        let (name, parts) = match self {
            Self::Term { term, .. } => return term.say(reference),
            Self::Strictest(parts) => ("strictest", parts),
            Self::Loosest(parts) => ("loosest", parts),
        };
        let parts: Vec<String> = parts.iter().map(|part| part.say(reference)).collect();
        format!("{name} of ({})", parts.join("; "))
    }
}

impl Term {
    fn evaluate(&self, world: &World<'_>) -> (Dbm, String) {
        let attenuation = match self {
            Self::Absolute { level, .. } => return (*level, level.to_string()),
            Self::Below(attenuation) => attenuation,
        };
        let power = world.question.power().to_dbm();
        let (total, of) = attenuation.at(world);
        let level = power - total;
        let of = if of.is_empty() { String::new() } else { format!(" ({})", of.join(", ")) };
        (level, format!("{power} - {total}{of} = {level}"))
    }

    /// Whether the level moves when the power does.
    ///
    /// `43 dB + 10 log power` below the power stays at -13 dBm; with a peak power of its own it does move.
    fn follows_power(&self, world: &World<'_>) -> bool {
        match self {
            Self::Absolute { .. } => false,
            Self::Below(attenuation) => attenuation.growth().is_none_or(|growth| {
                growth.per_decade < 10.0 || world.power_of(&growth.of) != world.question.power()
            }),
        }
    }

    fn say(&self, reference: &str) -> String {
        match self {
            Self::Absolute { written, .. } => written.clone(),
            Self::Below(attenuation) => format!("{attenuation} below {reference}"),
        }
    }
}
