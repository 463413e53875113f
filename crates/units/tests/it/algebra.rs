//! The laws that levels, ratios and powers keep.

use proptest::prelude::*;
use spurline_units::{Db, Dbm, Hertz, Ohms, Watts};

fn level() -> impl Strategy<Value = Dbm> {
    (-174.0..90.0f64).prop_map(Dbm::new)
}

fn ratio() -> impl Strategy<Value = Db> {
    (-150.0..150.0f64).prop_map(Db::new)
}

fn close(a: f64, b: f64, part: f64) -> bool {
    (a - b).abs() <= part * a.abs().max(b.abs())
}

proptest! {
    #[test]
    fn a_gain_and_its_loss_cancel(level in level(), gain in ratio()) {
        prop_assert!((level + gain - gain - level).abs().get() < 1e-9);
        prop_assert!((level + gain - (level - -gain)).abs().get() < 1e-9);
    }

    #[test]
    fn a_level_is_another_and_the_ratio_between(a in level(), b in level()) {
        prop_assert!((a + (b - a) - b).abs().get() < 1e-9);
        prop_assert_eq!(a - b, -(b - a));
    }

    #[test]
    fn ratios_add_and_scale(a in ratio(), b in ratio()) {
        prop_assert!((a + b - b - a).abs().get() < 1e-9);
        prop_assert_eq!(a + b, b + a);
        prop_assert_eq!(a * 2.0, a + a);
        prop_assert_eq!(a * 2.0 / 2.0, a);
        let mut sum = a;
        sum += b;
        prop_assert_eq!(sum, a + b);
    }

    #[test]
    fn frequencies_add(a in 0.0..1e10f64, b in 0.0..1e10f64) {
        let (a, b) = (Hertz::new(a), Hertz::new(b));
        prop_assert!(((a + b) - b - a).get().abs() < 1e-5);
        prop_assert!(((a + b) / 2.0).get() >= a.min(b).get() && ((a + b) / 2.0).get() <= a.max(b).get());
    }

    #[test]
    fn a_level_goes_through_watts_and_back(level in level()) {
        prop_assert!((level.to_watts().to_dbm() - level).abs().get() < 1e-9);
    }

    #[test]
    fn a_power_goes_through_dbm_and_back(digits in 1.0..10.0f64, ten in -20..7i32) {
        let power = Watts::new(digits * 10f64.powi(ten));
        prop_assert!(close(power.to_dbm().to_watts().get(), power.get(), 1e-12));
    }

    #[test]
    fn powers_add_in_any_order_to_more_than_each(a in level(), b in level(), c in level()) {
        let [a, b, c] = [a, b, c].map(Dbm::to_watts);
        prop_assert_eq!(a + b, b + a);
        prop_assert!(a + b >= a.max(b) && a + b <= a.max(b) * 2.0);
        let sums = [[a, b, c], [c, b, a], [b, a, c]].map(|powers| powers.into_iter().sum::<Watts>().get());
        prop_assert!(close(sums[0], sums[1], 1e-15) && close(sums[0], sums[2], 1e-15));
    }

    #[test]
    fn ratios_add_where_plain_numbers_multiply(a in ratio(), b in ratio()) {
        prop_assert!(close((a + b).power_ratio(), a.power_ratio() * b.power_ratio(), 1e-12));
        prop_assert!(close((a + b).amplitude_ratio(), a.amplitude_ratio() * b.amplitude_ratio(), 1e-12));
        prop_assert!(close((-a).power_ratio(), 1.0 / a.power_ratio(), 1e-12));
    }

    #[test]
    fn power_goes_with_the_square_of_the_amplitude(ratio in ratio()) {
        prop_assert!(close(ratio.amplitude_ratio().powi(2), ratio.power_ratio(), 1e-12));
    }

    #[test]
    fn a_gain_multiplies_the_power(level in level(), gain in -60.0..60.0f64) {
        let gain = Db::new(gain);
        prop_assert!(close((level + gain).to_watts().get(), level.to_watts().get() * gain.power_ratio(), 1e-12));
    }

    #[test]
    fn a_voltage_across_a_resistance_gives_the_power(level in level(), ohms in 1.0..1e4f64) {
        let (power, resistance) = (level.to_watts(), Ohms::new(ohms));
        let volts = power.volts_across(resistance).get();
        prop_assert!(close(volts * volts / ohms, power.get(), 1e-12));
    }
}
