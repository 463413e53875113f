//! `identify`: who answers at an address, and whether a profile fits.

use std::time::Duration;

use clap::Args;
use serde_json::{Value, json};
use spurline_clock::{Clock, Pace};
use spurline_document::Document;
use spurline_instrument::{Answering, Finding, Identified, Reaction};
use spurline_plan::Library;
use spurline_profile::Profile;
use spurline_runner::{Files, Held};
use spurline_transport::{Address, SerialFlow, SerialLine};
use spurline_units::Seconds;

use crate::exit::Exit;
use crate::table::{fit, table};
use crate::talk::{self, Failure, counted, print_json, wrapped};

/// Find out who answers at an address, and which spellings of a profile it understands
///
/// Without a profile only questions are asked. With one, an analyser and a power meter are told settings that do no
/// harm (attenuation only upwards, preamplifier never on, no reset, no zero) and get back what they had; a supply, a
/// relay, a unit's control port and a generator are still only asked. Do not do this while a unit is keyed, or while another
/// program uses the instrument.
///
/// Ends with 0 if nothing stands in the way, 1 if something is not understood, 2 for wrong usage or a wrong profile,
/// 4 if nobody answers.
#[derive(Args, Debug)]
pub(crate) struct Identify {
    /// Where the instrument is, for example TCPIP::192.0.2.20::5025::SOCKET
    address: String,
    /// A profile, by name or file, whose commands are tried
    #[arg(long)]
    profile: Option<String>,
    /// Speed of a serial port, in bits per second
    #[arg(long, value_name = "NUMBER", default_value_t = 9600, value_parser = clap::value_parser!(u32).range(50..=4_000_000))]
    baud: u32,
    /// Framing of a serial port: data bits, parity, stop bits
    #[arg(long, value_name = "FRAMING", default_value = "8N1")]
    framing: String,
    /// A serial port with flow control by RTS and CTS
    #[arg(long)]
    rts_cts: bool,
    /// How long an answer is waited for where no profile says it
    #[arg(long, value_name = "TIME", default_value = "3 s")]
    within: String,
    /// Print one JSON document
    #[arg(long)]
    pub(crate) json: bool,
}

impl Identify {
    pub(crate) fn execute(self) -> Result<Exit, Failure> {
        let address: Address = self.address.parse().map_err(|error| wrong("ADDRESS", &error))?;
        let within: Seconds = self.within.parse().map_err(|error| wrong("--within", &error))?;
        let within = waiting(within)?;
        let profile = self.profile.as_deref().map(read_profile).transpose()?;
        let framing = self.framing.parse().map_err(|error| wrong("--framing", &error))?;
        let flow = if self.rts_cts { SerialFlow::RtsCts } else { SerialFlow::None };
        let line = SerialLine { baud: self.baud, framing, flow };
        let _held = Held::take([&address])?;
        let looked = spurline_clock::run(Pace::Real, |clock: Clock| {
            let (address, profile) = (&address, profile.as_ref());
            async move { spurline_instrument::identify(address, line, profile, within, clock).await }
        });
        let identified = looked.map_err(Failure::runtime)?.map_err(Failure::Identify)?;
        if self.json {
            print_json(&as_json(&address, profile.as_ref(), &identified))?;
        } else {
            talk::print_text(&as_text(&address, profile.as_ref(), &identified))?;
        }
        Ok(if identified.is_usable() { Exit::Good } else { Exit::Exceeds })
    }
}

/// A time that somebody may want to wait for one answer.
fn waiting(within: Seconds) -> Result<Duration, Failure> {
    if (0.01..=600.0).contains(&within.get()) {
        return Ok(within.duration());
    }
    Err(Failure::Usage {
        message: format!("--within: expected a time from 10 ms to 600 s, found {within}"),
        advice: "most instruments answer within 3 s".to_owned(),
    })
}

/// Found as a bench finds it; a path is taken from the folder that one is in.
fn read_profile(name: &str) -> Result<Profile, Failure> {
    let text = Files::from_environment().profile("", name).map_err(|missing| Failure::Usage {
        message: missing.message,
        advice: missing.advice.unwrap_or_default(),
    })?;
    Ok(Document::parse(&text.name, &text.text).and_then(|document| Profile::read(&document))?)
}

/// A wrong argument; the second line of the error is its advice.
fn wrong(argument: &str, error: &dyn std::error::Error) -> Failure {
    let text = error.to_string();
    let (message, advice) = text.split_once('\n').unwrap_or((&text, "see `spurline identify --help`"));
    Failure::Usage { message: format!("{argument}: {message}"), advice: advice.to_owned() }
}

fn as_text(address: &Address, profile: Option<&Profile>, identified: &Identified) -> String {
    let mut text = format!("{address}\n{}", answering_text(&identified.answering));
    if let Some(profile) = profile {
        text.push_str(&format!("\nprofile {}: {}\n", profile.source.name(), profile.title));
        text.push_str(&findings_text(&identified.findings));
    }
    text.push_str(&summary(profile, identified));
    text
}

