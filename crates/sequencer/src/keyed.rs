//! Work that is done while the key is down: every wait confirms that somebody still wants it down.

use std::future::Future;
use std::pin::pin;
use std::time::Duration;

use spurline_clock::Clock;
use spurline_instrument::{
    ControlLine, ControlWire, KeyCommands, KeyError, KeyHandle, KeyProgram, KeyRelay, KeySupply, KeyWiring,
};
use spurline_keyholder::Terms;
use spurline_plan::{Bench, GLIMPSE_LONGEST, Key, KeyMethod, REST_FACTOR};
use spurline_record::{InstrumentUsed, Role};
use spurline_transport::Tap;

use crate::fault::RunFault;
use crate::rack::Addresses;

/// Who holds the key, and where its line is.
#[derive(Clone, Debug, Default)]
pub struct KeySetup {
    /// The program that holds it in a process of its own; without one it is held in this process.
    pub program: Option<KeyProgram>,
    /// Where the line is, if it is no instrument.
    pub line: KeyLineAt,
}

/// Where a key line is that is no instrument.
#[derive(Clone, Debug, Default)]
pub enum KeyLineAt {
    /// Where the bench file says.
    #[default]
    AsWritten,
    /// At another path, as for a bench in this process.
    Instead(String),
    /// Nowhere: the run is repeated from its transcript.
    Replayed,
}

/// How the key of a bench is wired.
fn wiring(bench: &Bench, instead: &Addresses, at: &KeyLineAt) -> KeyWiring {
    match (&bench.key.method, at) {
        (KeyMethod::Relay(relay), _) => {
            let instrument = bench.instrument(Role::Relay);
            let instrument = instrument.expect("a bench whose key is a relay has that instrument");
            KeyWiring::Relay(Box::new(KeyRelay {
                address: instead.get(&Role::Relay).unwrap_or(&instrument.address).clone(),
                profile: instrument.profile.clone(),
                line: instrument.line,
                serial: instrument.serial.clone(),
                contact: relay.contact,
                opens_by_itself: relay.opens_by_itself,
            }))
        }
        (KeyMethod::SupplyOutput(output), _) => {
            let instrument = bench.instrument(Role::Supply);
            let instrument = instrument.expect("a bench whose key is a supply has that instrument");
            KeyWiring::Supply(Box::new(KeySupply {
                address: instead.get(&Role::Supply).unwrap_or(&instrument.address).clone(),
                profile: instrument.profile.clone(),
                line: instrument.line,
                serial: instrument.serial.clone(),
                set: output.set,
                limit: output.limit,
            }))
        }
        (KeyMethod::Operator, _) => KeyWiring::Hand,
        (_, KeyLineAt::Replayed) => KeyWiring::Replayed,
        (KeyMethod::SerialLine(line), at) => KeyWiring::Control(ControlLine {
            path: if let KeyLineAt::Instead(path) = at { path.clone() } else { line.path.clone() },
            wire: if line.rts { ControlWire::Rts } else { ControlWire::Dtr },
            two_lines: line.two_lines,
        }),
        (KeyMethod::Command(command), _) => KeyWiring::Command(KeyCommands {
            down: command.down.clone(),
            up: command.up.clone(),
            state: command.state.clone(),
            within: command.within.duration(),
        }),
    }
}

/// Opens the key of a bench, up and confirmed; which instrument it is behind, if it is.
pub(crate) async fn open(
    bench: &Bench,
    key: &Key,
    instead: &Addresses,
    at: &KeySetup,
    clock: Clock,
    tap: &Tap,
) -> Result<(KeyHandle, Option<InstrumentUsed>), RunFault> {
    let wiring = wiring(bench, instead, &at.line);
    // Another process can hold a line, not a thumb.
    let program = at.program.as_ref().filter(|_| !bench.key.is_by_hand());
    let mut terms = terms(key);
    if bench.key.is_by_hand() {
        terms.beat_within = THUMB_WITHIN;
    }
    Ok(KeyHandle::open(wiring, terms, program, clock, tap).await?)
}

/// Three beats may be missed before the key comes up.
const BEAT: Duration = Duration::from_millis(100);
const BEAT_WITHIN: Duration = Duration::from_millis(300);

/// A beat that is missed brings no thumb up: only a program that has really stopped is one that measures no more.
const THUMB_WITHIN: Duration = Duration::from_secs(3);

/// The terms of every lease of a run.
pub(crate) fn terms(key: &Key) -> Terms {
    Terms {
        longest: key.longest.duration(),
        beat_within: BEAT_WITHIN,
        rest: key.rest.duration(),
        rest_factor: REST_FACTOR,
        brief: if key.has_brief() { GLIMPSE_LONGEST.duration() } else { Duration::ZERO },
    }
}

/// Does `work` and keeps the lease alive meanwhile and when it is done, so that several short pieces of work leave no gap.
/// The beats come from the task that does the work, so that work that blocks the task stops them and brings the key up.
pub(crate) async fn beating<T>(
    key: &KeyHandle,
    clock: Clock,
    work: impl Future<Output = T>,
) -> Result<T, KeyError> {
    let mut work = pin!(work);
    loop {
        tokio::select! {
            biased;
            done = &mut work => {
                key.beat().await?;
                return Ok(done);
            }
            () = clock.sleep(BEAT) => key.beat().await?,
        }
    }
}

#[cfg(test)]
mod tests {
    use spurline_clock::{Pace, run};

    use super::*;

    #[test]
    fn many_short_pieces_of_work_keep_the_lease() {
        run(Pace::Fast, |clock| async move {
            let terms = Terms {
                longest: Duration::from_secs(20),
                beat_within: BEAT_WITHIN,
                rest: Duration::from_secs(1),
                rest_factor: REST_FACTOR,
                brief: Duration::ZERO,
            };
            let tap = Tap::default();
            let (key, _) = KeyHandle::open(KeyWiring::Hand, terms, None, clock, &tap).await.unwrap();
            key.down(Duration::from_secs(20)).await.unwrap();
            for _ in 0..20 {
                beating(&key, clock, clock.sleep(BEAT * 9 / 10)).await.unwrap();
            }
            assert_eq!(key.up().await.unwrap(), BEAT * 18);
        })
        .unwrap();
    }
}
