//! VXI-11 on the client's side: messages by remote procedure calls over one connection.

mod calls;
mod open;

use std::collections::VecDeque;

use async_trait::async_trait;
use bytes::{Buf, Bytes, BytesMut};
use spurline_wire::vxi11::{
    Code, Generic, LinkId, Read, ReadDone, StatusDone, Write, WriteDone, decode_error, flag, procedure,
    reason,
};

use crate::answer::{MOST, without_terminator};
use crate::link::{Cleared, Framing, Link, LinkError, Received};
use crate::outgoing::Rest;
use crate::settings::Terminator;
use crate::step::at_once;
use calls::{Calls, Replied};

pub(crate) use open::{Device, open};

/// What is asked for in one read.
const REQUEST: u32 = 1 << 20;
/// How long the device may hold a call, in milliseconds. The caller's deadline is its own affair: a call that comes
/// back with nothing is made again.
const IO_TIMEOUT: u32 = 2000;

/// A link to a device behind a VXI-11 server.
#[derive(Debug)]
pub(crate) struct Vxi11Link {
    calls: Calls,
    terminator: Terminator,
    rest: Rest,
    link: LinkId,
    /// The most bytes that the device takes in one write.
    most_sent: usize,
    /// What is still to be written of a message, and the call that is writing its first piece.
    unsent: Bytes,
    writing: Option<(u32, usize)>,
    /// The read that the device has not replied to yet.
    reading: Option<u32>,
    parts: BytesMut,
    whole: VecDeque<Bytes>,
    /// How a read or a write ended whose reply came while something else was waited for.
    late: Option<LinkError>,
}

impl Vxi11Link {
    fn refused(&self, asked: &'static str, error: Code) -> LinkError {
        let advice = if error == Code::LOCKED { "\nunlock it in the program that locked it" } else { "" };
        let why = format!("{error}{advice}");
        let address = self.calls.steps().address.clone();
        LinkError::Refused { address, asked, why, fatal: error == Code::INVALID_LINK, busy: is_busy(error) }
    }

    /// Takes the next reply, whichever call it is for. A call that was given up has left nothing behind to take it.
    async fn next(&mut self) -> Result<Replied, LinkError> {
        let reply = self.calls.next().await?;
        if self.reading == Some(reply.xid) {
            self.reading = None;
            self.take(reply.results)?;
            return Ok(Replied { xid: reply.xid, results: Bytes::new() });
        }
        if let Some((xid, length)) = self.writing
            && xid == reply.xid
        {
            self.writing = None;
            self.written(reply.results, length)?;
            return Ok(Replied { xid, results: Bytes::new() });
        }
        Ok(reply)
    }

    /// What a read brought.
    fn take(&mut self, results: Bytes) -> Result<(), LinkError> {
        let done = ReadDone::decode(results).map_err(|error| self.calls.protocol(error))?;
        if !done.error.is_none() && done.error != Code::TIMEOUT {
            self.parts.clear();
            return Err(self.refused("a read", done.error));
        }
        if self.parts.len() + done.data.len() > MOST {
            return Err(LinkError::TooLong { limit: MOST });
        }
        if done.error.is_none() && done.reason & reason::END != 0 {
            let whole = if self.parts.is_empty() {
                done.data
            } else {
                self.parts.extend_from_slice(&done.data);
                self.parts.split().freeze()
            };
            self.whole.push_back(whole);
        } else {
            self.parts.extend_from_slice(&done.data);
        }
        Ok(())
    }

    /// What a write of `length` bytes achieved.
    fn written(&mut self, results: Bytes, length: usize) -> Result<(), LinkError> {
        let done = WriteDone::decode(results).map_err(|error| self.calls.protocol(error))?;
        let taken = (done.size as usize).min(length);
        if !done.error.is_none() && done.error != Code::TIMEOUT {
            self.unsent.clear();
            return Err(self.refused("a message", done.error));
        }
        if taken == 0 && done.error.is_none() {
            self.unsent.clear();
            return Err(self.calls.steps().refused("a message", "it took none of its bytes", false));
        }
        // Nothing is unsent any more if it was given up meanwhile.
        self.unsent.advance(taken.min(self.unsent.len()));
        Ok(())
    }

    /// Writes what is unsent, piece by piece.
    async fn write_out(&mut self) -> Result<(), LinkError> {
        while !self.unsent.is_empty() {
            if self.writing.is_none() {
                let length = self.unsent.len().min(self.most_sent);
                let last = length == self.unsent.len();
                let write = Write {
                    link: self.link,
                    io_timeout: IO_TIMEOUT,
                    lock_timeout: 0,
                    flags: if last { flag::END } else { 0 },
                    data: self.unsent.slice(..length),
                };
                let xid = self.calls.push(procedure::DEVICE_WRITE, write.encode())?;
                self.writing = Some((xid, length));
            }
            self.next().await?;
        }
        Ok(())
    }

