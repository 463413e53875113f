//! The uncertainty budget after JCGM 100 (GUM), kept in dB, where the model is a sum and every sensitivity is one.

mod coverage;

use spurline_units::Db;

use crate::phasor;

pub use coverage::{COVERAGE_PROBABILITY, Coverage, CoverageMethod};

/// The coverage factor of every expanded uncertainty here: about 95 % (ISO/IEC 17025 practice).
pub const COVERAGE: f64 = 2.0;

/// How the values that a contribution can take are spread.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Distribution {
    /// An expanded uncertainty with its coverage factor, as a certificate states it.
    Normal {
        /// The coverage factor, above zero.
        k: f64,
    },
    /// Anywhere within the stated limits, all equally likely.
    Rectangular,
    /// Within the stated limits, most likely at their ends: a sine of unknown phase, such as mismatch.
    UShaped,
    /// An echo of unknown phase, 20 log10|1 + r e^(j phi)|, exactly and with its skew: it can lower a level by more
    /// than it can raise it. The stated value is the most by which it raises one, 20 log10(1 + r) for
    /// [`Contribution::mismatch`]; any other value stretches the same shape.
    Mismatch {
        /// The product r of the magnitudes of the two reflections, 0 to 1.
        product: f64,
    },
    /// Within the stated limits, most likely in their middle.
    Triangular,
    /// Already a standard uncertainty.
    Standard,
}

impl Distribution {
    /// What a stated value is divided by to give a standard uncertainty (JCGM 100:2008, 4.3).
    #[must_use]
    pub fn divisor(self) -> f64 {
        match self {
            Self::Normal { k } => k,
            Self::Rectangular => 3f64.sqrt(),
            Self::UShaped => 2f64.sqrt(),
            Self::Mismatch { product } => phasor::divisor(product),
            Self::Triangular => 6f64.sqrt(),
            Self::Standard => 1.0,
        }
    }
}

/// One line of a budget.
#[derive(Clone, Debug, PartialEq)]
pub struct Contribution {
    /// What contributes, for example `frequency response`.
    pub name: String,
    /// The stated value: half the width between limits, or an expanded or standard uncertainty.
    pub value: Db,
    /// What kind of value that is.
    pub distribution: Distribution,
    /// The file and key, or the observation, that the value came from.
    pub source: String,
    /// Degrees of freedom behind the value, above zero; `None` if it is known well enough to count as without end.
    pub freedom: Option<f64>,
}

impl Contribution {
    /// A contribution that is known well enough to have no end of degrees of freedom.
    pub fn new(
        name: impl Into<String>,
        value: Db,
        distribution: Distribution,
        source: impl Into<String>,
    ) -> Self {
        Self { name: name.into(), value, distribution, source: source.into(), freedom: None }
    }

    /// Two reflections that face each other with an unknown phase, from the most by which they can raise a level,
    /// 20 log10(1 + |G1||G2|), at most 6.02 dB.
    ///
    /// A product of the analyser's own that lies `d` under the reading is of the same shape, for the true line is
    /// what is left of the reading without it: `above` is then that of [`crate::Coherent::at`].
    pub fn mismatch(name: impl Into<String>, above: Db, source: impl Into<String>) -> Self {
        let product = (above.abs().amplitude_ratio() - 1.0).min(1.0);
        Self::new(name, above, Distribution::Mismatch { product }, source)
    }

    /// The same contribution with the degrees of freedom behind its value, for example one less than the
    /// number of repeated readings.
    #[must_use]
    pub fn with_freedom(self, freedom: f64) -> Self {
        Self { freedom: Some(freedom), ..self }
    }

    /// The standard uncertainty.
    ///
    /// # Panics
    ///
    /// If the coverage factor of a normal distribution is zero.
    #[must_use]
    pub fn standard(&self) -> Db {
        self.value.abs() / self.distribution.divisor()
    }
}

/// All that is uncertain about one reading; the lines are independent of each other.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Budget {
    /// The contributions, in the order in which they are shown.
    pub lines: Vec<Contribution>,
}

impl Budget {
    /// The combined standard uncertainty: the root of the sum of squares.
    #[must_use]
    pub fn combined(&self) -> Db {
        let squares: f64 = self.lines.iter().map(|line| line.standard().get().powi(2)).sum();
        Db::new(squares.sqrt())
    }

    /// The expanded uncertainty for coverage factor `k`.
    #[must_use]
    pub fn expanded(&self, k: f64) -> Db {
        self.combined() * k
    }

    /// The effective degrees of freedom after Welch and Satterthwaite (JCGM 100:2008, G.4.1); `None` if no line
    /// limits them.
    #[must_use]
    pub fn effective_freedom(&self) -> Option<f64> {
        let limited: f64 = self
            .lines
            .iter()
            .filter_map(|line| line.freedom.map(|freedom| line.standard().get().powi(4) / freedom))
            .sum();
        (limited > 0.0).then(|| self.combined().get().powi(4) / limited)
    }

    /// The budget of a difference of two readings, such as a level relative to the carrier.
    ///
    /// Lines that `shared` picks out are one and the same cause in both readings. Such a line of one name,
    /// distribution and source in both cancels but for the difference of the two values; all other lines count in full.
    #[must_use]
    pub fn of_difference(&self, other: &Self, shared: impl Fn(&Contribution) -> bool) -> Self {
        let twin = |line: &Contribution, among: &Self| {
            among
                .lines
                .iter()
                .find(|l| {
                    shared(l)
                        && l.name == line.name
                        && l.distribution == line.distribution
                        && l.source == line.source
                })
                .map(|found| found.value)
        };
        let mut lines = Vec::with_capacity(self.lines.len() + other.lines.len());
        for line in &self.lines {
            match twin(line, other).filter(|_| shared(line)) {
                Some(value) => {
                    let rest = (line.value.abs() - value.abs()).abs();
                    if rest.get() > 0.0 {
                        lines.push(Contribution { value: rest, ..line.clone() });
                    }
                }
                None => lines.push(line.clone()),
            }
        }
        lines.extend(other.lines.iter().filter(|line| !shared(line) || twin(line, self).is_none()).cloned());
        Self { lines }
    }
}

#[cfg(test)]
mod tests;
