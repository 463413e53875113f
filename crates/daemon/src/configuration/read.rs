//! A service's text to a service.

use std::collections::BTreeSet;
use std::net::SocketAddr;
use std::path::Path;

use jiff::tz::TimeZone;
use spurline_document::{Document, Mistakes, Node, Reader};

use super::{Announced, BenchAt, Configuration, LISTEN, OnAnnouncement, Tls};
use crate::schedule::{Schedule, parse};

/// Reads a service from a document; paths are taken from the folder of its file.
///
/// # Errors
///
/// Every mistake that could be found.
pub fn read(document: &Document) -> Result<Configuration, Mistakes> {
    let mut reader = Reader::new(document);
    let service = whole(&mut reader, document);
    reader.finish(service)
}

fn whole(reader: &mut Reader, document: &Document) -> Option<Configuration> {
    let folder = Path::new(document.source.name()).parent().unwrap_or(Path::new("")).to_owned();
    let path =
        |reader: &mut Reader, node: &Node, what: &str| reader.text(node, what).map(|text| folder.join(text));
    let mut fields = reader.fields(&document.root, "a service")?;
    let title = fields.required(reader, "service");
    let listen = fields.or(reader, "listen", read_address, LISTEN);
    let names = fields.or(reader, "names", read_names, Vec::new());
    let token_file = fields.maybe(reader, "token_file", |r, n| path(r, n, "the file of the token"));
    let tls = fields.maybe(reader, "tls", |reader, node| read_tls(reader, node, &folder));
    let data = fields.maybe(reader, "data", |r, n| path(r, n, "the folder of the record"));
    let plans = fields.required(reader, "plans");
    let benches = fields.required(reader, "benches");
    let schedules = fields.optional("schedules");
    let announced = fields.optional("announced");
    fields.close(reader);
    let title = title.and_then(|node| reader.text(node, "the service's title").map(str::to_owned));
    let plans = plans.and_then(|node| path(reader, node, "the folder of the plans"));
    let benches = benches.and_then(|node| read_benches(reader, node, &folder));
    let known: Vec<String> = benches.iter().flatten().map(|bench| bench.name.clone()).collect();
    let schedules = each(reader, schedules, "a list of schedules", |r, n| read_schedule(r, n, &known));
    let announced = each(reader, announced, "a list", |r, n| read_announced(r, n, &known));
    let schedules = schedules.and_then(|schedules| unlike(reader, schedules));
    Some(Configuration {
        title: title?,
        listen: listen?,
        names: names?,
        token_file: token_file?,
        tls: tls?,
        data: data?,
        plans: plans?,
        benches: benches?,
        schedules: schedules?,
        announced: announced?,
    })
}

/// Every item of a list that need not be there; `None` if one of them is wrong.
fn each<T>(
    reader: &mut Reader,
    list: Option<&Node>,
    what: &str,
    mut read: impl FnMut(&mut Reader, &Node) -> Option<T>,
) -> Option<Vec<T>> {
    let Some(node) = list else { return Some(Vec::new()) };
    let items: Vec<Option<T>> = reader.list(node, what)?.iter().map(|item| read(reader, item)).collect();
    items.into_iter().collect()
}

fn read_address(reader: &mut Reader, node: &Node) -> Option<SocketAddr> {
    let text = reader.text(node, "an address and a port")?;
    match text.parse() {
        Ok(address) => Some(address),
        Err(_) => {
            let message = format!("expected an address with its port, found `{text}`");
            reader.mistake(node.span, message).hint("write for example `127.0.0.1:8625` or `[::1]:8625`");
            None
        }
    }
}

fn read_names(reader: &mut Reader, node: &Node) -> Option<Vec<String>> {
    each(reader, Some(node), "a list of host names", |reader, node| {
        let text = reader.text(node, "the name of a host")?;
        let good = |byte: u8| byte.is_ascii_alphanumeric() || matches!(byte, b'.' | b'-');
        if text.is_empty() || text.len() > 253 || !text.bytes().all(good) {
            let message = format!("expected the name of a host, found `{text}`");
            reader.mistake(node.span, message).hint("a name alone, without port and `https://`");
            return None;
        }
        Some(text.to_ascii_lowercase())
    })
}

fn read_tls(reader: &mut Reader, node: &Node, folder: &Path) -> Option<Tls> {
    let mut fields = reader.fields(node, "certificate and key")?;
    let certificate = fields.required(reader, "certificate");
    let key = fields.required(reader, "key");
    fields.close(reader);
    let mut path = |node: Option<&Node>, what: &str| {
        node.and_then(|node| reader.text(node, what)).map(|text| folder.join(text))
    };
    let (certificate, key) =
        (path(certificate, "the file of the certificate"), path(key, "the file of the key"));
    Some(Tls { certificate: certificate?, key: key? })
}

