//! `resume`: a run that broke off, from where it stands.

use clap::Args;
use spurline_record::RunId;
use spurline_runner::Broken;
use spurline_store::Store;

use crate::data::DataArgument;
use crate::exit::Exit;
use crate::measuring::AtHand;
use crate::talk::{Failure, counted, say, wrapped};

/// Go on with a run that broke off
///
/// Plan, bench and all other files come from the record, as they were when the run began. The same instruments and the
/// same unit must answer, and a carrier that was measured must come again at the same level. What is measured is not
/// measured again; what was half done is done anew.
///
/// Ends as `run` does.
#[derive(Args, Debug)]
pub(crate) struct Resume {
    /// The run: its name, the beginning of it, or `last`
    run: String,
    /// Let it key a real bench: you have looked at it, and the cautions are kept
    #[arg(long)]
    arm: bool,
    #[command(flatten)]
    data: DataArgument,
    /// Print one JSON document instead of a table
    #[arg(long)]
    pub(crate) json: bool,
}

impl Resume {
    pub(crate) fn execute(self) -> Result<Exit, Failure> {
        let folder = self.data.folder()?;
        let id = Store::open_read_only(&folder)?.resolve(&self.run)?;
        let broken = Broken::take_up(&folder, &id)?;
        let aside = broken.kept.resumption.set_aside.len();
        say(&wrapped(&what_is_kept(&id, broken.kept.readings.len(), aside, broken.set_aside), 2));
        let from = broken.from();
        AtHand { job: &broken.job, folder, json: self.json, arm: self.arm, from }.execute()
    }
}

/// What of a run counts, what is set aside now, and how many were when it went on before.
fn what_is_kept(id: &RunId, holding: usize, aside: usize, before: usize) -> String {
    let mut words = format!("run {id} goes on with {} that {}", counted(holding, "reading"), hold(holding));
    if aside > 0 {
        words.push_str(&format!(
            "; {} of a piece that was half done {} set aside, and the piece is done anew",
            counted(aside, "reading"),
            if aside == 1 { "is" } else { "are" }
        ));
    }
    if before > 0 {
        words.push_str(&format!("; {} set aside when it went on before", counted(before, "reading")));
    }
    words
}

fn hold(count: usize) -> &'static str {
    if count == 1 { "holds" } else { "hold" }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_set_aside_is_told() {
        let id = RunId::from_record("r".to_owned());
        assert_eq!(what_is_kept(&id, 20, 0, 0), "run r goes on with 20 readings that hold");
        assert_eq!(
            what_is_kept(&id, 0, 3, 0),
            "run r goes on with 0 readings that hold; 3 readings of a piece that was half done are set aside, and the \
             piece is done anew"
        );
        assert!(what_is_kept(&id, 1, 1, 2).ends_with("; 2 readings set aside when it went on before"));
    }
}
