//! Texts that are on no disk yet, in front of all files that are.

use std::path::Path;

use spurline_plan::{Library, NotFound, Text};

/// A library with some texts more.
#[derive(Clone, Copy)]
pub struct Drafted<'a> {
    /// The texts, by the names that files would have.
    pub texts: &'a [Text],
    /// Where all others are found.
    pub library: &'a dyn Library,
}

impl Library for Drafted<'_> {
    fn file(&self, beside: &str, path: &str) -> Result<Text, NotFound> {
        let folder = Path::new(beside).parent().unwrap_or(Path::new(""));
        let wanted = folder.join(path);
        match self.texts.iter().find(|drafted| Path::new(&drafted.name) == wanted) {
            Some(drafted) => Ok(drafted.clone()),
            None => self.library.file(beside, path),
        }
    }

    fn profile(&self, beside: &str, name: &str) -> Result<Text, NotFound> {
        self.library.profile(beside, name)
    }

    fn rule(&self, beside: &str, name: &str) -> Result<Text, NotFound> {
        self.library.rule(beside, name)
    }

    fn band_plan(&self, beside: &str, name: &str) -> Result<Text, NotFound> {
        self.library.band_plan(beside, name)
    }
}
