//! The elements of one unit: a list, or a text between commas that becomes one only when somebody looks.
//!
//! A trace as text is a hundred thousand numbers, each an element with a share in the bytes; a reader of numbers needs
//! none of them.

use std::ops::{Deref, DerefMut};
use std::sync::OnceLock;

use bytes::Bytes;

use crate::Element;

/// Elements in order; a slice to whoever looks.
#[derive(Clone, Debug)]
pub struct Elements(Kept);

#[derive(Clone, Debug)]
enum Kept {
    List(Vec<Element>),
    /// Bare texts only, with what it was split into once somebody has looked.
    Run(Bytes, OnceLock<Vec<Element>>),
}

impl Elements {
    /// Bare texts between commas; none of them starts with a quote or a block.
    pub(crate) fn from_run(text: Bytes) -> Self {
        Self(Kept::Run(text, OnceLock::new()))
    }

    /// The text between commas, if it is kept as one.
    pub(crate) fn run(&self) -> Option<&[u8]> {
        match &self.0 {
            Kept::List(_) => None,
            Kept::Run(text, _) => Some(text),
        }
    }

    /// Appends one.
    pub fn push(&mut self, element: Element) {
        self.list().push(element);
    }

    /// Drops all behind the first `length`.
    pub fn truncate(&mut self, length: usize) {
        self.list().truncate(length);
    }

    /// All of them.
    #[must_use]
    pub fn into_vec(self) -> Vec<Element> {
        match self.0 {
            Kept::List(list) => list,
            Kept::Run(text, list) => list.into_inner().unwrap_or_else(|| split(&text)),
        }
    }

    /// To be changed, so that the text no longer tells what is there.
    fn list(&mut self) -> &mut Vec<Element> {
        if let Kept::Run(..) = self.0 {
            self.0 = Kept::List(std::mem::take(self).into_vec());
        }
        match &mut self.0 {
            Kept::List(list) => list,
            Kept::Run(..) => unreachable!("it was made a list just now"),
        }
    }
}

/// Without the blanks around a text, as they are told in an answer: every byte up to the space.
pub(crate) fn bare(text: &[u8]) -> &[u8] {
    let blank = |byte: &u8| *byte <= b' ';
    let start = text.iter().position(|byte| !blank(byte)).unwrap_or(text.len());
    let end = text.iter().rposition(|byte| !blank(byte)).map_or(start, |last| last + 1);
    &text[start..end]
}

fn split(text: &Bytes) -> Vec<Element> {
    text.split(|&byte| byte == b',').map(|field| Element::Text(text.slice_ref(bare(field)))).collect()
}

impl Default for Elements {
    fn default() -> Self {
        Self(Kept::List(Vec::new()))
    }
}

impl Deref for Elements {
    type Target = [Element];

    fn deref(&self) -> &[Element] {
        match &self.0 {
            Kept::List(list) => list,
            Kept::Run(text, list) => list.get_or_init(|| split(text)),
        }
    }
}

impl DerefMut for Elements {
    fn deref_mut(&mut self) -> &mut [Element] {
        self.list()
    }
}

impl PartialEq for Elements {
    fn eq(&self, other: &Self) -> bool {
        self[..] == other[..]
    }
}

impl Eq for Elements {}

impl From<Vec<Element>> for Elements {
    fn from(list: Vec<Element>) -> Self {
        Self(Kept::List(list))
    }
}

impl FromIterator<Element> for Elements {
    fn from_iter<I: IntoIterator<Item = Element>>(elements: I) -> Self {
        elements.into_iter().collect::<Vec<_>>().into()
    }
}

impl IntoIterator for Elements {
    type Item = Element;
    type IntoIter = std::vec::IntoIter<Element>;

    fn into_iter(self) -> Self::IntoIter {
        self.into_vec().into_iter()
    }
}

impl<'a> IntoIterator for &'a Elements {
    type Item = &'a Element;
    type IntoIter = std::slice::Iter<'a, Element>;

    fn into_iter(self) -> Self::IntoIter {
        self.iter()
    }
}

impl<'a> IntoIterator for &'a mut Elements {
    type Item = &'a mut Element;
    type IntoIter = std::slice::IterMut<'a, Element>;

    fn into_iter(self) -> Self::IntoIter {
        self.iter_mut()
    }
}
