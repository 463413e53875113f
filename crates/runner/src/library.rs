//! Where plans, benches, profiles, rules and band plans are found: beside the file that names them, then in the user's
//! folder, then in the program itself.

use std::io::ErrorKind;
use std::path::{Path, PathBuf};

use spurline_document::nearest;
use spurline_plan::{Library, NotFound, Text};

macro_rules! built_in {
    ($folder:literal: $($name:literal),+ $(,)?) => {
        &[$(($name, include_str!(concat!("../../../config/", $folder, "/", $name, ".yaml"))),)+]
    };
}

/// Profiles that come with the program.
pub const PROFILES: &[(&str, &str)] = built_in!("profiles":
    "analyser-generic", "audio-generator-generic", "generator-generic", "power-meter-generic", "relay-generic", "supply-generic", "unit-generic",
);

/// Rules that come with the program.
pub const RULES: &[(&str, &str)] = built_in!("rules":
    "de-order-33-2007", "eu-land-mobile", "eu-land-mobile-adjacent-channel", "forty-three-plus-ten-log",
    "iec-62287-2", "itu-category-a", "itu-category-b", "itu-category-b-land-mobile", "itu-low-power",
    "jp-amateur", "us-cb", "us-part-15-receiver", "us-part-22", "us-part-22-stability", "us-part-80",
    "us-part-80-stability", "us-part-87", "us-part-87-stability", "us-part-90", "us-part-90-adjacent-channel",
    "us-part-90-stability", "us-part-95-frs", "us-part-95-gmrs", "us-part-95-murs", "us-part-95-rcrs",
    "us-part-95-stability", "us-part-97",
);

/// Band plans that come with the program.
pub const BANDS: &[(&str, &str)] = built_in!("bands": "us-amateur");

/// A folder named by the environment; an empty value counts as none.
#[must_use]
pub fn environment_folder(name: &str) -> Option<PathBuf> {
    std::env::var_os(name).filter(|value| !value.is_empty()).map(PathBuf::from)
}

/// The file system, the user's folder and what is built in.
#[derive(Debug)]
pub struct Files {
    /// The user's folder of profiles, rules and band plans.
    own: Option<PathBuf>,
}

impl Files {
    /// Finds the user's folder from the environment.
    #[must_use]
    pub fn from_environment() -> Self {
        let config = environment_folder("XDG_CONFIG_HOME");
        let config = config.or_else(|| environment_folder("HOME").map(|home| home.join(".config")));
        Self { own: config.map(|folder| folder.join("spurline")) }
    }

    fn named(&self, beside: &str, kind: &Kind, name: &str) -> Result<Text, NotFound> {
        if name.contains('/') || name.ends_with(".yaml") {
            return self.file(beside, name);
        }
        let file = format!("{name}.yaml");
        let here = Path::new(beside).parent().unwrap_or(Path::new("")).join(&file);
        let own = self.own.as_ref().map(|folder| folder.join(kind.folder).join(&file));
        for path in std::iter::once(here).chain(own) {
            if path.is_file() {
                return read(beside, &path);
            }
        }
        match kind.built_in.iter().find(|(known, _)| *known == name) {
            Some((known, text)) => Ok(Text { name: format!("built in: {known}"), text: (*text).to_owned() }),
            None => Err(kind.missing(name)),
        }
    }
}

struct Kind {
    word: &'static str,
    folder: &'static str,
    built_in: &'static [(&'static str, &'static str)],
}

const PROFILE: Kind = Kind { word: "profile", folder: "profiles", built_in: PROFILES };
const RULE: Kind = Kind { word: "rule", folder: "rules", built_in: RULES };
const BAND_PLAN: Kind = Kind { word: "band plan", folder: "bands", built_in: BANDS };

impl Kind {
    fn missing(&self, name: &str) -> NotFound {
        let word = self.word;
        let known: Vec<&str> = self.built_in.iter().map(|(known, _)| *known).collect();
        let near = nearest(name, &known).map_or_else(String::new, |near| format!("did you mean `{near}`? "));
        NotFound {
            message: format!("there is no {word} `{name}`"),
            advice: Some(format!(
                "{near}Built in: {}; others are looked for beside this file and in your folder of {}",
                known.join(", "),
                self.folder
            )),
        }
    }
}

fn read(beside: &str, path: &Path) -> Result<Text, NotFound> {
    match std::fs::read_to_string(path) {
        Ok(text) => Ok(Text { name: path.display().to_string(), text }),
        Err(error) => Err(NotFound {
            message: format!("cannot read `{}`: {}", path.display(), plain(&error)),
            advice: Some(advice(beside, &error).to_owned()),
        }),
    }
}

fn advice(beside: &str, error: &std::io::Error) -> &'static str {
    match error.kind() {
        ErrorKind::InvalidData => "a plan, bench, profile, rule or table is a text in UTF-8",
        ErrorKind::IsADirectory => "name a file in it",
        ErrorKind::PermissionDenied => "look at the owner and the rights of the file and its folders",
        ErrorKind::NotFound if beside.is_empty() => {
            "look at the name, from the folder that you are in; `spurline new` writes a file to begin with"
        }
        _ => "file names are taken from the folder of the file that names them",
    }
}

/// The operating system's words without its number.
fn plain(error: &std::io::Error) -> String {
    if error.kind() == ErrorKind::InvalidData {
        return "it is not a text".to_owned();
    }
    let text = error.to_string();
    text.split(" (os error").next().unwrap_or(&text).to_lowercase()
}

impl Library for Files {
    fn file(&self, beside: &str, path: &str) -> Result<Text, NotFound> {
        let folder = Path::new(beside).parent().unwrap_or(Path::new(""));
        read(beside, &normal(&folder.join(path)))
    }

    fn profile(&self, beside: &str, name: &str) -> Result<Text, NotFound> {
        self.named(beside, &PROFILE, name)
    }

    fn rule(&self, beside: &str, name: &str) -> Result<Text, NotFound> {
        self.named(beside, &RULE, name)
    }

    fn band_plan(&self, beside: &str, name: &str) -> Result<Text, NotFound> {
        self.named(beside, &BAND_PLAN, name)
    }
}

/// `config/plans/../benches/a.yaml` reads better as `config/benches/a.yaml`.
pub(crate) fn normal(path: &Path) -> PathBuf {
    use std::path::Component;
    let mut parts: Vec<Component<'_>> = Vec::new();
    for part in path.components() {
        match (part, parts.last()) {
            (Component::ParentDir, Some(Component::Normal(_))) => {
                parts.pop();
            }
            (Component::CurDir, _) => {}
            _ => parts.push(part),
        }
    }
    if parts.is_empty() {
        return path.to_owned();
    }
    parts.iter().collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_shipped_file_is_built_in() {
        for (folder, built_in) in [("profiles", PROFILES), ("rules", RULES), ("bands", BANDS)] {
            let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../config").join(folder);
            let mut found: Vec<String> = std::fs::read_dir(root)
                .unwrap()
                .map(|entry| entry.unwrap().path().file_stem().unwrap().to_string_lossy().into_owned())
                .collect();
            found.sort();
            let known: Vec<&str> = built_in.iter().map(|(name, _)| *name).collect();
            assert_eq!(found, known, "{folder}");
        }
    }

    #[test]
    fn paths_are_shown_short() {
        assert_eq!(normal(Path::new("config/plans/../benches/a.yaml")), Path::new("config/benches/a.yaml"));
        assert_eq!(normal(Path::new("../a/./b")), Path::new("../a/b"));
    }
}
