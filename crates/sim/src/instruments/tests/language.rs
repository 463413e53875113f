//! The language: SCPI-1999 volume 1, chapters 6 and 7, from memory.

use super::talk;

/// Clauses 6.2.1, 6.2.4 and 6.2.5: short and long, any case, default nodes, suffix 1, paths that go on.
#[test]
fn headers_in_every_spelling() {
    let mut talk = talk::analyser();
    for message in [
        ":SENSe1:FREQuency:CENTer 145.25 MHZ;:sens:freq:cent?",
        "FREQ:CENT 145.25MHz;CENT?",
        "FREQ:SPAN 1 MHZ;*CLS;CENT 145250 KHZ;*OPC;CENT?",
        "FREQuency:CENTer .14525GHZ;:SENSE:FREQ:CENT?",
        "FREQ:CENT 1.4525E+8;:FREQ:CENT?",
        "FREQ:CENT 1.4525 e 8 HZ ; CENT?",
    ] {
        talk.say("*RST");
        assert_eq!(talk.say(message), "145250000", "{message}");
    }
    assert_eq!(talk.say("CALC1:MARK1 ON;:CALC:MARKER:STAT?;:DISP:WIND1:TRAC1:Y:RLEV?;:INP1:ATT?"), "1;0;10");
    for (message, code) in [
        ("CALC2:MARK ON", -114),
        ("SENS2:FREQ:CENT 1E9", -114),
        ("CALC:MARK99999999999 ON", -114),
        ("FREQU:CENT 1E9", -113),
        ("FREQ:CENT? 1E9", -224),
        ("INIT?", -113),
        ("FREQ:CENT", -109),
        ("FREQ:CENT 1E9,2E9", -108),
        ("FREQ:CENT 'x'", -104),
        ("FREQ:CENT 1 V", -131),
        ("SWE:POIN 5 HZ", -138),
        ("FREQ:CENT MIDDLE", -141),
        ("FREQ:CENT UP?", -103),
    ] {
        assert_eq!(talk.refusal(message), code, "{message}");
    }
}

/// Clause 7.2.1: every number can be asked for its limits and set to them.
#[test]
fn every_number_has_limits() {
    let limits = |headers: &[&str], talk: &mut dyn FnMut(&str) -> String| {
        for header in headers {
            let header = if header.starts_with('*') { (*header).to_owned() } else { format!(":{header}") };
            let asked = talk(&format!("{header}? MIN;{header}? MAX;{header}? DEF"));
            let values: Vec<f64> = asked.split(';').map(|value| value.parse().unwrap()).collect();
            assert!(values[0] <= values[2] && values[2] <= values[1], "{header}: {asked}");
            for (word, value) in ["MINimum", "max", "DEF"].iter().zip([values[0], values[1], values[2]]) {
                let set: f64 = talk(&format!("{header} {word};{header}?")).parse().unwrap();
                assert!((set - value).abs() <= 1e-9 * value.abs(), "{header} {word}: {set}, not {value}");
            }
        }
    };
    let mut analyser = talk::analyser();
    let headers = [
        "FREQ:CENT",
        "FREQ:CENT:STEP",
        "FREQ:SPAN",
        "FREQ:STAR",
        "FREQ:STOP",
        "BAND",
        "BAND:VID",
        "SWE:POIN",
        "SWE:TIME",
        "SWE:COUN",
        "INP:ATT",
        "POW:ATT",
        "INP:IMP",
        "DISP:WIND:TRAC:Y:RLEV",
        "DISP:TRAC:Y:PDIV",
    ];
    limits(&headers, &mut |message| analyser.say(message));
    let mut meter = talk::power_meter();
    limits(&["FREQ", "AVER:COUN", "CORR:OFFS"], &mut |message| meter.say(message));
    let mut supply = talk::supply();
    limits(&["VOLT", "VOLT:STEP", "CURR", "CURR:STEP", "INST:NSEL", "*ESE"], &mut |message| {
        supply.say(message)
    });
    let mut relay = talk::relay();
    limits(&["ROUT:CLOS:TIM"], &mut |message| relay.say(message));
    let mut unit = talk::unit_control();
    limits(&["FREQ"], &mut |message| unit.say(message));
    for errors in [analyser.errors(), meter.errors(), supply.errors(), relay.errors(), unit.errors()] {
        assert!(errors.is_empty(), "{errors:?}");
    }
}

