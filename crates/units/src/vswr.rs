//! The standing wave ratio of a port.

use std::str::FromStr;

use thiserror::Error;

use crate::spelling::respelled;

/// A voltage standing wave ratio: from 1 (a perfect match) to 1000, which is a short or an open end.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct Vswr(f64);

/// Why a text is not a standing wave ratio. A second line of the message is advice.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error("expected a VSWR from 1 to 1000, found {found}\n{advice}")]
pub struct VswrError {
    found: String,
    advice: String,
}

impl Vswr {
    /// The ratio; `None` unless it is from 1 to 1000.
    #[must_use]
    pub fn new(ratio: f64) -> Option<Self> {
        (1.0..=1000.0).contains(&ratio).then_some(Self(ratio))
    }

    /// The ratio.
    #[must_use]
    pub const fn get(self) -> f64 {
        self.0
    }

    /// The magnitude of the reflection behind it, from 0 to 1.
    #[must_use]
    pub fn reflection(self) -> f64 {
        (self.0 - 1.0) / (self.0 + 1.0)
    }
}

impl FromStr for Vswr {
    type Err = VswrError;

    fn from_str(text: &str) -> Result<Self, VswrError> {
        let text = text.trim();
        let advice = || match meant(text) {
            Some(number) => format!("write the ratio as one plain number: `{number}`"),
            None => "write a plain number; 1 is a perfect match".to_owned(),
        };
        number(text).ok_or_else(|| VswrError { found: text.to_owned(), advice: advice() })
    }
}

fn number(text: &str) -> Option<Vswr> {
    text.parse().ok().and_then(Vswr::new)
}

/// `1.2:1` and `1,2` are 1.2.
fn meant(text: &str) -> Option<String> {
    let ratio = text.split_once(':').map_or(text, |parts| match (parts.0.trim(), parts.1.trim()) {
        (ratio, "1") | ("1", ratio) => ratio,
        _ => text,
    });
    let plain = respelled(ratio).into_iter().chain([ratio.to_owned()]);
    plain.into_iter().find(|plain| number(plain).is_some())
}
