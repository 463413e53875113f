//! The seam of time: real or virtual.
