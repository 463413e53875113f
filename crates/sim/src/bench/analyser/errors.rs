//! The errors of an analyser's levels: stated ones, spreads, or those that are taken where nothing is said.

use spurline_document::{Fields, Node, Reader};
use spurline_units::Db;

use crate::bench::Stated;

/// What the errors of its levels are drawn from.
#[derive(Clone, Copy, Debug)]
pub(crate) struct AnalyserErrors {
    /// Of all levels.
    pub(crate) level: Stated,
    pub(crate) response: ResponseTruth,
    /// Of each setting of the attenuator.
    pub(crate) attenuator: Stated,
    /// Of each resolution bandwidth.
    pub(crate) bandwidth: Option<Stated>,
    /// Of each level below the reference level.
    pub(crate) fidelity: Option<Stated>,
}

/// How the frequency response is wrong.
#[derive(Clone, Copy, Debug)]
pub(crate) enum ResponseTruth {
    /// Against 50 MHz, with a standard deviation far from there.
    Spread(Db),
    /// At any frequency as it is stated.
    Stated(Stated),
}

/// What `errors` says.
#[derive(Clone, Copy, Debug, Default)]
struct Said {
    level: Option<Stated>,
    response: Option<Stated>,
    attenuator: Option<Stated>,
    bandwidth: Option<Stated>,
    fidelity: Option<Stated>,
}

impl AnalyserErrors {
    /// Reads `errors` and the spreads of the analyser's own fields.
    pub(super) fn read(reader: &mut Reader, fields: &mut Fields<'_>) -> Option<Self> {
        let said = fields.or(reader, "errors", Said::read, Said::default());
        let level = spread(reader, fields, "level_spread", said.and_then(|said| said.level));
        let response = spread(reader, fields, "response_spread", said.and_then(|said| said.response));
        let attenuator = spread(reader, fields, "attenuator_spread", said.and_then(|said| said.attenuator));
        let (said, level, response, attenuator) = (said?, level?, response?, attenuator?);
        let or = |stated: Option<Stated>, spread: Option<Db>, default: f64| {
            stated.unwrap_or_else(|| Stated::normal(spread.unwrap_or(Db::new(default))))
        };
        let by_spread = ResponseTruth::Spread(response.unwrap_or(Db::new(0.3)));
        Some(Self {
            level: or(said.level, level, 0.3),
            response: said.response.map_or(by_spread, ResponseTruth::Stated),
            attenuator: or(said.attenuator, attenuator, 0.1),
            bandwidth: said.bandwidth,
            fidelity: said.fidelity,
        })
    }
}

/// A standard deviation under a key, which `errors` must not state as well.
fn spread(
    reader: &mut Reader,
    fields: &mut Fields<'_>,
    key: &'static str,
    stated: Option<Stated>,
) -> Option<Option<Db>> {
    fields.maybe(reader, key, |reader, node| {
        let spread = reader.parse(node, key)?;
        if stated.is_some() {
            reader
                .mistake(node.span, format!("expected `{key}` or the same among the `errors`, found both"))
                .hint("leave one of them out");
            return None;
        }
        Some(spread)
    })
}

impl Said {
    fn read(reader: &mut Reader, node: &Node) -> Option<Self> {
        let mut fields = reader.fields(node, "the errors of an analyser")?;
        let mut error = |reader: &mut Reader, key| fields.maybe(reader, key, Stated::read);
        let level = error(reader, "absolute_level");
        let response = error(reader, "frequency_response");
        let attenuator = error(reader, "attenuator_switching");
        let bandwidth = error(reader, "bandwidth_switching");
        let fidelity = error(reader, "scale_fidelity");
        fields.close(reader);
        Some(Self {
            level: level?,
            response: response?,
            attenuator: attenuator?,
            bandwidth: bandwidth?,
            fidelity: fidelity?,
        })
    }
}

/// A statement, for tests.
#[cfg(test)]
pub(crate) fn stated(within: &str, distribution: &str) -> Stated {
    let text = format!("{{ within: {within}, distribution: {distribution} }}");
    let document = spurline_document::Document::parse("stated.yaml", &text).unwrap();
    let mut reader = Reader::new(&document);
    let stated = Stated::read(&mut reader, &document.root);
    reader.finish(stated).unwrap()
}
