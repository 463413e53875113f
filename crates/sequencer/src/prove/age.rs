//! How a run's bench stands: proven when, and whether that still holds.

use jiff::{SignedDuration, Timestamp};
use spurline_plan::Bench;
use spurline_record::{BenchProof, ProofOutcome};

/// How the words about a good proof begin.
pub const PROVEN: &str = "the bench was proven";

/// What the newest proof of a bench says at a moment, for the header of a run.
#[must_use]
pub fn standing(newest: Option<&BenchProof>, bench: &Bench, now: Timestamp) -> String {
    said(newest, &bench.path_digest, now, bench.proof_lasts)
}

/// The same of a bench whose path has a digest, and whose proofs last for so many days.
fn said(newest: Option<&BenchProof>, path: &str, now: Timestamp, lasts: u32) -> String {
    let Some(proof) = newest else {
        return "the bench was never proven: `spurline prove` reads a generator's known lines with it"
            .to_owned();
    };
    let age = now.duration_since(proof.at);
    let days = age.as_hours() / 24;
    let when = format!("on {} ({})", proof.at.strftime("%Y-%m-%d"), ago(days));
    match proof.path.as_deref() {
        Some(proven) if proven == path => {}
        Some(_) => {
            return format!(
                "the newest proof of the bench, {when}, is not of the path that its file tells now"
            );
        }
        None => {
            return format!(
                "the newest proof of the bench, {when}, does not say which path was proven: prove it anew"
            );
        }
    }
    match proof.outcome {
        ProofOutcome::NotProven => {
            format!("the newest proof of the bench, {when}, failed at {}", failed(proof))
        }
        ProofOutcome::Undecided => format!("the newest proof of the bench, {when}, was undecided"),
        ProofOutcome::Proven if age > SignedDuration::from_hours(24 * i64::from(lasts)) => {
            format!("{PROVEN} {when}: the proof is older than {lasts} days")
        }
        ProofOutcome::Proven => format!("{PROVEN} {when}"),
    }
}

/// What the newest proof of a bench says, if it still holds.
#[must_use]
pub fn stands(newest: Option<&BenchProof>, bench: &Bench, now: Timestamp) -> Option<String> {
    held(newest, &bench.path_digest, now, bench.proof_lasts)
}

fn held(newest: Option<&BenchProof>, path: &str, now: Timestamp, lasts: u32) -> Option<String> {
    let proof = newest.filter(|proof| proof.outcome == ProofOutcome::Proven)?;
    let holds = proof.path.as_deref() == Some(path)
        && now.duration_since(proof.at) <= SignedDuration::from_hours(24 * i64::from(lasts));
    holds.then(|| said(Some(proof), path, now, lasts))
}

fn ago(days: i64) -> String {
    match days {
        ..=0 => "today".to_owned(),
        1 => "1 day ago".to_owned(),
        days => format!("{days} days ago"),
    }
}

/// The frequencies at which lines were read wrongly, each once.
fn failed(proof: &BenchProof) -> String {
    let mut found: Vec<String> = Vec::new();
    for line in proof.lines.iter().filter(|line| line.outcome == ProofOutcome::NotProven) {
        let frequency = line.frequency.to_string();
        if !found.contains(&frequency) {
            found.push(frequency);
        }
    }
    found.join(", ")
}

#[cfg(test)]
mod tests {
    use spurline_record::RunId;

    use super::*;

    const PATH: &str = "00ff";

    fn proof(outcome: ProofOutcome) -> BenchProof {
        BenchProof {
            id: RunId::from_record("20260801-120000-0001".to_owned()),
            at: "2026-08-01T12:00:00Z".parse().unwrap(),
            bench: "test".to_owned(),
            software: "test".to_owned(),
            simulated: None,
            path: Some(PATH.to_owned()),
            instruments: Vec::new(),
            lines: Vec::new(),
            notes: Vec::new(),
            outcome,
        }
    }

    #[test]
    fn a_proof_wears_out() {
        let at = |text: &str| -> String {
            let proof = proof(ProofOutcome::Proven);
            said(Some(&proof), PATH, text.parse().unwrap(), 90)
        };
        assert_eq!(at("2026-08-01T23:00:00Z"), "the bench was proven on 2026-08-01 (today)");
        assert_eq!(at("2026-08-02T12:00:00Z"), "the bench was proven on 2026-08-01 (1 day ago)");
        assert_eq!(at("2026-10-30T12:00:00Z"), "the bench was proven on 2026-08-01 (90 days ago)");
        assert_eq!(
            at("2026-10-30T12:00:01Z"),
            "the bench was proven on 2026-08-01 (90 days ago): the proof is older than 90 days"
        );
    }

    #[test]
    fn only_a_good_proof_that_is_young_enough_stands() {
        let at = |proof: &BenchProof, text: &str| held(Some(proof), PATH, text.parse().unwrap(), 90);
        let good = proof(ProofOutcome::Proven);
        assert!(at(&good, "2026-10-30T12:00:00Z").unwrap().starts_with("the bench was proven"));
        assert_eq!(at(&good, "2026-10-30T12:00:01Z"), None);
        assert_eq!(at(&proof(ProofOutcome::Undecided), "2026-08-01T12:00:00Z"), None);
        assert_eq!(at(&proof(ProofOutcome::NotProven), "2026-08-01T12:00:00Z"), None);
        assert_eq!(held(None, PATH, "2026-08-01T12:00:00Z".parse().unwrap(), 90), None);
    }

    #[test]
    fn a_proof_of_another_path_does_not_stand() {
        let now: Timestamp = "2026-08-01T13:00:00Z".parse().unwrap();
        for path in [None, Some("00fe".to_owned())] {
            let other = BenchProof { path, ..proof(ProofOutcome::Proven) };
            assert_eq!(held(Some(&other), PATH, now, 90), None);
            let words = said(Some(&other), PATH, now, 90);
            let told = ["is not of the path that its file tells now", "which path was proven: prove it anew"];
            assert!(told.iter().any(|told| words.ends_with(told)), "{words}");
        }
    }

    #[test]
    fn no_proof_and_one_that_failed_are_told() {
        let now = "2026-08-03T12:00:00Z".parse().unwrap();
        assert!(said(None, PATH, now, 90).starts_with("the bench was never proven"));
        let failed = said(Some(&proof(ProofOutcome::NotProven)), PATH, now, 90);
        assert!(
            failed.starts_with("the newest proof of the bench, on 2026-08-01 (2 days ago), failed"),
            "{failed}"
        );
    }
}
