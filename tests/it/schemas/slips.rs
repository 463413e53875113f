//! Slips that both refuse, and ways of writing that both take: each a change of a shipped file.

use super::sample::{Kind, Sample};

/// Texts of the file, each with what stands in its place instead.
type Changes = &'static [(&'static str, &'static str)];

/// A file and changes of it, each on its own.
type Changed = (Kind, &'static str, &'static [Changes]);

const PLAN: (Kind, &str) = (Kind::Plan, "config/plans/demo.yaml");
const NOTCHED_PLAN: (Kind, &str) = (Kind::Plan, "config/plans/notched.yaml");
const BENCH: (Kind, &str) = (Kind::Bench, "config/benches/demo.yaml");
const NOTCHED: (Kind, &str) = (Kind::Bench, "config/benches/notched.yaml");
const ALONE: (Kind, &str) = (Kind::Bench, "config/benches/analyser-alone.yaml");
const ANALYSER: (Kind, &str) = (Kind::Profile, "config/profiles/analyser-generic.yaml");
const RELAY: (Kind, &str) = (Kind::Profile, "config/profiles/relay-generic.yaml");
const FCC: (Kind, &str) = (Kind::Rule, "config/rules/us-part-97.yaml");
const ITU: (Kind, &str) = (Kind::Rule, "config/rules/itu-category-a.yaml");

const LAND_MOBILE: (Kind, &str) = (Kind::Plan, "config/plans/land-mobile.yaml");
const SPECTRUM: (Kind, &str) = (Kind::Plan, "config/plans/modulated-qualification.yaml");
const STABILITY: (Kind, &str) = (Kind::Rule, "config/rules/us-part-95-stability.yaml");
const BANDS: (Kind, &str) = (Kind::Band, "config/bands/us-amateur.yaml");

