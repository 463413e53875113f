//! When something was calibrated, and until when that is good.

use jiff::civil::Date;
use spurline_document::{Fields, Node, Reader};

/// The calibration of a part or an instrument, as far as its file states it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Calibration {
    /// When it was calibrated.
    pub calibrated: Option<Date>,
    /// The last day on which that is good.
    pub due: Option<Date>,
    /// Who says so: the certificate's number, for example.
    pub certificate: Option<String>,
}

impl Calibration {
    /// Reads `calibrated`, `due` and `certificate` among other keys; outer `None` after a mistake.
    pub fn read(reader: &mut Reader, fields: &mut Fields<'_>) -> Option<Option<Self>> {
        let calibrated = fields.maybe(reader, "calibrated", read_date);
        let due_node = fields.optional("due");
        let due = due_node.map_or(Some(None), |node| read_date(reader, node).map(Some));
        let certificate =
            fields.maybe(reader, "certificate", |reader, node| reader.text(node, "a certificate"));
        let read = Self { calibrated: calibrated?, due: due?, certificate: certificate?.map(str::to_owned) };
        if let (Some(calibrated), Some(due), Some(node)) = (read.calibrated, read.due, due_node)
            && due < calibrated
        {
            reader
                .mistake(node.span, format!("expected a day from {calibrated} on, found {due}"))
                .hint("`due` is the last day on which the calibration is good");
            return None;
        }
        Some((read != Self::default()).then_some(read))
    }

    /// Whether it is no longer good on a day.
    #[must_use]
    pub fn has_expired(&self, on: Date) -> bool {
        self.due.is_some_and(|due| due < on)
    }
}

/// Year, month and day, with hyphens (ISO 8601-1); anything else is a mistake.
pub fn read_date(reader: &mut Reader, node: &Node) -> Option<Date> {
    let text = reader.text(node, "a day")?;
    let shaped = text.len() == 10 && text.bytes().all(|byte| byte.is_ascii_digit() || byte == b'-');
    let date = text.parse::<Date>().ok().filter(|_| shaped);
    if date.is_none() {
        reader
            .mistake(node.span, format!("expected a day, found `{text}`"))
            .hint("write year, month and day: 2026-01-10");
    }
    date
}

#[cfg(test)]
mod tests {
    use spurline_document::{Document, Mistakes};

    use super::*;

    fn read(text: &str) -> Result<Option<Calibration>, Mistakes> {
        let document = Document::parse("bench.yaml", text)?;
        let mut reader = Reader::new(&document);
        let read = reader.fields(&document.root, "a part").and_then(|mut fields| {
            let read = Calibration::read(&mut reader, &mut fields);
            fields.close(&mut reader);
            read
        });
        reader.finish(read)
    }

    #[test]
    fn the_last_day_is_a_good_one() {
        let read = read("{ calibrated: 2026-01-10, due: 2027-01-10, certificate: C 17 }").unwrap().unwrap();
        let day = |text: &str| text.parse::<Date>().unwrap();
        assert!(!read.has_expired(day("2027-01-10")) && read.has_expired(day("2027-01-11")));
        assert_eq!(read.certificate.as_deref(), Some("C 17"));
    }

    #[test]
    fn nothing_stated_never_expires() {
        assert_eq!(read("{}").unwrap(), None);
    }

    #[test]
    fn slips_are_told() {
        for (text, told) in [
            ("{ due: 10.01.2027 }", "expected a day, found `10.01.2027`"),
            ("{ due: 2027-02-30 }", "expected a day, found `2027-02-30`"),
            ("{ due: 20270110 }", "expected a day, found `20270110`"),
            (
                "{ calibrated: 2026-01-10, due: 2025-01-10 }",
                "expected a day from 2026-01-10 on, found 2025-01-10",
            ),
        ] {
            let mistakes = read(text).unwrap_err().to_string();
            assert!(mistakes.contains(told), "{mistakes}");
        }
    }
}