    /// Makes a call that takes little time, and waits for its results. What an earlier read or write comes to is no
    /// affair of this call: it is kept for whoever reads or writes next.
    async fn ask(
        &mut self,
        asked: &'static str,
        procedure: u32,
        arguments: Bytes,
    ) -> Result<Bytes, LinkError> {
        let xid = self.calls.push(procedure, arguments)?;
        let steps = self.calls.steps().clone();
        let results = steps.wait(asked, async {
            loop {
                match self.next().await {
                    Ok(reply) if reply.xid == xid => return Ok(reply.results),
                    Ok(_) => {}
                    Err(error) if error.is_passing() => self.late = Some(error),
                    Err(error) => return Err(error),
                }
            }
        });
        results.await
    }

    /// What was kept of an earlier read or write.
    fn tell_late(&mut self) -> Result<(), LinkError> {
        self.late.take().map_or(Ok(()), Err)
    }

    fn generic(&self) -> Bytes {
        Generic { link: self.link, flags: 0, lock_timeout: 0, io_timeout: IO_TIMEOUT }.encode()
    }
}

/// Whether another program is the reason: it has the last link, or the lock.
fn is_busy(error: Code) -> bool {
    matches!(error, Code::RESOURCES | Code::LOCKED)
}

#[async_trait]
impl Link for Vxi11Link {
    fn framing(&self) -> Framing {
        Framing::Messages
    }

    async fn send(&mut self, message: &[u8]) -> Result<(), LinkError> {
        self.tell_late()?;
        self.write_out().await?;
        self.rest.over(Some(self.calls.steps().clock)).await;
        self.unsent = Bytes::from([message, self.terminator.bytes()].concat());
        self.write_out().await?;
        self.rest.begins(Some(self.calls.steps().clock));
        Ok(())
    }

    async fn receive(&mut self) -> Result<Received, LinkError> {
        self.tell_late()?;
        self.write_out().await?;
        loop {
            if let Some(bytes) = self.whole.pop_front() {
                self.rest.begins(Some(self.calls.steps().clock));
                return Ok(Received { bytes: without_terminator(bytes), end: true });
            }
            if self.reading.is_none() {
                let read = Read {
                    link: self.link,
                    request: REQUEST,
                    io_timeout: IO_TIMEOUT,
                    lock_timeout: 0,
                    flags: 0,
                    termchar: 0,
                };
                self.reading = Some(self.calls.push(procedure::DEVICE_READ, read.encode())?);
            }
            self.next().await?;
        }
    }

    async fn unread(&mut self) -> Result<usize, LinkError> {
        while let Some(reply) = at_once(self.next()).await {
            reply?;
        }
        Ok(self.parts.len() + self.whole.iter().map(Bytes::len).sum::<usize>())
    }

    async fn clear(&mut self) -> Result<Cleared, LinkError> {
        // The rest of a message would be taken for the beginning of one. A call that is under way is cleared with the
        // rest: however it ends, its reply is nobody's.
        self.unsent.clear();
        (self.reading, self.writing, self.late) = (None, None, None);
        let results = self.ask("a device clear", procedure::DEVICE_CLEAR, self.generic()).await?;
        let error = decode_error(results).map_err(|error| self.calls.protocol(error))?;
        if error == Code::NOT_SUPPORTED {
            return Ok(Cleared::NotPossible);
        }
        if !error.is_none() {
            return Err(self.refused("a device clear", error));
        }
        self.parts.clear();
        self.whole.clear();
        Ok(Cleared::Device)
    }

    async fn status(&mut self) -> Result<Option<u8>, LinkError> {
        let results = self.ask("its status byte", procedure::DEVICE_READSTB, self.generic()).await?;
        let done = StatusDone::decode(results).map_err(|error| self.calls.protocol(error))?;
        match done.error {
            Code::NONE => Ok(Some(done.status)),
            Code::NOT_SUPPORTED => Ok(None),
            error => Err(self.refused("its status byte", error)),
        }
    }
}

/// The server holds few links; one that is not given back may be missed by the next client.
impl Drop for Vxi11Link {
    fn drop(&mut self) {
        let link = spurline_wire::vxi11::encode_link(self.link);
        self.calls.send_if_possible(procedure::DESTROY_LINK, link);
    }
}

#[cfg(test)]
mod tests;
