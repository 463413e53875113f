//! Any bytes to `spurline_tests::hostile::bench`.

#![no_main]

libfuzzer_sys::fuzz_target!(|data: &[u8]| spurline_tests::hostile::bench(data));
