//! The limit of one row: terms, the strictest or loosest of them, and their values as printed arithmetic.

use std::fmt;

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
    /// So far below the mean power.
    BelowMeanPower(Attenuation),
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
    pub(crate) fn evaluate(&self, world: &World<'_>, lines: &mut Vec<String>) -> Bound {
        match self {
            Self::Term { number, term } => {
                let (level, arithmetic) = term.evaluate(world);
                lines.push(format!("{term}: {arithmetic}"));
                let term = BindingTerm {
                    number: *number,
                    text: term.to_string(),
                    follows_power: term.follows_power(world),
                };
                Bound { level, terms: vec![term] }
            }
            Self::Strictest(parts) => self.combine(parts, Dbm::min, world, lines),
            Self::Loosest(parts) => self.combine(parts, Dbm::max, world, lines),
        }
    }

    fn combine(
        &self,
        parts: &[Self],
        choose: fn(Dbm, Dbm) -> Dbm,
        world: &World<'_>,
        lines: &mut Vec<String>,
    ) -> Bound {
        let bounds: Vec<Bound> = parts.iter().map(|part| part.evaluate(world, lines)).collect();
        let level = bounds.iter().map(|bound| bound.level).reduce(choose).expect("a combination has parts");
        lines.push(format!("{self} = {level}"));
        let terms = bounds
            .into_iter()
            .filter(|bound| (bound.level - level).abs() <= Db::new(TIE))
            .flat_map(|b| b.terms);
        Bound { level, terms: terms.collect() }
    }
}

impl Term {
    fn evaluate(&self, world: &World<'_>) -> (Dbm, String) {
        let attenuation = match self {
            Self::Absolute { level, .. } => return (*level, level.to_string()),
            Self::BelowMeanPower(attenuation) => attenuation,
        };
        let mean = world.question.power().to_dbm();
        let Some(growth) = &attenuation.growth else {
            let level = mean - attenuation.fixed;
            return (level, format!("{mean} - {} = {level}", attenuation.fixed));
        };
        let of = world.power_of(&growth.of);
        let total = attenuation.fixed + Db::new(growth.per_decade * of.get().log10());
        let level = mean - total;
        (level, format!("{mean} - {total} ({} = {of}) = {level}", growth.of))
    }

    /// Whether the level moves when the mean power does.
    ///
    /// `43 dB + 10 log power` below the power stays at -13 dBm; with a peak power of its own it does move.
    fn follows_power(&self, world: &World<'_>) -> bool {
        match self {
            Self::Absolute { .. } => false,
            Self::BelowMeanPower(attenuation) => attenuation.growth.as_ref().is_none_or(|growth| {
                growth.per_decade < 10.0 || world.power_of(&growth.of) != world.question.power()
            }),
        }
    }
}

impl fmt::Display for Term {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Absolute { written, .. } => f.write_str(written),
            Self::BelowMeanPower(attenuation) => write!(f, "{attenuation} below the mean power"),
        }
    }
}

impl fmt::Display for Expression {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (name, parts) = match self {
            Self::Term { term, .. } => return term.fmt(f),
            Self::Strictest(parts) => ("strictest", parts),
            Self::Loosest(parts) => ("loosest", parts),
        };
        let parts: Vec<String> = parts.iter().map(Self::to_string).collect();
        write!(f, "{name} of ({})", parts.join("; "))
    }
}
