//! What a run that complies still leaves open, told beside its outcome.

use spurline_path::Loss;
use spurline_profile::Intercepts;

use crate::job::Job;

/// 47 CFR 2.1057 looks up to the tenth harmonic, and so does whoever asks for harmonics without a number.
const ORDERS: u32 = 10;

/// The carrier itself is the first order.
const LOWEST: u32 = 2;

impl Job {
    /// What keeps this plan on this bench from showing more than it shows, whatever its readings are.
    #[must_use]
    pub fn reservations(&self) -> Vec<String> {
        let mut all = Vec::new();
        let nominal = self.nominal_parts();
        if !nominal.is_empty() {
            all.push(format!(
                "one loss for all frequencies, as of a name plate, stands for `{}`: a part that was not measured over \
                 frequency may lose less at a harmonic",
                nominal.join("`, `")
            ));
        }
        if self.bench.analyser_profile().limits.intercepts == Intercepts::Typical {
            all.push(
                "the analyser's intercepts are typical figures, which prove nothing about this one: its own products are \
                 told apart by steps of the attenuator alone"
                    .to_owned(),
            );
        }
        for (name, status) in self.statuses() {
            all.extend(status.caveat().map(|caveat| format!("{caveat}: `{name}` is {status}")));
        }
        let orders = self.plan.measure.harmonics_up_to;
        if orders < LOWEST && self.plan.measure.search.is_some() {
            // They are among the lines that the search finds.
        } else if orders < LOWEST {
            all.push("no harmonics were looked for: nothing is said about them".to_owned());
        } else if orders < ORDERS {
            all.push(format!(
                "harmonics were looked for up to order {orders} only: nothing is said about those above"
            ));
        }
        all
    }

    /// The parts on the ways that are used of which only one figure is known.
    fn nominal_parts(&self) -> Vec<&str> {
        let standby = self.plan.measure.standby.as_ref().map(|_| &self.standby_way().branch);
        let branches = [&self.carrier_way().branch, &self.harmonics_way().branch].into_iter().chain(standby);
        let mut names: Vec<&str> = Vec::new();
        for part in branches.chain(&self.bench.meter).flat_map(|branch| &branch.path.parts) {
            if matches!(part.loss.value, Loss::Flat { .. }) && !names.contains(&part.name.as_str()) {
                names.push(&part.name);
            }
        }
        names
    }
}
