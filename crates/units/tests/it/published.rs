//! Conversions against figures from outside.
//!
//! numpy is version 2.4.6. The question pools are those of the amateur radio examinations of the United States:
//! Element 2 (Technician), Element 3 (General) and Element 4 (Extra).

use spurline_units::{Db, Dbm, Ohms, Vswr, Watts};

fn watts(text: &str) -> Watts {
    text.parse().unwrap()
}

fn close(found: f64, expected: f64, within: f64) {
    assert!((found - expected).abs() <= within, "found {found}, expected {expected} within {within}");
}

/// numpy: 10 log10(P / 1 mW).
#[test]
fn powers_as_levels() {
    for (text, dbm) in [
        ("25 uW", -16.020_6),
        ("25 \u{b5}W", -16.020_6),
        ("10 uW", -20.0),
        ("0.25 uW", -36.020_6),
        ("1 nW", -60.0),
        ("50 mW", 16.989_7),
        ("5 W", 36.989_7),
        ("50 W", 46.989_7),
        ("1.5 kW", 61.760_9),
    ] {
        close(watts(text).to_dbm().get(), dbm, 5e-5);
    }
}

/// Element 4: E4D12 gives 10 W as +40 dBm, E4D14 gives -100 dBm as 0.1 pW.
#[test]
fn levels_as_powers() {
    close(watts("10 W").to_dbm().get(), 40.0, 1e-12);
    close(Dbm::new(-100.0).to_watts() / watts("0.1 pW"), 1.0, 1e-12);
}

/// Element 4, E4D12: 10 W, an antenna gain of 10 dB, a cable loss of 3 dB and a path loss of 136 dB leave 8 dB above
/// a weakest signal of -103 dBm that must be exceeded by 6 dB.
#[test]
fn a_link_margin() {
    let received = watts("10 W").to_dbm() + Db::new(10.0) - Db::new(3.0) - Db::new(136.0);
    let needed = Dbm::new(-103.0) + Db::new(6.0);
    close((received - needed).get(), 8.0, 1e-9);
}

/// Element 2: T5B09, T5B10 and T5B11.
#[test]
fn changes_of_power() {
    for (from, to, db) in [("5 W", "10 W", 3.0), ("12 W", "3 W", -6.0), ("20 W", "200 W", 10.0)] {
        close((watts(to).to_dbm() - watts(from).to_dbm()).get(), db, 0.05);
    }
}

/// Element 3, G5B10: a loss of 1 dB is 20.6 % of the power.
#[test]
fn a_loss_of_one_decibel() {
    close(1.0 - Db::new(-1.0).power_ratio(), 0.206, 5e-4);
}

/// numpy: 10**(3/10), 10**(6/10), 10**(6/20).
#[test]
fn ratios_of_power_and_of_amplitude() {
    close(Db::new(3.0).power_ratio(), 1.995_262_314_968_879_5, 1e-15);
    close(Db::new(6.0).power_ratio(), 3.981_071_705_534_972_2, 1e-15);
    close(Db::new(6.0).amplitude_ratio(), 1.995_262_314_968_879_5, 1e-15);
}

/// numpy: the mean of -60 and -50 dBm as powers, and of the figures in dB, which is a different thing.
#[test]
fn means_of_powers_and_of_decibels() {
    let levels = [Dbm::new(-60.0), Dbm::new(-50.0)];
    let power = levels.into_iter().map(Dbm::to_watts).sum::<Watts>() / 2.0;
    close(power.to_dbm().get(), -52.596_4, 5e-5);
    let figures = levels[0] + (levels[1] - levels[0]) / 2.0;
    close(figures.get(), -55.0, 1e-12);
}

/// numpy: -40 dBm and -43 dBm without a fixed phase between them.
#[test]
fn powers_add() {
    let sum: Watts = [Dbm::new(-40.0), Dbm::new(-43.0)].into_iter().map(Dbm::to_watts).sum();
    close(sum.to_dbm().get(), -38.235_7, 5e-5);
}

/// numpy: sqrt(P R) for -107 dBm in 50 ohm, closed circuit, and twice that as the open-circuit voltage (emf).
#[test]
fn a_weak_signal_in_microvolts() {
    let closed = Dbm::new(-107.0).to_watts().volts_across(Ohms::new(50.0));
    close(closed.get(), 0.998_81e-6, 5e-12);
    close((closed * 2.0).get(), 1.997_63e-6, 5e-12);
}

/// Element 3: G5B06, 200 V peak to peak across 50 ohm are 100 W PEP; G5B12, 1200 W in 50 ohm are 245 V rms.
#[test]
fn strong_signals_in_volts() {
    let fifty: Ohms = "50 ohm".parse().unwrap();
    let peak_to_peak = watts("100 W").volts_across(fifty) * (2.0 * 2f64.sqrt());
    close(peak_to_peak.get(), 200.0, 1e-9);
    close(watts("1.2 kW").volts_across(fifty).get(), 245.0, 0.5);
}

/// By the definition, (s - 1) / (s + 1): a ratio of 2 reflects a third of the voltage, 3 a half.
#[test]
fn a_standing_wave_ratio_stands_for_a_reflection() {
    for (ratio, reflection) in [(1.0, 0.0), (2.0, 1.0 / 3.0), (3.0, 0.5)] {
        close(Vswr::new(ratio).unwrap().reflection(), reflection, 1e-15);
    }
}
