//! Typed handles for analyser, power meter, supply, relay and unit.
