//! A page as those who show it read it: headings with the names that links reach them by, links, code, running text.

use std::collections::BTreeMap;

use pulldown_cmark::{Event, Options, Parser, Tag, TagEnd};

use crate::bench::root;

pub(super) struct Page {
    /// From the root of the repository.
    pub(super) file: String,
    /// The names of its headings.
    pub(super) anchors: Vec<String>,
    /// Where links and pictures lead.
    pub(super) links: Vec<String>,
    /// What is set as code, in lines and in blocks.
    pub(super) code: Vec<String>,
}

impl Page {
    pub(super) fn read(file: &str) -> Self {
        let text =
            std::fs::read_to_string(root().join(file)).unwrap_or_else(|error| panic!("{file}: {error}"));
        let mut page = Self { file: file.to_owned(), anchors: vec![], links: vec![], code: vec![] };
        let mut used = BTreeMap::new();
        let mut heading: Option<String> = None;
        let mut in_block = false;
        for event in Parser::new_ext(&text, Options::ENABLE_TABLES) {
            match event {
                Event::Start(Tag::Heading { .. }) => heading = Some(String::new()),
                Event::End(TagEnd::Heading(_)) => {
                    page.anchors.push(unlike_others(slug(&heading.take().unwrap_or_default()), &mut used));
                }
                Event::Start(Tag::Link { dest_url, .. } | Tag::Image { dest_url, .. }) => {
                    page.links.push(dest_url.into_string());
                }
                Event::Start(Tag::CodeBlock(_)) => in_block = true,
                Event::End(TagEnd::CodeBlock) => in_block = false,
                Event::Text(words) if in_block => page.code.push(words.into_string()),
                Event::Text(words) => heading.iter_mut().for_each(|heading| heading.push_str(&words)),
                Event::Code(words) => {
                    heading.iter_mut().for_each(|heading| heading.push_str(&words));
                    page.code.push(words.into_string());
                }
                _ => {}
            }
        }
        page
    }

    /// All pages of the book.
    pub(super) fn book() -> Vec<Self> {
        let mut names: Vec<String> = std::fs::read_dir(root().join("docs/src"))
            .unwrap()
            .map(|entry| entry.unwrap().file_name().into_string().unwrap())
            .filter(|name| name.ends_with(".md"))
            .collect();
        names.sort();
        assert!(names.len() > 20, "only {names:?}");
        names.iter().map(|name| Self::read(&format!("docs/src/{name}"))).collect()
    }

    /// The pages beside the book that people read first.
    pub(super) fn beside() -> Vec<Self> {
        ["README.md", "DEVELOPERS.md", "CHANGELOG.md"].map(Self::read).into()
    }
}

/// The name of a heading in a link, as mdBook and the hosts of repositories make it.
pub(super) fn slug(heading: &str) -> String {
    heading
        .trim()
        .chars()
        .filter_map(|letter| match letter {
            _ if letter.is_alphanumeric() || matches!(letter, '_' | '-') => Some(letter.to_ascii_lowercase()),
            _ if letter.is_whitespace() => Some('-'),
            _ => None,
        })
        .collect()
}

fn unlike_others(slug: String, used: &mut BTreeMap<String, usize>) -> String {
    let count = used.entry(slug.clone()).or_default();
    *count += 1;
    if *count == 1 { slug } else { format!("{slug}-{}", *count - 1) }
}

#[test]
fn headings_are_named_as_their_readers_name_them() {
    assert_eq!(slug("Who may use it"), "who-may-use-it");
    assert_eq!(slug("What a fault does, and `*RST`"), "what-a-fault-does-and-rst");
    assert_eq!(slug("Plan: measure.search"), "plan-measuresearch");
    let mut used = BTreeMap::new();
    let names = ["tables", "tables", "other"].map(|name| unlike_others(name.to_owned(), &mut used));
    assert_eq!(names, ["tables", "tables-1", "other"]);
}
