//! End-to-end and conformance tests; the library part is empty.
