//! The analyser's own product adds to the harmonic as a voltage: with the right phase it takes away as much as it adds
//! with another. A single attenuation cannot tell, and a single step of it can be blind to it.

use super::super::run::attenuation;
use super::super::subject::Subject;
use super::{Scene, Sweep, scene};

/// How far the harmonic lies from its limit, dB.
const FROM_LIMIT: f64 = 3.0;

/// With an analyser that is as good as it is guaranteed to be.
pub(super) fn scenes(sweep: Sweep) -> Vec<Scene> {
    let sweep = match sweep {
        Sweep::Small => COARSE,
        Sweep::Whole => Steps { tenths: 1, degrees: 1 },
    };
    all(sweep, 0.0, 0.0)
}

/// How finely ratio and phase are swept.
#[derive(Clone, Copy)]
pub(super) struct Steps {
    tenths: usize,
    degrees: usize,
}

/// From a ratio of 0.5 on.
const COARSE: Steps = Steps { tenths: 9, degrees: 60 };

impl Steps {
    /// Of a scenario that differs from the blind phase in one thing only.
    pub(super) const fn of(sweep: Sweep) -> Self {
        match sweep {
            Sweep::Small => COARSE,
            Sweep::Whole => Self { tenths: 3, degrees: 5 },
        }
    }
}

/// With one that is better.
pub(super) fn better(sweep: Sweep) -> Vec<Scene> {
    const BETTER: f64 = 6.0;
    all(Steps::of(sweep), BETTER, 0.0)
}

/// Every order, side of the limit, ratio and phase; the carrier is `excess` dB stronger than the upper end of its window.
pub(super) fn all(steps: Steps, better: f64, excess: f64) -> Vec<Scene> {
    // The middle of the range is never left out.
    let tenths = (1..=20).filter(|tenths| tenths % steps.tenths == 5 % steps.tenths);
    let ratios: Vec<f64> = tenths.map(|tenths| tenths as f64 / 10.0).collect();
    let mut scenes = Vec::new();
    for order in [2, 3] {
        for above in [FROM_LIMIT, -FROM_LIMIT] {
            for ratio in &ratios {
                let name = format!("order {order}, {above:+} dB, ratio {ratio}");
                let mut first = scene(name, order, above);
                first.subject.unit.power += if excess > 0.0 { 1.0 + excess } else { 0.0 };
                if !with_own_product(&mut first.subject, order, *ratio, better) {
                    continue;
                }
                scenes.extend(in_phases(&first, steps.degrees));
            }
        }
    }
    scenes
}

/// A product that is `ratio` times as strong with the least attenuation: more of it tells the two apart.
pub(super) fn seen_through(sweep: Sweep) -> Vec<Scene> {
    // 2 dBm at the upper end of the window: with 10 dB the mixer would have more than its usual -10 dBm.
    const LEAST: f64 = 20.0;
    let (ratios, degrees): (&[f64], usize) = match sweep {
        Sweep::Small => (&[0.5, 1.4], 60),
        Sweep::Whole => (&[0.1, 0.3, 0.5, 1.0, 1.4, 2.0], 1),
    };
    let mut scenes = Vec::new();
    for order in [2, 3] {
        for above in [FROM_LIMIT, -FROM_LIMIT] {
            for ratio in ratios {
                let mut first = scene(format!("order {order}, {above:+} dB, ratio {ratio}"), order, above);
                let intercept = intercept_for(&first.subject, order, *ratio, LEAST);
                *intercepts(&mut first.subject, order) = [intercept; 2];
                scenes.extend(in_phases(&first, degrees));
            }
        }
    }
    scenes
}

/// A scene with the own products in all phases.
fn in_phases(first: &Scene, step: usize) -> impl Iterator<Item = Scene> + '_ {
    (0..360i32).step_by(step).map(|degrees| {
        let mut scene = first.clone();
        scene.subject.name = format!("{}, {degrees} degrees", first.subject.name);
        let signed = if degrees > 180 { degrees - 360 } else { degrees };
        scene.subject.analyser.phases = [f64::from(signed); 2];
        scene
    })
}

/// The intercept, as it is, that makes the own product `ratio` times as strong as the harmonic, as a voltage, with an
/// attenuation of `set` dB.
fn intercept_for(subject: &Subject, order: u32, ratio: f64, set: f64) -> f64 {
    let loss = subject.path.to_analyser();
    let level = subject.unit.level(order).expect("the scene has this harmonic");
    let own = level + 20.0 * ratio.log10();
    let mixer = subject.unit.power - loss - set;
    // At the connector: 2 P - SHI, or 3 P - 2 TOI - 20 log10(3), and what was lost before the mixer.
    match order {
        2 => 2.0 * mixer + set + loss - own,
        _ => (3.0 * mixer - 20.0 * 3f64.log10() + set + loss - own) / 2.0,
    }
}

fn intercepts(subject: &mut Subject, order: u32) -> &mut [f64; 2] {
    let analyser = &mut subject.analyser;
    if order == 2 { &mut analyser.second_intercept } else { &mut analyser.third_intercept }
}

/// Gives the analyser an intercept that makes its own product `ratio` times as strong as the harmonic, as a voltage,
/// at the attenuation that the forecast names; `better` is how much its guarantee understates it, dB. Whether there is
/// such an intercept: with a very bad one another attenuation would be taken.
fn with_own_product(subject: &mut Subject, order: u32, ratio: f64, better: f64) -> bool {
    for step in 0..=5 {
        let set = 10.0 * f64::from(step);
        let intercept = intercept_for(subject, order, ratio, set);
        *intercepts(subject, order) = [intercept - better, intercept];
        if attenuation(subject, order).is_ok_and(|found| found == Some(set)) {
            return true;
        }
    }
    false
}

#[cfg(test)]
mod tests {
    use super::super::Case;
    use super::*;

    /// An analyser that is 20 dB worse than it is guaranteed to be cannot be seen through today: what fools the
    /// measurement must be seen here.
    #[test]
    fn a_guarantee_that_is_not_kept_is_found_out() {
        const WORSE: f64 = -20.0;
        let scenes = |_| {
            let mut scenes = all(COARSE, WORSE, 0.0);
            scenes.retain(|scene| scene.order == 2);
            scenes
        };
        let case = Case { name: "lying", says: "", open: None, decides: false, scenes };
        let stood = case.sweep(Sweep::Small, 2);
        assert!(stood.broken.is_empty() && !stood.fooled.is_empty() && !stood.stands(), "{}", stood.words());
    }
}
