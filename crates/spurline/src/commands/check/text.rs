//! What `check` tells, for people.

use spurline_plan::{
    FactForecast, Forecast, Job, KeyDownForecast, ReadingForecast, ScopeForecast, SetUpForecast,
    StageForecast,
};

use super::timetable::timetable;
use super::{fact_words, search, spectrum, why, word};
use crate::table::{flush_right, table};
use crate::talk::{counted, wrapped};

const LEGEND: &str = "levels in dBm at the unit's connector; needed: the highest noise floor at which a line can \
    still be shown to comply; floor: the one to expect; own: the most that the analyser makes itself; U: expanded \
    uncertainty, k = 2, as far as it is known now: noise and own products add to it; path: loss at this frequency; RBW in kHz; att.: the analyser's input attenuation";

pub(super) fn page(job: &Job, forecast: &Forecast) -> String {
    let mut text = format!("{} on {}\n", job.plan.title, job.bench.title);
    let rule = format!(
        "rule {}: {} ({}); {}",
        job.plan.rule,
        job.rule.source_text(),
        job.rule.status(),
        job.rule_file()
    );
    text.push_str(&format!("{}\n", wrapped(&rule, 2)));
    text.push_str(&wrapped(LEGEND, 0));
    text.push('\n');
    for scope in &forecast.scopes {
        text.push_str(&scope_text(scope));
    }
    for stage in &forecast.stages {
        text.push_str(&stage_text(stage));
    }
    text.push_str(&timetable(&forecast.timetable));
    text.push_str(&summary(job, forecast));
    for note in &forecast.notes {
        text.push_str(&format!("{}\n", wrapped(&format!("note: {note}"), 6)));
    }
    text
}

fn summary(job: &Job, forecast: &Forecast) -> String {
    let count = |wanted: &str| -> usize {
        let of = |scope: &ScopeForecast| {
            let readings = scope.readings.iter().map(|reading| &reading.prospect);
            let of_modulation = scope.modulation.iter().map(|fact| &fact.prospect);
            let of_spectrum = scope.spectrum.iter().map(|reading| &reading.prospect);
            let prospects =
                std::iter::once(&scope.prospect).chain(of_spectrum).chain(readings).chain(of_modulation);
            scope.times() * prospects.filter(|prospect| word(prospect) == wanted).count()
        };
        let stages = forecast.stages.iter().filter(|stage| word(&stage.prospect) == wanted);
        let of_stages: usize = stages.map(|stage| stage.readings).sum();
        forecast.scopes.iter().map(of).sum::<usize>() + of_stages
    };
    let mut text = String::from("\n");
    for supply in &job.plan.supplies {
        text.push_str(&format!("fed by {}: {}, at most {}\n", supply.name, supply.set, supply.limit));
    }
    text.push_str(&format!(
        "{}, {:.0} s keyed together; about {} on the bench\n",
        counted(forecast.key_downs(), "key-down"),
        forecast.keyed().get(),
        minutes(forecast.bench_time.get())
    ));
    if let Some(warm) = &forecast.warmest {
        let line = format!(
            "`{}` becomes warmest: by {:.0} % of what it may rise by, to {:.0} degC in a room at 25",
            warm.part,
            100.0 * warm.rise,
            warm.temperature()
        );
        text.push_str(&format!("{}\n", wrapped(&line, 2)));
    }
    if let Some(more) = forecast.allowance() {
        let line = format!(
            "if each search finds {} lines, as is assumed, and looks for them on another channel: up to about {} more, {:.0} s \
             keyed, {} on the bench",
            more.lines,
            counted(more.key_downs, "key-down"),
            more.keyed.get(),
            minutes(more.time.get())
        );
        text.push_str(&format!("{}\n", wrapped(&line, 2)));
    }
    for (prospect, one, several) in [
        ("able", "reading can be decided", "readings can be decided"),
        ("unable", "reading cannot be shown to comply here", "readings cannot be shown to comply here"),
        ("no limit", "reading has no limit in this rule", "readings have no limit in this rule"),
    ] {
        match count(prospect) {
            0 => {}
            1 => text.push_str(&format!("1 {one}\n")),
            count => text.push_str(&format!("{count} {several}\n")),
        }
    }
    text
}

/// A time for people: seconds below two minutes, minutes above.
fn minutes(seconds: f64) -> String {
    if seconds < 120.0 { format!("{seconds:.0} s") } else { format!("{:.0} min", seconds / 60.0) }
}

