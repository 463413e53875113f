//! The carrier's power along the voltage of the supply.

use spurline_document::Span;
use spurline_units::{Seconds, Volts};

use crate::job::Job;
use crate::model::{Channel, PowerSetting, SupplySetting};

/// Power against supply voltage, as a plan says it.
#[derive(Clone, Debug, PartialEq)]
pub struct SupplySeries {
    /// The supply whose voltage is changed, by its name in the plan.
    pub of: (String, Span),
    /// The first voltage.
    pub from: Volts,
    /// The last.
    pub to: Volts,
    /// How many voltages, both included.
    pub steps: u32,
    /// The channel, if it is not the first.
    pub channel: Option<(String, Span)>,
    /// The power setting, if it is not the channel's first.
    pub power: Option<(String, Span)>,
    /// Up to which order harmonics are read; 1 for none.
    pub harmonics_up_to: u32,
    /// The voltage from which on the power must lie in its window, if it is not the lowest of all.
    pub end_point: Option<Volts>,
}

/// One voltage of a series.
#[derive(Clone, Debug, PartialEq)]
pub struct SeriesPoint {
    /// How the supply is set.
    pub setting: SupplySetting,
    /// Whether the power is judged here.
    pub judged: bool,
}

impl SeriesPoint {
    /// What the record calls the supply here.
    #[must_use]
    pub fn label(&self) -> String {
        format!("{} at {}", self.setting.name, self.setting.set)
    }
}

impl SupplySeries {
    /// The voltages, in their order.
    pub fn voltages(&self) -> impl Iterator<Item = Volts> + '_ {
        let step = (self.to - self.from) / f64::from(self.steps.max(2) - 1);
        (0..self.steps).map(move |n| {
            // The end is what was written, not what a sum comes to.
            if n + 1 == self.steps { self.to } else { self.from + step * f64::from(n) }
        })
    }
}

/// What it takes to ask the supply for voltage and current while the unit is keyed.
pub const DRAWN_TIME: Seconds = Seconds::new(0.06);

/// A voltage this near to the end point is the end point.
const SAME_VOLTS: f64 = 1e-6;

impl Job {
    /// The points of the series, if the plan wants one.
    #[must_use]
    pub fn series_points(&self) -> Vec<SeriesPoint> {
        let Some(series) = &self.plan.supply_series else { return Vec::new() };
        let Some(supply) = self.plan.supplies.iter().find(|supply| supply.name == series.of.0) else {
            return Vec::new();
        };
        let lowest = series.end_point.unwrap_or_else(|| series.from.min(series.to));
        let mut volts: Vec<Volts> = series.voltages().collect();
        // What must hold down to the end point is looked at there, wherever the steps fall.
        let is_there = volts.iter().any(|at| (*at - lowest).get().abs() < SAME_VOLTS);
        if !is_there {
            volts.push(lowest);
            volts.sort_by(|one, other| one.get().total_cmp(&other.get()));
            if series.from > series.to {
                volts.reverse();
            }
        }
        volts
            .into_iter()
            .map(|set| SeriesPoint {
                setting: SupplySetting { set, ..supply.clone() },
                judged: set.get() >= lowest.get() - SAME_VOLTS,
            })
            .collect()
    }

    /// The channel and power setting of the series.
    #[must_use]
    pub fn series_case(&self) -> Option<(&Channel, &PowerSetting)> {
        let series = self.plan.supply_series.as_ref()?;
        let channel = match &series.channel {
            Some((name, _)) => self.plan.channels.iter().find(|channel| channel.name == *name),
            None => self.plan.channels.first(),
        }?;
        let power = match &series.power {
            Some((name, _)) => channel.powers.iter().find(|power| power.name == *name),
            None => channel.powers.first(),
        }?;
        Some((channel, power))
    }

    /// The looks at the harmonics of the series, each with its order; only those within reach.
    ///
    /// # Errors
    ///
    /// If a path does not cover the carrier.
    pub fn series_looks(
        &self,
        channel: &Channel,
        power: &PowerSetting,
    ) -> Result<Vec<(u32, crate::settings::Look)>, spurline_path::PathError> {
        let orders = self.plan.supply_series.as_ref().map_or(1, |series| series.harmonics_up_to);
        let mut looks = Vec::new();
        for order in 2..=orders.max(1) {
            let findings = self.findings_over_window(channel, power, order);
            if let crate::approach::Approach::Within { look, .. } =
                self.approach(channel, power, order, &findings)?
            {
                looks.push((order, look));
            }
        }
        Ok(looks)
    }
}
