//! A harmonic of known level is read within its stated uncertainty; one path figure, taken at the carrier, shifts
//! every reading by what it leaves out.

use crate::bench::{Workshop, instruments, plan, simulated};

/// The unit gives 4.7 W, 36.721 dBm, and its third harmonic lies 49 dB below: 10 log10(4700) - 49.
const TRUE_LEVEL: f64 = -12.279_0;
/// A cable of 3 dB at 1 GHz whose loss goes with the root of the frequency, by its formula.
fn cable(mhz: f64) -> f64 {
    3.0 * (mhz / 1000.0).sqrt()
}

fn bench(seed: u64, branch: &str) -> String {
    let parts = format!(
        "common: [ {{ attenuator: 30 dB, over: 1 MHz..3.2 GHz, rated: 25 W, uncertainty: 0.1 dB, name: pad, vswr: 1.1 }} ]\n\
         branches:\n  analyser: [ {branch} ]\n  power_meter: [ {{ attenuator: 6 dB, over: 1 MHz..3.2 GHz, uncertainty: 0.1 dB, name: other, vswr: 1.1 }} ]\n"
    );
    let truth = simulated(seed, "").replace(
        "analyser: [ { name: splitter, pad: 6 dB, vswr: 1.1 } ]",
        "analyser: [ { name: cable, cable: 3 dB, at: 1 GHz, length: 5 m, vswr: 1.1 } ]",
    );
    [instruments(25_025, "A-0001"), parts, truth].concat()
}

fn table() -> String {
    let points: Vec<String> = (1..=32)
        .map(|step| f64::from(step) * 100.0)
        .chain([144.0, 432.0])
        .collect::<Vec<f64>>()
        .into_iter()
        .map(|mhz| (mhz as u64, format!("[{mhz} MHz, {:.4} dB]", cable(mhz))))
        .collect::<std::collections::BTreeMap<u64, String>>()
        .into_values()
        .collect();
    format!("{{ loss: [ {} ], uncertainty: 0.1 dB, name: cable, vswr: 1.1 }}", points.join(", "))
}

/// Level and expanded uncertainty of the third harmonic.
fn third(workshop: &Workshop, bench: &str) -> (f64, f64) {
    workshop.write("bench.yaml", bench);
    let called = workshop.call(&["run", "plan.yaml", "--json"]);
    let document = called.json();
    let readings = document["readings"].as_array().unwrap();
    let third = readings.iter().find(|reading| reading["order"] == 3).unwrap();
    (third["level_dbm"].as_f64().unwrap(), third["expanded_uncertainty_db"].as_f64().unwrap())
}

#[test]
fn a_known_harmonic_is_read_within_its_uncertainty() {
    let workshop = Workshop::with(&plan("144 MHz", 3), "");
    let read: Vec<(f64, f64)> = (1..=200)
        .map(|seed| {
            let (level, expanded) = third(&workshop, &bench(seed, &table()));
            (level - TRUE_LEVEL, expanded)
        })
        .collect();
    // Of 200 readings with 95 % intervals at least 181 hold the truth, but for three chances in a thousand.
    let inside = read.iter().filter(|(error, expanded)| error.abs() <= *expanded).count();
    assert!(inside >= 181, "{inside} of 200");
    // A U that is far wider than the errors would hold the truth as well, and say nothing.
    let rms = (read.iter().map(|(error, _)| error * error).sum::<f64>() / 200.0).sqrt();
    let expanded = read.iter().map(|(_, expanded)| expanded).sum::<f64>() / 200.0;
    assert!(expanded < 1.3 * 2.0 * rms, "U is {expanded} on average, the errors' rms {rms}");
}

/// 3 dB x (sqrt(0.432) - sqrt(0.144)), by hand: the cable's loss at 432 MHz less that at 144 MHz.
const LEFT_OUT: f64 = 0.833_4;

#[test]
fn one_path_figure_shifts_the_reading_by_what_it_leaves_out() {
    let workshop = Workshop::with(&plan("144 MHz", 3), "");
    let at_carrier = format!(
        "{{ attenuator: {:.4} dB, over: 1 MHz..3.2 GHz, uncertainty: 0.1 dB, name: cable, vswr: 1.1 }}",
        cable(144.0)
    );
    for seed in 1..=5 {
        let (right, _) = third(&workshop, &bench(seed, &table()));
        let (wrong, _) = third(&workshop, &bench(seed, &at_carrier));
        assert!((right - wrong - LEFT_OUT).abs() < 0.02, "seed {seed}: {right} and {wrong}");
    }
}

/// Below the carrier, in dB, by order: some of them well clear of the noise, some at its edge, some in it.
const WEAK: [(u64, f64); 7] = [(2, 60.0), (3, 66.0), (4, 71.0), (5, 74.0), (6, 77.0), (7, 80.0), (8, 90.0)];

/// Near the noise the highest of many points reads too high. What is given as a value must still lie within its U, and
/// what is given as a bound must hold the truth below it.
#[test]
fn weak_lines_are_read_within_their_uncertainty_or_bounded() {
    const SEEDS: u64 = 25;
    let workshop = Workshop::with(&plan("144 MHz", 8), "");
    let weak: Vec<String> = WEAK.iter().map(|(order, below)| format!("{order}: {below} dB")).collect();
    let (mut values, mut inside, mut bounds) = (0, 0, 0);
    for seed in 1..=SEEDS {
        let bench = bench(seed, &table()).replace("2: 60 dB, 3: 49 dB", &weak.join(", "));
        workshop.write("bench.yaml", &bench);
        let document = workshop.call(&["run", "plan.yaml", "--json"]).json();
        for (order, below) in WEAK {
            let readings = document["readings"].as_array().unwrap();
            let reading = readings.iter().find(|reading| reading["order"] == order).unwrap();
            let level = reading["level_dbm"].as_f64().unwrap();
            let expanded = reading["expanded_uncertainty_db"].as_f64().unwrap();
            // 4.7 W is 36.721 dBm.
            let truth = 10.0 * 4700f64.log10() - below;
            if reading["bound"].as_bool().unwrap() {
                bounds += 1;
                assert!(truth <= level + expanded, "seed {seed}: {reading}");
            } else {
                values += 1;
                inside += u32::from((level - truth).abs() <= expanded);
            }
        }
    }
    // Of n values with 95 % intervals fewer than n - 0.05 n - 3 sqrt(0.0475 n) inside have three chances in a thousand.
    let n = f64::from(values);
    let least = 0.95 * n - 3.0 * (0.0475 * n).sqrt();
    assert!(f64::from(inside) >= least, "{inside} of {values} values, at least {least:.0} expected");
    assert!(values > 50 && bounds > 20, "{values} values and {bounds} bounds: both are put to the test");
}
