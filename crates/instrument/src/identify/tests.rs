//! Instruments with one fault each, on a pipe in virtual time: the fault is named, and nothing is ever told that
//! could do harm.

mod fake;

use std::time::Duration;

use spurline_clock::{Pace, run};
use spurline_document::Document;
use spurline_profile::Profile;

use super::*;
use fake::{Fake, Quirk};

const ANALYSER: &str = include_str!("../../../../config/profiles/analyser-generic.yaml");
const METER: &str = include_str!("../../../../config/profiles/power-meter-generic.yaml");
const SUPPLY: &str = include_str!("../../../../config/profiles/supply-generic.yaml");
const RELAY: &str = include_str!("../../../../config/profiles/relay-generic.yaml");
const UNIT: &str = include_str!("../../../../config/profiles/unit-generic.yaml");

fn profile(text: &str) -> Profile {
    let document = Document::parse("profile.yaml", text).unwrap();
    Profile::read(&document).unwrap_or_else(|mistakes| panic!("{mistakes}"))
}

/// What is found out about a fake, and every message that it was sent.
fn looked(text: &str, quirk: Quirk) -> (Identified, Vec<String>) {
    let profile = profile(text);
    run(Pace::Fast, |clock| async move {
        let (link, fake) = Fake::connect(quirk, clock);
        let mut line = Line::over(link, profile.messages.answer_within.duration(), clock);
        let answering = answering::look(&mut line).await.unwrap().unwrap();
        let identified = try_profile(line, answering, &profile).await;
        (identified, fake.heard())
    })
    .unwrap()
}

fn finding<'a>(identified: &'a Identified, command: &str) -> &'a Finding {
    let mut found = identified.findings.iter().filter(|finding| finding.command == command);
    let last = found.next_back();
    last.unwrap_or_else(|| panic!("nothing about `{command}`: {identified:#?}"))
}

/// The only findings that are not good.
fn bad(identified: &Identified) -> Vec<&str> {
    let bad = identified.findings.iter().filter(|finding| finding.verdict.is_good() == Some(false));
    bad.map(|finding| finding.command).collect()
}

#[test]
fn a_sound_analyser_understands_everything() {
    let (identified, _) = looked(ANALYSER, Quirk::None);
    assert!(identified.is_usable(), "{identified:#?}");
    let tried = |command: &str| finding(&identified, command).verdict.to_string();
    assert_eq!(tried("wait"), "understood, a sweep of 0.5 s was waited for: 0.50 s");
    assert_eq!(tried("trace"), "understood, 501 points, as in plain numbers within 0.0050 dB");
    assert_eq!(tried("attenuation"), "understood, read back 20 dB");
    assert_eq!(tried("detector"), "understood, reads back so");
    assert_eq!(tried("reset"), "not tried: would bring the attenuation down, whatever is connected");
    assert_eq!(tried("longest"), "understood");
    assert_eq!(identified.answering.relative, Reaction::Answers);
    assert!(
        matches!(&identified.answering.unknown, Reaction::Errors(errors) if errors[0].code.number() == -113)
    );
}

#[test]
fn an_analyser_gets_back_what_it_had() {
    for quirk in [Quirk::None, Quirk::SwappedBytes, Quirk::NoWaiting] {
        let (_, messages) = looked(ANALYSER, quirk);
        let after = Fake::settings_after(&messages);
        assert_eq!(after, Fake::settings_after(&[]), "{quirk:?}");
    }
}

/// Whatever goes wrong: no preamplifier, no reset, and never less attenuation than there was.
#[test]
fn nothing_that_could_harm_an_input_is_ever_told() {
    for quirk in Quirk::ALL {
        let (_, messages) = looked(ANALYSER, quirk);
        let units = messages.iter().flat_map(|message| message.split(';'));
        for unit in units.map(|unit| unit.trim_start_matches(':').trim()) {
            assert!(!unit.starts_with("*RST") && !unit.contains("PRES"), "{quirk:?}: {unit}");
            assert!(!matches!(unit, "INP:GAIN:STAT ON" | "INP:GAIN:STAT 1"), "{quirk:?}: {unit}");
            if let Some(attenuation) = unit.strip_prefix("INP:ATT ") {
                // 10 dB is what the fake has before.
                assert!(attenuation.parse::<f64>().unwrap() >= 10.0, "{quirk:?}: {unit}");
            }
        }
    }
}

