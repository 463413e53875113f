//! Causes of an error that happened in another process, in its words.

use std::error::Error;
use std::fmt;

/// One cause and those behind it.
#[derive(Debug)]
pub struct Cause {
    words: String,
    behind: Option<Box<Cause>>,
}

impl Cause {
    /// From the outermost to the innermost; `None` if there are none.
    pub(super) fn of(words: Vec<String>) -> Option<Self> {
        let chained = |behind: Option<Self>, words| Some(Self { words, behind: behind.map(Box::new) });
        words.into_iter().rev().fold(None, chained)
    }
}

impl fmt::Display for Cause {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.words)
    }
}

impl Error for Cause {
    fn source(&self) -> Option<&(dyn Error + 'static)> {
        self.behind.as_deref().map(|cause| cause as &(dyn Error + 'static))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn causes_keep_their_order() {
        let cause = Cause::of(vec!["outer".to_owned(), "inner".to_owned()]).unwrap();
        assert_eq!(cause.to_string(), "outer");
        assert_eq!(cause.source().unwrap().to_string(), "inner");
        assert!(cause.source().unwrap().source().is_none());
        assert!(Cause::of(Vec::new()).is_none());
    }
}
