//! Instrument profiles as data: spellings, ranges, specifications.
