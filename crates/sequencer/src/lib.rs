//! The measuring procedures and the run.
