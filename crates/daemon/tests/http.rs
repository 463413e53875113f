//! The service on the network: who is let in and who is not, and that nothing of what anybody says does any harm.

#![expect(clippy::unwrap_used, reason = "a test that cannot go on")]

mod workshop;

use std::io::{Read, Write};
use std::net::{SocketAddr, TcpStream};
use std::sync::Arc;
use std::sync::mpsc::channel;
use std::thread::JoinHandle;
use std::time::Duration;

use spurline_clock::{Pace, run};
use spurline_daemon::Service;
use spurline_daemon::configuration::Configuration;
use spurline_daemon::http::{Listening, Place, Secret};

use workshop::Workshop;

/// What no page may have made an element of, and no terminal may obey.
const SCRIPT: &str = "<img src=x onerror=alert(1)>";

/// A service that answers until it is dropped.
struct Served {
    workshop: Workshop,
    at: SocketAddr,
    token: String,
    stop: Option<tokio::sync::oneshot::Sender<()>>,
    thread: Option<JoinHandle<()>>,
}

impl Served {
    /// One bench, whose analyser says that it was made by `maker`.
    fn with_maker(maker: &str) -> Self {
        let workshop = Workshop::new();
        workshop.bench("one", ("maker: Example Instruments", &format!("maker: {maker:?}")));
        Self::of(workshop, &["one"])
    }

    fn of(workshop: Workshop, benches: &[&str]) -> Self {
        let configuration = Configuration {
            title: "A <b>service</b>".to_owned(),
            listen: "127.0.0.1:0".parse().unwrap(),
            names: vec!["lab.example".to_owned()],
            ..workshop.configuration(benches)
        };
        let record = workshop.record();
        let (began, told) = channel();
        let token_file = workshop.path("token");
        let thread = std::thread::spawn(move || {
            run(Pace::Real, |clock| async move {
                let secret = Secret::in_file(&token_file).unwrap();
                let token = secret.reveal().to_owned();
                let place = Place::take(&configuration).await.unwrap();
                let service = Arc::new(Service::begin(configuration, record, clock).unwrap());
                let listening = Listening::begin(place, service.clone(), secret, clock).unwrap();
                let (stop, stopped) = tokio::sync::oneshot::channel();
                began.send((listening.address().unwrap(), token, stop)).unwrap();
                let handle = listening.handle();
                let answered = listening.answer();
                let ended = async {
                    drop(stopped.await);
                    assert!(service.end(Duration::from_secs(10)).await.is_empty());
                    handle.graceful_shutdown(Some(Duration::from_millis(100)));
                };
                let (answered, ()) = tokio::join!(answered, ended);
                answered.unwrap();
            })
            .unwrap();
        });
        let (at, token, stop) = told.recv().unwrap();
        Self { workshop, at, token, stop: Some(stop), thread: Some(thread) }
    }

    fn begin() -> Self {
        Self::with_maker("Example Instruments")
    }

    /// Status and whole text of the answer to a request as it is written here.
    fn raw(&self, request: &str) -> (u16, String) {
        let mut stream = TcpStream::connect(self.at).unwrap();
        stream.set_read_timeout(Some(Duration::from_secs(30))).unwrap();
        stream.write_all(request.as_bytes()).unwrap();
        let mut answer = Vec::new();
        // One that is refused early may close before all was written.
        drop(stream.read_to_end(&mut answer));
        let text = String::from_utf8_lossy(&answer).into_owned();
        let status = text.split(' ').nth(1).and_then(|status| status.parse().ok()).unwrap_or(0);
        (status, text)
    }

    fn with(&self, method: &str, path: &str, headers: &str, body: &str) -> (u16, String) {
        let length = body.len();
        let at = self.at;
        self.raw(&format!(
            "{method} {path} HTTP/1.1\r\nHost: {at}\r\nConnection: close\r\nContent-Length: {length}\r\n{headers}\r\n{body}"
        ))
    }

    fn bearer(&self) -> String {
        format!("Authorization: Bearer {}\r\n", self.token)
    }

    fn get(&self, path: &str) -> (u16, String) {
        self.with("GET", path, &self.bearer(), "")
    }

    fn post(&self, path: &str, body: &str) -> (u16, String) {
        self.with("POST", path, &format!("{}Content-Type: application/json\r\n", self.bearer()), body)
    }

