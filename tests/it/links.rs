//! The kind of a link changes no reading: the same bench over sockets, HiSLIP, VXI-11 and serial lines.

use std::io::{BufRead, BufReader};
use std::process::Stdio;

use serde_json::Value;

use crate::bench::{Workshop, plan, root, simulated_bench};
use crate::processes::signal;

/// The bench of the other tests with every instrument at an address of one form; `NR` stands for a number of its own.
fn bench(form: &str) -> String {
    (0..4).fold(simulated_bench(2, ""), |text, offset| {
        let socket = format!("TCPIP::127.0.0.1::{}::SOCKET", 25_025 + offset);
        text.replace(&socket, &form.replace("NR", &offset.to_string()))
    })
}

fn readings(form: &str) -> Value {
    let workshop = Workshop::with(&plan("146 MHz", 6), &bench(form));
    let called = workshop.call(&["run", "plan.yaml", "--json"]);
    assert_eq!(called.exit, 1, "{form}: {called:?}");
    let readings = called.json()["readings"].clone();
    assert_eq!(readings.as_array().unwrap().len(), 6);
    readings
}

#[test]
fn every_kind_of_link_gives_the_same_readings() {
    let over_sockets = readings("TCPIP::127.0.0.1::2502NR::SOCKET");
    for form in [
        "TCPIP::127.0.0.1::hislip0,2502NR::INSTR",
        "TCPIP::127.0.0.1::hislipNR::INSTR",
        "TCPIP::127.0.0.1,2502NR::inst0::INSTR",
        "TCPIP::127.0.0.1,2502NR::gpib0,NR::INSTR",
        "ASRL/tmp/spurline-no-such-folder/NR::INSTR",
    ] {
        assert_eq!(readings(form), over_sockets, "{form}");
    }
}

#[test]
fn the_shipped_bench_with_every_link_reads_what_the_demonstration_reads() {
    let plan = root().join("config/plans/demo.yaml");
    let read = |name: &str| {
        let bench = root().join("config/benches").join(name);
        let arguments = ["run", plan.to_str().unwrap(), "--bench", bench.to_str().unwrap(), "--json"];
        let called = Workshop::new().call(&arguments);
        assert_eq!(called.exit, 1, "{called:?}");
        called.json()["readings"].clone()
    };
    assert_eq!(read("every-link.yaml"), read("demo.yaml"));
}

/// In real time and from another process: what `sim` prints is what a bench file says.
#[test]
fn a_run_reaches_every_kind_of_link_of_another_process() {
    let workshop = Workshop::new();
    let line = workshop.path("relay");
    let addresses = [
        "TCPIP::127.0.0.1::hislip0,25131::INSTR".to_owned(),
        "TCPIP::127.0.0.1,25132::inst0::INSTR".to_owned(),
        "TCPIP::127.0.0.1::25133::SOCKET".to_owned(),
        format!("ASRL{}::INSTR", line.display()),
    ];
    let bench = (0..4).fold(simulated_bench(2, ""), |text, offset| {
        text.replace(&format!("TCPIP::127.0.0.1::{}::SOCKET", 25_025 + offset), &addresses[offset])
    });
    let (wired, _) = bench.split_once("simulated:").unwrap();
    workshop.write("served.yaml", &bench);
    workshop.write("bench.yaml", wired);
    workshop.write("plan.yaml", &plan("146 MHz", 2));
    let mut child = workshop.command(&["sim", "served.yaml"]).stdout(Stdio::piped()).spawn().unwrap();
    let mut lines = BufReader::new(child.stdout.take().unwrap()).lines().map(Result::unwrap);
    let printed: Vec<String> = lines.by_ref().take_while(|line| line != "ready").collect();
    let roles = ["analyser", "power_meter", "unit_control", "relay"];
    for (line, (role, address)) in printed.iter().zip(roles.iter().zip(&addresses)) {
        assert_eq!(line.split_once(' ').map(|(_, at)| at), Some(address.as_str()), "{role}: {line}");
    }
    assert_eq!(printed.len(), 4);
    assert!(line.is_symlink());
    let called = workshop.call(&["run", "plan.yaml", "--json"]);
    assert_eq!(called.exit, 0, "{called:?}");
    signal("-TERM", &child);
    assert_eq!(child.wait().unwrap().code(), Some(0));
    assert!(!line.is_symlink(), "the link is gone with the bench");
}

#[test]
fn a_place_that_cannot_be_served_is_told_with_advice() {
    let workshop = Workshop::new();
    let refused = |exit: i32, address: &str, told: &[&str]| {
        let bench = simulated_bench(2, "").replace("TCPIP::127.0.0.1::25025::SOCKET", address);
        workshop.write("bench.yaml", &bench);
        let called = workshop.call(&["sim", "bench.yaml"]);
        assert_eq!(called.exit, exit, "{called:?}");
        for part in told {
            assert!(called.talk.contains(part), "{part}: {called:?}");
        }
    };
    refused(2, "TCPIP::127.0.0.1::inst0::INSTR", &["port mapper", "TCPIP::127.0.0.1,7011::inst0::INSTR"]);
    refused(2, "TCPIP::bench::hislip0::INSTR", &["the host is not a number"]);
    refused(4, "ASRL/no/such/folder::INSTR", &["cannot listen at /no/such/folder", "does the folder exist"]);
    let taken = workshop.path("taken");
    std::fs::write(&taken, "").unwrap();
    refused(
        4,
        &format!("ASRL{}::INSTR", taken.display()),
        &["cannot listen at", "is nothing of that name in it"],
    );
    assert!(taken.exists());
}
