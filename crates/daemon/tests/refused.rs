//! Services that do not begin, and files of services with mistakes.

use spurline_daemon::configuration::{Configuration, read};
use spurline_document::Document;

const SERVICE: &str = "service: test
plans: plans
benches: [ { name: one, file: one.yaml } ]
";

fn service(text: &str) -> Result<Configuration, String> {
    let document = Document::parse("folder/service.yaml", text).map_err(|mistakes| mistakes.to_string())?;
    read(&document).map_err(|mistakes| mistakes.to_string())
}

#[test]
fn paths_are_taken_from_beside_the_file() {
    let service = service(SERVICE).unwrap();
    assert_eq!(service.plans, std::path::Path::new("folder/plans"));
    assert_eq!(service.benches[0].file, std::path::Path::new("folder/one.yaml"));
    assert!(service.listen.ip().is_loopback());
}

#[test]
fn mistakes_are_told_with_their_place_and_what_is_expected() {
    let more = |text: &str| format!("{SERVICE}{text}\n");
    for (text, words) in [
        (more("listen: lab:80"), "expected an address with its port, found `lab:80`"),
        (more("names: [ \"https://lab\" ]"), "expected the name of a host"),
        (more("colour: red"), "colour"),
        (more("schedules: [ { name: n, bench: two, plan: p, at: 0 2 * * * } ]"), "two"),
        (
            more("schedules: [ { name: n, bench: one, plan: p, at: 0 25 * * * } ]"),
            "expected minute, hour, day",
        ),
        (
            more("schedules: [ { name: n, bench: one, plan: ../p, at: 0 2 * * * } ]"),
            "expected the name of a plan",
        ),
        (
            more("schedules: [ { name: n, bench: one, plan: p, at: 0 2 * * *, time_zone: Mars/Base } ]"),
            "expected a time zone",
        ),
        (more("announced: [ { of: rain, bench: one, plan: p } ]"), "rain"),
        (more("tls: { certificate: c.pem }"), "key"),
        (SERVICE.replace("name: one", "name: a/b"), "expected a name of letters, digits"),
        (SERVICE.replace("[ {", "[ { name: one, file: a.yaml }, {"), "a second bench `one`"),
        (
            SERVICE.replace("benches: [ { name: one, file: one.yaml } ]", "benches: []"),
            "expected at least one bench",
        ),
    ] {
        let told = service(&text).unwrap_err();
        assert!(told.contains(words), "{words}: {told}");
        assert!(told.contains("folder/service.yaml"), "{told}");
    }
}