fn answering_text(answering: &Answering) -> String {
    let mut lines: Vec<(&str, String)> = Vec::new();
    match &answering.identity {
        Ok(identity) => lines.extend([
            ("maker", identity.maker.clone()),
            ("model", identity.model.clone()),
            ("serial number", identity.serial.clone()),
            ("firmware", identity.firmware.clone()),
        ]),
        Err(found) => {
            lines.push(("identity", format!("expected four fields between commas, found `{found}`")))
        }
    }
    let (middle, slowest) = (answering.round_trip(), answering.slowest());
    let trips = answering.round_trips.len();
    lines.push(("round trip", format!("{}, at most {} of {trips}", millis(middle), millis(slowest))));
    lines.push(("options", or_dash(answering.options.as_deref())));
    lines.push(("SCPI version", or_dash(answering.version.as_deref())));
    let errors = match &answering.errors {
        None => "no error queue: `SYST:ERR?` is not answered".to_owned(),
        Some(errors) if errors.is_empty() => "none in the queue".to_owned(),
        Some(errors) => errors.iter().map(ToString::to_string).collect::<Vec<_>>().join("; "),
    };
    lines.push(("errors", errors));
    lines.push(("several in one message", answering.compound.to_string()));
    lines.push(("unknown question", answering.unknown.to_string()));
    lines.push(("header behind `;`", relative_text(&answering.relative)));
    lines.push(("CR before LF", answering.carriage_return.to_string()));
    let indent = 24;
    let rows = lines.into_iter().map(|(what, said)| wrapped(&format!("{what:<indent$}{said}"), indent));
    rows.map(|row| format!("{row}\n")).collect()
}

/// A header behind `;` goes on from the one before it (SCPI-1999 volume 1, clause 6.2.4), unless it begins with `:`.
fn relative_text(reaction: &Reaction) -> String {
    match reaction {
        Reaction::Answers => "read from the root, with or without `:`".to_owned(),
        Reaction::Errors(errors) => {
            let errors: Vec<String> = errors.iter().map(ToString::to_string).collect();
            format!("read from the header before it, as SCPI has it: {}", errors.join("; "))
        }
        Reaction::AnswersOtherwise(_) | Reaction::Nothing => format!("not told as wrong: {reaction}"),
    }
}

fn or_dash(text: Option<&str>) -> String {
    text.map_or_else(|| "-".to_owned(), str::to_owned)
}

fn millis(span: Duration) -> String {
    format!("{:.1} ms", span.as_secs_f64() * 1e3)
}

/// The column of what became of a command.
const RESULT: usize = 2;
/// The most that is shown of a spelling in the table; JSON has the whole.
const LONGEST_SPELLING: usize = 30;

fn findings_text(findings: &[Finding]) -> String {
    let mut lines = table(&["command", "spelling", "result"]);
    fit(&mut lines, RESULT);
    for finding in findings {
        lines.add_row([
            finding.command.to_owned(),
            shortened(&finding.spelling),
            finding.verdict.to_string(),
        ]);
    }
    format!("{}\n", lines.trim_fmt())
}

fn shortened(spelling: &str) -> String {
    if spelling.chars().count() <= LONGEST_SPELLING {
        return spelling.to_owned();
    }
    let kept: String = spelling.chars().take(LONGEST_SPELLING - 1).collect();
    format!("{kept}…")
}

fn summary(profile: Option<&Profile>, identified: &Identified) -> String {
    let mut text = String::from("\n");
    let count = |good: Option<bool>| {
        identified.findings.iter().filter(|finding| finding.verdict.is_good() == good).count()
    };
    if profile.is_some() {
        text.push_str(&format!(
            "{} understood, {} not, {} not tried or not proven\n",
            counted(count(Some(true)), "command"),
            count(Some(false)),
            count(None)
        ));
    }
    let advised = identified
        .findings
        .iter()
        .filter_map(|finding| finding.advice.as_ref().map(|advice| format!("{}: {advice}", finding.command)));
    for line in identified.ended.iter().cloned().chain(advised).chain(identified.notes.iter().cloned()) {
        text.push_str(&format!("{}\n", wrapped(&format!("  {line}"), 4)));
    }
    let outcome = match (identified.is_usable(), profile) {
        (true, Some(_)) => {
            "nothing was found that stands in the way of using this instrument with this profile"
        }
        (true, None) => "say `--profile NAME` to try whether a profile fits",
        (false, Some(_)) => "this instrument cannot be used with this profile as it is",
        (false, None) => {
            "the identity is not as IEEE 488.2 has it: a bench file cannot pin the serial number"
        }
    };
    text.push_str(&format!("{}\n", wrapped(outcome, 2)));
    text
}

fn as_json(address: &Address, profile: Option<&Profile>, identified: &Identified) -> Value {
    let answering = &identified.answering;
    let (identity, text) = match &answering.identity {
        Ok(identity) => (Some(identity), None),
        Err(found) => (None, Some(found)),
    };
    json!({
        "address": address.to_string(),
        "usable": identified.is_usable(),
        "identity": identity,
        "identity_as_it_came": text,
        "round_trip_s": {
            "middle": answering.round_trip().as_secs_f64(),
            "slowest": answering.slowest().as_secs_f64(),
        },
        "options": answering.options,
        "scpi_version": answering.version,
        "errors": answering.errors.as_ref().map(|errors| {
            errors.iter().map(|error| json!({ "code": error.code.number(), "text": error.text })).collect::<Vec<_>>()
        }),
        "several_in_one_message": answering.compound.to_string(),
        "unknown_question": answering.unknown.to_string(),
        "relative_header": relative_text(&answering.relative),
        "carriage_return": answering.carriage_return.to_string(),
        "profile": profile.map(|profile| profile.source.name()),
        "kind": profile.map(|profile| profile.kind.word()),
        "commands": identified.findings.iter().map(finding_json).collect::<Vec<_>>(),
        "notes": identified.notes,
        "ended": identified.ended,
    })
}

fn finding_json(finding: &Finding) -> Value {
    json!({
        "command": finding.command,
        "spelling": finding.spelling,
        "understood": finding.verdict.is_good(),
        "result": finding.verdict.to_string(),
        "advice": finding.advice,
    })
}
