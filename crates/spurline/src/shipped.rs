//! Every file that comes with the program reads, fits what it names, and teaches.

use std::path::{Path, PathBuf};

use spurline_document::Document;
use spurline_limits::{BandPlan, Rule};
use spurline_plan::{Forecast, Job};
use spurline_profile::Profile;
use spurline_runner::{Files, read_simulated};
use spurline_walkin::Day;

fn shipped(folder: &str) -> Vec<PathBuf> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../config").join(folder);
    let mut files: Vec<PathBuf> =
        std::fs::read_dir(root).unwrap().map(|entry| entry.unwrap().path()).collect();
    files.retain(|file| file.extension().is_some_and(|extension| extension == "yaml"));
    files.sort();
    assert!(!files.is_empty(), "{folder}");
    files
}

fn document(file: &Path) -> Document {
    let text = std::fs::read_to_string(file).unwrap();
    Document::parse(file.to_str().unwrap(), &text).unwrap_or_else(|mistakes| panic!("{mistakes}"))
}

#[test]
fn plans_can_be_run_on_the_benches_that_they_name() {
    for file in shipped("plans") {
        let job = Job::load(file.to_str().unwrap(), None, &Files::from_environment());
        let job = job.unwrap_or_else(|error| panic!("{}: {error}", file.display()));
        let forecast = Forecast::of(&job).unwrap_or_else(|mistakes| panic!("{mistakes}"));
        assert!(!forecast.scopes.is_empty(), "{}", file.display());
    }
}

#[test]
fn benches_can_be_served() {
    for file in shipped("benches") {
        let bench = Job::load_bench(file.to_str().unwrap(), &Files::from_environment());
        let bench = bench.unwrap_or_else(|error| panic!("{}: {error}", file.display()));
        let simulated = read_simulated(&bench).unwrap_or_else(|mistakes| panic!("{mistakes}"));
        assert!(simulated.is_some(), "{}: a shipped bench needs no instrument", file.display());
    }
}

#[test]
fn profiles_rules_and_band_plans_read() {
    for file in shipped("bands") {
        BandPlan::read(&document(&file)).unwrap_or_else(|mistakes| panic!("{mistakes}"));
    }
    for file in shipped("profiles") {
        Profile::read(&document(&file)).unwrap_or_else(|mistakes| panic!("{mistakes}"));
    }
    for file in shipped("rules") {
        Rule::read(&document(&file)).unwrap_or_else(|mistakes| panic!("{mistakes}"));
    }
}

#[test]
fn a_day_can_be_held_on_the_bench_that_it_names() {
    for file in shipped("days") {
        let day = Day::read(&document(&file)).unwrap_or_else(|mistakes| panic!("{mistakes}"));
        let bench = Job::load_bench(&day.bench, &Files::from_environment());
        let bench = bench.unwrap_or_else(|error| panic!("{}: {error}", day.bench));
        assert!(bench.is_tuned_by_hand() && bench.key.is_by_hand(), "{}", file.display());
    }
}

/// A file that people copy begins by saying what it is for, and explains at least every sixth of its lines; a rule says
/// what each of its rows demands.
#[test]
fn all_of_them_teach_by_comments() {
    for file in ["plans", "benches", "profiles", "rules", "bands", "days"].into_iter().flat_map(shipped) {
        let text = std::fs::read_to_string(&file).unwrap();
        assert!(text.starts_with("# "), "{} does not say what it is", file.display());
        let lines = text.lines().filter(|line| !line.trim().is_empty()).count();
        let explains =
            |line: &&str| line.contains("# ") || line.trim_start_matches([' ', '-']).starts_with("says: ");
        let comments = text.lines().filter(explains).count();
        assert!(comments * 6 >= lines, "{}: {comments} comments in {lines} lines", file.display());
    }
}
