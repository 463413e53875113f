//! Published rules as data: the limit at a frequency and how it follows.
//!
//! A rule file is one regulation. [`Rule::read`] makes a [`Rule`] of it, [`Rule::limit`] answers a [`Question`]
//! about one carrier with a [`Finding`]: the limit, the paragraph and row it came from, and the arithmetic as
//! lines for a person. What the rule needs to know beyond the question is a fact, held by [`Facts`]; where one is
//! missing the finding says so and gives every branch that stays possible, because a limit is never guessed.
//!
//! Rules may also say how far a carrier may lie from its assigned frequency ([`Rule::tolerance`]). Beside rules there are
//! tables of bands ([`BandPlan`]), the span that is searched for spurious emissions ([`span_of`]), where their domain begins
//! ([`spurious_boundary`]), and designators of emissions ([`Designator`]).
//!
//! This room does no I/O, takes no clock, and knows nothing of instruments, readings or margins.

mod bands;
mod bandwidth;
mod classes;
mod comparison;
mod condition;
mod derive;
mod designator;
mod domain;
mod explore;
mod expression;
mod fact;
mod finding;
mod formula;
mod head;
mod lint;
mod question;
mod read;
mod rule;
mod seams;
mod span;
mod tolerance;
mod value;
mod world;

pub use bands::{BandCases, BandFinding, BandPlan, BandVerdict, Nearest, PowerCeiling, PowerOf, Region, Use};
pub use designator::{Designator, DesignatorError, Modulation, designated};
pub use domain::{SpuriousBoundary, spurious_boundary};
pub use fact::{Fact, FactError, Facts};
pub use finding::{Binding, BranchId, Finding, Status, Verdict};
pub use lint::{Flaw, Remark};
pub use question::{Question, QuestionError};
pub use rule::Rule;
pub use seams::{Along, Said, Seam};
pub use span::{NOT_REPORTED_BELOW_LIMIT_DB, span_of};
pub use tolerance::{Tolerance, ToleranceError, ToleranceFinding, ToleranceVerdict};
pub use value::Kind;
