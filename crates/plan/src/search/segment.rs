//! The segments of a search: where they begin and end, what their limit is, and the sweeps that cover them.

use spurline_path::PathError;
use spurline_record::{AnalyserSettings, Detector, Preamplifier, Role};
use spurline_units::{Db, Dbm, Hertz, Seconds, Watts};

use super::front_end::{Chosen, choose, dwell};
use super::{SHARE, SearchLayout, Wanted};
use crate::budget::analyser_budget;
use crate::job::Job;
use crate::measure::Search;
use crate::model::{Channel, Modulation, PowerSetting};
use crate::settings::{Look, VIDEO, noise_at_input, reference};

/// A stretch that is swept with one bandwidth and one attenuation.
#[derive(Clone, Debug, PartialEq)]
pub struct Segment {
    /// Where it begins.
    pub from: Hertz,
    /// Where it ends.
    pub to: Hertz,
    /// The bandwidth that its limit refers to.
    pub reference: Hertz,
    /// The resolution bandwidth.
    pub rbw: Hertz,
    /// The input attenuation.
    pub attenuation: Db,
    /// The sweeps; of each, so many are held.
    pub looks: Vec<Look>,
    /// How far above the mean noise power a line must stand to be found.
    pub detect: Db,
    /// The level at the connector from which a line is found, where that is highest against its limit.
    pub found_from: Dbm,
    /// The limit there, at the stricter end of the power window; `None` where the rule has no number.
    pub limit: Option<Dbm>,
    /// The uncertainty that is known beforehand, there.
    pub expanded: Db,
}

/// Where the usual reference bandwidth changes, and what it is up to there (ITU-R SM.329).
const REFERENCE: [(f64, f64); 4] = [(150e3, 1e3), (30e6, 10e3), (1e9, 100e3), (1e12, 1e6)];
/// The gap beside the carrier over the RBW, where a Gaussian filter is 75 dB down, and over the width of the emission:
/// the spurious domain begins at 250 % of the necessary bandwidth (ITU-R SM.1541).
const GAP: f64 = 2.5;
/// The limit is asked for at so many frequencies of a segment.
const ASKED: u32 = 9;
/// Fewer points make no sweep.
const FEWEST_POINTS: u32 = 101;
/// A bucket must see a burst whole, wherever it begins.
const WHOLE: f64 = 1.05;

pub(super) fn layout(
    job: &Job,
    search: &Search,
    channel: &Channel,
    power: &PowerSetting,
) -> Result<SearchLayout, PathError> {
    let (from, to) = search.range(channel.carrier);
    let way = job.harmonics_way();
    let range = job.bench.analyser_profile().ranges.frequency;
    let covered = way.branch.path.covered();
    let (low, high) = covered.map_or((range.low(), range.high()), |covered| {
        (range.low().max(covered.low()), range.high().min(covered.high()))
    });
    let (first, last) = (from.max(low), to.min(high));
    let mut layout =
        SearchLayout { from, to, gap: Hertz::new(0.0), segments: Vec::new(), beyond: Vec::new() };
    let why = |edge: Hertz, of_analyser: Hertz| match (edge == of_analyser, covered) {
        (false, Some(covered)) => format!("beyond the tables of the path, {covered}"),
        _ => format!("beyond the analyser's range, {range}"),
    };
    let (below, above) = (why(low, range.low()), why(high, range.high()));
    if first >= last {
        layout.beyond.push((from, to, if to <= low { below } else { above }));
        return Ok(layout);
    }
    if from < first {
        layout.beyond.push((from, first, below));
    }
    let carrier = channel.carrier;
    let occupied = job.plan.modulation.occupied(1) * GAP;
    let asked = search.exclude.unwrap_or_default().max(occupied);
    for (begin, end, usual) in bands(first, last) {
        let of_rule = reference_of_rule(job, carrier, begin, end);
        let reference = of_rule.unwrap_or(usual);
        let whole = Stretch { begin, end, reference };
        let mut parts = vec![whole];
        if begin < carrier && carrier < end {
            // The gap goes by the bandwidth, which is chosen first.
            let rbw = choose_for(job, search, channel, power, &whole)?.0.rbw;
            layout.gap = asked.max(rbw * GAP);
            parts = vec![
                Stretch { end: carrier - layout.gap, ..whole },
                Stretch { begin: carrier + layout.gap, ..whole },
            ];
        }
        for part in parts.into_iter().filter(|part| part.begin < part.end) {
            layout.segments.push(segment(job, search, channel, power, &part)?);
        }
    }
    if last < to {
        layout.beyond.push((last, to, above));
    }
    Ok(layout)
}

/// A stretch with one reference bandwidth.
#[derive(Clone, Copy)]
struct Stretch {
    begin: Hertz,
    end: Hertz,
    reference: Hertz,
}

/// The stretches between two frequencies that have one usual reference bandwidth each.
fn bands(first: Hertz, last: Hertz) -> Vec<(Hertz, Hertz, Hertz)> {
    let mut bands = Vec::new();
    let mut begin = first;
    for (edge, usual) in REFERENCE {
        let end = last.min(Hertz::new(edge));
        if begin < end {
            bands.push((begin, end, Hertz::new(usual)));
            begin = end;
        }
    }
    bands
}

/// Frequencies spread over a stretch, both ends among them.
fn spread(begin: Hertz, end: Hertz) -> impl Iterator<Item = Hertz> {
    (0..ASKED).map(move |n| begin + (end - begin) * (f64::from(n) / f64::from(ASKED - 1)))
}

