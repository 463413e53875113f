//! Everything about one reading that someone needs to check it.

use spurline_record::{Limit, Quantity, Reading, RunHeader};

use super::budget::BudgetTable;
use super::group::Row;
use super::look::Look;
use crate::arithmetic::decision::{self, Judged};
use crate::arithmetic::sum::Sum;
use crate::drawing::{self, Drawing, Width};

/// A drawing for wide and for narrow pages.
pub(crate) struct Drawn {
    pub(crate) wide: Drawing,
    pub(crate) narrow: Drawing,
}

impl Drawn {
    fn by(draw: impl Fn(Width) -> Option<Drawing>) -> Option<Self> {
        Some(Self { wide: draw(Width::Wide)?, narrow: draw(Width::Narrow)? })
    }
}

/// One reading with all that is behind it.
pub(crate) struct Detail<'a> {
    pub(crate) row: Row<'a>,
    pub(crate) limit_below_carrier: Option<String>,
    /// The level relative to the carrier of the same scope.
    pub(crate) below_carrier: Option<String>,
    pub(crate) sum: Option<Sum>,
    pub(crate) judged: Vec<Judged>,
    pub(crate) budget: Option<BudgetTable<'a>>,
    /// The whole searched spectrum.
    pub(crate) spectrum: Option<Drawn>,
    /// Its figures against time or supply voltage.
    pub(crate) course: Option<Drawn>,
    pub(crate) looks: Vec<Look<'a>>,
}

impl<'a> Detail<'a> {
    /// The detail of a reading among the readings of its scope.
    pub(crate) fn of(reading: &'a Reading, scope: &[&'a Reading], header: &RunHeader) -> Self {
        let limit_below_carrier = match reading.limit {
            Some(Limit::Upper { below_carrier, .. }) => below_carrier.map(|below| below.to_string()),
            Some(Limit::Window { .. } | Limit::Between { .. } | Limit::Several(_)) | None => None,
        };
        Self {
            row: Row::of(reading),
            limit_below_carrier,
            below_carrier: below_carrier(reading, scope),
            sum: Sum::of(reading),
            judged: decision::judged(reading, header),
            budget: reading.budget.as_ref().map(BudgetTable::of),
            spectrum: Drawn::by(|width| drawing::spectrum(reading, scope, width)),
            course: Drawn::by(|width| drawing::course(reading, width)),
            looks: looks(reading),
        }
    }
}

/// The looks of a reading; the sweeps of a search are one drawing together.
fn looks(reading: &Reading) -> Vec<Look<'_>> {
    if reading.quantity == Quantity::Search {
        return Vec::new();
    }
    reading.acquisitions.iter().map(|look| Look::of(look, reading)).collect()
}

fn below_carrier(reading: &Reading, scope: &[&Reading]) -> Option<String> {
    // That of the same key-down, where each had one of its own.
    let before = scope.iter().take_while(|other| other.ordinal < reading.ordinal);
    let carrier = before.filter(|other| other.quantity == Quantity::CarrierPower).last()?;
    let (level, of_carrier) = (reading.figure?.level?, carrier.figure?.level?);
    (reading.quantity == Quantity::Harmonic).then(|| {
        let at_least = if reading.figure.is_some_and(|figure| figure.bound) { "at least " } else { "" };
        format!("{at_least}{} below the carrier of reading {}", of_carrier - level, carrier.ordinal)
    })
}
