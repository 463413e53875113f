//! Spellings: the text that makes an instrument do one thing.

use spurline_document::{Fields, Node, Reader};

/// The spelling of one command; `{}` stands for its value in base units.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Spelling(String);

impl Spelling {
    /// The text without a value.
    #[must_use]
    pub fn plain(&self) -> &str {
        &self.0
    }

    /// The text with a value in the place of `{}`.
    #[must_use]
    pub fn with(&self, value: impl std::fmt::Display) -> String {
        self.0.replacen("{}", &value.to_string(), 1)
    }

    fn read(reader: &mut Reader, node: &Node, takes_value: bool) -> Option<Self> {
        let text = reader.text(node, "a command as the instrument understands it")?;
        let places = text.matches("{}").count();
        if !text.is_ascii() || text.contains(['\n', '\r']) {
            reader.mistake(node.span, format!("expected plain ASCII text on one line, found `{text}`"));
            return None;
        }
        if places != usize::from(takes_value) {
            let wanted = if takes_value { "one `{}` for its value" } else { "no `{}`" };
            reader.mistake(node.span, format!("expected a command with {wanted}, found `{text}`"));
            return None;
        }
        Some(Self(text.to_owned()))
    }
}

/// A closed set of commands that one kind of instrument is asked for.
pub trait CommandSet: Copy + PartialEq + 'static {
    /// All of them, with their key in a profile and whether they take a value.
    const ALL: &'static [(Self, &'static str, bool)];
}

/// The spelling of every command of a set.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Commands<C>(Vec<(C, Spelling)>);

impl<C: CommandSet> Commands<C> {
    /// The spelling of one command.
    #[must_use]
    pub fn spelling(&self, command: C) -> &Spelling {
        let found = self.0.iter().find(|(known, _)| *known == command);
        &found.expect("a profile that was read has every command of its set").1
    }

    pub(crate) fn read(reader: &mut Reader, node: &Node) -> Option<Self> {
        let mut fields: Fields<'_> = reader.fields(node, "the commands")?;
        let mut spellings = Vec::new();
        for (command, key, takes_value) in C::ALL {
            let spelling =
                fields.required(reader, key).and_then(|node| Spelling::read(reader, node, *takes_value));
            spellings.extend(spelling.map(|spelling| (*command, spelling)));
        }
        fields.close(reader);
        (spellings.len() == C::ALL.len()).then_some(Self(spellings))
    }
}

/// Declares a closed set of commands with their keys.
macro_rules! command_set {
    ($(#[$doc:meta])* $set:ident { $($(#[$each:meta])* $name:ident => $key:literal $(($value:ident))?,)+ }) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq)]
        pub enum $set {
            $($(#[$each])* $name,)+
        }

        impl crate::command::CommandSet for $set {
            const ALL: &'static [(Self, &'static str, bool)] =
                &[$((Self::$name, $key, command_set!(@takes $($value)?)),)+];
        }
    };
    (@takes value) => { true };
    (@takes) => { false };
}
pub(crate) use command_set;
