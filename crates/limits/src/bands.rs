//! Bands that a service may transmit in, and whether the whole of an emission lies in one of them.

use std::fmt;

use spurline_units::{Hertz, Range, Watts};

use crate::finding::Status;
use crate::head::Head;

/// What is sent, as band plans tell emissions apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Use {
    /// A keyed carrier.
    Cw,
    /// A keyed tone on a carrier.
    Mcw,
    /// Telephony.
    Phone,
    /// Facsimile and television.
    Image,
    /// Data, teleprinters among it.
    Data,
}

impl Use {
    /// All of them by their words.
    pub const WORDS: &'static [(&'static str, Self)] = &[
        ("cw", Self::Cw),
        ("mcw", Self::Mcw),
        ("phone", Self::Phone),
        ("image", Self::Image),
        ("data", Self::Data),
    ];
}

impl fmt::Display for Use {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let word = Self::WORDS.iter().find(|(_, known)| known == self).map_or("", |(word, _)| *word);
        f.write_str(word)
    }
}

/// An ITU region.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Region {
    /// Europe, Africa, the Middle East and northern Asia.
    One,
    /// The Americas.
    Two,
    /// The rest of Asia and Oceania.
    Three,
}

impl Region {
    /// All of them by their numbers.
    pub const WORDS: &'static [(&'static str, Self)] =
        &[("1", Self::One), ("2", Self::Two), ("3", Self::Three)];
}

impl fmt::Display for Region {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::One => "1",
            Self::Two => "2",
            Self::Three => "3",
        })
    }
}

/// Which power a ceiling is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PowerOf {
    /// Peak envelope power of the transmitter.
    Envelope,
    /// Effective radiated power, over a half-wave dipole.
    Radiated,
    /// Effective radiated power, over an isotropic aerial.
    Isotropic,
}

impl PowerOf {
    pub(crate) const WORDS: &'static [(&'static str, Self)] =
        &[("pep", Self::Envelope), ("erp", Self::Radiated), ("eirp", Self::Isotropic)];
}

impl fmt::Display for PowerOf {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Envelope => "PEP",
            Self::Radiated => "ERP",
            Self::Isotropic => "EIRP",
        })
    }
}

/// The most power that a band allows.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PowerCeiling {
    /// The ceiling.
    pub most: Watts,
    /// Of which power.
    pub of: PowerOf,
}

impl fmt::Display for PowerCeiling {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}", self.most, self.of)
    }
}

/// A published table of bands.
#[derive(Clone, Debug, PartialEq)]
pub struct BandPlan {
    pub(crate) head: Head,
    /// What may be sent in the whole of every band.
    pub(crate) everywhere: Vec<Use>,
    pub(crate) bands: Vec<Band>,
}

/// One band in some regions.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Band {
    pub(crate) name: String,
    pub(crate) range: Range<Hertz>,
    pub(crate) regions: Vec<Region>,
    pub(crate) source: Option<String>,
    pub(crate) status: Option<Status>,
    /// The most that an emission may occupy.
    pub(crate) widest: Option<Hertz>,
    pub(crate) power: Vec<PowerCeiling>,
    pub(crate) note: Option<String>,
    /// Where what may be sent; without any, everything in the whole band.
    pub(crate) segments: Vec<Segment>,
}

/// A part of a band and what may be sent there.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Segment {
    pub(crate) range: Range<Hertz>,
    pub(crate) uses: Vec<Use>,
}

/// Whether an emission lies in a band.
#[derive(Clone, Debug, PartialEq)]
pub enum BandVerdict {
    /// The whole of it does, edges included.
    Inside {
        /// The band.
        band: String,
        /// The part of it that the emission lies in.
        segment: Range<Hertz>,
        /// The most that an emission may occupy there, if there is such a bound.
        widest: Option<Hertz>,
    },
    /// It does not; the band that it misses least, if the plan has one at all.
    Outside(Option<Nearest>),
}

/// The band that an emission misses least, and by how much.
#[derive(Clone, Debug, PartialEq)]
pub struct Nearest {
    /// The band.
    pub band: String,
    /// The part of it.
    pub segment: Range<Hertz>,
    /// The most that an emission may occupy there, if there is such a bound.
    pub widest: Option<Hertz>,
    /// How far the lower edge of the emission lies outside; zero if it does not.
    pub low_out_by: Hertz,
    /// How far its upper edge does.
    pub high_out_by: Hertz,
    /// How much it is wider than the band allows.
    pub wider_by: Hertz,
}

/// The answer with its reasons.
#[derive(Clone, Debug, PartialEq)]
pub struct BandFinding {
    /// The answer.
    pub verdict: BandVerdict,
    /// How it follows, a line a step, for a person.
    pub derivation: Vec<String>,
    /// The published text that answered.
    pub source: String,
    /// How far that text was checked.
    pub status: Status,
    /// The most power that the band allows; empty outside.
    pub power: Vec<PowerCeiling>,
}

