//! A bench file: a real bench by questions about what stands on it, or a simulated one to begin with.

use askama::Template;
use spurline_plan::{Job, Library};
use spurline_units::{Amperes, Dbm, Hertz, Power, Range, Seconds, Volts, Watts};

use super::answers::{Answers, Question, Wrong};
use super::checks::{self, NONE};
use super::{Draft, Made};
use crate::talk::Failure;

/// Asks about a bench and drafts its file.
pub(super) fn draft(answers: &mut Answers<'_>, library: &dyn Library, file: &str) -> Result<Draft, Failure> {
    let kind = answers.choose(
        ("kind", "which kind of bench"),
        &[
            ("real", "instruments on a table"),
            ("simulated", "no instrument needed: to learn, and for pipelines"),
        ],
        "real",
    )?;
    if kind == "simulated" { simulated(answers, file) } else { real(answers, library, file) }
}

/// Whether the file holds a bench, simulated or not.
pub(super) fn accepted(library: &dyn Library, file: &str) -> Result<(), Failure> {
    let bench = Job::load_bench(file, library)?;
    spurline_runner::read_simulated(&bench)?;
    Ok(())
}

fn next(file: &str) -> Vec<String> {
    vec![format!("spurline new plan --answer bench={file}"), format!("spurline check PLAN --bench {file}")]
}

#[derive(Template)]
#[template(path = "new/bench.yaml", escape = "none")]
struct Real {
    title: String,
    analyser: Instrument,
    meter: Option<Meter>,
    supply: Option<Instrument>,
    unit: Instrument,
    key: Key,
    pad: String,
    pad_rated: String,
    pad_uncertainty: String,
    range: String,
    way_loss: String,
    way_uncertainty: String,
}

struct Instrument {
    at: String,
    profile: String,
}

struct Meter {
    instrument: Instrument,
    loss: String,
    uncertainty: String,
}

enum Key {
    Relay { instrument: Instrument, contact: String, opens: Option<String> },
    SerialLine { port: String, line: String, two_lines: String },
    SupplyOutput { instrument: Instrument, set: String, limit: String },
    ByHand,
}

/// One instrument after another.
struct Instruments<'l> {
    library: &'l dyn Library,
    file: &'l str,
}

impl Instruments<'_> {
    /// Asks where an instrument is, unless it is left out, and by which profile it is spoken to.
    fn ask(
        &self,
        answers: &mut Answers<'_>,
        (name, asks): (&str, &str),
        usual: &str,
        kind: &str,
    ) -> Result<Option<Instrument>, Failure> {
        let check: super::answers::Check<'_> =
            if usual == NONE { &checks::address_or_none } else { &checks::address };
        let at = answers.ask(&Question { name, asks, usual: Some(usual.to_owned()), check })?;
        if at == NONE {
            return Ok(None);
        }
        let question = format!("{name}_profile");
        let profile = answers.ask(&Question {
            name: &question,
            asks: "  its profile",
            usual: Some(format!("{kind}-generic")),
            check: &|text| checks::profile(self.library, self.file, kind, text),
        })?;
        Ok(Some(Instrument { at, profile }))
    }

    fn must(
        &self,
        answers: &mut Answers<'_>,
        question: (&str, &str),
        usual: &str,
        kind: &str,
    ) -> Result<Instrument, Failure> {
        Ok(self
            .ask(answers, question, usual, kind)?
            .expect("`none` is no answer where the usual one is an address"))
    }
}

