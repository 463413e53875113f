//! How messages are exchanged: how long and how dense they may be, and how their ends are marked.

use spurline_document::{Node, Reader};
use spurline_units::Seconds;

/// How messages are exchanged.
#[derive(Clone, Debug, PartialEq)]
pub struct Messages {
    /// The most bytes that one message may have.
    pub longest: usize,
    /// Whether several commands may share one message.
    pub compound: bool,
    /// How long an answer may take beyond the work that it waits for.
    pub answer_within: Seconds,
    /// What is sent behind every message.
    pub terminator: Terminator,
    /// How the end of an answer is told where the link does not tell it.
    pub answers_end: AnswersEnd,
    /// How long the instrument needs between one message and the next.
    pub pause: Seconds,
    /// Whether it sends back what it gets, before it answers.
    pub echo: bool,
    /// What it shows when it is ready for the next message; empty if nothing.
    pub prompt: String,
    /// How long connecting may take, and each step of a handshake.
    pub connect_within: Seconds,
    /// Whether `*ESR?` tells that it was switched off and on.
    pub power_on_bit: bool,
}

/// What is sent behind a message.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Terminator {
    /// A new line.
    Lf,
    /// A carriage return and a new line.
    CrLf,
    /// A carriage return.
    Cr,
}

/// How the end of an answer is told.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum AnswersEnd {
    /// A terminator.
    Terminator,
    /// Silence of so long.
    Silence(Seconds),
}

const TERMINATORS: [(&str, Terminator); 3] =
    [("LF", Terminator::Lf), ("CR LF", Terminator::CrLf), ("CR", Terminator::Cr)];
/// In seconds.
const CONNECT_WITHIN: f64 = 4.0;
/// In seconds: shorter than a character on a slow line, and than what a system needs to look.
const SHORTEST: f64 = 1e-3;

impl Messages {
    pub(crate) fn read(reader: &mut Reader, node: &Node) -> Option<Self> {
        let mut fields = reader.fields(node, "the messages")?;
        let longest = fields.required(reader, "longest");
        let compound = fields.required(reader, "compound");
        let within = fields.required(reader, "answer_within");
        let terminator = fields.or(reader, "terminator", read_terminator, Terminator::Lf);
        let answers_end = fields.or(reader, "answers_end", read_end, AnswersEnd::Terminator);
        let pause =
            fields.or(reader, "pause", |reader, node| reader.parse(node, "a time"), Seconds::new(0.0));
        let echo = fields.or(reader, "echo", |reader, node| reader.flag(node, "true or false"), false);
        let prompt = fields.or(reader, "prompt", |reader, node| reader.text(node, "a prompt"), "");
        let connect_within = fields.or(reader, "connect_within", read_time, Seconds::new(CONNECT_WITHIN));
        let power_on =
            fields.or(reader, "power_on_bit", |reader, node| reader.flag(node, "true or false"), true);
        fields.close(reader);
        let longest = longest.and_then(|node| reader.whole(node, "a length in bytes", 40, 60_000));
        let compound = compound.and_then(|node| reader.flag(node, "true or false"));
        let within = within.and_then(|node| reader.parse(node, "a time"));
        Some(Self {
            longest: longest? as usize,
            compound: compound?,
            answer_within: within?,
            terminator: terminator?,
            answers_end: answers_end?,
            pause: pause?,
            echo: echo?,
            prompt: prompt?.to_owned(),
            connect_within: connect_within?,
            power_on_bit: power_on?,
        })
    }
}

fn read_terminator(reader: &mut Reader, node: &Node) -> Option<Terminator> {
    reader.choice(node, "what ends a message", &TERMINATORS)
}

fn read_end(reader: &mut Reader, node: &Node) -> Option<AnswersEnd> {
    match node.scalar().map(str::trim) {
        Some("terminator") => Some(AnswersEnd::Terminator),
        Some(text) if !text.starts_with(|c: char| c.is_ascii_digit() || "+-.".contains(c)) => {
            reader
                .mistake(node.span, format!("expected `terminator` or a time of silence, found `{text}`"))
                .hint("write `terminator`, or how long the instrument is quiet behind an answer, such as `50 ms`");
            None
        }
        _ => read_time(reader, node).map(AnswersEnd::Silence),
    }
}

fn read_time(reader: &mut Reader, node: &Node) -> Option<Seconds> {
    let span: Seconds = reader.parse(node, "a time")?;
    if span.get() < SHORTEST {
        let shortest = Seconds::new(SHORTEST);
        reader.mistake(node.span, format!("expected a time of {shortest} or more, found {span}"));
        return None;
    }
    Some(span)
}

#[cfg(test)]
mod tests {
    use spurline_document::{Document, Mistakes};

    use super::*;

    fn read(more: &str) -> Result<Messages, Mistakes> {
        let text = format!("{{ longest: 200, compound: true, answer_within: 1 s{more} }}");
        let document = Document::parse("mine.yaml", &text)?;
        let mut reader = Reader::new(&document);
        let messages = Messages::read(&mut reader, &document.root);
        reader.finish(messages)
    }

    #[test]
    fn a_dialect_is_that_of_ieee_488_2_unless_stated() {
        let messages = read("").unwrap();
        assert_eq!((messages.terminator, messages.answers_end), (Terminator::Lf, AnswersEnd::Terminator));
        assert_eq!((messages.pause.get(), messages.connect_within.get()), (0.0, 4.0));
        assert!(!messages.echo && messages.prompt.is_empty());
    }

    #[test]
    fn a_dialect_may_be_another() {
        let messages = read(
            ", terminator: CR LF, answers_end: 50 ms, pause: 20 ms, echo: true, prompt: \">\", connect_within: 10 s",
        );
        let messages = messages.unwrap();
        assert_eq!(messages.terminator, Terminator::CrLf);
        assert_eq!(messages.answers_end, AnswersEnd::Silence(Seconds::new(0.05)));
        assert_eq!((messages.pause.get(), messages.connect_within.get()), (0.02, 10.0));
        assert_eq!((messages.echo, messages.prompt.as_str()), (true, ">"));
    }

    #[test]
    fn slips_are_told() {
        for (more, told) in [
            (", terminator: CRLF", "expected what ends a message, found `CRLF`"),
            (", answers_end: silence", "expected `terminator` or a time of silence, found `silence`"),
            (", answers_end: 0 s", "expected a time of 1 ms or more, found 0 s"),
            (", connect_within: 0 s", "expected a time of 1 ms or more, found 0 s"),
            (", prompt: \"\"", "expected a prompt, found an empty text"),
        ] {
            let mistakes = read(more).unwrap_err().to_string();
            assert!(mistakes.contains(told), "{mistakes}");
        }
    }
}
