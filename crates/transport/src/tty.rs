//! Serial ports that carry messages.
//!
//! A port is locked by `flock`, which the system takes back whatever becomes of the program. The kernel's own
//! exclusive mode would outlive a program that was killed, as long as anybody else holds the line open.

use std::io;
use std::pin::Pin;
use std::task::{Context, Poll};

use spurline_clock::Clock;
use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};
use tokio_serial::{
    ClearBuffer, DataBits, ErrorKind, FlowControl, Parity, SerialPort, SerialPortBuilderExt, SerialStream,
    StopBits,
};

use crate::link::LinkError;
use crate::settings::{LinkSettings, SerialFlow, SerialLine, SerialParity};
use crate::stream::StreamLink;

/// A serial port that is closed at once: the system would wait for what it has not sent yet, for as long as half a
/// minute if the other end holds it up.
#[derive(Debug)]
pub(crate) struct Line(SerialStream);

impl Drop for Line {
    fn drop(&mut self) {
        // A port that is gone has nothing to send either.
        drop(self.0.clear(ClearBuffer::Output));
    }
}

impl AsyncRead for Line {
    fn poll_read(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
        into: &mut ReadBuf<'_>,
    ) -> Poll<io::Result<()>> {
        Pin::new(&mut self.0).poll_read(context, into)
    }
}

impl AsyncWrite for Line {
    fn poll_write(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
        bytes: &[u8],
    ) -> Poll<io::Result<usize>> {
        Pin::new(&mut self.0).poll_write(context, bytes)
    }

    fn poll_flush(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.0).poll_flush(context)
    }

    fn poll_shutdown(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.0).poll_shutdown(context)
    }
}

pub(crate) fn open(
    device: &str,
    settings: &LinkSettings,
    clock: Clock,
) -> Result<StreamLink<Line>, LinkError> {
    let line = settings.line;
    let builder = tokio_serial::new(device, line.baud)
        .data_bits(data_bits(line))
        .parity(match line.framing.parity() {
            SerialParity::None => Parity::None,
            SerialParity::Even => Parity::Even,
            SerialParity::Odd => Parity::Odd,
        })
        .stop_bits(if line.framing.stop_bits() == 2 { StopBits::Two } else { StopBits::One })
        .flow_control(match line.flow {
            SerialFlow::None => FlowControl::None,
            SerialFlow::RtsCts => FlowControl::Hardware,
        });
    #[cfg(unix)]
    let builder = builder.exclusive(false);
    let port = builder.open_native_async().map_err(|error| match error.kind() {
        // Somebody holds the lock, or has the port in the kernel's exclusive mode.
        ErrorKind::NoDevice => LinkError::InUse { device: device.to_owned() },
        ErrorKind::InvalidInput | ErrorKind::Unknown | ErrorKind::Io(_) => {
            LinkError::Connect { address: device.to_owned(), source: io::Error::from(error) }
        }
    })?;
    if !lock(&port) {
        return Err(LinkError::InUse { device: device.to_owned() });
    }
    // What an earlier program left unread would be taken for the first answer.
    port.clear(ClearBuffer::Input)
        .map_err(|error| LinkError::Connect { address: device.to_owned(), source: error.into() })?;
    Ok(StreamLink::with(Line(port), settings, clock))
}

fn data_bits(line: SerialLine) -> DataBits {
    match line.framing.data_bits() {
        5 => DataBits::Five,
        6 => DataBits::Six,
        7 => DataBits::Seven,
        _ => DataBits::Eight,
    }
}

/// Takes the port for this program alone; `false` if another one has it.
#[cfg(unix)]
fn lock(port: &SerialStream) -> bool {
    use std::os::fd::AsRawFd;

    use nix::fcntl::{FlockArg, flock};

    flock(port.as_raw_fd(), FlockArg::LockExclusiveNonblock).is_ok()
}

/// The system itself gives a port to one program only.
#[cfg(not(unix))]
fn lock(_: &SerialStream) -> bool {
    true
}
