//! An error as a certificate or a data sheet states it: a figure, and how errors are spread within it.

use spurline_document::{Node, Reader};
use spurline_units::Db;

use super::read;

/// An error that is drawn so that the statement is true.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Stated {
    within: Db,
    distribution: Distribution,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Distribution {
    /// The figure is expanded, k = 2.
    Normal,
    /// The figure is never passed, and all errors within it are alike.
    Rectangular,
}

impl Stated {
    /// Normal with a standard deviation.
    pub(crate) fn normal(deviation: Db) -> Self {
        Self { within: deviation * 2.0, distribution: Distribution::Normal }
    }

    pub(super) fn read(reader: &mut Reader, node: &Node) -> Option<Self> {
        let mut fields = reader.fields(node, "an error")?;
        let within = read::required_from(reader, &mut fields, "within", Db::new(0.0));
        let words = [("normal", Distribution::Normal), ("rectangular", Distribution::Rectangular)];
        let distribution = fields
            .required(reader, "distribution")
            .and_then(|node| reader.choice(node, "a distribution", &words));
        fields.close(reader);
        Some(Self { within: within?, distribution: distribution? })
    }

    /// The error that belongs to one draw from the standard normal distribution.
    pub(crate) fn at(&self, normal: f64) -> Db {
        self.within
            * match self.distribution {
                Distribution::Normal => normal / 2.0,
                // Its distribution function makes a normal draw one that is alike from -1 to 1.
                Distribution::Rectangular => libm::erf(normal * std::f64::consts::FRAC_1_SQRT_2),
            }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::draw::Seed;

    /// Standard deviation and largest size over many seeds.
    fn spread(stated: Stated) -> (f64, f64) {
        let drawn: Vec<f64> = (0..4000).map(|seed| stated.at(Seed(seed).normal("x")).get()).collect();
        let square = drawn.iter().map(|error| error * error).sum::<f64>() / drawn.len() as f64;
        (square.sqrt(), drawn.iter().fold(0.0, |most, error| most.max(error.abs())))
    }

    /// Closed forms: half the figure where it is expanded, the figure over the root of 3 where it is a bound. The
    /// spread of 4000 draws is known to 1 / sqrt(8000), 1.1 %; four times that is allowed.
    #[test]
    fn what_is_stated_is_true() {
        let within = Db::new(0.6);
        let (deviation, _) = spread(Stated { within, distribution: Distribution::Normal });
        assert!((deviation / 0.3 - 1.0).abs() < 0.045, "{deviation}");
        let (deviation, most) = spread(Stated { within, distribution: Distribution::Rectangular });
        assert!((deviation / (0.6 / 3f64.sqrt()) - 1.0).abs() < 0.045, "{deviation}");
        assert!(most <= 0.6 && most > 0.59, "{most}");
    }

    /// scipy 1.17.1, `2 * norm.cdf(0.7) - 1`.
    #[test]
    fn a_draw_keeps_its_rank() {
        let stated = Stated { within: Db::new(1.0), distribution: Distribution::Rectangular };
        assert!((stated.at(0.7).get() - 0.516_072_7).abs() < 1e-7);
        assert_eq!(Stated::normal(Db::new(0.3)).at(1.5).get(), 0.3 * 2.0 * 1.5 / 2.0);
    }
}
