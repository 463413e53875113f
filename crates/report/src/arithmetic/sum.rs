//! From what an instrument showed to the level at the connector, as a sum that can be redone with a pencil.

use spurline_record::{Correction, Figure, Proof, Reading, Unit};
use spurline_units::Db;

/// Figures are shown to a thousandth: a sum that is farther off than rounding can bring has something left out.
const ROUNDING_DB: f64 = 0.000_5;

/// The terms of the sum, and what it comes to.
pub(crate) struct Sum {
    pub(crate) terms: Vec<Term>,
    pub(crate) whole_loss: String,
    pub(crate) level: Option<String>,
    /// The level in watts, as an equation.
    pub(crate) watts: Option<String>,
}

/// One term.
pub(crate) struct Term {
    pub(crate) what: String,
    pub(crate) amount: String,
}

impl Sum {
    /// The sum of a reading; `None` if nothing was corrected.
    pub(crate) fn of(reading: &Reading) -> Option<Self> {
        let correction = reading.correction.as_ref()?;
        let instrument = if reading.meter.is_empty() { "analyser" } else { "power meter" };
        let mut terms = vec![Term {
            what: format!("shown by the {instrument}"),
            amount: format!("{:.3}", correction.raw),
        }];
        if correction.noise.get() != 0.0 {
            terms.push(term("noise taken off", -correction.noise));
        }
        terms.extend(correction.path.iter().map(|(name, loss)| term(&format!("loss of {name}"), *loss)));
        if let Some(figure) = &reading.figure {
            terms.extend(rest(correction, figure, &reading.proof));
        }
        Some(Self {
            terms,
            whole_loss: format!("{:.3}", correction.path_loss),
            level: reading.figure.as_ref().and_then(level),
            watts: reading.figure.as_ref().and_then(watts),
        })
    }
}

fn term(what: &str, amount: Db) -> Term {
    Term { what: what.to_owned(), amount: format!("{:+.3} dB", amount.get()) }
}

fn level(figure: &Figure) -> Option<String> {
    let bound = if figure.bound { "≤ " } else { "" };
    figure.level.map(|level| format!("{bound}{level:.3}"))
}

fn watts(figure: &Figure) -> Option<String> {
    let level = figure.level.filter(|_| figure.unit == Unit::W)?;
    Some(format!("10^(({:.3} - 30) / 10) W = {:.3} W", level.get(), figure.value))
}

/// What the terms do not add up to: what the analyser's own product may hide, noise that counts as a part of the line, or
/// something that the record does not say.
fn rest(correction: &Correction, figure: &Figure, proof: &Proof) -> Vec<Term> {
    let parts: f64 = correction.path.iter().map(|(_, loss)| loss.get()).sum();
    let read = correction.raw.get() - correction.noise.get() + parts;
    let Some(level) = figure.level else { return Vec::new() };
    let left = level.get() - read;
    if left.abs() < ROUNDING_DB {
        return Vec::new();
    }
    let own = proof.own_distortion.map(|own| {
        let hidden = 20.0 * (1.0 + 10f64.powf((own.get() - read) / 20.0)).log10();
        let what = format!(
            "what the analyser's own product, up to {own:.3}, may hide: 20 lg(1 + 10^((product - line) / 20))"
        );
        (what, hidden)
    });
    let hidden = own.as_ref().map_or(0.0, |(_, hidden)| *hidden);
    let noise = proof.noise_counted.map(|noise| {
        let more = 10.0 * (1.0 + 10f64.powf((noise.get() - read - hidden) / 10.0)).log10();
        let what = format!(
            "noise that comes with the key, {noise:.3} in the bandwidth of the limit, may be a part of it: 10 lg(1 + 10^((noise \
             - line) / 10))"
        );
        (what, more)
    });
    let terms: Vec<(String, f64)> = own.into_iter().chain(noise).collect();
    let explained: f64 = terms.iter().map(|(_, amount)| amount).sum();
    if !figure.bound || (explained - left).abs() >= ROUNDING_DB {
        return vec![term("not explained by this record", Db::new(left))];
    }
    terms.iter().map(|(what, amount)| term(what, Db::new(*amount))).collect()
}

#[cfg(test)]
mod tests {
    use spurline_units::Dbm;

    use super::*;

    fn correction() -> Correction {
        Correction {
            raw: Dbm::new(-70.0),
            path: vec![("pad".to_owned(), Db::new(30.0)), ("cable".to_owned(), Db::new(0.5))],
            path_loss: Db::new(30.5),
            noise: Db::new(0.25),
        }
    }

    fn figure(level: f64, bound: bool) -> Figure {
        Figure { value: level, unit: Unit::Dbm, level: Some(Dbm::new(level)), bound }
    }

    #[test]
    fn a_sum_that_adds_up_has_no_rest() {
        assert!(rest(&correction(), &figure(-39.75, false), &Proof::default()).is_empty());
    }

    #[test]
    fn a_sum_that_does_not_add_up_says_so() {
        let rest = &rest(&correction(), &figure(-38.0, false), &Proof::default())[0];
        assert_eq!((rest.what.as_str(), rest.amount.as_str()), ("not explained by this record", "+1.750 dB"));
    }

    /// Common practice: two equal voltages in phase are 6.02 dB above one of them.
    #[test]
    fn a_bound_by_the_own_product_is_the_sum_of_two_voltages() {
        let twice = -39.75 + 20.0 * 2f64.log10();
        let proof = Proof { own_distortion: Some(Dbm::new(-39.75)), ..Proof::default() };
        let rest = &rest(&correction(), &figure(twice, true), &proof)[0];
        assert!(rest.what.contains("own product, up to -39.750 dBm"), "{}", rest.what);
        assert_eq!(rest.amount, "+6.021 dB");
    }

    /// Common practice: with as much noise as line the power is 3.01 dB above either.
    #[test]
    fn noise_that_counts_is_the_sum_of_two_powers() {
        let most = -39.75 + 20.0 * 2f64.log10();
        let both = most + 10.0 * 2f64.log10();
        let proof = Proof {
            own_distortion: Some(Dbm::new(-39.75)),
            noise_counted: Some(Dbm::new(most)),
            ..Proof::default()
        };
        let terms = rest(&correction(), &figure(both, true), &proof);
        let amounts: Vec<&str> = terms.iter().map(|term| term.amount.as_str()).collect();
        assert_eq!(amounts, ["+6.021 dB", "+3.010 dB"]);
        assert!(terms[1].what.starts_with("noise that comes with the key, -33.729 dBm"), "{}", terms[1].what);
        // Where they do not come to what is left, nothing is made up.
        let proof = Proof { noise_counted: Some(Dbm::new(-60.0)), ..proof };
        let terms = rest(&correction(), &figure(both, true), &proof);
        assert!(terms.len() == 1 && terms[0].what == "not explained by this record");
    }
}
