//! Sums without physical sense, which must not compile, each beside one that differs only in what it mixes.
//!
//! The sound one shows that nothing else stops the other. The error codes are compared by a nightly compiler only.

macro_rules! senseless {
    ($($name:ident, $code:literal: $senseless:literal, but $sound:literal;)+) => {$(
        #[doc = concat!("```compile_fail,", $code, "\nuse spurline_units::*;\nlet _ = ", $senseless, ";\n```")]
        #[doc = concat!("```\nuse spurline_units::*;\nlet _ = ", $sound, ";\n```")]
        mod $name {}
    )+};
}

senseless! {
    levels_do_not_add, "E0308":
        "Dbm::new(3.0) + Dbm::new(3.0)",
        but "Dbm::new(3.0) + Db::new(3.0)";
    a_level_does_not_scale, "E0369":
        "Dbm::new(3.0) * 2.0",
        but "Db::new(3.0) * 2.0";
    no_level_below_a_ratio, "E0308":
        "Db::new(3.0) - Dbm::new(3.0)",
        but "Dbm::new(3.0) - Dbm::new(3.0)";
    a_ratio_is_no_level, "E0308":
        "Db::new(3.0) < Dbm::new(3.0)",
        but "Db::new(3.0) < Db::new(3.0)";
    a_ratio_and_a_frequency, "E0308":
        "Db::new(3.0) + Hertz::new(3.0)",
        but "Db::new(3.0) + Db::new(3.0)";
    a_frequency_and_a_time, "E0308":
        "Hertz::new(3.0) + Seconds::new(3.0)",
        but "Hertz::new(3.0) + Hertz::new(3.0)";
    a_power_and_a_level, "E0308":
        "Watts::new(3.0) + Dbm::new(3.0)",
        but "Watts::new(3.0) + Dbm::new(3.0).to_watts()";
    a_voltage_and_a_current, "E0308":
        "Volts::new(3.0) + Amperes::new(3.0)",
        but "Volts::new(3.0) + Volts::new(3.0)";
    temperatures_do_not_add, "E0369":
        "Celsius::new(3.0) + Celsius::new(3.0)",
        but "Celsius::new(3.0) < Celsius::new(3.0)";
    standing_waves_do_not_add, "E0369":
        "Vswr::new(3.0).unwrap() + Vswr::new(3.0).unwrap()",
        but "Vswr::new(3.0).unwrap() < Vswr::new(3.0).unwrap()";
    a_power_is_no_level, "E0308":
        "Dbm::to_watts(\"5 W\".parse::<Power>().unwrap())",
        but "Dbm::to_watts(\"5 W\".parse::<Power>().unwrap().dbm())";
    no_range_from_a_frequency_to_a_power, "E0308":
        "Range::new(Hertz::new(3.0), Watts::new(3.0))",
        but "Range::new(Hertz::new(3.0), Hertz::new(3.0))";
}
