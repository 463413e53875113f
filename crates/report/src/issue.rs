//! What a report states beside its results: for whom it is, where and when the work was done, how, what was done otherwise,
//! and what the results do not say. One text for every form of the report.

use jiff::Timestamp;
use spurline_record::{Decision, Issue, Outcome, Quantity, RunState};

use crate::paragraph::counted;
use crate::view::{Particulars, RunView};
use crate::{figures, interlocks, timeline};

/// Stands for what nobody has stated.
pub(crate) const NOT_STATED: &str = "not stated";

/// What holds for every report.
pub(crate) const STATEMENTS: [&str; 4] = [
    "The results concern only the unit that is named here, in the states and on the dates that are named here.",
    "This report is not to be reproduced except in full, unless the laboratory has agreed to it in writing.",
    "No accreditation is claimed: nothing here stands for a mark of an accreditation body.",
    "Statements of conformity concern each reading that has a limit, by the decision rule that is named here.",
];

/// A name and what stands for it.
pub(crate) type Fact = (&'static str, String);

impl RunView<'_> {
    fn issue(&self) -> Issue {
        self.particulars.map(|particulars| particulars.issue.clone()).unwrap_or_default()
    }

    /// What the report is called.
    pub(crate) fn title(&self) -> String {
        self.issue().title.unwrap_or_else(|| self.header.plan.clone())
    }
}

fn stated(text: Option<String>) -> String {
    text.unwrap_or_else(|| NOT_STATED.to_owned())
}

pub(crate) fn date_and_time(at: Timestamp) -> String {
    at.strftime("%Y-%m-%d %H:%M:%S UTC").to_string()
}

/// Whose report it is, for whom, and of when.
pub(crate) fn about(run: &RunView<'_>) -> Vec<Fact> {
    let issue = run.issue();
    let issued = match (run.particulars.and_then(|particulars| particulars.issued), run.ended) {
        (Some(day), _) => day.to_string(),
        (None, Some(ended)) => format!("{NOT_STATED}; the record ends on {}", ended.strftime("%Y-%m-%d")),
        (None, None) => NOT_STATED.to_owned(),
    };
    let dates = match run.ended {
        Some(ended) => format!("{} to {}", date_and_time(run.header.started), date_and_time(ended)),
        None => format!("from {}", date_and_time(run.header.started)),
    };
    vec![
        ("Number of this report", run.header.id.to_string()),
        ("Laboratory", stated(issue.laboratory)),
        ("Its address", stated(issue.address)),
        ("Work done at", stated(issue.place)),
        ("Customer", stated(issue.customer)),
        ("Contact", stated(issue.contact)),
        ("Dates of the work", dates),
        ("Date of issue", issued),
        ("Authorised by", stated(issue.authorised_by)),
        ("Results from outside", stated(issue.from_outside)),
        ("Remarks", stated(issue.remarks)),
    ]
}

/// What was measured.
pub(crate) fn unit(run: &RunView<'_>) -> Vec<Fact> {
    let (issue, unit, layout) = (run.issue(), &run.header.unit, &run.header.layout);
    let known = |text: &str| if text.is_empty() { NOT_STATED.to_owned() } else { text.to_owned() };
    let supplies: Vec<String> = layout
        .supplies
        .iter()
        .map(|supply| format!("{}: set to {}, at most {}", supply.name, supply.set, supply.limit))
        .collect();
    let supplies = if supplies.is_empty() { "its own".to_owned() } else { supplies.join("; ") };
    vec![
        ("Maker", known(&unit.maker)),
        ("Model", known(&unit.model)),
        ("Serial number", known(&unit.serial)),
        ("Firmware", known(&unit.firmware)),
        ("Hardware", stated(issue.hardware)),
        ("Accessories", stated(issue.accessories)),
        ("Supply", supplies),
        ("Received", issue.received.map_or_else(|| NOT_STATED.to_owned(), |day| day.to_string())),
        ("Condition", stated(issue.condition)),
        ("Sampling", stated(issue.sampling)),
    ]
}

/// Temperature, humidity and the like.
pub(crate) fn environment(run: &RunView<'_>) -> String {
    stated(run.issue().environment)
}

/// What was done otherwise, left out, broken off or left open.
pub(crate) fn deviations(run: &RunView<'_>) -> Vec<String> {
    let header = run.header;
    let mut all = vec![format!("Stated by the plan: {}", stated(run.issue().deviations))];
    if run.state != RunState::Finished {
        all.push(format!("The run did not go to its end: {}.", run.state.word()));
    }
    // What stays open is among the notes as well, and said once here.
    let is_open = |note: &&String| header.reservations.contains(note);
    all.extend(header.notes.iter().filter(|note| !is_open(note)).cloned());
    all.extend(header.reservations.iter().map(|reservation| format!("Left open: {reservation}")));
    for (outcome, meaning) in [
        (Outcome::Undecided, "undecided: the evidence is not enough"),
        (Outcome::Invalid, "invalid: they say nothing"),
        (Outcome::NoLimit, "without a limit: nothing is said about their conformity"),
    ] {
        let count = run.count(outcome);
        if count > 0 {
            all.push(format!("{} {meaning}.", counted(count, "reading")));
        }
    }
    let set_aside = interlocks::last(run.events).into_iter().filter_map(|interlock| {
        let setting = interlock.set_aside.as_ref()?;
        Some(format!("The interlock {} is set aside by {setting}.", interlock.name.word()))
    });
    all.extend(set_aside);
    all.extend(timeline::faults(run.events).into_iter().map(figures::fault));
    all.extend(timeline::notes(run.events));
    all
}

