-- What came of reading known lines with a bench, whole, as it was found.
CREATE TABLE proof (
    id              TEXT PRIMARY KEY NOT NULL,
    at              TEXT NOT NULL,
    bench           TEXT NOT NULL,
    analyser        TEXT NOT NULL,             -- serial number
    outcome         TEXT NOT NULL CHECK (outcome IN ('proven', 'not-proven', 'undecided')),
    simulated_seed  TEXT,                      -- decimal, as that of a run
    detail          TEXT NOT NULL              -- JSON
) STRICT;
CREATE INDEX proof_bench ON proof (bench, analyser, at);
