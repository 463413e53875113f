//! From where to where spurious emissions are looked for: 47 CFR 2.1057.

use spurline_units::{Hertz, Range};

/// One row of the rule: up to a harmonic of the highest fundamental, or a frequency, whichever is lower.
struct Row {
    /// Fundamentals below this; the last row has no end.
    below_ghz: Option<f64>,
    harmonic: u32,
    most_ghz: f64,
    paragraph: &'static str,
}

/// 47 CFR 2.1057(a), eCFR issue 2026-09-23.
const ROWS: [Row; 3] = [
    Row { below_ghz: Some(10.0), harmonic: 10, most_ghz: 40.0, paragraph: "2.1057(a)(1)" },
    Row { below_ghz: Some(30.0), harmonic: 5, most_ghz: 100.0, paragraph: "2.1057(a)(2)" },
    Row { below_ghz: None, harmonic: 5, most_ghz: 200.0, paragraph: "2.1057(a)(3)" },
];

/// What a search goes no lower than, whatever the equipment makes: 47 CFR 2.1057(a).
const LOWEST_HZ: f64 = 9e3;

/// What more than so many decibels below its limit need not be reported: 47 CFR 2.1057(c).
pub const NOT_REPORTED_BELOW_LIMIT_DB: f64 = 20.0;

/// Where spurious emissions of a carrier are to be looked for, and how that follows, a line a step.
///
/// `carrier` is the highest fundamental, `lowest_generated` the lowest frequency that the equipment makes inside itself;
/// where nobody knows it, 9 kHz is on the safe side.
#[must_use]
pub fn span_of(carrier: Hertz, lowest_generated: Hertz) -> (Range<Hertz>, Vec<String>) {
    let lowest = Hertz::new(LOWEST_HZ);
    let from = lowest_generated.max(lowest);
    let ghz = |ghz: f64| Hertz::new(ghz * 1e9);
    let is_within = |row: &&Row| row.below_ghz.is_none_or(|end| carrier < ghz(end));
    let row = ROWS.iter().find(is_within).expect("the last row has no end");
    let (harmonic, most) = (carrier.harmonic(row.harmonic), ghz(row.most_ghz));
    let to = harmonic.min(most);
    let because = if lowest_generated < lowest {
        format!(
            "from {from}: the lowest frequency generated is {lowest_generated}, and no search goes below {lowest}"
        )
    } else {
        format!("from {from}: the lowest frequency generated, not below {lowest}")
    };
    let derivation = vec![
        "47 CFR 2.1057, eCFR issue 2026-09-23, verified".to_owned(),
        because,
        format!(
            "to {to}: harmonic {} of {carrier} is {harmonic}, the most is {most}, and the lower of them holds ({})",
            row.harmonic, row.paragraph
        ),
        format!(
            "what lies more than {NOT_REPORTED_BELOW_LIMIT_DB} dB below its limit need not be reported (2.1057(c))"
        ),
    ];
    // A carrier whose harmonics end below where the search begins leaves nothing but that place.
    let range = Range::new(from, to.max(from)).expect("the end was raised to the beginning");
    (range, derivation)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn end_mhz(carrier_mhz: f64) -> f64 {
        span_of(Hertz::from_mhz(carrier_mhz), Hertz::new(9e3)).0.high().mhz()
    }

    /// Worked from 47 CFR 2.1057(a), eCFR issue 2026-09-23: harmonics, and the cap where it is lower.
    #[test]
    fn the_end_is_a_harmonic_or_the_cap() {
        for (carrier, end) in [
            (146.0, 1460.0),
            (446.0, 4460.0),
            (28.0, 280.0),
            (5_800.0, 40_000.0),
            (9_999.999, 40_000.0),
            (10_000.0, 50_000.0),
            (24_125.0, 100_000.0),
            (29_999.0, 100_000.0),
            (30_000.0, 150_000.0),
            (76_500.0, 200_000.0),
        ] {
            assert!((end_mhz(carrier) - end).abs() < 1e-6, "{carrier} MHz: {} MHz", end_mhz(carrier));
        }
    }

    #[test]
    fn the_beginning_is_what_the_equipment_makes_but_not_below_9_khz() {
        let from = |lowest: f64| span_of(Hertz::from_mhz(146.0), Hertz::new(lowest)).0.low().get();
        assert_eq!(from(12.8e6), 12.8e6);
        assert_eq!(from(9e3), 9e3);
        assert_eq!(from(32.768e3), 32.768e3);
        assert_eq!(from(100.0), 9e3);
    }

    #[test]
    fn the_steps_are_told() {
        let (_, steps) = span_of(Hertz::from_mhz(5_800.0), Hertz::new(100.0));
        let steps = steps.join("\n");
        for words in
            ["no search goes below 9 kHz", "harmonic 10 of 5.8 GHz is 58 GHz", "more than 20 dB below"]
        {
            assert!(steps.contains(words), "{steps}");
        }
    }
}
