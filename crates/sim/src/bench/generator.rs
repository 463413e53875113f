//! The truth of a signal generator: what leaves its output, and what lies between that and the unit's connector.

use spurline_document::{Node, Reader};
use spurline_units::{Db, Dbm, Hertz, Range};

use super::unit::harmonics;
use super::{Identity, LinkTruth, PartTruth, read};

/// A signal generator with known errors.
#[derive(Clone, Debug)]
pub(crate) struct GeneratorTruth {
    pub(crate) identity: Identity,
    pub(crate) range: Range<Hertz>,
    pub(crate) levels: Range<Dbm>,
    /// The error of all levels, if it is not to be drawn.
    pub(crate) level_error: Option<Db>,
    pub(crate) level_spread: Db,
    /// How far each of its harmonics is below its line.
    pub(crate) harmonics: Vec<(u32, Db)>,
    pub(crate) vswr: f64,
    /// What lies between its output and where the unit's connector is.
    pub(crate) through: Vec<PartTruth>,
    /// What a combiner takes from the unit while both are connected.
    pub(crate) unit_loss: Db,
    /// Standard deviation of its level over frequency, beside the error of all levels.
    pub(crate) response_spread: Db,
    /// How far all levels move in an hour.
    pub(crate) drift: Db,
    /// Standard deviation of what a joint at its cable or at the path loses more or less each time that it is made.
    pub(crate) reconnection: Db,
    pub(crate) link: LinkTruth,
}

impl GeneratorTruth {
    pub(super) fn read(reader: &mut Reader, node: &Node) -> Option<Self> {
        let mut fields = reader.fields(node, "a generator")?;
        let f = &mut fields;
        let default = Identity::invented("Generator", "G-0001");
        let known = default.clone();
        let identity = f.or(reader, "identity", |r, n| Identity::read(r, n, default), known);
        let range = Range::new(Hertz::new(9e3), Hertz::new(6e9)).expect("9 kHz is below 6 GHz");
        let range = f.or(reader, "range", |r, n| r.parse(n, "a range"), range);
        let levels = Range::new(Dbm::new(-130.0), Dbm::new(20.0)).expect("-130 dBm is below 20 dBm");
        let levels = f.or(reader, "levels", |r, n| r.parse(n, "a range of levels"), levels);
        let level_error = f.maybe(reader, "level_error", |r, n| r.parse(n, "a ratio"));
        let level_spread = read::quantity(reader, f, "level_spread", Db::new(0.2));
        let harmonics = f.or(reader, "harmonics", harmonics, Vec::new());
        let vswr = read::vswr(reader, f, "vswr", 1.4);
        let through = f.or(reader, "through", PartTruth::read_all, Vec::new());
        let unit_loss = read::at_least(reader, f, "unit_loss", Db::new(0.0), Db::new(0.0));
        let none = Db::new(0.0);
        let response_spread = read::at_least(reader, f, "response_spread", none, none);
        let drift = read::quantity(reader, f, "drift", none);
        let reconnection = read::at_least(reader, f, "reconnection", none, none);
        let link = f.or(reader, "link", LinkTruth::read, LinkTruth::default());
        fields.close(reader);
        Some(Self {
            identity: identity?,
            range: range?,
            levels: levels?,
            level_error: level_error?,
            level_spread: level_spread?,
            harmonics: harmonics?,
            vswr: vswr?,
            through: through?,
            unit_loss: unit_loss?,
            response_spread: response_spread?,
            drift: drift?,
            reconnection: reconnection?,
            link: link?,
        })
    }
}
