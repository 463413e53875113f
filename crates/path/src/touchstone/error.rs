//! What can be wrong with a Touchstone file, and what to do about it.

use spurline_units::{Db, Hertz};
use thiserror::Error;

/// Why a text is not the Touchstone file of a passive two-port. The second line of a message is advice.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum TouchstoneError {
    /// There are no data in it.
    #[error("no points in the file\nexport it as a version 1 two-port file (`.s2p`)")]
    NoPoints,
    /// It has keywords of version 2.
    #[error("line {line}: `[…]` keywords belong to version 2 of the format\nexport the file as version 1")]
    Version2 {
        /// Line, from 1.
        line: usize,
    },
    /// A word of the option line is not known.
    #[error(
        "line {line}: `{found}` is not an option\nwrite the option line as `# MHz S DB R 50`, with Hz, kHz, MHz or GHz and DB, MA or RI"
    )]
    UnknownOption {
        /// Line, from 1.
        line: usize,
        /// The word.
        found: String,
    },
    /// The option line stands behind data that it would have changed.
    #[error("line {line}: the option line stands behind data\nmove it above the first point")]
    LateOptions {
        /// Line, from 1.
        line: usize,
    },
    /// The parameters are not scattering parameters.
    #[error(
        "line {line}: expected S parameters, found `{found}` parameters\nexport the file with S parameters"
    )]
    NotScattering {
        /// Line, from 1.
        line: usize,
        /// The letter of the parameters.
        found: char,
    },
    /// The parameters are not for a 50 ohm system.
    #[error(
        "line {line}: expected a reference of 50 ohm, found `{found}`\nexport the file renormalised to 50 ohm"
    )]
    Reference {
        /// Line, from 1.
        line: usize,
        /// What stood behind `R`.
        found: String,
    },
    /// A word is not a finite number.
    #[error("line {line}: expected a finite number, found `{found}`\ncomments start with `!`")]
    NotANumber {
        /// Line, from 1.
        line: usize,
        /// The word.
        found: String,
    },
    /// A point has too few or too many values.
    #[error(
        "line {line}: expected the 9 values of a two-port point, found {found}\na point is a frequency and the pairs S11, S21, S12, S22; files with other numbers of ports and noise data are not read"
    )]
    Count {
        /// Line on which the point starts, from 1.
        line: usize,
        /// How many values it has.
        found: usize,
    },
    /// A frequency is below zero.
    #[error("line {line}: expected a frequency of 0 Hz or more, found {found} Hz\nlook for a shifted column")]
    BelowZero {
        /// Line, from 1.
        line: usize,
        /// The frequency in hertz.
        found: f64,
    },
    /// A frequency is not above the one before it.
    #[error(
        "line {line}: {found} stands behind {previous}\nwrite the points with ascending frequencies, each once, and without noise data"
    )]
    NotAscending {
        /// Line, from 1.
        line: usize,
        /// The frequency of the point before it.
        previous: Hertz,
        /// Its own frequency.
        found: Hertz,
    },
    /// A parameter is beyond all numbers.
    #[error(
        "line {line}: a parameter is too large to be one\nlook at the format in the option line: DB, MA or RI"
    )]
    TooLarge {
        /// Line, from 1.
        line: usize,
    },
    /// Nothing passes.
    #[error(
        "line {line}: nothing passes at {frequency}\na loss without end cannot be corrected for: leave the point out"
    )]
    Opaque {
        /// Line, from 1.
        line: usize,
        /// Where.
        frequency: Hertz,
    },
    /// The part amplifies.
    #[error(
        "line {line}: expected a loss, found a gain of {gain} at {frequency}\nthis is an amplifier, or the format in the option line is wrong: DB, MA or RI"
    )]
    Gain {
        /// Line, from 1.
        line: usize,
        /// Where.
        frequency: Hertz,
        /// How much.
        gain: Db,
    },
    /// The two directions differ.
    #[error(
        "line {line}: expected one loss in both directions, found {forward} forwards and {reverse} backwards at {frequency}\na passive path is reciprocal: look for swapped columns, an isolator or an amplifier"
    )]
    NotReciprocal {
        /// Line, from 1.
        line: usize,
        /// Where.
        frequency: Hertz,
        /// Loss from port 1 to port 2.
        forward: Db,
        /// Loss from port 2 to port 1.
        reverse: Db,
    },
    /// More comes back than goes in.
    #[error(
        "line {line}: expected reflections of at most 1, found {found:.3} at {frequency}\na passive part reflects no more than it is given: look at the format in the option line"
    )]
    Reflects {
        /// Line, from 1.
        line: usize,
        /// Where.
        frequency: Hertz,
        /// The larger of |S11| and |S22|.
        found: f64,
    },
}

/// The longest word that is shown whole.
const LONGEST: usize = 60;

/// A word for a message: its start, if it is no word but a whole line or file.
pub(super) fn shown(word: &str) -> String {
    match word.char_indices().nth(LONGEST) {
        Some((end, _)) => format!("{}…", &word[..end]),
        None => word.to_owned(),
    }
}
