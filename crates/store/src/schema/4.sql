-- A chain of hashes over all that a run brings, in the order in which it was kept: the page `record` of the book says
-- what each hash covers, byte by byte. Runs of earlier schemas have none: `chain` is empty.
ALTER TABLE run ADD COLUMN readings INTEGER NOT NULL DEFAULT 0;  -- how many there are
ALTER TABLE run ADD COLUMN chain    INTEGER;                     -- the form of the chain: 1
ALTER TABLE run ADD COLUMN links    INTEGER;                     -- how many there are
ALTER TABLE run ADD COLUMN head     BLOB;                        -- the last link
UPDATE run SET readings = (SELECT count(*) FROM reading WHERE reading.run = run.id);

ALTER TABLE event ADD COLUMN number INTEGER;                     -- its place in the chain, from 1
ALTER TABLE event ADD COLUMN digest BLOB;                        -- of the event and all that came with it
ALTER TABLE event ADD COLUMN link   BLOB;                        -- of the link before and the digest

ALTER TABLE transcript_batch ADD COLUMN hash   BLOB;             -- of the messages as they were before compression
ALTER TABLE transcript_batch ADD COLUMN number INTEGER;          -- as of an event
ALTER TABLE transcript_batch ADD COLUMN digest BLOB;
ALTER TABLE transcript_batch ADD COLUMN link   BLOB;

-- Codec 2 of a sweep or a batch: pruned. The data is empty, the hash of what it was stays.
ALTER TABLE sweep ADD COLUMN hash BLOB;                          -- of the levels as f32 little endian

-- What the bench file said when the run began.
ALTER TABLE instrument ADD COLUMN calibrated  TEXT;
ALTER TABLE instrument ADD COLUMN due         TEXT;
ALTER TABLE instrument ADD COLUMN certificate TEXT;

-- Who vouches for a run as it was up to a link. Ed25519 (RFC 8032).
CREATE TABLE signature (
    run         TEXT NOT NULL REFERENCES run,
    public_key  BLOB NOT NULL CHECK (length(public_key) = 32),
    head        BLOB NOT NULL CHECK (length(head) = 32),       -- the link that is signed
    at          TEXT NOT NULL,
    software    TEXT NOT NULL,
    signature   BLOB NOT NULL CHECK (length(signature) = 64),
    PRIMARY KEY (run, public_key, head)
) STRICT;

-- What was taken out of a run to give its room back.
CREATE TABLE pruning (
    id        INTEGER PRIMARY KEY,
    run       TEXT NOT NULL REFERENCES run,
    at        TEXT NOT NULL,
    what      TEXT NOT NULL CHECK (what IN ('sweeps', 'transcript')),
    items     INTEGER NOT NULL,                                  -- sweeps, or messages
    size      INTEGER NOT NULL,                                  -- bytes in the record
    software  TEXT NOT NULL
) STRICT;
CREATE INDEX pruning_run ON pruning (run, id);

-- The units that were measured.
CREATE VIEW unit AS
SELECT unit_maker AS maker, unit_model AS model, unit_serial AS serial, count(*) AS runs,
       min(started) AS first, max(started) AS last
FROM run GROUP BY unit_maker, unit_model, unit_serial;
