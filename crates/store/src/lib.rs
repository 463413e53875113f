//! The record on disk: one writer, one commit a reading.
