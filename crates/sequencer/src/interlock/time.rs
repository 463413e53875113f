//! How long the unit rests before it is keyed again.

use spurline_clock::Moment;
use spurline_plan::REST_FACTOR;
use spurline_units::Seconds;

use crate::fault::RunFault;
use crate::scope::Measuring;

/// What the run has asked of the unit so far.
#[derive(Debug, Default)]
pub(crate) struct Keyed {
    /// Since when the key is down.
    down: Option<Moment>,
    /// Every key-down that has ended.
    spans: Vec<(Moment, Moment)>,
}

impl Keyed {
    pub(crate) fn goes_down(&mut self, now: Moment) {
        self.down = Some(now);
    }

    pub(crate) fn comes_up(&mut self, now: Moment) {
        self.spans.extend(self.down.take().map(|down| (down, now)));
    }
}

impl Measuring<'_, '_> {
    /// Lets the unit rest for as long as it must before it is keyed again.
    pub(crate) async fn let_rest(&mut self) -> Result<(), RunFault> {
        let Some((from, to)) = self.done.chain.keyed.spans.last().copied() else { return Ok(()) };
        let rest = self.job.plan.key.rest.duration().max(to.since(from) * REST_FACTOR);
        let due = rest.saturating_sub(self.clock.now().since(to));
        if due.is_zero() {
            return Ok(());
        }
        self.rest(due).await
    }

    pub(crate) async fn rest(&mut self, span: std::time::Duration) -> Result<(), RunFault> {
        self.doing(&format!("let the unit rest for {:.0}", Seconds::from(span)))?;
        self.clock.sleep(span).await;
        // Links die while nothing passes on them, and that must not be found out with the key down.
        self.rack.check().await
    }
}
