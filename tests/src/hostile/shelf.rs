//! The shipped files as a library in memory, with one text in the place of another.

use std::sync::LazyLock;

use spurline_plan::{Library, NotFound, Text};

macro_rules! shipped {
    ($folder:literal, $ending:literal: $($name:literal),+ $(,)?) => {
        [$((concat!($name, $ending), include_str!(concat!("../../../config/", $folder, "/", $name, $ending)))),+]
    };
}

const PLANS: [(&str, &str); 5] = shipped!("plans", ".yaml":
    "analyser-alone", "demo", "land-mobile", "modulated-qualification", "notched",
);
const BENCHES: [(&str, &str); 4] =
    shipped!("benches", ".yaml": "analyser-alone", "demo", "modulated", "notched");
const PROFILES: [(&str, &str); 5] = shipped!("profiles", ".yaml":
    "analyser-generic", "power-meter-generic", "relay-generic", "supply-generic", "unit-generic",
);
const RULES: [(&str, &str); 4] = shipped!("rules", ".yaml":
    "itu-category-a", "us-part-90", "us-part-90-stability", "us-part-97",
);
const BANDS: [(&str, &str); 1] = shipped!("bands", ".yaml": "us-amateur");
const PATHS: [(&str, &str); 12] = shipped!("paths", ".s2p":
    "adapter-sma", "cable-10", "cable-7", "cable-8", "cable-9", "notch-2m", "pad-20", "pad-30", "splitter-1",
    "splitter-2", "splitter-3", "splitter-4",
);

/// Every so many points of a table are kept: the readers of benches are tried here, not that of tables.
const THINNED: usize = 12;

static TABLES: LazyLock<Vec<(&str, String)>> = LazyLock::new(|| {
    let thinned = |(name, text): &(&'static str, &str)| {
        let is_point = |line: &&str| line.starts_with(|c: char| c.is_ascii_digit());
        let last = text.lines().filter(is_point).count().saturating_sub(1);
        let head = text.lines().filter(|line| !is_point(line));
        let points = text.lines().filter(is_point).enumerate();
        let kept = points.filter(|(at, _)| at % THINNED == 0 || *at == last).map(|(_, line)| line);
        (*name, head.chain(kept).map(|line| format!("{line}\n")).collect())
    };
    PATHS.iter().map(thinned).collect()
});

/// The folders of the shipped files.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Folder {
    Plans,
    Benches,
    Profiles,
    Rules,
    Bands,
}

/// The shipped files, and `text` under a `name` in one of the folders; it goes before a shipped one of that name.
pub(super) struct Shelf<'t> {
    pub(super) folder: Folder,
    pub(super) name: &'t str,
    pub(super) text: &'t str,
}

impl Shelf<'_> {
    fn find(&self, folder: Folder, name: &str, files: &[(&str, &str)]) -> Result<Text, NotFound> {
        let file = if name.ends_with(".yaml") { name.to_owned() } else { format!("{name}.yaml") };
        if folder == self.folder && file == self.name {
            return Ok(Text { name: file, text: self.text.to_owned() });
        }
        let found = files.iter().find(|(known, _)| *known == file);
        found
            .map(|(known, text)| Text { name: (*known).to_owned(), text: (*text).to_owned() })
            .ok_or_else(missing)
    }
}

fn missing() -> NotFound {
    NotFound { message: "it is not on the shelf".to_owned(), advice: None }
}

impl Library for Shelf<'_> {
    fn file(&self, _: &str, path: &str) -> Result<Text, NotFound> {
        let name = path.rsplit('/').next().unwrap_or(path);
        if let Some((known, text)) = TABLES.iter().find(|(known, _)| *known == name) {
            return Ok(Text { name: (*known).to_owned(), text: text.clone() });
        }
        if path.contains("benches/") {
            self.find(Folder::Benches, name, &BENCHES)
        } else {
            self.find(Folder::Plans, name, &PLANS)
        }
    }

    fn profile(&self, _: &str, name: &str) -> Result<Text, NotFound> {
        self.find(Folder::Profiles, name, &PROFILES)
    }

    fn rule(&self, _: &str, name: &str) -> Result<Text, NotFound> {
        self.find(Folder::Rules, name, &RULES)
    }

    fn band_plan(&self, _: &str, name: &str) -> Result<Text, NotFound> {
        self.find(Folder::Bands, name, &BANDS)
    }
}
