//! The table: its columns are a contract, and its cells are text and numbers, never formulas.

mod specimen;

use spurline_report::{csv, json};

fn rows(text: &str) -> Vec<csv::StringRecord> {
    let mut reader = csv::ReaderBuilder::new().has_headers(false).from_reader(text.as_bytes());
    reader.records().map(Result::unwrap).collect()
}

#[test]
fn the_table_is_as_it_was() {
    insta::assert_snapshot!(csv(&specimen::run().view()).unwrap().replace("\r\n", "\n"));
}

#[test]
fn lines_end_as_rfc_4180_wants() {
    let text = csv(&specimen::run().view()).unwrap();
    assert_eq!(text.matches("\r\n").count(), 13);
    assert_eq!(text.matches('\n').count(), 13);
}

/// The columns have the names of the document, and hold the same.
#[test]
fn table_and_document_agree() {
    let run = specimen::run();
    let rows = rows(&csv(&run.view()).unwrap());
    let document: serde_json::Value = serde_json::from_str(&json(&run.view()).unwrap()).unwrap();
    let readings = document["readings"].as_array().unwrap();
    assert_eq!(rows.len(), 1 + readings.len());
    for (row, reading) in rows[1..].iter().zip(readings) {
        for (name, cell) in rows[0].iter().zip(row) {
            let of = if name == "run_state" { &document["state"] } else { &reading[name] };
            match of {
                serde_json::Value::Null => assert_eq!(cell, "", "{name}"),
                serde_json::Value::Number(number) => {
                    assert_eq!(cell.parse::<f64>().unwrap(), number.as_f64().unwrap(), "{name}");
                }
                serde_json::Value::Bool(truth) => assert_eq!(cell, truth.to_string(), "{name}"),
                text => assert_eq!(cell.trim_start_matches('\''), text.as_str().unwrap(), "{name}"),
            }
        }
    }
}

#[test]
fn figures_keep_all_their_digits() {
    let mut run = specimen::run();
    run.readings[0].figure.as_mut().unwrap().value = 1.0 / 3.0;
    run.readings[1].figure.as_mut().unwrap().value = f64::NAN;
    let rows = rows(&csv(&run.view()).unwrap());
    assert_eq!(rows[1][9].parse::<f64>().unwrap(), 1.0 / 3.0);
    assert_eq!(&rows[2][9], "");
}

#[test]
fn free_text_is_no_formula_and_numbers_stay_numbers() {
    for formula in ["=1+1", "+1", "-1", "@SUM(A1)", " =1", "\t=1"] {
        let rows = rows(&csv(&specimen::saying(formula).view()).unwrap());
        // channel, power_setting, supply, path, reason
        for column in [2, 4, 5, 6, 20] {
            let cell = &rows[4][column];
            assert!(cell.starts_with('\''), "{formula:?} in {}: {cell:?}", &rows[0][column]);
        }
        assert_eq!(rows[4][11].parse::<f64>().unwrap(), -16.5);
    }
}

#[test]
fn quotes_commas_and_line_breaks_come_back() {
    let text = "a, \"b\"\nc; d";
    let rows = rows(&csv(&specimen::saying(text).view()).unwrap());
    assert_eq!(rows.len(), 13);
    assert_eq!(&rows[1][2], text);
}
