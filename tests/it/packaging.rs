//! What the package for Debian holds, and that installing it starts nothing.

use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::Stdio;

use cargo_metadata::MetadataCommand;
use serde_json::Value;

use crate::bench::{Workshop, root};
use crate::processes::signal;

fn described() -> Value {
    let told = MetadataCommand::new().manifest_path(root().join("Cargo.toml")).no_deps().exec().unwrap();
    let program = told.packages.into_iter().find(|package| *package.name == "spurline").unwrap();
    program.metadata["deb"].clone()
}

/// What the description takes, as paths from the root of the sources.
fn taken() -> Vec<String> {
    let assets = described()["assets"].clone();
    let source = |asset: &Value| asset[0].as_str().unwrap().trim_start_matches("../../").to_owned();
    assets.as_array().unwrap().iter().map(source).collect()
}

#[test]
fn installing_starts_nothing() {
    let unit = &described()["systemd-units"];
    for key in ["enable", "start", "restart-after-upgrade"] {
        assert_eq!(unit[key], false, "{key}");
    }
    for script in ["postrm", "prerm"] {
        let text = std::fs::read_to_string(root().join("packaging/deb").join(script)).unwrap();
        assert!(text.contains("#DEBHELPER#") && !text.contains("rm -"), "{script}");
        assert!(!text.contains("invoke start") && !text.contains("restart"), "{script}");
    }
}

#[test]
fn everything_that_ships_is_packed_and_there() {
    let taken = taken();
    for path in taken.iter().filter(|path| !path.starts_with("target/") && !path.starts_with(".cache/")) {
        let (folder, name) = path.rsplit_once('/').unwrap_or(("", path));
        let begins = name.trim_end_matches('*');
        let mut found =
            std::fs::read_dir(root().join(folder)).unwrap_or_else(|error| panic!("{path}: {error}"));
        let fits =
            |name: &str| if name == begins { true } else { path.ends_with('*') && name.starts_with(begins) };
        assert!(found.any(|file| fits(file.unwrap().file_name().to_str().unwrap())), "nothing fits {path}");
    }
    for folder in std::fs::read_dir(root().join("config")).unwrap() {
        let name = folder.unwrap().file_name().into_string().unwrap();
        assert!(taken.contains(&format!("config/{name}/*")), "config/{name} is not packed");
    }
}

/// With the folders of the package in the place that they have in the sources.
#[test]
fn the_service_begins_with_the_file_that_is_packed() {
    let workshop = Workshop::new();
    let text = std::fs::read_to_string(root().join("packaging/service.yaml")).unwrap();
    let config = root().join("config");
    workshop.write("service.yaml", &text.replace("/usr/share/spurline", config.to_str().unwrap()));
    let mut command = workshop.command(&["serve", "service.yaml", "--listen", "127.0.0.1:0"]);
    let mut child = command.stderr(Stdio::piped()).spawn().unwrap();
    let said = BufReader::new(child.stderr.take().unwrap()).lines().map_while(Result::ok);
    let begun = said.into_iter().find(|line| line.contains("the page is at") || line.starts_with("error"));
    signal("-INT", &child);
    assert_eq!(child.wait().unwrap().code(), Some(0), "{begun:?}");
    assert!(begun.is_some_and(|line| line.contains("1 benches")));
    assert!(Path::new(&workshop.path("data")).exists());
}
