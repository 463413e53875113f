//! A way from the unit's connector to an instrument: its parts, and how the path is switched for it.

use spurline_document::Span;
use spurline_path::{Part, Path};

/// A row of parts.
#[derive(Clone, Debug)]
pub struct Branch {
    /// The parts, the one at the transmitter first.
    pub path: Path,
    /// Where each part is written.
    pub places: Vec<Place>,
}

/// Where something is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Place {
    /// In the plan.
    Plan(Span),
    /// In the bench file.
    Bench(Span),
}

/// A named way to the analyser.
#[derive(Clone, Debug)]
pub struct Way {
    /// Its name, as plans and readings give it.
    pub name: String,
    /// Its parts.
    pub branch: Branch,
    /// The position of every switch on it.
    pub set: Vec<SwitchSet>,
    /// Whether the unit may be keyed on it.
    pub keyed: bool,
    /// Whether the unit is on a load there, and nothing of it comes this way but what leaks.
    pub into_load: bool,
}

/// One switch in one of its positions.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SwitchSet {
    /// The name of the switch.
    pub name: String,
    /// The name of its position.
    pub position: String,
    /// The relay card: its place among the bench's cards.
    pub card: usize,
    /// All contacts of the switch, and whether each is closed in this position.
    pub contacts: Vec<(u32, bool)>,
}

impl Branch {
    pub(crate) fn new(parts: impl IntoIterator<Item = (Part, Span)>) -> Self {
        let parts = parts.into_iter().map(|(part, span)| (part, Place::Bench(span)));
        let (parts, places) = parts.unzip();
        Self { path: Path { parts }, places }
    }

    /// Puts a part before all others.
    pub(crate) fn put_first(&mut self, part: Part, place: Place) {
        self.path.parts.insert(0, part);
        self.places.insert(0, place);
    }
}

impl Way {
    /// The contacts of each card, by the card's place among the bench's cards.
    #[must_use]
    pub fn contacts_of(&self, card: usize) -> Vec<(u32, bool)> {
        let switches = self.set.iter().filter(|set| set.card == card);
        switches.flat_map(|set| set.contacts.iter().copied()).collect()
    }
}
