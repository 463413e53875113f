//! Bandwidths and designators against the printed examples of 47 CFR 2.202, eCFR issue 2026-09-23.

use proptest::prelude::*;

use super::*;

/// All examples of 2.202(b)(3).
#[test]
fn bandwidths_are_written_as_the_regulation_writes_them() {
    for (hertz, text) in [
        (0.002, "H002"),
        (0.1, "H100"),
        (25.3, "25H3"),
        (400.0, "400H"),
        (2.4e3, "2K40"),
        (6e3, "6K00"),
        (12.5e3, "12K5"),
        (180.4e3, "180K"),
        (180.5e3, "181K"),
        (180.7e3, "181K"),
        (1.25e6, "1M25"),
        (2e6, "2M00"),
        (10e6, "10M0"),
        (202e6, "202M"),
        (5.65e9, "5G65"),
    ] {
        assert_eq!(designated(Hertz::new(hertz)).as_deref(), Some(text), "{hertz} Hz");
    }
}

/// What rounds up to the next letter takes it.
#[test]
fn rounding_may_change_the_letter() {
    for (hertz, text) in [
        (0.9996, Some("1H00")),
        (999.4, Some("999H")),
        (999.5, Some("1K00")),
        (9.995e3, Some("10K0")),
        (99.95e3, Some("100K")),
        (999.6e3, Some("1M00")),
        (0.000_4, None),
        (999.5e9, None),
    ] {
        assert_eq!(designated(Hertz::new(hertz)).as_deref(), text, "{hertz} Hz");
    }
}

fn khz(khz: f64) -> Hertz {
    Hertz::new((khz * 1e3 * 1e3).round() / 1e3)
}

/// The sample calculations of 2.202(g): formula, figures and designation as printed; the deviation of 16K0F3E is implied.
/// 11K0F3E, 14K0F3E and 8K50F3E are the same formula with smaller deviations, worked by hand.
#[test]
fn formulas_give_the_printed_designations() {
    let fm = |highest: f64, deviation: f64, factor: f64| Modulation::Frequency {
        highest: khz(highest),
        deviation: khz(deviation),
        factor,
    };
    let both = |highest: f64| Modulation::DoubleSideband { highest: khz(highest) };
    let one =
        |lowest: f64, highest: f64| Modulation::SingleSideband { lowest: khz(lowest), highest: khz(highest) };
    for (modulation, designator, hertz) in [
        (fm(3.0, 5.0, 1.0), "16K0F3E", 16e3),
        (fm(3.0, 2.5, 1.0), "11K0F3E", 11e3),
        (fm(3.0, 4.0, 1.0), "14K0F3E", 14e3),
        (fm(3.0, 1.25, 1.0), "8K50F3E", 8.5e3),
        (fm(15.0, 75.0, 1.0), "180KF3E", 180e3),
        (fm(0.05, 0.085, 1.2), "304HF1B", 304.0),
        (fm(0.05, 0.6, 1.1), "1K42F7B", 1420.0),
        (fm(0.55, 0.4, 1.1), "1K98F1C", 1980.0),
        (fm(0.025, 0.035, 1.2), "134HJ2B", 134.0),
        (both(3.0), "6K00A3E", 6e3),
        (both(4.0), "8K00A3E", 8e3),
        (both(164.0), "328KA8E", 328e3),
        (one(0.3, 3.0), "2K70J3E", 2.7e3),
        (one(0.05, 4.5), "4K45J3E", 4.45e3),
        (Modulation::Keyed { baud: 20.0, factor: 5.0 }, "100HA1A", 100.0),
    ] {
        let bandwidth = modulation.necessary_bandwidth();
        assert!((bandwidth.get() - hertz).abs() < 1e-6, "{designator}: {bandwidth}");
        let read: Designator = designator.parse().unwrap();
        assert_eq!(read.to_string(), designator);
        assert!((read.bandwidth().get() - hertz).abs() < 1e-6, "{designator}: {}", read.bandwidth());
        assert_eq!(designated(bandwidth).as_deref(), Some(&designator[..4]));
    }
}

/// 2.202(g): 2 C + 2 M + 2 D K = 2 (9960 + 30 + 480) Hz = 20.94 kHz, printed with three digits.
#[test]
fn a_composite_emission_is_rounded() {
    let bandwidth = Hertz::new(2.0 * (9960.0 + 30.0 + 480.0));
    assert_eq!(designated(bandwidth).as_deref(), Some("20K9"));
    assert_eq!("20K9A9W".parse::<Designator>().unwrap().class(), "A9W");
}

#[test]
fn a_class_is_told_in_words() {
    let meaning = |text: &str| text.parse::<Designator>().unwrap().meaning().join("; ");
    assert_eq!(meaning("16K0F3E"), "frequency modulation; one channel, analogue; telephony");
    assert_eq!(meaning("7k60fxe"), "frequency modulation; another signal; telephony");
    assert_eq!(
        meaning("150HA1AAN"),
        "double sideband; one channel, digital, without a subcarrier; telegraphy by ear"
    );
}

#[test]
fn slips_are_named() {
    let error = |text: &str| text.parse::<Designator>().unwrap_err().to_string();
    assert!(error("16K0").starts_with("expected a designator of 7 to 9"));
    assert!(error("16K0F3E-AN").contains("letters and digits"));
    assert!(error("16KHF3E").contains("three digits and H, K, M or G"));
    assert!(error("1600F3E").contains("three digits and H, K, M or G"));
    assert!(error("000KF3E").contains("three digits"));
    assert!(error("016KF3E").contains("begins with 1 to 9") && error("016KF3E").ends_with("write `16K0`"));
    assert!(error("K500F3E").ends_with("write `500H`"));
    assert!(error("16K0Z3E").contains("modulation as first symbol"));
    assert!(error("16K0F4E").ends_with("known here: 0, 1, 2, 3, 7, 8, 9, X"));
    assert!(error("16K0F3Z").contains("third symbol"));
}

proptest! {
    #[test]
    fn reading_never_panics(text in "[0-9HKMGa-z\u{e4} ]{0,10}") {
        drop(text.parse::<Designator>());
    }

    /// Three digits hold a bandwidth to half of the last one.
    #[test]
    fn a_bandwidth_reads_back(exponent in -2.9..11.9f64) {
        let hertz = 10f64.powf(exponent);
        let text = designated(Hertz::new(hertz)).unwrap();
        let read: Designator = format!("{text}F3E").parse().unwrap();
        let digit = if hertz < 1.0 { 0.001 } else { 10f64.powf(hertz.log10().floor() - 2.0) };
        prop_assert!((read.bandwidth().get() - hertz).abs() <= digit * 0.501, "{} as {}", hertz, text);
    }
}

/// 47 CFR 97.3(c), which tells uses apart by the symbols of the class.
#[test]
fn a_class_says_what_is_sent() {
    let sent = |text: &str| text.parse::<Designator>().unwrap().sent();
    for (text, word) in [
        ("150HA1A", Use::Cw),
        ("100HJ2A", Use::Cw),
        ("2K10A2A", Use::Mcw),
        ("16K0F3E", Use::Phone),
        ("2K80J3E", Use::Phone),
        ("60H0J2B", Use::Data),
        ("250HF1B", Use::Data),
        ("500HG1D", Use::Data),
        ("6M00C3F", Use::Image),
        ("3K00J3C", Use::Image),
    ] {
        assert_eq!(sent(text), Some(word), "{text}");
    }
    // Morse by shifts of the frequency is named by none of them, nor are pulses.
    assert_eq!((sent("500HF1A"), sent("1M00P0N"), sent("16K0F3W")), (None, None, None));
}
