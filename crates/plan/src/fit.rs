//! What only plan and bench together can get wrong.

use spurline_document::{Reader, Span, nearest};
use spurline_path::PathError;
use spurline_units::Hertz;

use crate::bench::{Bench, first_line};
use crate::fit_stages;
use crate::model::Plan;
use crate::read_plan::PlanFile;
use crate::settings::CARRIER_SPAN;
use crate::way::Way;

/// Whether the plan fits the bench: the places of the ways that it uses, for the carrier and for the harmonics.
pub(crate) fn check(reader: &mut Reader, file: &PlanFile<'_>, bench: &Bench) -> Option<[usize; 2]> {
    if !file.plan.supplies.is_empty() && bench.feeding_supply().is_none() {
        let span = file.supply.map_or(file.rule.span, |node| node.span);
        reader
            .mistake(span, format!("the plan sets a supply, but the bench `{}` has none", bench.title))
            .hint("add `supply:` to the bench file, or take it out of the plan");
    }
    if let Some(node) = file.supply.filter(|_| bench.is_real() && !bench.battery_removed) {
        reader
            .mistake(node.span, "the plan feeds the unit from a supply, and nobody has stated that its battery is out")
            .hint(
                "a supply and a battery must never be in parallel. Take the battery out, then write `battery: removed` \
                 into the bench file",
            );
    }
    tuned_by_hand(reader, file, bench);
    let names = &file.plan.ways;
    let place = names.place.unwrap_or(file.rule.span);
    let carrier = way(reader, bench, names.carrier.as_ref(), "carrier", place);
    // Where neither is named, what is missing for the carrier is missing for the harmonics too: it is told once.
    let told = carrier.is_none() && names.carrier.is_none() && names.harmonics.is_none();
    // Where nothing is read by the way of the harmonics, nobody need say which it is.
    let unused = file.plan.measure.harmonics_up_to < 2 && file.plan.measure.search.is_none();
    let harmonics = if unused && names.harmonics.is_none() {
        carrier
    } else if told {
        None
    } else {
        way(reader, bench, names.harmonics.as_ref(), "harmonics", place)
    };
    let ways = [carrier?, harmonics?];
    for channel in &file.plan.channels {
        if let Some(why) = beyond(bench, &ways, channel.carrier) {
            reader.mistake(channel.carrier_span, why).hint(
                "the carrier, with the sweep about it, must be within reach of every instrument and table",
            );
        }
    }
    fit_stages::check(reader, &file.plan, bench, ways.map(|place| &bench.ways[place]));
    Some(ways)
}

/// A unit that nobody but a person tunes stays as it is for the whole of a run.
fn tuned_by_hand(reader: &mut Reader, file: &PlanFile<'_>, bench: &Bench) {
    let plan = &file.plan;
    if !bench.is_tuned_by_hand() {
        return;
    }
    let what = if plan.channels.len() > 1 || plan.channels.iter().any(|channel| channel.powers.len() > 1) {
        "has more than one channel or power setting"
    } else if plan.silence.is_some() {
        "asks for silence on other frequencies"
    } else if plan.measure.search.is_some() {
        "searches for spurious emissions, for which the unit is tuned elsewhere"
    } else {
        return;
    };
    reader
        .mistake(
            plan.channels.first().map_or(file.rule.span, |channel| channel.carrier_span),
            format!("the plan {what}, and nothing on the bench `{}` tunes the unit", bench.title),
        )
        .hint(
            "the bench file says `unit_control: operator`: write a plan of one channel and one power setting, or name \
             the unit's control port",
        );
}

/// The place of the way that a quantity is read by; without a name, of the only one on which the unit is keyed.
fn way(
    reader: &mut Reader,
    bench: &Bench,
    named: Option<&(String, Span)>,
    quantity: &str,
    place: Span,
) -> Option<usize> {
    let names: Vec<&str> = bench.ways.iter().map(|way| way.name.as_str()).collect();
    let of_leaks = quantity == "leak";
    let may = |way: &&Way| way.keyed && (of_leaks || !way.into_load);
    let keyed: Vec<&str> = bench.ways.iter().filter(may).map(|way| way.name.as_str()).collect();
    let Some((name, span)) = named else {
        if let [only] = keyed.as_slice() {
            return names.iter().position(|name| name == only);
        }
        if keyed.is_empty() {
            reader
                .mistake(place, format!("the bench `{}` inhibits the key on all its paths", bench.title))
                .hint("a path on which the unit is keyed has no `key: inhibited`");
            return None;
        }
        reader.mistake(place, format!("the plan does not say by which path the {quantity} is read")).hint(
            format!("write `use: {{ carrier: …, harmonics: … }}`; paths of this bench: {}", keyed.join(", ")),
        );
        return None;
    };
    let Some(found) = names.iter().position(|known| known == name) else {
        let near = nearest(name, &names).map(|near| format!("did you mean `{near}`?"));
        let known = format!("paths of this bench: {}", names.join(", "));
        reader
            .mistake(*span, format!("the bench `{}` has no path `{name}`", bench.title))
            .hint(near.unwrap_or(known));
        return None;
    };
    if bench.ways[found].into_load && !of_leaks {
        reader
            .mistake(
                *span,
                format!("on the path `{name}` the unit is on a load: nothing of it reaches the analyser"),
            )
            .hint(format!("paths that the unit is on: {}", keyed.join(", ")));
        return None;
    }
    if !bench.ways[found].keyed {
        reader
            .mistake(*span, format!("the bench file inhibits the key on the path `{name}`"))
            .hint(format!("paths on which the unit may be keyed: {}", keyed.join(", ")));
        return None;
    }
    Some(found)
}

/// The way on which leaks are looked for, by its place; outer `None` after a mistake.
pub(crate) fn leak_way(reader: &mut Reader, plan: &Plan, bench: &Bench) -> Option<Option<usize>> {
    let Some((name, span)) = &plan.ways.leaks else { return Some(None) };
    let found = way(reader, bench, plan.ways.leaks.as_ref(), "leak", *span)?;
    if bench.ways[found].into_load {
        return Some(Some(found));
    }
    reader
        .mistake(*span, format!("on the path `{name}` the unit is not said to be on a load"))
        .hint("in the bench file, a path that puts the unit on a load and terminates the analyser's way has `unit: into-load`");
    None
}

/// Why a carrier is out of reach, if it is.
fn beyond(bench: &Bench, ways: &[usize; 2], carrier: Hertz) -> Option<String> {
    let to_analyser = ways.iter().map(|place| &bench.ways[*place].branch);
    let reached = |error: PathError| first_line(&error);
    to_analyser
        .chain(&bench.meter)
        .find_map(|branch| branch.path.loss_at(carrier).err())
        .map(reached)
        .or_else(|| bench.beyond_analyser(carrier, CARRIER_SPAN / 2.0))
        .or_else(|| {
            let range = bench.meter_profile()?.frequency;
            (!range.contains(carrier))
                .then(|| format!("{carrier} is beyond the power meter's range, {range}"))
        })
}
