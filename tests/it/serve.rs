//! The service as a process: what it refuses to be, and what its log never says.

use std::io::{BufRead, BufReader, Read, Write};
use std::net::{TcpListener, TcpStream};
use std::os::unix::net::UnixDatagram;
use std::process::{Child, Command, Stdio};
use std::time::Duration;

use crate::bench::{PARTS, Workshop, instruments, plan, simulated_bench};
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
        Self::begin_as(workshop.command(&[&["serve", "service.yaml"], more].concat()))
    }

    fn begin_as(mut command: Command) -> Self {
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
        std::thread::sleep(Duration::from_millis(50));
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

/// Somebody's analyser, which answers everything with a name that acts on a terminal.
fn hostile_analyser() -> u16 {
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    let port = listener.local_addr().unwrap().port();
    std::thread::spawn(move || {
        for stream in listener.incoming() {
            let mut stream = stream.unwrap();
            std::thread::spawn(move || {
                let mut lines = BufReader::new(stream.try_clone().unwrap()).lines();
                while let Some(Ok(_)) = lines.next() {
                    let name = "Example,Analyser,A\x1b]0;owned\x07\x1b[2J\r\x1b[31mERROR,1.0\n";
                    if stream.write_all(name.as_bytes()).is_err() {
                        return;
                    }
                }
            });
        }
    });
    port
}

#[test]
fn what_an_instrument_says_does_nothing_to_a_terminal() {
    let port = hostile_analyser();
    let bench = [instruments(25_025, "A-0001"), PARTS.to_owned()].concat();
    let bench =
        (25_025..25_029).fold(bench, |bench, of: u16| bench.replace(&of.to_string(), &port.to_string()));
    let workshop = workshop(&bench);
    let acts = |text: &str| text.contains(['\u{1b}', '\u{7}', '\r']);
    let shown = |text: &str| text.contains("owned");
    let serving = Serving::begin(&workshop, &[]);
    let token = std::fs::read_to_string(workshop.path("data/token")).unwrap().trim().to_owned();
    let asked = serving.post("/api/queue", &token, "{\"bench\": \"one\", \"plan\": \"plan\"}");
    assert!(asked.starts_with("HTTP/1.1 201"), "{asked}");
    let queue = once_failed(&serving, &token);
    let (_, body) = queue.split_once("\r\n\r\n").unwrap();
    let (_, log) = serving.end();
    assert!(!acts(&log) && !acts(body), "{log:?} {body:?}");
    assert!(shown(body), "what it said is told: {body}");
    let called = workshop.call(&["run", "plans/plan.yaml", "--bench", "bench.yaml"]);
    assert!(!acts(&called.talk) && !acts(&called.out) && shown(&called.talk), "{called:?}");
    let called = workshop.call(&["identify", &format!("TCPIP::127.0.0.1::{port}::SOCKET")]);
    assert!(!acts(&called.talk) && !acts(&called.out), "{called:?}");
}

/// The messages are those of sd_notify(3).
#[test]
fn a_service_manager_is_told_that_it_is_ready_lives_and_stops() {
    let workshop = workshop(&simulated_bench(2, ""));
    let manager = UnixDatagram::bind(workshop.path("manager")).unwrap();
    manager.set_read_timeout(Some(Duration::from_secs(20))).unwrap();
    let told = || {
        let mut message = [0; 512];
        let length = manager.recv(&mut message).unwrap();
        String::from_utf8_lossy(&message[..length]).into_owned()
    };
    let mut command = workshop.command(&["serve", "service.yaml"]);
    command.env("NOTIFY_SOCKET", workshop.path("manager")).env("WATCHDOG_USEC", "300000");
    let serving = Serving::begin_as(command);
    assert!(told().starts_with("READY=1\n"));
    for _ in 0..3 {
        assert_eq!(told(), "WATCHDOG=1\n");
    }
    let (status, log) = serving.end();
    assert_eq!(status, 0, "{log}");
    let last = std::iter::repeat_with(told).find(|message| message != "WATCHDOG=1\n").unwrap();
    assert_eq!(last, "STOPPING=1\n");
}

/// Killed, not told to end: the pause is on the disk before whoever stopped the bench has an answer.
#[test]
fn after_a_stop_and_a_kill_nothing_keys_and_the_log_says_why() {
    let workshop = workshop(&simulated_bench(2, ""));
    let mut serving = Serving::begin(&workshop, &[]);
    let token = std::fs::read_to_string(workshop.path("data/token")).unwrap().trim().to_owned();
    let stopped = serving.post("/api/stop", &token, "");
    assert!(stopped.starts_with("HTTP/1.1 204"), "{stopped}");
    let asked = serving.post("/api/queue", &token, "{\"bench\": \"one\", \"plan\": \"plan\"}");
    assert!(asked.starts_with("HTTP/1.1 201"), "{asked}");
    serving.child.kill().unwrap();
    serving.child.wait().unwrap();
    let serving = Serving::begin(&workshop, &[]);
    std::thread::sleep(Duration::from_millis(500));
    let queue = serving.get("/api/queue", &token);
    assert!(queue.contains("\"standing\":\"waiting\""), "{queue}");
    let benches = serving.get("/api/benches", &token);
    assert!(benches.contains("\"paused\":true,\"paused_because\":\"stopped by hand: "), "{benches}");
    let lifted = serving.post("/api/benches/one/pause", &token, "{\"paused\": false}");
    assert!(lifted.starts_with("HTTP/1.1 204"), "{lifted}");
    measured(&serving, &token);
    let (exit, log) = serving.end();
    let told = |line: &str| line.contains("is paused, and takes no work") && line.contains("bench=\"one\"");
    assert!(exit == 0 && log.lines().any(told), "{log}");
}

#[test]
fn the_sweep_of_before_a_restart_is_seen_after_it() {
    let workshop = workshop(&simulated_bench(2, ""));
    let serving = Serving::begin(&workshop, &[]);
    let token = std::fs::read_to_string(workshop.path("data/token")).unwrap().trim().to_owned();
    measured(&serving, &token);
    serving.end();
    let serving = Serving::begin(&workshop, &[]);
    let trace = serving.get("/fragments/benches/one/trace", &token);
    assert!(trace.contains("\"levels_dbm\":["), "{trace}");
    serving.end();
}

/// A line without a time and a level belongs to nothing.
/// The queue, once something in it has failed.
fn once_failed(serving: &Serving, token: &str) -> String {
    let mut queue = String::new();
    for _ in 0..600 {
        queue = serving.get("/api/queue", token);
        if queue.contains("\"standing\":\"failed\"") {
            break;
        }
        std::thread::sleep(Duration::from_millis(50));
    }
    queue
}

#[test]
fn every_line_of_the_log_is_whole() {
    let workshop = workshop(&simulated_bench(2, ""));
    workshop.write("plans/wrong.yaml", "plan: wrong\nchannels: 3\nrule: 4\n");
    let serving = Serving::begin(&workshop, &[]);
    let token = std::fs::read_to_string(workshop.path("data/token")).unwrap().trim().to_owned();
    let asked = serving.post("/api/queue", &token, "{\"bench\": \"one\", \"plan\": \"wrong\"}");
    assert!(asked.starts_with("HTTP/1.1 201"), "{asked}");
    let queue = once_failed(&serving, &token);
    assert!(queue.contains("wrong.yaml") && queue.contains(" ; ") && !queue.contains("\\n"), "{queue}");
    let (_, log) = serving.end();
    let refused = log.lines().find(|line| line.contains("not done: ")).unwrap();
    assert!(refused.contains(" ; "), "{refused}");
    for line in log.lines() {
        let leveled = ["ERROR", "WARN", "INFO", "DEBUG", "TRACE"].iter().any(|level| line.contains(level));
        assert!(leveled, "{line:?} in {log}");
    }
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
