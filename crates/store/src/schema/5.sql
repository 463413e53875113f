-- Verdicts made again from the looks of a run, by another rule, decision or table. The run stays as it is.
CREATE TABLE verdict (
    run       TEXT NOT NULL REFERENCES run,
    number    INTEGER NOT NULL,               -- which of those on the run, from 1
    at        TEXT NOT NULL,
    software  TEXT NOT NULL,                  -- what judged again
    rule      TEXT NOT NULL,
    decision  TEXT NOT NULL,
    replaced  TEXT NOT NULL,                  -- JSON: list of what, from, to
    outcome   TEXT CHECK (outcome IN ('no limit', 'complies', 'undecided', 'invalid', 'exceeds')),
    head      TEXT,                           -- the last link of the run's chain that it rests on, hexadecimal
    header    TEXT NOT NULL,                  -- JSON, without the texts
    hash      BLOB NOT NULL CHECK (length(hash) = 32),  -- SHA-256 of all of it: the page `again` of the book says how
    PRIMARY KEY (run, number)
) STRICT;

-- The files that it rests on; the text is empty where it is that of the run's file of this role and name.
CREATE TABLE verdict_text (
    run      TEXT NOT NULL,
    number   INTEGER NOT NULL,
    ordinal  INTEGER NOT NULL,
    role     TEXT NOT NULL,
    name     TEXT NOT NULL,
    text     TEXT,
    PRIMARY KEY (run, number, ordinal),
    FOREIGN KEY (run, number) REFERENCES verdict (run, number)
) STRICT;

-- Its readings: of each, the looks are those of the run's reading of this ordinal.
CREATE TABLE verdict_reading (
    run                      TEXT NOT NULL,
    number                   INTEGER NOT NULL,
    ordinal                  INTEGER NOT NULL,
    made                     TEXT NOT NULL CHECK (made IN ('raw', 'corrected', 'recorded')),
    quantity                 TEXT NOT NULL,
    channel                  TEXT NOT NULL,
    power_setting            TEXT NOT NULL,
    supply                   TEXT,
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
    detail                   TEXT NOT NULL,   -- JSON, without the looks
    PRIMARY KEY (run, number, ordinal),
    FOREIGN KEY (run, number) REFERENCES verdict (run, number),
    FOREIGN KEY (run, ordinal) REFERENCES reading (run, ordinal)
) STRICT;

CREATE TRIGGER verdict_stays BEFORE UPDATE ON verdict
BEGIN SELECT RAISE(ABORT, 'a verdict is never changed: make another'); END;
CREATE TRIGGER verdict_text_stays BEFORE UPDATE ON verdict_text
BEGIN SELECT RAISE(ABORT, 'a verdict is never changed: make another'); END;
CREATE TRIGGER verdict_reading_stays BEFORE UPDATE ON verdict_reading
BEGIN SELECT RAISE(ABORT, 'a verdict is never changed: make another'); END;
CREATE TRIGGER verdict_kept BEFORE DELETE ON verdict
BEGIN SELECT RAISE(ABORT, 'a verdict is never taken out'); END;
CREATE TRIGGER verdict_text_kept BEFORE DELETE ON verdict_text
BEGIN SELECT RAISE(ABORT, 'a verdict is never taken out'); END;
CREATE TRIGGER verdict_reading_kept BEFORE DELETE ON verdict_reading
BEGIN SELECT RAISE(ABORT, 'a verdict is never taken out'); END;
