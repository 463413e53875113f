//! `completions`: what a shell must know to complete this program's commands and options.

use clap::{Args, CommandFactory};
use clap_complete::Shell;

use crate::exit::Exit;
use crate::talk::{Failure, print};

/// Print a script with which a shell completes commands and options
///
/// In bash for example: `source <(spurline completions bash)`.
#[derive(Args, Debug)]
pub(crate) struct Completions {
    /// The shell
    #[arg(value_enum)]
    shell: Shell,
}

impl Completions {
    pub(crate) fn execute(self) -> Result<Exit, Failure> {
        let mut command = crate::Arguments::command();
        let name = command.get_name().to_owned();
        // Written into memory first: writing straight to a pipe that is closed early would panic.
        let mut script = Vec::new();
        clap_complete::generate(self.shell, &mut command, name, &mut script);
        print(&script)?;
        Ok(Exit::Good)
    }
}
