//! What plan and bench must agree on for silence, standby and the series over supply and time.

use spurline_document::{Reader, Span, nearest};
use spurline_path::PathError;
use spurline_units::{Db, Hertz, Range};

use crate::bench::{Bench, first_line};
use crate::measure::{Silence, Standby, SupplySeries};
use crate::model::Plan;
use crate::way::Way;

/// A pad that sends back a hundredth of the power or less, whatever stands behind it, is a load (common practice).
const LOAD: Db = Db::new(10.0);

/// Units are made for a battery while it is charged, 14.4 V for 12 V, and hardly for more (common practice).
const MOST_ABOVE: f64 = 1.3;

/// Notes what does not fit; `carrier` and `harmonics` are the ways that the plan uses.
pub(crate) fn check(reader: &mut Reader, plan: &Plan, bench: &Bench, [carrier, harmonics]: [&Way; 2]) {
    if let Some(silence) = &plan.silence {
        check_silence(reader, plan, silence, bench, carrier);
    }
    if let Some(standby) = &plan.measure.standby {
        check_standby(reader, standby, bench, harmonics);
    }
    if let Some(series) = &plan.supply_series {
        check_series(reader, plan, series);
    }
}

fn check_silence(reader: &mut Reader, plan: &Plan, silence: &Silence, bench: &Bench, way: &Way) {
    for (frequency, span) in &silence.frequencies {
        if let Some(why) = out_of_reach(bench, way, *frequency) {
            reader
                .mistake(*span, why)
                .hint("where the unit must be silent, path and analyser must be able to show it");
        } else if !bench.silence_into_load && !is_load(bench, way, *frequency) {
            reader
                .mistake(
                    *span,
                    format!(
                        "the unit would be keyed at {frequency} into what may be no load: the parts common to all \
                         paths lose less than {LOAD} there"
                    ),
                )
                .hint(
                    "put a pad first, or say `silence_into_load: true` in the bench file if the first part is a load",
                );
        }
    }
    for (band, span) in &silence.bands {
        let ends = [band.low(), band.high()];
        if let Some(why) = ends.into_iter().find_map(|end| out_of_reach(bench, way, end)) {
            reader.mistake(*span, why).hint("name a band that path and analyser cover");
        }
    }
    if let Some((name, span)) = &silence.power {
        let known: Vec<&str> = plan
            .channels
            .iter()
            .flat_map(|channel| &channel.powers)
            .map(|power| power.name.as_str())
            .collect();
        unknown(reader, "power setting", name, *span, &known);
    }
    if let Some((_, span)) = silence.frequencies.first()
        && silence.key_for > plan.key.longest
    {
        reader
            .mistake(
                *span,
                format!(
                    "the unit would be keyed for {}, longer than the {} of `key.longest`",
                    silence.key_for, plan.key.longest
                ),
            )
            .hint("write a shorter `key_for` under `silent_at`, or a longer `key: { longest: … }`");
    }
}

/// Whether what the unit is keyed into is a load, whatever comes behind.
fn is_load(bench: &Bench, way: &Way, frequency: Hertz) -> bool {
    let common = &way.branch.path.parts[..bench.common.min(way.branch.path.parts.len())];
    let losses = common.iter().map(|part| part.loss.value.at(frequency));
    losses.map(|loss| loss.unwrap_or_default()).fold(Db::default(), |sum, loss| sum + loss) >= LOAD
}

fn check_standby(reader: &mut Reader, standby: &Standby, bench: &Bench, harmonics: &Way) {
    let way = match &standby.path {
        Some((name, span)) => {
            let known: Vec<&str> = bench.ways.iter().map(|way| way.name.as_str()).collect();
            unknown(reader, "path", name, *span, &known);
            let Some(way) = bench.way(name) else { return };
            if way.into_load {
                reader
                    .mistake(
                        *span,
                        format!(
                            "on the path `{name}` the unit is on a load: nothing of it reaches the analyser"
                        ),
                    )
                    .hint("name a path that the unit is on");
            }
            way
        }
        None => bench.way("standby").unwrap_or(harmonics),
    };
    let range: Range<Hertz> = standby.range;
    if let Some(why) = [range.low(), range.high()].into_iter().find_map(|end| out_of_reach(bench, way, end)) {
        reader.mistake(standby.span, why).hint("look through a range that path and analyser cover");
    }
}

fn check_series(reader: &mut Reader, plan: &Plan, series: &SupplySeries) {
    let supplies: Vec<&str> = plan.supplies.iter().map(|supply| supply.name.as_str()).collect();
    unknown(reader, "supply", &series.of.0, series.of.1, &supplies);
    if let Some(supply) = plan.supplies.iter().find(|supply| supply.name == series.of.0) {
        let (highest, usual) = (series.from.max(series.to), supply.set);
        if highest.get() > usual.get() * MOST_ABOVE {
            reader
                .mistake(
                    series.of.1,
                    format!(
                        "the series would go up to {highest}, more than {MOST_ABOVE} times the {usual} that `{}` is set to",
                        supply.name
                    ),
                )
                .hint("too high a voltage destroys a unit: if it bears that, name a supply of the plan with a higher `set`");
        }
    }
    let channels: Vec<&str> = plan.channels.iter().map(|channel| channel.name.as_str()).collect();
    if let Some((name, span)) = &series.channel {
        unknown(reader, "channel", name, *span, &channels);
    }
    if let Some((name, span)) = &series.power {
        let channel = match &series.channel {
            Some((channel, _)) => plan.channels.iter().find(|known| known.name == *channel),
            None => plan.channels.first(),
        };
        if let Some(channel) = channel {
            let known: Vec<&str> = channel.powers.iter().map(|power| power.name.as_str()).collect();
            unknown(reader, "power setting", name, *span, &known);
        }
    }
}

/// Notes a name that leads nowhere.
fn unknown(reader: &mut Reader, what: &str, name: &str, span: Span, known: &[&str]) {
    if known.contains(&name) {
        return;
    }
    let near = nearest(name, known).map(|near| format!("did you mean `{near}`?"));
    let all = if known.is_empty() {
        format!("the plan names no {what}")
    } else {
        format!("there are: {}", known.join(", "))
    };
    reader.mistake(span, format!("there is no {what} `{name}`")).hint(near.unwrap_or(all));
}

/// Why a frequency is out of reach of a path or of the analyser, if it is.
fn out_of_reach(bench: &Bench, way: &Way, frequency: Hertz) -> Option<String> {
    let reached = |error: PathError| first_line(&error);
    let beyond = || bench.beyond_analyser(frequency, Hertz::new(0.0));
    way.branch.path.loss_at(frequency).err().map(reached).or_else(beyond)
}
