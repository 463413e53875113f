//! The places that `*SAV` writes and `*RCL` reads.

use spurline_scpi::ErrorCode;

/// Places for settings, numbered from 0. Empty until something is saved; switching off does not empty them.
#[derive(Debug)]
pub(crate) struct Memory<S>([Option<S>; PLACES]);

/// How many places there are.
pub(crate) const PLACES: usize = 10;

impl<S> Default for Memory<S> {
    fn default() -> Self {
        Self(std::array::from_fn(|_| None))
    }
}

impl<S> Memory<S> {
    /// Keeps settings in a place that exists.
    pub(crate) fn save(&mut self, place: usize, setup: S) {
        self.0[place] = Some(setup);
    }

    /// What is in a place that exists; -224 if nothing is.
    pub(crate) fn saved(&self, place: usize) -> Result<&S, ErrorCode> {
        self.0[place].as_ref().ok_or(ErrorCode::ILLEGAL_PARAMETER_VALUE)
    }
}
