//! The files that people write: plans, benches, profiles, rules and tables of bands.

use spurline_document::{Document, Mistakes, Style};
use spurline_limits::{BandPlan, Facts, Question, Region, Rule, Use};
use spurline_plan::{Forecast, Job, LoadError};
use spurline_profile::{Kind, Profile};
use spurline_units::{Hertz, Watts};

use super::shelf::{Folder, Shelf};

/// A plan is read with the shipped files around it; one that is good is looked ahead.
pub fn plan(data: &[u8]) {
    let Ok(text) = std::str::from_utf8(data) else { return };
    let shelf = Shelf { folder: Folder::Plans, name: "fuzzed.yaml", text };
    looked_ahead(Job::load("plans/fuzzed.yaml", None, &shelf));
}

/// A bench is read, alone and for each shipped plan.
pub fn bench(data: &[u8]) {
    let Ok(text) = std::str::from_utf8(data) else { return };
    let shelf = Shelf { folder: Folder::Benches, name: "fuzzed.yaml", text };
    match Job::load_bench("benches/fuzzed.yaml", &shelf) {
        Ok(bench) => {
            assert!(!bench.ways.is_empty());
            for plan in ["plans/demo.yaml", "plans/notched.yaml"] {
                looked_ahead(Job::load(plan, Some("benches/fuzzed.yaml"), &shelf));
            }
        }
        Err(error) => told(&error),
    }
}

/// A profile is read; one that is good takes the place of the shipped one of its kind.
pub fn profile(data: &[u8]) {
    let Ok(text) = std::str::from_utf8(data) else { return };
    let read = Document::parse("fuzzed.yaml", text).and_then(|document| Profile::read(&document));
    let profile = match read {
        Ok(profile) => profile,
        Err(mistakes) => return shown(&mistakes),
    };
    let name = match profile.kind {
        Kind::Analyser(_) => "analyser-generic.yaml",
        Kind::PowerMeter(_) => "power-meter-generic.yaml",
        Kind::Supply(_) => "supply-generic.yaml",
        Kind::Generator(_) => "generator-generic.yaml",
        Kind::AudioGenerator(_) => "audio-generator-generic.yaml",
        Kind::Relay(_) => "relay-generic.yaml",
        Kind::Unit(_) => "unit-generic.yaml",
    };
    looked_ahead(Job::load("plans/demo.yaml", None, &Shelf { folder: Folder::Profiles, name, text }));
}

/// A rule is read and asked; then it takes the place of a shipped one.
pub fn rule(data: &[u8]) {
    let Ok(text) = std::str::from_utf8(data) else { return };
    let rule = match Document::parse("us-part-97.yaml", text).and_then(|document| Rule::read(&document)) {
        Ok(rule) => rule,
        Err(mistakes) => return shown(&mistakes),
    };
    for (carrier, power) in [(137_500.0, 1.0), (7.1e6, 100.0), (146e6, 5.0), (440e6, 0.02), (10e9, 1e-6)] {
        let question = Question::new(Hertz::new(carrier), Watts::new(power)).expect("both are above zero");
        for order in 1..4 {
            let finding = rule.limit(&question.at(Hertz::new(carrier) * f64::from(order)), &Facts::default());
            assert!(format!("{finding:?}").len() < 1 << 20);
        }
    }
    let shelf = Shelf { folder: Folder::Rules, name: "us-part-97.yaml", text };
    looked_ahead(Job::load("plans/demo.yaml", None, &shelf));
}

/// A rule is read and asked for its tolerances; then it takes the place of a shipped one that a plan names for them.
pub fn tolerances(data: &[u8]) {
    let Ok(text) = std::str::from_utf8(data) else { return };
    let name = "us-part-90-stability.yaml";
    let rule = match Document::parse(name, text).and_then(|document| Rule::read(&document)) {
        Ok(rule) => rule,
        Err(mistakes) => return shown(&mistakes),
    };
    for (carrier, power) in [(1.8e6, 100.0), (27.185e6, 4.0), (155e6, 5.0), (462.5625e6, 0.5), (935e6, 1e-6)]
    {
        let question = Question::new(Hertz::new(carrier), Watts::new(power)).expect("both are above zero");
        let finding = rule.tolerance(&question, &Facts::default());
        for branch in finding.branches() {
            assert!(branch.hertz().is_none_or(|hertz| hertz.get() > 0.0 && hertz.get().is_finite()));
        }
        assert!(format!("{finding:?}").len() < 1 << 20);
    }
    let shelf = Shelf { folder: Folder::Rules, name, text };
    looked_ahead(Job::load("plans/land-mobile.yaml", None, &shelf));
}

