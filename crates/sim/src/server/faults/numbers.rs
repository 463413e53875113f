//! Numbers in a spelling that is not the usual one, or that are none.

use rand::RngExt;
use spurline_scpi::Element;

use super::outgoing::Outgoing;
use super::program;
use super::rule::Act;
use super::words::{is_number, numbers, respell};
use crate::bench::Does;

/// What stands for a number that there is not. Common practice; 9.91E37 and 9.9E37 are SCPI-1999 volume 1, 7.2.1.
pub(super) const NONE: [&str; 12] = [
    "9.91E37",
    "9.9E37",
    "-9.9E37",
    "NAN",
    "INF",
    "+INF",
    "-INF",
    "9.99999E+37",
    "****",
    "",
    "---",
    "9.910000E+37",
];

/// The numbers of an answer to `message` as the fault leaves them.
pub(super) fn play(act: &mut Act, answer: &mut Outgoing, message: &[u8]) {
    let response = &mut answer.response;
    match act.does {
        Does::NotANumber => {
            let count = numbers(response).count();
            let place = act.draws.random_range(0..count.max(1));
            let word = NONE[act.draws.random_range(0..NONE.len())];
            if let Some(number) = numbers(response).nth(place) {
                *number = Element::from_word(word);
            }
        }
        Does::PlusSigns => {
            let all = response.units.iter_mut().flat_map(|unit| &mut unit.elements);
            for number in all.filter(|element| is_number(element)) {
                respell(number, |text| {
                    if text.starts_with(['+', '-']) { text.to_owned() } else { format!("+{text}") }
                });
            }
        }
        Does::DecimalComma => {
            numbers(response).for_each(|number| respell(number, |text| text.replace('.', ",")));
        }
        Does::IntegersAsReals => numbers(response).for_each(|number| respell(number, real)),
        Does::UnitInAnswer => {
            let asked = program::units(message).into_iter().filter(|unit| unit.query);
            let mut units = asked.map(|unit| unit_of(&unit.header));
            for unit in &mut response.units {
                let unit_of_it = units.next().unwrap_or("DBM");
                let is_measured = super::words::is_measured(unit);
                for number in unit.elements.iter_mut().filter(|element| is_measured && is_number(element)) {
                    respell(number, |text| format!("{text} {unit_of_it}"));
                }
            }
        }
        _ => {}
    }
}

/// A whole number with point and exponent, no digit lost; others stay.
fn real(text: &str) -> String {
    let Ok(value) = text.parse::<i64>() else { return text.to_owned() };
    let shortest = format!("{value:e}");
    let (digits, exponent) = shortest.split_once('e').unwrap_or((&shortest, "0"));
    let (whole, decimals) = digits.split_once('.').unwrap_or((digits, ""));
    format!("{whole}.{decimals:0<4}E+{exponent:0>2}")
}

/// The unit of what a query asks for.
fn unit_of(header: &str) -> &'static str {
    const UNITS: [(&str, &str); 7] = [
        ("TIME", "S"),
        ("FREQ", "HZ"),
        ("BAND", "HZ"),
        ("BWID", "HZ"),
        ("VOLT", "V"),
        ("CURR", "A"),
        ("ATT", "DB"),
    ];
    UNITS.iter().find(|(part, _)| header.contains(part)).map_or("DBM", |(_, unit)| unit)
}
