//! Any bytes to `spurline_tests::hostile::tolerances`.

#![no_main]

libfuzzer_sys::fuzz_target!(|data: &[u8]| spurline_tests::hostile::tolerances(data));
