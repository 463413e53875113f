//! Where the unit may be keyed.

use spurline_document::{Node, Reader, Span};
use spurline_units::{Hertz, Range};

use crate::model::{Channel, Plan};

impl Plan {
    /// The bands in which the unit may be keyed at a frequency, in words: what the plan authorises, else the plan's own
    /// channels. `None` if it may not be keyed there.
    #[must_use]
    pub fn authorised_at(&self, carrier: Hertz) -> Option<String> {
        if self.authorised.is_empty() {
            let channel = self.channels.iter().find(|channel| channel.carrier == carrier)?;
            return Some(format!("{carrier} is the plan's channel `{}`", channel.name));
        }
        let (band, _) = self.authorised.iter().find(|(band, _)| band.contains(carrier))?;
        Some(format!("{carrier} lies within {band}, which the plan authorises"))
    }
}

/// The bands as a plan lists them, each with its place.
pub(crate) fn read(reader: &mut Reader, node: &Node) -> Option<Vec<(Range<Hertz>, Span)>> {
    let items = reader.list(node, "the authorised bands")?;
    let band = |reader: &mut Reader, item: &Node| Some((reader.parse(item, "a band")?, item.span));
    let read: Vec<Option<(Range<Hertz>, Span)>> = items.iter().map(|item| band(reader, item)).collect();
    if items.is_empty() {
        reader
            .mistake(node.span, "expected at least one authorised band, found an empty list")
            .hint("leave `authorised` out where the channels themselves are all that may be keyed");
        return None;
    }
    read.into_iter().collect()
}

/// Notes every channel outside the authorised bands.
pub(crate) fn check(reader: &mut Reader, bands: &[(Range<Hertz>, Span)], channels: &[Channel]) {
    for channel in channels.iter().filter(|_| !bands.is_empty()) {
        if !bands.iter().any(|(band, _)| band.contains(channel.carrier)) {
            let all: Vec<String> = bands.iter().map(|(band, _)| band.to_string()).collect();
            reader
                .mistake(
                    channel.carrier_span,
                    format!(
                        "the channel `{}` lies at {}, outside the bands that the plan authorises: {}",
                        channel.name,
                        channel.carrier,
                        all.join(", ")
                    ),
                )
                .hint("add its band to `authorised` if there is a licence for it, or leave the channel out");
        }
    }
}
