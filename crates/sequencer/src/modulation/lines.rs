//! From the trace of a carrier with a tone to its lines, and from those to deviation or depth.

use spurline_judge::{
    COVERAGE, Distribution, HertzBudget, ModulatedLine, ToneFit, am_depth, carrier_null, index_near_null,
    tone_index,
};
use spurline_plan::{Job, Modulation, ModulationFact, stated};
use spurline_record::{Acquisition, Role};
use spurline_units::{Db, Hertz};

use crate::trace;

/// A carrier's lines by their distance in tones, as voltages in the root of milliwatts.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Comb {
    /// The carrier's frequency.
    pub(crate) carrier: Hertz,
    /// Below and above it; the carrier twice.
    pub(crate) pairs: Vec<[f64; 2]>,
    /// The noise between them.
    pub(crate) floor: f64,
}

/// A deviation or a depth as it was seen in one look.
#[derive(Clone, Debug)]
pub(crate) struct Seen {
    pub(crate) fact: ModulationFact,
    /// In hertz, or as a share.
    pub(crate) figure: f64,
    /// What is uncertain about it: in hertz, or in hundredths where it is a depth.
    pub(crate) budget: HertzBudget,
    /// What the lines are that a single tone does not make.
    pub(crate) complaint: Option<String>,
    pub(crate) remarks: Vec<String>,
    /// The power of all lines, as a level at the analyser's input.
    pub(crate) level: f64,
}

/// Voltage that a filter lets through from the strongest line to one ten bandwidths away: see `tone_look`.
const LEAKS: f64 = 3e-4;
/// A line is looked for within so many bandwidths of where it should be.
const WITHIN: f64 = 1.0;
/// Noise is taken from farther than this from any line, in bandwidths.
const GUARD: f64 = 3.0;
/// Both sides of a line differ by more than this: the amplitude goes with the tone as well (common practice).
const ASYMMETRY_DB: f64 = 1.0;
/// Only lines so far below the strongest are compared side by side.
const STRONG_DB: f64 = 20.0;
/// What is left at the lines of one tone is of the order of their uncertainties; from here on they are others.
const MISFIT: f64 = 4.0;
/// A second pair of sidebands of amplitude modulation, so far below the first, is distortion (common practice: 10 %).
const DISTORTED_DB: f64 = 20.0;
/// A carrier this far down is near one of its nulls, by which the index can be checked without any level.
const NULL_DB: f64 = 20.0;
/// Nulls that a unit for speech can come to.
const NULLS: u32 = 3;
/// Below this index or depth nothing modulates the carrier.
pub(crate) const NOTHING: f64 = 0.02;

/// The lines of a look, `highest` to either side.
pub(crate) fn comb(look: &Acquisition, tone: Hertz, highest: u32) -> Option<Comb> {
    let settings = &look.settings;
    let levels = trace::mean_power(&look.sweeps);
    let middle = trace::centre_of(&levels, settings)?.get();
    let (tone, rbw) = (tone.get(), settings.rbw.get());
    let first = settings.frequency_of(0).get();
    let spacing = settings.spacing().get();
    let place = |hertz: f64| {
        let place = ((hertz - first) / spacing).round();
        (place >= 0.0 && (place as usize) < levels.len()).then_some(place as usize)
    };
    let power = |hertz: f64| place(hertz).map_or(0.0, |place| 10f64.powf(levels[place] / 10.0));
    let orders = || -i64::from(highest)..=i64::from(highest);
    let whole = |carrier: f64| orders().map(|order| power(carrier + order as f64 * tone)).sum::<f64>();
    // The middle of the power is the carrier, but for what one side has more: the comb fits best where it is.
    let steps = (tone / 2.0 / spacing).ceil() as i64;
    let carrier = (-steps..=steps)
        .map(|step| middle + step as f64 * spacing)
        .max_by(|one, other| whole(*one).total_cmp(&whole(*other)))?;
    let voltage = |order: i64| {
        let at = carrier + order as f64 * tone;
        let near = levels
            .iter()
            .enumerate()
            .filter(|(point, _)| (settings.frequency_of(*point).get() - at).abs() <= WITHIN * rbw);
        near.map(|(_, level)| 10f64.powf(level / 20.0)).fold(0.0, f64::max)
    };
    let pairs = (0..=i64::from(highest)).map(|order| [voltage(-order), voltage(order)]).collect();
    let beside = |point: usize| {
        let apart = (settings.frequency_of(point).get() - carrier) / tone;
        (apart - apart.round()).abs() * tone > GUARD * rbw
    };
    let mut noise: Vec<f64> =
        levels.iter().enumerate().filter(|(point, _)| beside(*point)).map(|(_, level)| *level).collect();
    noise.sort_by(f64::total_cmp);
    let floor = noise.get(noise.len() / 2).map_or(0.0, |level| 10f64.powf(level / 20.0));
    Some(Comb { carrier: Hertz::new(carrier), pairs, floor })
}