const REFUSED: &[Changed] = &[
    (
        LAND_MOBILE.0,
        LAND_MOBILE.1,
        &[
            &[("rule: us-part-90-stability,", "rul: us-part-90-stability,")],
            &[("rule: us-part-90-stability,", "rule: us-part-90-stability, within: 5 ppm,")],
            &[("rule: us-part-90-stability,", "")],
            &[("facts: { channel_width: 12.5 kHz } }", "facts: [ 12.5 kHz ] }")],
            &[("facts: { channel_width: 12.5 kHz } }", "fact: { channel_width: 12.5 kHz } }")],
            &[(
                "frequency: { rule: us-part-90-stability, facts: { channel_width: 12.5 kHz } }",
                "frequency: us-part-90-stability",
            )],
            &[("band: 150 MHz..174 MHz", "band: 150 MHz")],
        ],
    ),
    (
        SPECTRUM.0,
        SPECTRUM.1,
        &[
            &[("within: 2.5 ppm", "within: 2.5")],
            &[("within: 2.5 ppm", "within: 2.5 ppb")],
            &[("table: us-amateur, ", "")],
            &[("table: us-amateur", "tabel: us-amateur")],
            &[("table: us-amateur", "table: [ us-amateur ]")],
            &[("region: 2", "region: 4")],
            &[("region: 2", "region: two")],
            &[("region: 2", "region: [ 2 ]")],
            &[("use: phone", "use: speech")],
            &[("use: phone", "use: [ phone ]")],
            &[("use: phone", "use: phone, emission: 16K0F3E")],
            &[("band: { table", "bands: { table")],
        ],
    ),
    (
        STABILITY.0,
        STABILITY.1,
        &[
            &[("tolerances:\n", "tolerance:\n")],
            &[("tolerance: 50 ppm", "tolerance: 50")],
            &[("tolerance: 50 ppm", "tolerance: 50 ppb")],
            &[("tolerance: 50 ppm", "tolerance: -50 ppm")],
            &[("tolerance: 50 ppm", "tolerance: [ 50 ppm ]")],
            &[("tolerance: 50 ppm", "within: 50 ppm")],
            &[("    tolerance: 50 ppm\n", "")],
            &[("says: 50 ppm\n    ", "")],
            &[("service: { is: cb }", "service: { is: [ cb ] }")],
            &[("service: { is: cb }", "service: { equals: cb }")],
            &[("when: { service: { is: cb } }", "when: {}")],
            &[("when: { service: { is: cb } }", "applies: { service: { is: cb } }")],
            &[("status: from-memory", "status: remembered")],
            &[("finding: overlap", "finding: overlaps")],
            &[("finding: overlap, ", "")],
            &[(", because: the interstitial channels go first", "")],
            &[("at: [ rows 3 and 4 ]", "at: rows 3 and 4")],
            &[("at: [ rows 3 and 4 ]", "at: []")],
            &[("at: [ rows 3 and 4 ]", "where: [ rows 3 and 4 ]")],
        ],
    ),
    (
        BANDS.0,
        BANDS.1,
        &[
            &[("band_plan: us-amateur", "band_plan: US amateur")],
            &[("band_plan: us-amateur", "bands_of: us-amateur")],
            &[("title: United States, amateur service, bands\n", "")],
            &[("status: verified", "status: read")],
            &[("everywhere: [ cw ]", "everywhere: cw")],
            &[("everywhere: [ cw ]", "everywhere: [ morse ]")],
            &[("everywhere: [ cw ]", "everywhere: []")],
            &[("power: [ { most: 1500 W, of: pep } ]", "power: 1500 W")],
            &[("power: [ { most: 1500 W, of: pep } ]", "power: [ { most: 1500 W } ]")],
            &[("power: [ { most: 1500 W, of: pep } ]", "power: [ { most: 1500 W, of: mean } ]")],
            &[("power: [ { most: 1500 W, of: pep } ]", "power: [ { most: 1500 V, of: pep } ]")],
            &[("band: 2200 m, range: 135.7..137.8 kHz", "band: 2200 m")],
            &[("band: 2200 m, range: 135.7..137.8 kHz", "range: 135.7..137.8 kHz")],
            &[("range: 135.7..137.8 kHz", "range: 135.7..137.8")],
            &[("range: 135.7..137.8 kHz", "range: 136 kHz")],
            &[("range: 135.7..137.8 kHz", "range: 135.7..137.8 kHz, width: 2.1 kHz")],
            &[("range: 135.7..137.8 kHz", "range: 135.7..137.8 kHz, centre: 136 kHz")],
            &[("centre: 5332 kHz, width: 2.8 kHz", "centre: 5332 kHz")],
            &[("regions: [ 2, 3 ]", "regions: [ 2, 4 ]")],
            &[("regions: [ 2, 3 ]", "regions: 2")],
            &[("regions: [ 2, 3 ]", "regions: []")],
            &[("widest: 2.8 kHz", "widest: 2.8")],
            &[("uses: [ data ]", "uses: []")],
            &[("uses: [ data ]", "use: [ data ]")],
            &[("segments: [ { range: 3.5..3.6 MHz, uses: [ data ] }", "segments: [ { uses: [ data ] }")],
        ],
    ),
    (
        PLAN.0,
        PLAN.1,
        &[
            // A unit is missing, is another's, or is written otherwise.
            &[("144.2 MHz", "144.2")],
            &[("144.2 MHz", "144.2 Mhz")],
            &[("144.2 MHz", "144.2 mHz")],
            &[("144.2 MHz", "144,2 MHz")],
            &[("144.2 MHz", "144.2 W")],
            &[("limit: 2.5 A", "limit: 2.5 V")],
            &[("longest: 20 s", "longest: 20")],
            &[("longest: 20 s", "longest: 20 sec")],
            &[("rated_power: 5 W", "rated_power: 5 Watt")],
            // No range.
            &[("high: 4..5.5 W", "high: 5 W")],
            &[("high: 4..5.5 W", "high: 4-5.5 W")],
            &[("high: 4..5.5 W", "high: 4...5.5 W")],
            &[("high: 4..5.5 W", "high: 4..5.5")],
            &[("high: 4..5.5 W", "high: [ 4 W, 5.5 W ]")],
            &[("high: 4..5.5 W", "\"very high\": 4..5.5 W")],
            // A key that is not known, is missing, or stands elsewhere.
            &[("measure:", "mesure:")],
            &[("rule: us-part-97", "rul: us-part-97")],
            &[("unit: { model: FH-2, rated_power: 5 W }", "unit: { rated_power: 5 W }")],
            &[("up_to: 10", "upto: 10")],
            &[("modulation: none", "modulation: none\nlongest: 20 s")],
            &[("carrier: 144.2 MHz, ", "")],
            // Another word than those that are known.
            &[("decision: guard-band", "decision: guardband")],
            &[("decision: guard-band", "decision: Simple")],
            &[("modulation: none", "modulation: fm")],
            // Another shape than the one that is due.
            &[("unit: { model: FH-2, rated_power: 5 W }", "unit: [ FH-2 ]")],
            &[("unit: { model: FH-2, rated_power: 5 W }", "unit: FH-2")],
            &[(
                "supply: [ { name: battery, set: 7.4 V, limit: 2.5 A } ]",
                "supply: { name: battery, set: 7.4 V, limit: 2.5 A }",
            )],
            &[("harmonics: { up_to: 10 }", "harmonics: 10")],
            &[("plan: FH-2 handheld, acceptance", "plan: [ FH-2 ]")],
            &[("plan: FH-2 handheld, acceptance", "plan:")],
            &[("rule: us-part-97", "rule: \"  \"")],
            &[("key: { longest: 20 s, rest: 60 s, most_in_5_min: 60 s }", "key:")],
            &[("unit:", "facts: [ 2010 ]\nunit:")],
            &[("unit:", "facts: { installed: yesterday }\nunit:")],
            // Numbers out of bounds.
            &[("up_to: 10", "up_to: 1")],
            &[("up_to: 10", "up_to: 41")],
            &[("up_to: 10", "up_to: 2.5")],
            &[("up_to: 10", "up_to: ten")],
            &[("rated_power: 5 W", "vswr: 0.9")],
            &[("rated_power: 5 W", "vswr: \"1.5:1\"")],
        ],
    ),
    (
        NOTCHED_PLAN.0,
        NOTCHED_PLAN.1,
        &[
            &[("use: { carrier: through,", "use: { carier: through,")],
            &[("use: { carrier: through, harmonics: notched, leaks: leaks }", "use: notched")],
            &[(", uncertainty: 0.04 dB", "")],
            &[("touchstone: ../paths/adapter-sma.s2p, ", "")],
            &[("uncertainty: 0.04 dB", "uncertainty: 0.04")],
            &[("uncertainty: 0.04 dB", "uncertainty: -0.04 dB")],
            &[("uncertainty: 0.04 dB", "uncertainty: 0.04 dB, over: DC..3 GHz")],
            &[(
                "{ touchstone: ../paths/adapter-sma.s2p, uncertainty: 0.04 dB, rated: 50 W, name: adapter SMA to N,\n           distorts: { second_intercept: 140 dBm, third_intercept: 100 dBm } }",
                "../paths/adapter-sma.s2p",
            )],
        ],
    ),
    (
        BENCH.0,
        BENCH.1,
        &[
            &[("contact: 1", "contact: 0")],
            &[("contact: 1", "contact: first")],
            &[("    contact: 1\n", "")],
            &[("opens_by_itself: 1 s", "opens_by_itself: 1")],
            &[("profile: relay-generic", "driver: relay-generic")],
            &[("contact: 1", "contact: 1\n    line: { baud: 9600 }")],
            &[(
                "at: \"TCPIP::127.0.0.1::15029::SOCKET\"",
                "at: \"ASRL/dev/ttyUSB0::INSTR\", line: { framing: 8N3 }",
            )],
            &[(
                "at: \"TCPIP::127.0.0.1::15029::SOCKET\"",
                "at: \"ASRL/dev/ttyUSB0::INSTR\", line: { flow: xon-xoff }",
            )],
            &[("unit_control: {", "unit_controls: {")],
            &[("key:\n  relay:", "key:\n  serial_line:")],
            &[("attenuator: ../paths/pad-30.s2p", "attenuator: ../paths/pad-30.s2p, loss: stated.yaml")],
            &[("attenuator: ../paths/pad-30.s2p", "attenuator: 30 dB")],
            &[("attenuator: ../paths/pad-30.s2p", "attenuator: 30, over: DC..3 GHz")],
            &[("attenuator: ../paths/pad-30.s2p", "attenuator: -30 dB, over: DC..3 GHz")],
            &[("attenuator: ../paths/pad-30.s2p", "loss: bare.csv")],
            &[(
                "attenuator: ../paths/pad-30.s2p, rated: 25 W, time_constant: 180 s, uncertainty: 0.15 dB",
                "loss: bare.yaml, uncertainty: [ 0.1 dB ]",
            )],
            &[("attenuator: ../paths/pad-30.s2p", "loss: []")],
            &[("attenuator: ../paths/pad-30.s2p", "loss: [ [ 1 MHz ] ]")],
            &[("attenuator: ../paths/pad-30.s2p", "loss: [ [ 1, 30 ] ]")],
            &[("common:\n  - {", "common:\n    {")],
            // A power meter without its branch, and a branch without its power meter.
            &[("power_meter: { at:", "power_metre: { at:")],
            &[(
                "  power_meter:\n    - { touchstone: ../paths/splitter-2.s2p",
                "  meter:\n    - { touchstone: ../paths/splitter-2.s2p",
            )],
            &[(
                "power_meter: { at: \"TCPIP::127.0.0.1::15026::SOCKET\", profile: power-meter-generic }\n",
                "",
            )],
            // The truth of the bench.
            &[("seed: 7", "seed: -1")],
            &[("seed: 7", "seed: seven")],
            &[("clock: fast", "clock: virtual")],
            &[("      model: FH-2\n", "")],
            &[("powers: { high: 4.7 W, low: 0.92 W }", "powers: {}")],
            &[("powers: { high: 4.7 W, low: 0.92 W }", "powers: [ 4.7 W, 0.92 W ]")],
            &[("harmonics: { 2: 62 dB,", "harmonics: { 1: 62 dB,")],
            &[("harmonics: { 2: 62 dB,", "harmonics: { second: 62 dB,")],
            &[("order: 3", "order: 101")],
            &[("below: 49 dB", "below: 49 dBc")],
            &[("vswr: 1.4                # of the unit's", "vswr: 0.4                # of the unit's")],
            &[("vswr_off_carrier: 4", "vswr_off_carrier: 101")],
            &[("noise: -150 dBm", "noise: -150 dB")],
            &[("firmware: \"2.1\"", "firmware: \"2,1\"")],
            &[("channels: 8", "channels: 65")],
            &[("pad: 30 dB", "pad: -30 dB")],
            &[("pad: 30 dB", "pad: 30 dB, notch: 30 dB")],
            &[("slope: 0.2 dB", "at: 1 GHz")],
            &[("cable: 0.5 dB, at: 1 GHz", "cable: 0.5 dB")],
            &[("length: 1 m", "length: 1 km")],
            &[("length: 1 m", "slope: 0.1 dB")],
            &[("name: pad-30", "name: pad/30")],
            &[("level: -88 dBm", "")],
            &[(
                "  ambient:",
                "  faults: [ { instrument: scope, does: cut-link, after_messages: 4 } ]\n  ambient:",
            )],
            &[("  ambient:", "  faults: [ { does: cut-link } ]\n  ambient:")],
            &[("  ambient:", "  faults: [ { instrument: relay, does: nul-bytes, by: 2 s } ]\n  ambient:")],
            &[("  ambient:", "  faults: [ { instrument: relay, does: nul-bytes, bytes: 2 } ]\n  ambient:")],
            &[("  ambient:", "  faults: [ { instrument: relay, does: nul-bytes, count: 2 } ]\n  ambient:")],
            &[("  ambient:", "  faults: [ { instrument: relay, does: busy-mute, on: MEAS } ]\n  ambient:")],
            &[(
                "  ambient:",
                "  faults: [ { instrument: relay, does: busy-mute, chance: 5 % } ]\n  ambient:",
            )],
            &[("  ambient:", "  faults: [ { instrument: relay, does: wants-cr-lf, times: 2 } ]\n  ambient:")],
            &[(
                "  ambient:",
                "  faults: [ { instrument: relay, does: nul-bytes, chance: 0.05 } ]\n  ambient:",
            )],
            &[(
                "  ambient:",
                "  faults: [ { instrument: relay, does: burn, after_messages: 4 } ]\n  ambient:",
            )],
        ],
    ),
    (
        NOTCHED.0,
        NOTCHED.1,
        &[
            &[("{ out: [], in: [ 3 ] }", "{ in: [ 3 ] }")],
            &[("{ out: [], in: [ 3 ] }", "{ out: [], in: 3 }")],
            &[("{ out: [], in: [ 3 ] }", "{ out: [], in: [ 0 ] }")],
            &[("key: inhibited", "key: off")],
            &[("{ branch: analyser, set: { notch: out, load: to path } }", "analyser")],
            &[(
                "{ branch: analyser, set: { notch: out, load: to path } }",
                "{ set: { notch: out, load: to path } }",
            )],
            &[("set: { notch: out, load: to path }", "set: [ out ]")],
            &[("insert: [", "inserts: [")],
            // Relays that no path sets.
            &[("paths:\n", "ways:\n")],
            &[("in_while_closed: 3", "in_while_closed: 0")],
            &[("quality: 2", "quality: 0.1")],
            &[("quality: 2", "quality: two")],
        ],
    ),
    (
        ALONE.0,
        ALONE.1,
        &[&[("damage: 27 dBm", "damage: 27 dB")], &[("over: 1 MHz..3.2 GHz", "over: 3.2 GHz")]],
    ),
    (
        ANALYSER.0,
        ANALYSER.1,
        &[
            &[("kind: analyser", "kind: scope")],
            &[("kind: analyser", "kind: relay")],
            &[("kind: analyser\n", "")],
            &[("longest: 900", "longest: 39")],
            &[("longest: 900", "longest: 900 bytes")],
            &[("compound: true", "compound: yes")],
            &[("compound: true", "compound: 1")],
            &[("centre: \"FREQ:CENT {}\"", "center: \"FREQ:CENT {}\"")],
            &[("centre: \"FREQ:CENT {}\"", "centre: \"FREQ:CENT\"")],
            &[("centre: \"FREQ:CENT {}\"", "centre: \"FREQ:CENT {} {}\"")],
            &[("reset: \"*RST\"", "reset: \"*RST {}\"")],
            &[("reset: \"*RST\"", "reset: \"*RST \u{b5}\"")],
            &[("reset: \"*RST\"", "reset: [ \"*RST\" ]")],
            &[("detectors: { peak: POS, rms: RMS, sample: SAMP }", "detectors: [ POS, RMS, SAMP ]")],
            &[("sample: SAMP", "sample: SAMP, average: AVER")],
            &[("overload_bits: 8", "overload_bits: 40000")],
            &[("overload_bits: 8", "overload_bits: bit 3")],
            &[("attenuation: 0..50 dB", "attenuation: 0 to 50 dB")],
            &[("most_points: 10001", "most_points: 100")],
            &[("sweep_factor: 2.5", "sweep_factor: 0")],
            &[("sweep_factor: 2.5", "sweep_factor: 2.5 s")],
            &[("averaged: power", "averaged: mean")],
            &[("vswr: 1.5", "vswr: 0.5")],
            &[("within: 0.6 dB, distribution: normal", "within: 0.6 dB")],
            &[("within: 0.6 dB, distribution: normal", "within: 0.6 dB, distribution: gaussian")],
            &[("within: 0.6 dB, distribution: normal", "within: -0.6 dB, distribution: normal")],
            &[("linear_to: -10 dBm", "linear_to: -10")],
        ],
    ),
    (
        RELAY.0,
        RELAY.1,
        &[
            &[("read_back: \"ROUT:CLOS:TIM?\"", "")],
            &[("kind: relay", "kind: relay\nlimits: { damage: 1 dBm }")],
            &[("answer_within: 1 s }", "answer_within: 1 s, terminator: CRLF }")],
            &[("answer_within: 1 s }", "answer_within: 1 s, answers_end: silence }")],
            &[("answer_within: 1 s }", "answer_within: 1 s, echo: sometimes }")],
            &[("answer_within: 1 s }", "answer_within: 1 s, prompt: \"\" }")],
            &[("messages: { longest: 200, compound: true, answer_within: 1 s }\n", "")],
        ],
    ),
    (
        FCC.0,
        FCC.1,
        &[
            &[("rule: us-part-97", "rule: US Part 97")],
            &[("status: verified", "status: checked")],
            &[("reference_bandwidth: none stated", "reference_bandwidth: none")],
            &[("reference_bandwidth: none stated", "reference_bandwidth: []")],
            &[("reference_bandwidth: none stated\n", "")],
            &[("kind: date", "kind: day")],
            &[("kind: date", "kind: date\n    default: 2003-01-01")],
            &[("  installed:\n", "  Installed:\n")],
            &[("carrier: { below: 30 MHz }", "carrier: { under: 30 MHz }")],
            &[("carrier: { below: 30 MHz }", "carrier: { below: 30 }")],
            &[("carrier: { below: 30 MHz }", "carrier: below 30 MHz")],
            &[("applies: { carrier: { below: 30 MHz } }", "applies: {}")],
            &[("before: 1977-04-15", "before: 1977")],
            &[("before: 1977-04-15", "before: 15.4.1977")],
            &[("before: 1977-04-15", "below: 1977-04-15")],
            &[("power: { below: 5 W }", "power: { below: 5 V }")],
            &[("limit: { below: 43 dB }", "limit: 43 dB")],
            &[("limit: { below: 43 dB }", "limit: { below: 43 }")],
            &[("limit: { below: 43 dB }", "limit: { below: 43 dB, absolute: 50 mW }")],
            &[("limit: { below: 43 dB }", "limit: {}")],
            &[("limit: { below: 43 dB }", "limit: { strictest: { absolute: 50 mW } }")],
            &[("limit: { below: 43 dB }", "limit: { below: 43 dB + log power }")],
            &[("absolute: 50 mW", "absolute: 50")],
            &[("absolute: 10 uW", "absolut: 10 uW")],
            &[(
                "any:                            # either date is enough\n        - { built: { before: 1977-04-15 } }\n        - { first_marketed: { before: 1978-01-01 } }",
                "any: []",
            )],
            &[("no_limit: above", "limits: [ { says: x, limit: { absolute: 1 W } } ]\n    no_limit: above")],
            &[(
                "no_limit: above 225 MHz spurious emissions must be reduced as far as practicable, and harmful interference cured",
                "status: verified",
            )],
            &[("says: at least 43 dB below the mean power\n        ", "")],
        ],
    ),
    (
        ITU.0,
        ITU.1,
        &[
            &[("    words: [ general, amateur, space, radiodetermination ]\n", "")],
            &[("words: [ general,", "word: [ general,")],
            &[("default: power ", "default: 5 W ")],
            &[("kind: power", "kind: power\n    words: [ a ]")],
            &[("service: { is: amateur }", "service: { equals: amateur }")],
            &[("service: { is: amateur }", "service: { one_of: [] }")],
            &[("service: { is: amateur }", "service: amateur")],
            &[("emission_up_to: 30 MHz, bandwidth: 10 kHz", "emission_up_to: 30 MHz")],
            &[("emission_up_to: 30 MHz, bandwidth: 10 kHz", "up_to: 30 MHz, bandwidth: 10 kHz")],
        ],
    ),
];

