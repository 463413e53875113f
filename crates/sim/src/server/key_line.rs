//! The control line that keys the unit: a Unix socket in place of a serial port that carries no data.
//!
//! Whoever holds the one connection has the port open. It takes lines: `down` asserts the control line, `up` drops it,
//! `state` leaves it; each is answered with `down` or `up`, as the line then is. Anything else, or more than 16 bytes
//! without an end, closes the connection. The last close drops the line, as a port with `HUPCL` does.

use std::io;
use std::os::unix::fs::FileTypeExt;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use spurline_clock::Clock;
use tempfile::TempDir;
use tokio::io::{AsyncBufReadExt, AsyncReadExt, AsyncWriteExt, BufReader};
use tokio::net::{UnixListener, UnixStream};

use crate::bench::KeyLineTruth;
use crate::world::World;

const LONGEST_LINE: u64 = 16;

/// A control line that can be opened; its path is gone when dropped.
#[derive(Debug)]
pub(super) struct KeyLine {
    listener: UnixListener,
    path: Place,
}

/// The path of the socket.
#[derive(Debug)]
struct Place {
    path: PathBuf,
    _folder: Option<TempDir>,
}

impl Drop for Place {
    fn drop(&mut self) {
        // Somebody else may have removed it.
        drop(std::fs::remove_file(&self.path));
    }
}

impl KeyLine {
    /// Opens the line at `path`, or in a folder of its own.
    pub(super) fn open(path: Option<&Path>) -> io::Result<Self> {
        let path = match path {
            Some(path) => Place { path: path.to_owned(), _folder: None },
            None => {
                let folder = tempfile::Builder::new().prefix("spurline-").tempdir()?;
                Place { path: folder.path().join("key"), _folder: Some(folder) }
            }
        };
        let left_behind =
            std::fs::symlink_metadata(&path.path).is_ok_and(|found| found.file_type().is_socket());
        if left_behind && std::os::unix::net::UnixStream::connect(&path.path).is_err() {
            std::fs::remove_file(&path.path)?;
        }
        let listener = match UnixListener::bind(&path.path) {
            Ok(listener) => listener,
            Err(error) => {
                // It is somebody else's.
                std::mem::forget(path);
                return Err(error);
            }
        };
        Ok(Self { listener, path })
    }

    /// Where it can be opened.
    pub(super) fn path(&self) -> &Path {
        &self.path.path
    }

    pub(super) async fn serve(self, truth: KeyLineTruth, world: Arc<World>, clock: Clock) {
        while let Ok((stream, _)) = self.listener.accept().await {
            let mut held = Box::pin(hold(stream, &world, clock));
            loop {
                tokio::select! {
                    biased;
                    () = &mut held => break,
                    // The port is open exclusively: nobody else gets in.
                    other = self.listener.accept() => drop(other),
                }
            }
            if truth.hupcl {
                world.key_line(clock.now(), false, "the line was closed");
            }
        }
    }
}

async fn hold(stream: UnixStream, world: &World, clock: Clock) {
    let mut stream = BufReader::new(stream);
    let mut line = String::new();
    loop {
        line.clear();
        let read = (&mut stream).take(LONGEST_LINE).read_line(&mut line).await;
        match (read, line.as_str()) {
            (Ok(_), "down\n") => world.key_line(clock.now(), true, "the line was told"),
            (Ok(_), "up\n") => world.key_line(clock.now(), false, "the line was told"),
            (Ok(_), "state\n") => {}
            _ => return,
        }
        let answer: &[u8] = if world.is_keyed(clock.now()) { b"down\n" } else { b"up\n" };
        if stream.get_mut().write_all(answer).await.is_err() {
            return;
        }
    }
}
