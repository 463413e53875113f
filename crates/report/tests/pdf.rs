//! The PDF, read again by another's reader: its sheets, their numbers, every reading, and that nothing hostile gets out of
//! its place.

#![expect(clippy::unwrap_used, reason = "a test may fail")]

use std::process::Command;

use lopdf::{Document, Object};
use spurline_record::{Issue, Reading};
use spurline_report::{Paper, Particulars, RunView, pdf};

mod specimen;

use specimen::Specimen;

fn written(run: &Specimen, paper: Paper) -> Vec<u8> {
    pdf(&run.view(), paper).unwrap()
}

fn particulars() -> Particulars {
    let text = |text: &str| Some(text.to_owned());
    Particulars {
        issue: Issue {
            title: text("Conducted emissions"),
            laboratory: text("Example Laboratory"),
            customer: text("Example Radio Works"),
            environment: text("23 °C, 45 % RH"),
            authorised_by: text("B. Example"),
            ..Issue::default()
        },
        issued: Some(jiff::civil::date(2026, 12, 1)),
        head: Some("ab".repeat(32)),
        digests: vec!["cd".repeat(32)],
    }
}

/// The words of each sheet without their blanks: a line may have been broken anywhere.
fn sheets(bytes: &[u8]) -> Vec<String> {
    let document = Document::load_mem(bytes).unwrap();
    let pages = document.get_pages();
    let text = |number: &u32| document.extract_text(&[*number]).unwrap();
    pages.keys().map(|number| squeezed(&text(number))).collect()
}

fn squeezed(text: &str) -> String {
    text.chars().filter(|c| !c.is_whitespace()).collect()
}

fn assert_says(sheets: &[String], words: &str) {
    let whole = sheets.concat();
    assert!(whole.contains(&squeezed(words)), "`{words}` is not in:\n{whole}");
}

#[test]
fn every_sheet_has_its_number_and_the_name_of_the_run() {
    for paper in [Paper::A4, Paper::Letter] {
        let sheets = sheets(&written(&specimen::run(), paper));
        assert!(sheets.len() > 4, "{}", sheets.len());
        for (number, sheet) in (1..).zip(&sheets) {
            for words in
                [&format!("page {number} of {}", sheets.len()), "20261125-103012-7c1e", "no evidence"]
            {
                assert!(sheet.contains(&squeezed(words)), "`{words}` is not on sheet {number}: {sheet}");
            }
        }
        let ends = sheets.iter().filter(|sheet| sheet.contains("Endofreport20261125-103012-7c1e")).count();
        assert_eq!(ends, 1);
        assert!(sheets.last().unwrap().contains("Endofreport"));
    }
}

#[test]
fn the_sheets_have_the_size_of_their_paper() {
    for (paper, size) in [(Paper::A4, [595.28, 841.89]), (Paper::Letter, [612.0, 792.0])] {
        let document = Document::load_mem(&written(&specimen::run(), paper)).unwrap();
        for id in document.get_pages().values() {
            let page = document.get_dictionary(*id).unwrap();
            let media = page.get(b"MediaBox").and_then(Object::as_array).unwrap();
            let ends: Vec<f32> = media.iter().map(|end| end.as_float().unwrap()).collect();
            assert_eq!(ends[..2], [0.0, 0.0]);
            assert!((ends[2] - size[0]).abs() < 0.01 && (ends[3] - size[1]).abs() < 0.01, "{ends:?}");
        }
    }
}

#[test]
fn it_is_tagged_in_a_language_and_carries_its_fonts() {
    let document = Document::load_mem(&written(&specimen::run(), Paper::A4)).unwrap();
    let catalog = document.catalog().unwrap();
    assert_eq!(catalog.get(b"Lang").unwrap().as_str().unwrap(), b"en");
    assert!(catalog.has(b"StructTreeRoot") && catalog.has(b"Outlines"));
    let of_type = |name: &[u8]| {
        let is_it = |object: &&Object| object.as_dict().is_ok_and(|it| it.has_type(name));
        document.objects.values().filter(is_it).collect::<Vec<_>>()
    };
    let described = of_type(b"FontDescriptor");
    assert!((2..=3).contains(&described.len()));
    assert!(described.iter().all(|font| font.as_dict().unwrap().has(b"FontFile2")));
    let kinds: Vec<String> = of_type(b"StructElem")
        .iter()
        .map(|element| {
            let kind = element.as_dict().unwrap().get(b"S").unwrap().as_name().unwrap();
            String::from_utf8_lossy(kind).into_owned()
        })
        .collect();
    for kind in ["H1", "H2", "P", "Table", "TR", "TH", "TD", "L", "LI", "Figure"] {
        assert!(kinds.iter().any(|known| known == kind), "{kind} is not among {kinds:?}");
    }
    // Nothing acts when it is opened.
    for name in [b"OpenAction".as_slice(), b"AA", b"JavaScript", b"EmbeddedFiles"] {
        assert!(!catalog.has(name));
    }
}

#[test]
fn every_reading_is_in_it_with_its_figures() {
    let run = specimen::run();
    let sheets = sheets(&written(&run, Paper::A4));
    let whole = sheets.concat();
    for reading in &run.readings {
        let at = format!("{:.4}", reading.frequency.mhz());
        assert!(whole.contains(&at), "{at}");
        assert_says(&sheets, &reading.title());
        for words in figures(reading) {
            assert!(whole.contains(&squeezed(&words)), "`{words}` of reading {}", reading.ordinal);
        }
    }
}

