//! The instruments that a proof needs: without a carrier, only those between generator and analyser.

use std::time::Duration;

use spurline_clock::Clock;
use spurline_instrument::{
    Analyser, Generator, KeyHandle, Relay, RelayKey, Supply, SwitchCard, UnitControl, Whereabouts,
};
use spurline_plan::{Bench, InstrumentAt, Job, Key, Way};
use spurline_record::{InstrumentUsed, Role};
use spurline_transport::Tap;
use spurline_units::Seconds;

use crate::fault::RunFault;
use crate::keyed;
use crate::rack::Addresses;

/// Everything that is wired, but for the key.
#[derive(Debug)]
pub(super) struct ProvingRack {
    pub(super) generator: Generator,
    pub(super) analyser: Analyser,
    pub(super) unit: Option<UnitControl>,
    pub(super) supply: Option<Supply>,
    switches: Vec<SwitchCard>,
}

/// The terms of a key that is only kept up.
fn unkeyed() -> Key {
    Key { longest: Seconds::new(20.0), rest: Seconds::new(60.0), span: None }
}

/// Connects to the relay first and makes sure that the key is up, then to the generator and makes sure that its output
/// is off. With a job, the unit and its supply are connected too.
pub(super) async fn connect(
    bench: &Bench,
    job: Option<&Job>,
    instead: &Addresses,
    clock: Clock,
    tap: &Tap,
) -> Result<(ProvingRack, KeyHandle, Vec<InstrumentUsed>), RunFault> {
    let mut used = Vec::new();
    macro_rules! open {
        ($handle:ident, $instrument:expr) => {{
            let instrument: &InstrumentAt = $instrument;
            let address = instead.get(&instrument.role).unwrap_or(&instrument.address);
            let place = Whereabouts {
                address,
                profile: &instrument.profile,
                line: instrument.line,
                serial: instrument.serial.as_deref(),
            };
            let (handle, found) = $handle::open(place, clock, tap.clone()).await?;
            used.push(found);
            handle
        }};
    }
    let needed =
        |role| bench.instrument(role).expect("a bench that can be proven has an instrument for this role");
    tap.step("connect");
    let relay = open!(Relay, needed(Role::Relay));
    let line = RelayKey::new(relay, bench.key.contact, bench.key.opens_by_itself);
    let terms = keyed::terms(&job.map_or_else(unkeyed, |job| job.plan.key));
    let key = KeyHandle::hold(Box::new(line), terms, clock).await?;
    let mut generator = open!(Generator, needed(Role::Generator));
    generator.prepare().await?;
    let analyser = open!(Analyser, needed(Role::Analyser));
    let mut switches = Vec::new();
    for card in bench.switch_cards() {
        switches.push(open!(SwitchCard, card));
    }
    let (mut unit, mut supply) = (None, None);
    if let Some(job) = job {
        unit = Some(open!(UnitControl, needed(Role::UnitControl)));
        if let Some(instrument) = bench.instrument(Role::Supply).filter(|_| !job.plan.supplies.is_empty()) {
            supply = Some(open!(Supply, instrument));
        }
    }
    Ok((ProvingRack { generator, analyser, unit, supply, switches }, key, used))
}

impl ProvingRack {
    /// Known states and alignment; the key is up and the output off.
    pub(super) async fn prepare(&mut self) -> Result<(), RunFault> {
        self.analyser.prepare().await?;
        self.analyser.align().await?;
        for card in &mut self.switches {
            card.prepare().await?;
        }
        Ok(())
    }

    /// Makes sure that what was left alone for long still answers, and that the output is still off.
    pub(super) async fn check(&mut self) -> Result<(), RunFault> {
        self.generator.off().await?;
        self.analyser.mend(Duration::ZERO).await?;
        Ok(())
    }

    /// Sets every relay as a way wants it.
    pub(super) async fn switch(&mut self, way: &Way) -> Result<(), RunFault> {
        for (place, card) in self.switches.iter_mut().enumerate() {
            let contacts = way.contacts_of(place);
            if !contacts.is_empty() {
                card.set(&contacts).await?;
            }
        }
        Ok(())
    }

    /// Switches the unit's supply off, if it was used.
    pub(super) async fn supply_off(&mut self) -> Result<(), RunFault> {
        match &mut self.supply {
            Some(supply) => Ok(supply.off().await?),
            None => Ok(()),
        }
    }
}
