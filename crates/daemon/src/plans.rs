//! The plans that may be asked for: the files of one folder, by their names.

use std::path::{Path, PathBuf};

use thiserror::Error;

/// Why a plan cannot be had.
#[derive(Debug, Error)]
pub enum PlanError {
    /// There is none of that name.
    #[error("there is no plan `{0}`")]
    Unknown(String),
    /// The folder cannot be read.
    #[error("the folder of the plans, {folder}, cannot be read")]
    Folder {
        /// The folder.
        folder: String,
        /// Why.
        #[source]
        source: std::io::Error,
    },
}

/// A folder of plans.
#[derive(Debug)]
pub struct Plans {
    folder: PathBuf,
}

impl Plans {
    /// The plans in a folder.
    #[must_use]
    pub fn new(folder: PathBuf) -> Self {
        Self { folder }
    }

    /// Their names, in order.
    ///
    /// # Errors
    ///
    /// [`PlanError::Folder`].
    pub fn names(&self) -> Result<Vec<String>, PlanError> {
        let failed = |source| PlanError::Folder { folder: self.folder.display().to_string(), source };
        let mut names = Vec::new();
        for entry in std::fs::read_dir(&self.folder).map_err(failed)? {
            let path = entry.map_err(failed)?.path();
            if let Some(name) = name_of(&path) {
                names.push(name);
            }
        }
        names.sort();
        Ok(names)
    }

    /// Where a plan is. A name is never taken for a path: it is looked for among those that are there.
    ///
    /// # Errors
    ///
    /// [`PlanError`].
    pub fn path(&self, name: &str) -> Result<PathBuf, PlanError> {
        match self.names()?.into_iter().find(|known| known == name) {
            Some(known) => Ok(self.folder.join(format!("{known}.yaml"))),
            None => Err(PlanError::Unknown(name.to_owned())),
        }
    }
}

/// The name of a plan's file; a link to a file elsewhere is none, nor is one that is no file.
fn name_of(path: &Path) -> Option<String> {
    if path.extension()? != "yaml" || !path.symlink_metadata().ok()?.is_file() {
        return None;
    }
    path.file_stem()?.to_str().map(str::to_owned)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_what_lies_in_the_folder_is_a_plan() {
        let folder = tempfile::tempdir().unwrap();
        let plans = folder.path().join("plans");
        std::fs::create_dir(&plans).unwrap();
        std::fs::create_dir(plans.join("folder.yaml")).unwrap();
        std::fs::write(plans.join("b.yaml"), "").unwrap();
        std::fs::write(plans.join("a b.yaml"), "").unwrap();
        std::fs::write(plans.join("a.txt"), "").unwrap();
        std::fs::write(folder.path().join("secret.yaml"), "").unwrap();
        std::os::unix::fs::symlink(folder.path().join("secret.yaml"), plans.join("link.yaml")).unwrap();
        let plans = Plans::new(plans);
        assert_eq!(plans.names().unwrap(), ["a b", "b"]);
        assert!(plans.path("a b").unwrap().ends_with("plans/a b.yaml"));
        let long = "x".repeat(300);
        for name in [
            "../secret",
            "..%2fsecret",
            "link",
            "folder",
            "",
            ".",
            "..",
            "/etc/passwd",
            "b\0",
            "b.yaml",
            &long,
        ] {
            assert!(matches!(plans.path(name), Err(PlanError::Unknown(_))), "{name}");
        }
        assert!(matches!(Plans::new("/no/such".into()).names(), Err(PlanError::Folder { .. })));
    }
}