#[test]
fn each_fault_of_an_analyser_is_named() {
    for (quirk, commands, says, advises) in [
        (
            Quirk::SwappedBytes,
            &["trace"][..],
            "expected 32-bit floats, most significant byte first, found 32-bit floats with their bytes swapped: least \
             significant byte first",
            "commands.trace_format",
        ),
        (
            Quirk::DoublePrecision,
            &["trace"],
            "expected 32-bit floats, most significant byte first, found 64-bit floats, most significant byte first",
            "commands.trace_format",
        ),
        (
            Quirk::NoWaiting,
            &["wait"],
            "a sweep of 0.5 s was not waited for: answered after 0.00 s",
            "`*OPC?` does wait, 0.50 s",
        ),
        (Quirk::FixedPoints, &["points"], "read back 601 instead of 501", "ranges.most_points"),
        (
            Quirk::NoVideoBandwidth,
            &["read_back", "vbw"],
            "refused: -113 \"Undefined header\"",
            "commands.vbw",
        ),
        (Quirk::MarkerElsewhere, &["marker"], "-50.000 dBm, while the highest", "commands.marker"),
    ] {
        let (identified, _) = looked(ANALYSER, quirk);
        assert!(!identified.is_usable());
        assert_eq!(bad(&identified), commands, "{quirk:?}: {identified:#?}");
        let said: Vec<String> =
            identified.findings.iter().map(|finding| finding.verdict.to_string()).collect();
        assert!(said.iter().any(|said| said.contains(says)), "{quirk:?}: {said:#?}");
        let advice: Vec<&str> =
            identified.findings.iter().filter_map(|finding| finding.advice.as_deref()).collect();
        assert!(advice.iter().any(|advice| advice.contains(advises)), "{quirk:?}: {advice:#?}");
    }
}

#[test]
fn a_short_input_buffer_is_measured() {
    let (identified, _) = looked(ANALYSER, Quirk::ShortBuffer);
    let longest = finding(&identified, "longest");
    assert_eq!(longest.verdict.is_good(), Some(false), "{identified:#?}");
    // 900 is too long and 450 is too long for 256 bytes; 225 is not.
    assert_eq!(
        longest.advice.as_deref(),
        Some("write `longest: 225` under `messages`: that length arrives whole")
    );
}

#[test]
fn single_commands_are_recommended_where_several_are_not_understood() {
    let (identified, _) = looked(ANALYSER, Quirk::SingleCommands);
    let compound = finding(&identified, "compound");
    assert_eq!(compound.advice.as_deref(), Some("write `compound: false` under `messages`"));
    // One by one everything is understood all the same.
    assert_eq!(finding(&identified, "vbw").verdict.is_good(), Some(true), "{identified:#?}");
}

#[test]
fn without_errors_only_what_reads_back_is_proven() {
    let (identified, _) = looked(ANALYSER, Quirk::MuteErrors);
    assert_eq!(finding(&identified, "sweep").verdict, Verdict::Unproven);
    assert_eq!(finding(&identified, "rbw").verdict.is_good(), Some(true));
    assert!(identified.notes.iter().any(|note| note.contains("raises no error here")));
    let (identified, _) = looked(ANALYSER, Quirk::NoQueue);
    assert!(!identified.is_usable() && identified.answering.errors.is_none(), "{identified:#?}");
    assert!(finding(&identified, "errors").advice.as_deref().unwrap().contains("without an error queue"));
}

#[test]
fn an_instrument_that_goes_away_keeps_what_was_found() {
    let (identified, _) = looked(ANALYSER, Quirk::HangsUpOnSweep);
    let ended = identified.ended.as_deref().unwrap();
    assert!(ended.starts_with("the link failed after `"), "{ended}");
    assert_eq!(finding(&identified, "rbw").verdict.is_good(), Some(true));
    assert!(!identified.is_usable());
}