fn real(answers: &mut Answers<'_>, library: &dyn Library, file: &str) -> Result<Draft, Failure> {
    let title = title(answers, "My bench")?;
    let ask = Instruments { library, file };
    let analyser = ask.must(
        answers,
        ("analyser", "address of the spectrum analyser"),
        "TCPIP::192.0.2.20::5025::SOCKET",
        "analyser",
    )?;
    let power_meter =
        ask.ask(answers, ("power_meter", "address of the power meter, or `none`"), NONE, "power-meter")?;
    let unit = ask.must(
        answers,
        ("unit_control", "address of the unit's control port"),
        "TCPIP::192.0.2.22::5025::SOCKET",
        "unit",
    )?;
    let key = key(answers, &ask)?;
    let supply = match key {
        // The supply of a bench feeds the unit, or keys it.
        Key::SupplyOutput { .. } => None,
        _ => ask.ask(
            answers,
            ("supply", "address of the supply that feeds the unit, or `none`"),
            NONE,
            "supply",
        )?,
    };
    let power = answers.ask(&Question {
        name: "power",
        asks: "the most power that a unit gives",
        usual: Some("5 W".to_owned()),
        check: &|text| checks::power(text).map(|_| text.to_owned()),
    })?;
    let power = checks::power(&power).map_err(wrong)?;
    let pad = ask_loss(answers, "pad", "attenuation of the pad", &format!("{} dB", pad_for(power)))?;
    let pad_rated = answers.ask(&Question {
        name: "pad_rated",
        asks: "power that the pad is rated for",
        usual: Some(rated_for(power).to_string()),
        check: &|text| {
            let rated = checks::power(text)?;
            if rated.watts() >= power.watts() {
                return Ok(text.to_owned());
            }
            Err(Wrong::new(
                format!("expected {power} or more, which the unit gives, found {rated}"),
                "take a pad that bears it: an overrated part burns, and what it lets through is no measure",
            ))
        },
    })?;
    let pad_uncertainty = uncertainty(answers, "pad_uncertainty", "1 dB")?;
    let range = answers.ask(&Question {
        name: "range",
        asks: "range of frequencies over which these losses hold",
        usual: Some("9 kHz..3 GHz".to_owned()),
        check: &checks::reads::<Range<Hertz>>,
    })?;
    let (to_analyser, to_meter) = if power_meter.is_some() { ("6.5 dB", "6.3 dB") } else { ("0.5 dB", "") };
    let way_loss = ask_loss(answers, "way_loss", "loss from the pad to the analyser", to_analyser)?;
    let way_uncertainty = uncertainty(answers, "way_uncertainty", "1 dB")?;
    let meter = power_meter.map(|instrument| {
        let loss = ask_loss(answers, "meter_loss", "loss from the pad to the power meter", to_meter)?;
        let uncertainty = uncertainty(answers, "meter_uncertainty", "1 dB")?;
        Ok::<_, Failure>(Meter { instrument, loss, uncertainty })
    });
    let page = Real {
        title,
        analyser,
        meter: meter.transpose()?,
        supply,
        unit,
        key,
        pad,
        pad_rated,
        pad_uncertainty,
        range,
        way_loss,
        way_uncertainty,
    };
    let mut next = next(file);
    next.insert(0, "spurline identify ADDRESS --profile NAME".to_owned());
    Ok(Draft { files: vec![Made::of(file, &page)], next, notes: Vec::new() })
}

fn key(answers: &mut Answers<'_>, ask: &Instruments<'_>) -> Result<Key, Failure> {
    let method = answers.choose(
        ("key", "how the unit is keyed"),
        &[
            ("relay", "a contact of a relay card"),
            ("serial-line", "a control line of a serial port"),
            ("supply-output", "the output of a supply"),
            ("by-hand", "a person, who is told when"),
        ],
        "relay",
    )?;
    Ok(match method.as_str() {
        "relay" => {
            let instrument = ask.must(
                answers,
                ("relay", "address of the relay card"),
                "TCPIP::192.0.2.23::5025::SOCKET",
                "relay",
            )?;
            let contact = answers.ask(&Question {
                name: "contact",
                asks: "number of the contact",
                usual: Some("1".to_owned()),
                check: &checks::whole(1, 999),
            })?;
            let opens = answers.ask(&Question {
                name: "opens_by_itself",
                asks: "after how long it opens by itself, or `none` if it does not",
                usual: Some(NONE.to_owned()),
                check: &|text| {
                    if text == NONE { Ok(text.to_owned()) } else { checks::at_least(Seconds::new(0.5))(text) }
                },
            })?;
            Key::Relay { instrument, contact, opens: (opens != NONE).then_some(opens) }
        }
        "serial-line" => {
            let port = answers.ask(&Question {
                name: "port",
                asks: "path of the port, as in /dev/serial/by-id",
                usual: None,
                check: &port,
            })?;
            let line = answers.choose(("line", "which line keys"), &[("rts", ""), ("dtr", "")], "rts")?;
            let two_lines = answers.choose(
                ("two_lines", "keyed only while DTR is asserted and RTS is not"),
                &[("false", ""), ("true", "the circuit looks at both lines")],
                "false",
            )?;
            Key::SerialLine { port, line, two_lines }
        }
        "supply-output" => {
            let instrument = ask.must(
                answers,
                ("key_supply", "address of the supply that keys"),
                "TCPIP::192.0.2.24::5025::SOCKET",
                "supply",
            )?;
            let set = answers.ask(&Question {
                name: "key_voltage",
                asks: "voltage that keys",
                usual: Some("5 V".to_owned()),
                check: &above_zero::<Volts>,
            })?;
            let limit = answers.ask(&Question {
                name: "key_current",
                asks: "limit of its current",
                usual: Some("0.1 A".to_owned()),
                check: &above_zero::<Amperes>,
            })?;
            Key::SupplyOutput { instrument, set, limit }
        }
        _ => Key::ByHand,
    })
}

fn above_zero<T>(text: &str) -> Result<String, Wrong>
where
    T: std::str::FromStr + PartialOrd + std::fmt::Display + Default,
    T::Err: std::error::Error,
{
    let value: T = text.parse().map_err(|error| Wrong::of(&error))?;
    if value > T::default() {
        return Ok(text.to_owned());
    }
    Err(Wrong::new(format!("expected a value above zero, found {value}"), "is a sign or a digit missing?"))
}