fn scope_text(scope: &ScopeForecast) -> String {
    let id = &scope.scope;
    let heading = format!("{}, {}, {}{}", id.channel, id.carrier, id.power_setting, supplies(scope));
    let mut text = format!("\n{}\n", wrapped(&heading, 2));
    let carrier = format!("  carrier {}, U {:.1}: {}", scope.window, scope.expanded, word(&scope.prospect));
    let reason = why(&scope.prospect).map_or_else(String::new, |why| format!("; {why}"));
    text.push_str(&format!("{}\n", wrapped(&format!("{carrier}{reason}"), 4)));
    if let Some(set_up) = &scope.set_up {
        text.push_str(&format!("{}\n", wrapped(&set_up_text(set_up), 4)));
    }
    for down in &scope.key_downs {
        text.push_str(&key_down_text(down));
    }
    if let Some(keyed) = scope.course {
        text.push_str(&format!("  power over time: a key-down of its own of {keyed:.1}\n"));
    }
    for reading in &scope.spectrum {
        text.push_str(&format!("{}\n", wrapped(&spectrum::text(reading), 4)));
    }
    for fact in &scope.modulation {
        text.push_str(&format!("{}\n", wrapped(&fact_text(fact), 4)));
    }
    if let Some(search) = &scope.search {
        text.push_str(&search::text(search));
    }
    if scope.readings.is_empty() {
        return text;
    }
    let mut lines =
        table(&["harm.", "MHz", "limit", "needed", "floor", "own", "U", "path", "RBW", "att.", "prospect"]);
    for reading in &scope.readings {
        lines.add_row(cells(reading));
    }
    flush_right(&mut lines, &[0, 1, 2, 3, 4, 5, 6, 7, 8, 9]);
    text.push_str(&lines.trim_fmt());
    text.push('\n');
    for reading in &scope.readings {
        if let Some(why) = why(&reading.prospect) {
            let line = format!("  harmonic {}: {why}", reading.order);
            text.push_str(&format!("{}\n", wrapped(&line, 4)));
        }
    }
    text
}

/// With which supplies, where that is not plain.
fn supplies(scope: &ScopeForecast) -> String {
    match scope.supplies.as_slice() {
        [] | [_] => String::new(),
        several => format!("; {} times, with {}", several.len(), several.join(", ")),
    }
}

fn set_up_text(set_up: &SetUpForecast) -> String {
    format!(
        "  before that, set up with a tone of {}: at most {} looks on {}, {:.0} s keyed together",
        set_up.tone,
        set_up.looks,
        counted(set_up.key_downs as usize, "key-down"),
        set_up.keyed.get()
    )
}

fn fact_text(fact: &FactForecast) -> String {
    let limits = fact.limits.as_deref().unwrap_or("no limit");
    format!("  {}: {limits}: {}", fact_words(fact), word(&fact.prospect))
}

fn stage_text(stage: &StageForecast) -> String {
    let reason = why(&stage.prospect).map_or_else(String::new, |why| format!("; {why}"));
    let line = format!("  {}: {}{reason}", stage.how, word(&stage.prospect));
    let keyed = match stage.downs.len() {
        0 => format!("  never keyed; {} of looks", minutes(stage.unkeyed.get())),
        1 => format!("  1 key-down, of {:.1}", stage.longest()),
        count => format!("  {}, each of at most {:.1}", counted(count, "key-down"), stage.longest()),
    };
    format!("\n{}\n{}\n{keyed}\n", stage.what, wrapped(&line, 4))
}

fn key_down_text(down: &KeyDownForecast) -> String {
    let mut text = format!(
        "  by {}: key down for {:.1}; {:.1} at the analyser",
        down.path, down.keyed, down.analyser_input
    );
    if let Some(meter) = down.meter_input {
        text.push_str(&format!(", {meter:.1} at the power meter"));
    }
    let mut text = format!("{}\n", wrapped(&text, 4));
    for part in &down.parts {
        let rated =
            part.rated.map_or_else(|| "no rating stated".to_owned(), |rated| format!("rated {rated}"));
        text.push_str(&format!("    into {}: {:.3}, {rated}\n", part.name, part.incident));
    }
    text
}

fn cells(reading: &ReadingForecast) -> Vec<String> {
    let show = |value: Option<f64>| value.map_or_else(|| "-".to_owned(), |value| format!("{value:.1}"));
    let limit = match reading.limit {
        None => "-".to_owned(),
        Some((low, high)) if low == high => format!("{:.1}", low.get()),
        Some((low, high)) => format!("{:.1}..{:.1}", low.get(), high.get()),
    };
    vec![
        reading.order.to_string(),
        format!("{:.3}", reading.frequency.mhz()),
        limit,
        show(reading.needed_floor.map(|floor| floor.get())),
        show(reading.floor.map(|floor| floor.get())),
        show(reading.own_product.map(|own| own.get())),
        show(reading.expanded.map(|expanded| expanded.get())),
        show(reading.path_loss.map(|loss| loss.get())),
        reading.rbw.map_or_else(|| "-".to_owned(), |rbw| format!("{:.0}", rbw.get() / 1e3)),
        reading.attenuation.map_or_else(|| "-".to_owned(), |attenuation| format!("{:.0}", attenuation.get())),
        word(&reading.prospect).to_owned(),
    ]
}
