//! Something else is on the air where the harmonic is: what is read is not the unit's alone.

use super::super::parts::Part;
use super::{Scene, Sweep, scene};

/// How far the harmonic lies from its limit, dB.
const FROM_LIMIT: f64 = 3.0;
/// How far off the other line stands, Hz.
const OFF: [f64; 3] = [0.0, 5e3, 20e3];

pub(super) fn scenes(sweep: Sweep) -> Vec<Scene> {
    let step = match sweep {
        Sweep::Small => 10,
        Sweep::Whole => 1,
    };
    let mut scenes = Vec::new();
    for above in [FROM_LIMIT, -FROM_LIMIT] {
        for against in (-20..=20).step_by(step) {
            for off in OFF {
                let mut scene = scene(String::new(), 2, above);
                let subject = &mut scene.subject;
                subject.name = format!("{above:+} dB, the other {against:+} dB, {off} Hz off");
                let level = subject.unit.level(2).expect("the scene has this harmonic");
                let frequency = subject.unit.carrier * 2.0 + off;
                subject.ambient = vec![(frequency, level - subject.path.to_analyser() + f64::from(against))];
                scenes.push(scene);
            }
        }
    }
    scenes
}

/// The same where both hardly stand out of the noise: behind so much loss that the floor comes near the limit.
pub(super) fn in_noise(sweep: Sweep) -> Vec<Scene> {
    /// Above the third order the analyser adds nothing of its own.
    const ORDER: u32 = 4;
    let step = match sweep {
        Sweep::Small => 4,
        Sweep::Whole => 1,
    };
    let mut scenes = Vec::new();
    for above in [FROM_LIMIT, -FROM_LIMIT] {
        for more in (36..=52).step_by(step) {
            for against in (-8..=8).step_by(step) {
                let mut scene = scene(String::new(), ORDER, above);
                let subject = &mut scene.subject;
                subject.name = format!("{above:+} dB, the other {against:+} dB, {more} dB of loss more");
                subject.path.analyser.push(Part::exact("pad-2", f64::from(more)));
                subject.seed = more * 100 + (against + 50) as u32;
                let level = subject.unit.level(ORDER).expect("the scene has this harmonic");
                let frequency = subject.unit.carrier * f64::from(ORDER);
                subject.ambient = vec![(frequency, level - subject.path.to_analyser() + f64::from(against))];
                scenes.push(scene);
            }
        }
    }
    scenes
}
