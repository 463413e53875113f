//! Faults without a link: messages and answers in, bytes out.

mod happening;
mod messages;
mod spelling;

use std::time::Duration;

use bytes::Bytes;
use spurline_clock::{Moment, Pace, run};
use spurline_scpi::{ByteOrder, Response};

use super::*;
use crate::role::Role;
use crate::server::delivery::Then;

/// Big-endian values of 32 bits, as an analyser sends them unless told otherwise.
const LAYOUT: Layout = Layout { size: 4, order: ByteOrder::Big };

/// One instrument's faults and one connection to it.
struct Bench {
    faults: Faults,
    connection: Connection,
    now: Moment,
}

/// A fault as its word alone makes it.
fn usual(does: Does) -> Fault {
    Fault::new(Role::Analyser, does)
}

/// What `script` makes of an instrument with these faults.
fn with<T>(faults: Vec<Fault>, script: impl FnOnce(&mut Bench) -> T) -> T {
    run(Pace::Fast, |clock| async move {
        let now = clock.now();
        let mut faults = Faults::new(faults, Seed(7), now);
        let Admission::Serve(connection) = faults.admit(now).0 else { panic!("not admitted") };
        script(&mut Bench { faults, connection, now })
    })
    .unwrap()
}

impl Bench {
    fn connect(&mut self) -> Connection {
        let Admission::Serve(connection) = self.faults.admit(self.now).0 else { panic!("not admitted") };
        connection
    }

    fn pass(&mut self, seconds: f64) {
        self.now = self.now.after(Duration::from_secs_f64(seconds));
    }

    fn take(&mut self, message: &str) -> Taken {
        self.faults.take(self.connection, message.as_bytes(), self.now)
    }

    /// What goes out for a message that the instrument answers with `answer`.
    fn deliveries(&mut self, message: &str, answer: &[u8]) -> Vec<Delivery> {
        let mut taken = self.take(message);
        if taken.is_lost() {
            return Vec::new();
        }
        let response = Response::parse(Bytes::copy_from_slice(answer)).unwrap();
        self.faults.answer(&mut taken, Some(response), LAYOUT, self.now)
    }

    /// Its bytes.
    fn sent(&mut self, message: &str, answer: &[u8]) -> Vec<u8> {
        self.deliveries(message, answer).iter().flat_map(|delivery| delivery.bytes.to_vec()).collect()
    }
}

/// What goes out, once, of an answer that one fault befalls.
fn played(fault: Fault, message: &str, answer: &[u8]) -> Vec<u8> {
    with(vec![fault], |bench| bench.sent(message, answer))
}

#[test]
fn without_faults_an_answer_goes_out_as_it_is() {
    let answer: &[u8] = b"1.5,\"a;b\",#15\n;,1\n;0,\"No error\"";
    let sent = with(Vec::new(), |bench| bench.deliveries("READ?", answer));
    assert_eq!(sent, [Delivery::proper(answer)]);
}
