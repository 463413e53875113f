//! The laws of the bench as pure functions: filter, detectors, mixer, two-ports.
//!
//! Nothing here knows SCPI, time or files.

pub(crate) mod detector;
pub(crate) mod envelope;
pub(crate) mod filter;
pub(crate) mod line;
pub(crate) mod mixer;
pub(crate) mod phase_noise;
pub(crate) mod products;
pub(crate) mod reflection;
pub(crate) mod response;
pub(crate) mod sweep_rate;
pub(crate) mod two_port;
