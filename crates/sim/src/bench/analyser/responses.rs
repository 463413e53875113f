//! What an analyser shows that does not come in there: distortion ahead of it, residuals, images, phase noise.

use spurline_document::{Node, Reader};
use spurline_units::{Angle, Db, Dbm, Hertz};

use crate::bench::read;
use crate::physics::phase_noise::NoiseDensity;

/// Something that distorts before the attenuator, a limiter or a switch; its intercepts are at the input.
#[derive(Clone, Copy, Debug)]
pub(crate) struct AheadTruth {
    pub(crate) second_intercept: Option<Dbm>,
    pub(crate) third_intercept: Option<Dbm>,
    /// Angle in radians between its products and the lines that come in there; drawn for each if not stated.
    pub(crate) phase: Option<f64>,
}

/// A line that is there with the input terminated.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Residual {
    pub(crate) frequency: Hertz,
    /// At the mixer: as it is shown without attenuation.
    pub(crate) level: Dbm,
}

/// Where each line is shown a second time.
#[derive(Clone, Copy, Debug)]
pub(crate) struct ImageTruth {
    /// How far below the line, twice the intermediate frequency; beyond 0 Hz it is folded back.
    pub(crate) offset: Hertz,
    pub(crate) rejection: Db,
}

/// So many residuals, and so many points of phase noise, are enough for anybody.
const MOST: usize = 256;

impl AheadTruth {
    pub(super) fn read(reader: &mut Reader, node: &Node) -> Option<Self> {
        let mut fields = reader.fields(node, "what distorts ahead")?;
        let second = fields.maybe(reader, "second_intercept", |r, n| r.parse(n, "a level"));
        let third = fields.maybe(reader, "third_intercept", |r, n| r.parse(n, "a level"));
        let phase = fields.maybe(reader, "phase", |r, n| r.parse::<Angle>(n, "an angle"));
        fields.close(reader);
        Some(Self { second_intercept: second?, third_intercept: third?, phase: phase?.map(Angle::radians) })
    }
}

impl Residual {
    pub(super) fn read_all(reader: &mut Reader, node: &Node) -> Option<Vec<Self>> {
        read::some(reader, node, "the residuals", MOST, |reader, node| {
            let mut fields = reader.fields(node, "a residual")?;
            let frequency = fields.required(reader, "frequency").and_then(|n| reader.parse(n, "a frequency"));
            let level = fields.required(reader, "level").and_then(|n| reader.parse(n, "a level"));
            fields.close(reader);
            Some(Self { frequency: frequency?, level: level? })
        })
    }
}

impl ImageTruth {
    pub(super) fn read(reader: &mut Reader, node: &Node) -> Option<Self> {
        let mut fields = reader.fields(node, "an image")?;
        let offset = read::required_above(reader, &mut fields, "offset", Hertz::new(0.0));
        let rejection = read::required_from(reader, &mut fields, "rejection", Db::new(0.0));
        fields.close(reader);
        Some(Self { offset: offset?, rejection: rejection? })
    }
}

/// Points of phase noise in rising order of their offsets.
pub(in crate::bench) fn phase_noise(reader: &mut Reader, node: &Node) -> Option<Vec<NoiseDensity>> {
    let points = read::some(reader, node, "the phase noise", MOST, point)?;
    if let Some(place) = points.windows(2).position(|pair| pair[1].offset <= pair[0].offset) {
        let (before, after) = (points[place].offset, points[place + 1].offset);
        reader
            .mistake(node.span, format!("expected an offset above {before}, found {after}"))
            .hint("write the points in rising order of their offsets");
        return None;
    }
    Some(points)
}

fn point(reader: &mut Reader, node: &Node) -> Option<NoiseDensity> {
    let [offset, density] = reader.list(node, "an offset and a density")? else {
        reader
            .mistake(node.span, "expected an offset and a density")
            .hint("write it as `[ 10 kHz, -110 dBc/Hz ]`");
        return None;
    };
    let offset = read::above(reader, offset, "an offset", Hertz::new(0.0));
    let density = decibels(reader, density);
    Some(NoiseDensity { offset: offset?, density: density? })
}

fn decibels(reader: &mut Reader, node: &Node) -> Option<f64> {
    let text = reader.text(node, "a density in dBc/Hz")?;
    let ratio = text.strip_suffix("dBc/Hz").and_then(|number| format!("{number}dB").parse::<Db>().ok());
    if ratio.is_none() {
        reader
            .mistake(node.span, format!("expected a density in dBc/Hz, found `{text}`"))
            .hint("write it as `-110 dBc/Hz`");
    }
    ratio.map(Db::get)
}