impl Comb {
    fn strongest(&self) -> f64 {
        self.pairs.iter().flatten().copied().fold(0.0, f64::max)
    }

    /// The lines with both sides taken together, each as uncertain as the relative uncertainty, the noise and what the
    /// filter leaks make it.
    fn lines(&self, relative: f64) -> Vec<ModulatedLine> {
        let absolute = self.floor + LEAKS * self.strongest();
        let line = |(order, pair): (u32, &[f64; 2])| {
            let voltage = (pair[0] + pair[1]) / 2.0;
            ModulatedLine { order, voltage, standard: (relative * voltage).hypot(absolute) }
        };
        (0..).zip(&self.pairs).map(line).collect()
    }

    /// By how much the sides of a strong line differ at most.
    fn asymmetry(&self) -> Db {
        let least = self.strongest() * 10f64.powf(-STRONG_DB / 20.0);
        let strong = self.pairs.iter().filter(|pair| pair[0].min(pair[1]) > least);
        let apart = strong.map(|pair| 20.0 * (pair[1] / pair[0]).log10().abs());
        Db::new(apart.fold(0.0, f64::max))
    }

    /// The power of all lines in dBm.
    fn level(&self) -> f64 {
        let carrier = self.pairs.first().map_or(0.0, |pair| pair[0] * pair[0]);
        let sides: f64 = self.pairs.iter().skip(1).flatten().map(|voltage| voltage * voltage).sum();
        10.0 * (carrier + sides).log10()
    }
}

/// What a look says of a modulation by a tone; `None` if there is no trace.
pub(crate) fn seen(
    job: &Job,
    look: &Acquisition,
    tone: Hertz,
    fact: ModulationFact,
    highest: u32,
) -> Option<Seen> {
    let comb = comb(look, tone, highest)?;
    let scale = scale(job);
    match fact {
        ModulationFact::Deviation => deviation(job, &comb, tone, scale),
        ModulationFact::Depth => depth(&comb, scale),
    }
}

/// The standard uncertainty of a voltage over another on one trace, and the source of it.
struct Scale {
    relative: f64,
    source: String,
}

/// All lines are seen in one sweep with the same settings within some tens of kilohertz: of the analyser's accuracy only
/// that of its scale is between them.
fn scale(job: &Job) -> Scale {
    let profile = job.bench.analyser_profile();
    let file = job.instrument(Role::Analyser).profile.source.name();
    let figure = profile.accuracy.iter().find(|figure| figure.source.ends_with("scale_fidelity"));
    let standard = figure.map_or(Db::default(), |figure| stated(figure).standard());
    let source = figure.map_or_else(|| file.to_owned(), |figure| figure.source.clone());
    Scale { relative: standard.amplitude_ratio() - 1.0, source }
}

fn deviation(job: &Job, comb: &Comb, tone: Hertz, scale: Scale) -> Option<Seen> {
    let lines = comb.lines(scale.relative);
    let fit = tone_index(&lines)?;
    let noise_only = tone_index(&comb.lines(0.0)).map_or(0.0, |fit| fit.standard);
    let (within, of_tone) = tone_within(job);
    let of_scale = (fit.standard.powi(2) - noise_only.powi(2)).max(0.0).sqrt();
    let figure = tone.get() * fit.index;
    let budget = HertzBudget::default()
        .with(
            "lines: scale of the analyser",
            tone * of_scale,
            Distribution::Standard,
            format!("{} by the lines' slopes against the index", scale.source),
        )
        .with(
            "lines: noise and the filter's skirt",
            tone * noise_only,
            Distribution::Standard,
            "floor between the lines, and a line ten bandwidths away",
        )
        .with("frequency of the tone", Hertz::new(figure * within), Distribution::Rectangular, of_tone);
    let complaint = (fit.misfit > MISFIT).then(|| {
        format!(
            "the lines are not those of one tone of {tone} in frequency: they differ from its lines by {:.0} times \
             their uncertainty",
            fit.misfit
        )
    });
    let mut remarks = vec![lines_in_words(comb, &fit)];
    let asymmetry = comb.asymmetry();
    if asymmetry.get() > ASYMMETRY_DB {
        remarks.push(format!(
            "lines below and above the carrier differ by up to {asymmetry:.1}: the amplitude goes with the tone as well; \
             the mean of both sides is taken"
        ));
    }
    remarks.extend(null_check(&fit, comb, tone, &budget));
    Some(Seen { fact: ModulationFact::Deviation, figure, budget, complaint, remarks, level: comb.level() })
}

