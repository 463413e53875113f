//! The service as a process: what it refuses to be, and what its log never says.

use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::process::{Child, Stdio};

use crate::bench::{Called, Workshop, plan, simulated_bench};
use crate::processes::signal;

const SERVICE: &str =
    "service: test\nlisten: 127.0.0.1:0\nplans: plans\nbenches: [ { name: one, file: bench.yaml } ]\n";

fn workshop(bench: &str) -> Workshop {
    let workshop = Workshop::with("", bench);
    std::fs::create_dir(workshop.path("plans")).unwrap();
    workshop.write("plans/plan.yaml", &plan("146 MHz", 2).replace("bench: bench.yaml\n", ""));
    workshop.write("service.yaml", SERVICE);
    workshop
}

/// A service, its log as far as it has come, and where it answers.
struct Serving {
    child: Child,
    log: BufReader<std::process::ChildStderr>,
    told: String,
    address: String,
}

impl Serving {
    fn begin(workshop: &Workshop, more: &[&str]) -> Self {
        let mut command = workshop.command(&[&["serve", "service.yaml"], more].concat());
        command.env("SPURLINE_LOG", "trace").stderr(Stdio::piped()).stdout(Stdio::null());
        let mut child = command.spawn().unwrap();
        let mut log = BufReader::new(child.stderr.take().unwrap());
        let mut told = String::new();
        let address = loop {
            let begun = told.len();
            assert!(log.read_line(&mut told).unwrap() > 0, "it ended: {told}");
            if let Some((_, rest)) = told[begun..].split_once("http://") {
                break rest.split('/').next().unwrap().to_owned();
            }
        };
        Self { child, log, told, address }
    }

    fn ask(&self, request: &str) -> String {
        let mut stream = TcpStream::connect(&self.address).unwrap();
        stream.write_all(request.as_bytes()).unwrap();
        let mut answer = String::new();
        stream.read_to_string(&mut answer).unwrap();
        answer
    }

    fn get(&self, path: &str, token: &str) -> String {
        let host = &self.address;
        self.ask(&format!(
            "GET {path} HTTP/1.1\r\nHost: {host}\r\nAuthorization: Bearer {token}\r\nConnection: close\r\n\r\n"
        ))
    }

    fn post(&self, path: &str, token: &str, body: &str) -> String {
        let (host, length) = (&self.address, body.len());
        self.ask(&format!(
            "POST {path} HTTP/1.1\r\nHost: {host}\r\nAuthorization: Bearer {token}\r\nContent-Type: application/json\r\n\
             Content-Length: {length}\r\nConnection: close\r\n\r\n{body}"
        ))
    }

    /// Ends it as a service manager does, and gives its exit status and its whole log.
    fn end(mut self) -> (i32, String) {
        signal("-TERM", &self.child);
        let status = self.child.wait().unwrap();
        self.log.read_to_string(&mut self.told).unwrap();
        (status.code().unwrap(), self.told)
    }
}

fn measured(serving: &Serving, token: &str) {
    let asked = serving.post("/api/queue", token, "{\"bench\": \"one\", \"plan\": \"plan\"}");
    assert!(asked.starts_with("HTTP/1.1 201"), "{asked}");
    for _ in 0..600 {
        if serving.get("/api/queue", token).contains("\"standing\":\"done\"") {
            return;
        }
        std::thread::sleep(std::time::Duration::from_millis(50));
    }
    panic!("not measured within 30 s: {}", serving.get("/api/queue", token));
}

#[test]
fn the_token_is_in_no_log() {
    for form in ["text", "json"] {
        let workshop = workshop(&simulated_bench(2, ""));
        let serving = Serving::begin(&workshop, &["--log", form]);
        let token = std::fs::read_to_string(workshop.path("data/token")).unwrap().trim().to_owned();
        assert!(token.len() >= 32, "{token}");
        measured(&serving, &token);
        serving.get("/api/benches", "a-wrong-token-that-somebody-tried");
        let host = serving.address.clone();
        let entered = serving.ask(&format!(
            "POST /enter HTTP/1.1\r\nHost: {host}\r\nOrigin: http://{host}\r\nContent-Type: application/x-www-form-urlencoded\r\n\
             Content-Length: {}\r\nConnection: close\r\n\r\ntoken={token}",
            token.len() + 6
        ));
        let session =
            entered.split("spurline_session=").nth(1).unwrap().split(';').next().unwrap().to_owned();
        let (exit, log) = serving.end();
        assert_eq!(exit, 0, "{log}");
        assert!(log.lines().count() > 5, "{log}");
        assert!(!log.contains(&token) && !log.contains(&session), "{log}");
        assert!(!log.contains("a-wrong-token"), "{log}");
    }
}

#[test]
fn what_an_instrument_says_does_nothing_to_a_terminal() {
    let hostile = "serial: \"U\\e]0;owned\\aX\\e[2J\\u202e\"";
    let bench = simulated_bench(2, "");
    assert!(bench.contains("serial: U-1"), "{bench}");
    let workshop = workshop(&bench.replace("serial: U-1", hostile));
    let acts = |text: &str| text.contains(['\u{1b}', '\u{7}', '\u{202e}', '\u{9b}']);
    let serving = Serving::begin(&workshop, &[]);
    let token = std::fs::read_to_string(workshop.path("data/token")).unwrap().trim().to_owned();
    let asked = serving.post("/api/queue", &token, "{\"bench\": \"one\", \"plan\": \"plan\"}");
    assert!(asked.starts_with("HTTP/1.1 201"), "{asked}");
    let mut queue = String::new();
    for _ in 0..600 {
        queue = serving.get("/api/queue", &token);
        if queue.contains("\"standing\":\"done\"") || queue.contains("\"standing\":\"failed\"") {
            break;
        }
        std::thread::sleep(std::time::Duration::from_millis(50));
    }
    let (_, log) = serving.end();
    assert!(!acts(&log) && !acts(&queue), "{log:?} {queue:?}");
    let quiet = |called: Called| assert!(!acts(&called.out) && !acts(&called.talk), "{called:?}");
    quiet(workshop.call(&["runs"]));
    quiet(workshop.call(&["show", "last"]));
    quiet(workshop.call(&["show", "last", "--transcript"]));
    quiet(workshop.call(&["run", "plans/plan.yaml", "--bench", "bench.yaml"]));
}

#[test]
fn other_machines_reach_it_only_with_a_token_and_tls() {
    let workshop = workshop(&simulated_bench(2, ""));
    for (listen, missing) in [("0.0.0.0:0", "`token_file` and `tls`"), ("[::]:0", "`token_file` and `tls`")] {
        let called = workshop.call(&["serve", "service.yaml", "--listen", listen]);
        assert_eq!(called.exit, 2, "{called:?}");
        assert!(called.talk.contains(missing), "{called:?}");
    }
    workshop.write("service.yaml", &format!("{SERVICE}token_file: token\n"));
    let called = workshop.call(&["serve", "service.yaml", "--listen", "0.0.0.0:0"]);
    assert_eq!(called.exit, 2, "{called:?}");
    assert!(called.talk.contains("`tls`") && !called.talk.contains("`token_file` and"), "{called:?}");
}