/// Clause 7.2.1: `UP` and `DOWN` where there is a step, else -224; beyond the end -222.
#[test]
fn steps_up_and_down() {
    let mut talk = talk::analyser();
    talk.say("*RST;:FREQ:CENT 145E6;SPAN 1E6");
    assert_eq!(talk.say("FREQ:CENT UP;CENT?;CENT:STEP 25 KHZ;:FREQ:CENT DOWN;CENT?"), "145100000;145075000");
    assert_eq!(talk.say("FREQ:CENT:STEP:AUTO?;AUTO ON;:FREQ:CENT:STEP?"), "0;100000");
    assert_eq!(talk.say("BAND 10 KHZ;:BAND UP;:BAND?;:BAND DOWN;:BAND DOWN;:BAND?"), "30000;3000");
    assert_eq!(talk.say("INP:ATT 20;ATT UP;ATT?;ATT DOWN;ATT DOWN;ATT?"), "30;10");
    assert_eq!(talk.say("DISP:TRAC:Y:PDIV 5;RLEV UP;RLEV?"), "5");
    assert_eq!(talk.say("FREQ:SPAN UP;SPAN?"), "2000000");
    for (message, code) in [("SWE:POIN UP", -224), ("SWE:TIME DOWN", -224), ("INP:ATT MAX;ATT UP", -222)] {
        assert_eq!(talk.refusal(message), code, "{message}");
    }
    let mut supply = talk::supply();
    assert_eq!(supply.say("VOLT 5;VOLT:STEP 500 MV;:VOLT UP;VOLT?;:CURR 1 A;CURR DOWN;CURR?"), "5.5;0.9");
}

/// Clause 7.3: booleans; IEEE 488.2 clause 7.7.3: suffixes of each quantity.
#[test]
fn booleans_and_units() {
    let mut talk = talk::analyser();
    for (value, expected) in [("ON", "1"), ("off", "0"), ("1", "1"), ("0", "0"), ("-3.2", "1"), ("0.3", "0")]
    {
        assert_eq!(talk.say(&format!("INP:GAIN:STAT {value};STAT?")), expected, "{value}");
    }
    assert_eq!(talk.refusal("INP:GAIN:STAT MAYBE"), -141);
    assert_eq!(talk.say("SWE:TIME 250 MS;TIME?;TIME 250000 US;TIME?;TIME .25 S;TIME?"), "0.25;0.25;0.25");
    assert_eq!(talk.say("INP:ATT 20 DB;ATT?;IMP?;IMP 50 OHM"), "20;50");
    assert_eq!(talk.refusal("INP:IMP 75"), -222);
    let mut supply = talk::supply();
    assert_eq!(supply.say("VOLT 7400 MV;VOLT?;CURR 250 MA;CURR?;CURR 250000 UA;CURR?"), "7.4;0.25;0.25");
}

/// A level in every unit; at 50 ohms 0 dBm is 106.9897 dBuV and 0.2236068 V (numpy 2.4.6).
#[test]
fn levels_in_every_unit() {
    let mut talk = talk::analyser();
    talk.say("*RST;:DISP:TRAC:Y:RLEV -10 DBM");
    for (unit, level) in
        [("DBM", -10.0), ("DBUV", 96.989_700_04), ("DBMV", 36.989_700_04), ("W", 1e-4), ("V", 0.070_710_678)]
    {
        let shown: f64 = talk.say(&format!("UNIT:POW {unit};:DISP:TRAC:Y:RLEV?")).parse().unwrap();
        assert!((shown / level - 1.0).abs() < 1e-8, "{unit}: {shown}");
        assert_eq!(talk.say("UNIT:POW?"), unit);
    }
    let back = talk.say("DISP:TRAC:Y:RLEV 1 MW;:UNIT:POW DBM;:DISP:TRAC:Y:RLEV?;RLEV 107 DBUV;RLEV?");
    let back: Vec<f64> = back.split(';').map(|level| level.parse().unwrap()).collect();
    assert!(back[0].abs() < 1e-9 && (back[1] - 0.010_299_957).abs() < 1e-6, "{back:?}");
    assert_eq!(talk.refusal("DISP:TRAC:Y:RLEV 1 HZ"), -131);
    talk.say("SWE:POIN 101;:INIT;*WAI;:CALC:MARK:MAX");
    let dbm: f64 = talk.say("CALC:MARK:Y?").parse().unwrap();
    let watts: f64 = talk.say("UNIT:POW W;:CALC:MARK:Y?").parse().unwrap();
    assert!((10.0 * (watts * 1e3).log10() - dbm).abs() < 1e-6, "{watts} {dbm}");
}

