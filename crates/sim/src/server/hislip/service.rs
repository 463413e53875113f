//! Requests for service, which the client has not asked for (clause 6.14).

use spurline_wire::hislip::{Kind, Message};

use super::session::Session;
use crate::server::delivery::Then;
use crate::server::port::Port;

/// Tells the client of every new request for service; says how the connection ends.
pub(super) async fn request<P: Port>(session: &Session<'_, P>) -> Then {
    let mut told = false;
    loop {
        let requested = session.port.requests_service(session.exchange.is_answering());
        if let Some(status) = requested.filter(|_| !told) {
            let message = Message::bare(Kind::AsyncServiceRequest, status.bits(), 0);
            if session.asynchronous.send(&message).await.is_err() {
                return Then::Close;
            }
            told = true;
            continue;
        }
        told = requested.is_some();
        // Nothing can happen between the look and the waiting: everything here runs on one thread.
        tokio::select! {
            () = session.port.changes() => {}
            () = session.exchange.changes() => {}
        }
    }
}
