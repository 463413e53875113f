//! The files of a recorded run, found as the run found them: nothing is read from the disk.

use std::path::Path;

use spurline_plan::{Library, NotFound, Text};
use spurline_record::{SourceText, TextRole};

use crate::library::normal;

/// The files of a run, as they were when it began.
#[derive(Debug)]
pub struct Recorded<'a>(pub &'a [SourceText]);

impl Recorded<'_> {
    /// The name of the only file of a kind.
    pub fn name_of(&self, role: TextRole) -> Option<&str> {
        self.0.iter().find(|text| text.role == role).map(|text| text.name.as_str())
    }

    /// A profile, rule or table of bands: beside the file that names it, else elsewhere, else built in, as it was looked for.
    fn named(&self, beside: &str, role: TextRole, name: &str) -> Result<Text, NotFound> {
        if name.contains('/') || name.ends_with(".yaml") {
            return self.file(beside, name);
        }
        let file = format!("{name}.yaml");
        let here = Path::new(beside).parent().unwrap_or(Path::new("")).join(&file);
        let built_in = format!("built in: {name}");
        let of_role = || self.0.iter().filter(|text| text.role == role);
        let found = of_role()
            .find(|text| Path::new(&text.name) == here)
            .or_else(|| of_role().find(|text| Path::new(&text.name).file_name() == Some(file.as_ref())))
            .or_else(|| of_role().find(|text| text.name == built_in));
        found.map(text).ok_or_else(|| missing(name))
    }
}

fn text(of: &SourceText) -> Text {
    Text { name: of.name.clone(), text: of.text.clone() }
}

fn missing(name: &str) -> NotFound {
    NotFound {
        message: format!("the record of the run does not hold `{name}`"),
        advice: Some("a run is replayed from the files that it was made with".to_owned()),
    }
}

impl Library for Recorded<'_> {
    fn file(&self, beside: &str, path: &str) -> Result<Text, NotFound> {
        let folder = Path::new(beside).parent().unwrap_or(Path::new(""));
        let wanted = normal(&folder.join(path));
        let found = self.0.iter().find(|text| Path::new(&text.name) == wanted);
        found.map(text).ok_or_else(|| missing(path))
    }

    fn profile(&self, beside: &str, name: &str) -> Result<Text, NotFound> {
        self.named(beside, TextRole::Profile, name)
    }

    fn rule(&self, beside: &str, name: &str) -> Result<Text, NotFound> {
        self.named(beside, TextRole::Rule, name)
    }

    fn band_plan(&self, beside: &str, name: &str) -> Result<Text, NotFound> {
        self.named(beside, TextRole::Bands, name)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn recorded() -> Vec<SourceText> {
        [
            (TextRole::Plan, "plans/a.yaml"),
            (TextRole::Bench, "benches/b.yaml"),
            (TextRole::Profile, "/home/me/.config/spurline/profiles/mine.yaml"),
            (TextRole::Profile, "benches/near.yaml"),
            (TextRole::Profile, "built in: generic"),
            (TextRole::Rule, "built in: mine"),
            (TextRole::Path, "paths/pad.s2p"),
            (TextRole::Bands, "built in: mine"),
        ]
        .map(|(role, name)| SourceText { role, name: name.to_owned(), text: format!("{role:?} {name}") })
        .into()
    }

    #[test]
    fn files_are_found_as_the_run_found_them() {
        let texts = recorded();
        let library = Recorded(&texts);
        let name = |found: Result<Text, NotFound>| found.unwrap().name;
        let bench = "benches/b.yaml";
        assert_eq!(library.name_of(TextRole::Bench), Some(bench));
        assert_eq!(name(library.file("", "plans/a.yaml")), "plans/a.yaml");
        assert_eq!(name(library.file(bench, "../paths/pad.s2p")), "paths/pad.s2p");
        assert_eq!(name(library.profile(bench, "mine")), "/home/me/.config/spurline/profiles/mine.yaml");
        assert_eq!(name(library.profile(bench, "near")), "benches/near.yaml");
        assert_eq!(name(library.profile(bench, "generic")), "built in: generic");
        assert_eq!(name(library.rule("plans/a.yaml", "mine")), "built in: mine");
        assert_eq!(library.band_plan("plans/a.yaml", "mine").unwrap().text, "Bands built in: mine");
        let missing = library.profile(bench, "other").unwrap_err();
        assert_eq!(missing.message, "the record of the run does not hold `other`");
        assert!(library.file(bench, "paths/pad.s2p").is_err());
    }
}
