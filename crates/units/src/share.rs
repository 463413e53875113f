//! Shares of something.

use crate::notation::Notation;
use crate::quantity::quantity;

pub(crate) const SHARE: Notation = Notation {
    what: "a share",
    example: "99 %",
    units: &[("%", 1e-2), ("ppm", 1e-6)],
    least: -1e6,
    most: 1e6,
    bound: "a share is at most 100000000 %, of either sign",
    digits: None,
};

quantity!(
    /// A share of something, as a plain number: `99 %` is 0.99.
    Ratio, SHARE, "parts of one"
);

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reads_and_prints() {
        assert_eq!("99 %".parse(), Ok(Ratio::new(0.99)));
        assert_eq!("-2.5 ppm".parse(), Ok(Ratio::new(-2.5e-6)));
        assert_eq!(Ratio::new(0.99).to_string(), "99 %");
        assert_eq!(Ratio::new(-2.5e-6).to_string(), "-2.5 ppm");
    }
}
