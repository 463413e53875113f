//! Something else is on the air where the harmonic is: what is read is not the unit's alone.

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