fn lines_in_words(comb: &Comb, fit: &ToneFit) -> String {
    let level = |pair: &[f64; 2]| 20.0 * ((pair[0] + pair[1]) / 2.0 / fit.carrier).log10();
    let levels: Vec<String> = comb.pairs.iter().map(|pair| format!("{:.2}", level(pair))).collect();
    format!(
        "lines from the carrier outwards, in dB over the carrier without modulation: {}; index {:.4}",
        levels.join(", "),
        fit.index
    )
}

/// Near a null of the carrier, how deep it is gives the index again, without the levels of other lines but the one that it
/// is held against.
fn null_check(fit: &ToneFit, comb: &Comb, tone: Hertz, budget: &HertzBudget) -> Option<String> {
    let carrier = comb.pairs.first()?[0].max(comb.floor);
    let below = Db::new(20.0 * (fit.carrier / carrier).log10());
    let n = (1..=NULLS).min_by(|one, other| {
        (carrier_null(*one) - fit.index).abs().total_cmp(&(carrier_null(*other) - fit.index).abs())
    })?;
    let (low, high) = index_near_null(below, n).filter(|_| below.get() > NULL_DB)?;
    let at = tone * carrier_null(n);
    let expanded = budget.combined() * COVERAGE;
    let (low, high) = (tone * low, tone * high);
    let found = tone * fit.index;
    let agrees = found + expanded >= low && found - expanded <= high;
    let word = if agrees { "agrees" } else { "does not agree" };
    Some(format!(
        "null {n} of the carrier lies at {at:.1} of deviation: the carrier is {below:.1} down, so that the deviation is \
         from {low:.1} to {high:.1}; that {word} with the lines"
    ))
}

fn depth(comb: &Comb, scale: Scale) -> Option<Seen> {
    let [carrier, first, second] = [0, 1, 2].map(|order| comb.pairs.get(order).copied().unwrap_or_default());
    let found = am_depth(carrier[0], first, scale.relative)?;
    let hundredths = |share: f64| Hertz::new(share * 100.0);
    let budget = HertzBudget::default()
        .with(
            "lines: scale of the analyser",
            hundredths(found.standard),
            Distribution::Standard,
            format!("{} of both sidebands and the carrier", scale.source),
        )
        .with(
            "lines: noise and the filter's skirt",
            hundredths((comb.floor + LEAKS * comb.strongest()) * 2f64.sqrt() / carrier[0]),
            Distribution::Standard,
            "floor between the lines, and a line ten bandwidths away",
        );
    let relative = |pair: [f64; 2]| 20.0 * ((pair[0] + pair[1]) / 2.0 / carrier[0]).log10();
    let mut remarks = vec![format!(
        "sidebands {:.2} and {:.2} dB over the carrier",
        20.0 * (first[0] / carrier[0]).log10(),
        20.0 * (first[1] / carrier[0]).log10()
    )];
    let apart = relative(first) - relative(second);
    if found.depth > NOTHING && apart < DISTORTED_DB {
        remarks.push(format!(
            "the second pair of sidebands is only {apart:.1} dB below the first: the envelope clips or is distorted, or \
             the frequency swings as well"
        ));
    }
    let asymmetry = 20.0 * (first[1] / first[0]).log10().abs();
    let complaint = (found.depth > NOTHING && asymmetry > 2.0 * ASYMMETRY_DB).then(|| {
        format!("the sidebands differ by {asymmetry:.1} dB: what swings is not the amplitude alone")
    });
    Some(Seen {
        fact: ModulationFact::Depth,
        figure: found.depth,
        budget,
        complaint,
        remarks,
        level: comb.level(),
    })
}

