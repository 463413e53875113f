//! Events into rows.

use std::num::TryFromIntError;

use rusqlite::types::Value;
use rusqlite::{Transaction, params, params_from_iter};
use spurline_record::{
    Acquisition, Event, EventKind, InstrumentUsed, Outcome, Reading, RunHeader, RunId, RunState, Sweep,
};
use spurline_units::Dbm;

use crate::column::{get_json, json, stamp, word};
use crate::{chain, codec, figures};

/// The name of a kind of event, as its column and its serde name have it.
pub(crate) const fn name(kind: &EventKind) -> &'static str {
    match kind {
        EventKind::RunStarted(_) => "run-started",
        EventKind::InstrumentFound(_) => "instrument-found",
        EventKind::ScopeStarted { .. } => "scope-started",
        EventKind::Doing(_) => "doing",
        EventKind::Interlocks(_) => "interlocks",
        EventKind::KeyDown { .. } => "key-down",
        EventKind::KeyUp { .. } => "key-up",
        EventKind::ReadingFinished(_) => "reading-finished",
        EventKind::PartFinished(_) => "part-finished",
        EventKind::Resumed(_) => "resumed",
        EventKind::Prompt(_) => "prompt",
        EventKind::Note(_) => "note",
        EventKind::Failed(_) => "failed",
        EventKind::RunEnded { .. } => "run-ended",
    }
}

/// Writes an event and everything that comes with it.
pub(crate) fn event(into: &Transaction<'_>, run: &RunId, event: &Event) -> rusqlite::Result<()> {
    let mut ordinal = None;
    let mut detail = None;
    match &event.kind {
        EventKind::RunStarted(header) => start(into, header)?,
        EventKind::ReadingFinished(finished) => {
            reading(into, run, finished)?;
            ordinal = Some(finished.ordinal);
        }
        other => {
            match other {
                EventKind::InstrumentFound(used) => instrument(into, run, event.sequence, used)?,
                EventKind::RunEnded { state, outcome } => end(into, run, event, *state, *outcome)?,
                EventKind::Resumed(_) => go_on(into, run)?,
                _ => {}
            }
            detail = Some(json(other)?);
        }
    }
    into.prepare_cached(
        "INSERT INTO event (run, sequence, at, kind, reading, detail) VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
    )?
    .execute(params![
        run.as_str(),
        integer(event.sequence)?,
        stamp(event.at),
        name(&event.kind),
        ordinal,
        detail
    ])?;
    chain::add_event(into, run, integer(event.sequence)?)
}

/// A count as SQLite keeps it.
fn integer<N>(number: N) -> rusqlite::Result<i64>
where
    i64: TryFrom<N, Error = TryFromIntError>,
{
    i64::try_from(number).map_err(|e| rusqlite::Error::ToSqlConversionFailure(Box::new(e)))
}

fn start(into: &Transaction<'_>, header: &RunHeader) -> rusqlite::Result<()> {
    let without_texts = RunHeader { texts: Vec::new(), ..header.clone() };
    into.prepare_cached(
        "INSERT INTO run (id, plan, bench, unit_maker, unit_model, unit_serial, unit_firmware, rule, decision,
                          started, state, software, simulated_seed, header)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14)",
    )?
    .execute(params![
        header.id.as_str(),
        header.plan,
        header.bench,
        header.unit.maker,
        header.unit.model,
        header.unit.serial,
        header.unit.firmware,
        header.rule,
        word(header.decision),
        stamp(header.started),
        word(RunState::Running),
        header.software,
        header.simulated.map(|seed| seed.to_string()),
        json(&without_texts)?,
    ])?;
    chain::begin(into, &header.id)?;
    let mut text =
        into.prepare_cached("INSERT INTO text (run, ordinal, role, name, text) VALUES (?1, ?2, ?3, ?4, ?5)")?;
    for (ordinal, source) in (1u32..).zip(&header.texts) {
        text.execute(params![header.id.as_str(), ordinal, word(source.role), source.name, source.text])?;
    }
    Ok(())
}

