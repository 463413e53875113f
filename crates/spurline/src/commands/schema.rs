//! `schema`: the JSON Schemas of the files that people write.

use clap::{Args, ValueEnum};

use crate::exit::Exit;
use crate::talk::{Failure, print};

/// Print the JSON Schema of a kind of file, for an editor, or of a report
///
/// An editor that knows JSON Schema (draft 2020-12) then explains, completes and checks such a file while it is
/// being written. What a schema cannot say, for example that a path names a branch that is there, `check` says.
#[derive(Args, Debug)]
pub(crate) struct Schema {
    /// Which kind of file
    #[arg(value_enum)]
    kind: Kind,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum Kind {
    /// What to measure on which unit, against which rule
    Plan,
    /// Instruments, and the path between them and the unit
    Bench,
    /// How one kind of instrument is spoken to, and how good it is
    Profile,
    /// A published regulation
    Rule,
    /// What a part or a path loses over frequency
    Table,
    /// A published table of bands
    Band,
    /// A day on which people bring radios
    Day,
    /// What `report --format json` prints
    Report,
    /// Benches that work off a queue by themselves
    Service,
}

impl Schema {
    pub(crate) fn execute(self) -> Result<Exit, Failure> {
        print(self.kind.text().as_bytes())?;
        Ok(Exit::Good)
    }
}

impl Kind {
    const fn text(self) -> &'static str {
        match self {
            Self::Plan => include_str!("../../../../config/schemas/plan.json"),
            Self::Bench => include_str!("../../../../config/schemas/bench.json"),
            Self::Profile => include_str!("../../../../config/schemas/profile.json"),
            Self::Rule => include_str!("../../../../config/schemas/rule.json"),
            Self::Table => include_str!("../../../../config/schemas/table.json"),
            Self::Band => include_str!("../../../../config/schemas/band.json"),
            Self::Day => include_str!("../../../../config/schemas/day.json"),
            Self::Report => include_str!("../../../../config/schemas/report.json"),
            Self::Service => include_str!("../../../../config/schemas/service.json"),
        }
    }
}
