//! Every link leads somewhere, and every page is in the table of contents.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Component, Path, PathBuf};

use super::page::Page;
use crate::bench::root;

#[test]
fn every_link_leads_somewhere() {
    let pages: Vec<Page> = Page::book().into_iter().chain(Page::beside()).collect();
    let anchors: BTreeMap<&str, &[String]> =
        pages.iter().map(|page| (page.file.as_str(), page.anchors.as_slice())).collect();
    let (mut seen, mut wrong) = (0, Vec::new());
    for page in &pages {
        for link in &page.links {
            seen += 1;
            if let Err(why) = leads(page, link, &anchors) {
                wrong.push(format!("{}: `{link}` {why}", page.file));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    assert!(seen > 100, "only {seen} links found");
}

fn leads(page: &Page, link: &str, anchors: &BTreeMap<&str, &[String]>) -> Result<(), String> {
    if link.starts_with("https://") {
        return Ok(());
    }
    if link.contains("://") || link.starts_with('/') {
        return Err("is neither relative nor https".to_owned());
    }
    let (target, anchor) =
        link.split_once('#').map_or((link, None), |(target, anchor)| (target, Some(anchor)));
    let file = if target.is_empty() {
        page.file.clone()
    } else {
        let beside = Path::new(&page.file).parent().unwrap().join(target);
        let file = without_dots(&beside).ok_or("leads out of the repository")?;
        // Only what lies in its folder is part of a built book.
        if page.file.starts_with("docs/src/") && !file.starts_with("docs/src/") {
            return Err("leads out of the book".to_owned());
        }
        if !root().join(&file).exists() {
            return Err("is not there".to_owned());
        }
        file
    };
    let Some(anchor) = anchor else { return Ok(()) };
    let headings = anchors.get(file.as_str()).ok_or("names a heading of what is no page")?;
    if headings.iter().any(|heading| heading == anchor) { Ok(()) } else { Err("names no heading".to_owned()) }
}

fn without_dots(path: &Path) -> Option<String> {
    let mut plain = PathBuf::new();
    for part in path.components() {
        match part {
            Component::ParentDir if !plain.pop() => return None,
            Component::ParentDir | Component::CurDir => {}
            other => plain.push(other),
        }
    }
    plain.to_str().map(str::to_owned)
}

#[test]
fn every_page_is_in_the_table_of_contents_once() {
    let summary = Page::read("docs/src/SUMMARY.md");
    let listed: BTreeSet<&str> = summary.links.iter().map(String::as_str).collect();
    assert_eq!(listed.len(), summary.links.len(), "a page is listed twice");
    for page in Page::book() {
        let name = page.file.strip_prefix("docs/src/").unwrap();
        assert!(name == "SUMMARY.md" || listed.contains(name), "`{name}` is not in the table of contents");
    }
}

#[test]
fn what_leads_nowhere_is_found() {
    let page = Page::read("docs/src/reading.md");
    let heads = ["here".to_owned()];
    let anchors = BTreeMap::from([("docs/src/key.md", &heads[..]), ("docs/src/reading.md", &[])]);
    assert_eq!(leads(&page, "key.md#here", &anchors), Ok(()));
    for wrong in
        ["key.md#there", "#here", "no.md", "../../README.md", "../../../x", "http://192.0.2.1/", "/etc"]
    {
        assert!(leads(&page, wrong, &anchors).is_err(), "{wrong}");
    }
}
