//! Two steps before a real bench is keyed: everything that can be known is told, then somebody says that it may be.

use spurline_plan::{Forecast, Job, ScopeForecast};
use spurline_record::InstrumentUsed;
use spurline_report::{CAUTIONS, LOCAL_RULES, counted, paragraph};

use crate::company::Company;
use crate::failure::Failure;

/// The cautions, for a terminal.
#[must_use]
pub fn cautions() -> String {
    let lines = CAUTIONS.iter().chain([&LOCAL_RULES]).map(|caution| paragraph(&format!("  - {caution}"), 4));
    std::iter::once("cautions:".to_owned()).chain(lines).collect::<Vec<_>>().join("\n")
}

/// Tells what would be keyed on a bench that nobody has armed, and how it is armed.
pub(crate) fn refuse(
    job: &Job,
    forecast: &Forecast,
    found: &[InstrumentUsed],
    company: &mut dyn Company,
) -> Failure {
    company.say(&cautions());
    company.say(&would_be_keyed(job, forecast, found));
    Failure::Usage {
        message: "the bench is real, and nobody has said that it may key; nothing was keyed".to_owned(),
        advice:
            "look at the bench, then say `--arm` for this one run, or write `armed: true` into the bench file"
                .to_owned(),
    }
}

/// What a run would key, into what, and who answers on the bench.
fn would_be_keyed(job: &Job, forecast: &Forecast, found: &[InstrumentUsed]) -> String {
    let mut lines = vec!["what would be keyed:".to_owned()];
    if job.glimpses() {
        lines.push("  a glimpse first, unless a proof of the bench holds: 1 key-down".to_owned());
    }
    lines.extend(forecast.scopes.iter().map(scope));
    lines.extend(
        forecast
            .stages
            .iter()
            .filter(|stage| !stage.downs.is_empty())
            .map(|stage| format!("  {}, {}", stage.what, counted(stage.downs.len(), "key-down"))),
    );
    let longest = forecast.timetable.iter().map(|slot| slot.keyed.get()).fold(0.0, f64::max);
    lines.push(format!(
        "  {}, the longest {longest:.1} s, never more than {}; {:.0} s keyed together",
        counted(forecast.key_downs(), "key-down"),
        job.plan.key.longest,
        forecast.keyed().get()
    ));
    lines.extend(load(job));
    // Of a bench whose port itself might key nothing was opened, and nobody was asked.
    lines.push(if found.is_empty() { "nobody was asked yet who answers" } else { "who answers:" }.to_owned());
    lines.extend(found.iter().map(|used| {
        let identity = &used.identity;
        format!(
            "  {}: {} {}, serial {}, at {}",
            used.role, identity.maker, identity.model, identity.serial, used.address
        )
    }));
    lines.iter().map(|line| paragraph(line, 4)).collect::<Vec<_>>().join("\n")
}

fn scope(scope: &ScopeForecast) -> String {
    let supplies = match scope.supplies.as_slice() {
        [] => String::new(),
        names => format!(", fed by {}", names.join(", ")),
    };
    format!(
        "  {}, {}, {} at {}{supplies}: {}",
        scope.scope.channel,
        scope.scope.carrier,
        scope.scope.power_setting,
        scope.window,
        counted(scope.key_downs.len() * scope.times(), "key-down")
    )
}

/// What the first part takes at the most.
fn load(job: &Job) -> Option<String> {
    let powers = job.plan.channels.iter().flat_map(|channel| {
        channel.powers.iter().filter_map(|power| {
            let path = &job.carrier_way().branch.path;
            path.power_into_each(job.most_of(power), channel.carrier).ok()?.into_iter().next()
        })
    });
    let most = powers.max_by(|one, other| one.dissipated.get().total_cmp(&other.dissipated.get()))?;
    let rated = most.rated.map_or_else(|| "no rating stated".to_owned(), |rated| format!("rated {rated}"));
    Some(format!("  `{}` turns up to {:.2} into heat, {rated}", most.name, most.dissipated))
}
