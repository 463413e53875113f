//! The instruments that a proof or the measurement of a path needs: without a carrier, only those between generator and
//! analyser, or power meter.

use std::time::Duration;

use spurline_clock::Clock;
use spurline_instrument::{
    Analyser, Generator, KeyHandle, PowerMeter, Supply, SwitchCard, UnitControl, Whereabouts,
};
use spurline_plan::{Bench, InstrumentAt, Job, Key, Way};
use spurline_record::{InstrumentUsed, Role};
use spurline_transport::Tap;
use spurline_units::Seconds;

use crate::fault::RunFault;
use crate::keyed::{self, KeySetup};
use crate::rack::Addresses;

/// Everything that is wired, but for the key.
#[derive(Debug)]
pub(crate) struct ProvingRack {
    pub(crate) generator: Generator,
    pub(crate) analyser: Analyser,
    /// Only where a path is measured with it.
    pub(crate) meter: Option<PowerMeter>,
    pub(crate) unit: Option<UnitControl>,
    pub(crate) supply: Option<Supply>,
    switches: Vec<SwitchCard>,
}

/// The terms of a key that is only kept up.
fn unkeyed() -> Key {
    Key {
        longest: Seconds::new(20.0),
        rest: Seconds::new(60.0),
        most_in_5_min: Seconds::new(60.0),
        own_timer: None,
        comes_within: Seconds::new(60.0),
        span: None,
    }
}

/// Opens the key first and makes sure that the key is up, then to the generator and makes sure that its output
/// is off. With a job, the unit and its supply are connected too.
pub(crate) async fn connect(
    bench: &Bench,
    job: Option<&Job>,
    by_meter: bool,
    instead: &Addresses,
    at: &KeySetup,
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
    let terms = job.map_or_else(unkeyed, |job| job.plan.key);
    let (key, found) = keyed::open(bench, &terms, instead, at, clock, tap).await?;
    used.extend(found);
    let mut generator = open!(Generator, needed(Role::Generator));
    generator.prepare().await?;
    let analyser = open!(Analyser, needed(Role::Analyser));
    let mut meter = None;
    if by_meter {
        meter = Some(open!(PowerMeter, needed(Role::PowerMeter)));
    }
    let mut switches = Vec::new();
    for card in bench.switch_cards() {
        switches.push(open!(SwitchCard, card));
    }
    if let Some((address, serial)) = key_card_in_path(&used) {
        key.close().await?;
        return Err(RunFault::KeyCardInPath { address, serial });
    }
    let (mut unit, mut supply) = (None, None);
    if let Some(job) = job {
        unit = Some(match bench.instrument(Role::UnitControl) {
            Some(instrument) => open!(UnitControl, instrument),
            None => UnitControl::by_hand(),
        });
        if let Some(instrument) = bench.feeding_supply().filter(|_| !job.plan.supplies.is_empty()) {
            supply = Some(open!(Supply, instrument));
        }
    }
    Ok((ProvingRack { generator, analyser, meter, unit, supply, switches }, key, used))
}

/// Where the card of the key answers as a card of the path, and its serial number, if it does: it would key when the
/// path is switched. A card without a number (IEEE 488.2: 0) cannot be told from another.
fn key_card_in_path(used: &[InstrumentUsed]) -> Option<(String, String)> {
    let of_key = used.iter().find(|used| used.role == Role::Relay).map(|used| &used.identity);
    let of_key = of_key.filter(|identity| !matches!(identity.serial.as_str(), "" | "0"))?;
    let twin = used.iter().find(|used| used.role == Role::Switch && used.identity == *of_key)?;
    Some((twin.address.clone(), twin.identity.serial.clone()))
}

impl ProvingRack {
    /// Known states and alignment; the key is up and the output off.
    pub(crate) async fn prepare(&mut self) -> Result<(), RunFault> {
        self.analyser.prepare().await?;
        self.analyser.align().await?;
        for card in &mut self.switches {
            card.prepare().await?;
        }
        if let Some(meter) = &mut self.meter {
            meter.prepare().await?;
            meter.zero().await?;
        }
        Ok(())
    }

    /// Makes sure that what was left alone for long still answers, and that the output is still off.
    pub(crate) async fn check(&mut self) -> Result<(), RunFault> {
        self.generator.off().await?;
        self.analyser.mend(Duration::ZERO).await?;
        if let Some(meter) = &mut self.meter {
            meter.mend(Duration::ZERO).await?;
        }
        Ok(())
    }

    /// Sets every relay as a way wants it.
    pub(crate) async fn switch(&mut self, way: &Way) -> Result<(), RunFault> {
        for (place, card) in self.switches.iter_mut().enumerate() {
            let contacts = way.contacts_of(place);
            if !contacts.is_empty() {
                card.set(&contacts).await?;
            }
        }
        Ok(())
    }

    /// Switches the unit's supply off, if it was used.
    pub(crate) async fn supply_off(&mut self) -> Result<(), RunFault> {
        match &mut self.supply {
            Some(supply) => Ok(supply.off().await?),
            None => Ok(()),
        }
    }
}

#[cfg(test)]
mod tests {
    use spurline_record::Identity;

    use super::*;

    fn used(role: Role, serial: &str) -> InstrumentUsed {
        let identity = Identity { serial: serial.to_owned(), ..Identity::default() };
        InstrumentUsed {
            role,
            address: role.name().to_owned(),
            profile: "relay-generic".to_owned(),
            identity,
        }
    }

    #[test]
    fn the_card_of_the_key_switches_no_path() {
        let cards = |serial| [used(Role::Relay, "R-1"), used(Role::Switch, serial)];
        assert_eq!(key_card_in_path(&cards("R-1")), Some(("switch".to_owned(), "R-1".to_owned())));
        assert_eq!(key_card_in_path(&cards("W-1")), None);
        assert_eq!(key_card_in_path(&[used(Role::Relay, "0"), used(Role::Switch, "0")]), None);
    }
}
