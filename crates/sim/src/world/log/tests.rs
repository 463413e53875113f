//! Transmissions and warmth against closed forms.

use spurline_units::Hertz;

use super::*;

struct Bench {
    start: Moment,
    key: Timeline<bool>,
    ready: Timeline<bool>,
    setting: Timeline<Setting>,
    laws: Laws,
    log: Log,
}

fn setting(mhz: f64, power: usize) -> Setting {
    let carrier = Hertz::from_mhz(mhz);
    Setting { carrier, power, allowed: carrier }
}

impl Bench {
    fn new(time_out: Option<f64>, dies_after: Option<f64>) -> Self {
        let start =
            spurline_clock::run(spurline_clock::Pace::Fast, |clock| async move { clock.now() }).unwrap();
        Self {
            start,
            key: Timeline::new(false),
            ready: Timeline::new(true),
            setting: Timeline::new(setting(145.0, 0)),
            laws: Laws { time_out, dies_after, warms_in: 10.0 },
            log: Log::default(),
        }
    }

    fn at(&self, seconds: f64) -> Moment {
        self.start.after(Duration::from_secs_f64(seconds))
    }

    /// Power setting 0 is the full one, every other a quarter of it.
    fn follow(&mut self, now: f64) {
        let now = self.at(now);
        let load = |setting: Setting| if setting.power == 0 { 1.0 } else { 0.25 };
        self.log.follow(now, &self.key, &self.ready, &self.setting, &self.laws, load);
    }

    fn key(&mut self, now: f64, closed: bool, opens: Option<f64>) {
        self.key.set(self.at(now), closed);
        if let Some(opens) = opens {
            self.key.set_later(self.at(opens), false);
        }
        self.follow(now);
    }

    fn since(&self, at: f64) -> Option<f64> {
        self.log.transmitting_since(self.at(at)).map(|since| since.since(self.start).as_secs_f64())
    }

    fn worn(&self, at: f64) -> Worn {
        self.log.worn(self.at(at), &self.laws)
    }
}

#[track_caller]
fn near(found: f64, expected: f64) {
    assert!((found - expected).abs() < 1e-6, "found {found}, expected {expected}");
}

/// 1 - e^-1 after one time constant; the path, of 180 s, is at 28.347 % of its rise after 60 s (numpy 2.4.6).
#[test]
fn it_warms_up_and_cools_down() {
    let mut bench = Bench::new(None, None);
    bench.key(5.0, true, None);
    near(bench.worn(15.0).unit, 0.632_120_559);
    near(bench.worn(65.0).path, 0.283_468_7);
    bench.key(65.0, false, None);
    let full = 1.0 - (-6f64).exp();
    near(bench.worn(75.0).unit, full * (-1f64).exp());
    near(bench.worn(245.0).path, 0.283_468_7 * (-1f64).exp());
    bench.key(75.0, true, None);
    near(bench.worn(85.0).unit, 1.0 + (full * (-1f64).exp() - 1.0) * (-1f64).exp());
    near(bench.worn(85.0).keyed, 70.0);
    // What was asked about the past is still the same.
    near(bench.worn(15.0).unit, 0.632_120_559);
    assert_eq!((bench.since(4.9), bench.since(5.0), bench.since(70.0)), (None, Some(5.0), None));
}

/// A quarter of the power heats the path to a quarter of the rise; the transmission goes on.
#[test]
fn a_lower_setting_heats_less() {
    let mut bench = Bench::new(None, None);
    bench.key(0.0, true, None);
    bench.setting.set(bench.at(60.0), setting(145.0, 1));
    bench.follow(60.0);
    assert_eq!(bench.since(100.0), Some(0.0));
    near(bench.worn(4000.0).path, 0.25);
    near(bench.worn(60.0).path, 0.283_468_7);
    near(bench.worn(240.0).path, 0.25 + (0.283_468_687 - 0.25) * (-1f64).exp());
    near(bench.worn(240.0).keyed, 240.0);
}

#[test]
fn a_time_out_lasts_until_the_key_is_released() {
    let mut bench = Bench::new(Some(60.0), None);
    bench.key(10.0, true, None);
    assert_eq!((bench.since(69.9), bench.since(70.0)), (Some(10.0), None));
    // Neither another channel nor the same command again brings it back.
    bench.setting.set(bench.at(80.0), setting(146.0, 0));
    bench.follow(80.0);
    bench.key(90.0, true, None);
    assert_eq!((bench.since(95.0), bench.worn(95.0).keyed), (None, 60.0));
    bench.key(100.0, false, None);
    bench.key(101.0, true, None);
    assert_eq!((bench.since(160.9), bench.since(161.0)), (Some(101.0), None));
}

#[test]
fn keyed_time_counts_in_all_key_downs() {
    let mut bench = Bench::new(None, Some(12.0));
    bench.key(0.0, true, Some(5.0));
    bench.key(10.0, true, Some(15.0));
    bench.key(20.0, true, Some(25.0));
    assert_eq!((bench.since(21.9), bench.since(22.0), bench.worn(30.0).keyed), (Some(20.0), None, 12.0));
    bench.key(100.0, true, None);
    assert_eq!(bench.since(101.0), None);
}

/// A contact that opens by itself is told again before: the transmission goes on as one.
#[test]
fn a_renewed_contact_is_one_transmission() {
    let mut bench = Bench::new(None, None);
    for i in 0..10 {
        let now = f64::from(i) * 0.8;
        bench.key(now, true, Some(now + 1.0));
    }
    assert_eq!((bench.since(8.0), bench.since(8.2)), (Some(0.0), None));
    near(bench.worn(20.0).keyed, 8.2);
    bench.ready.set(bench.at(30.0), false);
    bench.follow(30.0);
    bench.key(31.0, true, None);
    assert_eq!(bench.since(32.0), None);
    bench.ready.set(bench.at(33.0), true);
    bench.follow(33.0);
    assert_eq!(bench.since(34.0), Some(33.0));
}