/// How far the tone may be from what it should be, and where that stands.
fn tone_within(job: &Job) -> (f64, String) {
    /// A tone that somebody else sets (common practice).
    const UNKNOWN: f64 = 1e-3;
    match job.bench.audio_generator().filter(|_| job.plan.set_up.is_some()) {
        Some(profile) => (profile.frequency_within.get(), profile.frequency_source.clone()),
        None => (UNKNOWN, "assumed for a generator that the bench does not control".to_owned()),
    }
}

impl Seen {
    /// Whether anything modulates the carrier.
    pub(crate) fn is_there(&self, tone: Hertz) -> bool {
        match self.fact {
            ModulationFact::Deviation => self.figure > NOTHING * tone.get(),
            ModulationFact::Depth => self.figure > NOTHING,
        }
    }

    /// The modulation that it is.
    pub(crate) fn modulation(&self, tone: Hertz) -> Modulation {
        match self.fact {
            ModulationFact::Deviation => Modulation::Tone { deviation: Hertz::new(self.figure), tone },
            ModulationFact::Depth => Modulation::Am { depth: self.figure.min(1.0), tone },
        }
    }

    /// A figure of its kind, for people.
    pub(crate) fn show(&self, figure: f64) -> String {
        show(self.fact, figure)
    }
}

/// A deviation or a depth for people.
pub(crate) fn show(fact: ModulationFact, figure: f64) -> String {
    match fact {
        ModulationFact::Deviation => format!("{:.2}", Hertz::new(figure.round())),
        ModulationFact::Depth => format!("{:.1} %", figure * 100.0),
    }
}

#[cfg(test)]
mod tests {
    use std::f64::consts::LOG10_2;

    use spurline_record::Sweep;

    use super::*;
    use crate::trace::specimen;

    /// A trace of the Bessel lines of an index, through a Gaussian filter, on a floor.
    fn look(index: f64, off: f64) -> Acquisition {
        let settings = specimen(801, 14e3, 100.0);
        let voltages: Vec<(f64, f64)> = (-6..=6)
            .map(|order: i32| (off + f64::from(order) * 1e3, libm_jn(order.unsigned_abs(), index).abs()))
            .collect();
        let levels = (0..801)
            .map(|point| {
                let at = (settings.frequency_of(point) - settings.centre).get();
                let power: f64 = voltages
                    .iter()
                    .map(|(line, voltage)| {
                        voltage.powi(2) * 10f64.powf(-LOG10_2 * (2.0 * (at - line) / 100.0).powi(2))
                    })
                    .sum();
                (10.0 * (power + 1e-9).log10()) as f32
            })
            .collect();
        Acquisition {
            purpose: "modulation".to_owned(),
            at: "2024-05-01T00:00:00Z".parse().unwrap(),
            keyed: true,
            settings,
            sweeps: vec![Sweep { levels }],
            marker: None,
            flags: spurline_record::SweepFlags::default(),
        }
    }

    fn libm_jn(order: u32, index: f64) -> f64 {
        10f64.powf(spurline_judge::line_level(order, index).get() / 20.0)
    }

    /// The lines of an index of 2.5 stand at the levels that scipy 1.17.1 gives, wherever the carrier is.
    #[test]
    fn a_comb_is_found_where_it_is() {
        for off in [0.0, 140.0, -420.0] {
            let look = look(2.5, off);
            let comb = comb(&look, Hertz::new(1e3), 5).unwrap();
            assert!((comb.carrier - look.settings.centre).get() - off < 20.0, "{off}: {comb:?}");
            for (pair, expected) in comb.pairs.iter().zip([-26.306, -6.071, -7.012, -13.287, -22.641]) {
                for voltage in pair {
                    assert!((20.0 * voltage.log10() - expected).abs() < 0.1, "{off}: {comb:?}");
                }
            }
            assert!((20.0 * comb.floor.log10() - -90.0).abs() < 1.0 && comb.asymmetry().get() < 0.1);
            assert!(comb.level().abs() < 0.05);
            let fit = tone_index(&comb.lines(0.01)).unwrap();
            assert!((fit.index - 2.5).abs() < 0.01 && fit.misfit < 2.0, "{fit:?}");
        }
    }
}
