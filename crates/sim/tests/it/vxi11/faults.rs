//! Faults as VXI-11 carries them.

use super::*;
use crate::faults::with_fault;

#[test]
fn a_reply_of_long_ago_comes_first() {
    on(&with_fault("{ instrument: analyser, does: stale-reply }"), |bench| async move {
        let mut client = Client::open(&bench, Role::Analyser).await;
        client.tell("*OPC?").await;
        let arguments = client.read_call(100, 2000, 0);
        client.channel.send(CORE, VERSION, procedure::DEVICE_READ, arguments).await;
        let read = |reply: Reply| ReadDone::decode(reply.outcome.results().unwrap()).unwrap();
        let stale = client.channel.reply().await.unwrap();
        assert_eq!(stale.xid, client.channel.xid - 1);
        assert_eq!(read(stale).error, Code::TIMEOUT);
        let reply = client.channel.reply().await.unwrap();
        assert_eq!(reply.xid, client.channel.xid);
        assert_eq!(&read(reply).data[..], b"1\n");
        client.tell("*OPC?").await;
        assert_eq!(&client.read(100, 2000, 0).await.data[..], b"1\n", "once");
    });
}

/// VXI-11 clause B.5.2: error 11 says that the device is locked by another link.
#[test]
fn somebody_else_holds_the_lock() {
    let fault = "{ instrument: analyser, does: locked-elsewhere, lasts: 5 s }";
    on(&with_fault(fault), |bench| async move {
        let mut client = Client::open(&bench, Role::Analyser).await;
        assert_eq!(client.write("*OPC?", flag::END).await, Code(11));
        assert_eq!(bench.clock.elapsed().as_secs(), 0);
        assert_eq!(client.write("*OPC?", flag::END | flag::WAIT_LOCK).await, Code(11));
        assert_eq!(bench.clock.elapsed().as_secs(), 1, "as long as the call says");
        bench.clock.sleep(Duration::from_secs(5)).await;
        client.tell("*OPC?").await;
        assert_eq!(&client.read(100, 2000, 0).await.data[..], b"1\n");
    });
}

#[test]
fn an_answer_without_end_or_too_late() {
    on(&with_fault("{ instrument: analyser, does: no-terminator }"), |bench| async move {
        let mut client = Client::open(&bench, Role::Analyser).await;
        client.tell("*OPC?").await;
        let part = client.read(100, 2000, 0).await;
        assert_eq!((&part.data[..], part.reason), (&b"1"[..], 0));
        assert_eq!(client.read(100, 2000, 0).await.error, Code::TIMEOUT);
    });
    let late = "{ instrument: analyser, does: late-answer, on: \"*OPC?\", by: 3 s }";
    on(&with_fault(late), |bench| async move {
        let mut client = Client::open(&bench, Role::Analyser).await;
        client.tell("*OPC?").await;
        assert_eq!(client.read(100, 2000, 0).await.error, Code::TIMEOUT);
        assert_eq!(&client.read(100, 2000, 0).await.data[..], b"1\n");
    });
}

#[test]
fn a_connection_ends_in_place_of_the_answer() {
    on(&with_fault("{ instrument: analyser, does: closes-for-answer }"), |bench| async move {
        let mut client = Client::open(&bench, Role::Analyser).await;
        client.tell("*OPC?").await;
        let arguments = client.read_call(100, 2000, 0);
        client.channel.send(CORE, VERSION, procedure::DEVICE_READ, arguments).await;
        assert_eq!(client.channel.reply().await, None);
        let mut again = Client::open(&bench, Role::Analyser).await;
        again.tell("*OPC?").await;
        assert_eq!(&again.read(100, 2000, 0).await.data[..], b"1\n");
    });
}

#[test]
fn a_dead_connection_answers_no_call() {
    let fault = "{ instrument: analyser, does: idle-death, by: 30 s }";
    on(&with_fault(fault), |bench| async move {
        let mut client = Client::open(&bench, Role::Analyser).await;
        client.tell("*OPC?").await;
        assert_eq!(&client.read(100, 2000, 0).await.data[..], b"1\n");
        bench.clock.sleep(Duration::from_secs(31)).await;
        client.tell("*OPC?").await;
        let arguments = client.read_call(100, 2000, 0);
        client.channel.send(CORE, VERSION, procedure::DEVICE_READ, arguments).await;
        assert_eq!(client.channel.reply().await, None, "not even that its time is up");
    });
}