fn read_benches(reader: &mut Reader, node: &Node, folder: &Path) -> Option<Vec<BenchAt>> {
    let benches = each(reader, Some(node), "a list of benches", |reader, node| {
        let mut fields = reader.fields(node, "a bench")?;
        let name = fields.required(reader, "name");
        let file = fields.required(reader, "file");
        let day = fields
            .maybe(reader, "day", |r, n| r.text(n, "the file of a test day").map(|text| folder.join(text)));
        fields.close(reader);
        let name = name.and_then(|node| read_name(reader, node));
        let file =
            file.and_then(|node| reader.text(node, "the file of a bench")).map(|text| folder.join(text));
        Some((BenchAt { name: name?, file: file?, day: day? }, node.span))
    })?;
    if benches.is_empty() {
        reader.mistake(node.span, "expected at least one bench, found none");
        return None;
    }
    let mut known = BTreeSet::new();
    for (bench, span) in &benches {
        if !known.insert(bench.name.clone()) {
            reader
                .mistake(*span, format!("expected a name of its own, found a second bench `{}`", bench.name));
            return None;
        }
    }
    Some(benches.into_iter().map(|(bench, _)| bench).collect())
}

/// A name that stands in addresses and file names.
fn read_name(reader: &mut Reader, node: &Node) -> Option<String> {
    let text = reader.text(node, "a name")?;
    let good = |byte: u8| byte.is_ascii_alphanumeric() || matches!(byte, b'-' | b'_');
    if text.len() > 64 || !text.bytes().all(good) {
        let message = format!("expected a name of letters, digits, `-` and `_`, found `{text}`");
        reader.mistake(node.span, message).hint("it stands in web addresses: `bench-1`");
        return None;
    }
    Some(text.to_owned())
}

/// The name of one of the service's benches.
fn read_bench(reader: &mut Reader, node: &Node, known: &[String]) -> Option<String> {
    let choices: Vec<(&str, usize)> =
        known.iter().enumerate().map(|(place, name)| (name.as_str(), place)).collect();
    let place = reader.choice(node, "a bench of this service", &choices)?;
    Some(known[place].clone())
}

fn read_plan(reader: &mut Reader, node: &Node) -> Option<String> {
    let text = reader.text(node, "the name of a plan")?;
    if text.contains(['/', '\\']) {
        let message = format!("expected the name of a plan in the folder of the plans, found `{text}`");
        reader.mistake(node.span, message).hint("its file name, with or without `.yaml`");
        return None;
    }
    Some(text.strip_suffix(".yaml").unwrap_or(text).to_owned())
}

fn read_schedule(reader: &mut Reader, node: &Node, known: &[String]) -> Option<Schedule> {
    let mut fields = reader.fields(node, "a schedule")?;
    let name = fields.required(reader, "name");
    let bench = fields.required(reader, "bench");
    let plan = fields.required(reader, "plan");
    let at = fields.required(reader, "at");
    let zone = fields.or(reader, "time_zone", read_zone, TimeZone::UTC);
    fields.close(reader);
    let name = name.and_then(|node| read_name(reader, node));
    let bench = bench.and_then(|node| read_bench(reader, node, known));
    let plan = plan.and_then(|node| read_plan(reader, node));
    let at = at.and_then(|node| {
        let text = reader.text(node, "minute, hour, day, month and day of the week")?;
        match parse(text) {
            Ok(times) => Some(times),
            Err(error) => {
                let message =
                    format!("expected minute, hour, day, month and day of the week, found `{text}`: {error}");
                reader
                    .mistake(node.span, message)
                    .hint("`0 2 * * MON-FRI` is two o'clock from Monday to Friday");
                None
            }
        }
    });
    Some(Schedule { name: name?, bench: bench?, plan: plan?, times: at?, zone: zone? })
}

fn read_zone(reader: &mut Reader, node: &Node) -> Option<TimeZone> {
    let text = reader.text(node, "a time zone")?;
    match TimeZone::get(text) {
        Ok(zone) => Some(zone),
        Err(_) => {
            let message = format!("expected a time zone that this machine knows, found `{text}`");
            reader.mistake(node.span, message).hint("write for example `Europe/Berlin` or `UTC`");
            None
        }
    }
}

fn unlike(reader: &mut Reader, schedules: Vec<Schedule>) -> Option<Vec<Schedule>> {
    let mut known = BTreeSet::new();
    match schedules.iter().find(|schedule| !known.insert(schedule.name.clone())) {
        None => Some(schedules),
        Some(twice) => {
            let span = spurline_document::Span { start: 0, end: 0 };
            reader.mistake(
                span,
                format!("expected a name of its own, found a second schedule `{}`", twice.name),
            );
            None
        }
    }
}

fn read_announced(reader: &mut Reader, node: &Node, known: &[String]) -> Option<OnAnnouncement> {
    let mut fields = reader.fields(node, "what follows an announcement")?;
    let of = fields.required(reader, "of");
    let bench = fields.required(reader, "bench");
    let plan = fields.required(reader, "plan");
    fields.close(reader);
    let of = of.and_then(|node| {
        let choices = [("firmware", Announced::Firmware), ("unit", Announced::Unit)];
        reader.choice(node, "what is announced", &choices)
    });
    let bench = bench.and_then(|node| read_bench(reader, node, known));
    let plan = plan.and_then(|node| read_plan(reader, node));
    Some(OnAnnouncement { of: of?, bench: bench?, plan: plan? })
}
