//! The band that an emission must stay in, as the plan or a table says.
//!
//! The forecast and the run ask here, so that what was promised beforehand is what is done.

use spurline_limits::BandFinding;
use spurline_units::{Hertz, Range};

use crate::job::Job;
use crate::measure::BandAsked;

/// Where an emission may be.
#[derive(Clone, Debug, PartialEq)]
pub struct AskedBand {
    /// Every place that stays possible, each with the most that an emission may occupy there; empty without a band.
    pub places: Vec<(Range<Hertz>, Option<Hertz>)>,
    /// Whether there is none in some case that stays possible.
    pub open: bool,
    /// What would settle it: the keys of the plan.
    pub missing: Vec<&'static str>,
    /// Where it stands.
    pub source: String,
    /// How it follows, a line a step.
    pub steps: Vec<String>,
}

impl AskedBand {
    /// What must be known first, in words, if anything must.
    #[must_use]
    pub fn needs(&self) -> Option<String> {
        (!self.missing.is_empty())
            .then(|| format!("the table of bands needs to know: {}", self.missing.join(", ")))
    }
}

impl Job {
    /// Where an emission from `low` to `high` may be; `None` if the plan does not ask.
    #[must_use]
    pub fn band(&self, low: Hertz, high: Hertz) -> Option<AskedBand> {
        let file = self.document.source.name();
        match self.plan.measure.spectrum.band.as_ref()? {
            BandAsked::Range(range) => Some(AskedBand {
                places: vec![(*range, None)],
                open: false,
                missing: Vec::new(),
                source: format!("{file}: measure.band"),
                steps: Vec::new(),
            }),
            BandAsked::Table(asked) => {
                let cases = self.band_plan.as_ref()?.cases(low, high, asked.region, asked.sent);
                let mut places = Vec::new();
                for place in cases.possible.iter().filter_map(|finding| finding.verdict.place()) {
                    if !places.contains(&place) {
                        places.push(place);
                    }
                }
                // Sources of several places are told once each, in the order of the table.
                let mut sources: Vec<&str> = Vec::new();
                for finding in &cases.possible {
                    if !sources.contains(&finding.source.as_str()) {
                        sources.push(&finding.source);
                    }
                }
                Some(AskedBand {
                    open: cases.possible.iter().any(|finding| finding.verdict.place().is_none()),
                    places,
                    source: sources.join("; "),
                    steps: steps(&cases.possible, &cases.missing),
                    missing: cases.missing,
                })
            }
        }
    }
}

/// Of several answers, the lines that they do not share are told as well.
fn steps(findings: &[BandFinding], missing: &[&str]) -> Vec<String> {
    let mut steps: Vec<String> =
        missing.iter().map(|name| format!("`{name}` is not given: every case of it is judged")).collect();
    for line in findings.iter().flat_map(|finding| &finding.derivation) {
        if !steps.contains(line) {
            steps.push(line.clone());
        }
    }
    steps
}
