//! Signatures: whose they are, of what, and that a key is never lost or shown.

use std::fs;
use std::os::unix::fs::PermissionsExt;

use super::*;
use crate::specimen::{at, events};

fn run() -> RunId {
    RunId::from_record("r".to_owned())
}

fn signed() -> (tempfile::TempDir, Store, SecretKey) {
    let folder = tempfile::tempdir().unwrap();
    let mut recorder = Store::open(folder.path()).unwrap().into_recorder();
    recorder.record(&events("r")).unwrap();
    let (key, _) = SecretKey::make(&folder.path().join("key")).unwrap();
    let store = recorder.into_store();
    store.sign(&run(), &key, at(50), "test 1").unwrap();
    (folder, store, key)
}

#[test]
fn a_signature_is_kept_and_verifies() {
    let (folder, store, key) = signed();
    let found = store.verify(&run()).unwrap();
    assert_eq!(found.standing, Standing::Whole);
    let [signature] = found.signatures.as_slice() else { panic!("{found:?}") };
    assert_eq!((signature.public_key, signature.genuine), (key.public(), true));
    assert_eq!((Some(signature.head), signature.link), (found.head, Some(found.links)));
    assert_eq!(PublicKey::read(&folder.path().join("key.pub")).unwrap(), key.public());
    assert_eq!(SecretKey::read(&folder.path().join("key")).unwrap().public(), key.public());
    // Again with the same key: the first one stands.
    assert_eq!(store.sign(&run(), &key, at(60), "test 2").unwrap(), *signature);
    let (second, _) = SecretKey::make(&folder.path().join("second")).unwrap();
    store.sign(&run(), &second, at(70), "test 2").unwrap();
    assert_eq!(store.verify(&run()).unwrap().signatures.len(), 2);
}

#[test]
fn a_signature_of_something_else_shows() {
    for change in [
        "UPDATE signature SET at = '2020'",
        "UPDATE signature SET software = 'other'",
        "UPDATE signature SET head = zeroblob(32)",
        "UPDATE signature SET public_key = zeroblob(32)",
        "UPDATE signature SET signature = zeroblob(64)",
    ] {
        let (_folder, store, _) = signed();
        store.connection.turn().execute(change, []).unwrap();
        let found = store.verify(&run()).unwrap();
        assert_eq!(found.standing, Standing::Broken, "{change}");
        assert_eq!(found.breaks[0].place, Place::Signature);
    }
}

#[test]
fn only_a_whole_run_that_has_ended_is_signed() {
    let (folder, store, key) = signed();
    store.connection.turn().execute("UPDATE reading SET level_dbm = 0 WHERE ordinal = 2", []).unwrap();
    let (second, _) = SecretKey::make(&folder.path().join("second")).unwrap();
    assert!(matches!(store.sign(&run(), &second, at(0), "x"), Err(StoreError::NotWhole { .. })));
    store.connection.turn().execute("UPDATE run SET chain = NULL", []).unwrap();
    assert!(matches!(store.sign(&run(), &second, at(0), "x"), Err(StoreError::Unchained { .. })));
    let mut recorder = store.into_recorder();
    recorder.record(&events("s")[..3]).unwrap();
    let running = RunId::from_record("s".to_owned());
    let error = recorder.into_store().sign(&running, &key, at(0), "x").unwrap_err();
    assert!(matches!(error, StoreError::StillRunning { .. }));
}

#[test]
fn keys_are_for_their_owner_and_never_written_over() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("key");
    let (key, _) = SecretKey::make(&file).unwrap();
    let text = fs::read_to_string(&file).unwrap();
    assert_eq!(fs::metadata(&file).unwrap().permissions().mode() & 0o777, 0o600);
    assert!(matches!(SecretKey::make(&file), Err(KeyError::There { .. })));
    fs::remove_file(&file).unwrap();
    assert!(matches!(SecretKey::make(&file), Err(KeyError::There { .. })), "the public half is still there");
    fs::write(&file, &text).unwrap();
    fs::set_permissions(&file, fs::Permissions::from_mode(0o644)).unwrap();
    let error = SecretKey::read(&file).unwrap_err();
    assert!(error.to_string().ends_with("(mode 600), found mode 644"), "{error}");
    assert!(matches!(PublicKey::read(&file), Err(KeyError::NotAKey { .. })));
    assert!(matches!(SecretKey::read(&folder.path().join("none")), Err(KeyError::File { .. })));
    assert!(!format!("{key:?}").contains(&text[40..60]));
}

/// RFC 8032, 7.1, TEST 2: key, message and signature.
#[test]
fn the_signatures_are_those_of_rfc_8032() {
    let bytes = |hex: &str| -> Vec<u8> {
        (0..hex.len() / 2).map(|at| u8::from_str_radix(&hex[2 * at..2 * at + 2], 16).unwrap()).collect()
    };
    let secret = bytes("4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb");
    let public = bytes("3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c");
    let signature = "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da\
                     085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00";
    let key = SecretKey::from_bytes(&secret.try_into().unwrap());
    assert_eq!(key.public().0.to_vec(), public);
    assert_eq!(key.sign(&[0x72]).to_vec(), bytes(signature));
}
