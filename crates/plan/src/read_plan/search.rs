//! A search for spurious emissions, as a plan says it.

use spurline_document::{Node, Reader};
use spurline_units::{Db, Hertz};

use super::above_zero;
use crate::measure::Search;

const MOST_HOLDS: u32 = 100;
/// Closer to the noise everything is a candidate, farther from it hardly anything.
const EXCURSION: [f64; 2] = [3.0, 30.0];
const MOST_REFERENCES: usize = 16;

pub(super) fn read(reader: &mut Reader, node: &Node) -> Option<Search> {
    let mut fields = reader.fields(node, "the search")?;
    let frequency =
        |reader: &mut Reader, node: &Node| above_zero(reader, node, "a frequency", Hertz::new(0.0));
    let from = fields.maybe(reader, "from", frequency);
    let to_node = fields.optional("to");
    let lowest_generated = fields.or(reader, "lowest_generated", frequency, Search::LOWEST_GENERATED);
    let holds = fields.or(
        reader,
        "holds",
        |reader, node| reader.whole(node, "how many sweeps are held", 1, MOST_HOLDS),
        Search::HOLDS,
    );
    let excursion = fields.or(reader, "excursion", read_excursion, Search::EXCURSION);
    let exclude = fields.maybe(reader, "exclude", frequency);
    let references = fields.or(reader, "references", read_references, Vec::new());
    fields.close(reader);
    let to = to_node.map_or(Some(None), |node| frequency(reader, node).map(Some));
    let (from, to): (Option<Hertz>, Option<Hertz>) = (from?, to?);
    if let (Some(low), Some(high), Some(node)) = (from, to, to_node)
        && high <= low
    {
        reader
            .mistake(node.span, format!("expected a search that ends above {low}, found {high}"))
            .hint("write `from` and `to` in rising order");
        return None;
    }
    Some(Search {
        from,
        to,
        lowest_generated: lowest_generated?,
        holds: holds?,
        excursion: excursion?,
        exclude: exclude?,
        references: references?,
    })
}

fn read_excursion(reader: &mut Reader, node: &Node) -> Option<Db> {
    let excursion: Db = reader.parse(node, "a distance from the noise")?;
    let [low, high] = EXCURSION.map(Db::new);
    if (low..=high).contains(&excursion) {
        return Some(excursion);
    }
    reader
        .mistake(
            node.span,
            format!("expected a distance from the noise of {low} to {high}, found {excursion}"),
        )
        .hint("6 dB is usual: nearer to the noise most of what is found is noise");
    None
}

fn read_references(reader: &mut Reader, node: &Node) -> Option<Vec<Hertz>> {
    let items = reader.list(node, "the known frequencies")?;
    if items.len() > MOST_REFERENCES {
        reader.mistake(
            node.span,
            format!("expected at most {MOST_REFERENCES} known frequencies, found {}", items.len()),
        );
        return None;
    }
    let read: Vec<_> =
        items.iter().map(|item| above_zero(reader, item, "a frequency", Hertz::new(0.0))).collect();
    read.into_iter().collect()
}
