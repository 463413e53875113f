//! The header tree of an instrument: from a header as sent to what it means.

use crate::ErrorCode;
use crate::pattern::{Node, Pattern, PatternError, spells};

/// What a header leads to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Found<'a, T> {
    /// The meaning.
    pub entry: &'a T,
    /// One number for each `#` of the pattern, in its order; 1 where the header has none.
    pub suffixes: Vec<u32>,
}

/// Headers and their meanings; built from patterns once, then only searched.
///
/// ```
/// use spurline_scpi::Tree;
///
/// let mut tree = Tree::new();
/// tree.insert("CALCulate#:MARKer#:X[?]", "marker")?;
/// let found = tree.find(&["CALC", "MARKER2", "x"], true).map(|found| (*found.entry, found.suffixes));
/// assert_eq!(found, Ok(("marker", vec![1, 2])));
/// # Ok::<(), spurline_scpi::PatternError>(())
/// ```
#[derive(Clone, Debug)]
pub struct Tree<T> {
    entries: Vec<T>,
    patterns: Vec<String>,
    nodes: Vec<TreeNode>,
}

#[derive(Clone, Debug, Default)]
struct TreeNode {
    children: Vec<Child>,
    command: Option<Leaf>,
    query: Option<Leaf>,
}

#[derive(Clone, Debug)]
struct Child {
    name: String,
    numbered: bool,
    node: usize,
}

#[derive(Clone, Debug)]
struct Leaf {
    entry: usize,
    slots: usize,
    /// Which suffix of the pattern each numbered node on the way here is.
    filled: Vec<usize>,
}

impl<T> Default for Tree<T> {
    fn default() -> Self {
        Self::new()
    }
}

impl<T> Tree<T> {
    /// A tree without headers.
    #[must_use]
    pub fn new() -> Self {
        Self { entries: Vec::new(), patterns: Vec::new(), nodes: vec![TreeNode::default()] }
    }

    /// Adds a header; the notation is that of the SCPI command tables, with `?` for query only and `[?]` for both.
    ///
    /// # Errors
    /// When the pattern is malformed, or one of its spellings is in the tree already; such a tree is not to be used.
    pub fn insert(&mut self, pattern: &str, entry: T) -> Result<(), PatternError> {
        let parsed = Pattern::parse(pattern)?;
        let index = self.entries.len();
        self.entries.push(entry);
        self.patterns.push(pattern.to_owned());
        for spelling in &parsed.spellings {
            let leaf = Leaf {
                entry: index,
                slots: parsed.slots,
                filled: spelling.iter().filter_map(|node| node.slot).collect(),
            };
            let node = spelling.iter().fold(0, |at, node| self.child(at, *node));
            let node = &mut self.nodes[node];
            for (wanted, place) in [(parsed.command, &mut node.command), (parsed.query, &mut node.query)] {
                if wanted && place.replace(leaf.clone()).is_some() {
                    return Err(PatternError::Taken { pattern: pattern.to_owned() });
                }
            }
        }
        Ok(())
    }

    /// The patterns in the order in which they were added.
    pub fn patterns(&self) -> impl Iterator<Item = &str> {
        self.patterns.iter().map(String::as_str)
    }

    /// The meaning of a header, given as mnemonics from the root.
    ///
    /// # Errors
    /// -113 for a header that is not in the tree, -114 for a numeric suffix beyond 32 bits. Whether a suffix is in
    /// the instrument's range is for the meaning to say.
    pub fn find<S: AsRef<str>>(&self, path: &[S], query: bool) -> Result<Found<'_, T>, ErrorCode> {
        let mut search = Search { tree: self, query, suffixes: Vec::new(), beyond: false };
        let Some(leaf) = search.walk(0, path) else {
            return Err(if search.beyond {
                ErrorCode::HEADER_SUFFIX_OUT_OF_RANGE
            } else {
                ErrorCode::UNDEFINED_HEADER
            });
        };
        let mut suffixes = vec![1; leaf.slots];
        for (slot, suffix) in leaf.filled.iter().zip(&search.suffixes) {
            suffixes[*slot] = *suffix;
        }
        Ok(Found { entry: &self.entries[leaf.entry], suffixes })
    }

    fn child(&mut self, at: usize, node: Node<'_>) -> usize {
        let numbered = node.slot.is_some();
        let known = self.nodes[at].children.iter().find(|c| c.name == node.name && c.numbered == numbered);
        if let Some(child) = known {
            return child.node;
        }
        let index = self.nodes.len();
        self.nodes.push(TreeNode::default());
        self.nodes[at].children.push(Child { name: node.name.to_owned(), numbered, node: index });
        index
    }
}

struct Search<'a, T> {
    tree: &'a Tree<T>,
    query: bool,
    suffixes: Vec<u32>,
    /// A numeric suffix was too large to be read.
    beyond: bool,
}

