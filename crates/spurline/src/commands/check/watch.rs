//! `check --watch`: the same check again whenever a file changes that the last one looked at.
//!
//! The files are looked at several times a second. That sees what an editor does that writes another file and gives it the
//! name, and it sees changes on a share of the network, which the system's own notices do not tell of.

use std::cell::RefCell;
use std::collections::BTreeMap;
use std::os::unix::fs::MetadataExt;
use std::path::{Path, PathBuf};
use std::time::Duration;

use spurline_clock::{Clock, Pace};
use spurline_plan::{Library, NotFound, Text};

use super::Check;
use crate::exit::Exit;
use crate::stop::told_to_stop;
use crate::talk::{self, Failure, say};
use crate::when::when;

/// Between two looks; a person does not notice it.
const LOOKS_EVERY: Duration = Duration::from_millis(250);

/// Checks until somebody stops it.
pub(super) fn execute(check: &Check) -> Result<Exit, Failure> {
    spurline_clock::run(Pace::Real, |clock| async move {
        let mut stop = std::pin::pin!(told_to_stop());
        let mut changed: Option<PathBuf> = None;
        loop {
            let seen = look(check, clock, changed.as_deref());
            changed = tokio::select! {
                () = &mut stop => return Exit::Interrupted,
                path = change(&seen, clock) => Some(path),
            };
        }
    })
    .map_err(Failure::runtime)
}

/// One check: what it says, under the time and the reason; and how every file that it looked at stood before it was read.
fn look(check: &Check, clock: Clock, changed: Option<&Path>) -> BTreeMap<PathBuf, Stand> {
    let now = when(clock.timestamp());
    match changed {
        None => say(&format!("{now}: checked again at every change, until Ctrl-C")),
        Some(path) => say(&format!("\n{now}: {} has changed", path.display())),
    }
    let seen = Seeing { files: super::Files::from_environment(), seen: RefCell::default() };
    if let Err(failure) = check.once(&seen, spurline_runner::today(clock)) {
        talk::report(&failure, false);
    }
    seen.seen.into_inner()
}

/// Ready when one of the files is not as it was, and has come to rest.
async fn change(seen: &BTreeMap<PathBuf, Stand>, clock: Clock) -> PathBuf {
    loop {
        clock.sleep(LOOKS_EVERY).await;
        let Some((path, _)) = seen.iter().find(|(path, stood)| stand(path) != **stood) else { continue };
        // Who writes a file may be in the middle of it.
        let mut before = stand(path);
        loop {
            clock.sleep(LOOKS_EVERY).await;
            let now = stand(path);
            if now == before {
                return path.clone();
            }
            before = now;
        }
    }
}

/// How a file stands: which one it is, its size, and when it and its name were last changed; `None` if there is none.
type Stand = Option<(u64, u64, u64, (i64, i64), (i64, i64))>;

fn stand(path: &Path) -> Stand {
    let file = std::fs::metadata(path).ok()?;
    let (written, changed) = ((file.mtime(), file.mtime_nsec()), (file.ctime(), file.ctime_nsec()));
    Some((file.dev(), file.ino(), file.size(), written, changed))
}

/// Files, and which of them were looked for.
struct Seeing {
    files: super::Files,
    seen: RefCell<BTreeMap<PathBuf, Stand>>,
}

impl Seeing {
    fn note(&self, path: PathBuf) {
        self.seen.borrow_mut().entry(path).or_insert_with_key(|path| stand(path));
    }

    /// What is found by name may be found in another place once it is there.
    fn note_named(&self, beside: &str, name: &str) {
        let is_path = name.contains('/') || name.ends_with(".yaml");
        self.note(in_folder_of(beside, &if is_path { name.to_owned() } else { format!("{name}.yaml") }));
    }

    fn found(&self, text: Result<Text, NotFound>) -> Result<Text, NotFound> {
        if let Some(path) = text.as_ref().ok().map(|text| Path::new(&text.name)).filter(|path| path.is_file())
        {
            self.note(path.to_owned());
        }
        text
    }
}

fn in_folder_of(beside: &str, path: &str) -> PathBuf {
    Path::new(beside).parent().unwrap_or(Path::new("")).join(path)
}

impl Library for Seeing {
    fn file(&self, beside: &str, path: &str) -> Result<Text, NotFound> {
        self.note(in_folder_of(beside, path));
        self.files.file(beside, path)
    }

    fn profile(&self, beside: &str, name: &str) -> Result<Text, NotFound> {
        self.note_named(beside, name);
        self.found(self.files.profile(beside, name))
    }

    fn rule(&self, beside: &str, name: &str) -> Result<Text, NotFound> {
        self.note_named(beside, name);
        self.found(self.files.rule(beside, name))
    }

    fn band_plan(&self, beside: &str, name: &str) -> Result<Text, NotFound> {
        self.note_named(beside, name);
        self.found(self.files.band_plan(beside, name))
    }
}
