-- Every message on every link, in order, a batch or more with each commit. The runs of schema 1 have theirs in
-- `transcript`, which nothing is written into any more.
CREATE TABLE transcript_batch (
    ordinal  INTEGER PRIMARY KEY,
    run      TEXT NOT NULL REFERENCES run,
    entries  INTEGER NOT NULL,                 -- how many messages
    size     INTEGER NOT NULL,                 -- bytes before they were compressed
    codec    INTEGER NOT NULL,                 -- 0: as they are; 1: zlib (RFC 1950)
    data     BLOB NOT NULL
) STRICT;
CREATE INDEX transcript_batch_run ON transcript_batch (run, ordinal);
