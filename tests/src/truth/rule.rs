//! The limits that drawn units are judged against, by arithmetic of our own: what a rule file says must not be asked of
//! the reader that the measurement asks too.

/// A rule that a plan may name.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Rule {
    /// `us-part-97`, for carriers from 30 to 225 MHz.
    Part97,
    /// `itu-category-a`, any service but those with a row of their own.
    ItuGeneral,
    /// A number of decibels below the mean power, whatever it is: a limit that moves with the carrier.
    BelowCarrier,
}

/// How far below the carrier the rule of our own wants everything, in dB.
const BELOW: f64 = 50.0;

impl Rule {
    /// The name by which a plan calls it.
    pub(super) const fn name(self) -> &'static str {
        match self {
            Self::Part97 => "us-part-97",
            Self::ItuGeneral => "itu-category-a",
            Self::BelowCarrier => "below-carrier.yaml",
        }
    }

    /// The text of a rule that is not shipped.
    pub(super) fn text(self) -> Option<String> {
        (self == Self::BelowCarrier).then(|| {
            format!(
                "rule: below-carrier\ntitle: A number of decibels below the carrier\nsource: invented\n\
                 edition: none\nstatus: verified\nreference_bandwidth: none stated\nparagraphs:\n  \
                 - paragraph: all\n    source: invented\n    limits:\n      \
                 - says: at least {BELOW} dB below the mean power\n        limit: {{ below: {BELOW} dB }}\n"
            )
        })
    }

    /// The limit for a mean power, both in dBm at the connector.
    pub(super) fn limit(self, power: f64) -> f64 {
        let watts = 10f64.powf(power / 10.0 - 3.0);
        match self {
            // 47 CFR 97.307(e): 25 W or less, no more than 25 uW and 40 dB, but never below 10 uW; else 60 dB.
            Self::Part97 if watts <= 25.0 => {
                let microwatts = |count: f64| 10.0 * (count * 1e-3).log10();
                microwatts(25.0).min(power - 40.0).max(microwatts(10.0))
            }
            Self::Part97 => power - 60.0,
            // Radio Regulations Appendix 3: 43 dB + 10 log P or 70 dB, whichever asks for less.
            Self::ItuGeneral => power - (43.0 + 10.0 * watts.log10()).min(70.0),
            Self::BelowCarrier => power - BELOW,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 25 uW is -16.0206 dBm, 10 uW -20 dBm, 50 uW -13.0103 dBm (numpy 2.4.6); 43 dB + 10 log P below any power is
    /// -13 dBm.
    #[test]
    fn limits_by_hand() {
        for (rule, power, limit) in [
            (Rule::Part97, 37.0, -16.020_6),
            (Rule::Part97, 23.0, -17.0),
            (Rule::Part97, 10.0, -20.0),
            (Rule::Part97, 45.0, -15.0),
            (Rule::ItuGeneral, 37.0, -13.0),
            (Rule::BelowCarrier, 37.0, -13.0),
        ] {
            let found = rule.limit(power);
            assert!((found - limit).abs() < 1e-4, "{rule:?} at {power} dBm: {found}");
        }
    }
}
