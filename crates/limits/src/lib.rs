//! Published rules as data: the limit at a frequency and how it follows.
//!
//! A rule file is one regulation. [`Rule::read`] makes a [`Rule`] of it, [`Rule::limit`] answers a [`Question`]
//! about one carrier with a [`Finding`]: the limit, the paragraph and row it came from, and the arithmetic as
//! lines for a person. What the rule needs to know beyond the question is a fact, held by [`Facts`]; where one is
//! missing the finding says so and gives every branch that stays possible, because a limit is never guessed.
//!
//! This room does no I/O, takes no clock, and knows nothing of instruments, readings or margins.

mod bandwidth;
mod classes;
mod comparison;
mod condition;
mod derive;
mod expression;
mod fact;
mod finding;
mod formula;
mod question;
mod read;
mod rule;
mod seams;
mod value;
mod world;

pub use fact::{Fact, FactError, Facts};
pub use finding::{Binding, BranchId, Finding, Status, Verdict};
pub use question::{Question, QuestionError};
pub use rule::Rule;
pub use seams::{Along, Said, Seam};
pub use value::Kind;
