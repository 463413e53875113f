//! The mean of a filter's skirt over buckets that are all alike: what an averaging detector sees of a line.
//!
//! Over a bucket that is narrow for the filter a few places of the skirt are enough, by the rule of Gauss; over a wide
//! one it is the area under the skirt.

use std::f64::consts::LN_2;

use super::{Shape, area};

/// The skirt's mean over buckets of one width.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Mean {
    shape: Shape,
    bandwidth: f64,
    /// Width of the buckets, in bandwidths.
    width: f64,
    rule: Rule,
}

#[derive(Clone, Copy, Debug)]
enum Rule {
    /// The bucket's middle is enough.
    Middle,
    /// Five places: the middle, and four of which each pair is this far out, in bandwidths.
    Places,
    /// Five places of a Gaussian, whose sums of pairs are hyperbolic cosines.
    Gaussian([Pair; 2]),
    Area,
}

/// Two places on either side of a bucket's middle.
#[derive(Clone, Copy, Debug)]
struct Pair {
    /// What the middle's offset is multiplied with in the exponent.
    slope: f64,
    /// The weight of both places, with what the Gaussian loses from the middle to there.
    weight: f64,
}

/// Gauss's rule with five points: places over the half width, and weights (Abramowitz and Stegun, table 25.4).
const PLACES: [f64; 2] = [0.538_469_310_105_683, 0.906_179_845_938_664];
const WEIGHTS: [f64; 2] = [0.478_628_670_499_366, 0.236_926_885_056_189];
const MIDDLE: f64 = 0.568_888_888_888_889;

impl Mean {
    pub(super) fn new(shape: Shape, bandwidth: f64, width: f64) -> Self {
        let width = width / bandwidth;
        // Over so few bandwidths the skirt is straight, or bends little.
        let (straight, narrow, of_narrow) = match shape {
            Shape::Gaussian => (0.005, 0.8, Rule::Gaussian(gaussian(width))),
            Shape::FourPole | Shape::FivePole => (0.005, 0.25, Rule::Places),
            Shape::FlatTop => (0.001, 0.05, Rule::Places),
        };
        let rule = if width < straight {
            Rule::Middle
        } else if width < narrow {
            of_narrow
        } else {
            Rule::Area
        };
        Self { shape, bandwidth, width, rule }
    }

    /// The mean share of a line's power that passes, the bucket's middle being `offset` hertz from the line.
    pub(crate) fn passes(&self, offset: f64) -> f64 {
        let offset = offset / self.bandwidth;
        match &self.rule {
            Rule::Middle => self.shape.passes(offset),
            Rule::Places => self.places(offset),
            Rule::Gaussian(pairs) => {
                let pairs = pairs.iter().map(|pair| {
                    let out = (pair.slope * offset).exp();
                    pair.weight * (out + 1.0 / out)
                });
                // Very far out the cosines have no value; nothing passes there.
                match self.shape.passes(offset) {
                    0.0 => 0.0,
                    middle => middle * (0.5 * MIDDLE + pairs.sum::<f64>()),
                }
            }
            Rule::Area => {
                let half = 0.5 * self.width;
                area::between(self.shape, offset - half, offset + half) / self.width
            }
        }
    }

    fn places(&self, offset: f64) -> f64 {
        let pair = |(place, weight): (&f64, &f64)| {
            let out = 0.5 * self.width * place;
            0.5 * weight * (self.shape.passes(offset - out) + self.shape.passes(offset + out))
        };
        let middle = 0.5 * MIDDLE * self.shape.passes(offset);
        middle + PLACES.iter().zip(&WEIGHTS).map(pair).sum::<f64>()
    }
}

fn gaussian(width: f64) -> [Pair; 2] {
    [0, 1].map(|i| {
        let out = 0.5 * width * PLACES[i];
        // exp(-4 ln 2 (x + out)²), both signs of `out` together, over exp(-4 ln 2 x²).
        Pair { slope: 8.0 * LN_2 * out, weight: 0.5 * WEIGHTS[i] * (-4.0 * LN_2 * out * out).exp() }
    })
}
