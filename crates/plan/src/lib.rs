//! Plan and bench files: model, validation, schedule, power budget.
//!
//! [`Job::load`] reads a plan with everything it names — bench, rule, profiles, tables of the path — and reports
//! every mistake of all of them at once. [`Forecast`] says what can be known without an instrument: limits,
//! levels at every part, floors, key-down times, and which readings this bench cannot decide.
//!
//! This room opens no files itself: a [`Library`] hands it their texts. Of links it knows how
//! their addresses are written.

mod again;
mod approach;
mod authorised;
mod band;
mod bench;
mod budget;
mod calibrations;
mod fit;
mod fit_stages;
mod forecast;
mod glimpse;
mod job;
mod key_line;
mod keying;
mod layout;
mod library;
mod measure;
mod mixer;
mod model;
mod never_keyed;
mod overload;
mod packing;
mod proving;
mod read_bench;
mod read_plan;
mod reservations;
mod rules;
mod search;
mod settings;
mod spectrum;
mod states;
mod substitution;
mod telltale;
mod tolerance;
mod verification;
mod way;

pub use approach::Approach;
pub use band::AskedBand;
pub use bench::{AnalyserInput, Bench, GeneratorUse, InstrumentAt};
pub use budget::{analyser_budget, difference_budget, frequency_budget, meter_budget, ratio_budget, stated};
pub use forecast::{
    Allowance, FactForecast, Forecast, KeyDownForecast, PartLoad, Prospect, ReadingForecast, ScopeForecast,
    SetUpForecast, Slot, SpectrumForecast, StageDown, StageForecast, Task, abandoned_key,
};
pub use glimpse::GLIMPSE_LONGEST;
pub use job::{Job, LoadError};
pub use key_line::{
    Abandoned, BenchKey, CommandKeyLine, KeyMethod, RelayKeyLine, SerialKeyLine, SupplyKeyLine,
};
pub use keying::{DUTY_WINDOW, Heating, Keying, MOST_RISE, Warm, Warmed, derated, risen};
pub use library::{Library, NotFound, Text};
pub use measure::{
    AdjacentAsked, BandAsked, Ceiling, DRAWN_TIME, MODULATION_AGREES, MaskAsked, ModulationFact,
    ModulationMeasure, OccupiedAsked, OverTime, Search, SeriesPoint, SetUp, SetUpAim, Silence,
    SilenceApproach, Spectrum, Standby, StandbyApproach, SupplySeries, TableAsked, Tolerance, XdbAsked,
};
pub use mixer::intercepts;
pub use model::{
    Channel, ExpiredCalibration, Extent, Key, Measure, Modulation, OutsideWindow, Plan, PowerSetting,
    REST_FACTOR, SupplySetting, Unit, WayNames,
};
pub use never_keyed::never_keyed;
pub use overload::Overload;
pub use packing::packed;
pub use proving::{Beside, PlannedLine, Proving, ProvingError};
pub use read_plan::issue_of;
pub use rules::RuleUse;
pub use search::{AfterSweeps, MOST_LINES, Piece, SearchLayout, Segment, TIMES, found_within};
pub use settings::{
    CARRIER_CHANGE_DB, CARRIER_ERROR, CROSS_CHECK_FACTOR, Hindrance, LineTask, Look, MOST_SET_UP_LOOKS,
    SETTLE, SWITCH_SETTLE, TONE_SETTLE, carrier_look, first_look, lines_of, nearer_looks, next_look,
    noise_at_input, overview_looks, own_product_at_input, peak_height, reach, set_up_looks,
    substitution_look, suited, tone_look, wide_looks, width_look, zero_span_look,
};
pub use spectrum::{
    AskedReading, OwnNoise, Side, SpectrumTask, frequency_figures, own_noise, width_figures, width_of_a_line,
};
pub use states::State;
pub use substitution::{Stretch, Substitution, SubstitutionError, SubstitutionPoint, USUAL_POINTS, Wanted};
pub use tolerance::AskedTolerance;
pub use way::{Branch, Place, SwitchSet, Way};
