//! Designators of emissions such as `16K0F3E`, and necessary bandwidths: 47 CFR 2.201 and 2.202.

use std::fmt;
use std::str::FromStr;

use spurline_units::Hertz;
use thiserror::Error;

use crate::bands::Use;

/// The letter that stands for the decimal point, and what it makes of the figure; `H` also begins one below 1 Hz.
const LETTERS: [(char, f64); 4] = [('H', 1.0), ('K', 1e3), ('M', 1e6), ('G', 1e9)];

/// How the main carrier is modulated, by the first symbol.
const MODULATIONS: &[(char, &str)] = &[
    ('N', "unmodulated carrier"),
    ('A', "double sideband"),
    ('H', "single sideband, full carrier"),
    ('R', "single sideband, reduced or variable carrier"),
    ('J', "single sideband, suppressed carrier"),
    ('B', "independent sidebands"),
    ('C', "vestigial sideband"),
    ('F', "frequency modulation"),
    ('G', "phase modulation"),
    ('D', "amplitude and angle modulation together or in turn"),
    ('P', "unmodulated pulses"),
    ('K', "pulses modulated in amplitude"),
    ('L', "pulses modulated in width"),
    ('M', "pulses modulated in position or phase"),
    ('Q', "carrier modulated in angle during the pulse"),
    ('V', "pulses modulated in another way or in several"),
    ('W', "several of these together"),
    ('X', "another modulation"),
];

/// What modulates it, by the second symbol.
const SIGNALS: &[(char, &str)] = &[
    ('0', "no signal"),
    ('1', "one channel, digital, without a subcarrier"),
    ('2', "one channel, digital, with a subcarrier"),
    ('3', "one channel, analogue"),
    ('7', "two or more channels, digital"),
    ('8', "two or more channels, analogue"),
    ('9', "digital and analogue channels"),
    ('X', "another signal"),
];

/// What is sent, by the third symbol.
const INFORMATION: &[(char, &str)] = &[
    ('N', "no information"),
    ('A', "telegraphy by ear"),
    ('B', "telegraphy by machine"),
    ('C', "facsimile"),
    ('D', "data"),
    ('E', "telephony"),
    ('F', "television"),
    ('W', "several of these"),
    ('X', "another kind"),
];

/// A designator: necessary bandwidth, three symbols of the class, and up to two of detail.
#[derive(Clone, Debug, PartialEq)]
pub struct Designator {
    bandwidth: Hertz,
    class: String,
}

/// Why a text is not a designator. The second line of the message is advice.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum DesignatorError {
    /// Too few or too many characters, or ones that none has.
    #[error(
        "expected a designator of 7 to 9 letters and digits, found `{0}`\nwrite for example `16K0F3E`: bandwidth, modulation, signal, information"
    )]
    Shape(String),
    /// The first four characters are no bandwidth.
    #[error(
        "expected a bandwidth of three digits and H, K, M or G in place of the point, found `{0}`\nwrite for example `16K0` for 16 kHz, `2K70` for 2.7 kHz or `100H` for 100 Hz"
    )]
    Bandwidth(String),
    /// The bandwidth begins with zero or with a letter that may not stand first.
    #[error("expected a bandwidth that begins with 1 to 9, found `{found}`\nwrite `{right}`")]
    Beginning {
        /// The bandwidth as it was written.
        found: String,
        /// The same as it should be.
        right: String,
    },
    /// A symbol that is not known at its place.
    #[error("expected a {place}, found `{found}`\nknown here: {known}")]
    Symbol {
        /// Which symbol.
        place: &'static str,
        /// What stood there.
        found: char,
        /// All that would be right.
        known: String,
    },
}

impl Designator {
    /// The necessary bandwidth.
    #[must_use]
    pub const fn bandwidth(&self) -> Hertz {
        self.bandwidth
    }

    /// The class of emission: three symbols and those of detail, for example `F3E`.
    #[must_use]
    pub fn class(&self) -> &str {
        &self.class
    }

    /// What the three symbols of the class mean, in their order.
    #[must_use]
    pub fn meaning(&self) -> Vec<&'static str> {
        let tables = [MODULATIONS, SIGNALS, INFORMATION];
        let meaning = |(symbol, table): (char, &&'static [(char, &'static str)])| {
            table.iter().find(|(known, _)| *known == symbol).map(|(_, meaning)| *meaning)
        };
        self.class.chars().zip(&tables).filter_map(meaning).collect()
    }

    /// What is sent, as tables of bands tell it apart (47 CFR 97.3(c)); `None` where the class names none of these, or
    /// more than one.
    #[must_use]
    pub fn sent(&self) -> Option<Use> {
        let mut symbols = self.class.chars();
        let (modulation, signal, information) = (symbols.next()?, symbols.next()?, symbols.next()?);
        match (signal, information) {
            ('7' | '8' | '9', 'W') if modulation == 'B' => Some(Use::Image),
            _ if !"ACDFGHJR".contains(modulation) => None,
            ('1' | '2' | '3' | 'X', 'E') => Some(Use::Phone),
            ('1' | '2' | '3', 'C' | 'F') => Some(Use::Image),
            ('1', 'A') if "ACHJR".contains(modulation) => Some(Use::Cw),
            // A keyed tone on a suppressed carrier is a keyed carrier.
            ('2', 'A') if modulation == 'J' => Some(Use::Cw),
            ('2', 'A') => Some(Use::Mcw),
            // Of what a machine reads, Morse may be wherever data may.
            ('1', 'B' | 'D') => Some(Use::Data),
            ('2', 'B' | 'D') if modulation == 'J' => Some(Use::Data),
            _ => None,
        }
    }
}

