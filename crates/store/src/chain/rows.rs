//! What of a run belongs to one link: the queries, and the digests over what they give.

use rusqlite::{Connection, Params, params};
use spurline_record::RunId;

use super::{Fields, Hash};

/// A table, what of it is hashed, and which rows.
pub(crate) struct Part {
    pub(crate) table: &'static str,
    pub(crate) columns: &'static str,
    which: &'static str,
}

pub(crate) const EVENT: Part = Part {
    table: "event",
    columns: "run, sequence, at, kind, reading, detail",
    which: "WHERE run = ?1 AND sequence = ?2",
};

/// What of a run is known when it begins: how it ended is told by the event of its end.
pub(crate) const RUN: Part = Part {
    table: "run",
    columns: "id, plan, bench, unit_maker, unit_model, unit_serial, unit_firmware, rule, decision, started, software, \
              simulated_seed, header",
    which: "WHERE id = ?1",
};

pub(crate) const TEXT: Part = Part {
    table: "text",
    columns: "run, ordinal, role, name, text",
    which: "WHERE run = ?1 ORDER BY ordinal",
};

pub(crate) const INSTRUMENT: Part = Part {
    table: "instrument",
    columns: "run, sequence, role, address, profile, maker, model, serial, firmware, calibrated, due, certificate",
    which: "WHERE run = ?1 AND sequence = ?2",
};

pub(crate) const READING: Part = Part {
    table: "reading",
    columns: "run, ordinal, quantity, channel, power_setting, supply, path, harmonic_order, frequency_hz, value, unit, \
              level_dbm, bound, limit_dbm, limit_low, limit_high, margin_db, expanded_uncertainty_db, outcome, \
              reason_code, reason, at, detail",
    which: "WHERE run = ?1 AND ordinal = ?2",
};

pub(crate) const ACQUISITION: Part = Part {
    table: "acquisition",
    columns: "run, reading, ordinal, purpose, keyed, at, centre_hz, span_hz, rbw_hz, vbw_hz, points, sweep_time_s, \
              detector, attenuation_db, preamplifier, reference_level_dbm, overload, uncalibrated, marker_hz, \
              marker_dbm, sweeps",
    which: "WHERE run = ?1 AND reading = ?2 ORDER BY ordinal",
};

pub(crate) const SWEEP: Part = Part {
    table: "sweep",
    columns: "run, reading, acquisition, ordinal, n, hash",
    which: "WHERE run = ?1 AND reading = ?2 ORDER BY acquisition, ordinal",
};

pub(crate) const BATCH: Part =
    Part { table: "transcript_batch", columns: "run, entries, size, hash", which: "WHERE ordinal = ?1" };

impl Part {
    fn hash(&self, from: &Connection, which: impl Params, into: &mut Fields) -> rusqlite::Result<()> {
        let query = format!("SELECT {} FROM {} {}", self.columns, self.table, self.which);
        let mut statement = from.prepare_cached(&query)?;
        let mut rows = statement.query(which)?;
        while let Some(row) = rows.next()? {
            into.row(self.table, row)?;
        }
        Ok(())
    }
}

/// The digest of an event and of all that came with it, as they are kept.
pub(crate) fn event(from: &Connection, run: &RunId, sequence: i64) -> rusqlite::Result<Hash> {
    let run = run.as_str();
    let mut fields = Fields::new("spurline event 1");
    EVENT.hash(from, params![run, sequence], &mut fields)?;
    let (kind, reading): (String, Option<i64>) = from
        .prepare_cached("SELECT kind, reading FROM event WHERE run = ?1 AND sequence = ?2")?
        .query_row(params![run, sequence], |row| Ok((row.get(0)?, row.get(1)?)))?;
    if kind == "run-started" {
        RUN.hash(from, [run], &mut fields)?;
        TEXT.hash(from, [run], &mut fields)?;
    }
    INSTRUMENT.hash(from, params![run, sequence], &mut fields)?;
    if let Some(reading) = reading {
        READING.hash(from, params![run, reading], &mut fields)?;
        ACQUISITION.hash(from, params![run, reading], &mut fields)?;
        SWEEP.hash(from, params![run, reading], &mut fields)?;
    }
    Ok(fields.hash())
}

/// The digest of a batch of the transcript, as it is kept.
pub(crate) fn batch(from: &Connection, ordinal: i64) -> rusqlite::Result<Hash> {
    let mut fields = Fields::new("spurline transcript 1");
    BATCH.hash(from, [ordinal], &mut fields)?;
    Ok(fields.hash())
}