/// The narrowest bandwidth that the rule names in a stretch, if it names one.
fn reference_of_rule(job: &Job, carrier: Hertz, begin: Hertz, end: Hertz) -> Option<Hertz> {
    let named = |at| job.limit(carrier, Watts::new(1.0), at).ok()?.reference_bandwidth;
    // At an edge the rule may speak of the next stretch.
    let inside = (end - begin) * 1e-6;
    spread(begin + inside, end - inside).filter_map(named).reduce(Hertz::min)
}

/// The strictest limit over the power window, the loss and what is uncertain, at one frequency.
struct Asked {
    limit: Option<Dbm>,
    loss: Db,
    expanded: Db,
}

fn asked(
    job: &Job,
    channel: &Channel,
    power: &PowerSetting,
    begin: Hertz,
    end: Hertz,
) -> Result<Vec<Asked>, PathError> {
    let path = &job.harmonics_way().branch.path;
    let file = job.instrument(Role::Analyser).profile.source.name();
    let profile = job.bench.analyser_profile();
    let one = |at: Hertz| {
        let levels = [power.window.low(), power.window.high()].into_iter().filter_map(|power| {
            job.limit(channel.carrier, power.watts(), at).ok().and_then(|finding| finding.level())
        });
        let budget = analyser_budget(profile, file, path, &job.plan.unit, at, true)?;
        Ok(Asked {
            limit: levels.reduce(Dbm::min),
            loss: path.loss_at(at)?.total,
            expanded: budget.expanded(spurline_judge::COVERAGE),
        })
    };
    spread(begin, end).map(one).collect()
}

fn choose_for(
    job: &Job,
    search: &Search,
    channel: &Channel,
    power: &PowerSetting,
    stretch: &Stretch,
) -> Result<(Chosen, Vec<Asked>), PathError> {
    let asked = asked(job, channel, power, stretch.begin, stretch.end)?;
    let most = asked.iter().filter_map(|asked| Some(asked.limit? - asked.loss - asked.expanded));
    let wanted = Wanted {
        carrier_at_input: job.carrier_at_analyser(job.harmonics_way(), channel, power)?,
        most: most.reduce(Dbm::min),
        excursion: search.excursion,
    };
    let profile = job.bench.analyser_profile();
    let shortest = shortest_dwell(&job.plan.modulation);
    let width = (stretch.end - stretch.begin, stretch.reference);
    Ok((choose(profile, &wanted, width, (search.holds, shortest)), asked))
}

/// What comes and goes must be there while a point is passed.
fn shortest_dwell(modulation: &Modulation) -> Seconds {
    match modulation {
        Modulation::Burst { period, .. } => *period * WHOLE,
        Modulation::Am { tone, .. } => Seconds::new(WHOLE / tone.get()),
        Modulation::None | Modulation::Tone { .. } => Seconds::default(),
    }
}

fn segment(
    job: &Job,
    search: &Search,
    channel: &Channel,
    power: &PowerSetting,
    stretch: &Stretch,
) -> Result<Segment, PathError> {
    let (chosen, asked) = choose_for(job, search, channel, power, stretch)?;
    let profile = job.bench.analyser_profile();
    let noise = noise_at_input(profile, chosen.rbw, chosen.attenuation);
    let found = |asked: &Asked| noise + chosen.detect + asked.loss;
    let room = |asked: &Asked| asked.limit.map_or(f64::INFINITY, |limit| (limit - found(asked)).get());
    let worst = asked.iter().min_by(|one, other| room(one).total_cmp(&room(other)));
    let worst = worst.expect("a stretch is asked about");
    let level = worst.limit.map_or(noise, |limit| limit - worst.loss);
    Ok(Segment {
        from: stretch.begin,
        to: stretch.end,
        reference: stretch.reference,
        rbw: chosen.rbw,
        attenuation: chosen.attenuation,
        looks: looks(job, search, stretch, &chosen, level),
        detect: chosen.detect,
        found_from: found(worst),
        limit: worst.limit,
        expanded: worst.expanded,
    })
}

/// Sweeps of equal width, as few as points and time allow.
fn looks(job: &Job, search: &Search, stretch: &Stretch, chosen: &Chosen, expected: Dbm) -> Vec<Look> {
    let profile = job.bench.analyser_profile();
    let dwell = dwell(profile, chosen.rbw, shortest_dwell(&job.plan.modulation));
    let span = stretch.end - stretch.begin;
    let steps = span / chosen.rbw * 2.0;
    let longest = job.plan.key.longest * SHARE;
    let by_time = dwell * (steps * f64::from(search.holds)) / longest;
    let count = (steps / f64::from(profile.ranges.most_points - 1)).max(by_time).ceil().max(1.0);
    let width = span / count;
    let points =
        ((width / chosen.rbw * 2.0).ceil() as u32 + 1).clamp(FEWEST_POINTS, profile.ranges.most_points);
    let fastest = profile.ranges.sweep_factor * width.get() / chosen.rbw.get().powi(2);
    let slow = shortest_dwell(&job.plan.modulation) * f64::from(points);
    (0..count as u32)
        .map(|n| {
            let settings = AnalyserSettings {
                centre: stretch.begin + width * (f64::from(n) + 0.5),
                span: width,
                rbw: chosen.rbw,
                vbw: Hertz::new(chosen.rbw.get() * VIDEO),
                points,
                sweep_time: Seconds::new(fastest.max(slow.get())),
                detector: Detector::Peak,
                attenuation: chosen.attenuation,
                preamplifier: Preamplifier::Off,
                reference_level: reference(expected),
            };
            Look { settings, sweeps: search.holds }
        })
        .collect()
}
