//! End-to-end and conformance tests. This library part holds what the tests and the fuzz targets share, and the truth
//! test.

pub mod hostile;
pub mod truth;
