//! A control line of a port that carries no data: key down is RTS or DTR asserted.
//!
//! What closes the port, also the death of the process, drops the line: the system does it at the last close (`HUPCL`).
//! A path outside `/dev` is the control line of a simulated bench, a Unix socket: it takes the lines `down`, `up` and
//! `state`, does what they say, and answers with the state that the line is in, `down` or `up`. Its last close is key up
//! as well.
//!
//! How RTS and DTR really stand cannot be read back: what the system offers for it is not to be had in safe code. What
//! is confirmed is that the port took the order and is still there.

use std::io;
use std::os::fd::AsRawFd;
use std::os::unix::fs::FileTypeExt;
use std::path::Path;
use std::time::Duration;

use async_trait::async_trait;
use nix::sys::termios::{ControlFlags, SetArg, tcgetattr, tcsetattr};
use serde::{Deserialize, Serialize};
use serialport::{FlowControl, SerialPort, TTYPort};
use spurline_clock::{Clock, Moment};
use tokio::io::{AsyncBufReadExt, AsyncReadExt, AsyncWriteExt, BufReader};
use tokio::net::UnixStream;

use super::KeyLine;
use crate::error::InstrumentFault;

/// Where the system names ports by what is plugged in: any other name may be another port tomorrow.
pub const PORTS_BY_ID: &str = "/dev/serial/by-id/";
/// A port that goes within so short a time of key down was pushed by the transmitter.
const PUSHED_WITHIN: Duration = Duration::from_secs(1);
/// How often a line that is down is looked at.
const LOOK_EVERY: Duration = Duration::from_millis(200);
/// A simulated line answers at once.
const ANSWER_WITHIN: Duration = Duration::from_secs(1);
/// The longest answer of a simulated line, in bytes.
const LONGEST_ANSWER: u64 = 16;

/// A control line.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ControlLine {
    /// The port, or the socket of a simulated one.
    pub path: String,
    /// Which of its lines keys.
    pub wire: ControlWire,
    /// Whether the circuit keys only while DTR is asserted and RTS is not.
    pub two_lines: bool,
}

/// An output of a serial port.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ControlWire {
    /// Request to send.
    Rts,
    /// Data terminal ready.
    Dtr,
}

#[derive(Debug)]
pub(super) struct Control {
    at: ControlLine,
    port: Option<Port>,
    /// When it was told to go down, until it is up.
    pressed: Option<Moment>,
    clock: Clock,
}

#[derive(Debug)]
enum Port {
    Real(Box<TTYPort>),
    Simulated(BufReader<UnixStream>),
}

impl Control {
    pub(super) fn new(at: ControlLine, clock: Clock) -> Self {
        Self { at, port: None, pressed: None, clock }
    }

    fn failed(&self, what: &str, source: Option<io::Error>) -> InstrumentFault {
        InstrumentFault::KeyPort { path: self.at.path.clone(), what: what.to_owned(), source }
    }

    async fn open(&mut self) -> Result<(), InstrumentFault> {
        if self.port.is_some() {
            return Ok(());
        }
        let path = Path::new(&self.at.path);
        let found = std::fs::metadata(path).map_err(|error| self.failed("is not there", Some(error)))?;
        self.port = Some(if found.file_type().is_socket() {
            let stream = UnixStream::connect(path).await;
            let stream = stream.map_err(|error| self.failed("does not take the connection", Some(error)))?;
            Port::Simulated(BufReader::new(stream))
        } else if path.starts_with(PORTS_BY_ID) {
            let opened = open_port(&self.at);
            Port::Real(Box::new(opened.map_err(|error| self.failed("cannot be opened", Some(error)))?))
        } else {
            let what = format!("is neither a port under {PORTS_BY_ID} nor the line of a simulated bench");
            return Err(self.failed(&what, None));
        });
        Ok(())
    }

    /// Tells the line, if anything, and makes sure that it is so.
    async fn tell(&mut self, word: &'static str, down: bool) -> Result<(), InstrumentFault> {
        self.open().await?;
        let clock = self.clock;
        let told = match self.port.as_mut().expect("it was opened above") {
            Port::Real(port) => set(port, &self.at, (word != "state").then_some(down)),
            Port::Simulated(stream) => {
                let told = clock.within(ANSWER_WITHIN, ask(stream, word)).await;
                match told.unwrap_or_else(|_| Err(io::ErrorKind::TimedOut.into())) {
                    Ok(is_down) if is_down == down => Ok(()),
                    Ok(_) => {
                        let what = if down { "says that it is up" } else { "says that it is down" };
                        return Err(self.failed(what, None));
                    }
                    Err(error) => Err(error),
                }
            }
        };
        told.map_err(|error| self.lost(error))
    }

