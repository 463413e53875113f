//! What holds for the range of any quantity.

use proptest::prelude::*;
use spurline_units::{Celsius, Db, Dbm, Hertz, Power, Range, RangeError, Seconds};

proptest! {
    #[test]
    fn a_range_contains_its_ends_and_what_lies_between(a in -1e9..1e9f64, b in -1e9..1e9f64, value in -1e9..1e9f64) {
        let (low, high) = (Hertz::new(a.min(b)), Hertz::new(a.max(b)));
        let range = Range::new(low, high).unwrap();
        prop_assert!(range.contains(low) && range.contains(high) && range.contains((low + high) / 2.0));
        prop_assert_eq!((range.low(), range.high()), (low, high));
        let value = Hertz::new(value);
        prop_assert_eq!(range.contains(value), value.max(low).min(high) == value);
    }

    #[test]
    fn reversed_ends_are_refused(low in -1e9..1e9f64, above in 1.0..1e9f64) {
        let (low, high) = (Db::new(low), Db::new(low + above));
        prop_assert!(Range::new(high, low).is_none());
        prop_assert!(Range::new(low, low).is_some());
    }

    #[test]
    fn printing_then_reading_gives_the_same(a in 0u32..4_000_000, b in 0u32..4_000_000) {
        let (low, high) = (f64::from(a.min(b)), f64::from(a.max(b)));
        let range = Range::new(Hertz::new(low * 1e3), Hertz::new(high * 1e3)).unwrap();
        prop_assert_eq!(range.to_string().parse(), Ok(range));
        let range = Range::new(Seconds::new(low), Seconds::new(low)).unwrap();
        prop_assert!((range.to_string().parse::<Range<Seconds>>().unwrap().low() - range.low()).get().abs() < 1e-5);
    }

    /// Two digits are printed, so two digits come back.
    #[test]
    fn a_range_of_levels_reads_back(a in -30_000i32..=30_000, b in -30_000i32..=30_000) {
        let [low, high] = [a.min(b), a.max(b)].map(|hundredths| Dbm::new(f64::from(hundredths) / 100.0));
        let range = Range::new(low, high).unwrap();
        prop_assert_eq!(range.to_string().parse(), Ok(range));
    }

    #[test]
    fn one_unit_for_both_ends_or_one_for_each_is_the_same(a in -273i32..10_000, b in -273i32..10_000) {
        let (low, high) = (a.min(b), a.max(b));
        let once = format!("{low}..{high} °C").parse::<Range<Celsius>>();
        prop_assert_eq!(&once, &format!(" {low} °C .. {high} degC ").parse());
        prop_assert_eq!(once.unwrap().low(), Celsius::new(f64::from(low)));
        let reversed = format!("{}..{low} °C", high + 1).parse::<Range<Celsius>>();
        prop_assert!(matches!(reversed, Err(RangeError::Reversed(_))));
    }

    #[test]
    fn reading_never_panics(
        text in prop_oneof![
            any::<String>(),
            "\\PC{0,24}",
            "[-0-9.eE \u{2026}\u{2013}\u{2212}~]{0,40}[a-zA-Z]{0,4}",
            "[0-9]{1,3}[.]{0,6}[-0-9]{0,4} ?[kM]?(Hz|W|dBm)?",
        ]
    ) {
        let messages = [
            text.parse::<Range<Hertz>>().map_err(|error| error.to_string()).err(),
            text.parse::<Range<Power>>().map_err(|error| error.to_string()).err(),
            text.parse::<Range<Dbm>>().map_err(|error| error.to_string()).err(),
        ];
        for message in messages.into_iter().flatten() {
            prop_assert!(message.contains('\n'), "{message}");
        }
    }
}
