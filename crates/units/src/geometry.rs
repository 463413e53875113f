//! Angles and lengths.

use std::f64::consts::PI;

use crate::notation::Notation;
use crate::quantity::quantity;

const DEGREE: f64 = PI / 180.0;

pub(crate) const ANGLE: Notation = Notation {
    what: "an angle",
    example: "40 deg",
    units: &[("deg", DEGREE), ("°", DEGREE)],
    least: -360.0 * DEGREE,
    most: 360.0 * DEGREE,
    bound: "an angle is from -360 deg to 360 deg",
    digits: None,
};
pub(crate) const LENGTH: Notation = Notation {
    what: "a length",
    example: "1.2 m",
    units: &[("m", 1.0), ("cm", 1e-2), ("mm", 1e-3)],
    least: 0.0,
    most: 1e6,
    bound: "a length is at most 1000000 m",
    digits: None,
};

quantity!(
    /// An angle, in radians; it is written in degrees.
    Angle, ANGLE, "radians"
);
quantity!(
    /// A length, in metres; never below zero when it is read from text.
    Length, LENGTH, "metres"
);

impl Angle {
    /// The angle in radians, which is what trigonometry wants.
    #[must_use]
    pub const fn radians(self) -> f64 {
        self.get()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// numpy 2.4.6: deg2rad(40) = 0.6981317007977318.
    #[test]
    fn an_angle_is_written_in_degrees_and_kept_in_radians() {
        assert_eq!("180 deg".parse::<Angle>().unwrap().radians(), PI);
        assert_eq!("40°".parse::<Angle>().unwrap().radians(), 0.698_131_700_797_731_8);
        assert_eq!("-40 deg".parse::<Angle>().unwrap().to_string(), "-40 deg");
        assert!("-360 deg".parse::<Angle>().is_ok() && "360.1 deg".parse::<Angle>().is_err());
        for text in ["40", "40 m", "deg", "inf deg", ""] {
            assert!(text.parse::<Angle>().is_err(), "{text}");
        }
    }

    #[test]
    fn a_length_is_kept_in_metres() {
        for (text, metres) in [("1.2m", 1.2), ("35 cm", 0.35), ("3 mm", 0.003)] {
            assert_eq!(text.parse(), Ok(Length::new(metres)), "{text}");
        }
        assert_eq!(Length::new(0.35).to_string(), "35 cm");
        assert!("-1 m".parse::<Length>().is_err());
    }
}
