//! How a power goes with time: constant, or in which way it is not.

use std::f64::consts::TAU;
use std::fmt;

use spurline_record::Acquisition;
use spurline_units::{Db, Dbm, Hertz, Seconds};

use super::{power_mean, variation};

/// How the carrier goes with time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Course {
    /// It stays where it is.
    Constant,
    /// It comes and goes.
    OnAndOff {
        /// The share of time for which it is there.
        share: f64,
    },
    /// It goes up and down regularly.
    Swinging {
        /// From the lowest to the highest.
        by: Db,
        /// How often.
        at: Hertz,
    },
    /// It falls all the time.
    Falling(Db),
    /// It rises all the time.
    Rising(Db),
    /// None of these.
    Unsteady(Db),
}

/// Below its highest by this much a carrier is not there.
const OFF_DB: f64 = 15.0;
/// So many points are averaged before they are held against each other.
const BLOCK: usize = 20;
/// A swing that explains this share of all that varies is one.
const SWINGS: f64 = 0.5;
/// Points of noise alone scatter; of a thousand the extremes lie so many standard deviations apart.
const EXTREMES: f64 = 7.0;

impl Course {
    /// What a look in zero span shows, and how far its blocks of points vary; `scatter` is what noise alone makes of a
    /// single point, `allowed` what may vary.
    pub(crate) fn of(look: &Acquisition, scatter: Db, allowed: Db) -> Option<(Self, Db)> {
        let levels: Vec<f64> = look.sweeps.first()?.levels.iter().copied().map(f64::from).collect();
        let highest = levels.iter().copied().reduce(f64::max)?;
        let on = levels.iter().filter(|level| **level > highest - OFF_DB).count();
        let blocks: Vec<f64> = levels.chunks(BLOCK).map(mean).collect();
        let variation = extent(&blocks);
        if on < levels.len() {
            let share = on as f64 / levels.len() as f64;
            return Some((Self::OnAndOff { share }, extent(&levels)));
        }
        let noise = scatter * EXTREMES;
        if extent(&levels) <= allowed + noise && variation <= allowed + noise / (BLOCK as f64).sqrt() {
            return Some((Self::Constant, variation));
        }
        Some((way(&levels, &blocks, look.settings.sweep_time), variation.max(extent(&levels) - noise)))
    }
}

/// The mean power of what comes and goes while it is there.
pub(crate) fn level_while_on(look: &Acquisition) -> Option<Dbm> {
    let levels: Vec<f64> = look.sweeps.first()?.levels.iter().copied().map(f64::from).collect();
    let highest = levels.iter().copied().reduce(f64::max)?;
    let on: Vec<f64> = levels.into_iter().filter(|level| *level > highest - OFF_DB).collect();
    Some(Dbm::new(power_mean(on.into_iter())))
}

fn way(levels: &[f64], blocks: &[f64], time: Seconds) -> Course {
    let by = extent(levels);
    let trend = blocks.last().zip(blocks.first()).map_or(0.0, |(last, first)| last - first);
    let against = blocks.windows(2).filter(|pair| (pair[1] - pair[0]) * trend < 0.0).count();
    if trend.abs() > 0.7 * extent(blocks).get() && against * 5 < blocks.len() {
        return if trend < 0.0 { Course::Falling(Db::new(-trend)) } else { Course::Rising(Db::new(trend)) };
    }
    let middle = mean(levels);
    let total: f64 = levels.iter().map(|level| (level - middle).powi(2)).sum();
    let power = |turns: usize| {
        let (mut real, mut imaginary) = (0.0, 0.0);
        for (place, level) in levels.iter().enumerate() {
            let angle = TAU * (turns * place) as f64 / levels.len() as f64;
            real += (level - middle) * angle.cos();
            imaginary += (level - middle) * angle.sin();
        }
        2.0 * (real * real + imaginary * imaginary) / levels.len() as f64
    };
    let strongest =
        (1..levels.len() / 2).map(|turns| (turns, power(turns))).max_by(|a, b| a.1.total_cmp(&b.1));
    match strongest {
        Some((turns, power)) if power >= SWINGS * total => {
            Course::Swinging { by, at: Hertz::new(turns as f64 / time.get()) }
        }
        Some(_) | None => Course::Unsteady(by),
    }
}

