//! What stands before an answer and is no part of it: ends of lines, the echo of what was sent, a prompt.

use std::collections::VecDeque;

use bytes::{Buf, Bytes, BytesMut};

use crate::link::LinkError;
use crate::step::words;

/// Passes over what stands before an answer.
#[derive(Debug)]
pub(crate) struct Head {
    echo: bool,
    prompt: Bytes,
    /// What was sent and has not come back yet, oldest first.
    echoes: VecDeque<Bytes>,
    passed: bool,
}

/// What the next bytes are.
enum Next {
    /// As many bytes that are no part of the answer.
    Skip(usize),
    /// The answer.
    Answer,
    /// That cannot be told yet.
    Unknown,
}

impl Head {
    pub(crate) fn new(echo: bool, prompt: &str) -> Self {
        let prompt = Bytes::copy_from_slice(prompt.trim().as_bytes());
        Self { echo, prompt, echoes: VecDeque::new(), passed: false }
    }

    /// Something was sent, and may come back.
    pub(crate) fn sent(&mut self, message: &[u8]) {
        if self.echo {
            self.echoes.push_back(Bytes::copy_from_slice(message.trim_ascii()));
        }
    }

    /// Whether an answer has begun.
    pub(crate) fn is_passed(&self) -> bool {
        self.passed
    }

    /// An answer is over.
    pub(crate) fn next(&mut self) {
        self.passed = false;
    }

    /// Drops what stands before an answer; whether one has begun.
    pub(crate) fn pass(&mut self, received: &mut BytesMut) -> Result<bool, LinkError> {
        while !self.passed {
            let blanks = received.iter().take_while(|&&b| b <= b' ').count();
            received.advance(blanks);
            match self.look(received)? {
                Next::Unknown => return Ok(false),
                Next::Skip(count) => received.advance(count),
                Next::Answer => self.passed = true,
            }
        }
        Ok(true)
    }

    fn look(&mut self, received: &[u8]) -> Result<Next, LinkError> {
        if received.is_empty() {
            return Ok(Next::Unknown);
        }
        let prompt = seen(&self.prompt, received);
        if let Some(Next::Skip(_)) = prompt {
            return Ok(Next::Skip(self.prompt.len()));
        }
        match self.echoes.front().and_then(|echo| seen(echo, received)) {
            Some(Next::Skip(count)) => {
                self.echoes.pop_front();
                return Ok(Next::Skip(count));
            }
            Some(Next::Unknown | Next::Answer) => return Ok(Next::Unknown),
            None if prompt.is_some() => return Ok(Next::Unknown),
            None => {}
        }
        match self.echoes.pop_front() {
            None => Ok(Next::Answer),
            // An empty message has an empty echo.
            Some(echo) if echo.is_empty() => Ok(Next::Skip(0)),
            Some(echo) => Err(LinkError::NoEcho {
                expected: words(&echo),
                found: words(&received[..received.len().min(40)]),
            }),
        }
    }
}

/// Whether `received` begins with `text`, or may do so when more has come.
fn seen(text: &[u8], received: &[u8]) -> Option<Next> {
    if text.is_empty() {
        None
    } else if received.starts_with(text) {
        Some(Next::Skip(text.len()))
    } else {
        text.starts_with(received).then_some(Next::Unknown)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn passes(head: &mut Head, bytes: &[u8]) -> (bool, Vec<u8>) {
        let mut buffer = BytesMut::from(bytes);
        let begun = head.pass(&mut buffer).unwrap();
        (begun, buffer.to_vec())
    }

    #[test]
    fn echo_and_prompt_are_passed_over_in_any_order() {
        let mut head = Head::new(true, "> ");
        head.sent(b"VOLT 5");
        head.sent(b"VOLT?");
        assert_eq!(passes(&mut head, b"VOLT 5\r\n> VOLT?\r\n5.000\r\n"), (true, b"5.000\r\n".to_vec()));
        head.next();
        assert_eq!(passes(&mut head, b"\r\n> "), (false, Vec::new()));
        assert_eq!(passes(&mut head, b"\r\0\n "), (false, Vec::new()));
    }

    #[test]
    fn a_part_of_an_echo_is_waited_for() {
        let mut head = Head::new(true, "");
        head.sent(b"VOLT?");
        assert_eq!(passes(&mut head, b"VOL"), (false, b"VOL".to_vec()));
        assert_eq!(passes(&mut head, b"VOLT?"), (false, Vec::new()));
        assert_eq!(passes(&mut head, b"1"), (true, b"1".to_vec()));
    }

    #[test]
    fn an_echo_that_is_none_is_told() {
        let mut head = Head::new(true, "");
        head.sent(b"VOLT?");
        let error = head.pass(&mut BytesMut::from(&b"5.000\r\n"[..])).unwrap_err();
        assert!(error.to_string().starts_with("expected `VOLT?` sent back, found `5.000`"), "{error}");
    }

    #[test]
    fn without_echo_an_answer_begins_at_once() {
        let mut head = Head::new(false, "");
        head.sent(b"VOLT?");
        assert_eq!(passes(&mut head, b"\r\nVOLT?\n"), (true, b"VOLT?\n".to_vec()));
    }
}
