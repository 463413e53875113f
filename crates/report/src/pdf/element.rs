//! What stands on the sheets as a tree, for those who have it read to them: headings, paragraphs, tables, figures.

use std::num::NonZeroU16;

use krilla::tagging::{Identifier, ListNumbering, Node, TableHeaderScope, Tag, TagGroup, TagKind, TagTree};

/// What a piece is.
#[derive(Clone, Debug)]
pub(crate) enum Role {
    Heading(u16, String),
    Paragraph,
    List,
    Item,
    ItemBody,
    Table,
    Row,
    HeadOfColumn,
    HeadOfRow,
    Cell,
    Figure(String),
}

/// The place of an element in the list of all.
pub(crate) type ElementId = usize;

struct Element {
    role: Role,
    inner: Vec<Inner>,
}

enum Inner {
    Element(ElementId),
    Marked(Identifier),
}

/// All elements in the order in which they are read.
#[derive(Default)]
pub(crate) struct Elements {
    all: Vec<Element>,
    outermost: Vec<ElementId>,
}

impl Elements {
    /// A new element, in another one or outermost.
    pub(crate) fn open(&mut self, role: Role, within: Option<ElementId>) -> ElementId {
        let id = self.all.len();
        self.all.push(Element { role, inner: Vec::new() });
        match within {
            Some(outer) => self.all[outer].inner.push(Inner::Element(id)),
            None => self.outermost.push(id),
        }
        id
    }

    /// Something that was drawn belongs to an element.
    pub(crate) fn mark(&mut self, id: ElementId, what: Identifier) {
        self.all[id].inner.push(Inner::Marked(what));
    }

    /// The tree of all.
    pub(crate) fn tree(&self) -> TagTree {
        let mut tree = TagTree::new().with_lang(Some("en".to_owned()));
        for id in &self.outermost {
            tree.push(self.group(*id));
        }
        tree
    }

    fn group(&self, id: ElementId) -> TagGroup {
        let element = &self.all[id];
        let children = element.inner.iter().map(|inner| match inner {
            Inner::Element(id) => Node::Group(self.group(*id)),
            Inner::Marked(what) => Node::Leaf(*what),
        });
        TagGroup::with_children(element.role.tag(), children.collect())
    }
}

impl Role {
    fn tag(&self) -> TagKind {
        match self {
            Self::Heading(level, title) => {
                let level = NonZeroU16::new(*level).unwrap_or(NonZeroU16::MIN);
                Tag::Hn(level, Some(title.clone())).into()
            }
            Self::Paragraph => Tag::P.into(),
            Self::List => Tag::L(ListNumbering::Disc).into(),
            Self::Item => Tag::LI.into(),
            Self::ItemBody => Tag::LBody.into(),
            Self::Table => Tag::Table.into(),
            Self::Row => Tag::TR.into(),
            Self::HeadOfColumn => Tag::TH(TableHeaderScope::Column).into(),
            Self::HeadOfRow => Tag::TH(TableHeaderScope::Row).into(),
            Self::Cell => Tag::TD.into(),
            Self::Figure(label) => Tag::Figure(Some(label.clone())).into(),
        }
    }
}
