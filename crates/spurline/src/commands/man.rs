//! `man`: manual pages, made from the same words as `--help`.

use std::path::{Path, PathBuf};

use clap::{Args, CommandFactory};
use clap_mangen::Man as Page;
use spurline_runner::{make_folder, write_whole};

use crate::exit::Exit;
use crate::talk::{Failure, print, say};

/// Print the manual page, or write one page per command into a folder
#[derive(Args, Debug)]
pub(crate) struct Man {
    /// The folder to write all pages into; it is made if it is missing
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
}

impl Man {
    pub(crate) fn execute(self) -> Result<Exit, Failure> {
        // `help` would only repeat what the pages say.
        let mut command = crate::Arguments::command().disable_help_subcommand(true);
        // Names the subcommands in full, as in `spurline run`.
        command.build();
        match &self.out {
            Some(folder) => {
                make_folder(folder)?;
                write_all(&command, folder)?;
            }
            None => print(&rendered(&page(&command), "the manual page")?)?,
        }
        Ok(Exit::Good)
    }
}

/// The page of a command; its foot names the program and its version, whichever command it is about.
fn page(command: &clap::Command) -> Page {
    Page::new(command.clone()).source(concat!("spurline ", env!("CARGO_PKG_VERSION"))).manual("Spurline")
}

/// Writes the page of a command and of every command below it.
fn write_all(command: &clap::Command, folder: &Path) -> Result<(), Failure> {
    let page = page(command);
    let path = folder.join(page.get_filename());
    write_whole(&path, &rendered(&page, &path.display().to_string())?)?;
    say(&format!("manual page {}", path.display()));
    command
        .get_subcommands()
        .filter(|below| !below.is_hide_set())
        .try_for_each(|below| write_all(below, folder))
}

fn rendered(page: &Page, what: &str) -> Result<Vec<u8>, Failure> {
    let mut text = Vec::new();
    page.render(&mut text).map_err(|source| Failure::file("make", what.to_owned(), source))?;
    Ok(text)
}
