//! What is wired, for the record.

use spurline_path::Part;
use spurline_record::{LaidKey, LaidPart, LaidSupply, LaidSwitch, LaidWay, Layout, Role};
use spurline_units::{Db, Range};

use crate::job::Job;
use crate::way::{Branch, SwitchSet};

impl Job {
    /// What is wired, as a drawing or a list of it needs to know.
    #[must_use]
    pub fn layout(&self) -> Layout {
        let bench = &self.bench;
        let used = [&self.carrier_way().name, &self.harmonics_way().name];
        let meter = bench.meter.iter().map(|branch| LaidWay {
            name: "power meter".to_owned(),
            ends_at: Role::PowerMeter,
            used: true,
            parts: self.own_parts(branch),
            set: Vec::new(),
        });
        let to_analyser = bench.ways.iter().map(|way| LaidWay {
            name: way.name.clone(),
            ends_at: Role::Analyser,
            used: used.contains(&&way.name),
            parts: self.own_parts(&way.branch),
            set: way.set.iter().map(laid_switch).collect(),
        });
        let common = &self.carrier_way().branch.path.parts[..bench.common];
        Layout {
            common: common.iter().map(|part| self.laid(part)).collect(),
            ways: meter.chain(to_analyser).collect(),
            key: Some(LaidKey {
                contact: bench.key.relay().map(|relay| relay.contact),
                line: bench.key.relay().is_none().then(|| bench.key.words()),
                opens_by_itself: bench.key.relay().and_then(|relay| relay.opens_by_itself),
                longest: self.plan.key.longest,
                rest: self.plan.key.rest,
            }),
            supplies: self
                .plan
                .supplies
                .iter()
                .map(|supply| LaidSupply { name: supply.name.clone(), set: supply.set, limit: supply.limit })
                .collect(),
            calibrations: bench.laid_calibrations(),
        }
    }

    fn own_parts(&self, branch: &Branch) -> Vec<LaidPart> {
        branch.path.parts[self.bench.common..].iter().map(|part| self.laid(part)).collect()
    }

    fn laid(&self, part: &Part) -> LaidPart {
        let carriers = self.plan.channels.iter().map(|channel| channel.carrier);
        let losses: Vec<Db> = carriers.filter_map(|carrier| part.loss.value.at(carrier)).collect();
        let low = losses.iter().copied().reduce(Db::min);
        let high = losses.iter().copied().reduce(Db::max);
        LaidPart {
            name: part.name.clone(),
            loss: low.zip(high).and_then(|(low, high)| Range::new(low, high)),
            uncertainty: part.uncertainty.value,
            covers: part.loss.value.covered(),
            rated: part.rated,
        }
    }
}

fn laid_switch(set: &SwitchSet) -> LaidSwitch {
    LaidSwitch { name: set.name.clone(), position: set.position.clone() }
}
