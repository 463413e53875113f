//! A figure of a data sheet with its distribution, and where it stands.

use spurline_document::{Node, Reader};
use spurline_units::Db;

/// How the error behind a stated figure is distributed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Distribution {
    /// Normal; the figure is the expanded uncertainty with k = 2, as on a certificate.
    Normal,
    /// Anything within the figure is equally likely: a data sheet's "within".
    Rectangular,
    /// Most likely at the ends: mismatch.
    UShaped,
}

/// One stated figure of accuracy.
#[derive(Clone, Debug, PartialEq)]
pub struct Specification {
    /// What it is about, in words.
    pub name: String,
    /// The figure, above or equal to zero.
    pub value: Db,
    /// Its distribution.
    pub distribution: Distribution,
    /// File and key of the figure.
    pub source: String,
}

impl Specification {
    /// Reads `{ within: 0.6 dB, distribution: normal }`.
    pub(crate) fn read(reader: &mut Reader, node: &Node, key: &'static str, name: &str) -> Option<Self> {
        let mut fields = reader.fields(node, "a figure of accuracy")?;
        let value = fields.required(reader, "within");
        let distribution = fields.required(reader, "distribution");
        fields.close(reader);
        let value = value.and_then(|node| {
            let value: Db = reader.parse(node, "a figure in dB")?;
            if value < Db::new(0.0) {
                reader.mistake(node.span, format!("expected a figure from 0 dB up, found {value}"));
                return None;
            }
            Some(value)
        });
        let distribution = distribution.and_then(|node| self::distribution(reader, node));
        Some(Self {
            name: name.to_owned(),
            value: value?,
            distribution: distribution?,
            source: format!("{}: accuracy.{key}", reader.source().name()),
        })
    }

    /// Reads a whole section of them: one figure per key and name.
    pub(crate) fn read_all(
        reader: &mut Reader,
        node: &Node,
        keys: &[(&'static str, &str)],
    ) -> Option<Vec<Self>> {
        let mut fields = reader.fields(node, "the accuracy")?;
        let mut figures = Vec::new();
        for (key, name) in keys {
            let node = fields.required(reader, key);
            figures.extend(node.and_then(|node| Self::read(reader, node, key, name)));
        }
        fields.close(reader);
        (figures.len() == keys.len()).then_some(figures)
    }
}

/// The word for a distribution.
pub(crate) fn distribution(reader: &mut Reader, node: &Node) -> Option<Distribution> {
    let words = [
        ("normal", Distribution::Normal),
        ("rectangular", Distribution::Rectangular),
        ("u-shaped", Distribution::UShaped),
    ];
    reader.choice(node, "a distribution", &words)
}