fn instrument(
    into: &Transaction<'_>,
    run: &RunId,
    number: u64,
    used: &InstrumentUsed,
) -> rusqlite::Result<()> {
    let header: RunHeader = into
        .prepare_cached("SELECT header FROM run WHERE id = ?1")?
        .query_row([run.as_str()], |row| get_json(row, 0))?;
    let stated = header.layout.calibrations.iter().find(|stated| stated.role == Some(used.role));
    let day = |day: Option<jiff::civil::Date>| day.map(|day| day.to_string());
    into.prepare_cached(
        "INSERT INTO instrument (run, sequence, role, address, profile, maker, model, serial, firmware, calibrated,
                                 due, certificate)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12)",
    )?
    .execute(params![
        run.as_str(),
        integer(number)?,
        word(used.role),
        used.address,
        used.profile,
        used.identity.maker,
        used.identity.model,
        used.identity.serial,
        used.identity.firmware,
        stated.and_then(|stated| day(stated.calibrated)),
        stated.and_then(|stated| day(stated.due)),
        stated.and_then(|stated| stated.certificate.as_deref()),
    ])?;
    Ok(())
}

fn end(
    into: &Transaction<'_>,
    run: &RunId,
    event: &Event,
    state: RunState,
    outcome: Option<Outcome>,
) -> rusqlite::Result<()> {
    into.prepare_cached("UPDATE run SET ended = ?2, state = ?3, outcome = ?4 WHERE id = ?1")?
        .execute(params![run.as_str(), stamp(event.at), word(state), outcome.map(word)])?;
    Ok(())
}

/// What a run had come to counts no more once it goes on.
fn go_on(into: &Transaction<'_>, run: &RunId) -> rusqlite::Result<()> {
    into.prepare_cached("UPDATE run SET ended = NULL, state = ?2, outcome = NULL WHERE id = ?1")?
        .execute(params![run.as_str(), word(RunState::Running)])?;
    Ok(())
}

fn reading(into: &Transaction<'_>, run: &RunId, reading: &Reading) -> rusqlite::Result<()> {
    let others = ["run", "ordinal", "path", "harmonic_order", "at", "detail"];
    let own: [Value; 6] = [
        run.as_str().to_owned().into(),
        reading.ordinal.into(),
        reading.scope.path.clone().into(),
        reading.order.into(),
        stamp(reading.at).into(),
        figures::detail(reading)?.into(),
    ];
    into.prepare_cached(&figures::insertion("reading", &others))?
        .execute(params_from_iter(own.into_iter().chain(figures::values(reading))))?;
    for (ordinal, look) in (1u32..).zip(&reading.acquisitions) {
        acquisition(into, run, reading.ordinal, ordinal, look)?;
        for (number, one) in (1u32..).zip(&look.sweeps) {
            sweep(into, run, [reading.ordinal, ordinal, number], one)?;
        }
    }
    into.prepare_cached("UPDATE run SET readings = readings + 1 WHERE id = ?1")?.execute([run.as_str()])?;
    Ok(())
}

fn acquisition(
    into: &Transaction<'_>,
    run: &RunId,
    reading: u32,
    ordinal: u32,
    look: &Acquisition,
) -> rusqlite::Result<()> {
    let settings = &look.settings;
    into.prepare_cached(
        "INSERT INTO acquisition (run, reading, ordinal, purpose, keyed, at, centre_hz, span_hz, rbw_hz, vbw_hz,
                                  points, sweep_time_s, detector, attenuation_db, preamplifier,
                                  reference_level_dbm, overload, uncalibrated, marker_hz, marker_dbm, sweeps)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15, ?16, ?17, ?18, ?19, ?20, ?21)",
    )?
    .execute(params![
        run.as_str(),
        reading,
        ordinal,
        look.purpose,
        look.keyed,
        stamp(look.at),
        settings.centre.get(),
        settings.span.get(),
        settings.rbw.get(),
        settings.vbw.get(),
        settings.points,
        settings.sweep_time.get(),
        word(settings.detector),
        settings.attenuation.get(),
        word(settings.preamplifier),
        settings.reference_level.get(),
        look.flags.overload,
        look.flags.uncalibrated,
        look.marker.map(|(frequency, _)| frequency.get()),
        look.marker.map(|(_, level): (_, Dbm)| level.get()),
        integer(look.sweeps.len())?,
    ])?;
    Ok(())
}

fn sweep(into: &Transaction<'_>, run: &RunId, place: [u32; 3], sweep: &Sweep) -> rusqlite::Result<()> {
    let (codec, data) = codec::encode(&sweep.levels);
    let [reading, acquisition, ordinal] = place;
    into.prepare_cached(
        "INSERT INTO sweep (run, reading, acquisition, ordinal, n, codec, data, hash)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)",
    )?
    .execute(params![
        run.as_str(),
        reading,
        acquisition,
        ordinal,
        integer(sweep.levels.len())?,
        codec as i64,
        data,
        chain::of_levels(&sweep.levels)
    ])?;
    Ok(())
}
