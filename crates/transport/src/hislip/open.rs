//! How a HiSLIP session is opened (IVI-6.1 clause 6.1): a connection, a second one that names the session, sizes.

use std::collections::VecDeque;

use bytes::{Bytes, BytesMut};
use spurline_clock::Clock;
use spurline_wire::hislip::{FIRST_MESSAGE, Greeting, Kind, Message, Version, Welcome, read_size, size};

use super::channel::Channel;
use super::{BEFORE_FIRST, Clearing, HislipLink, PROTOCOL, complaint, most_payload};
use crate::address::Address;
use crate::answer::MOST;
use crate::link::{Link, LinkError};
use crate::outgoing::Rest;
use crate::settings::LinkSettings;
use crate::step::Steps;
use crate::tcp;

/// It stands for no vendor: this client has registered none.
const VENDOR: [u8; 2] = *b"XX";

pub(crate) async fn open(
    address: &Address,
    (host, port, sub_address): (&str, u16, &str),
    settings: &LinkSettings,
    clock: Clock,
) -> Result<HislipLink, LinkError> {
    let within = settings.connect_within;
    let steps = Steps { address: address.to_string(), clock, within };
    let mut main = Channel::new(tcp::dial(host, port, within, clock).await?, &steps);
    let greeting = Greeting {
        version: Version::ONE,
        vendor: VENDOR,
        sub_address: Bytes::copy_from_slice(sub_address.as_bytes()),
    };
    let asked = "a session";
    let answer = ask(&steps, &mut main, asked, &greeting.message(), Kind::InitializeResponse).await?;
    let Some(welcome) = Welcome::read(&answer) else {
        return Err(steps.protocol(PROTOCOL, "expected an `InitializeResponse`"));
    };

    let mut beside = Channel::new(tcp::dial(host, port, within, clock).await?, &steps);
    let name = Message::bare(Kind::AsyncInitialize, 0, welcome.session.into());
    let asked = "the second connection of a session";
    ask(&steps, &mut beside, asked, &name, Kind::AsyncInitializeResponse).await?;
    let sizes = size(Kind::AsyncMaximumMessageSize, MOST as u64);
    let asked = "the greatest size of a message";
    let answer = ask(&steps, &mut beside, asked, &sizes, Kind::AsyncMaximumMessageSizeResponse).await?;
    let Some(most) = read_size(&answer) else {
        return Err(steps.protocol(PROTOCOL, "expected a size of 8 bytes"));
    };

    let mut link = HislipLink {
        steps,
        terminator: settings.terminator,
        rest: Rest::new(settings.pause),
        main,
        beside,
        most_sent: most_payload(most),
        next: FIRST_MESSAGE,
        asked: BEFORE_FIRST,
        delivered: false,
        parts: BytesMut::new(),
        whole: VecDeque::new(),
        interrupted: 0,
        interrupted_beside: 0,
        statuses: 0,
        clearing: Clearing::No,
    };
    if welcome.overlapped {
        // A device clear is also how the two ends agree on the mode (clause 6.12).
        link.clear().await?;
    }
    Ok(link)
}

/// Sends a message and waits for its response; anything else that comes meanwhile is passed over.
async fn ask(
    steps: &Steps,
    channel: &mut Channel,
    asked: &'static str,
    message: &Message,
    response: Kind,
) -> Result<Message, LinkError> {
    channel.push(message);
    let answer = steps.wait(asked, async {
        channel.write().await?;
        loop {
            let message = channel.next().await?;
            if message.kind == response {
                return Ok(message);
            }
            complaint(steps, asked, &message)?;
        }
    });
    answer.await
}
