//! The bandwidth that a limit is meant in.

use spurline_units::Hertz;

/// What a rule says about the bandwidth of its limits.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum ReferenceBandwidth {
    /// The text has none: whatever is used is the measurer's choice.
    NoneStated,
    One(Hertz),
    /// This or more.
    AtLeast(Hertz),
    /// By the frequency of the emission; ends belong to the lower range.
    ByEmission(Vec<Step>),
}

/// One range of emission frequencies, from the end of the one before.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Step {
    /// The end of the range, included; the last range has none.
    pub(crate) up_to: Option<Hertz>,
    pub(crate) bandwidth: Hertz,
}

impl ReferenceBandwidth {
    /// The bandwidth at an emission, if there is one to name, and a sentence about it.
    pub(crate) fn at(&self, emission: Option<Hertz>) -> (Option<Hertz>, String) {
        match (self, emission) {
            (Self::NoneStated, _) => (None, "reference bandwidth: the rule states none".to_owned()),
            (Self::One(bandwidth), _) => (Some(*bandwidth), format!("reference bandwidth: {bandwidth}")),
            (Self::AtLeast(bandwidth), _) => {
                (Some(*bandwidth), format!("reference bandwidth: at least {bandwidth}"))
            }
            (Self::ByEmission(_), None) => {
                (None, "reference bandwidth: goes by the emission frequency, which is not given".to_owned())
            }
            (Self::ByEmission(steps), Some(emission)) => {
                let step = steps.iter().find(|step| step.up_to.is_none_or(|end| emission <= end));
                let bandwidth = step.map(|step| step.bandwidth);
                let sentence = bandwidth.map_or_else(
                    || format!("reference bandwidth: the rule states none for an emission at {emission}"),
                    |bandwidth| format!("reference bandwidth: {bandwidth} for an emission at {emission}"),
                );
                (bandwidth, sentence)
            }
        }
    }
}
