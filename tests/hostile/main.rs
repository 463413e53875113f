//! Hostile input: the seeds of the fuzz targets, and lengths that nobody means well with.

#![expect(clippy::unwrap_used, reason = "a test may fail")]

mod corpus;
mod files;
#[cfg(target_os = "linux")]
mod memory;
mod streams;
