//! Whether what is measured first verifies the path.

use crate::job::Job;

impl Job {
    /// Whether the first setting that is measured verifies the path: as the bench file says, else where the plan has
    /// settings that differ.
    #[must_use]
    pub fn verifies_path(&self) -> bool {
        let powers = || self.plan.channels.iter().flat_map(|channel| &channel.powers);
        let several = || powers().any(|one| powers().any(|other| one.window != other.window));
        self.bench.verify_path.unwrap_or_else(several)
    }
}
