//! Serial ports that carry messages: 9600 baud, 8 data bits, no parity, 1 stop bit.

use std::io;

use tokio_serial::{SerialPortBuilderExt, SerialStream};

use crate::link::LinkError;
use crate::stream::StreamLink;

const BAUD: u32 = 9600;

pub(crate) fn open(device: &str) -> Result<StreamLink<SerialStream>, LinkError> {
    tokio_serial::new(device, BAUD)
        .open_native_async()
        .map(StreamLink::new)
        .map_err(|error| LinkError::Connect { address: device.to_owned(), source: io::Error::from(error) })
}
