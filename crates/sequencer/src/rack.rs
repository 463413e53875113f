//! The instruments of a bench, connected, identified and put into a known state.

use std::collections::BTreeMap;
use std::time::Duration;

use spurline_clock::Clock;
use spurline_instrument::{
    Analyser, AudioGenerator, KeyHandle, PowerMeter, Supply, SwitchCard, UnitControl, Whereabouts,
};
use spurline_plan::{InstrumentAt, Job, SupplySetting};
use spurline_record::{InstrumentUsed, Role};
use spurline_transport::{Address, Tap};

use crate::fault::RunFault;
use crate::keyed::{self, KeySetup};
use crate::modulation::Operator;

/// Everything that is wired, but for the key.
#[derive(Debug)]
pub(crate) struct Rack {
    pub(crate) analyser: Analyser,
    pub(crate) meter: Option<PowerMeter>,
    pub(crate) supply: Option<Supply>,
    pub(crate) unit: UnitControl,
    /// The relay cards of the path, in the order of the bench.
    pub(crate) switches: Vec<SwitchCard>,
    /// What gives a tone to the unit's microphone input, if the plan has its level searched for.
    pub(crate) audio: Option<AudioGenerator>,
    /// Who is asked for a tone where there is none.
    pub(crate) operator: Option<Box<dyn Operator>>,
    /// What the unit is to be fed with, once that was said.
    fed: Option<SupplySetting>,
}

/// Addresses that stand in for those of the bench file, as for a bench in this process.
pub(crate) type Addresses = BTreeMap<Role, Address>;

struct Places<'a> {
    instead: &'a Addresses,
}

impl Places<'_> {
    fn address<'i>(&'i self, instrument: &'i InstrumentAt) -> &'i Address {
        self.instead.get(&instrument.role).unwrap_or(&instrument.address)
    }
}

/// Opens the key first, and makes sure that the key is up before anything is reset.
pub(crate) async fn connect(
    job: &Job,
    instead: &Addresses,
    at: &KeySetup,
    clock: Clock,
    tap: &Tap,
) -> Result<(Rack, KeyHandle, Vec<InstrumentUsed>), RunFault> {
    let bench = &job.bench;
    let places = Places { instead };
    let mut used = Vec::new();
    macro_rules! open {
        ($handle:ident, $instrument:expr) => {{
            let instrument: &InstrumentAt = $instrument;
            let address = places.address(instrument);
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
    tap.step("connect");
    let (key, found) = keyed::open(bench, &job.plan.key, instead, at, clock, tap).await?;
    used.extend(found);
    let unit = match bench.instrument(Role::UnitControl) {
        Some(instrument) => open!(UnitControl, instrument),
        None => UnitControl::by_hand(),
    };
    let analyser = open!(Analyser, job.instrument(Role::Analyser));
    let meter = match bench.instrument(Role::PowerMeter) {
        Some(instrument) => Some(open!(PowerMeter, instrument)),
        None => None,
    };
    let supply = match bench.feeding_supply() {
        Some(instrument) => Some(open!(Supply, instrument)),
        None => None,
    };
    // One that is not for this run may give what somebody has set it to.
    let audio = match bench.instrument(Role::AudioGenerator).filter(|_| job.plan.set_up.is_some()) {
        Some(instrument) => Some(open!(AudioGenerator, instrument)),
        None => None,
    };
    let mut switches = Vec::new();
    for card in bench.switch_cards() {
        switches.push(open!(SwitchCard, card));
    }
    // An address can be written in several ways; who answers cannot, unless it has no number (IEEE 488.2: 0).
    let mut of_key = used.iter().filter(|used: &&InstrumentUsed| used.role == Role::Relay);
    let of_key = of_key
        .next()
        .map(|used| &used.identity)
        .filter(|identity| !matches!(identity.serial.as_str(), "" | "0"));
    let twin =
        used.iter().filter(|used| used.role == Role::Switch).find(|used| Some(&used.identity) == of_key);
    if let Some(twin) = twin {
        let (address, serial) = (twin.address.clone(), twin.identity.serial.clone());
        key.close().await?;
        return Err(RunFault::KeyCardInPath { address, serial });
    }
    Ok((Rack { analyser, meter, supply, unit, switches, audio, operator: None, fed: None }, key, used))
}

impl Rack {
    /// The instrument whose link is not in order, if there is one.
    pub(crate) fn awaited(&self) -> Option<Role> {
        let links = [
            (Role::Analyser, self.analyser.is_ready()),
            (Role::UnitControl, self.unit.is_ready()),
            (Role::PowerMeter, self.meter.as_ref().is_none_or(PowerMeter::is_ready)),
            (Role::Supply, self.supply.as_ref().is_none_or(Supply::is_ready)),
            (Role::AudioGenerator, self.audio.as_ref().is_none_or(AudioGenerator::is_ready)),
            (Role::Switch, self.switches.iter().all(SwitchCard::is_ready)),
        ];
        links.into_iter().find(|(_, is_ready)| !is_ready).map(|(role, _)| role)
    }

    /// Makes sure that every instrument still answers and has its settings.
    pub(crate) async fn check(&mut self) -> Result<(), RunFault> {
        self.analyser.check().await?;
        self.unit.check().await?;
        if let Some(meter) = &mut self.meter {
            meter.check().await?;
        }
        if let Some(supply) = &mut self.supply {
            supply.check().await?;
        }
        if let Some(audio) = &mut self.audio {
            audio.check().await?;
        }
        for card in &mut self.switches {
            card.check().await?;
        }
        Ok(())
    }

    /// What the unit is to be fed with, once that was said.
    pub(crate) fn fed_with(&self) -> Option<&SupplySetting> {
        self.fed.as_ref()
    }

    /// Feeds the unit, where the bench has a supply for it.
    pub(crate) async fn feed(&mut self, setting: &SupplySetting) -> Result<(), RunFault> {
        self.fed = Some(setting.clone());
        if let Some(supply) = &mut self.supply {
            supply.feed(setting.set, setting.limit).await?;
        }
        Ok(())
    }

    /// Makes every link again that was lost, for at most `patience` each, and sets up anew what may have lost its
    /// settings. The key is up: a reset restores automatic attenuation, and a zero needs no power.
    pub(crate) async fn mend(&mut self, patience: Duration) -> Result<(), RunFault> {
        if let Some(supply) = &mut self.supply {
            supply.mend(patience).await?;
            // It may have been off for a look without the unit, and what is begun again needs one that is on.
            if let Some(setting) = self.fed.as_ref().filter(|_| !supply.is_feeding()) {
                supply.feed(setting.set, setting.limit).await?;
            }
        }
        self.unit.mend(patience).await?;
        if let Some(audio) = &mut self.audio {
            audio.mend(patience).await?;
        }
        for card in &mut self.switches {
            card.mend(patience).await?;
        }
        self.analyser.mend(patience).await?;
        if let Some(meter) = &mut self.meter {
            meter.mend(patience).await?;
        }
        Ok(())
    }

    /// Known states, alignment and zero; the key is up.
    pub(crate) async fn prepare(&mut self, tap: &Tap) -> Result<(), RunFault> {
        tap.step("prepare");
        if let Some(audio) = &mut self.audio {
            audio.prepare().await?;
        }
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
}
