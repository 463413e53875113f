//! The run of the tests with one text wherever a file or an instrument may put words.

use spurline_record::{
    Derivation, Event, EventKind, Fault, Identity, Interlock, InterlockName, Reading, RunId, Scope,
};
use spurline_units::Seconds;

use super::{Specimen, at, run};

/// The same run with `text` in every place where a file or an instrument may put words.
pub fn saying(text: &str) -> Specimen {
    let mut run = run();
    let say = |place: &mut String| text.clone_into(place);
    let header = &mut run.header;
    header.id = RunId::from_record(text.to_owned());
    for place in [
        &mut header.plan,
        &mut header.bench,
        &mut header.rule,
        &mut header.rule_source,
        &mut header.rule_status,
        &mut header.software,
    ] {
        say(place);
    }
    header.notes.iter_mut().for_each(say);
    header.texts.iter_mut().for_each(|file| say(&mut file.name));
    name(&mut header.unit, text);
    header.layout.supplies.iter_mut().for_each(|supply| say(&mut supply.name));
    header.layout.common.iter_mut().for_each(|part| say(&mut part.name));
    for way in &mut header.layout.ways {
        say(&mut way.name);
        way.parts.iter_mut().for_each(|part| say(&mut part.name));
        way.set.iter_mut().for_each(|switch| {
            say(&mut switch.name);
            say(&mut switch.position);
        });
    }
    for used in &mut run.instruments {
        say(&mut used.address);
        say(&mut used.profile);
        name(&mut used.identity, text);
    }
    run.readings.iter_mut().for_each(|reading| say_in_reading(reading, text));
    let said = || text.to_owned();
    let fault =
        Fault { instrument: None, message: said(), causes: vec![said(), said()], advice: Some(said()) };
    let kinds = [
        EventKind::InstrumentFound(run.instruments[0].clone()),
        EventKind::ScopeStarted { scope: run.readings[0].scope.clone(), readings: 1 },
        EventKind::Doing(said()),
        EventKind::Interlocks(vec![Interlock::set_aside(InterlockName::PathProven, said(), said())]),
        EventKind::Note(said()),
        EventKind::Failed(fault),
        EventKind::KeyDown { lease: Seconds::new(20.0) },
    ];
    run.events = (1u64..).zip(kinds).map(|(n, kind)| Event { sequence: n, at: at(n as i64), kind }).collect();
    run
}

fn name(identity: &mut Identity, text: &str) {
    for place in [&mut identity.maker, &mut identity.model, &mut identity.serial, &mut identity.firmware] {
        text.clone_into(place);
    }
}

fn say_in_reading(reading: &mut Reading, text: &str) {
    let said = || text.to_owned();
    let second = reading.scope.supply.is_none();
    reading.scope = Scope {
        channel: said(),
        power_setting: said(),
        supply: (!second).then(said),
        path: said(),
        ..reading.scope.clone()
    };
    reading.derivation = Derivation { source: said(), steps: vec![said(), said()] };
    if let Some(reason) = &mut reading.reason {
        reason.text = said();
    }
    for line in reading.budget.iter_mut().flat_map(|budget| &mut budget.lines) {
        (line.name, line.distribution, line.source) = (said(), said(), said());
    }
    for (part, _) in reading.correction.iter_mut().flat_map(|correction| &mut correction.path) {
        *part = said();
    }
    reading.acquisitions.iter_mut().for_each(|look| look.purpose = said());
}

/// What nobody should say.
pub fn hostile() -> String {
    let breaks_out = "</style></title><script>alert(1)</script>\" onload=\"x' {{ run }} &lt;&#60; ]]> -->";
    format!("{breaks_out}\u{1b}]0;x\u{7}\u{0}\u{9b}\u{202e}\r\n\t{}", "W".repeat(300))
}
