//! When a link fails on the way: key up first, then the links are made again and everything is set up anew, so that
//! the scope can be measured from its beginning.

use spurline_instrument::KeyError;
use spurline_keyholder::LeaseError;
use spurline_record::EventKind;

use crate::fault::RunFault;
use crate::modulation::tone_off;
use crate::scope::Measuring;

/// How often a piece of work is begun again.
pub(crate) const REPEATS: u32 = 3;

/// Does a piece of work, and does it again from its beginning when a link failed on the way and could be mended.
macro_rules! mended {
    ($measuring:expr, $work:expr) => {{
        let mut left = crate::mending::REPEATS;
        loop {
            match $work.await {
                Err(fault) => $measuring.mend(fault.into(), &mut left).await?,
                Ok(done) => break done,
            }
        }
    }};
}
pub(crate) use mended;

impl Measuring<'_, '_> {
    /// Makes everything ready for another attempt at a piece of work after `fault`; what the failed one had come to is
    /// forgotten.
    ///
    /// # Errors
    ///
    /// The fault, if no attempt is `left` or none would help; or why the bench could not be mended. What the failed
    /// attempt had come to then stays.
    pub(crate) async fn mend(&mut self, fault: RunFault, left: &mut u32) -> Result<(), RunFault> {
        if *left == 0 || !self.may_pass(&fault) {
            return Err(fault);
        }
        *left -= 1;
        let waiting =
            self.rack.awaited().map_or_else(String::new, |role| format!(", waiting for the {role}"));
        self.key_up().await?;
        // Nothing is reset before the line itself has said that the key is up.
        self.key.confirm_up().await?;
        self.doing("make the links again")?;
        while let Err(again) = self.rack.mend(self.job.bench.reconnect_within.duration()).await {
            if *left == 0 || !self.may_pass(&again) {
                return Err(again);
            }
            *left -= 1;
        }
        self.done.held.clear();
        self.done.seen.clear();
        // Its reading went with them.
        self.done.set_up = None;
        tone_off(self.rack).await?;
        self.emit(EventKind::Note(format!("{}{waiting}; done again from the beginning", words(&fault))))
    }

    fn may_pass(&self, fault: &RunFault) -> bool {
        match fault {
            RunFault::Instrument(fault)
            | RunFault::Tuning { source: fault, .. }
            | RunFault::Key(KeyError::Line(fault) | KeyError::NotReady(fault)) => fault.is_of_the_link(),
            // Somebody else had the processor or the disk, and the key is up.
            RunFault::Key(KeyError::Stalled(_)) => true,
            // Another process holds it, and has made sure that the key is up.
            RunFault::Key(KeyError::NoHolder { confirmed, .. }) => *confirmed,
            // Waiting for an instrument that had fallen silent used the lease up.
            RunFault::Key(KeyError::Lease(LeaseError::NotDown)) => self.rack.awaited().is_some(),
            _ => false,
        }
    }
}

/// What failed and why, on one line.
fn words(fault: &RunFault) -> String {
    std::iter::once(fault.to_string()).chain(fault.causes()).collect::<Vec<_>>().join(": ")
}
