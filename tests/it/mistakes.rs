//! Twenty mistakes in one plan: all of them reported at once, each at its line and column, each with a hint.

use crate::bench::{Workshop, simulated_bench};

/// Each mistake on a line of its own, so that its line tells it from the others.
const PLAN: &str = "\
plan: [ a, list ]
bench: bench.yaml
rule: us-part-79
decision: guardband
modulation: fm
mesure: { harmonics: { up_to: 5 } }
unit:
  modell: FH-2
  rated_power: 5 watts
  vswr: \"1.2:1\"
  vswr_off_carrier: 0.5
supply:
  - { name: battery, set: 2.5 A, limit: 7.4 V }
channels:
  - { name: 146 MHz, carrier: VHF, power: { high: 4..6 W } }
  - { name: one, carrier: 146 mHz, power: { high: 4..6 W } }
  - { name: two, carrier: 145.5, power: { high: 4..6 W } }
  - { name: three, carrier: 156.8 MHz, power: { high: 4..6 W } }
  - { name: four, carrier: \"145,5 MHz\", power: { high: 4..6 W } }
  - { name: five, carrier: 145 MHz, power: { high: 6..4 W } }
  - { name: six, carrier: 145 MHz, power: { high: 4-6 W } }
  - { name: seven, carrier: 145 MHz, power: { \"very high\": 4..6 W } }
measure: { harmonics: { up_to: 50 } }
key: { longest: 20, rest: 1 minute }
use: { carier: analyser }
adapter: { attenuator: 1 dB, uncertainty: 0.1 }
";

/// Line, the text at whose start the mark must stand, what is said, what is advised.
const EXPECTED: [(u64, &str, &str, &str); 24] = [
    (1, "[ a, list ]", "expected the plan's title, found a list", "write a single value"),
    (3, "us-part-79", "there is no rule `us-part-79`", "did you mean `us-part-97`?"),
    (4, "guardband", "expected a decision rule, found `guardband`", "did you mean `guard-band`?"),
    (5, "fm", "expected the modulation", "known here: none"),
    (6, "mesure", "`mesure` is not a key of a plan", "did you mean `measure`?"),
    (8, "modell", "`modell` is not a key of the unit", "did you mean `model`?"),
    (9, "5 watts", "`watts` is not a unit of a power", "did you mean `W`?"),
    (10, "\"1.2:1\"", "expected a VSWR from 1 to 1000, found 1.2:1", "`1.2`"),
    (11, "0.5", "expected a VSWR from 1 to 1000, found 0.5", "1 is a perfect match"),
    (13, "2.5 A", "`set` and `limit` stand in each other's place", "write `set: 7.4 V, limit: 2.5 A`"),
    (
        15,
        "146 MHz",
        "`name` and `carrier` stand in each other's place",
        "write `name: VHF, carrier: 146 MHz`",
    ),
    (16, "146 mHz", "`mHz` is not a unit of a frequency", "did you mean `MHz`?"),
    (17, "145.5", "with its unit, found the bare number `145.5`", "for example `145.5 MHz`"),
    (18, "156.8 MHz", "156.8 MHz is kept for distress and safety", "choose another channel"),
    (19, "\"145,5 MHz\"", "expected a frequency, found `145,5 MHz`", "`145.5 MHz`"),
    (20, "6..4 W", "the range `6..4 W` ends below its start", "write the lower value first"),
    (21, "4-6 W", "expected a range, found `4-6 W`", "write `4..6 W`"),
    (22, "\"very high\"", "`very high` cannot be the name of a power setting", "use letters, digits"),
    (23, "50", "expected the highest order from 2 to 40, found `50`", "write a whole number"),
    (24, "20", "with its unit, found the bare number `20`", "for example `20 s`"),
    (24, "1 minute", "`minute` is not a unit of a time", "did you mean `min`?"),
    (25, "carier", "`carier` is not a key of the paths that are used", "did you mean `carrier`?"),
    (26, "1 dB", "an attenuator given as a figure lacks the key `over`", "`over: 9 kHz..3 GHz`"),
    (26, "0.1", "with its unit, found the bare number `0.1`", "for example `30 dB`"),
];

#[test]
fn twenty_mistakes_and_more_are_told_at_once() {
    let workshop = Workshop::with(PLAN, &simulated_bench(1, ""));
    let called = workshop.call(&["run", "plan.yaml", "--json"]);
    assert_eq!(called.exit, 2, "{called:?}");
    assert!(!workshop.path("data").exists(), "a plan with mistakes leaves no record");
    let document = called.json();
    let mistakes = document["error"]["mistakes"].as_array().unwrap();
    assert_eq!(mistakes.len(), EXPECTED.len(), "{}", called.talk);
    for ((line, at, message, advice), found) in EXPECTED.into_iter().zip(mistakes) {
        let text = PLAN.lines().nth(line as usize - 1).unwrap();
        let column = text.find(at).unwrap() + 1;
        assert_eq!(found["file"], "plan.yaml");
        assert_eq!((&found["line"], &found["column"]), (&line.into(), &column.into()), "{found}");
        assert!(found["message"].as_str().unwrap().contains(message), "{found}");
        assert!(found["advice"].as_str().unwrap().contains(advice), "{found}");
        assert!(called.talk.contains(&format!("--> plan.yaml:{line}:{column}")), "{}", called.talk);
    }
}

/// A file of another kind is said to be one, once, instead of all the keys that do not fit.
#[test]
fn a_bench_is_no_plan() {
    let workshop = Workshop::with(&crate::bench::plan("146 MHz", 3), &simulated_bench(1, ""));
    for (arguments, message) in [
        (["check", "bench.yaml"], "expected a plan, found a bench: only a bench has `branches`"),
        (["sim", "plan.yaml"], "expected a bench, found a plan: only a plan has `channels`"),
    ] {
        let called = workshop.call(&arguments);
        assert_eq!(called.exit, 2, "{called:?}");
        assert!(called.talk.contains(message) && called.talk.contains("1 mistake;"), "{called:?}");
    }
}

/// A local file of a rule's name stands before the built-in one: it must be that rule, and it is always named.
#[test]
fn a_rule_is_what_its_file_says_and_its_file_is_named() {
    let workshop = Workshop::with(&crate::bench::plan("146 MHz", 3), &simulated_bench(1, ""));
    let check = || {
        let called = workshop.call(&["check", "plan.yaml"]);
        called.out.split_whitespace().collect::<Vec<_>>().join(" ")
    };
    assert!(check().contains("(verified); built in: us-part-97"), "{}", check());
    let rule = std::fs::read_to_string(crate::bench::root().join("config/rules/us-part-97.yaml")).unwrap();
    workshop.write("us-part-97.yaml", &rule);
    assert!(check().contains("(verified); us-part-97.yaml"), "{}", check());
    let other =
        std::fs::read_to_string(crate::bench::root().join("config/rules/itu-category-a.yaml")).unwrap();
    workshop.write("us-part-97.yaml", &other);
    let called = workshop.call(&["check", "plan.yaml"]);
    assert_eq!(called.exit, 2, "{called:?}");
    assert!(
        called.talk.contains("says that it is the rule `itu-category-a`, not `us-part-97`"),
        "{called:?}"
    );
}

/// `check` says what a bench leaves in doubt before anything is keyed.
#[test]
fn doubts_are_told_beforehand() {
    let narrow = crate::bench::plan("146 MHz", 3).replace("4..5.5 W", "4.70..4.75 W");
    let bench =
        simulated_bench(1, "").replace(" rated: 25 W,", "").replace(", name: pad, vswr: 1.1", ", name: pad");
    let called = Workshop::with(&narrow, &bench).call(&["check", "plan.yaml"]);
    assert_eq!(called.exit, 0, "{called:?}");
    let text = called.out.split_whitespace().collect::<Vec<_>>().join(" ");
    for doubt in [
        "no wider than twice the uncertainty",
        "1 reading cannot be shown to comply here",
        "`pad` takes the unit's whole power and has no `rated`",
        "a part counts as a perfect match, and its mismatch is in no budget: `pad`",
    ] {
        assert!(text.contains(doubt), "`{doubt}` is not in:\n{}", called.out);
    }
}