/// A command that exists and means something else can make an instrument busy for minutes.
#[test]
fn an_instrument_that_answers_no_more_is_left_alone() {
    let (identified, _) = looked(ANALYSER, Quirk::BusyForEver);
    let ended = identified.ended.as_deref().unwrap();
    assert!(ended.contains("nobody answered at the instrument within"), "{ended}");
    assert_eq!(finding(&identified, "wait").verdict.is_good(), Some(false), "{identified:#?}");
}

/// The read-back says the span where the attenuation should be; the command's own question knows better.
#[test]
fn a_read_back_in_another_order_does_not_bring_the_attenuation_down() {
    let right = ":INP:ATT?;:DISP:WIND:TRAC:Y:RLEV?";
    assert!(ANALYSER.contains(right));
    let text = ANALYSER.replace(right, ":DISP:WIND:TRAC:Y:RLEV?;:INP:ATT?");
    let (identified, messages) = looked(&text, Quirk::None);
    assert_eq!(finding(&identified, "attenuation").verdict.is_good(), Some(false), "{identified:#?}");
    let units = messages.iter().flat_map(|message| message.split(';'));
    let told = units.filter_map(|unit| unit.trim_start_matches(':').strip_prefix("INP:ATT "));
    let told: Vec<f64> = told.map(|value| value.parse().unwrap()).collect();
    assert!(!told.is_empty() && told.iter().all(|value| *value >= 10.0), "{messages:?}");
    assert_eq!(Fake::settings_after(&messages), Fake::settings_after(&[]));
}

#[test]
fn a_meter_is_set_and_read_but_not_zeroed() {
    let (identified, messages) = looked(METER, Quirk::None);
    assert!(identified.is_usable(), "{identified:#?}");
    assert_eq!(finding(&identified, "read").verdict.to_string(), "understood, -31.25 dBm");
    assert_eq!(finding(&identified, "averages").verdict.to_string(), "understood, reads back so");
    assert!(finding(&identified, "zero").verdict.is_good().is_none());
    assert!(messages.iter().all(|message| !message.contains("ZERO") && !message.contains("*RST")));
    assert_eq!(Fake::settings_after(&messages), Fake::settings_after(&[]));
}

/// A transmitter may hang on any of these.
#[test]
fn supplies_relays_and_units_are_only_asked() {
    for text in [SUPPLY, RELAY, UNIT] {
        for quirk in Quirk::ALL {
            let (identified, messages) = looked(text, quirk);
            for message in &messages {
                for unit in message.split(';') {
                    let header = unit.split_whitespace().next().unwrap_or_default();
                    assert!(header.ends_with('?'), "{quirk:?}: {message}");
                }
            }
            if quirk == Quirk::None {
                assert!(identified.is_usable(), "{identified:#?}");
            }
        }
    }
    let (identified, _) = looked(RELAY, Quirk::None);
    assert_eq!(finding(&identified, "close").verdict.to_string(), "not tried: would switch");
    assert_eq!(finding(&identified, "state").verdict.to_string(), "understood, contact 1 is open");
    let (identified, _) = looked(SUPPLY, Quirk::None);
    assert_eq!(finding(&identified, "measured").verdict.to_string(), "understood, 13.8 V, 1.25 A");
    assert_eq!(finding(&identified, "output").verdict.to_string(), "understood, the output is off");
}

#[test]
fn hostile_answers_are_shown_harmless_and_short() {
    let (identified, _) = looked(SUPPLY, Quirk::Hostile);
    assert!(identified.answering.identity.is_err());
    let said = format!("{:?}", identified.answering.identity);
    assert!(!said.contains('\u{1b}') && said.len() < 500, "{said}");
}

#[test]
fn nobody_answers() {
    let looked = run(Pace::Fast, |clock| async move {
        let (link, _fake) = Fake::connect(Quirk::Mute, clock);
        let mut line = Line::over(link, Duration::from_secs(3), clock);
        answering::look(&mut line).await.unwrap()
    });
    assert_eq!(looked.unwrap(), None);
}
