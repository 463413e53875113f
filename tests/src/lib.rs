//! End-to-end and conformance tests. This library part holds what the tests and the fuzz targets share, and the truth
//! test, and the test of the search.

pub mod hostile;
pub mod interlocked;
pub mod search;
mod served;
pub mod truth;
