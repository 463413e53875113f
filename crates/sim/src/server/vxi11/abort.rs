//! The abort channel: a call in progress on a link is given up (clause B.6.14).

use std::sync::Arc;

use spurline_wire::rpc::Outcome;
use spurline_wire::vxi11::{ABORT, Code, VERSION, encode_error, procedure};
use spurline_wire::xdr::Reader;
use tokio::net::TcpStream;

use super::connection::Connection;
use super::core::program;
use super::hub::Hub;
use crate::server::port::Port;

/// Takes calls until the client goes.
pub(super) async fn converse<P: Port>(stream: TcpStream, hub: Arc<Hub<P>>) {
    let Ok(mut connection) = Connection::new(stream) else { return };
    while let Some(call) = connection.call().await {
        let outcome = match program(&call, ABORT, VERSION) {
            Some(refused) => refused,
            None if call.procedure == procedure::DEVICE_ABORT => {
                match Reader::new(call.arguments.clone()).i32() {
                    Ok(link) if hub.abort(link) => Outcome::Done(encode_error(Code::NONE)),
                    Ok(_) => Outcome::Done(encode_error(Code::INVALID_LINK)),
                    Err(_) => Outcome::BadArguments,
                }
            }
            None => Outcome::NoProcedure,
        };
        if connection.reply(call.xid, outcome).await.is_err() {
            return;
        }
    }
}
