//! The link to the terminal: made where nothing is, removed by whoever made it.

use super::*;

#[test]
fn the_link_is_there_as_long_as_the_line_is() {
    let folder = TempDir::new().unwrap();
    let path = folder.path().join("line");
    let pty = Pty::open(Some(&path)).unwrap();
    assert_eq!(pty.path(), path);
    assert!(std::fs::read_link(&path).unwrap().starts_with("/dev/pts"));
    assert_eq!(Pty::open(Some(&path)).unwrap_err().kind(), io::ErrorKind::AlreadyExists);
    assert!(path.is_symlink(), "the second one did not make it");
    drop(pty);
    assert!(!path.is_symlink());
}

#[test]
fn what_a_killed_bench_has_left_is_replaced_and_nothing_else() {
    let folder = TempDir::new().unwrap();
    let path = folder.path().join("line");
    std::os::unix::fs::symlink("/dev/pts/no-such-terminal", &path).unwrap();
    drop(Pty::open(Some(&path)).unwrap());
    for make in [
        |path: &Path| std::fs::write(path, "").unwrap(),
        |path: &Path| {
            std::os::unix::fs::symlink("/no/such/file", path).unwrap();
        },
    ] {
        make(&path);
        assert!(Pty::open(Some(&path)).is_err());
        assert!(path.symlink_metadata().is_ok(), "it was somebody else's");
        std::fs::remove_file(&path).unwrap();
    }
}

#[test]
fn a_line_without_a_place_has_a_folder_of_its_own() {
    let pty = Pty::open(None).unwrap();
    let path = pty.path().to_owned();
    assert!(path.is_symlink());
    drop(pty);
    assert!(!path.parent().unwrap().exists());
}
