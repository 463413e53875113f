//! Where the tone comes from: an audio generator, or a person.

use std::time::Duration;

use spurline_plan::TONE_SETTLE;
use spurline_units::{Hertz, Volts};

use super::operator::ToneWanted;
use crate::fault::RunFault;
use crate::keyed::beating;
use crate::rack::Rack;
use crate::scope::Measuring;

impl Measuring<'_, '_> {
    /// Whether the tone can be changed while the unit is keyed.
    pub(crate) fn sets_tones_itself(&self) -> bool {
        self.rack.audio.is_some()
    }

    /// Has a tone given to the microphone input; with `keyed` the lease is kept alive meanwhile.
    pub(crate) async fn tone_on(
        &mut self,
        frequency: Hertz,
        level: Volts,
        keyed: bool,
    ) -> Result<(), RunFault> {
        if let Some(audio) = &mut self.rack.audio {
            let work = audio.give(frequency, level);
            let given = if keyed { beating(self.key, self.clock, work).await? } else { work.await };
            given?;
        } else {
            self.ask_operator(Some(ToneWanted { frequency, level })).await?;
        }
        self.settled(TONE_SETTLE, keyed).await
    }

    async fn settled(&self, span: Duration, keyed: bool) -> Result<(), RunFault> {
        let wait = self.clock.sleep(span);
        if keyed {
            beating(self.key, self.clock, wait).await?;
        } else {
            wait.await;
        }
        Ok(())
    }

    /// Has the tone taken away again.
    pub(crate) async fn tone_away(&mut self) -> Result<(), RunFault> {
        if self.rack.audio.is_some() { tone_off(self.rack).await } else { self.ask_operator(None).await }
    }

    /// Asks the operator, with the key up.
    async fn ask_operator(&mut self, wanted: Option<ToneWanted>) -> Result<(), RunFault> {
        self.doing("ask the operator for a tone")?;
        let Some(operator) = &mut self.rack.operator else { return Err(RunFault::NobodyForTone) };
        let answered = operator.set_tone(wanted).await;
        // Whoever is not there any more cannot have left the tone on for the next run either.
        if !answered && wanted.is_some() {
            return Err(RunFault::NobodyForTone);
        }
        // A person takes their time, and links die meanwhile.
        self.rack.check().await
    }
}

/// Switches the audio generator's output off, if there is one.
pub(crate) async fn tone_off(rack: &mut Rack) -> Result<(), RunFault> {
    match &mut rack.audio {
        Some(audio) => Ok(audio.off().await?),
        None => Ok(()),
    }
}
