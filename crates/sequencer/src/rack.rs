//! The instruments of a bench, connected, identified and put into a known state.

use std::collections::BTreeMap;

use spurline_clock::Clock;
use spurline_instrument::{
    Analyser, KeyHandle, PowerMeter, Relay, RelayKey, Supply, UnitControl, Whereabouts,
};
use spurline_plan::{Bench, Job};
use spurline_record::{InstrumentUsed, Role};
use spurline_transport::{Address, Tap};

use crate::fault::RunFault;
use crate::keyed;

/// Everything that is wired, but for the key.
#[derive(Debug)]
pub(crate) struct Rack {
    pub(crate) analyser: Analyser,
    pub(crate) meter: PowerMeter,
    pub(crate) supply: Option<Supply>,
    pub(crate) unit: UnitControl,
}

/// Addresses that stand in for those of the bench file, as for a bench in this process.
pub(crate) type Addresses = BTreeMap<Role, Address>;

struct Places<'a> {
    bench: &'a Bench,
    instead: &'a Addresses,
}

impl Places<'_> {
    fn address(&self, role: Role) -> Result<Address, RunFault> {
        if let Some(address) = self.instead.get(&role) {
            return Ok(address.clone());
        }
        let text = self.bench.instrument(role).map_or("", |instrument| instrument.address.as_str());
        text.parse().map_err(|source| RunFault::Address { role, source })
    }
}

/// Connects to the relay first, and makes sure that the key is up before anything is reset.
pub(crate) async fn connect(
    job: &Job,
    instead: &Addresses,
    clock: Clock,
    tap: &Tap,
) -> Result<(Rack, KeyHandle, Vec<InstrumentUsed>), RunFault> {
    let bench = &job.bench;
    let places = Places { bench, instead };
    let mut used = Vec::new();
    macro_rules! open {
        ($handle:ident, $role:expr, $instrument:expr) => {{
            let address = places.address($role)?;
            let place = Whereabouts {
                address: &address,
                profile: &$instrument.profile,
                serial: $instrument.serial.as_deref(),
            };
            let (handle, found) = $handle::open(place, clock, tap.clone()).await?;
            used.push(found);
            handle
        }};
    }
    tap.step("connect");
    let relay = open!(Relay, Role::Relay, job.instrument(Role::Relay));
    let line = RelayKey::new(relay, bench.key.contact, bench.key.opens_by_itself);
    let terms = keyed::terms(&job.plan.key);
    let key = KeyHandle::hold(Box::new(line), terms, clock).await?;
    let unit = open!(UnitControl, Role::UnitControl, job.instrument(Role::UnitControl));
    let analyser = open!(Analyser, Role::Analyser, job.instrument(Role::Analyser));
    let meter = open!(PowerMeter, Role::PowerMeter, job.instrument(Role::PowerMeter));
    let supply = match bench.instrument(Role::Supply) {
        Some(instrument) => Some(open!(Supply, Role::Supply, instrument)),
        None => None,
    };
    Ok((Rack { analyser, meter, supply, unit }, key, used))
}

impl Rack {
    /// Known states, alignment and zero; the key is up.
    pub(crate) async fn prepare(&mut self, tap: &Tap) -> Result<(), RunFault> {
        tap.step("prepare");
        self.analyser.prepare().await?;
        self.analyser.align().await?;
        self.meter.prepare().await?;
        self.meter.zero().await?;
        Ok(())
    }
}
