//! The search for spurious emissions: a small draw of what `scripts/search` runs on many units, and the shipped plan.

use spurline_tests::search::{counted, page};

use crate::bench::{Workshop, readings, root, shipped};

/// Seeds of their own, so that the large draw stays unseen.
const SEEDS: std::ops::Range<u64> = 1001..1011;
const THREADS: usize = 2;

#[test]
fn what_is_planted_is_found_and_nothing_else() {
    let count = counted(SEEDS, THREADS);
    let text = page(&count);
    assert!(count.keeps_all(), "{text}");
    // A draw in which hardly anything stands clear would show nothing.
    assert!(count.units == 10 && count.clear > 40 && count.others > 10, "{text}");
}

/// The truth of the shipped bench stands in its file: a clock, a reference spur on both sides and half the carrier.
#[test]
fn the_shipped_plan_finds_what_its_bench_says() {
    let workshop = Workshop::new();
    let plan = root().join("config/plans/search.yaml");
    let document = workshop.call(&["run", plan.to_str().unwrap(), "--json"]).json();
    let readings = document["readings"].as_array().unwrap();
    let names: Vec<&str> = readings
        .iter()
        .filter(|reading| reading["quantity"] == "spurious" && reading["channel"] == "one")
        .filter_map(|reading| reading["name"].as_str())
        .collect();
    for family in
        ["clock at 26 MHz", "reference spur at +12.8 MHz", "reference spur at -12.8 MHz", "sub-harmonic, 1/2"]
    {
        assert_eq!(names.iter().filter(|name| name.starts_with(family)).count(), 1, "{family}: {names:?}");
    }
    assert_eq!(names.len(), 4, "{names:?}");
    let foretold = workshop.call(&["check", plan.to_str().unwrap(), "--json"]).json();
    let downs = document["key_downs"].as_array().unwrap();
    let more = &foretold["search_allowance"];
    let least = foretold["key_downs"].as_u64().unwrap() as usize;
    let most = least + more["most_key_downs"].as_u64().unwrap() as usize;
    assert!((least..=most).contains(&downs.len()), "{} of {least} to {most}", downs.len());
    let keyed: f64 = downs.iter().map(|down| down["held_s"].as_f64().unwrap()).sum();
    let (at_least, beyond) = (foretold["keyed_s"].as_f64().unwrap(), more["keyed_s"].as_f64().unwrap());
    assert!(keyed <= at_least + beyond, "{keyed} s of {at_least} s and {beyond} s");
    let searches = readings.iter().filter(|reading| reading["quantity"] == "search");
    assert_eq!(searches.filter(|reading| reading["outcome"] == "complies").count(), 2, "{document}");
}

/// What is measured at the carrier alone has no search, and no reading of one.
#[test]
fn a_state_of_the_carrier_alone_has_no_search() {
    let supplies = "supply: [ { name: battery, set: 7.4 V, limit: 2.5 A }, { name: low, set: 6.4 V, limit: 2.5 A, measure: carrier } ]";
    let changes = [
        ("supply: [ { name: battery, set: 7.4 V, limit: 2.5 A } ]", supplies),
        ("    from: 9 kHz\n    to: 1.5 GHz", "    from: 100 MHz\n    to: 160 MHz"),
        ("  harmonics: { up_to: 10 }\n", ""),
    ];
    let readings = readings(&shipped(("search", "search"), &changes, &[]));
    let of_low: Vec<&str> = readings
        .iter()
        .filter(|reading| reading["supply"] == "low")
        .map(|reading| reading["quantity"].as_str().unwrap())
        .collect();
    assert!(!of_low.is_empty() && of_low.iter().all(|quantity| *quantity == "carrier_power"), "{of_low:?}");
    assert!(readings.iter().any(|reading| reading["quantity"] == "search"));
}
