//! A figure of a specification, and an error that keeps it.

use super::draws::Draws;

/// How an error is spread about nothing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Spread {
    /// The stated figure is expanded, k = 2.
    Normal,
    /// Anywhere within the stated figure.
    Rectangular,
}

/// An error that stays `within` so many dB, as a specification words it.
#[derive(Clone, Copy, Debug)]
pub(super) struct Stated {
    pub(super) within: f64,
    pub(super) spread: Spread,
}

impl Stated {
    pub(super) const fn new(within: f64, spread: Spread) -> Self {
        Self { within, spread }
    }

    /// An error that is spread as stated, in dB.
    pub(super) fn error(self, draws: &mut Draws) -> f64 {
        match self.spread {
            Spread::Normal => self.standard() * draws.normal(),
            Spread::Rectangular => draws.between(-self.within, self.within),
        }
    }

    /// Its standard deviation, in dB.
    pub(super) fn standard(self) -> f64 {
        match self.spread {
            Spread::Normal => self.within / 2.0,
            Spread::Rectangular => self.within / 3f64.sqrt(),
        }
    }

    /// As a profile writes it.
    pub(super) fn text(self) -> String {
        let word = match self.spread {
            Spread::Normal => "normal",
            Spread::Rectangular => "rectangular",
        };
        format!("{{ within: {} dB, distribution: {word} }}", self.within)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Standard deviations 0.3 and 0.6 / sqrt(3) = 0.346410 (closed form); of 4,000 draws the deviation is known
    /// to 4 / sqrt(8000) = 4.5 %.
    #[test]
    fn errors_are_spread_as_stated() {
        for (spread, standard) in [(Spread::Normal, 0.3), (Spread::Rectangular, 0.346_410)] {
            let stated = Stated::new(0.6, spread);
            assert!((stated.standard() - standard).abs() < 1e-6);
            let mut draws = Draws::of(2, 2);
            let squares: f64 = (0..4000).map(|_| stated.error(&mut draws).powi(2)).sum();
            let found = (squares / 4000.0).sqrt();
            assert!((found / standard - 1.0).abs() < 0.045, "{spread:?}: {found}");
        }
    }
}
