//! What hostile input costs in memory, measured by the operating system in a process of its own.

use std::process::Command;

use bytes::Bytes;
use spurline_document::Document;
use spurline_path::Touchstone;
use spurline_scpi::Response;

/// Names the case for the process that is started.
const CASE: &str = "SPURLINE_HOSTILE_CASE";
const MIB: u64 = 1 << 20;

/// What is tried: a name, the input, who reads it, and the most that it may cost beside the input itself.
struct Case {
    name: &'static str,
    input: fn() -> Vec<u8>,
    read: fn(Vec<u8>),
    most: u64,
}

const CASES: [Case; 5] = [
    Case {
        name: "numbers on a line",
        input: || ("1".to_owned() + &" 1".repeat(10_000_000)).into_bytes(),
        read: |bytes| assert!(Touchstone::parse(std::str::from_utf8(&bytes).unwrap()).is_err()),
        most: 2 * MIB,
    },
    Case {
        name: "commas",
        input: || vec![b','; 16 << 20],
        read: |bytes| assert!(Response::parse(Bytes::from(bytes)).is_err()),
        most: 80 * MIB,
    },
    Case { name: "brackets", input: || vec![b'['; 1 << 20], read: refused, most: 8 * MIB },
    Case { name: "large file", input: || b"- x\n".repeat(16 << 20), read: refused, most: 80 * MIB },
    Case {
        name: "anchors",
        input: || b"a: &a [x, x]\nb: &b [*a, *a]\nc: &c [*b, *b]\n".to_vec(),
        read: refused,
        most: 2 * MIB,
    },
];

fn refused(bytes: Vec<u8>) {
    assert!(Document::parse("hostile.yaml", std::str::from_utf8(&bytes).unwrap()).is_err());
}

#[test]
fn hostile_input_costs_little() {
    for case in CASES {
        let started = Command::new(std::env::current_exe().unwrap())
            .args(["memory::one_case", "--exact", "--ignored", "--nocapture"])
            .env(CASE, case.name)
            .output()
            .unwrap();
        let said = String::from_utf8_lossy(&started.stdout).into_owned();
        assert!(
            started.status.success(),
            "{}: {said}{}",
            case.name,
            String::from_utf8_lossy(&started.stderr)
        );
        let cost = said.split("costs ").nth(1).and_then(|rest| rest.split(' ').next()).unwrap();
        let cost: u64 = cost.parse().unwrap();
        assert!(cost <= case.most, "{} cost {cost} bytes, more than {}", case.name, case.most);
    }
}

#[test]
#[ignore = "run in a process of its own by the test above"]
fn one_case() {
    let name = std::env::var(CASE).unwrap();
    let case = CASES.into_iter().find(|case| case.name == name).unwrap();
    let input = (case.input)();
    let before = peak();
    (case.read)(input);
    println!("costs {} bytes", peak() - before);
}

/// The most memory that this process has held so far, in bytes.
fn peak() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap();
    let line = status.lines().find(|line| line.starts_with("VmHWM:")).unwrap();
    let kibibytes: u64 = line.split_whitespace().nth(1).unwrap().parse().unwrap();
    kibibytes * 1024
}
