//! Distributions of sums against scipy, and against themselves.
