//! The resolution filter: its kinds with skirt and noise bandwidth.

use std::f64::consts::LN_2;

use spurline_units::Hertz;

use crate::physics::sweep_rate::SweepRate;

mod area;
mod mean;

pub(crate) use mean::Mean;

/// The shape of a resolution filter.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Shape {
    /// The ideal that digital filters come near to.
    Gaussian,
    /// Four poles, all tuned to the same frequency.
    FourPole,
    /// Five of them.
    FivePole,
    /// A flat top with steep flanks: the square of the Gaussian's exponent.
    FlatTop,
}

/// A resolution filter, known by its shape and its bandwidth between the points of half power.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Filter {
    shape: Shape,
    /// Bandwidth at half power, in hertz, above zero.
    bandwidth: f64,
}

impl Shape {
    /// How many poles it has, if it is made of poles.
    fn poles(self) -> Option<i32> {
        match self {
            Self::FourPole => Some(4),
            Self::FivePole => Some(5),
            Self::Gaussian | Self::FlatTop => None,
        }
    }

    /// Equivalent noise bandwidth over bandwidth.
    pub(crate) fn noise_factor(self) -> f64 {
        2.0 * area::whole(self)
    }

    /// Independent looks for each unit of bandwidth and time at noise behind the filter, on average: the square of
    /// the noise bandwidth over the noise bandwidth of two such filters in a row.
    pub(crate) fn looks(self) -> f64 {
        let twice = match self {
            Self::Gaussian => self.noise_factor() / 2f64.sqrt(),
            Self::FlatTop => self.noise_factor() / 2f64.powf(0.25),
            Self::FourPole | Self::FivePole => {
                let poles = self.poles().expect("both are made of poles");
                2.0 * area::whole_of_poles(2 * poles) / corner(poles)
            }
        };
        self.noise_factor().powi(2) / twice
    }

    /// Share of the power that passes at this offset, counted in bandwidths.
    fn passes(self, offset: f64) -> f64 {
        let x = 2.0 * offset;
        match self.poles() {
            Some(poles) => (1.0 + (x * half_power(poles)).powi(2)).powi(-poles),
            None if self == Self::Gaussian => (-LN_2 * x * x).exp(),
            None => (-LN_2 * (x * x) * (x * x)).exp(),
        }
    }

    /// The offset in bandwidths at which no more than this share, below 1, passes.
    fn reach(self, share: f64) -> f64 {
        match self.poles() {
            Some(poles) => (share.powf(-1.0 / f64::from(poles)) - 1.0).sqrt() / corner(poles),
            None if self == Self::Gaussian => (-share.log2()).sqrt() / 2.0,
            None => (-share.log2()).powf(0.25) / 2.0,
        }
    }
}

/// Where poles pass half the power, over the half width of one pole.
fn half_power(poles: i32) -> f64 {
    (2f64.powf(1.0 / f64::from(poles)) - 1.0).sqrt()
}

/// The whole bandwidth of that.
fn corner(poles: i32) -> f64 {
    2.0 * half_power(poles)
}

impl Filter {
    /// A filter of this shape and bandwidth, which is above zero.
    pub(crate) fn new(shape: Shape, bandwidth: Hertz) -> Self {
        debug_assert!(bandwidth.get() > 0.0, "a filter has a width");
        Self { shape, bandwidth: bandwidth.get() }
    }

    /// Its shape.
    pub(crate) fn shape(self) -> Shape {
        self.shape
    }

    /// Its width between the points of half power.
    pub(crate) fn bandwidth(self) -> Hertz {
        Hertz::new(self.bandwidth)
    }

    /// Bandwidth of the rectangle that passes the same noise.
    pub(crate) fn noise_bandwidth(self) -> Hertz {
        Hertz::new(self.shape.noise_factor() * self.bandwidth)
    }

    /// Share of a line's power that passes, the line being `offset` hertz from the filter's centre.
    pub(crate) fn passes(self, offset: f64) -> f64 {
        self.shape.passes(offset / self.bandwidth)
    }

    /// What passes while the filter's centre moves over buckets of `width` hertz.
    pub(crate) fn over(self, width: f64) -> Mean {
        Mean::new(self.shape, self.bandwidth, width)
    }

    /// How far from the centre, in hertz, a line may be so that more than this share of its power passes.
    pub(crate) fn reach(self, share: f64) -> Option<f64> {
        (share < 1.0).then(|| self.shape.reach(share) * self.bandwidth)
    }

    /// The filter as a line sees it when it is swept: wider by [`SweepRate::widening`], whatever its shape.
    pub(crate) fn swept(self, rate: SweepRate) -> Self {
        Self { bandwidth: self.bandwidth * rate.widening(), ..self }
    }
}

#[cfg(test)]
mod tests;