fn figures(reading: &Reading) -> Vec<String> {
    let mut words = vec![reading.outcome.word().to_owned()];
    if let Some(level) = reading.level() {
        words.push(format!("{:.2}", level.get()));
    }
    words.extend(reading.margin.map(|margin| format!("{:+.2} dB", margin.value)));
    words.extend(reading.budget.as_ref().map(|budget| format!("{:.2} dB", budget.expanded)));
    words.extend(reading.reason.as_ref().map(|reason| reason.text.clone()));
    words
}

#[test]
fn it_says_what_a_test_report_must() {
    let run = specimen::run();
    let particulars = particulars();
    let view = RunView { particulars: Some(&particulars), ..run.view() };
    let sheets = sheets(&pdf(&view, Paper::A4).unwrap());
    for words in [
        "Conducted emissions",
        "Example Laboratory",
        "Example Radio Works",
        "23 °C, 45 % RH",
        "Authorised by: B. Example",
        "Date of issue: 2026-12-01",
        "not stated",
        "The results concern only the unit that is named here",
        "not to be reproduced except in full",
        "No accreditation is claimed",
        "guard band: complies only if level + U is not above the limit",
        "2.5 %",
        "EXPIRED",
        "the calibration of the analyser expired on 2026-10-01",
        "spurline 0.1.0",
        &"ab".repeat(32),
        &"cd".repeat(32),
        "2026-11-25 10:30:12 UTC",
        "Never touch, loosen or open a connector",
        "failed at the supply: no answer within 2 s",
        "the unit was warm",
        "Simulated bench, seed 7: not evidence about a real transmitter",
    ] {
        assert_says(&sheets, words);
    }
    // Without a word of anybody it says so.
    let sheets = self::sheets(&written(&run, Paper::A4));
    assert_says(&sheets, "Authorised by: not stated");
    assert_says(&sheets, "none: nothing shows whether it was altered");
}

#[test]
fn the_same_record_gives_the_same_bytes() {
    let run = specimen::run();
    assert!(written(&run, Paper::A4) == written(&run, Paper::A4));
    assert!(written(&run, Paper::A4) != written(&run, Paper::Letter));
}

#[test]
fn what_instruments_and_files_say_stays_in_its_place() {
    let long = "W".repeat(3000);
    let words = "many words ".repeat(300);
    let odd = "日本語 \u{202e}turned\u{202c} \u{1b}]0;x\u{7} (a) \\ <b> % /Type \u{0} \u{feff} ﷽ 𝕏";
    for text in [specimen::hostile().as_str(), &long, &words, odd, ""] {
        for paper in [Paper::A4, Paper::Letter] {
            let bytes = written(&specimen::saying(text), paper);
            let sheets = sheets(&bytes);
            let whole = sheets.concat();
            assert_eq!(whole.matches("Endofreport").count(), 1);
            assert!(whole.chars().all(|c| !c.is_control()), "a control character came through");
            for turned in ['\u{202e}', '\u{202c}', '\u{feff}', '\0'] {
                assert!(!whole.contains(turned), "{turned:?} came through");
            }
            assert_within(&bytes, &format!("{:?}-{}", paper, text.len()));
        }
    }
}

#[test]
fn a_run_without_a_reading_is_a_report_too() {
    let mut run = specimen::run();
    run.readings.clear();
    run.events.clear();
    run.instruments.clear();
    run.header.layout = Default::default();
    let sheets = sheets(&written(&run, Paper::A4));
    assert_says(&sheets, "Nothing was read.");
    assert_says(&sheets, "The unit was not keyed.");
}

/// Every word lies between the margins, as `pdftotext` of poppler finds them.
fn assert_within(bytes: &[u8], name: &str) {
    let file = std::env::temp_dir().join(format!("spurline-{}-{name}.pdf", std::process::id()));
    std::fs::write(&file, bytes).unwrap();
    let told = Command::new("pdftotext").arg("-bbox").arg(&file).arg("-").output();
    std::fs::remove_file(&file).unwrap();
    let told = told.expect("pdftotext is there: `scripts/test` installs poppler-utils");
    assert!(told.status.success(), "{told:?}");
    let told = String::from_utf8_lossy(&told.stdout).into_owned();
    let number = |line: &str, name: &str| -> f64 {
        let opening = format!("{name}=\"");
        let from = line.find(&opening).expect("the attribute is there") + opening.len();
        line[from..].split('"').next().unwrap().parse().unwrap()
    };
    let (mut width, mut height, mut words) = (0.0, 0.0, 0);
    for line in told.lines() {
        if line.contains("<page ") {
            (width, height) = (number(line, "width"), number(line, "height"));
        } else if line.contains("<word ") {
            let [left, right] = ["xMin", "xMax"].map(|name| number(line, name));
            let [top, bottom] = ["yMin", "yMax"].map(|name| number(line, name));
            assert!(left > 40.0 && right < width - 40.0, "{line} on a sheet {width} wide");
            assert!(top > 25.0 && bottom < height - 20.0, "{line} on a sheet {height} high");
            words += 1;
        }
    }
    assert!(words > 100, "{words} words");
}
