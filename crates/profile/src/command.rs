//! Spellings: the text that makes an instrument do one thing.

use spurline_document::{Fields, Node, Reader};
use spurline_scpi::Message;

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

    fn read(reader: &mut Reader, node: &Node, shape: Shape) -> Option<Self> {
        let text = reader.text(node, "a command as the instrument understands it")?;
        let places = text.matches("{}").count();
        if !text.is_ascii() || text.contains(['\n', '\r']) {
            reader.mistake(node.span, format!("expected plain ASCII text on one line, found `{text}`"));
            return None;
        }
        if places != usize::from(shape.takes_value) {
            let wanted = if shape.takes_value { "one `{}` for its value" } else { "no `{}`" };
            reader.mistake(node.span, format!("expected a command with {wanted}, found `{text}`"));
            return None;
        }
        let spelling = Self(text.to_owned());
        match shape.fits(&spelling.with(1)) {
            Ok(()) => Some(spelling),
            Err(what) => {
                reader
                    .mistake(node.span, what)
                    .hint("the header of a question ends with `?`; parts are joined by `;:`");
                None
            }
        }
    }
}

/// What a spelling must be made of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Shape {
    /// Whether a value stands in it.
    pub takes_value: bool,
    /// How many answers it brings.
    pub answers: usize,
    /// Whether a profile may be without it.
    pub optional: bool,
    /// Whether it asks and does nothing else: such a spelling may be tried on what could feed, switch or key.
    pub only_asks: bool,
}

impl Shape {
    fn fits(self, spelled: &str) -> Result<(), String> {
        let message = Message::new().compound(spelled).map_err(|error| error.to_string())?;
        let (queries, units) = (message.queries(), message.units().count());
        let answers = |count: usize| match count {
            0 => "no question".to_owned(),
            1 => "one question".to_owned(),
            several => format!("{several} questions"),
        };
        if queries != self.answers {
            let (wanted, found) = (answers(self.answers), answers(queries));
            return Err(format!("expected {wanted} in it, found {found}: `{spelled}`"));
        }
        if self.only_asks && units != queries {
            return Err(format!("expected nothing but questions, found `{spelled}`"));
        }
        Ok(())
    }
}

/// A closed set of commands that one kind of instrument is asked for.
pub trait CommandSet: Copy + PartialEq + 'static {
    /// All of them, with their key in a profile and what each must be made of.
    const ALL: &'static [(Self, &'static str, Shape)];
}

/// The spelling of every command of a set.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Commands<C>(Vec<(C, Spelling)>);

impl<C: CommandSet> Commands<C> {
    /// The spelling of one command.
    ///
    /// # Panics
    ///
    /// If a profile may be without it and this one is; ask [`Self::has`] then.
    #[must_use]
    pub fn spelling(&self, command: C) -> &Spelling {
        self.has(command).expect("a profile that was read has every command of its set")
    }

    /// The spelling of a command that a profile may be without.
    #[must_use]
    pub fn has(&self, command: C) -> Option<&Spelling> {
        self.0.iter().find(|(known, _)| *known == command).map(|(_, spelling)| spelling)
    }

    pub(crate) fn read(reader: &mut Reader, node: &Node) -> Option<Self> {
        let mut fields: Fields<'_> = reader.fields(node, "the commands")?;
        let mut spellings = Vec::new();
        let mut complete = true;
        for (command, key, shape) in C::ALL {
            let node = if shape.optional { fields.optional(key) } else { fields.required(reader, key) };
            let spelling = node.and_then(|node| Spelling::read(reader, node, *shape));
            complete &= spelling.is_some() || (shape.optional && node.is_none());
            spellings.extend(spelling.map(|spelling| (*command, spelling)));
        }
        fields.close(reader);
        complete.then_some(Self(spellings))
    }
}

/// Declares a closed set of commands with their keys: behind a key `(value)` if a value stands in it, then `answers 1`
/// if it brings so many answers, or `asks 1` if it does nothing else, and `or nothing` if a profile may be without it.
macro_rules! command_set {
    ($(#[$doc:meta])* $set:ident { $($(#[$each:meta])* $name:ident => $key:literal $(($value:ident))? $($does:ident $count:literal)? $(or $absent:ident)?,)+ }) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq)]
        pub enum $set {
            $($(#[$each])* $name,)+
        }

        impl crate::command::CommandSet for $set {
            const ALL: &'static [(Self, &'static str, crate::command::Shape)] = &[$((
                Self::$name,
                $key,
                crate::command::Shape {
                    takes_value: command_set!(@takes $($value)?),
                    answers: command_set!(@answers $($count)?),
                    optional: command_set!(@optional $($absent)?),
                    only_asks: command_set!(@only $($does)?),
                },
            ),)+];
        }
    };
    (@takes value) => { true };
    (@takes) => { false };
    (@answers $count:literal) => { $count };
    (@answers) => { 0 };
    (@optional nothing) => { true };
    (@optional) => { false };
    (@only asks) => { true };
    (@only $($answers:ident)?) => { false };
}
pub(crate) use command_set;
