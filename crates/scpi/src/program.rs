//! A program message taken apart on the instrument's side, with the header path carried from unit to unit.

use crate::lex::Cursor;
use crate::parameter::LONGEST_WORD;
use crate::{ErrorCode, Found, Parameter, Tree};

/// One unit of a program message, its header completed from the root.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ProgramUnit {
    /// The mnemonics of the header as sent, numeric suffixes included; `*IDN` is a single one.
    pub path: Vec<String>,
    /// Whether the header ends with `?`.
    pub query: bool,
    /// The parameters, in order.
    pub parameters: Vec<Parameter>,
}

/// Where and why a program message cannot be read any further.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("error {code} at byte {at} of the program message")]
pub struct ProgramError {
    /// What goes into the error queue.
    pub code: ErrorCode,
    /// The byte at which it was noticed.
    pub at: usize,
}

impl ProgramUnit {
    /// What the header means in `tree`.
    ///
    /// # Errors
    /// -113 or -114, as [`Tree::find`].
    pub fn resolve<'a, T>(&self, tree: &'a Tree<T>) -> Result<Found<'a, T>, ErrorCode> {
        tree.find(&self.path, self.query)
    }

    /// The parameters, if there are exactly `N`.
    ///
    /// # Errors
    /// -109 if there are fewer, -108 if there are more.
    pub fn exactly<const N: usize>(&self) -> Result<&[Parameter; N], ErrorCode> {
        let parameters = self.between(N, N)?;
        parameters.try_into().map_err(|_| ErrorCode::MISSING_PARAMETER)
    }

    /// The parameters, if there are at least `least` and at most `most`.
    ///
    /// # Errors
    /// -109 if there are fewer, -108 if there are more.
    pub fn between(&self, least: usize, most: usize) -> Result<&[Parameter], ErrorCode> {
        match self.parameters.len() {
            count if count < least => Err(ErrorCode::MISSING_PARAMETER),
            count if count > most => Err(ErrorCode::PARAMETER_NOT_ALLOWED),
            _ => Ok(&self.parameters),
        }
    }
}

/// The units of one program message without its terminator, read one by one, so that the units before a mistake are
/// carried out. After a mistake nothing more comes.
#[must_use]
pub fn program_units(message: &[u8]) -> ProgramUnits<'_> {
    ProgramUnits { cursor: Cursor::new(message), base: Vec::new(), state: State::First }
}

/// The iterator of [`program_units`].
#[derive(Clone, Debug)]
pub struct ProgramUnits<'a> {
    cursor: Cursor<'a>,
    /// The header path that the next relative header starts from.
    base: Vec<String>,
    state: State,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum State {
    First,
    AfterSemicolon,
    Done,
}

/// Deeper than any instrument's tree; stops a long relative message from growing its path without end.
const DEEPEST: usize = 32;

impl Iterator for ProgramUnits<'_> {
    type Item = Result<ProgramUnit, ProgramError>;

    fn next(&mut self) -> Option<Self::Item> {
        if self.state == State::Done {
            return None;
        }
        self.cursor.blanks();
        if self.cursor.peek().is_none() && self.state == State::First {
            self.state = State::Done;
            return None;
        }
        let unit = self.unit();
        self.state = match unit {
            Ok(_) if self.cursor.eat(b';') => State::AfterSemicolon,
            Ok(_) | Err(_) => State::Done,
        };
        Some(unit.map_err(|code| ProgramError { code, at: self.cursor.at() }))
    }
}

impl ProgramUnits<'_> {
    fn unit(&mut self) -> Result<ProgramUnit, ErrorCode> {
        let path = self.header()?;
        let query = self.cursor.eat(b'?');
        let parameters = match self.cursor.peek() {
            None | Some(b';') => Vec::new(),
            Some(byte) if byte <= b' ' => self.parameters()?,
            Some(
                b'A'..=b'Z'
                | b'a'..=b'z'
                | b'0'..=b'9'
                | b'"'
                | b'\''
                | b'#'
                | b'('
                | b','
                | b'+'
                | b'-'
                | b'.',
            ) => {
                return Err(ErrorCode::HEADER_SEPARATOR_ERROR);
            }
            Some(b':' | b'?' | b'*') => return Err(ErrorCode::SYNTAX_ERROR),
            Some(_) => return Err(ErrorCode::INVALID_CHARACTER),
        };
        Ok(ProgramUnit { path, query, parameters })
    }

    fn header(&mut self) -> Result<Vec<String>, ErrorCode> {
        if self.cursor.eat(b'*') {
            let name = self.mnemonic()?;
            // A common command leaves the path of the units around it alone.
            return Ok(vec![format!("*{name}")]);
        }
        let mut path = if self.cursor.eat(b':') { Vec::new() } else { std::mem::take(&mut self.base) };
        loop {
            path.push(self.mnemonic()?);
            if !self.cursor.eat(b':') {
                break;
            }
        }
        if path.len() > DEEPEST {
            return Err(ErrorCode::UNDEFINED_HEADER);
        }
        self.base = path[..path.len() - 1].to_vec();
        Ok(path)
    }

    fn mnemonic(&mut self) -> Result<String, ErrorCode> {
        match self.cursor.peek() {
            Some(b'A'..=b'Z' | b'a'..=b'z') => {}
            None | Some(b'0'..=b'9' | b';' | b':' | b'?' | b'*' | b',' | 0..=b' ') => {
                return Err(ErrorCode::SYNTAX_ERROR);
            }
            Some(_) => return Err(ErrorCode::INVALID_CHARACTER),
        }
        let word = self.cursor.word();
        let name = word.trim_end_matches(|c: char| c.is_ascii_digit());
        if name.len() > LONGEST_WORD { Err(ErrorCode::PROGRAM_MNEMONIC_TOO_LONG) } else { Ok(word) }
    }

    fn parameters(&mut self) -> Result<Vec<Parameter>, ErrorCode> {
        let mut parameters = Vec::new();
        self.cursor.blanks();
        if matches!(self.cursor.peek(), None | Some(b';')) {
            return Ok(parameters);
        }
        loop {
            self.cursor.blanks();
            parameters.push(Parameter::read(&mut self.cursor)?);
            self.cursor.blanks();
            match self.cursor.peek() {
                None | Some(b';') => return Ok(parameters),
                Some(b',') => self.cursor.advance(1),
                Some(_) => return Err(ErrorCode::INVALID_SEPARATOR),
            }
        }
    }
}

#[cfg(test)]
mod tests;