/// How each kind of reading of this run was made, in short.
pub(crate) fn procedures(run: &RunView<'_>) -> Vec<(&'static str, &'static str)> {
    let there = |quantity: &&Quantity| run.readings.iter().any(|reading| reading.quantity == **quantity);
    Quantity::ALL.iter().filter(there).map(|quantity| (quantity.title(), procedure(*quantity))).collect()
}

const fn procedure(quantity: Quantity) -> &'static str {
    match quantity {
        Quantity::CarrierPower => {
            "Mean power while keyed, after the carrier was constant in zero span: by the power meter and the analyser, which \
             must agree, or by the analyser alone where there is no power meter."
        }
        Quantity::Harmonic => {
            "Swept around its frequency with the RMS detector, the powers of the sweeps averaged; what the noise adds is \
             taken off, and looks with more or less attenuation tell the analyser's own products from the line."
        }
        Quantity::Search => {
            "The range swept in pieces with the bandwidths of the rule, keyed and not keyed, the highest of several sweeps \
             kept; what stands out is looked at by itself."
        }
        Quantity::Spurious => "A line that the search found, read as a harmonic is.",
        Quantity::OccupiedBandwidth => {
            "The width that holds the stated share of the power of the averaged spectrum."
        }
        Quantity::XdbBandwidth => "The width at which the spectrum is so many decibels below its reference.",
        Quantity::EmissionMask => {
            "The spectrum against a limit that goes by the distance from the carrier; the worst place counts."
        }
        Quantity::AdjacentChannelPower => "Power within the adjacent channel, integrated over its width.",
        Quantity::ChannelPower => "Power within the channel, integrated over its width.",
        Quantity::FrequencyError => {
            "The carrier's frequency, counted or read from a narrow sweep, less the nominal one."
        }
        Quantity::Band => "The occupied emission's edges against those of the band.",
        Quantity::Deviation => "Peak deviation from the spectrum of a known tone.",
        Quantity::ModulationDepth => "Depth from the carrier and its side lines.",
        Quantity::Silence => "The emission at a frequency where the unit is told to transmit and must not.",
        Quantity::Standby => "The emission while the unit is on and not keyed.",
        Quantity::PowerOverTime => "The carrier's power along one key-down, in zero span.",
        Quantity::PowerOverSupply => "The carrier's power at each voltage of the supply.",
    }
}

/// With which risk the decision rule decides, in words.
pub(crate) fn risk(run: &RunView<'_>) -> String {
    let decided =
        run.readings.iter().filter(|reading| matches!(reading.outcome, Outcome::Complies | Outcome::Exceeds));
    let of = format!("{} decided by it", counted(decided.count(), "reading"));
    match (run.header.decision, run.header.guard_factor) {
        (Decision::GuardBand, 1.0) => format!(
            "{of}; with a guard band of U a level that is just called complying lies above its limit with a chance of at most \
             2.5 %, and the same the other way"
        ),
        (Decision::GuardBand, factor) => format!(
            "{of}; the guard band is {factor} U, so that the chance of a wrong decision at its edge is another one than the \
             2.5 % of a band of U"
        ),
        (Decision::Simple, _) => {
            format!(
                "{of}; a level at its limit is decided wrongly with a chance of up to 50 %: U is not kept clear of it"
            )
        }
    }
}

/// How what is said here can be found again and checked.
pub(crate) fn traces(run: &RunView<'_>) -> Vec<Fact> {
    let header = run.header;
    let head = run.particulars.and_then(|particulars| particulars.head.clone());
    vec![
        ("Record", format!("run {}", header.id)),
        (
            "Head of its chain",
            head.unwrap_or_else(|| "none: nothing shows whether it was altered".to_owned()),
        ),
        ("Raw data", raw_data(run)),
        ("Software", header.software.clone()),
        ("To check it", format!("spurline verify {0}; spurline show {0} --reading NUMBER", header.id)),
    ]
}

fn raw_data(run: &RunView<'_>) -> String {
    let looks: usize = run.readings.iter().map(|reading| reading.acquisitions.len()).sum();
    let meter: usize = run.readings.iter().map(|reading| reading.meter.len()).sum();
    format!(
        "readings 1 to {} of run {}, with {} with the analyser and {} of the power meter; every sweep and every message on \
         the links is in the record, under the number of its reading and of its look",
        run.readings.iter().map(|reading| reading.ordinal).max().unwrap_or(0),
        run.header.id,
        counted(looks, "look"),
        counted(meter, "reading"),
    )
}

/// The digest of a file of the run, if it was worked out.
pub(crate) fn digest(particulars: Option<&Particulars>, place: usize) -> &str {
    particulars
        .and_then(|particulars| particulars.digests.get(place))
        .map_or("not worked out", String::as_str)
}
