//! A limiter ahead of the analyser's attenuator makes the same harmonic: no step of the attenuator tells it from the
//! unit's.

use super::super::parts::Part;
use super::super::subject::Subject;
use super::{Scene, Sweep, scene};

/// How far the harmonic lies from its limit, dB.
const FROM_LIMIT: f64 = 3.0;

/// What the bench file says of the limiter.
#[derive(Clone, Copy)]
enum Said {
    /// That it makes harmonics.
    Unknown,
    /// The intercepts that it has.
    Intercepts,
}

/// Both orders, both sides of the limit, ratios from 0.1 to 2, all phases, with and without guaranteed intercepts.
pub(super) fn scenes(sweep: Sweep) -> Vec<Scene> {
    let (ratios, degrees): (&[f64], usize) = match sweep {
        Sweep::Small => (&[0.5, 1.0], 60),
        Sweep::Whole => (&[0.1, 0.3, 0.5, 0.8, 1.0, 1.4, 2.0], 1),
    };
    let mut scenes = Vec::new();
    for order in [2, 3] {
        for above in [FROM_LIMIT, -FROM_LIMIT] {
            for ratio in ratios {
                for (word, said) in [("unknown", Said::Unknown), ("guaranteed", Said::Intercepts)] {
                    scenes.extend((0..360).step_by(degrees).map(|phase| {
                        let name =
                            format!("order {order}, {above:+} dB, ratio {ratio}, {word}, {phase} degrees");
                        let mut scene = scene(name, order, above);
                        with_limiter(&mut scene.subject, order, *ratio, phase, said);
                        scene
                    }));
                }
            }
        }
    }
    scenes
}

/// Puts a limiter at the analyser's input that makes `ratio` times the harmonic, as a voltage, at an angle of `phase`
/// degrees to it.
fn with_limiter(subject: &mut Subject, order: u32, ratio: f64, phase: usize, said: Said) {
    let loss = subject.path.to_analyser();
    let made = subject.unit.level(order).expect("the scene has this harmonic") + 20.0 * ratio.log10() - loss;
    let carrier = subject.unit.power - loss;
    // At its input: 2 P - SHI, or 3 P - 2 TOI - 20 log10(3). Of the other order it makes nothing to speak of.
    const GOOD: f64 = 200.0;
    let [second, third] = match order {
        2 => [2.0 * carrier - made, GOOD],
        _ => [GOOD, (3.0 * carrier - 20.0 * 3f64.log10() - made) / 2.0],
    };
    let intercepts = format!("second_intercept: {second:.6} dBm, third_intercept: {third:.6} dBm");
    let signed = if phase > 180 { phase as f64 - 360.0 } else { phase as f64 };
    subject.analyser.more += &format!(", ahead: {{ {intercepts}, phase: {signed} deg }}");
    let mut limiter = Part::exact("limiter", 0.0);
    limiter.distorts = Some(match said {
        Said::Unknown => "unknown".to_owned(),
        Said::Intercepts => format!("{{ {intercepts} }}"),
    });
    subject.path.analyser.push(limiter);
}

#[cfg(test)]
mod tests {
    use super::super::Case;
    use super::*;

    /// A limiter of which the bench file says nothing cannot be seen: what it does to a measurement must be seen here.
    #[test]
    fn a_limiter_that_nobody_tells_of_is_found_out() {
        let scenes = |sweep| {
            let mut scenes = scenes(sweep);
            scenes.retain(|scene| scene.subject.name.contains("guaranteed"));
            for limiter in scenes.iter_mut().filter_map(|scene| scene.subject.path.analyser.last_mut()) {
                limiter.distorts = None;
            }
            scenes
        };
        let case = Case { name: "untold", says: "", open: None, decides: false, scenes };
        let stood = case.sweep(Sweep::Small, 2);
        assert!(stood.broken.is_empty() && !stood.fooled.is_empty(), "{}", stood.words());
    }
}
