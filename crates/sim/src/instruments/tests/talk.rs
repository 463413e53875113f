//! Somebody who speaks to an instrument and lets time pass where it waits.

use std::sync::Arc;
use std::time::Duration;

use spurline_clock::{Moment, Pace, run};

use crate::bench::SimulatedBench;
use crate::bench::tests::{WHOLE, read};
use crate::instruments::{
    Analyser, Device, Execution, Instrument, PowerMeter, Relay, Step, Supply, UnitControl, Wired,
};
use crate::world::World;

/// An instrument, the bench around it, and the time.
pub(crate) struct Talk<D: Device> {
    pub(crate) instrument: Instrument<D>,
    pub(crate) world: Arc<World>,
    pub(crate) now: Moment,
}

/// What only a trigger ends, a client gives up.
const PATIENCE: Duration = Duration::from_secs(86_400);

impl<D: Device> Talk<D> {
    fn with(device: impl FnOnce(&SimulatedBench, Arc<World>) -> D) -> Self {
        let bench = read(WHOLE).unwrap();
        let now = run(Pace::Fast, |clock| async move { clock.now() }).unwrap();
        let world = Arc::new(World::new(&bench, false, now));
        Self { instrument: Instrument::new(device(&bench, world.clone())), world, now }
    }

    /// Carries a message out; `None` where it is never done without help from elsewhere.
    pub(crate) fn answer(&mut self, message: &[u8]) -> Option<Vec<u8>> {
        let mut execution = Execution::new(message);
        loop {
            match self.instrument.step(&mut execution, self.now) {
                Step::Done(answer) => return Some(answer.map_or_else(Vec::new, Vec::from)),
                Step::WaitUntil(moment) => {
                    assert!(moment > self.now, "what is pending ends later");
                    if moment.since(self.now) > PATIENCE {
                        return None;
                    }
                    self.now = moment;
                }
            }
        }
    }

    /// The answer as text; empty if there is none.
    #[track_caller]
    pub(crate) fn say(&mut self, message: &str) -> String {
        let answer = self.answer(message.as_bytes()).expect("it ends by itself");
        String::from_utf8_lossy(&answer).into_owned()
    }

    /// The numbers of all errors that wait, oldest first.
    pub(crate) fn errors(&mut self) -> Vec<i16> {
        let codes = self.say("SYST:ERR:CODE:ALL?");
        codes.split(',').map(|code| code.parse().unwrap()).filter(|code| *code != 0).collect()
    }

    /// The number of the one error that a message gives; 0 if none.
    #[track_caller]
    pub(crate) fn refusal(&mut self, message: &str) -> i16 {
        self.say("*CLS");
        let answer = self.say(message);
        let errors = self.errors();
        assert!(
            errors.len() <= 1 && (errors.is_empty() || answer.is_empty()),
            "{message}: {errors:?} {answer}"
        );
        errors.first().copied().unwrap_or(0)
    }

    pub(crate) fn pass(&mut self, seconds: f64) {
        self.now = self.now.after(Duration::from_secs_f64(seconds));
    }
}

impl Talk<Analyser> {
    /// Switches it off and on.
    pub(crate) fn power_cycle(&mut self) {
        let bench = read(WHOLE).unwrap();
        let device = Analyser::new(bench.analyser.as_ref().unwrap(), bench.seed, self.world.clone());
        self.instrument.power_cycle(device, self.now);
    }
}

pub(crate) fn analyser() -> Talk<Analyser> {
    Talk::with(|bench, world| Analyser::new(bench.analyser.as_ref().unwrap(), bench.seed, world))
}

pub(crate) fn power_meter() -> Talk<PowerMeter> {
    Talk::with(|bench, world| PowerMeter::new(bench.power_meter.as_ref().unwrap(), bench.seed, world))
}

pub(crate) fn supply() -> Talk<Supply> {
    Talk::with(|bench, world| Supply::new(bench.supply.clone().unwrap(), world, false))
}

pub(crate) fn relay() -> Talk<Relay> {
    Talk::with(|bench, world| Relay::new(bench.relay.clone().unwrap(), world, Wired::Key(1)))
}

pub(crate) fn unit_control() -> Talk<UnitControl> {
    Talk::with(|_, world| UnitControl::new(world))
}
