//! Uncertainty budgets and decision rules: pure functions.
//!
//! [`Budget`] combines the lines of an uncertainty budget, [`correct`] takes the noise out of a reading near the
//! floor, [`Coherent`] bounds what a product of the analyser's own can do to a line, [`range_by_steps`] says what a
//! line can be by several attenuations, and [`judge_upper`], [`judge_bound`] and [`judge_window`] what a reading is
//! worth against its limit. They judge by a [`Spread`], which is not normal where its budget is not
//! ([`Budget::coverage`], [`Density`]). [`HertzBudget`] and [`judge_hertz`] are the same for widths and frequencies, and
//! [`occupied`], [`x_db`], [`channel_power`], [`emission_mask`] and [`line_peak`] read them off a [`Trace`]. [`Shift`] says
//! whether the difference of two readings is one, and which would have been seen.
//!
//! This room holds no figure of any instrument or path: every one comes in with its source. It knows no rules,
//! no files and no time.
//!
//! ```
//! use spurline_judge::{Budget, Contribution, DecisionRule, Distribution, Spread, Verdict, judge_upper};
//! use spurline_units::{Db, Dbm};
//! let budget = Budget { lines: vec![
//!     Contribution::new("analyser level", Db::new(0.6), Distribution::Normal { k: 2.0 }, "level in analyser.yaml"),
//!     Contribution::new("path", Db::new(0.3), Distribution::Normal { k: 2.0 }, "uncertainty in pad.yaml"),
//! ] };
//! let decision = judge_upper(Dbm::new(-17.0), Dbm::new(-16.0), &Spread::of(&budget), DecisionRule::GuardBand { factor: 1.0 });
//! assert_eq!(decision.verdict, Verdict::Complies);
//! ```

mod budget;
mod coherent;
mod compare;
mod decision;
mod density;
mod hertz;
mod modulation;
mod noise;
mod normal;
mod peak;
mod phasor;
mod relative;
mod risk;
mod spectrum;
mod spread;
mod steps;
mod student;

pub use budget::{
    Budget, COVERAGE, COVERAGE_PROBABILITY, Contribution, Coverage, CoverageMethod, Distribution,
};
pub use coherent::Coherent;
pub use compare::{
    Pooled, Random, Robust, Sample, Shift, Welch, chi_square_quantile, detectable, en, holm, pooled,
    power_of, range_divisor, robust, welch,
};
pub use decision::{Decision, DecisionRule, Verdict, agree, judge_bound, judge_upper, judge_window};
pub use density::Density;
pub use hertz::{HertzBudget, HertzCoverage, HertzDecision, HertzSpread, judge_hertz};
pub use modulation::{
    Depth, ModulatedLine, ToneFit, am_depth, carrier_null, index_near_null, line_level, power_rise,
    side_null, sideband_level, tone_for_null, tone_index,
};
pub use noise::{Corrected, RESOLVED_DB, Regime, correct, reading_error, regime};
pub use normal::{normal_cdf, normal_quantile};
pub use peak::{highest_of_noise, mean_peak, median_peak, peak_looks};
pub use relative::{share_of_power, share_of_voltage};
pub use risk::{GlobalRisk, Interval, Production, global_risk};
pub use spectrum::{
    Edges, LinePeak, MaskLevel, MaskLimit, MaskPlace, MaskWorst, Trace, adjacent_ratio, channel_power,
    emission_mask, level_within, line_peak, occupied, occupied_above, x_db,
};
pub use spread::Spread;
pub use steps::{LARGEST_RATIO, StepRange, StepReading, range_by_steps, remaining_error, solved_by_steps};
pub use student::{student_cdf, student_quantile};
