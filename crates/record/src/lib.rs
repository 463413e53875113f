//! The types of a run: what was asked, what was read, how it was proven and judged, and what happened.
//!
//! Types only: hardly any arithmetic, no files, no instruments. Everything here is plain data that the sequencer makes,
//! the store keeps and the report shows. Levels are at the transmitter's connector unless a name says otherwise.

mod acquisition;
mod budget;
mod day;
mod event;
mod interlock;
mod issue;
mod layout;
mod outcome;
mod part;
mod proving;
mod quantity;
mod reading;
mod run;
mod series;
mod verdict;

pub use acquisition::{
    Acquisition, AnalyserSettings, Detector, MeterReading, Preamplifier, Sweep, SweepFlags,
};
pub use budget::{Budget, BudgetLine, CoverageMethod};
pub use day::{
    DayEntry, DayEvent, DayLine, Drift, Label, VisitOutcome, VisitResult, alike, same_call, same_tag,
};
pub use event::{Event, EventKind, Fault, Resumption};
pub use interlock::{Interlock, InterlockName};
pub use issue::Issue;
pub use layout::{LaidCalibration, LaidKey, LaidPart, LaidSupply, LaidSwitch, LaidWay, Layout};
pub use outcome::{Outcome, Reason, ReasonCode};
pub use part::Part;
pub use proving::{BenchProof, KnownLine, ProofOutcome};
pub use quantity::{Quantity, Unit};
pub use reading::{
    Correction, CrossCheck, Derivation, Figure, Floor, Limit, Margin, Proof, Reading, Scope, Step,
};
pub use run::{
    Decision, Identity, InstrumentUsed, NotedCarrier, Role, RunHeader, RunId, RunState, SourceText, TextRole,
};
pub use series::{Column, Series};
pub use verdict::{JudgedFrom, Replaced, Verdict, VerdictReading};