    /// What closing the port leaves is key up, so that it is closed whatever went wrong with it.
    fn lost(&mut self, error: io::Error) -> InstrumentFault {
        self.port = None;
        let after = self.pressed.map(|pressed| self.clock.now().since(pressed));
        match after.filter(|after| *after <= PUSHED_WITHIN && has_vanished(&error)) {
            Some(after) => InstrumentFault::KeyVanished { path: self.at.path.clone(), after, source: error },
            None => self.failed("failed", Some(error)),
        }
    }
}

/// One word to a simulated line; whether it is down then.
async fn ask(stream: &mut BufReader<UnixStream>, word: &str) -> io::Result<bool> {
    stream.get_mut().write_all(format!("{word}\n").as_bytes()).await?;
    let mut answer = String::new();
    stream.take(LONGEST_ANSWER).read_line(&mut answer).await?;
    match answer.as_str() {
        "down\n" => Ok(true),
        "up\n" => Ok(false),
        "" => Err(io::ErrorKind::UnexpectedEof.into()),
        other => Err(io::Error::new(io::ErrorKind::InvalidData, format!("it answered {other:?}"))),
    }
}

/// Opens a port with its lines down as the first act. The system raises both for a moment when a port is opened.
fn open_port(at: &ControlLine) -> io::Result<TTYPort> {
    // 9600 baud because a port has some speed; nothing is ever written.
    let builder = serialport::new(&at.path, 9600).flow_control(FlowControl::None).dtr_on_open(false);
    let mut port = TTYPort::open(&builder)?;
    set(&mut port, at, Some(false))?;
    let mut settings = tcgetattr(port.as_raw_fd())?;
    settings.control_flags.remove(ControlFlags::CRTSCTS);
    settings.control_flags.insert(ControlFlags::HUPCL);
    tcsetattr(port.as_raw_fd(), SetArg::TCSANOW, &settings)?;
    let taken = tcgetattr(port.as_raw_fd())?.control_flags;
    if !taken.contains(ControlFlags::HUPCL) || taken.contains(ControlFlags::CRTSCTS) {
        return Err(io::Error::other(
            "it does not take HUPCL without flow control: the line would stay as it is",
        ));
    }
    Ok(port)
}

/// Sets the lines, if they are to be set, and makes sure that the port is still there.
fn set(port: &mut TTYPort, at: &ControlLine, down: Option<bool>) -> io::Result<()> {
    match down {
        Some(down) if at.two_lines => {
            // DTR goes first: with RTS down and DTR up the transmitter is keyed.
            port.write_data_terminal_ready(false)?;
            port.write_request_to_send(false)?;
            if down {
                port.write_data_terminal_ready(true)?;
            }
        }
        Some(down) => match at.wire {
            ControlWire::Rts => {
                port.write_request_to_send(down)?;
                port.write_data_terminal_ready(false)?;
            }
            ControlWire::Dtr => {
                port.write_data_terminal_ready(down)?;
                port.write_request_to_send(false)?;
            }
        },
        None => {}
    }
    tcgetattr(port.as_raw_fd())?;
    Ok(())
}

/// Whether the port is gone, rather than unwilling.
fn has_vanished(error: &io::Error) -> bool {
    let gone = [nix::errno::Errno::EIO, nix::errno::Errno::ENODEV, nix::errno::Errno::ENXIO];
    error.raw_os_error().is_some_and(|code| gone.iter().any(|gone| *gone as i32 == code))
        || matches!(
            error.kind(),
            io::ErrorKind::UnexpectedEof | io::ErrorKind::BrokenPipe | io::ErrorKind::ConnectionReset
        )
}

#[async_trait]
impl KeyLine for Control {
    async fn arm(&mut self) -> Result<(), InstrumentFault> {
        self.up().await
    }

    async fn ready(&mut self) -> Result<(), InstrumentFault> {
        // Told again rather than asked: a real one has nothing to say.
        self.up().await
    }

    async fn down(&mut self) -> Result<(), InstrumentFault> {
        if self.port.is_none() {
            // Opening one takes time, and may key by itself.
            return Err(self.failed("is closed", None));
        }
        self.pressed = Some(self.clock.now());
        self.tell("down", true).await
    }

    async fn hold(&mut self) -> Result<(), InstrumentFault> {
        if self.port.is_none() {
            return Err(self.failed("is closed", None));
        }
        self.tell("state", true).await
    }

    async fn up(&mut self) -> Result<(), InstrumentFault> {
        let mut told = self.tell("up", false).await;
        if told.is_err() {
            // Closed, it has come up by itself; that is made sure of.
            self.port = None;
            told = self.tell("up", false).await;
        }
        told?;
        self.pressed = None;
        Ok(())
    }

    fn refresh_every(&self) -> Option<Duration> {
        Some(LOOK_EVERY)
    }
}

#[cfg(test)]
mod tests;
