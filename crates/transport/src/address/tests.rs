//! Addresses in the forms of VPP-4.3, in those that clients write beside it, and slips.

use proptest::prelude::*;

use super::*;

/// VPP-4.3 table 4.3.1; the port behind `hislip0` and behind the host are common practice.
#[test]
fn addresses_read_and_print() {
    for (text, printed) in [
        ("TCPIP::192.0.2.20::5025::SOCKET", "TCPIP::192.0.2.20::5025::SOCKET"),
        ("tcpip0::bench-3::5025::socket", "TCPIP::bench-3::5025::SOCKET"),
        ("TCPIP::[2001:db8::7]::5025::SOCKET", "TCPIP::[2001:db8::7]::5025::SOCKET"),
        ("TCPIP::[fe80::7%eth0.2]::5025::SOCKET", "TCPIP::[fe80::7%eth0.2]::5025::SOCKET"),
        ("TCPIP::[fe80::7%en1],7011::INSTR", "TCPIP::[fe80::7%en1],7011::inst0::INSTR"),
        ("ASRL/dev/serial/by-id/usb-1::INSTR", "ASRL/dev/serial/by-id/usb-1::INSTR"),
        ("asrl/dev/ttyUSB0::instr", "ASRL/dev/ttyUSB0::INSTR"),
        ("TCPIP0::192.0.2.20::hislip0::INSTR", "TCPIP::192.0.2.20::hislip0::INSTR"),
        ("TCPIP::analyser.bench::HiSLIP2,4881::INSTR", "TCPIP::analyser.bench::hislip2,4881::INSTR"),
        ("TCPIP::192.0.2.20::hislip0,4880::INSTR", "TCPIP::192.0.2.20::hislip0::INSTR"),
        ("TCPIP::[::1]::hislip0::INSTR", "TCPIP::[::1]::hislip0::INSTR"),
        ("TCPIP::192.0.2.20::INSTR", "TCPIP::192.0.2.20::inst0::INSTR"),
        ("TCPIP::192.0.2.20::INST1::INSTR", "TCPIP::192.0.2.20::inst1::INSTR"),
        ("TCPIP::192.0.2.20::gpib0,5::INSTR", "TCPIP::192.0.2.20::gpib0,5::INSTR"),
        ("TCPIP::192.0.2.20,7011::inst0::INSTR", "TCPIP::192.0.2.20,7011::inst0::INSTR"),
        ("TCPIP::192.0.2.20,7011::INSTR", "TCPIP::192.0.2.20,7011::inst0::INSTR"),
        ("TCPIP::[2001:db8::7],7011::gpib0,5::INSTR", "TCPIP::[2001:db8::7],7011::gpib0,5::INSTR"),
    ] {
        let address: Address = text.parse().unwrap();
        assert_eq!(address.to_string(), printed);
        assert_eq!(printed.parse(), Ok(address));
    }
}

#[test]
fn each_form_is_its_own_link() {
    let host = || "h".to_owned();
    for (text, address) in [
        ("TCPIP::h::1::SOCKET", Address::Socket { host: host(), port: 1 }),
        (
            "TCPIP::h::hislip0::INSTR",
            Address::Hislip { host: host(), port: 4880, sub_address: "hislip0".to_owned() },
        ),
        ("TCPIP::h::INSTR", Address::Vxi11 { host: host(), port: None, device: "inst0".to_owned() }),
        (
            "TCPIP::h,9::com1::INSTR",
            Address::Vxi11 { host: host(), port: Some(9), device: "com1".to_owned() },
        ),
    ] {
        assert_eq!(text.parse(), Ok(address));
    }
    let socket = SocketAddr::from(([0, 0, 0, 0, 0, 0, 0, 1], 5025));
    assert_eq!(Address::from(socket).to_string(), "TCPIP::[::1]::5025::SOCKET");
}

#[test]
fn slips_are_named() {
    for text in ["TCPIP::h::0::SOCKET", "TCPIP::h::hislip0,x::INSTR", "TCPIP::h,70000::INSTR"] {
        assert!(matches!(text.parse::<Address>(), Err(AddressError::Port(_))), "{text}");
    }
    for text in [
        "",
        "192.0.2.20",
        "TCPIP::::5025::SOCKET",
        "ASRL3::INSTR",
        "ASRL/dev/ttyUSB0",
        "TCPIP::h::5025",
        "TCPIP::h",
        "TCPIP::h,1::5025::SOCKET",
        "TCPIP::h,1::hislip0::INSTR",
        "TCPIP::h::::INSTR",
        "TCPIP::2001:db8::7::5025::SOCKET",
        "TCPIP::[2001:db8::7::5025::SOCKET",
        "TCPIP::[bench]::5025::SOCKET",
        "TCPIP::[::1]x::5025::SOCKET",
        "TCPIP::a b::INSTR",
        "TCPIP::bench:7::INSTR",
        "TCPIP::h::inst0::INSTR::more",
        "USB::1::2::3::INSTR",
    ] {
        assert!(matches!(text.parse::<Address>(), Err(AddressError::Unknown(_))), "{text}");
    }
}

#[test]
fn an_unknown_address_is_told_every_form() {
    let told = "GPIB0::5::INSTR".parse::<Address>().unwrap_err().to_string();
    for form in ["::5025::SOCKET", "::hislip0::INSTR", "::inst0::INSTR", "ASRL/dev/"] {
        assert!(told.lines().nth(1).unwrap().contains(form), "{told}");
    }
}

proptest! {
    #[test]
    fn what_is_printed_reads_again(text in "(TCPIP|ASRL)[0-9/]?::(h|\\[::1\\]|a-b.c)?(,[0-9x]{1,4})?::[a-z0-9,:]{0,12}::(INSTR|SOCKET)") {
        if let Ok(address) = text.parse::<Address>() {
            prop_assert_eq!(address.to_string().parse(), Ok(address));
        }
    }

    #[test]
    fn no_text_panics(text in any::<String>()) {
        if let Ok(address) = text.parse::<Address>() {
            prop_assert_eq!(address.to_string().parse(), Ok(address));
        }
    }
}
