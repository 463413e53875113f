//! What a reading, or a run, comes to.

use std::fmt;

use serde::{Deserialize, Serialize};

/// The outcome of a reading; of a run: the worst of its readings.
///
/// The order is that of gravity: `NoLimit` is the least, `Exceeds` the worst.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub enum Outcome {
    /// The rule has no number here; never counted as complying.
    #[serde(rename = "no limit")]
    NoLimit,
    /// Below the limit by at least what the decision rule asks.
    #[serde(rename = "complies")]
    Complies,
    /// The method is sound, the evidence not enough.
    #[serde(rename = "undecided")]
    Undecided,
    /// The method is at fault: the reading says nothing.
    #[serde(rename = "invalid")]
    Invalid,
    /// Above the limit by at least what the decision rule asks.
    #[serde(rename = "exceeds")]
    Exceeds,
}

impl Outcome {
    /// All outcomes, the worst first.
    pub const ALL: [Self; 5] = [Self::Exceeds, Self::Invalid, Self::Undecided, Self::Complies, Self::NoLimit];

    /// The word for it.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::NoLimit => "no limit",
            Self::Complies => "complies",
            Self::Undecided => "undecided",
            Self::Invalid => "invalid",
            Self::Exceeds => "exceeds",
        }
    }

    /// The outcome of a run with these readings; `None` if there are none.
    pub fn of_run(readings: impl IntoIterator<Item = Self>) -> Option<Self> {
        readings.into_iter().max()
    }

    /// The outcome of a run as people are told it: that it complies is never said of readings without a limit.
    #[must_use]
    pub fn of_run_in_words(self, without_limit: usize) -> String {
        match self {
            Self::Complies if without_limit > 0 => format!("complies, but {without_limit} without limit"),
            Self::NoLimit | Self::Complies | Self::Undecided | Self::Invalid | Self::Exceeds => {
                self.word().to_owned()
            }
        }
    }

    /// The colour of such a run: what is not clean must not look so.
    #[must_use]
    pub const fn of_run_as_seen(self, without_limit: usize) -> Self {
        match self {
            Self::Complies if without_limit > 0 => Self::Undecided,
            Self::NoLimit | Self::Complies | Self::Undecided | Self::Invalid | Self::Exceeds => self,
        }
    }
}

impl fmt::Display for Outcome {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.word())
    }
}

/// Why an outcome is what it is, for programs and for people.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Reason {
    /// One of a closed list.
    pub code: ReasonCode,
    /// The same in words, with figures.
    pub text: String,
}

impl Reason {
    /// Joins a code with its words.
    pub fn new(code: ReasonCode, text: impl Into<String>) -> Self {
        Self { code, text: text.into() }
    }
}