impl FromStr for Designator {
    type Err = DesignatorError;

    fn from_str(text: &str) -> Result<Self, DesignatorError> {
        let text = text.trim();
        let upper = text.to_ascii_uppercase();
        if !(7..=9).contains(&upper.len()) || !upper.bytes().all(|byte| byte.is_ascii_alphanumeric()) {
            return Err(DesignatorError::Shape(text.to_owned()));
        }
        let (bandwidth, class) = upper.split_at(4);
        let bandwidth = read_bandwidth(bandwidth)?;
        let places = [
            ("modulation as first symbol", MODULATIONS),
            ("signal as second symbol", SIGNALS),
            ("kind of information as third symbol", INFORMATION),
        ];
        for (found, (place, table)) in class.chars().zip(places) {
            if !table.iter().any(|(known, _)| *known == found) {
                let known = table.iter().map(|(known, _)| known.to_string()).collect::<Vec<_>>().join(", ");
                return Err(DesignatorError::Symbol { place, found, known });
            }
        }
        Ok(Self { bandwidth, class: class.to_owned() })
    }
}

fn read_bandwidth(text: &str) -> Result<Hertz, DesignatorError> {
    let wrong = || DesignatorError::Bandwidth(text.to_owned());
    let mut letters = text.char_indices().filter(|(_, c)| c.is_ascii_alphabetic());
    let (Some((at, letter)), None) = (letters.next(), letters.next()) else { return Err(wrong()) };
    let (_, factor) = LETTERS.iter().find(|(known, _)| *known == letter).ok_or_else(wrong)?;
    let (whole, fraction) = (&text[..at], &text[at + 1..]);
    let figure: f64 = format!("0{whole}.{fraction}0").parse().map_err(|_| wrong())?;
    let bandwidth = Hertz::new(figure * factor);
    // Below 1 Hz the letter stands first, and zeros may follow it: `H002` is 0.002 Hz.
    if figure == 0.0 {
        return Err(wrong());
    }
    let begins_well = if at == 0 { letter == 'H' } else { !text.starts_with('0') };
    if !begins_well {
        let right = designated(bandwidth).ok_or_else(wrong)?;
        return Err(DesignatorError::Beginning { found: text.to_owned(), right });
    }
    Ok(bandwidth)
}

impl fmt::Display for Designator {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match designated(self.bandwidth) {
            Some(bandwidth) => write!(f, "{bandwidth}{}", self.class),
            None => write!(f, "{} {}", self.bandwidth, self.class),
        }
    }
}

/// A bandwidth as a designator has it, rounded to three digits: 180.4 kHz is `180K`, 180.5 kHz is `181K`.
///
/// `None` below 0.001 Hz and above 999 GHz.
#[must_use]
pub fn designated(bandwidth: Hertz) -> Option<String> {
    let hertz = bandwidth.get();
    if hertz < 1.0 {
        // A half that binary cannot hold must still round up.
        let thousandths = (hertz * 1e3 + 1e-9).round();
        return match thousandths {
            1000.0 => Some("1H00".to_owned()),
            t if t >= 1.0 => Some(format!("H{t:03}")),
            _ => None,
        };
    }
    let round = |value: f64, digits: i32| {
        let scale = 10f64.powi(digits);
        (value * scale * (1.0 + 1e-12)).round() / scale
    };
    for (letter, factor) in LETTERS {
        let value = hertz / factor;
        for (below, digits) in [(10.0, 2), (100.0, 1), (1000.0, 0)] {
            let rounded = round(value, digits);
            if rounded < below {
                let text = format!("{rounded:.*}", usize::try_from(digits).unwrap_or_default());
                let (whole, fraction) = text.split_once('.').unwrap_or((&text, ""));
                return Some(format!("{whole}{letter}{fraction}"));
            }
        }
    }
    None
}

/// The formulas of 47 CFR 2.202(g) for the usual emissions; each gives the necessary bandwidth.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Modulation {
    /// `2M + 2DK`: frequency or phase.
    Frequency {
        /// M, the highest modulating frequency.
        highest: Hertz,
        /// D, the peak deviation.
        deviation: Hertz,
        /// K, a factor without unit: 1 for commercial telephony.
        factor: f64,
    },
    /// `2M`: both sidebands.
    DoubleSideband {
        /// M, the highest modulating frequency.
        highest: Hertz,
    },
    /// `M` less the lowest modulating frequency: one sideband, its carrier suppressed.
    SingleSideband {
        /// The lowest modulating frequency.
        lowest: Hertz,
        /// M, the highest modulating frequency.
        highest: Hertz,
    },
    /// `BK`: a carrier keyed by hand or machine.
    Keyed {
        /// B, the rate in baud.
        baud: f64,
        /// K, a factor without unit: 5 where the circuit fades, else 3.
        factor: f64,
    },
}

impl Modulation {
    /// The necessary bandwidth.
    #[must_use]
    pub fn necessary_bandwidth(self) -> Hertz {
        match self {
            Self::Frequency { highest, deviation, factor } => highest * 2.0 + deviation * (2.0 * factor),
            Self::DoubleSideband { highest } => highest * 2.0,
            Self::SingleSideband { lowest, highest } => highest - lowest,
            Self::Keyed { baud, factor } => Hertz::new(baud * factor),
        }
    }
}

#[cfg(test)]
mod tests;