fn mean(levels: &[f64]) -> f64 {
    levels.iter().sum::<f64>() / levels.len().max(1) as f64
}

fn extent(levels: &[f64]) -> Db {
    variation(levels).unwrap_or_default()
}

impl fmt::Display for Course {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Constant => f.write_str("the carrier is constant"),
            Self::OnAndOff { share } => {
                write!(
                    f,
                    "the carrier comes and goes, a burst: it is there for {:.0} % of the time",
                    share * 100.0
                )
            }
            Self::Swinging { by, at } if mains(*at) => {
                write!(f, "the carrier swings by {by} at about {at:.0}: hum of the mains")
            }
            Self::Swinging { by, at } => {
                write!(f, "the carrier swings by {by} at about {at:.0}: amplitude modulation")
            }
            Self::Falling(by) => {
                write!(f, "the carrier falls by {by} within the look: droop, or a supply that gives way")
            }
            Self::Rising(by) => write!(f, "the carrier rises by {by} within the look: it has not settled"),
            Self::Unsteady(by) => write!(f, "the carrier varies by {by} without order"),
        }
    }
}

/// Mains of 50 and 60 Hz, and twice that behind a rectifier.
fn mains(at: Hertz) -> bool {
    [50.0, 60.0, 100.0, 120.0].iter().any(|mains| (at.get() - mains).abs() <= 5.0)
}

#[cfg(test)]
mod tests {
    use spurline_record::{AnalyserSettings, Detector, Sweep, SweepFlags};

    use super::*;
    use crate::trace::specimen;

    fn look(level: impl Fn(f64) -> f64) -> Acquisition {
        let settings = AnalyserSettings {
            sweep_time: Seconds::new(0.2),
            detector: Detector::Sample,
            ..specimen(1001, 0.0, 300e3)
        };
        let levels = (0..1001).map(|point| level(f64::from(point) * 0.2 / 1000.0) as f32).collect();
        Acquisition {
            purpose: "zero span".to_owned(),
            at: "2024-05-01T00:00:00Z".parse().unwrap(),
            keyed: true,
            settings,
            sweeps: vec![Sweep { levels }],
            marker: None,
            flags: SweepFlags::default(),
        }
    }

    fn course(level: impl Fn(f64) -> f64) -> Course {
        Course::of(&look(level), Db::new(0.01), Db::new(0.5)).unwrap().0
    }

    fn swing(depth: f64, hertz: f64) -> impl Fn(f64) -> f64 {
        move |t| 20.0 * (1.0 + depth * (TAU * hertz * t).sin()).log10()
    }

    #[test]
    fn every_course_has_its_name() {
        assert_eq!(course(|_| -3.0), Course::Constant);
        assert!(matches!(course(|t| if t % 0.06 < 0.03 { 0.0 } else { -70.0 }),
            Course::OnAndOff { share } if (share - 0.55).abs() < 0.01));
        assert!(
            matches!(course(swing(0.3, 1000.0)), Course::Swinging { at, .. } if (at.get() - 1000.0).abs() < 6.0)
        );
        let hum = course(swing(0.1, 100.0));
        assert!(hum.to_string().contains("hum"), "{hum}");
        assert!(matches!(course(|t| -6.0 * t), Course::Falling(by) if by.get() > 1.0));
        assert!(matches!(course(|t| 6.0 * t), Course::Rising(_)));
    }

    /// 0.02 dB of noise in each point, or a drift of a tenth of a decibel, is no fault.
    #[test]
    fn what_is_small_is_constant() {
        assert_eq!(course(|t| 0.02 * (1e7 * t).sin()), Course::Constant);
        assert_eq!(course(|t| -0.5 * t), Course::Constant);
    }
}