/// A port by its number may be another one after the next restart.
fn port(text: &str) -> Result<String, Wrong> {
    const BY_ID: &str = "/dev/serial/by-id/";
    if text.strip_prefix(BY_ID).is_some_and(|name| !name.is_empty() && !name.contains('/')) {
        return checks::text(text);
    }
    Err(Wrong::new(
        format!("expected a port under `{BY_ID}`, found `{text}`"),
        "name the port by what is plugged in: `ls /dev/serial/by-id`",
    ))
}

fn title(answers: &mut Answers<'_>, usual: &str) -> Result<String, Failure> {
    answers.ask(&Question {
        name: "title",
        asks: "what the bench is called",
        usual: Some(usual.to_owned()),
        check: &checks::text,
    })
}

fn ask_loss(answers: &mut Answers<'_>, name: &str, asks: &str, usual: &str) -> Result<String, Failure> {
    answers.ask(&Question { name, asks, usual: Some(usual.to_owned()), check: &checks::loss })
}

fn uncertainty(answers: &mut Answers<'_>, name: &str, usual: &str) -> Result<String, Failure> {
    ask_loss(
        answers,
        name,
        "  its uncertainty, k = 2, from a certificate; until it is measured, ample",
        usual,
    )
}

/// What a check said of an answer that was taken before: it cannot be, and is told all the same.
pub(super) fn wrong(wrong: Wrong) -> Failure {
    Failure::Usage { message: wrong.message, advice: wrong.advice.unwrap_or_default() }
}

/// An analyser is fed about a milliwatt: the tens of decibels that bring a power there.
fn pad_for(power: Power) -> u32 {
    const AT_THE_ANALYSER: Dbm = Dbm::new(0.0);
    const LEAST: f64 = 10.0;
    let tens = ((power.watts().to_dbm() - AT_THE_ANALYSER).get() / 10.0).ceil() * 10.0;
    tens.clamp(LEAST, 100.0) as u32
}

/// A pad that stays cool: of the usual ratings the first above twice the power.
fn rated_for(power: Power) -> Watts {
    const USUAL: [f64; 10] = [1.0, 2.0, 5.0, 10.0, 25.0, 50.0, 100.0, 250.0, 500.0, 1000.0];
    let twice = 2.0 * power.watts().get();
    Watts::new(USUAL.into_iter().find(|rated| *rated >= twice).unwrap_or(twice))
}

/// What a simulated bench must fit.
pub(super) struct Fitted {
    /// As YAML.
    pub(super) title: String,
    /// As YAML.
    pub(super) model: String,
    pub(super) range: Range<Hertz>,
    pub(super) setting: String,
    pub(super) power: Power,
    pub(super) seed: String,
    pub(super) clock: String,
}

#[derive(Template)]
#[template(path = "new/simulated.yaml", escape = "none")]
struct Simulated {
    title: String,
    model: String,
    range: Range<Hertz>,
    setting: String,
    power: Power,
    pad: u32,
    rated: Watts,
    seed: String,
    clock: String,
}

/// The file of a simulated bench.
pub(super) fn simulated_file(file: &str, fitted: Fitted) -> Made {
    let Fitted { title, model, range, setting, power, seed, clock } = fitted;
    let (pad, rated) = (pad_for(power), rated_for(power));
    Made::of(file, &Simulated { title, model, range, setting, power, pad, rated, seed, clock })
}

fn simulated(answers: &mut Answers<'_>, file: &str) -> Result<Draft, Failure> {
    let title = title(answers, "Simulated bench")?;
    let model = answers.ask(&Question {
        name: "model",
        asks: "model of the simulated unit",
        usual: Some("Handheld".to_owned()),
        check: &checks::text,
    })?;
    let range = answers.ask(&Question {
        name: "range",
        asks: "range of frequencies that the unit can be tuned to",
        usual: Some("136 MHz..174 MHz".to_owned()),
        check: &checks::reads::<Range<Hertz>>,
    })?;
    let setting = answers.ask(&Question {
        name: "setting",
        asks: "name of its power setting",
        usual: Some("high".to_owned()),
        check: &checks::setting,
    })?;
    let power = answers.ask(&Question {
        name: "power",
        asks: "power that it gives",
        usual: Some("5 W".to_owned()),
        check: &|text| checks::power(text).map(|_| text.to_owned()),
    })?;
    let seed = answers.ask(&Question {
        name: "seed",
        asks: "seed of all that is drawn",
        usual: Some("1".to_owned()),
        check: &checks::whole(0, u32::MAX),
    })?;
    let clock = answers.choose(
        ("clock", "its time"),
        &[("fast", "virtual, over in no time"), ("real", "as on the wall")],
        "fast",
    )?;
    let range = range.parse().map_err(|error: spurline_units::RangeError| wrong(Wrong::of(&error)))?;
    let power = checks::power(&power).map_err(wrong)?;
    let made = simulated_file(file, Fitted { title, model, range, setting, power, seed, clock });
    Ok(Draft { files: vec![made], next: next(file), notes: Vec::new() })
}
