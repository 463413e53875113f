//! The limits of several rules along a frequency, an offset or a power, as CSV and as a drawing.

use std::path::Path;
use std::str::FromStr;

use spurline_limits::{Question, Verdict};
use spurline_report::{Axis, Curve, limit_plot};
use spurline_units::{Dbm, Hertz, Power, Watts};

use super::Asked;
use crate::exit::Exit;
use crate::talk::{Failure, print};

/// What is swept, from one end to the other.
#[derive(Clone, Copy, Debug)]
pub(super) enum Sweep {
    Offset(Hertz, Hertz),
    At(Hertz, Hertz),
    Power(Watts, Watts),
}

impl FromStr for Sweep {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let form = || {
            format!(
                "expected `offset=0 Hz..60 kHz`, `at=1 MHz..1 GHz` or `power=10 mW..100 W`, found `{text}`"
            )
        };
        let (name, range) = text.split_once('=').ok_or_else(form)?;
        let (low, high) = range.split_once("..").ok_or_else(form)?;
        let frequency = |text: &str| text.trim().parse::<Hertz>().map_err(|error| error.to_string());
        let power =
            |text: &str| text.trim().parse::<Power>().map(Power::watts).map_err(|error| error.to_string());
        let sweep = match name.trim() {
            "offset" => Self::Offset(frequency(low)?, frequency(high)?),
            "at" => Self::At(frequency(low)?, frequency(high)?),
            "power" => Self::Power(power(low)?, power(high)?),
            _ => return Err(form()),
        };
        let (low, high) = sweep.ends();
        let least = if sweep.is_logarithmic() { f64::MIN_POSITIVE } else { 0.0 };
        if low < least || high <= low {
            return Err(format!("expected a range that rises from above zero, found `{range}`"));
        }
        Ok(sweep)
    }
}

impl Sweep {
    fn ends(self) -> (f64, f64) {
        match self {
            Self::Offset(low, high) | Self::At(low, high) => (low.get(), high.get()),
            Self::Power(low, high) => (low.get(), high.get()),
        }
    }

    const fn is_logarithmic(self) -> bool {
        matches!(self, Self::At(..) | Self::Power(..))
    }

    /// The column's name, the axis, and what its values are divided by for the drawing.
    const fn words(self) -> (&'static str, &'static str, f64) {
        match self {
            Self::Offset(..) => ("offset_hz", "offset from the carrier, kHz", 1e3),
            Self::At(..) => ("emission_hz", "frequency of the emission, MHz", 1e6),
            Self::Power(..) => ("power_w", "power of the carrier, W", 1.0),
        }
    }

    fn places(self, points: u32) -> impl Iterator<Item = f64> {
        let (low, high) = self.ends();
        let logarithmic = self.is_logarithmic();
        (0..points).map(move |point| {
            let part = f64::from(point) / f64::from(points - 1);
            if logarithmic { low * (high / low).powf(part) } else { low + (high - low) * part }
        })
    }

    fn question(self, question: &Question, place: f64) -> Option<Question> {
        match self {
            Self::Offset(..) => Some(question.at(question.carrier() + Hertz::new(place))),
            Self::At(..) => Some(question.at(Hertz::new(place))),
            Self::Power(..) => question.with_power(Watts::new(place)).ok(),
        }
    }

    pub(super) fn execute(
        self,
        question: &Question,
        asked: &[Asked],
        points: u32,
        plot: Option<&Path>,
    ) -> Result<Exit, Failure> {
        let level = |one: &Asked, place: f64| -> Option<Dbm> {
            let finding = one.rule.limit(&self.question(question, place)?, &one.facts);
            if let Verdict::Limit { level, .. } = finding.verdict { Some(level) } else { None }
        };
        let (column, label, unit) = self.words();
        let names: Vec<&str> = asked.iter().map(|one| one.rule.name()).collect();
        let mut curves: Vec<Curve> =
            names.iter().map(|name| Curve { name: (*name).to_owned(), points: Vec::new() }).collect();
        let mut text = format!("{column},{}\n", names.join(","));
        for place in self.places(points) {
            text.push_str(&place.to_string());
            for (one, curve) in asked.iter().zip(&mut curves) {
                let level = level(one, place);
                text.push_str(&level.map_or_else(|| ",".to_owned(), |level| format!(",{:.3}", level.get())));
                curve.points.push((place / unit, level));
            }
            text.push('\n');
        }
        if let Some(file) = plot {
            let axis = Axis { label: label.to_owned(), logarithmic: self.is_logarithmic() };
            let title = format!("Limits at {} for a carrier of {}", question.carrier(), question.power());
            let Some(svg) = limit_plot(&title, &axis, &curves) else {
                return Err(Failure::Usage {
                    message: "--plot: no rule has a limit anywhere along the sweep".to_owned(),
                    advice: "ask without `--sweep` for the reason: a fact may be missing".to_owned(),
                });
            };
            std::fs::write(file, svg).map_err(|error| Failure::Usage {
                message: format!("--plot: {} cannot be written: {error}", file.display()),
                advice: "name a file in a folder that exists".to_owned(),
            })?;
        }
        print(text.as_bytes())?;
        Ok(Exit::Good)
    }
}
