//! End-to-end and conformance tests; this library part is empty.
