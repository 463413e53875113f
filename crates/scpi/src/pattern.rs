//! Header patterns in the notation of the SCPI command tables, and the two spellings of a mnemonic.
//!
//! `[SENSe:]FREQuency:CENTer[?]`: capitals are the short form, brackets may be left out, `|` separates two names of
//! one node, `#` allows a numeric suffix. A trailing `?` means query only, `[?]` both, nothing command only.

/// Why a pattern is not one.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum PatternError {
    /// Not in the notation.
    #[error("expected a header pattern such as `[SENSe:]FREQuency:CENTer[?]`, found `{pattern}`")]
    Malformed {
        /// The pattern.
        pattern: String,
    },
    /// Some spelling of it has a meaning already.
    #[error("expected a header that is not in the tree yet, found `{pattern}`")]
    Taken {
        /// The pattern.
        pattern: String,
    },
}

/// The short form of a mnemonic pattern: everything before its first lower-case letter.
#[must_use]
pub fn short_form(pattern: &str) -> &str {
    let end = pattern.find(|c: char| c.is_ascii_lowercase()).unwrap_or(pattern.len());
    &pattern[..end]
}

/// Whether `word` is the long or the short form of `pattern`, in any case; nothing in between is legal.
#[must_use]
pub fn spells(pattern: &str, word: &str) -> bool {
    word.eq_ignore_ascii_case(pattern) || word.eq_ignore_ascii_case(short_form(pattern))
}

/// One node of one way to spell a header.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Node<'a> {
    pub(crate) name: &'a str,
    /// Which of the pattern's suffixes stands here.
    pub(crate) slot: Option<usize>,
}

#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Pattern<'a> {
    /// Every way to spell the header: optional nodes left out or not, each of the alternative names.
    pub(crate) spellings: Vec<Vec<Node<'a>>>,
    /// How many numeric suffixes it has.
    pub(crate) slots: usize,
    pub(crate) command: bool,
    pub(crate) query: bool,
}

impl<'a> Pattern<'a> {
    pub(crate) fn parse(pattern: &'a str) -> Result<Self, PatternError> {
        Self::read(pattern).ok_or_else(|| PatternError::Malformed { pattern: pattern.to_owned() })
    }

    fn read(pattern: &'a str) -> Option<Self> {
        let (header, command, query) = if let Some(header) = pattern.strip_suffix("[?]") {
            (header, true, true)
        } else if let Some(header) = pattern.strip_suffix('?') {
            (header, false, true)
        } else {
            (pattern, true, false)
        };
        if let Some(name) = header.strip_prefix('*') {
            let fits = !name.is_empty() && name.bytes().all(|b| b.is_ascii_uppercase());
            let spellings = vec![vec![Node { name: header, slot: None }]];
            return fits.then_some(Self { spellings, slots: 0, command, query });
        }
        let bare: String = header.chars().filter(|c| !matches!(c, '[' | ']')).collect();
        if bare.strip_prefix(':').unwrap_or(&bare).split(':').any(str::is_empty) {
            return None;
        }
        let mut slots = 0;
        let mut spellings = vec![Vec::new()];
        for (group, optional) in groups(header)? {
            let without = if optional { spellings.clone() } else { Vec::new() };
            for node in group.split(':').filter(|node| !node.is_empty()) {
                spellings = extended(&spellings, node, &mut slots)?;
            }
            spellings.extend(without);
        }
        let fits = spellings.len() <= MOST_SPELLINGS && spellings.iter().all(|nodes| !nodes.is_empty());
        fits.then_some(Self { spellings, slots, command, query })
    }
}

/// Far more than any header needs; keeps a slip in a pattern from exploding.
const MOST_SPELLINGS: usize = 256;

