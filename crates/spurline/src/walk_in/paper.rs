//! Where slips go: to standard output, as data; each into a file of its own as well, if a folder is named.

use std::path::PathBuf;

use spurline_runner::{make_folder, write_whole};
use spurline_walkin::{Day, SlipWidth, Visit, label_slip, local, slip};

use crate::talk::{Failure, print};

/// Where slips go.
#[derive(Debug)]
pub(crate) struct Slips {
    /// The paper; that of the day's file unless stated.
    pub(crate) width: Option<SlipWidth>,
    /// A folder in which each has a file.
    pub(crate) folder: Option<PathBuf>,
}

impl Slips {
    /// Prints the slip of a visit.
    pub(crate) fn deliver(&self, day: &Day, visit: &Visit) -> Result<(), Failure> {
        let text = slip(day, visit, self.width.unwrap_or(day.slip));
        print(format!("{text}\n").as_bytes())?;
        if let Some(folder) = &self.folder {
            make_folder(folder)?;
            let name = name_of(visit);
            write_whole(&folder.join(format!("{name}.txt")), text.as_bytes())?;
            if let Some(label) = label_slip(day, visit)? {
                write_whole(&folder.join(format!("{name}.pdf")), &label)?;
            }
        }
        Ok(())
    }
}

/// When the visit came, and its number: another day has the same numbers, and writes over none of these.
fn name_of(visit: &Visit) -> String {
    let wall = local(visit.at);
    format!("{}-{}-{:03}", wall.date, wall.time.replace(':', ""), visit.number)
}