/// SCPI-1999 volume 2, chapter 9 (`FORMat`).
#[test]
fn forms_of_a_trace() {
    let mut talk = talk::analyser();
    assert_eq!(talk.say("*RST;:FORM?"), "ASC,0");
    for (form, answer) in [
        ("REAL,32", "REAL,32"),
        ("REAL,64", "REAL,64"),
        ("REAL", "REAL,32"),
        ("INT,32", "INT,32"),
        ("INTeger", "INT,32"),
        ("ASCii,5", "ASC,5"),
        ("ASC", "ASC,0"),
    ] {
        assert_eq!(talk.say(&format!("FORM {form};:FORM:DATA?")), answer);
    }
    for form in ["REAL,16", "INT,64", "ASC,99", "HEX", "ASC,MAX"] {
        assert_eq!(talk.refusal(&format!("FORM {form}")), -224, "{form}");
    }
    talk.say("*RST;:SWE:POIN 101;:INIT;*WAI");
    assert_eq!(talk.say("TRAC:POIN? TRACE1;:TRAC:POIN?;:TRAC:CAT?"), "101;101;\"TRACE1\"");
    assert_eq!(talk.say("TRAC? TRAC1"), talk.say("TRACE:DATA? trace1"));
    for (message, code) in
        [("TRAC? TRACE2", -224), ("TRAC?", -109), ("TRAC? 1", -104), ("TRAC2? TRACE1", -114)]
    {
        assert_eq!(talk.refusal(message), code, "{message}");
    }
}

#[test]
fn the_marker_walks_over_peaks() {
    let mut talk = talk::analyser();
    talk.say("*RST;:FREQ:CENT 433.92E6;SPAN 100E3;:SWE:POIN 201;:INIT;*WAI;:CALC:MARK:MAX");
    let peak: f64 = talk.say("CALC:MARK:X?").parse().unwrap();
    assert!((peak - 433.92e6).abs() < 2e3, "{peak}");
    let top: f64 = talk.say("CALC:MARK:Y?").parse().unwrap();
    let next: f64 = talk.say("CALC:MARK:MAX:NEXT;:CALC:MARK:Y?").parse().unwrap();
    let lowest: f64 = talk.say("CALC:MARK:MIN;:CALC:MARK:Y?").parse().unwrap();
    assert!(top > next && next > lowest, "{top} {next} {lowest}");
    talk.say("CALC:MARK:X 433.95E6");
    let left: f64 = talk.say("CALC:MARK:MAX:LEFT;:CALC:MARK:X?").parse().unwrap();
    let right: f64 = talk.say("CALC:MARK:MAX:RIGH;:CALC:MARK:X?").parse().unwrap();
    assert!(left < 433.95e6 && right > left, "{left} {right}");
    assert_eq!(talk.say("CALC:MARK:X MIN;:CALC:MARK:X? MIN"), "433870000");
    assert_eq!(talk.refusal("CALC:MARK:MAX:LEFT"), -200, "nothing is left of the edge");
    assert_eq!(talk.say("CALC:MARK:X 433.9E6;:CALC:MARK:CENT;:FREQ:CENT?"), "433900000");
    assert_eq!(talk.say("CALC:MARK:AOFF;:CALC:MARK?;:CALC:MARK:Y?"), "0;9.91E+37");
    assert_eq!(talk.refusal("CALC:MARK:MAX:NEXT"), -221);
}

#[test]
fn commands_that_a_script_sends_to_be_sure() {
    let mut talk = talk::analyser();
    assert_eq!(talk.say("DISP:ENAB OFF;ENAB?;*RST;:DISP:ENAB?;:SYST:REM;RWL;LOC;VERS?"), "0;1;1999.0");
    assert_eq!(
        talk.say("ROSC:SOUR?;:ROSC:SOUR INT;:FREQ:SPAN:FULL;:FREQ:SPAN?;:POW:GAIN?;:CAL:AUTO?"),
        "INT;3000000000;0;1"
    );
    let headers = talk.say("SYST:HELP:HEAD?");
    assert!(headers.contains("\n[SENSe#:]FREQuency:CENTer\n") && headers.contains("\n*IDN/qonly/\n"));
    assert!(headers.contains("\nABORt/nquery/\n"));
    let mut relay = talk::relay();
    assert_eq!(relay.say("ROUT:CLOS (@1,2);CLOS:EXCL (@3,5);STAT?"), "(@3,5)");
    assert_eq!(relay.say("ROUT:OPEN:ALL;:ROUT:CLOS:STAT?"), "(@)");
    let mut supply = talk::supply();
    assert_eq!(supply.say("INST:NSEL 1;NSEL?"), "1");
    assert_eq!(supply.refusal("INST:NSEL 2"), -222);
    assert_eq!(supply.say("VOLT 5;:VOLT 99;:VOLT?"), "5", "a voltage that nobody asked for is not set");
    let mut meter = talk::power_meter();
    let plain: f64 = meter.say("*RST;:UNIT:POW W;:READ?").parse().unwrap();
    let offset: f64 = meter.say("CORR:OFFS 10 DB;OFFS:STAT ON;:FETC?").parse().unwrap();
    assert!((offset / plain - 10.0).abs() < 1e-9, "{offset} {plain}");
}
