//! End-to-end and conformance tests. This library part holds what the tests and the fuzz targets share, and the truth
//! test, the test of the search, and that of comparisons.

mod files;
pub mod hostile;
pub mod interlocked;
pub mod pairs;
pub mod search;
mod served;
pub mod truth;
