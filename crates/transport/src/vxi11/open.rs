//! How a VXI-11 link is opened: the portmapper names the port, the server gives a link.

use std::collections::VecDeque;

use bytes::{Bytes, BytesMut};
use spurline_clock::Clock;
use spurline_wire::vxi11::{CORE, CreateLink, Created, LEAST_RECEIVE, VERSION, procedure};
use spurline_wire::{portmap, rpc};

use super::calls::{Calls, Program};
use super::{REQUEST, Vxi11Link, is_busy};
use crate::address::Address;
use crate::link::LinkError;
use crate::outgoing::Rest;
use crate::settings::LinkSettings;
use crate::step::Steps;
use crate::tcp;

/// What surrounds the data of a read in its record, and then some.
const AROUND: usize = 4096;
/// Pieces of more are not made, whatever the device would take.
const MOST_SENT: u32 = 1 << 20;

/// Where a device is.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Device<'a> {
    pub(crate) host: &'a str,
    pub(crate) port: Option<u16>,
    pub(crate) name: &'a str,
    /// The port of the host's portmapper.
    pub(crate) portmapper: u16,
}

pub(crate) async fn open(
    address: &Address,
    device: Device<'_>,
    settings: &LinkSettings,
    clock: Clock,
) -> Result<Vxi11Link, LinkError> {
    let within = settings.connect_within;
    let steps = Steps { address: address.to_string(), clock, within };
    let port = match device.port {
        Some(port) => port,
        None => core_port(device, &steps).await?,
    };
    let stream = tcp::dial(device.host, port, within, clock).await?;
    let core = Program { number: CORE, version: VERSION };
    let mut calls = Calls::new(stream, core, REQUEST as usize + AROUND, &steps);
    let wanted = CreateLink {
        client: std::process::id().cast_signed(),
        lock: false,
        lock_timeout: 0,
        device: Bytes::copy_from_slice(device.name.as_bytes()),
    };
    let asked = "a link";
    let results = calls.ask(asked, procedure::CREATE_LINK, wanted.encode()).await?;
    let created = Created::decode(results).map_err(|error| calls.protocol(error))?;
    if !created.error.is_none() {
        let error = created.error;
        return Err(if is_busy(error) {
            steps.busy(asked, error)
        } else {
            steps.refused(asked, error, true)
        });
    }
    let most = if created.most_receive == 0 { LEAST_RECEIVE } else { created.most_receive };
    Ok(Vxi11Link {
        calls,
        terminator: settings.terminator,
        rest: Rest::new(settings.pause),
        link: created.link,
        most_sent: most.min(MOST_SENT) as usize,
        unsent: Bytes::new(),
        writing: None,
        reading: None,
        parts: BytesMut::new(),
        whole: VecDeque::new(),
        late: None,
    })
}

/// Asks the host which port the core channel is on.
async fn core_port(device: Device<'_>, steps: &Steps) -> Result<u16, LinkError> {
    let stream = tcp::dial(device.host, device.portmapper, steps.within, steps.clock).await?;
    let program = Program { number: portmap::PROGRAM, version: portmap::VERSION };
    let mut calls = Calls::new(stream, program, AROUND, steps);
    let question = portmap::Mapping::tcp(CORE, VERSION);
    let asked = "the port of its core channel";
    let results = calls.ask(asked, portmap::GETPORT, question.encode()).await?;
    let port = portmap::decode_port(results).map_err(|error| calls.protocol(rpc::RpcError::from(error)))?;
    port.ok_or_else(|| steps.refused(asked, "the host does not serve VXI-11", true))
}

#[cfg(test)]
mod tests;