/// What a table says where not everything is known that it may turn on.
#[derive(Clone, Debug, PartialEq)]
pub struct BandCases {
    /// Every answer that stays possible, each place once.
    pub possible: Vec<BandFinding>,
    /// What would settle it: `region`, `use` or both; empty where there is one answer.
    pub missing: Vec<&'static str>,
}

/// Edges this close are the same: a difference of large numbers must not put an emission out of its band.
const SAME_HZ: f64 = 1e-3;

impl BandPlan {
    /// The name, which is also that of the file.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.head.name
    }

    /// What the plan is, in words.
    #[must_use]
    pub fn title(&self) -> &str {
        &self.head.title
    }

    /// Whether the whole of an emission, from `low` to `high`, lies in one band, whatever it carries.
    ///
    /// Edges count as inside. Edges in the wrong order are taken in the right one.
    #[must_use]
    pub fn check(&self, low: Hertz, high: Hertz, region: Region) -> BandFinding {
        self.check_use(low, high, region, None)
    }

    /// The same for what is sent, where that is known: some parts of bands are for some uses only.
    #[must_use]
    pub fn check_use(&self, low: Hertz, high: Hertz, region: Region, sent: Option<Use>) -> BandFinding {
        let (low, high) = (low.min(high), low.max(high));
        let mut lines = vec![
            self.head.opening("bands"),
            format!(
                "emission {}, region {region}{}",
                Range::new(low, high).map_or_else(String::new, |range| range.to_string()),
                sent.map_or_else(String::new, |sent| format!(", {sent}"))
            ),
        ];
        let places = self.places(region, sent);
        let nearest = places
            .into_iter()
            .map(|(band, segment)| (band, miss(band, segment, low, high)))
            .min_by(|(_, one), (_, other)| one.total().total_cmp(&other.total()));
        let Some((band, nearest)) = nearest else {
            lines.push("no band for this in this region".to_owned());
            return self.outside(None, None, lines);
        };
        let (source, status) = (band.source(self), band.status.unwrap_or(self.head.status));
        if let Some(caveat) = status.caveat() {
            lines.push(format!("{caveat}: {source} is {status}"));
        }
        if nearest.total() > 0.0 {
            lines.extend(nearest.sentences(low, high));
            return self.outside(Some(band), Some(nearest), lines);
        }
        lines.push(format!("the whole of it lies in {}, {}", nearest.band, nearest.segment));
        lines.extend(band.power.iter().map(|ceiling| format!("at most {ceiling}")));
        lines.extend(band.note.iter().map(|note| format!("note: {note}")));
        BandFinding {
            verdict: BandVerdict::Inside {
                band: nearest.band,
                segment: nearest.segment,
                widest: nearest.widest,
            },
            derivation: lines,
            source,
            status,
            power: band.power.clone(),
        }
    }

    /// The same where region or use may not be known: what is missing is looked at in every case.
    #[must_use]
    pub fn cases(&self, low: Hertz, high: Hertz, region: Option<Region>, sent: Option<Use>) -> BandCases {
        let regions: Vec<Region> =
            region.map_or_else(|| Region::WORDS.iter().map(|(_, region)| *region).collect(), |one| vec![one]);
        let uses: Vec<Use> =
            sent.map_or_else(|| Use::WORDS.iter().map(|(_, sent)| *sent).collect(), |one| vec![one]);
        let asked = |region: &Region| -> Vec<BandFinding> {
            uses.iter().map(|sent| self.check_use(low, high, *region, Some(*sent))).collect()
        };
        let table: Vec<Vec<BandFinding>> = regions.iter().map(asked).collect();
        let alike = |one: &BandFinding, other: &BandFinding| one.verdict == other.verdict;
        let by_region =
            table.iter().any(|row| row.iter().zip(&table[0]).any(|(one, first)| !alike(one, first)));
        let by_use = table.iter().any(|row| row.iter().any(|one| !alike(one, &row[0])));
        let mut possible: Vec<BandFinding> = Vec::new();
        for finding in table.into_iter().flatten() {
            if !possible.iter().any(|known| alike(known, &finding)) {
                possible.push(finding);
            }
        }
        let missing = [(by_region, "region"), (by_use, "use")];
        BandCases {
            possible,
            missing: missing.into_iter().filter(|(is, _)| *is).map(|(_, name)| name).collect(),
        }
    }

    /// How far the text was checked: that of the least checked band.
    #[must_use]
    pub fn status(&self) -> Status {
        self.bands.iter().filter_map(|band| band.status).fold(self.head.status, Status::max)
    }

    fn outside(&self, band: Option<&Band>, nearest: Option<Nearest>, lines: Vec<String>) -> BandFinding {
        BandFinding {
            verdict: BandVerdict::Outside(nearest),
            derivation: lines,
            source: band.map_or_else(|| self.head.source.clone(), |band| band.source(self)),
            status: band.and_then(|band| band.status).unwrap_or(self.head.status),
            power: Vec::new(),
        }
    }

    /// Every stretch of a band of the region that takes such an emission.
    fn places(&self, region: Region, sent: Option<Use>) -> Vec<(&Band, Range<Hertz>)> {
        let mut places = Vec::new();
        for band in self.bands.iter().filter(|band| band.regions.contains(&region)) {
            match sent {
                Some(sent) if !band.segments.is_empty() && !self.everywhere.contains(&sent) => {
                    let segments = band.segments.iter().filter(|segment| segment.uses.contains(&sent));
                    places.extend(segments.map(|segment| (band, segment.range)));
                }
                Some(_) | None => places.push((band, band.range)),
            }
        }
        places
    }
}