impl<'a, T> Search<'a, T> {
    fn walk<S: AsRef<str>>(&mut self, at: usize, path: &[S]) -> Option<&'a Leaf> {
        let node = &self.tree.nodes[at];
        let Some((word, rest)) = path.split_first() else {
            return if self.query { node.query.as_ref() } else { node.command.as_ref() };
        };
        for child in &node.children {
            let depth = self.suffixes.len();
            if self.matches(child, word.as_ref())
                && let Some(leaf) = self.walk(child.node, rest)
            {
                return Some(leaf);
            }
            self.suffixes.truncate(depth);
        }
        None
    }

    fn matches(&mut self, child: &Child, word: &str) -> bool {
        if !child.numbered {
            return spells(&child.name, word);
        }
        if spells(&child.name, word) {
            self.suffixes.push(1);
            return true;
        }
        let name = word.trim_end_matches(|c: char| c.is_ascii_digit());
        if !spells(&child.name, name) {
            return false;
        }
        let suffix: Option<u32> = word[name.len()..].parse().ok();
        self.beyond |= suffix.is_none();
        self.suffixes.extend(suffix);
        suffix.is_some()
    }
}

#[cfg(test)]
mod traversal;

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    const PATTERNS: [&str; 9] = [
        "*IDN?",
        "[SENSe:]FREQuency:CENTer[?]",
        "[SENSe:]BANDwidth|BWIDth[:RESolution][?]",
        "INITiate[:IMMediate][:ALL]",
        "INITiate:CONTinuous[?]",
        "CALCulate#:MARKer#:X[?]",
        "CALCulate#:MARKer#:Y?",
        "[SENSe#:]SWEep#:TIME[?]",
        "SYSTem:ERRor[:NEXT]?",
    ];

    fn tree() -> Tree<usize> {
        let mut tree = Tree::new();
        for (i, pattern) in PATTERNS.iter().enumerate() {
            tree.insert(pattern, i).unwrap();
        }
        tree
    }

    fn look_up(header: &str) -> Result<(usize, Vec<u32>), i16> {
        let (path, query) = header.strip_suffix('?').map_or((header, false), |path| (path, true));
        let path: Vec<&str> = path.split(':').collect();
        tree().find(&path, query).map(|f| (*f.entry, f.suffixes)).map_err(ErrorCode::number)
    }

    /// Optional nodes, forms and suffixes: SCPI-1999 volume 1, clauses 6.2.1, 6.2.3 and 6.2.5, from memory; -113 and
    /// -114: clause 21.8.9.
    #[test]
    fn headers() {
        for (header, expected) in [
            ("*IDN?", Ok((0, vec![]))),
            ("*idn?", Ok((0, vec![]))),
            ("*IDN", Err(-113)),
            ("FREQ:CENT", Ok((1, vec![]))),
            ("SENSE:FREQuency:center?", Ok((1, vec![]))),
            ("FREQU:CENT", Err(-113)),
            ("FREQ", Err(-113)),
            ("FREQ:CENT:X", Err(-113)),
            ("SENS1:FREQ:CENT", Err(-113)),
            ("BAND", Ok((2, vec![]))),
            ("BWID:RES?", Ok((2, vec![]))),
            ("INIT", Ok((3, vec![]))),
            ("INIT:ALL", Ok((3, vec![]))),
            ("INIT:IMM:ALL", Ok((3, vec![]))),
            ("INIT?", Err(-113)),
            ("INIT:CONT?", Ok((4, vec![]))),
            ("CALC:MARK:X", Ok((5, vec![1, 1]))),
            ("CALC1:MARK1:X", Ok((5, vec![1, 1]))),
            ("CALC2:MARKER34:Y?", Ok((6, vec![2, 34]))),
            ("CALC:MARK0:X", Ok((5, vec![1, 0]))),
            ("CALC:MARK99999999999:X", Err(-114)),
            ("CALC:MAR2:X", Err(-113)),
            ("SWE3:TIME", Ok((7, vec![1, 3]))),
            ("SENS2:SWE:TIME", Ok((7, vec![2, 1]))),
            ("SYST:ERR?", Ok((8, vec![]))),
        ] {
            assert_eq!(look_up(header), expected, "{header}");
        }
    }

    #[test]
    fn a_header_has_one_meaning() {
        let taken = tree().insert("INITiate:ALL", 99).unwrap_err();
        assert_eq!(taken, PatternError::Taken { pattern: "INITiate:ALL".to_owned() });
        assert!(tree().insert("INITiate:ALL?", 99).is_ok());
    }

    #[test]
    fn a_wrong_turn_leaves_no_suffix_behind() {
        let mut tree = Tree::new();
        tree.insert("MARKer#:X", 'x').unwrap();
        tree.insert("MARKer:Z#", 'z').unwrap();
        assert_eq!(tree.find(&["MARK", "Z7"], false), Ok(Found { entry: &'z', suffixes: vec![7] }));
    }

    proptest! {
        /// Long or short, any case, optional nodes written or not: all of them mean the same.
        #[test]
        fn forms_are_equal(which in 1_usize..PATTERNS.len(), choices in prop::collection::vec(any::<[bool; 3]>(), 8),
                           spelling in any::<prop::sample::Index>()) {
            let pattern = Pattern::parse(PATTERNS[which]).unwrap();
            let nodes = &pattern.spellings[spelling.index(pattern.spellings.len())];
            let path: Vec<String> = nodes.iter().zip(&choices).map(|(node, [short, lower, number])| {
                let name = if *short { crate::short_form(node.name) } else { node.name };
                let name = if *lower { name.to_ascii_lowercase() } else { name.to_ascii_uppercase() };
                if *number && node.slot.is_some() { format!("{name}1") } else { name }
            }).collect();
            let tree = tree();
            let found = tree.find(&path, !pattern.command).unwrap();
            prop_assert_eq!((*found.entry, found.suffixes), (which, vec![1; pattern.slots]));
        }
    }
}
