//! Serial lines on pseudo-terminals: two ends, one of which has a name.

use std::os::unix::fs::{MetadataExt, PermissionsExt};
use std::os::unix::process::CommandExt;
use std::process::{Command, Stdio};
use std::sync::Mutex;

use serialport::{SerialPort, TTYPort};
use spurline_clock::{Clock, Pace, run};
use spurline_transport::{Address, LinkError, LinkSettings, connect};
use tokio_serial::SerialStream;

use crate::ask;
use crate::script::{IDENTITY, Script, on_stream};

/// The far end, and the near one, which is there to be named.
pub(crate) fn pair() -> (TTYPort, TTYPort) {
    TTYPort::pair().unwrap()
}

pub(crate) fn address(near: &TTYPort) -> Address {
    Address::Serial { device: near.name().unwrap() }
}

/// A child has every descriptor until it becomes another program, and with it the lock. So no child is started while
/// a port has to be free.
static CHILDREN: Mutex<()> = Mutex::new(());

async fn identifies(address: &Address, clock: Clock) {
    let mut link = connect(address, &LinkSettings::default(), clock).await.unwrap();
    assert_eq!(ask(&mut link, "*IDN?").await, IDENTITY);
}

#[test]
fn a_port_has_one_user_at_a_time_and_is_free_again() {
    let _none = CHILDREN.lock().unwrap();
    run(Pace::Fast, |clock| async move {
        let (far, near) = pair();
        let address = address(&near);
        tokio::spawn(on_stream(SerialStream::try_from(far).unwrap(), Script::PLAIN, clock));
        let settings = LinkSettings::default();
        let first = connect(&address, &settings, clock).await.unwrap();
        let second = connect(&address, &settings, clock).await.unwrap_err();
        assert!(matches!(second, LinkError::InUse { .. }), "{second:?}");
        drop(first);
        identifies(&address, clock).await;
        identifies(&address, clock).await;
    })
    .unwrap();
}

/// Whether somebody without privileges can open the port: the kernel's exclusive mode does not stop root.
fn anybody_can_open(device: &str) -> bool {
    const NOBODY: u32 = 65_534;
    std::fs::set_permissions(device, std::fs::Permissions::from_mode(0o666)).unwrap();
    let mut open = Command::new("sh");
    open.args(["-c", ": <>\"$0\"", device]).stderr(Stdio::null());
    if std::fs::metadata("/proc/self").unwrap().uid() == 0 {
        open.uid(NOBODY);
    }
    open.status().unwrap().success()
}

/// After a program was killed, what would stand in the way of the next one is the kernel's exclusive mode: only an
/// orderly end takes it back. So a link never sets it.
#[test]
fn a_port_is_never_put_into_the_kernels_exclusive_mode() {
    let _one = CHILDREN.lock().unwrap();
    run(Pace::Fast, |clock| async move {
        let (_far, mut near) = pair();
        let address = address(&near);
        let Address::Serial { device } = &address else { unreachable!() };
        near.set_exclusive(true).unwrap();
        assert!(!anybody_can_open(device));
        near.set_exclusive(false).unwrap();
        drop(near);
        let _link = connect(&address, &LinkSettings::default(), clock).await.unwrap();
        assert!(anybody_can_open(device));
    })
    .unwrap();
}

#[test]
fn what_was_left_unread_is_not_the_first_answer() {
    run(Pace::Fast, |clock| async move {
        let (mut far, near) = pair();
        std::io::Write::write_all(&mut far, b"left over\n").unwrap();
        let mut link = connect(&address(&near), &LinkSettings::default(), clock).await.unwrap();
        tokio::spawn(on_stream(SerialStream::try_from(far).unwrap(), Script::PLAIN, clock));
        assert_eq!(ask(&mut link, "*IDN?").await, IDENTITY);
    })
    .unwrap();
}

#[test]
fn a_line_is_set_as_the_settings_say() {
    run(Pace::Fast, |clock| async move {
        let (_far, near) = pair();
        let mut settings = LinkSettings::default();
        settings.line.baud = 115_200;
        settings.line.framing = "8N2".parse().unwrap();
        let _link = connect(&address(&near), &settings, clock).await.unwrap();
        assert_eq!(near.baud_rate().unwrap(), 115_200);
        assert_eq!(near.stop_bits().unwrap(), serialport::StopBits::Two);
    })
    .unwrap();
}

#[test]
fn a_port_that_is_not_there_says_where() {
    run(Pace::Fast, |clock| async move {
        let address: Address = "ASRL/dev/serial/by-id/usb-none::INSTR".parse().unwrap();
        let error = connect(&address, &LinkSettings::default(), clock).await.unwrap_err();
        assert_eq!(error.to_string(), "cannot connect to /dev/serial/by-id/usb-none");
    })
    .unwrap();
}
