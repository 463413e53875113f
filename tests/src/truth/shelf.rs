//! The files of a subject as a library; what they name beyond themselves is shipped.

use spurline_plan::{Library, NotFound, Text};

use super::texts::Texts;

macro_rules! shipped {
    ($folder:literal: $($name:literal),+ $(,)?) => {
        [$(($name, include_str!(concat!("../../../config/", $folder, "/", $name, ".yaml")))),+]
    };
}

const PROFILES: [(&str, &str); 2] = shipped!("profiles": "relay-generic", "unit-generic");
const RULES: [(&str, &str); 2] = shipped!("rules": "itu-category-a", "us-part-97");

impl Texts {
    fn find(&self, name: &str, shipped: &[(&str, &str)]) -> Result<Text, NotFound> {
        let own = self.0.get(name).map(String::as_str);
        let text = own.or_else(|| shipped.iter().find(|(known, _)| *known == name).map(|(_, text)| *text));
        match text {
            Some(text) => Ok(Text { name: name.to_owned(), text: text.to_owned() }),
            None => Err(NotFound { message: format!("there is no `{name}`"), advice: None }),
        }
    }
}

impl Library for Texts {
    fn file(&self, _: &str, path: &str) -> Result<Text, NotFound> {
        self.find(path, &[])
    }

    fn profile(&self, _: &str, name: &str) -> Result<Text, NotFound> {
        self.find(name, &PROFILES)
    }

    fn rule(&self, _: &str, name: &str) -> Result<Text, NotFound> {
        self.find(name, &RULES)
    }

    fn band_plan(&self, _: &str, name: &str) -> Result<Text, NotFound> {
        self.find(name, &[])
    }
}
