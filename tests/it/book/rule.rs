//! The rule that the page on rules of one's own has people write: read by its reader, accepted by its schema, without a
//! slip, and what it allows is what its text says.

use super::page::Page;
use crate::bench::{Workshop, root};

/// The only block of the page that is a whole rule.
fn example() -> String {
    let page = Page::read("docs/src/own-rule.md");
    let mut rules =
        page.code.iter().filter(|block| block.lines().any(|line| line.starts_with("paragraphs:")));
    let rule = rules.next().expect("a rule on the page").clone();
    assert!(rules.next().is_none(), "one rule on the page");
    rule
}

#[test]
fn the_rule_of_the_page_is_read_and_says_what_its_text_says() {
    let workshop = Workshop::new();
    let rule = example();
    let name =
        rule.lines().find_map(|line| line.strip_prefix("rule: ")).unwrap().split_whitespace().next().unwrap();
    let file = format!("{name}.yaml");
    workshop.write(&file, &rule);

    let schema: serde_json::Value =
        serde_json::from_str(&std::fs::read_to_string(root().join("config/schemas/rule.json")).unwrap())
            .unwrap();
    let document: serde_json::Value = serde_yaml::from_str(&rule).unwrap();
    let validator = jsonschema::draft202012::new(&schema).unwrap();
    let wrong: Vec<String> = validator.iter_errors(&document).map(|error| error.to_string()).collect();
    assert!(wrong.is_empty(), "{wrong:?}");

    let lint = workshop.call(&["limit", "--lint", "--rule", &file]);
    assert_eq!(lint.exit, 0, "{lint:?}");

    // 5 W is 36.99 dBm: 50 dB below is -13.01 dBm, and 2.5 uW, -26.02 dBm, is stricter. 0.1 mW is 20 dBm less 50 dB.
    for (power, at, limit) in
        [("5 W", "300 MHz", -26.020_6), ("100 mW", "300 MHz", -30.0), ("5 W", "1.5 GHz", -30.0)]
    {
        let asked = workshop.call(&[
            "limit",
            "--rule",
            &file,
            "--carrier",
            "150 MHz",
            "--power",
            power,
            "--at",
            at,
            "--json",
        ]);
        let found = asked.json()["limit_dbm"].as_f64().unwrap_or_else(|| panic!("{asked:?}"));
        assert!((found - limit).abs() < 1e-3, "{power} at {at}: {found}");
    }
}
