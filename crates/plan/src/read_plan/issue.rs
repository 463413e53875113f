//! What a plan states for the reports of its runs.

use spurline_document::{Document, Fields, Node, Reader};
use spurline_path::read_date;
use spurline_record::{Issue, SourceText};

pub(super) fn read(reader: &mut Reader, node: &Node) -> Option<Issue> {
    let mut fields = reader.fields(node, "what reports state")?;
    let laboratory = fields.or(reader, "laboratory", read_laboratory, (None, None));
    let received = fields.maybe(reader, "received", read_date);
    let mut text = |key, what| text_of(&mut fields, reader, key, what);
    let issue = (|| {
        Some(Issue {
            title: text("title", "the report's title")?,
            place: text("place", "where the work is done")?,
            customer: text("customer", "for whom it is done")?,
            contact: text("contact", "how to reach the customer")?,
            condition: text("condition", "the unit's condition")?,
            hardware: text("hardware", "the version of the unit's hardware")?,
            accessories: text("accessories", "what is connected to the unit")?,
            sampling: text("sampling", "how the unit was chosen")?,
            environment: text("environment", "temperature, humidity and the like")?,
            deviations: text("deviations", "what is done otherwise or left out")?,
            from_outside: text("from_outside", "which results come from somebody else")?,
            authorised_by: text("authorised_by", "who authorises the report")?,
            remarks: text("remarks", "what else a reader should know")?,
            ..Issue::default()
        })
    })();
    fields.close(reader);
    let (laboratory, address) = laboratory?;
    Some(Issue { laboratory, address, received: received?, ..issue? })
}

fn read_laboratory(reader: &mut Reader, node: &Node) -> Option<(Option<String>, Option<String>)> {
    let mut fields = reader.fields(node, "the laboratory")?;
    let name = text_of(&mut fields, reader, "name", "the laboratory's name");
    let address = text_of(&mut fields, reader, "address", "the laboratory's address");
    fields.close(reader);
    Some((name?, address?))
}

fn text_of(
    fields: &mut Fields<'_>,
    reader: &mut Reader,
    key: &'static str,
    what: &str,
) -> Option<Option<String>> {
    fields.maybe(reader, key, |reader, node| reader.text(node, what).map(ToOwned::to_owned))
}

/// What a plan that was kept with a run states for reports; nothing where it cannot be read any more.
#[must_use]
pub fn issue_of(plan: &SourceText) -> Issue {
    let Ok(document) = Document::parse(&plan.name, &plan.text) else { return Issue::default() };
    let Some(node) = document.root.get("report") else { return Issue::default() };
    read(&mut Reader::new(&document), node).unwrap_or_default()
}
