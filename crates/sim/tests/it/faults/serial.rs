//! Faults of a serial line.

use std::os::unix::fs::MetadataExt;
use std::time::Duration;

use spurline_sim::{Place, Role};

use super::{SECOND, with_fault};
use crate::client::{Ending, at};
use crate::serial::{SERIAL, open};

/// A read of an unplugged adapter fails or ends; its port is gone until it is plugged in again.
#[test]
fn an_adapter_is_unplugged_and_plugged_in_again() {
    let fault = "{ instrument: relay, does: unplugged, after_messages: 1 }";
    at(&with_fault(fault), &SERIAL, |bench| async move {
        let mut relay = open(&bench, Role::Relay);
        relay.ask("*IDN?").await;
        relay.send("*IDN?").await;
        let (bytes, ending) = relay.bytes_within(SECOND).await;
        assert!(bytes.is_empty() && ending != Ending::Open, "{bytes:?} {ending:?}");
        let Place::Serial { path: Some(path) } = bench.place(Role::Relay) else { panic!("a serial line") };
        assert!(!path.exists());
        bench.clock.sleep(Duration::from_secs(6)).await;
        assert_eq!(open(&bench, Role::Relay).ask("*OPC?").await, "1");
    });
}

/// The flag keeps everybody out but the system's administrator, as `ioctl_tty(2)` says of TIOCEXCL.
#[test]
fn an_exclusive_flag_is_left_on_the_port() {
    let fault = "{ instrument: relay, does: left-exclusive, lasts: 5 s }";
    at(&with_fault(fault), &SERIAL, |bench| async move {
        bench.clock.sleep(SECOND).await;
        let Place::Serial { path: Some(path) } = bench.place(Role::Relay) else { panic!("a serial line") };
        let is_free = || std::fs::File::open(path).is_ok();
        // Run by the administrator, the first half of this shows nothing.
        let is_administrator = std::fs::metadata("/proc/self").unwrap().uid() == 0;
        assert!(is_administrator || !is_free());
        bench.clock.sleep(Duration::from_secs(6)).await;
        assert!(is_free());
        assert_eq!(open(&bench, Role::Relay).ask("*OPC?").await, "1");
    });
}
