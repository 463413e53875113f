//! A day's text to a day; and a day for who has only a bench.

use spurline_document::{Document, Mistakes, Node, Reader, Value};
use spurline_plan::{Library, LoadError};
use spurline_record::{Decision, Label, alike, same_tag};
use spurline_runner::Failure;
use spurline_units::{Db, Dbm, Hertz, Power, Range, Seconds};

use crate::command::{Typed, typed};
use crate::day::{Day, ReferenceRadio, SlipWidth};

/// With few keystrokes and seconds: what a handheld's first filters leave is seen in these orders.
const ORDERS: u32 = 5;
const MOST_ORDERS: u32 = 10;
/// A stranger's thumb is asked for no more.
const LONGEST: Seconds = Seconds::new(10.0);
const WITHIN: Seconds = Seconds::new(30.0);
const EVERY: Seconds = Seconds::new(3600.0);
const TOLERANCE: Db = Db::new(0.5);

/// Where a day's bands stand in its file, for the message to one who has none.
pub const DAYS_BANDS: &str = "bands: [ 144 MHz..148 MHz ]";

/// Whether a file is a day's, by its text; else it is a bench's.
fn is_day(document: &Document) -> bool {
    document.root.get("day").is_some() || document.root.get("bands").is_some()
}

/// Reads the file of a day. A bench's file has one with what is asked for beside it: rule, bands and power.
///
/// # Errors
///
/// [`Failure`]: all mistakes of the file, or what is missing beside a bench.
pub fn load_day(
    path: &str,
    (rule, bands, power): (Option<&str>, &[Range<Hertz>], Option<Range<Power>>),
    library: &dyn Library,
) -> Result<Day, Failure> {
    let text = library.file("", path).map_err(|missing| Failure::Load(LoadError::NoPlan(missing)))?;
    let document = Document::parse(&text.name, &text.text)?;
    let mut day =
        if is_day(&document) { Day::read(&document)? } else { asked_for(path, &document, rule, bands)? };
    if let Some(rule) = rule {
        rule.clone_into(&mut day.rule);
    }
    if !bands.is_empty() {
        day.bands = bands.to_vec();
    }
    if let Some(power) = power {
        day.power = power;
    }
    Ok(day)
}

/// A day on a bench for which nobody has written a file.
///
/// # Errors
///
/// What must be said beside the bench.
pub fn asked_for(
    path: &str,
    document: &Document,
    rule: Option<&str>,
    bands: &[Range<Hertz>],
) -> Result<Day, Failure> {
    let missing = |what: &str, example: &str| Failure::Usage {
        message: format!("`{path}` is the file of a bench, and nobody has said {what}"),
        advice: format!("say {example}, or write the file of a day, such as `config/days/demo.yaml`"),
    };
    let rule = rule.ok_or_else(|| missing("by which rule radios are judged", "`--rule us-part-97`"))?;
    if bands.is_empty() {
        return Err(missing("in which bands radios may be keyed", "`--band \"144 MHz..148 MHz\"`"));
    }
    let title = document.root.get("bench").and_then(Node::scalar).unwrap_or("a bench");
    Ok(Day {
        title: format!("Test day on {title}"),
        place: String::new(),
        bench: path.to_owned(),
        rule: rule.to_owned(),
        facts: Vec::new(),
        decision: Decision::GuardBand,
        bands: bands.to_vec(),
        power: usual_power(),
        orders: ORDERS,
        longest: LONGEST,
        within: WITHIN,
        ways: [None, None],
        tags: Vec::new(),
        reference: None,
        slip: SlipWidth::default(),
        file: path.to_owned(),
    })
}

/// Of handhelds.
fn usual_power() -> Range<Power> {
    "0.2..8 W".parse().expect("a range of powers is one")
}

impl Day {
    /// Reads the file of a day.
    ///
    /// # Errors
    ///
    /// All mistakes of it.
    pub fn read(document: &Document) -> Result<Self, Mistakes> {
        let mut reader = Reader::new(document);
        let day = read_day(&mut reader, document);
        reader.finish(day)
    }
}