    /// Has the plan measured, and says the name of the run.
    fn measured(&self) -> String {
        let (status, text) = self.post("/api/queue", r#"{"bench":"one","plan":"short"}"#);
        assert_eq!(status, 201, "{text}");
        for _ in 0..3000 {
            let (_, text) = self.get("/api/queue");
            assert!(!text.contains("\"failed\""), "{text}");
            if text.contains("\"done\"") {
                let (_, rest) = text.split_once("\"run\":\"").unwrap();
                return rest.split('"').next().unwrap().to_owned();
            }
            std::thread::sleep(Duration::from_millis(10));
        }
        panic!("it was not measured within 30 s");
    }
}

impl Served {
    /// Waits for a text in the answer at an address, and gives the answer.
    fn until(&self, path: &str, text: &str) -> String {
        let mut answer = String::new();
        for _ in 0..3000 {
            answer = self.get(path).1;
            if answer.contains(text) {
                return answer;
            }
            std::thread::sleep(Duration::from_millis(10));
        }
        panic!("`{text}` is not there within 30 s: {answer}");
    }
}

impl Drop for Served {
    fn drop(&mut self) {
        if let Some(stop) = self.stop.take() {
            // It may have ended already.
            let _ended = stop.send(());
        }
        if let Some(thread) = self.thread.take()
            && thread.join().is_err()
            && !std::thread::panicking()
        {
            panic!("the service broke off");
        }
    }
}

/// Every address that is answered, for those tests that must hold for all of them.
const ADDRESSES: [&str; 22] = [
    "/",
    "/runs",
    "/runs/last",
    "/benches/one",
    "/several",
    "/walk-in",
    "/fragments/walk-in/one",
    "/enter",
    "/healthz",
    "/metrics",
    "/fragments/queue",
    "/fragments/benches/one",
    "/assets/page.js",
    "/api/openapi.json",
    "/api/benches",
    "/api/plans",
    "/api/queue",
    "/api/runs",
    "/api/runs/last/report",
    "/api/compare",
    "/api/events",
    "/no/such/thing",
];

#[test]
fn another_name_of_this_machine_is_answered_nowhere() {
    let served = Served::begin();
    for path in ADDRESSES {
        for host in ["evil.example", "evil.example:80", "127.0.0.1.evil.example", "localhost:1", ""] {
            let token = served.bearer();
            let request = format!("GET {path} HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n{token}\r\n");
            let (status, text) = served.raw(&request);
            assert!(status == 421 || status == 400, "{path} as {host}: {text}");
        }
    }
    let port = served.at.port();
    for host in [
        format!("127.0.0.1:{port}"),
        format!("localhost:{port}"),
        format!("LAB.example:{port}"),
        "lab.example".to_owned(),
    ] {
        let (status, _) =
            served.raw(&format!("GET /healthz HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n\r\n"));
        assert_eq!(status, 200, "{host}");
    }
}

#[test]
fn nobody_is_let_in_without_the_token() {
    let served = Served::begin();
    for path in ADDRESSES.into_iter().filter(|path| !["/enter", "/healthz", "/assets/page.js"].contains(path))
    {
        let (status, text) = served.with("GET", path, "", "");
        assert!(status == 401 || (status == 303 && text.contains("location: /enter")), "{path}: {text}");
        let (status, _) = served.with("GET", path, "Cookie: spurline_session=AAAAAAAAAAAAAAAAAAAA\r\n", "");
        assert!(status == 401 || status == 303, "{path}");
    }
    let mut statuses = Vec::new();
    for guess in 0..30 {
        let header = format!("Authorization: Bearer guess-number-{guess}\r\n");
        statuses.push(served.with("GET", "/api/benches", &header, "").0);
    }
    assert_eq!(statuses[0], 401);
    assert_eq!(statuses[29], 429, "guessing is slow: {statuses:?}");
    // As the book has it: then one in 5 s.
    let (_, text) = served.with("GET", "/api/benches", "Authorization: Bearer wrong\r\n", "");
    assert!(text.contains("one more can be tried every 5 s"), "{text}");
    let form = format!("Origin: http://{}\r\nContent-Type: application/x-www-form-urlencoded\r\n", served.at);
    let (status, text) = served.with("POST", "/enter", &form, "token=wrong");
    assert!(status == 429 && text.contains("one more can be tried every 5 s"), "{text}");
    assert_eq!(served.get("/api/benches").0, 200, "whoever has the token is let in all the same");
}

#[test]
fn a_browser_that_has_shown_the_token_is_let_in_and_another_site_is_not() {
    let served = Served::begin();
    let form = "Content-Type: application/x-www-form-urlencoded\r\n";
    let (status, text) = served.with("POST", "/enter", form, &format!("token={}", served.token));
    assert_eq!(status, 303, "{text}");
    let cookie = text.split("set-cookie: ").nth(1).unwrap().split(';').next().unwrap();
    assert!(text.contains("HttpOnly; SameSite=Strict"), "{text}");
    let carried = format!("Cookie: other=1; {cookie}\r\n");
    assert_eq!(served.with("GET", "/", &carried, "").0, 200);
    for foreign in ["Origin: http://evil.example\r\n", "Sec-Fetch-Site: cross-site\r\n", "Origin: null\r\n"] {
        for path in ["/act/stop-all", "/act/ask", "/api/stop", "/api/queue", "/enter", "/leave"] {
            let headers = format!("{carried}{form}{foreign}");
            let (status, text) = served.with("POST", path, &headers, "bench=one&plan=short");
            assert_eq!(status, 403, "{path} with {foreign}: {text}");
            assert!(!text.to_lowercase().contains("access-control-allow"), "{text}");
        }
    }
    let own = format!("{carried}{form}Origin: http://{}\r\nSec-Fetch-Site: same-origin\r\n", served.at);
    assert_eq!(served.with("POST", "/act/ask", &own, "bench=one&plan=short").0, 303);
    assert_eq!(served.with("POST", "/enter", form, "token=not-the-token-at-all").0, 401);
}

/// Whatever is refused, and by whom: a program reads why and what to do about it, a person a page.
#[test]
fn every_refusal_says_why_and_what_to_do() {
    let served = Served::begin();
    let token = served.bearer();
    let json = format!("{token}Content-Type: application/json\r\n");
    let foreign = format!("{json}Origin: http://evil.example\r\n");
    let plain = format!("{token}Content-Type: text/plain\r\n");
    let other = format!("POST /api/queue HTTP/1.1\r\nHost: evil.example\r\nConnection: close\r\n{token}\r\n");
    let large = "x".repeat((1 << 20) + 1);
    for (wanted, words, (status, text)) in [
        (401, "expected a token, found none", served.with("GET", "/api/benches", "", "")),
        (401, "expected a token, found none", served.with("GET", "/metrics", "", "")),
        (403, "a page of another site", served.with("POST", "/api/stop", &foreign, "")),
        (403, "a page of another site", served.with("POST", "/metrics", &foreign, "")),
        (404, "nothing at this address", served.get("/api/nothing")),
        (404, "there is no bench `two`", served.post("/api/benches/two/stop", "")),
        (405, "does not take that method", served.with("PUT", "/api/queue", &json, "{}")),
        (405, "does not take that method", served.with("POST", "/metrics", &json, "")),
        (405, "does not take that method", served.with("DELETE", "/healthz", &json, "")),
        (400, "in the address: expected a whole number", served.with("DELETE", "/api/queue/x", &json, "")),
        (400, "`format`: expected one of `html`", served.get("/api/runs/last/report?format=docx")),
        (400, "expected JSON, found what is none at line 1", served.post("/api/queue", "{bench")),
        (413, "larger than 1 MB", served.with("POST", "/api/queue", &json, &large)),
        (415, "found `text/plain`", served.with("POST", "/api/queue", &plain, "{}")),
        (415, "found none", served.with("POST", "/api/queue", &token, "{}")),
        (421, "does not answer under that name", served.raw(&other)),
        (422, "expected a field `plan`, found none", served.post("/api/queue", r#"{"bench": "one"}"#)),
        (422, "`bench`: expected a text, found the number `5`", served.post("/api/queue", r#"{"bench": 5}"#)),
    ] {
        assert_eq!(status, wanted, "{text}");
        let (head, body) = text.split_once("\r\n\r\n").unwrap();
        assert!(head.to_lowercase().contains("content-type: application/json"), "{text}");
        let body: serde_json::Value = serde_json::from_str(body).unwrap();
        let message = body["error"]["message"].as_str().unwrap();
        assert!(message.contains(words), "{words}: {message}");
        assert!(body["error"]["advice"].as_str().is_some_and(|advice| advice.len() > 8), "{text}");
        assert!(status != 405 || head.to_lowercase().contains("\r\nallow: "), "{text}");
    }
    let form = format!("{token}Content-Type: application/x-www-form-urlencoded\r\n");
    for (wanted, (status, text)) in [
        (404, served.get("/no/such/thing")),
        (405, served.with("PUT", "/runs", &token, "")),
        (403, served.with("POST", "/act/stop-all", &format!("{form}Origin: http://evil.example\r\n"), "")),
        (422, served.with("POST", "/act/stop", &form, "")),
    ] {
        assert_eq!(status, wanted, "{text}");
        assert!(text.contains("<h1>That was not done</h1>"), "{text}");
    }
}

#[test]
fn names_lead_nowhere_else() {
    let served = Served::begin();
    served.workshop.write("secret.yaml", "plan: secret\n");
    served.measured();
    let long = "x".repeat(300);
    for name in [
        "..%2fsecret",
        "%2e%2e%2fsecret",
        "..%5csecret",
        "short%00",
        "%2fetc%2fpasswd",
        "short.yaml",
        long.as_str(),
    ] {
        for path in [
            format!("/api/plans/{name}"),
            format!("/api/runs/{name}"),
            format!("/api/runs/{name}/report"),
            format!("/assets/{name}"),
            format!("/benches/{name}"),
        ] {
            let (status, text) = served.get(&path);
            assert!(matches!(status, 400 | 404), "{path}: {text}");
            assert!(!text.contains("secret\n") && !text.contains("root:"), "{path}: {text}");
        }
        let body = format!(r#"{{"bench":"one","plan":"{}"}}"#, name.replace('%', "\\u0025"));
        let (status, text) = served.post("/api/queue", &body);
        assert_eq!(status, 404, "{text}");
    }
}

#[test]
fn requests_that_are_too_large_are_refused_before_they_are_read() {
    let served = Served::begin();
    let at = served.at;
    let token = served.bearer();
    let (status, _) = served.raw(&format!(
        "POST /api/queue HTTP/1.1\r\nHost: {at}\r\nConnection: close\r\nContent-Type: application/json\r\nContent-Length: 2147483648\r\n{token}\r\n"
    ));
    assert_eq!(status, 413);
    let (status, _) = served.post("/api/queue", &format!(r#"{{"bench":"{}"}}"#, "x".repeat(2 << 20)));
    assert!(matches!(status, 413 | 0), "{status}");
    let (status, _) = served.raw(&format!("GET /{} HTTP/1.1\r\nHost: {at}\r\n\r\n", "x".repeat(1 << 20)));
    assert!(matches!(status, 400 | 414 | 431 | 0), "{status}");
    assert_eq!(served.get("/healthz").0, 200);
}

/// A head and a body that never end are given up after 10 s; others are answered meanwhile.
#[test]
fn requests_that_are_too_slow_are_given_up() {
    let served = Served::begin();
    let at = served.at;
    let token = served.bearer();
    let begin = |text: String| {
        let mut stream = TcpStream::connect(at).unwrap();
        stream.set_read_timeout(Some(Duration::from_secs(20))).unwrap();
        stream.write_all(text.as_bytes()).unwrap();
        stream
    };
    let head = begin(format!("GET / HTTP/1.1\r\nHost: {at}\r\nX-Slow: "));
    let body = begin(format!(
        "POST /api/queue HTTP/1.1\r\nHost: {at}\r\nContent-Type: application/json\r\nContent-Length: 100\r\n{token}\r\n{{"
    ));
    assert_eq!(served.get("/healthz").0, 200);
    for mut stream in [head, body] {
        let mut answer = Vec::new();
        let ended = stream.read_to_end(&mut answer);
        assert!(ended.is_ok(), "it is closed within 20 s: {ended:?}");
        assert!(!answer.starts_with(b"HTTP/1.1 2"), "{}", String::from_utf8_lossy(&answer));
    }
}

#[test]
fn what_an_instrument_says_makes_no_element_of_a_page() {
    let served = Served::with_maker(&format!("{SCRIPT}</script>]]>"));
    let run = served.measured();
    for path in [
        "/",
        "/runs",
        "/benches/one",
        "/fragments/queue",
        &format!("/runs/{run}"),
        &format!("/api/runs/{run}/report"),
        &format!("/several?as=batch&run={run}"),
    ] {
        let (status, text) = served.get(path);
        assert_eq!(status, 200, "{path}: {text}");
        assert!(!text.contains("<img") && !text.contains("<b>service"), "{path}: {text}");
    }
    let (_, report) = served.get(&format!("/api/runs/{run}/report"));
    assert!(report.contains("onerror=alert(1)"), "it is shown as what it is");
    assert!(report.contains("sandbox"), "{}", &report[..600]);
}

#[test]
fn a_report_comes_in_every_form() {
    let served = Served::begin();
    let run = served.measured();
    for (format, kind, begins) in [
        ("html", "text/html", "<!doctype html>"),
        ("csv", "text/csv", "number,quantity"),
        ("json", "application/json", "{"),
        ("junit", "application/xml", "<?xml"),
        ("pdf", "application/pdf", "%PDF-1."),
        ("pdf&paper=letter", "application/pdf", "%PDF-1."),
        ("markdown", "text/markdown", "## "),
    ] {
        let (status, text) = served.get(&format!("/api/runs/{run}/report?format={format}"));
        assert_eq!(status, 200, "{format}: {text}");
        let (head, body) = text.split_once("\r\n\r\n").unwrap();
        assert!(head.to_lowercase().contains(&format!("content-type: {kind}")), "{format}: {head}");
        assert!(body.starts_with(begins), "{format}: {}", body.chars().take(80).collect::<String>());
        let is_file = head.to_lowercase().contains(&format!("filename=\"{run}."));
        assert_eq!(is_file, format != "html", "{format}: {head}");
    }
    for wrong in ["format=docx", "format=pdf&paper=a3"] {
        assert_eq!(served.get(&format!("/api/runs/{run}/report?{wrong}")).0, 400);
    }
}

#[test]
fn every_answer_says_what_a_browser_may_do_with_it() {
    let served = Served::begin();
    for path in ADDRESSES.into_iter().filter(|path| *path != "/api/events") {
        let (_, text) = served.get(path);
        let text = text.to_lowercase();
        for header in [
            "content-security-policy: default-src 'none'",
            "x-content-type-options: nosniff",
            "x-frame-options: deny",
            "referrer-policy: no-referrer",
        ] {
            assert!(text.contains(header), "{path} has no `{header}`: {text}");
        }
    }
}

#[test]
fn who_listens_hears_a_run_and_who_comes_back_what_was_missed() {
    let served = Served::begin();
    let (at, token) = (served.at, served.bearer());
    let listen = |last: &str| {
        let mut stream = TcpStream::connect(at).unwrap();
        stream.set_read_timeout(Some(Duration::from_millis(300))).unwrap();
        let request = format!("GET /api/events HTTP/1.1\r\nHost: {at}\r\n{token}{last}\r\n");
        stream.write_all(request.as_bytes()).unwrap();
        stream
    };
    let heard = |mut stream: TcpStream| {
        let mut text = Vec::new();
        let mut part = [0; 4096];
        while let Ok(read @ 1..) = stream.read(&mut part) {
            text.extend_from_slice(&part[..read]);
        }
        String::from_utf8(text).unwrap()
    };
    let stream = listen("");
    served.measured();
    let text = heard(stream);
    for what in ["event: bench", "event: queue", "event: trace", "\"key_down\":{", "\"readings\":3"] {
        assert!(text.contains(what), "{what}: {text}");
    }
    let first = text.split("id: ").nth(1).unwrap().lines().next().unwrap().to_owned();
    let again = heard(listen(&format!("Last-Event-ID: {first}\r\n")));
    let ids = |text: &str| {
        text.lines().filter_map(|line| line.strip_prefix("id: ")).map(str::to_owned).collect::<Vec<_>>()
    };
    let (all, rest) = (ids(&text), ids(&again));
    assert!(
        all[1..].iter().zip(&rest).all(|(one, other)| one == other) && rest.len() >= all.len() - 1,
        "{all:?} {rest:?}"
    );
    assert!(heard(listen("Last-Event-ID: another:5\r\n")).contains("event: anew"));
}

/// What is keyed stands in the run's own files: under another bench's name nobody would see which.
#[test]
fn a_stopped_run_goes_on_on_its_own_bench_alone_and_once() {
    let workshop = Workshop::new();
    workshop.bench("alpha", ("clock: fast", "clock: fast"));
    workshop.bench("delta", ("clock: fast", "clock: real"));
    let served = Served::of(workshop, &["alpha", "delta"]);
    assert_eq!(served.post("/api/queue", r#"{"bench":"delta","plan":"short"}"#).0, 201);
    served.until("/api/benches", "\"key_down\":{");
    assert_eq!(served.post("/api/benches/delta/stop", "").0, 204);
    let queue = served.until("/api/queue", "\"standing\":\"stopped\"");
    let (_, rest) = queue.split_once("\"run\":\"").unwrap();
    let run = rest.split('"').next().unwrap();

    let page = served.get(&format!("/runs/{run}")).1;
    assert!(page.contains("<option>delta</option>") && !page.contains("<option>alpha"), "{page}");
    let on =
        |bench: &str| served.post(&format!("/api/runs/{run}/go-on"), &format!("{{\"bench\":\"{bench}\"}}"));
    let (status, text) = on("alpha");
    assert_eq!(status, 409, "{text}");
    assert!(text.contains("delta.yaml") && text.contains("alpha.yaml"), "{text}");
    assert!(text.contains("go on with it on `delta`"), "{text}");
    let form = format!("{}Content-Type: application/x-www-form-urlencoded\r\n", served.bearer());
    let (status, text) = served.with("POST", "/act/go-on", &form, &format!("run={run}&bench=alpha"));
    assert_eq!(status, 409, "{text}");
    assert!(text.contains("<code>delta</code>") && !text.contains("`delta`"), "{text}");
    // A file that was changed since is not the one that the run has.
    let file = served.workshop.path("delta.yaml");
    let before = std::fs::read_to_string(&file).unwrap();
    std::fs::write(&file, format!("{before}# another analyser\n")).unwrap();
    let (status, text) = on("delta");
    assert!(status == 409 && text.contains("put it back as it was"), "{text}");
    assert!(served.get(&format!("/runs/{run}")).1.contains("put it back"));
    std::fs::write(&file, before).unwrap();

    let (status, text) = on("delta");
    assert_eq!(status, 201, "{text}");
    let (status, text) = on("delta");
    assert!(status == 409 && text.contains("as number 2 of the queue"), "{text}");
    assert!(served.get(&format!("/runs/{run}")).1.contains("as number 2 of"));
    let waits = served.get("/fragments/queue").1;
    assert!(
        waits.contains("waits: its bench is paused") && waits.contains("went on as no. 2: waits"),
        "{waits}"
    );
    assert_eq!(served.with("DELETE", "/api/queue/2", &served.bearer(), "").0, 204);
    assert!(served.get("/fragments/queue").1.contains("it was stopped, and can go on"));
    assert_eq!(on("delta").0, 201);
    assert_eq!(served.post("/api/benches/delta/pause", "{\"paused\":false}").0, 204);
    served.until("/api/queue", "\"went_on\":{\"entry\":3,\"standing\":\"running\"");
    let (status, text) = on("delta");
    assert!(status == 409 && text.contains("as number 3 of the queue"), "{text}");
    let came_to = "\"went_on\":{\"entry\":3,\"standing\":\"done\",\"outcome\":\"complies\"}";
    let queue = served.until("/api/queue", came_to);
    let of_stopped = "\"standing\":\"stopped\",\"run\":\"";
    assert!(queue.split_once(of_stopped).unwrap().1.contains("\"outcome\":null"), "{queue}");
    assert!(served.get("/fragments/queue").1.contains("went on as no. 3: complies"));
    let (status, text) = on("delta");
    assert!(status == 409 && text.contains("went to its end"), "{text}");
}

#[test]
fn whoever_compares_comes_back_to_the_runs() {
    let served = Served::begin();
    for path in ["/several?as=compare", "/several?as=batch", "/runs/none"] {
        let (status, text) = served.get(path);
        assert!(status >= 400 && text.contains("href=\"/runs\">Back to the runs</a>"), "{text}");
    }
    assert!(served.get("/benches/none").1.contains("href=\"/\">Back to the benches</a>"));
    served.measured();
    assert_eq!(served.post("/api/queue", r#"{"bench":"one","plan":"short"}"#).0, 201);
    served.until("/metrics", "outcome=\"complies\"} 2");
    let runs = served.get("/api/runs").1;
    let names: Vec<&str> =
        runs.split("\"run\":\"").skip(1).map(|rest| rest.split('"').next().unwrap()).collect();
    let marked = format!("run={}&run={}", names[0], names[1]);
    for path in [format!("/several?as=compare&{marked}"), format!("/several?as=batch&{marked}")] {
        let (status, text) = served.get(&path);
        assert_eq!(status, 200, "{text}");
        assert!(text.contains("<a href=\"/runs\">Back to the runs</a></p>\n<header>"), "{text}");
        assert!(text.contains("sandbox allow-popups allow-same-origin") && !text.contains("allow-scripts"));
    }
}

#[test]
fn whoever_comes_after_a_reading_sees_its_sweep() {
    let served = Served::begin();
    let path = "/fragments/benches/one/trace";
    assert_eq!(served.get(path).0, 204);
    served.measured();
    let (status, text) = served.get(path);
    assert!(status == 200 && text.contains("\"levels_dbm\":[") && text.contains("\"ordinal\":3"), "{text}");
}

/// What a card on a narrow screen calls it.
#[test]
fn a_firmware_is_not_called_a_unit() {
    let served = Served::begin();
    assert_eq!(served.post("/api/stop", "").0, 204);
    for (more, label) in [
        (r#","firmware":"2.1""#, "<td data-of=\"firmware\">2.1</td>"),
        (r#","unit":"A1""#, "<td data-of=\"unit\">A1</td>"),
        (r#","unit":"A2","firmware":"2.2""#, "<td data-of=\"unit, firmware\">A2, 2.2</td>"),
    ] {
        let body = format!(r#"{{"bench":"one","plan":"short"{more}}}"#);
        assert_eq!(served.post("/api/queue", &body).0, 201);
        let queue = served.get("/fragments/queue").1;
        assert!(queue.contains(label), "{queue}");
    }
}

#[test]
fn what_stands_in_backticks_is_code_on_the_page() {
    let served = Served::begin();
    served.workshop.write("plans/wrong.yaml", "plan: `wrong`\n");
    let form = format!("{}Content-Type: application/x-www-form-urlencoded\r\n", served.bearer());
    let (_, text) = served.with("POST", "/act/ask", &form, "bench=none%3Cb%3E&plan=short");
    assert!(text.contains("there is no bench <code>none&lt;b&gt;</code>"), "{text}");
    assert_eq!(served.post("/api/queue", r#"{"bench":"one","plan":"wrong"}"#).0, 201);
    let queue = served.until("/fragments/queue", "not done");
    assert!(queue.contains("<code>") && !queue.contains('`'), "{queue}");
}

/// It was stopped after the first of its two channels, of which every reading complies.
#[test]
fn a_run_that_was_stopped_complies_with_nothing() {
    let workshop = Workshop::new();
    workshop.bench("one", ("clock: fast", "clock: real"));
    let short = std::fs::read_to_string(workshop.path("plans/short.yaml")).unwrap();
    let channels =
        "power: { high: 4..5.5 W } }, { name: V2, carrier: 145.2 MHz, power: { high: 4..5.5 W } } ]";
    workshop.write("plans/two.yaml", &short.replace("power: { high: 4..5.5 W } } ]", channels));
    let served = Served::of(workshop, &["one"]);
    assert_eq!(served.post("/api/queue", r#"{"bench":"one","plan":"two"}"#).0, 201);
    served.until("/api/benches", "\"readings\":3");
    assert_eq!(served.post("/api/stop", "").0, 204);
    let queue = served.until("/api/queue", "\"standing\":\"stopped\"");
    assert!(queue.contains("\"outcome\":null"), "{queue}");
    let runs = served.get("/api/runs").1;
    assert!(runs.contains("\"state\":\"interrupted\",\"outcome\":null,\"readings\":3"), "{runs}");
    let counts = served.get("/metrics").1;
    assert!(counts.contains("{bench=\"one\",ended=\"stopped\",outcome=\"none\"} 1"), "{counts}");
}