/// A table of bands is read and asked; then it takes the place of the shipped one that a plan names.
pub fn bands(data: &[u8]) {
    let Ok(text) = std::str::from_utf8(data) else { return };
    let name = "us-amateur.yaml";
    let plan = match Document::parse(name, text).and_then(|document| BandPlan::read(&document)) {
        Ok(plan) => plan,
        Err(mistakes) => return shown(&mistakes),
    };
    for (low, high) in [(0.0, 0.0), (136e3, 137e3), (5.3305e6, 5.3335e6), (144e6, 144.008e6), (24e9, 25e9)] {
        let (low, high) = (Hertz::new(low), Hertz::new(high));
        for region in [None, Some(Region::Two)] {
            for sent in [None, Some(Use::Phone)] {
                let cases = plan.cases(low, high, region, sent);
                assert!(!cases.possible.is_empty() && cases.possible.len() <= 15);
                assert!(cases.possible.len() > 1 || cases.missing.is_empty());
                assert!(region.is_none() || !cases.missing.contains(&"region"));
                assert!(sent.is_none() || !cases.missing.contains(&"use"));
                // The order of the edges does not matter.
                assert_eq!(cases, plan.cases(high, low, region, sent));
                let places = cases.possible.iter().filter_map(|finding| finding.verdict.place());
                places.for_each(|(range, _)| assert!(range.low() <= range.high()));
            }
        }
    }
    let shelf = Shelf { folder: Folder::Bands, name, text };
    looked_ahead(Job::load("plans/modulated-qualification.yaml", None, &shelf));
}

fn looked_ahead(job: Result<Job, LoadError>) {
    let job = match job {
        Ok(job) => job,
        Err(error) => return told(&error),
    };
    match Forecast::of(&job) {
        Ok(forecast) => {
            assert!(forecast.keyed().get().is_finite() && forecast.keyed().get() >= 0.0);
            assert!(forecast.bench_time.get() >= forecast.keyed().get());
            assert!(forecast.readings() >= forecast.scopes.len());
        }
        Err(mistakes) => shown(&mistakes),
    }
}

fn told(error: &LoadError) {
    match error {
        LoadError::Mistakes(mistakes) => shown(mistakes),
        LoadError::NoPlan(_) | LoadError::NoBench => {
            assert!(!error.to_string().is_empty());
        }
    }
}

/// Mistakes are told with their place, in plain text and in colours.
fn shown(mistakes: &Mistakes) {
    assert!(!mistakes.is_empty(), "a file is refused for a reason");
    for mistake in mistakes.all() {
        assert!(!mistake.message().is_empty() && !mistake.file().is_empty());
        let (line, column) = mistake.line_and_column();
        assert!(line >= 1 && column >= 1);
    }
    let (plain, coloured) = (mistakes.render(Style::Plain), mistakes.render(Style::Coloured));
    let told = mistakes.all().iter().filter(|mistake| plain.contains(mistake.file())).count();
    assert_eq!(told, mistakes.all().len(), "each file with a mistake is named");
    assert!(!plain.contains('\u{1b}'), "nothing of the file reaches a terminal alive");
    assert_eq!(without_colours(&coloured), plain, "colours change no word");
}

/// The text without sequences that set colours: ESC, `[`, digits and semicolons, `m` (ECMA-48 clause 8.3.117).
fn without_colours(text: &str) -> String {
    let mut pieces = text.split("\u{1b}[");
    let mut kept = pieces.next().unwrap_or_default().to_owned();
    for piece in pieces {
        let end = piece.find(|c: char| !c.is_ascii_digit() && c != ';').unwrap_or(piece.len());
        kept.push_str(piece[end..].strip_prefix('m').unwrap_or(piece));
    }
    kept
}
