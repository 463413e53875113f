//! What a pair says, in words with figures.

use spurline_record::Unit;
use spurline_units::Hertz;

use super::change::{Basis, Change, Said};

/// What a reading is about, within a sentence.
pub(super) fn about(title: &str, place: &str, frequency: Hertz) -> String {
    format!("{title} at {frequency}, {place}")
}

/// A firmware by its name, or that a unit states none.
pub(super) fn stated(firmware: &str) -> &str {
    if firmware.is_empty() { "not stated" } else { firmware }
}

/// A difference with its sign.
pub(super) fn signed(unit: Unit, value: f64) -> String {
    let decimals = if unit == Unit::Db { 2 } else { 3 };
    // What is rounded to nothing has no sign.
    let step = 10f64.powi(decimals as i32);
    let value = (value * step).round() / step + 0.0;
    let shown = unit.show(value, decimals);
    if value > 0.0 { format!("+{shown}") } else { shown }
}

fn size(unit: Unit, value: f64) -> String {
    let decimals = if unit == Unit::Db { 2 } else { 3 };
    if value.is_finite() { unit.show(value, decimals) } else { "anything".to_owned() }
}

impl Change {
    /// What it says, in words with figures: never that nothing changed, only what would have been seen.
    #[must_use]
    pub fn statement(&self) -> String {
        let unit = self.unit;
        match &self.said {
            Said::Shift { shift, real: true, interval, .. } => {
                let reach = 0.5 * (interval[1] - interval[0]);
                format!("shifted by {} ± {}", signed(unit, shift.shift), size(unit, reach))
            }
            Said::Shift { detectable, .. } => {
                format!("no change larger than {} detected", size(unit, *detectable))
            }
            Said::Rise { real: true, least, .. } => {
                format!("rose above what was hidden, by at least {}", size(unit, *least))
            }
            Said::Rise { .. } => "no rise above what was hidden before detected".to_owned(),
            Said::Fall { real: true, least, .. } => {
                format!("fell by at least {}; now hidden", size(unit, -least))
            }
            Said::Fall { shift, .. } if shift.shift > 0.0 => {
                format!("now hidden: a rise of up to {} would not be seen", size(unit, shift.shift))
            }
            Said::Fall { .. } => "now hidden: no fall detected".to_owned(),
            Said::Nothing(why) => why.clone(),
        }
    }

    /// What the difference was held against, in words with figures.
    #[must_use]
    pub fn basis_words(&self) -> String {
        match &self.basis {
            _ if !self.is_compared() => String::new(),
            Basis::Repeats(parts) => {
                let parts = parts.iter().map(|(name, deviation, freedom)| {
                    let known = if freedom.is_finite() { format!(" ({freedom:.0})") } else { String::new() };
                    format!("{name} {deviation:.3} dB{known}")
                });
                format!("what does not repeat: {}", parts.collect::<Vec<_>>().join(", "))
            }
            Basis::Everything(why, en) => {
                let en = en.map_or_else(String::new, |en| format!("; E_n = {en:.2}"));
                format!("all of both uncertainties: {why}{en}")
            }
        }
    }
}