const TAKEN: &[Changed] = &[
    (
        LAND_MOBILE.0,
        LAND_MOBILE.1,
        &[
            &[(", facts: { channel_width: 12.5 kHz } }", " }")],
            &[(", facts: { channel_width: 12.5 kHz } }", ", facts: {} }")],
            &[(
                "facts: { channel_width: 12.5 kHz } }",
                "facts: { channel_width: 6250 Hz, rated_power: 37 dBm } }",
            )],
            &[("{ rule: us-part-90-stability, facts: { channel_width: 12.5 kHz } }", "{ within: 775 Hz }")],
            // What the plan's own rule does not ask for is told to the other.
            &[("station_class: mobile }", "station_class: mobile, channel_width: 25 kHz }")],
            &[("band: 150 MHz..174 MHz", "band: { table: us-amateur }")],
            &[("measure:\n", "measure:\n  harmonics: {}\n")],
        ],
    ),
    (
        SPECTRUM.0,
        SPECTRUM.1,
        &[
            &[("table: us-amateur, region: 2, use: phone", "table: us-amateur, emission: 16K0F3E")],
            &[(
                "table: us-amateur, region: 2, use: phone",
                "table: us-amateur, region: 3, emission: 16k0f3e",
            )],
            &[("region: 2", "region: 1")],
            &[("  harmonics: { up_to: 3 }\n", "")],
        ],
    ),
    (
        STABILITY.0,
        STABILITY.1,
        &[
            &[("tolerance: 50 ppm", "tolerance: 50ppm")],
            &[("tolerance: 50 ppm", "tolerance: 1.35 kHz")],
            &[("    source: 47 CFR 95.965\n", "")],
            &[(
                "source: 47 CFR 95.965\n",
                "source: 47 CFR 95.965\n    interpretations: [ { text: as it stands } ]\n",
            )],
            &[("when: { service: { is: cb } }\n    says", "says")],
            &[("at: [ rows 3 and 4 ], ", "")],
            &[("finding: overlap, ", "finding: overlap, paragraph: tolerances, ")],
        ],
    ),
    (
        BANDS.0,
        BANDS.1,
        &[
            &[("band_plan: us-amateur", "band_plan: 97")],
            &[("everywhere: [ cw ]\n", "")],
            &[("power: [ { most: 1500 W, of: pep } ]\n", "")],
            &[("most: 1500 W, of: pep", "most: 61.76 dBm, of: eirp")],
            &[("band: 2200 m, range: 135.7..137.8 kHz", "band: 2200, centre: 136.75 kHz, width: 2.1 kHz")],
            &[(
                "range: 135.7..137.8 kHz",
                "range: 135.7 kHz..0.1378 MHz, widest: 100 Hz, status: second-hand",
            )],
            &[("regions: [ 2, 3 ]", "regions: [ 3 ]")],
            &[("uses: [ data ]", "uses: [ data, cw, mcw ]")],
        ],
    ),
    (
        PLAN.0,
        PLAN.1,
        &[
            &[("144.2 MHz", "144.2MHz")],
            &[("144.2 MHz", "144200 kHz")],
            &[("144.2 MHz", "+1.442e2 MHz")],
            &[("high: 4..5.5 W", "high: 4 W..5.5 W")],
            &[("high: 4..5.5 W", "high: 4 .. 5.5 W")],
            &[("high: 4..5.5 W", "high: 4000..5500 mW")],
            &[("high: 4..5.5 W", "high: 36..37.4 dBm")],
            &[("high: 4..5.5 W", "high: 36 dBm..5.5 W")],
            &[("low: 0.5..1.5 W", "low: 500 mW..1.5 W, 3rd_setting: 1..2 W")],
            &[("decision: guard-band ", "decision: simple ")],
            &[("plan: FH-2 handheld, acceptance", "plan: 2026")],
            &[("model: FH-2", "model: 0017")],
            &[("model: FH-2", "model: 1.0")],
            &[("rated_power: 5 W", "rated_power: 37 dBm, vswr: 1.5, vswr_off_carrier: 6")],
            &[("unit:", "facts: { installed: 2010, built: 2009-11-30, pep: 10 W, service: amateur }\nunit:")],
            &[("unit:", "facts: {}\nunit:")],
            &[("supply: [ { name: battery, set: 7.4 V, limit: 2.5 A } ]\n", "")],
            &[("supply: [ { name: battery, set: 7.4 V, limit: 2.5 A } ]", "supply: []")],
            &[("set: 7.4 V, limit: 2.5 A", "set: 7400 mV, limit: 2500mA")],
            &[("measure:\n  harmonics: { up_to: 10 }\n", "")],
            &[("harmonics: { up_to: 10 }", "harmonics: {}")],
            &[("up_to: 10", "up_to: 2")],
            &[(
                "key: { longest: 20 s, rest: 60 s, most_in_5_min: 60 s }",
                "key: { longest: 20000 ms, rest: 1 min }",
            )],
            &[("key: { longest: 20 s, rest: 60 s, most_in_5_min: 60 s }", "key: {}")],
            &[("modulation: none\n", "")],
            &[("unit:", "adapter: stated.yaml\nunit:")],
            &[("unit:", "adapter: { loss: bare.yaml, uncertainty: 0.1 dB }\nunit:")],
            &[("unit:", "adapter: { attenuator: stated.yaml, name: 7 }\nunit:")],
        ],
    ),
    (NOTCHED_PLAN.0, NOTCHED_PLAN.1, &[&[("adapter SMA to N", "1.0")], &[("limit: 2.5 A", "limit: 2 A")]]),
    (
        BENCH.0,
        BENCH.1,
        &[
            &[("serial: A-0001", "serial: 0017")],
            &[(", serial: A-0001", "")],
            &[("    opens_by_itself: 1 s\n", "")],
            &[("opens_by_itself: 1 s", "opens_by_itself: 500ms")],
            &[("attenuator: ../paths/pad-30.s2p", "attenuator: 30 dB, over: DC..3.2 GHz")],
            &[(
                "attenuator: ../paths/pad-30.s2p",
                "attenuator: 30dB, over: 9..3200000 kHz, vswr: 1, name: pad",
            )],
            &[("attenuator: ../paths/pad-30.s2p", "touchstone: ../paths/pad-30.s2p")],
            &[("attenuator: ../paths/pad-30.s2p", "loss: [ [ 1 MHz, 30.1 dB ], [ 4 GHz, 30.4 dB ] ]")],
            &[("attenuator: ../paths/pad-30.s2p", "loss: [ [ 1 MHz, -0.05 dB ] ]")],
            &[(
                "{ attenuator: ../paths/pad-30.s2p, rated: 25 W, time_constant: 180 s, uncertainty: 0.15 dB }",
                "stated.yaml",
            )],
            &[(
                "{ attenuator: ../paths/pad-30.s2p, rated: 25 W, time_constant: 180 s, uncertainty: 0.15 dB }",
                "{ loss: stated.yaml }",
            )],
            &[(
                "common:\n  - { attenuator: ../paths/pad-30.s2p, rated: 25 W, time_constant: 180 s, uncertainty: 0.15 dB }",
                "common: []",
            )],
            &[("supply: { at: \"TCPIP::127.0.0.1::15027::SOCKET\", profile: supply-generic }\n", "")],
            &[("# Addresses are", "analyser_input: { damage: \u{2212}1e1 dBm }\n# Addresses are")],
            // A bench of several paths names its branches and its paths as it likes.
            &[(
                "branches:\n  analyser:",
                "paths: { straight: { branch: low }, idle: { branch: low, key: inhibited } }\nbranches:\n  low:",
            )],
            &[("seed: 7", "seed: 0")],
            &[("clock: fast", "clock: real")],
            &[("firmware: 1.0.3", "firmware: 1.0")],
            &[("firmware: 1.0.3", "firmware: 1.0.3\n      maker: 3")],
            &[("rise: 20 ms", "rise: 20000 \u{b5}s")],
            &[(
                "powers: { high: 4.7 W, low: 0.92 W }",
                "powers: { high: 36.7 dBm, low: 920 mW, any word: 2 W }",
            )],
            &[(
                "harmonics: { 2: 62 dB, 3: 66 dB, 4: 75 dB, 5: 71 dB, 6: 82 dB, 7: 80 dB, 8: 88 dB, 9: 86 dB, 10: 92 dB }",
                "harmonics:",
            )],
            &[("10: 92 dB", "100: 92 dB")],
            &[("power: high, order: 3", "order: 3")],
            &[("vswr: 1.4                # of the unit's", "vswr: 1                # of the unit's")],
            &[(
                "noise: -150 dBm",
                "noise: \u{2212}150 dBm\n    distortion_phase: { 2: 40 deg, 3: -30 \u{b0} }\n    level_error: -0.2 dB",
            )],
            &[("supply: {}", "supply: { highest_voltage: 15 V, highest_current: 3 A }")],
            &[("relay: { channels: 8 }", "relay: {}")],
            &[("length: 1 m", "length: 100 cm")],
            &[("pad: 30 dB, slope: 0.2 dB", "notch: 30 dB, at: 146 MHz, quality: 12, loss: 0.5 dB")],
            &[(
                "  ambient:",
                "  faults: [ { instrument: power-meter, does: mute-link, after_messages: 0, lasts: 2 s } ]\n  ambient:",
            )],
            &[("  ambient:", "  faults: [ { instrument: relay, does: cut-link } ]\n  ambient:")],
            &[(
                "  ambient:",
                "  faults:\n    - { instrument: relay, does: late-answer, on: \"*IDN?\", by: 8 s, chance: 5 % }\n    - { instrument: relay, does: trickle, bytes: 4, times: 3 }\n    - { instrument: relay, does: error-flood, count: 4 }\n  ambient:",
            )],
        ],
    ),
    (
        NOTCHED.0,
        NOTCHED.1,
        &[
            // Relays, positions and paths are named as one likes, with numbers too.
            &[
                (
                    "{ out: [], in: [ 3 ] }",
                    "{ out: [], in: [ 3 ] }\n  lna:\n    at: \"TCPIP::127.0.0.1::15040::SOCKET\"\n    profile: relay-generic\n    positions: { 1: [ 5, 6 ], 2: [], 3: [ 999 ] }",
                ),
                ("set: { notch: out, load: to path } }", "set: { notch: out, load: to path, lna: 1 } }"),
                ("set: { notch: in, load: to path }", "set: { notch: in, load: to path, lna: 2 }"),
                (
                    "set: { notch: out, load: to path }, key",
                    "set: { notch: out, load: to path, lna: 3 }, key",
                ),
                ("set: { notch: out, load: to load }", "set: { notch: out, load: to load, lna: 3 }"),
            ],
            &[("    insert_after: splitter-3 ", "    #")],
            &[("quality: 2, loss: 0.3 dB, ", "")],
        ],
    ),
    (
        ANALYSER.0,
        ANALYSER.1,
        &[
            &[("longest: 900", "longest: 60000")],
            &[("compound: true", "compound: false")],
            &[("answer_within: 3 s", "answer_within: 3000 ms")],
            &[("terminator: LF", "terminator: CR LF")],
            &[("answers_end: terminator", "answers_end: 50 ms")],
            &[("echo: false", "echo: true\n  prompt: \">\"")],
            &[("peak: POS", "peak: 1")],
            &[("overload_bits: 8", "overload_bits: 0")],
            &[("sweep_factor: 2.5", "sweep_factor: 3")],
            &[("attenuation: 0..50 dB", "attenuation: 0 dB .. 50 dB")],
            &[("averaged: power", "averaged: logarithmic")],
            &[("distribution: normal", "distribution: u-shaped")],
            &[("vswr: 1.5", "vswr: 2")],
        ],
    ),
    (
        RELAY.0,
        RELAY.1,
        &[
            &[("close: \"ROUT:CLOS (@{})\"", "close: CLOSE {}")],
            &[("profile: Relay, usual commands", "profile: 7")],
        ],
    ),
    (
        FCC.0,
        FCC.1,
        &[
            &[("status: verified", "status: from-memory")],
            &[("reference_bandwidth: none stated", "reference_bandwidth: 4 kHz")],
            &[("reference_bandwidth: none stated", "reference_bandwidth: [ { bandwidth: 1 MHz } ]")],
            &[("paragraph: 97.307(d)", "paragraph: 97.307")],
            &[("  built:\n", "  age_2:\n    kind: frequency\n    meaning: nothing\n  built:\n")],
            &[("carrier: { below: 30 MHz }", "carrier: { above: 1.8 MHz, at_most: 29999kHz }")],
            &[("carrier: { below: 30 MHz }", "emission: { at_least: 30 MHz }")],
            &[("power: { below: 5 W }", "power: { below: 37 dBm }")],
            &[("before: 1977-04-15", "on_or_before: 1977-04-14, after: 1900-01-01")],
            &[("limit: { below: 43 dB }", "limit: { below: 43 dB + 10 log power }")],
            &[("limit: { below: 43 dB }", "limit: { absolute: -13 dBm }")],
            &[("absolute: 10 uW", "absolute: 10 \u{b5}W")],
        ],
    ),
    (
        ITU.0,
        ITU.1,
        &[
            &[("service: { is: amateur }", "service: { one_of: [ amateur, space ] }")],
            &[("service: { is: amateur }", "any: [ { service: { is: space } }, { pep: { above: 100 W } } ]")],
            &[("    default: general\n", "")],
            &[(
                "    reference_bandwidth: 4 kHz\n",
                "    reference_bandwidth: none stated\n    status: verified\n",
            )],
        ],
    ),
];

fn each(table: &'static [Changed]) -> impl Iterator<Item = (Sample, Changes)> {
    let all = |(kind, name, changes): &'static Changed| {
        let sample = Sample::shipped(*kind, name);
        changes.iter().map(move |changes| (sample.clone().with(changes), *changes))
    };
    table.iter().flat_map(all)
}

#[test]
fn a_slip_is_refused_by_both() {
    let schemas = Kind::ALL.map(Kind::schema);
    for (sample, changes) in each(REFUSED) {
        let schema = &schemas[sample.kind as usize];
        let (read, json) = (sample.read(), sample.json());
        assert!(read.is_err(), "the reader takes {changes:?} in {}", sample.name);
        assert!(schema.check(&json).is_err(), "the schema takes {changes:?} in {}", sample.name);
    }
}

#[test]
fn a_variant_is_taken_by_both() {
    let schemas = Kind::ALL.map(Kind::schema);
    for (sample, changes) in each(TAKEN) {
        sample.read().unwrap_or_else(|told| panic!("the reader refuses {changes:?}: {told:#?}"));
        let checked = schemas[sample.kind as usize].check(&sample.json());
        checked.unwrap_or_else(|wrong| panic!("the schema refuses {changes:?}: {wrong}"));
    }
}
