//! Files that exist only in memory, beside those that are shipped.

use std::collections::BTreeMap;
use std::path::Path;

use spurline_plan::{Library, NotFound, Text};

/// Texts by their names; profiles and rules that are not among them come from the shipped ones.
#[derive(Clone, Debug, Default)]
pub struct Texts(pub BTreeMap<String, String>);

impl Texts {
    fn own(&self, name: &str) -> Option<Text> {
        self.0.get(name).map(|text| Text { name: name.to_owned(), text: text.clone() })
    }
}

fn shipped(folder: &str, name: &str) -> Result<Text, NotFound> {
    let path =
        Path::new(env!("CARGO_MANIFEST_DIR")).join("../config").join(folder).join(format!("{name}.yaml"));
    let told =
        |error: std::io::Error| NotFound { message: format!("{}: {error}", path.display()), advice: None };
    Ok(Text { name: name.to_owned(), text: std::fs::read_to_string(&path).map_err(told)? })
}

impl Library for Texts {
    fn file(&self, _beside: &str, path: &str) -> Result<Text, NotFound> {
        self.own(path).ok_or_else(|| NotFound { message: format!("there is no `{path}`"), advice: None })
    }

    fn profile(&self, _beside: &str, name: &str) -> Result<Text, NotFound> {
        self.own(name).map_or_else(|| shipped("profiles", name), Ok)
    }

    fn rule(&self, _beside: &str, name: &str) -> Result<Text, NotFound> {
        self.own(name).map_or_else(|| shipped("rules", name), Ok)
    }
}
