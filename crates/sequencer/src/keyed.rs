//! Work that is done while the key is down: every wait confirms that somebody still wants it down.

use std::future::Future;
use std::pin::pin;
use std::time::Duration;

use spurline_clock::Clock;
use spurline_instrument::{KeyError, KeyHandle};
use spurline_keyholder::Terms;
use spurline_plan::{Key, REST_FACTOR};

/// Three beats may be missed before the key comes up.
const BEAT: Duration = Duration::from_millis(100);
const BEAT_WITHIN: Duration = Duration::from_millis(300);

/// The terms of every lease of a run.
pub(crate) fn terms(key: &Key) -> Terms {
    Terms {
        longest: key.longest.duration(),
        beat_within: BEAT_WITHIN,
        rest: key.rest.duration(),
        rest_factor: REST_FACTOR,
    }
}

/// Does `work` and keeps the lease alive meanwhile. The beats come from the task that does the work, so that
/// work that blocks the task stops them and brings the key up.
pub(crate) async fn beating<T>(
    key: &KeyHandle,
    clock: Clock,
    work: impl Future<Output = T>,
) -> Result<T, KeyError> {
    let mut work = pin!(work);
    loop {
        tokio::select! {
            biased;
            done = &mut work => return Ok(done),
            () = clock.sleep(BEAT) => key.beat().await?,
        }
    }
}
