//! Scenarios that must never fool the measurement, each swept over what nobody knows.