fn read_day(reader: &mut Reader, document: &Document) -> Option<Day> {
    let mut fields = reader.fields(&document.root, "a test day")?;
    let title = fields.required(reader, "day");
    let place = fields.or(
        reader,
        "place",
        |r, n| r.text(n, "where the day is held").map(str::to_owned),
        String::new(),
    );
    let bench = fields.required(reader, "bench");
    let rule = fields.required(reader, "rule");
    let facts = fields.or(reader, "facts", read_facts, Vec::new());
    let words = [("guard-band", Decision::GuardBand), ("simple", Decision::Simple)];
    let decision =
        fields.or(reader, "decision", |r, n| r.choice(n, "a decision rule", &words), Decision::GuardBand);
    let bands = fields.required(reader, "bands");
    let power = fields.or(reader, "power", |r, n| r.parse(n, "a window of power"), usual_power());
    let orders = fields.or(
        reader,
        "harmonics",
        |reader, node| {
            let mut fields = reader.fields(node, "the harmonics")?;
            let up_to = fields.required(reader, "up_to");
            fields.close(reader);
            up_to.and_then(|node| reader.whole(node, "the highest order", 2, MOST_ORDERS))
        },
        ORDERS,
    );
    let key = fields.or(reader, "key", read_key, (LONGEST, WITHIN));
    let ways = fields.or(reader, "use", read_ways, [None, None]);
    let tags = fields.or(reader, "tags", read_tags, Vec::new());
    let reference = fields.maybe(reader, "reference", read_reference);
    let widths = [("58 mm", SlipWidth::Narrow), ("80 mm", SlipWidth::Wide)];
    let slip =
        fields.or(reader, "slip", |r, n| r.choice(n, "the width of a slip", &widths), SlipWidth::default());
    fields.close(reader);
    let title = title.and_then(|node| reader.text(node, "the day's title"));
    let bench = bench.and_then(|node| reader.text(node, "a bench file"));
    let rule = rule.and_then(|node| reader.text(node, "the name of a rule"));
    let bands = bands.and_then(|node| read_bands(reader, node));
    let (longest, within) = key?;
    let file = document.source.name().to_owned();
    Some(Day {
        title: title?.to_owned(),
        place: place?,
        bench: beside(&file, bench?),
        rule: rule?.to_owned(),
        facts: facts?,
        decision: decision?,
        bands: bands?,
        power: power?,
        orders: orders?,
        longest,
        within,
        ways: ways?,
        tags: tags?,
        reference: reference?,
        slip: slip?,
        file,
    })
}

/// A file by its path from the folder of the one that names it.
fn beside(file: &str, path: &str) -> String {
    let folder = std::path::Path::new(file).parent().unwrap_or(std::path::Path::new(""));
    folder.join(path).display().to_string()
}

/// What shipped rules ask for.
const FACTS: [&str; 11] = [
    "installed",
    "built",
    "first_marketed",
    "type_accepted",
    "pep",
    "rated_power",
    "authorised_bandwidth",
    "emission_class",
    "station_class",
    "service",
    "state",
];

/// What each is worth says the rule, once there is a plan.
fn read_facts(reader: &mut Reader, node: &Node) -> Option<Vec<(String, String)>> {
    let mut fields = reader.fields(node, "the facts")?;
    let found: Vec<_> = FACTS.into_iter().filter_map(|name| Some((name, fields.optional(name)?))).collect();
    fields.close(reader);
    found
        .into_iter()
        .map(|(name, node)| Some((name.to_owned(), reader.text(node, "a fact")?.to_owned())))
        .collect()
}

fn read_bands(reader: &mut Reader, node: &Node) -> Option<Vec<Range<Hertz>>> {
    let items = reader.list(node, "the bands of the day")?;
    if items.is_empty() {
        reader.mistake(node.span, "expected at least one band, found an empty list").hint(format!(
            "write `{DAYS_BANDS}`: radios are keyed only there, and a licence for it is needed"
        ));
        return None;
    }
    items.iter().map(|item| reader.parse(item, "a band")).collect()
}

fn read_key(reader: &mut Reader, node: &Node) -> Option<(Seconds, Seconds)> {
    let mut fields = reader.fields(node, "the key")?;
    let time = |most: f64| {
        move |reader: &mut Reader, node: &Node| {
            let span: Seconds = reader.parse(node, "a time")?;
            if span.get() >= 3.0 && span.get() <= most {
                return Some(span);
            }
            let message = format!("expected a time from 3 s to {most} s, found {span}");
            reader.mistake(node.span, message);
            None
        }
    };
    let longest = fields.or(reader, "longest", time(LONGEST.get()), LONGEST);
    let within = fields.or(reader, "within", time(300.0), WITHIN);
    fields.close(reader);
    Some((longest?, within?))
}

fn read_ways(reader: &mut Reader, node: &Node) -> Option<[Option<String>; 2]> {
    let mut fields = reader.fields(node, "the paths that are used")?;
    let name = |r: &mut Reader, n: &Node| r.text(n, "the name of a path").map(str::to_owned);
    let carrier = fields.maybe(reader, "carrier", name);
    let harmonics = fields.maybe(reader, "harmonics", name);
    fields.close(reader);
    Some([carrier?, harmonics?])
}

/// A call sign must never be taken for a tag, which everybody may read: what a tag begins with ends with a sign.
fn read_tags(reader: &mut Reader, node: &Node) -> Option<Vec<String>> {
    let items = reader.list(node, "what the tags of the day begin with")?;
    let one = |item: &Node| {
        let text = reader.text(item, "what a tag begins with")?;
        let good = |c: char| c.is_ascii_alphanumeric() || "-._#".contains(c);
        if text.chars().all(good) && text.ends_with(['-', '_', '.', '#']) {
            return Some(text.to_owned());
        }
        reader
            .mistake(item.span, format!("expected letters and digits with one of `-_.#` behind them, found `{text}`"))
            .hint("tags are public, and no call sign may be taken for one: write for example `tags: [ T- ]` for T-1, T-2 and so on");
        None
    };
    items.iter().map(one).collect()
}