macro_rules! reason_codes {
    ($($(#[$doc:meta])* $name:ident => $code:literal,)+) => {
        /// The closed list of reasons.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
        pub enum ReasonCode {
            $($(#[$doc])* #[serde(rename = $code)] $name,)+
        }

        impl ReasonCode {
            /// All codes.
            pub const ALL: &'static [Self] = &[$(Self::$name,)+];

            /// The code as it is written in JSON.
            #[must_use]
            pub const fn code(self) -> &'static str {
                match self {
                    $(Self::$name => $code,)+
                }
            }
        }
    };
}

reason_codes! {
    /// The level lies within its uncertainty of the limit.
    WithinUncertainty => "within-uncertainty",
    /// The uncertainty is above what the decision rule admits.
    TooUncertain => "too-uncertain",
    /// The noise floor hides whether the line is below the limit.
    FloorTooHigh => "floor-too-high",
    /// The analyser's or the path's range ends before this frequency.
    BeyondThisBench => "beyond-this-bench",
    /// The rule needs a fact that the plan does not give.
    FactMissing => "fact-missing",
    /// Several branches of the rule are possible and they do not agree.
    BranchesDisagree => "branches-disagree",
    /// The rule text was not read in its source.
    RuleNotVerified => "rule-not-verified",
    /// The analyser's own distortion may be as large as what was read.
    OwnDistortion => "own-distortion",
    /// The unit adds noise, which goes with the bandwidth, to what was read.
    NoiseLike => "noise-like",
    /// The analyser was overloaded.
    Overload => "overload",
    /// The analyser swept too fast to be calibrated.
    Uncalibrated => "uncalibrated",
    /// Power meter and analyser do not agree on the carrier.
    CrossCheckFailed => "cross-check-failed",
    /// The carrier was not constant while it was looked at.
    CarrierNotConstant => "carrier-not-constant",
    /// No carrier came when the unit was keyed.
    NotKeyed => "not-keyed",
    /// Something was there before the unit was keyed.
    CarrierBeforeKey => "carrier-before-key",
    /// The carrier stayed after key up.
    CarrierAfterKey => "carrier-after-key",
    /// Marker and trace do not agree.
    MarkerDisagrees => "marker-disagrees",
    /// Nothing modulates the carrier, so that its spectrum says nothing.
    NoModulation => "no-modulation",
    /// Looks at one line contradict each other.
    LooksDisagree => "looks-disagree",
    /// The carrier is not where its channel is.
    OffFrequency => "off-frequency",
    /// The same line is there while the unit is not keyed.
    Ambient => "ambient",
    /// The same line is there while the unit receives, and gone when it is off.
    Receiver => "receiver",
    /// What decides it was not looked at in the run that is judged again.
    NotLookedAt => "not-looked-at",
    /// The line reaches the analyser by another way than the unit's connector.
    Leak => "leak",
    /// The level of a tone that makes what it should was not found.
    SetUpFailed => "set-up-failed",
    /// What the carrier carries is not what the plan says.
    ModulationDisagrees => "modulation-disagrees",
    /// An image or another response in the analyser would be there so too.
    AnalyserResponse => "analyser-response",
    /// The carrier it belongs to could not be measured.
    CarrierInvalid => "carrier-invalid",
    /// The carrier's power lies outside the window that the plan gives.
    OutsideWindow => "outside-window",
    /// The supply could not give what it was told to.
    SupplyLimit => "supply-limit",
    /// A transmission came where the unit must be silent, or instead of that.
    Transmits => "transmits",
    /// The rule has no numeric limit here.
    NoNumericLimit => "no-numeric-limit",
    /// The rule's numbers do not apply to this unit.
    Exempt => "exempt",
    /// The plan gives no power window for this setting.
    NoWindow => "no-window",
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_worst_reading_names_the_run() {
        use Outcome::{Complies, Exceeds, Invalid, NoLimit, Undecided};
        assert_eq!(Outcome::of_run([Complies, Undecided, NoLimit]), Some(Undecided));
        assert_eq!(Outcome::of_run([Invalid, Undecided, Exceeds]), Some(Exceeds));
        assert_eq!(Outcome::of_run([Invalid, Undecided]), Some(Invalid));
        assert_eq!(Outcome::of_run([NoLimit, Complies]), Some(Complies));
        assert_eq!(Outcome::of_run([NoLimit]), Some(NoLimit));
        assert_eq!(Outcome::of_run([]), None);
    }

    #[test]
    fn a_run_with_readings_without_limit_never_just_complies() {
        use Outcome::{Complies, Exceeds, NoLimit, Undecided};
        assert_eq!(Complies.of_run_in_words(0), "complies");
        assert_eq!(Complies.of_run_in_words(2), "complies, but 2 without limit");
        assert_eq!((Complies.of_run_as_seen(0), Complies.of_run_as_seen(1)), (Complies, Undecided));
        assert_eq!((Exceeds.of_run_as_seen(1), NoLimit.of_run_as_seen(3)), (Exceeds, NoLimit));
        assert_eq!(Exceeds.of_run_in_words(2), "exceeds");
    }

    #[test]
    fn words_and_json_agree() {
        for outcome in Outcome::ALL {
            assert_eq!(serde_json::to_value(outcome).unwrap(), outcome.word());
        }
        for code in ReasonCode::ALL {
            assert_eq!(serde_json::to_value(code).unwrap(), code.code());
        }
    }
}
