//! How a value stands to a boundary, in the words a rule file uses.

use std::cmp::Ordering;

/// One ordering test; which words name it depends on what is compared.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Comparison {
    /// Less than; for dates `before`.
    Below,
    /// Less or equal.
    AtMost,
    /// More than; for dates `after`.
    Above,
    /// More or equal.
    AtLeast,
    /// Equal.
    Is,
    /// Not equal; only ever the opposite of [`Comparison::Is`] in a sentence.
    IsNot,
}

/// The words for frequencies and powers.
pub(crate) const QUANTITY_WORDS: &[(&str, Comparison)] = &[
    ("below", Comparison::Below),
    ("at_most", Comparison::AtMost),
    ("above", Comparison::Above),
    ("at_least", Comparison::AtLeast),
    ("is", Comparison::Is),
];

/// The words for dates. There is no `is`: no rule turns on a single day, and a bare year could not answer it.
pub(crate) const DATE_WORDS: &[(&str, Comparison)] = &[
    ("before", Comparison::Below),
    ("on_or_before", Comparison::AtMost),
    ("after", Comparison::Above),
    ("on_or_after", Comparison::AtLeast),
];

impl Comparison {
    /// Whether a value that stands so to the boundary passes.
    pub(crate) const fn holds(self, ordering: Ordering) -> bool {
        match self {
            Self::Below => ordering.is_lt(),
            Self::AtMost => ordering.is_le(),
            Self::Above => ordering.is_gt(),
            Self::AtLeast => ordering.is_ge(),
            Self::Is => ordering.is_eq(),
            Self::IsNot => ordering.is_ne(),
        }
    }

    /// The test that passes exactly where this one does not.
    pub(crate) const fn opposite(self) -> Self {
        match self {
            Self::Below => Self::AtLeast,
            Self::AtMost => Self::Above,
            Self::Above => Self::AtMost,
            Self::AtLeast => Self::Below,
            Self::Is => Self::IsNot,
            Self::IsNot => Self::Is,
        }
    }

    /// The words between `is` and the boundary.
    pub(crate) const fn phrase(self, of_dates: bool) -> &'static str {
        match (self, of_dates) {
            (Self::Below, false) => "below",
            (Self::AtMost, false) => "at most",
            (Self::Above, false) => "above",
            (Self::AtLeast, false) => "at least",
            (Self::Below, true) => "before",
            (Self::AtMost, true) => "on or before",
            (Self::Above, true) => "after",
            (Self::AtLeast, true) => "on or after",
            (Self::Is, _) => "exactly",
            (Self::IsNot, _) => "not",
        }
    }
}
