CREATE TABLE run (
    id              TEXT PRIMARY KEY NOT NULL,
    plan            TEXT NOT NULL,
    bench           TEXT NOT NULL,
    unit_maker      TEXT NOT NULL,
    unit_model      TEXT NOT NULL,
    unit_serial     TEXT NOT NULL,
    unit_firmware   TEXT NOT NULL,
    rule            TEXT NOT NULL,
    decision        TEXT NOT NULL,
    started         TEXT NOT NULL,
    ended           TEXT,
    state           TEXT NOT NULL CHECK (state IN ('running', 'finished', 'failed', 'interrupted')),
    outcome         TEXT CHECK (outcome IN ('no limit', 'complies', 'undecided', 'invalid', 'exceeds')),
    software        TEXT NOT NULL,
    simulated_seed  TEXT,             -- decimal: the seed has 64 bits, an SQLite integer only 63 and a sign
    header          TEXT NOT NULL     -- JSON, without the texts
) STRICT;
CREATE INDEX run_started ON run (started);

-- The files of a run, whole, as they were when it began.
CREATE TABLE text (
    run      TEXT NOT NULL REFERENCES run,
    ordinal  INTEGER NOT NULL,
    role     TEXT NOT NULL,
    name     TEXT NOT NULL,
    text     TEXT NOT NULL,
    PRIMARY KEY (run, ordinal)
) STRICT;

CREATE TABLE instrument (
    run       TEXT NOT NULL REFERENCES run,
    sequence  INTEGER NOT NULL,       -- of the event that found it
    role      TEXT NOT NULL,
    address   TEXT NOT NULL,
    profile   TEXT NOT NULL,
    maker     TEXT NOT NULL,
    model     TEXT NOT NULL,
    serial    TEXT NOT NULL,
    firmware  TEXT NOT NULL,
    PRIMARY KEY (run, sequence)
) STRICT;

CREATE TABLE reading (
    run                      TEXT NOT NULL REFERENCES run,
    ordinal                  INTEGER NOT NULL,
    quantity                 TEXT NOT NULL,
    channel                  TEXT NOT NULL,
    power_setting            TEXT NOT NULL,
    supply                   TEXT,
    path                     TEXT NOT NULL,
    harmonic_order           INTEGER,
    frequency_hz             REAL NOT NULL,
    value                    REAL,
    unit                     TEXT,
    level_dbm                REAL,
    bound                    INTEGER CHECK (bound IN (0, 1)),
    limit_dbm                REAL,
    limit_low                REAL,
    limit_high               REAL,
    margin_db                REAL,
    expanded_uncertainty_db  REAL,
    outcome                  TEXT NOT NULL
        CHECK (outcome IN ('no limit', 'complies', 'undecided', 'invalid', 'exceeds')),
    reason_code              TEXT,
    reason                   TEXT,
    at                       TEXT NOT NULL,
    detail                   TEXT NOT NULL,    -- JSON, without the sweeps
    PRIMARY KEY (run, ordinal)
) STRICT;

CREATE TABLE acquisition (
    run                  TEXT NOT NULL,
    reading              INTEGER NOT NULL,
    ordinal              INTEGER NOT NULL,
    purpose              TEXT NOT NULL,
    keyed                INTEGER NOT NULL CHECK (keyed IN (0, 1)),
    at                   TEXT NOT NULL,
    centre_hz            REAL NOT NULL,
    span_hz              REAL NOT NULL,
    rbw_hz               REAL NOT NULL,
    vbw_hz               REAL NOT NULL,
    points               INTEGER NOT NULL,
    sweep_time_s         REAL NOT NULL,
    detector             TEXT NOT NULL,
    attenuation_db       REAL NOT NULL,
    preamplifier         TEXT NOT NULL,
    reference_level_dbm  REAL NOT NULL,        -- at the analyser's input
    overload             INTEGER NOT NULL CHECK (overload IN (0, 1)),
    uncalibrated         INTEGER NOT NULL CHECK (uncalibrated IN (0, 1)),
    marker_hz            REAL,
    marker_dbm           REAL,                 -- at the analyser's input
    sweeps               INTEGER NOT NULL,
    PRIMARY KEY (run, reading, ordinal),
    FOREIGN KEY (run, reading) REFERENCES reading (run, ordinal)
) STRICT;

CREATE TABLE sweep (
    run          TEXT NOT NULL,
    reading      INTEGER NOT NULL,
    acquisition  INTEGER NOT NULL,
    ordinal      INTEGER NOT NULL,
    n            INTEGER NOT NULL,
    codec        INTEGER NOT NULL,             -- 0: f32 little endian; 1: pco
    data         BLOB NOT NULL,                -- dBm at the analyser's input
    PRIMARY KEY (run, reading, acquisition, ordinal),
    FOREIGN KEY (run, reading, acquisition) REFERENCES acquisition (run, reading, ordinal)
) STRICT;

CREATE TABLE event (
    run       TEXT NOT NULL REFERENCES run,
    sequence  INTEGER NOT NULL,
    at        TEXT NOT NULL,
    kind      TEXT NOT NULL,
    reading   INTEGER,                         -- of a finished reading
    detail    TEXT,                            -- JSON; empty where the run or the reading has it
    PRIMARY KEY (run, sequence),
    FOREIGN KEY (run, reading) REFERENCES reading (run, ordinal)
) STRICT;

-- How long the unit was keyed each time; an open key has neither end nor length.
CREATE VIEW key AS
SELECT down.run AS run, down.at AS down_at, up.at AS up_at,
       json_extract(down.detail, '$."key-down".lease') AS lease_s,
       json_extract(up.detail, '$."key-up".held') AS held_s
FROM event AS down
LEFT JOIN event AS up ON up.run = down.run AND up.kind = 'key-up' AND up.sequence = (
    SELECT min(sequence) FROM event
    WHERE run = down.run AND sequence > down.sequence AND kind IN ('key-up', 'key-down'))
WHERE down.kind = 'key-down';

-- Every message on every link, in order.
CREATE TABLE transcript (
    ordinal    INTEGER PRIMARY KEY,
    run        TEXT NOT NULL REFERENCES run,
    at         TEXT NOT NULL,
    link       TEXT NOT NULL,
    direction  TEXT NOT NULL CHECK (direction IN ('to', 'from')),
    step       TEXT NOT NULL,
    bytes      BLOB NOT NULL
) STRICT;
CREATE INDEX transcript_run ON transcript (run, ordinal);
