//! What answers are checked by: the same readers as the files they go into.

use std::fmt::Display;
use std::str::FromStr;

use spurline_document::{Document, Mistakes, quoted};
use spurline_limits::Rule;
use spurline_plan::{Library, never_keyed};
use spurline_profile::Profile;
use spurline_transport::Address;
use spurline_units::{Db, Dbm, Hertz, Power, Range};

use super::answers::Wrong;

/// Anything that a reader takes, as it was written.
pub(super) fn reads<T: FromStr>(text: &str) -> Result<String, Wrong>
where
    T::Err: std::error::Error,
{
    text.parse::<T>().map(|_| text.to_owned()).map_err(|error| Wrong::of(&error))
}

/// A quantity that must lie above another one, or at it.
pub(super) fn at_least<T>(least: T) -> impl Fn(&str) -> Result<String, Wrong>
where
    T: FromStr + PartialOrd + Display,
    T::Err: std::error::Error,
{
    move |text| {
        let value: T = text.parse().map_err(|error| Wrong::of(&error))?;
        if value >= least {
            return Ok(text.to_owned());
        }
        let message = format!("expected {least} or more, found {value}");
        Err(Wrong::new(message, "is a sign, a digit or the prefix of the unit wrong?"))
    }
}

/// A loss or the uncertainty of one: not below zero.
pub(super) fn loss(text: &str) -> Result<String, Wrong> {
    at_least(Db::new(0.0))(text)
}

/// Words that a file can hold.
pub(super) fn text(text: &str) -> Result<String, Wrong> {
    if text.trim().is_empty() {
        return Err(Wrong::new("expected a text, found nothing", "write a few words"));
    }
    if text.chars().any(char::is_control) {
        return Err(Wrong::new(
            format!(
                "expected a text on one line without control characters, found `{}`",
                text.escape_debug()
            ),
            "write it as plain text, with blanks for tabs",
        ));
    }
    Ok(quoted(text))
}

/// Where an instrument answers.
pub(super) fn address(text: &str) -> Result<String, Wrong> {
    reads::<Address>(text).map(|text| quoted(&text))
}

/// An address, or `none`.
pub(super) fn address_or_none(text: &str) -> Result<String, Wrong> {
    if text == NONE { Ok(NONE.to_owned()) } else { address(text) }
}

/// The answer that something is not there.
pub(super) const NONE: &str = "none";

/// A profile of a kind, found as the bench file will find it.
pub(super) fn profile(library: &dyn Library, file: &str, kind: &str, name: &str) -> Result<String, Wrong> {
    let found = library
        .profile(file, name)
        .map_err(|missing| Wrong { message: missing.message, advice: missing.advice })?;
    let profile = parsed(&found.name, &found.text).and_then(|document| Profile::read(&document));
    let profile = profile.map_err(|mistakes| first(&mistakes))?;
    if profile.kind.word() == kind {
        return text(name);
    }
    Err(Wrong::new(
        format!("expected a profile of kind `{kind}`, found one of kind `{}`", profile.kind.word()),
        format!("name a profile whose file says `kind: {kind}`"),
    ))
}

/// A rule with limits, found as the plan will find it.
pub(super) fn rule(library: &dyn Library, file: &str, name: &str) -> Result<Rule, Wrong> {
    let found = library
        .rule(file, name)
        .map_err(|missing| Wrong { message: missing.message, advice: missing.advice })?;
    let rule = parsed(&found.name, &found.text).and_then(|document| Rule::read(&document));
    let rule = rule.map_err(|mistakes| first(&mistakes))?;
    if rule.has_limits() {
        return Ok(rule);
    }
    Err(Wrong::new(
        format!("`{name}` has tolerances of the carrier and no limits of emissions"),
        "name one with limits; a plan uses the other under `measure: { frequency: { rule: … } }`",
    ))
}

