//! Why something was not done, in the words that a person reads on the page and in the log.

use spurline_runner::Failure;

use crate::told;

/// A failure of a run with its causes and what to do about it.
pub(crate) fn in_words(failure: &Failure) -> String {
    if let Failure::Mistakes(mistakes) = failure {
        return mistakes.to_string();
    }
    told::with_advice(told::chain(failure), failure.advice().as_deref())
}
