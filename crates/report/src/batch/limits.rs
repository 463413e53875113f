//! What the units of one reading were held against. Nobody can say that it was the same for all: rules, windows and the power
//! that a limit follows differ, and a margin says nothing without the limit that it was taken to.

use spurline_record::Limit;
use spurline_units::Dbm;

use super::Dot;
use crate::{figures, limit};

/// So many limits are written one by one.
const FEW: usize = 2;

/// The limits of all units of one reading.
pub(super) struct Limits {
    /// All of them in words.
    pub(super) words: String,
    /// Each level once, the lowest first, dBm.
    pub(super) levels: Vec<f64>,
    /// Whether two units have another one.
    pub(super) differ: bool,
    /// Whether each is a window.
    pub(super) windows: bool,
}

impl Limits {
    pub(super) fn of(all: &[Option<&Limit>]) -> Self {
        let mut levels: Vec<f64> = all.iter().flat_map(|one| limit::levels(*one)).collect();
        levels.sort_by(f64::total_cmp);
        levels.dedup();
        let mut words: Vec<String> = Vec::new();
        for one in all {
            let shown = one.map_or_else(|| "none".to_owned(), |one| figures::limit(Some(one)));
            if !words.contains(&shown) {
                words.push(shown);
            }
        }
        let differ = words.len() > 1;
        words.sort();
        let uppers = all.iter().all(|one| matches!(one, Some(Limit::Upper { .. })));
        let words = match (levels.as_slice(), words.as_slice()) {
            (_, [one]) if one == "none" => "–".to_owned(),
            (_, [one]) => one.clone(),
            ([low, .., high], _) if uppers => {
                format!("{:.2} to {}, by run", low, Dbm::new(*high))
            }
            (_, some) if some.len() <= FEW => format!("{}, by run", some.join(" or ")),
            (_, some) => format!("{} limits, by run", some.len()),
        };
        let windows = !all.is_empty() && all.iter().all(|one| limit::levels(*one).len() == 2);
        Self { words, levels, differ, windows }
    }
}

/// Which limit a margin was taken to, and by which rule.
pub(super) fn against(dot: &Dot) -> String {
    format!("{} by {}", dot.limit, dot.rule)
}