/// Every spelling so far, followed by each name of `node`.
fn extended<'a>(spellings: &[Vec<Node<'a>>], node: &'a str, slots: &mut usize) -> Option<Vec<Vec<Node<'a>>>> {
    let numbered = node.contains('#');
    let slot = numbered.then_some(*slots);
    *slots += usize::from(numbered);
    let mut longer = Vec::new();
    for name in node.split('|') {
        let name = if numbered { name.strip_suffix('#')? } else { name };
        let short = short_form(name);
        let rest_is_lower = name[short.len()..].bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit());
        let short_is_upper = short.bytes().all(|b| b.is_ascii_uppercase() || b.is_ascii_digit());
        if !(short.starts_with(|c: char| c.is_ascii_uppercase()) && short_is_upper && rest_is_lower) {
            return None;
        }
        longer.extend(spellings.iter().map(|nodes| [&nodes[..], &[Node { name, slot }]].concat()));
    }
    (longer.len() <= MOST_SPELLINGS).then_some(longer)
}

/// Cuts `A[:B]:C` into runs that are optional or not. Brackets do not nest and stand at node borders.
fn groups(header: &str) -> Option<Vec<(&str, bool)>> {
    let mut groups = Vec::new();
    let mut rest = header;
    while !rest.is_empty() {
        let (group, optional, after) = match rest.strip_prefix('[') {
            Some(inner) => {
                let (group, after) = inner.split_once(']')?;
                let at_border = group.starts_with(':') != group.ends_with(':');
                (group, true, Some(after).filter(|_| at_border && !group.contains('['))?)
            }
            None => {
                let end = rest.find('[').unwrap_or(rest.len());
                (&rest[..end], false, &rest[end..])
            }
        };
        if group.contains(']') {
            return None;
        }
        groups.push((group, optional));
        rest = after;
    }
    Some(groups)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn spellings(pattern: &str) -> Vec<String> {
        let pattern = Pattern::parse(pattern).unwrap();
        let join = |nodes: &Vec<Node<'_>>| nodes.iter().map(|n| n.name).collect::<Vec<_>>().join(":");
        let mut all: Vec<String> = pattern.spellings.iter().map(join).collect();
        all.sort();
        all
    }

    /// Notation: SCPI-1999 volume 1, clause 5.1 and 6.2.1, from memory.
    #[test]
    fn optional_nodes_and_alternatives() {
        assert_eq!(spellings("[SENSe:]FREQuency:CENTer"), ["FREQuency:CENTer", "SENSe:FREQuency:CENTer"]);
        assert_eq!(
            spellings("INITiate[:IMMediate][:ALL]"),
            ["INITiate", "INITiate:ALL", "INITiate:IMMediate", "INITiate:IMMediate:ALL"]
        );
        assert_eq!(spellings("BANDwidth|BWIDth:VIDeo"), ["BANDwidth:VIDeo", "BWIDth:VIDeo"]);
        assert_eq!(spellings("*IDN?"), ["*IDN"]);
    }

    #[test]
    fn forms() {
        let form = |pattern| Pattern::parse(pattern).map(|p| (p.command, p.query, p.slots)).unwrap();
        assert_eq!(form("ABORt"), (true, false, 0));
        assert_eq!(form("SYSTem:ERRor[:NEXT]?"), (false, true, 0));
        assert_eq!(form("CALCulate#:MARKer#:X[?]"), (true, true, 2));
    }

    #[test]
    fn malformed() {
        for pattern in
            ["", ":", "A::B", "[A]", "A[B]", "A[:B", "A]:B", "A[:B[:C]]", "abc", "ABcD", "*", "*idn", "A#B"]
        {
            let expected = PatternError::Malformed { pattern: pattern.to_owned() };
            assert_eq!(Pattern::parse(pattern).unwrap_err(), expected, "{pattern}");
        }
    }

    /// Examples of SCPI-1999 volume 1, clause 6.2.1: only the two forms are legal, in any case.
    #[test]
    fn two_spellings() {
        for (word, legal) in [
            ("FREQ", true),
            ("freq", true),
            ("FREQUENCY", true),
            ("Frequency", true),
            ("FREQU", false),
            ("FRE", false),
        ] {
            assert_eq!(spells("FREQuency", word), legal, "{word}");
        }
        assert_eq!(short_form("TIME"), "TIME");
    }
}
