//! What a report says beside what was measured: for whom, by whom, where, and of what.

use jiff::civil::Date;
use serde::{Deserialize, Serialize};

/// What a plan states for the reports of its runs. Everything may be absent: nothing of it is measured.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Issue {
    /// The report's title.
    pub title: Option<String>,
    /// The laboratory's name.
    pub laboratory: Option<String>,
    /// The laboratory's address.
    pub address: Option<String>,
    /// Where the work was done, if elsewhere.
    pub place: Option<String>,
    /// For whom it was done.
    pub customer: Option<String>,
    /// How to reach them.
    pub contact: Option<String>,
    /// When the unit was received.
    pub received: Option<Date>,
    /// In which condition the unit was.
    pub condition: Option<String>,
    /// The version of the unit's hardware.
    pub hardware: Option<String>,
    /// What was connected to the unit.
    pub accessories: Option<String>,
    /// How the unit was chosen among others.
    pub sampling: Option<String>,
    /// Temperature, humidity and what else of the surroundings matters.
    pub environment: Option<String>,
    /// What was done otherwise than the method says, or left out.
    pub deviations: Option<String>,
    /// Which results were provided by somebody else.
    pub from_outside: Option<String>,
    /// Who authorises the report.
    pub authorised_by: Option<String>,
    /// Whatever else a reader should know.
    pub remarks: Option<String>,
}
