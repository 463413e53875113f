//! The readings of a page, by the state of unit and bench that they belong to.

use spurline_record::{Acquisition, Detector, Limit, Preamplifier, Reading, Scope};

use crate::plot::{self, Width};
use crate::{figures, trace};

/// The readings of one channel, power setting, supply and path.
pub(crate) struct Group<'a> {
    pub(crate) scope: &'a Scope,
    pub(crate) wide: Option<String>,
    pub(crate) narrow: Option<String>,
    pub(crate) rows: Vec<Row<'a>>,
}

/// One reading, with what the page says about it.
pub(crate) struct Row<'a> {
    pub(crate) reading: &'a Reading,
    pub(crate) title: String,
    pub(crate) figure: String,
    pub(crate) limit: String,
    pub(crate) below_carrier: Option<String>,
    pub(crate) margin: String,
    pub(crate) expanded: String,
    pub(crate) sign: &'static str,
    pub(crate) class: &'static str,
    pub(crate) looks: Vec<Look<'a>>,
}

/// One look with the analyser.
pub(crate) struct Look<'a> {
    pub(crate) acquisition: &'a Acquisition,
    pub(crate) detector: &'static str,
    pub(crate) preamplifier: &'static str,
    pub(crate) flags: Vec<&'static str>,
    pub(crate) plot: Option<String>,
}

/// Groups the readings in the order in which their scopes first come.
pub(crate) fn groups(readings: &[Reading]) -> Vec<Group<'_>> {
    let mut groups: Vec<(&Scope, Vec<&Reading>)> = Vec::new();
    for reading in readings {
        match groups.iter_mut().find(|(scope, _)| **scope == reading.scope) {
            Some((_, members)) => members.push(reading),
            None => groups.push((&reading.scope, vec![reading])),
        }
    }
    groups
        .into_iter()
        .map(|(scope, members)| Group {
            scope,
            wide: plot::harmonics(&members, Width::Wide),
            narrow: plot::harmonics(&members, Width::Narrow),
            rows: members.into_iter().map(row).collect(),
        })
        .collect()
}

fn row(reading: &Reading) -> Row<'_> {
    let dash = || "–".to_owned();
    let below_carrier = match reading.limit {
        Some(Limit::Upper { below_carrier, .. }) => Some(below_carrier.to_string()),
        Some(Limit::Window { .. } | Limit::Several(_)) | None => None,
    };
    Row {
        reading,
        title: figures::title(reading),
        figure: figures::figure(reading.figure.as_ref()),
        limit: figures::limit(reading.limit.as_ref()),
        below_carrier,
        margin: reading.margin.map_or_else(dash, |margin| figures::signed(margin.get())),
        expanded: reading
            .budget
            .as_ref()
            .map_or_else(dash, |budget| format!("{:.2} dB", budget.expanded.get())),
        sign: figures::sign(reading.outcome),
        class: figures::class(reading.outcome),
        looks: reading.acquisitions.iter().map(look).collect(),
    }
}

fn look(acquisition: &Acquisition) -> Look<'_> {
    let flags = [(acquisition.flags.overload, "overload"), (acquisition.flags.uncalibrated, "uncalibrated")];
    Look {
        acquisition,
        detector: match acquisition.settings.detector {
            Detector::Peak => "peak",
            Detector::Rms => "RMS",
            Detector::Sample => "sample",
        },
        preamplifier: match acquisition.settings.preamplifier {
            Preamplifier::Off => "off",
            Preamplifier::On => "on",
        },
        flags: flags.into_iter().filter_map(|(set, word)| set.then_some(word)).collect(),
        plot: trace::trace(acquisition),
    }
}