/// One carrier, or several with commas between them.
pub(super) fn carriers(text: &str) -> Result<Vec<Hertz>, Wrong> {
    /// Where radio regulations begin.
    const LOWEST: f64 = 9e3;
    let carriers: Vec<Hertz> = text
        .split(',')
        .map(|one| one.trim().parse().map_err(|error| Wrong::of(&error)))
        .collect::<Result<_, Wrong>>()?;
    for (place, carrier) in carriers.iter().enumerate() {
        if let Some(range) = never_keyed(*carrier) {
            return Err(Wrong::new(
                format!(
                    "{carrier} lies in {range}, which is kept for distress and safety and is never keyed"
                ),
                "choose another channel: a signal leaks even from a load",
            ));
        }
        if carrier.get() < LOWEST {
            return Err(Wrong::new(
                format!("expected a carrier from 9 kHz up, found {carrier}"),
                "radio regulations begin at 9 kHz: is the prefix of the unit right?",
            ));
        }
        if carriers[..place].contains(carrier) {
            return Err(Wrong::new(format!("{carrier} stands there twice"), "name each carrier once"));
        }
    }
    Ok(carriers)
}

/// A power above zero.
pub(super) fn power(text: &str) -> Result<Power, Wrong> {
    text.parse().map_err(|error| Wrong::of(&error))
}

/// The noise floor of an analyser in 1 Hz: not below that of heat (-174 dBm at 290 K), and not so high that nothing is seen.
pub(super) fn noise_in_1_hz(text: &str) -> Result<String, Wrong> {
    const HEAT: Dbm = Dbm::new(-174.0);
    const HIGHEST: Dbm = Dbm::new(-60.0);
    let noise: Dbm = text.parse().map_err(|error| Wrong::of(&error))?;
    if noise >= HEAT && noise <= HIGHEST {
        return Ok(text.to_owned());
    }
    Err(Wrong::new(
        format!("expected a noise floor from {HEAT} to {HIGHEST} in 1 Hz, found {noise}"),
        "-165 dBm to -130 dBm is usual (common practice): the data sheet has it as the displayed average noise level in 1 Hz",
    ))
}

/// A window of power.
pub(super) fn window(text: &str) -> Result<Range<Power>, Wrong> {
    text.parse().map_err(|error| Wrong::of(&error))
}

/// The name of a power setting, which is sent to the unit.
pub(super) fn setting(text: &str) -> Result<String, Wrong> {
    let plain = |b: u8| b.is_ascii_alphanumeric() || b == b'_' || b == b'-';
    let begins = text.bytes().next().is_some_and(|first| first.is_ascii_alphabetic());
    if begins && text.bytes().all(plain) {
        return Ok(text.to_owned());
    }
    // IEEE 488.2 clause 7.7.1: what begins with a digit is a number to the unit, and no name.
    Err(Wrong::new(
        format!("`{text}` cannot be the name of a power setting"),
        "begin with a letter, then letters, digits, `-` and `_`: the name is sent to the unit, for example `p12`",
    ))
}

/// A whole number between two others.
pub(super) fn whole(low: u32, high: u32) -> impl Fn(&str) -> Result<String, Wrong> {
    move |text| {
        let number = text.parse::<u32>().ok().filter(|number| (low..=high).contains(number));
        number.map(|number| number.to_string()).ok_or_else(|| {
            let advice = match text.parse::<f64>() {
                Ok(_) => format!("name a whole one between {low} and {high}"),
                Err(_) => "write digits alone".to_owned(),
            };
            Wrong::new(format!("expected a whole number from {low} to {high}, found `{text}`"), advice)
        })
    }
}

/// What is wrong first with a text, for a person who may answer otherwise.
pub(super) fn first(mistakes: &Mistakes) -> Wrong {
    mistakes.in_order().first().map_or_else(
        || Wrong { message: "it cannot be read".to_owned(), advice: None },
        |mistake| Wrong {
            message: mistake.message().to_owned(),
            advice: mistake.advice().map(str::to_owned),
        },
    )
}

fn parsed(name: &str, text: &str) -> Result<Document, Mistakes> {
    Document::parse(name, text)
}