impl Band {
    /// Where it is published.
    fn source(&self, plan: &BandPlan) -> String {
        self.source.clone().unwrap_or_else(|| plan.head.source.clone())
    }
}

impl BandVerdict {
    /// The part of a band that an emission lies in, or misses least, and the most that it may occupy there.
    #[must_use]
    pub fn place(&self) -> Option<(Range<Hertz>, Option<Hertz>)> {
        match self {
            Self::Inside { segment, widest, .. } => Some((*segment, *widest)),
            Self::Outside(nearest) => nearest.as_ref().map(|near| (near.segment, near.widest)),
        }
    }
}

fn miss(band: &Band, segment: Range<Hertz>, low: Hertz, high: Hertz) -> Nearest {
    let out = |edge: Hertz| {
        let out = (segment.low() - edge).max(edge - segment.high()).max(Hertz::new(0.0));
        if out.get() < SAME_HZ { Hertz::new(0.0) } else { out }
    };
    let wider = band.widest.map_or(0.0, |widest| (high - low - widest).get());
    Nearest {
        band: band.name.clone(),
        segment,
        widest: band.widest,
        low_out_by: out(low),
        high_out_by: out(high),
        wider_by: Hertz::new(if wider < SAME_HZ { 0.0 } else { wider }),
    }
}

impl Nearest {
    fn total(&self) -> f64 {
        self.low_out_by.get() + self.high_out_by.get() + self.wider_by.get()
    }

    fn sentences(&self, low: Hertz, high: Hertz) -> Vec<String> {
        let place = format!("{}, {}", self.band, self.segment);
        let mut sentences = Vec::new();
        for (name, edge, out) in [("lower", low, self.low_out_by), ("upper", high, self.high_out_by)] {
            if out.get() > 0.0 {
                sentences.push(format!("the {name} edge {edge} lies {out} outside {place}"));
            }
        }
        if self.wider_by.get() > 0.0 {
            sentences.push(format!("it is {} wider than {place} allows", self.wider_by));
        }
        sentences
    }
}

#[cfg(test)]
mod tests {
    use spurline_document::Document;

    use super::*;

    fn amateur() -> BandPlan {
        let text = include_str!("../../../config/bands/us-amateur.yaml");
        BandPlan::read(&Document::parse("us-amateur.yaml", text).unwrap()).unwrap()
    }

    fn mhz(mhz: f64) -> Hertz {
        Hertz::new(mhz * 1e6)
    }

    /// 47 CFR 97.301: region 2 has 144 to 148 MHz, region 1 to 146 MHz; 97.305: a keyed carrier alone below 144.1 MHz.
    #[test]
    fn what_is_missing_is_named_only_where_it_matters() {
        let table = amateur();
        let missing =
            |low: f64, high: f64, region, sent| table.cases(mhz(low), mhz(high), region, sent).missing;
        assert_eq!(missing(147.0, 147.01, Some(Region::Two), Some(Use::Phone)), [] as [&str; 0]);
        assert_eq!(missing(147.0, 147.01, None, Some(Use::Phone)), ["region"]);
        assert_eq!(missing(144.05, 144.06, Some(Region::Two), None), ["use"]);
        assert_eq!(missing(144.05, 144.06, None, None), ["region", "use"]);
        let known = table.cases(mhz(147.0), mhz(147.01), Some(Region::Two), Some(Use::Phone)).possible;
        assert_eq!(known, [table.check_use(mhz(147.0), mhz(147.01), Region::Two, Some(Use::Phone))]);
    }

    /// 47 CFR 97.303(h): nothing wider than 2.8 kHz about 5.36 MHz.
    #[test]
    fn a_place_tells_how_wide_an_emission_may_be() {
        let table = amateur();
        let place = |low: f64, high: f64| {
            table.check_use(mhz(low), mhz(high), Region::Two, Some(Use::Phone)).verdict.place().unwrap()
        };
        assert_eq!(place(5.355, 5.3575).1, Some(Hertz::new(2800.0)));
        assert_eq!(place(14.2, 14.203), (Range::new(mhz(14.15), mhz(14.35)).unwrap(), None));
        // Outside it is that of the place that it misses least.
        assert_eq!(place(14.4, 14.403), place(14.2, 14.203));
    }
}