fn read_reference(reader: &mut Reader, node: &Node) -> Option<ReferenceRadio> {
    let mut fields = reader.fields(node, "the reference radio")?;
    let tag = fields.required(reader, "tag");
    let every = fields.or(reader, "every", |r, n| r.parse(n, "a time"), EVERY);
    let carrier = fields.maybe(reader, "carrier", |r, n| r.parse::<Dbm>(n, "a level"));
    let tolerance = fields.or(reader, "tolerance", |r, n| r.parse(n, "a ratio"), TOLERANCE);
    fields.close(reader);
    let tag_node = tag?;
    let tag = reader.text(tag_node, "the tag of the reference radio")?;
    let every: Seconds = every?;
    if every.get() < 60.0 {
        reader.mistake(
            node.span,
            format!("expected at least 60 s between two looks at the reference radio, found {every}"),
        );
        return None;
    }
    if !matches!(tag_node.value, Value::Scalar(_)) || !can_be_typed(tag) {
        reader
            .mistake(tag_node.span, format!("expected a tag that can be typed as one word, found `{tag}`"))
            .hint("letters, digits and `-./_#` make one; single letters and words such as `off` are commands. Write for example `tag: REF-1`, and put that on the radio");
        return None;
    }
    Some(ReferenceRadio { tag: tag.to_owned(), every, carrier: carrier?, tolerance: tolerance? })
}

/// Whether a line that is this tag is taken for it.
fn can_be_typed(tag: &str) -> bool {
    let label = match typed(tag, |word| alike(tag, word)) {
        Ok(Typed::Label(label)) => label,
        Ok(_) | Err(_) => return false,
    };
    label.tag.as_ref().is_some_and(|read| same_tag(tag, read))
        && label == Label { tag: label.tag.clone(), ..Label::default() }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SHORT: &str =
        "day: Spring\nbench: ../benches/b.yaml\nrule: us-part-97\nbands: [ 144 MHz..148 MHz ]\n";

    fn day(text: &str) -> Result<Day, String> {
        let document = Document::parse("days/d.yaml", text).map_err(|mistakes| mistakes.to_string())?;
        Day::read(&document).map_err(|mistakes| mistakes.to_string())
    }

    #[test]
    fn what_is_not_stated_is_as_it_usually_is() {
        let day = day(SHORT).unwrap();
        assert_eq!((day.orders, day.longest, day.slip.columns()), (5, Seconds::new(10.0), 32));
        assert_eq!(day.bench, "days/../benches/b.yaml");
        assert!(day.reference.is_none() && day.decision == Decision::GuardBand);
    }

    #[test]
    fn slips_are_told_all_at_once() {
        let text = SHORT.replace("bands: [ 144 MHz..148 MHz ]", "bands: []")
            + "key: { longest: 20 s }\nreference: { tag: R 1, every: 1 s }\nslips: 58 mm\n";
        let told = day(&text).unwrap_err();
        for part in ["at least one band", "from 3 s to 10 s", "`slips` is not a key", "at least 60 s"] {
            assert!(told.contains(part), "{part}: {told}");
        }
    }

    /// What no line is taken for would never be measured as the reference radio.
    #[test]
    fn a_reference_tag_can_be_typed() {
        let read = |tag: &str| day(&format!("{SHORT}reference: {{ tag: \"{tag}\" }}\n"));
        for tag in ["RÉF", "REF:1", "q", "off", "Quit", "-", "+", "#", "R 1", "call:REF", "a"] {
            let told = read(tag).unwrap_err();
            assert!(
                told.contains("can be typed as one word") && told.contains("`tag: REF-1`"),
                "{tag}: {told}"
            );
            assert!(told.contains("days/d.yaml:5"), "{tag}: {told}");
        }
        for tag in ["REF-1", "12", "#12", "X1ABC", "GOLD"] {
            assert_eq!(read(tag).unwrap().reference.unwrap().tag, tag);
        }
    }

    /// Everybody may read a tag: nothing that a call sign begins with makes one.
    #[test]
    fn what_tags_begin_with_is_nothing_that_a_call_sign_begins_with() {
        for wrong in ["X", "X1", "T 1-", "", "É-"] {
            let told = day(&format!("{SHORT}tags: [ \"{wrong}\" ]\n")).unwrap_err();
            assert!(told.contains("days/d.yaml:5"), "{wrong}: {told}");
        }
        assert_eq!(day(&format!("{SHORT}tags: [ T-, \"K_\" ]\n")).unwrap().tags, ["T-", "K_"]);
    }
}
