//! The plan of one radio: what the day's file says, and the carrier that was found.

use std::path::Path;

use spurline_document::quoted;
use spurline_plan::{Forecast, Job, Library, Text};
use spurline_record::Decision;
use spurline_runner::{Drafted, Failure};
use spurline_units::{Db, Hertz};

use crate::day::Day;

/// The power setting: nobody but the owner knows which.
const AS_SET: &str = "as-set";

/// So much wider is the plan's window than what the day takes.
const ROOM_DB: f64 = 2.0;

/// What a plan wants of the power. No rule says so: it is what the day takes, and wider by more than two readings of one
/// carrier differ; one outside of it all the same is not the one that was let in, and its reading is invalid.
fn window(day: &Day) -> String {
    let room = Db::new(ROOM_DB);
    let (low, high) = (day.power.low().dbm() - room, day.power.high().dbm() + room);
    format!("{:.3} dBm..{:.3} dBm", low.get(), high.get())
}

/// The plan as a file would have it.
fn text(day: &Day, title: &str, channels: &[(String, Hertz)]) -> String {
    let bands: Vec<String> = day.bands.iter().map(|band| quoted(&band.to_string())).collect();
    let decision = match day.decision {
        Decision::GuardBand => "guard-band",
        Decision::Simple => "simple",
    };
    let mut text = format!(
        "# Made for one radio of a test day, from the day's file and the carrier that was found.\n\
         plan: {}\nrule: {}\ndecision: {decision}\nunit: {{ model: walk-in radio }}\nauthorised: [ {} ]\noutside_window: invalid\nchannels:\n",
        quoted(title),
        quoted(&day.rule),
        bands.join(", ")
    );
    for (name, carrier) in channels {
        text.push_str(&format!(
            "  - {{ name: {}, carrier: {}, power: {{ {AS_SET}: {} }} }}\n",
            quoted(name),
            quoted(&carrier.to_string()),
            quoted(&window(day))
        ));
    }
    text.push_str(&format!(
        "measure: {{ harmonics: {{ up_to: {} }} }}\nkey: {{ longest: {longest}, comes_within: {longest} }}\n",
        day.orders,
        longest = day.longest
    ));
    if !day.facts.is_empty() {
        let facts: Vec<String> =
            day.facts.iter().map(|(name, value)| format!("{}: {}", quoted(name), quoted(value))).collect();
        text.push_str(&format!("facts: {{ {} }}\n", facts.join(", ")));
    }
    let ways = ["carrier", "harmonics"].iter().zip(&day.ways);
    let ways: Vec<String> =
        ways.filter_map(|(of, name)| Some(format!("{of}: {}", quoted(name.as_ref()?)))).collect();
    if !ways.is_empty() {
        text.push_str(&format!("use: {{ {} }}\n", ways.join(", ")));
    }
    text
}

fn load(day: &Day, library: &dyn Library, name: &str, text: String) -> Result<Job, Failure> {
    // Beside the day's file, so that a rule beside that is found; under a name that no file there has.
    let folder = Path::new(&day.file).parent().unwrap_or(Path::new(""));
    let name = folder.join(format!("{name}, made for the day.yaml")).display().to_string();
    let texts = [Text { name: name.clone(), text }];
    Ok(Job::load(&name, Some(&day.bench), &Drafted { texts: &texts, library })?)
}

/// The job in which a carrier is looked for: a channel in the middle of the first band stands for all of them. Every
/// other band is made sure to be within reach of the bench as well.
pub(crate) fn of_search(day: &Day, library: &dyn Library) -> Result<Job, Failure> {
    let middle = |place: usize| {
        let band = day.bands[place];
        vec![("somewhere".to_owned(), Hertz::new(f64::midpoint(band.low().get(), band.high().get())))]
    };
    let of = |place: usize| {
        load(day, library, "walk-in", text(day, &format!("{}: a search", day.title), &middle(place)))
    };
    for place in 1..day.bands.len() {
        Forecast::of(&of(place)?)?;
    }
    let job = of(0)?;
    Forecast::of(&job)?;
    if !(job.bench.is_tuned_by_hand() && job.bench.key.is_by_hand()) {
        return Err(Failure::Usage {
            message: format!("on the bench `{}` nobody can key a radio that was brought", job.bench.title),
            advice: "a bench for walk-in radios says `key: { operator: true }` and `unit_control: operator`"
                .to_owned(),
        });
    }
    Ok(job)
}

/// The job of one radio.
pub(crate) fn of_radio(day: &Day, library: &dyn Library, visit: u32, carrier: Hertz) -> Result<Job, Failure> {
    let title = format!("{}, radio {visit}", day.title);
    load(
        day,
        library,
        &format!("walk-in-{visit}"),
        text(day, &title, &[("carrier found".to_owned(), carrier)]),
    )
}
