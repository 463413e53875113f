//! Which faults, on which links.

/// A kind of link.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Place {
    Socket,
    Hislip,
    Vxi11,
    Serial,
}

pub(super) const LINKS: [Place; 4] = [Place::Socket, Place::Hislip, Place::Vxi11, Place::Serial];
/// The instruments beside the analyser, whose links are sockets here.
pub(super) const OTHERS: [&str; 3] = ["power-meter", "unit-control", "relay"];

impl Place {
    pub(super) fn name(self) -> &'static str {
        match self {
            Self::Socket => "socket",
            Self::Hislip => "HiSLIP",
            Self::Vxi11 => "VXI-11",
            Self::Serial => "serial",
        }
    }

    /// The instruments of a bench; the analyser answers over this kind of link.
    pub(super) fn instruments(self) -> String {
        let analyser = match self {
            Self::Socket => "TCPIP::127.0.0.1::25025::SOCKET",
            Self::Hislip => "TCPIP::127.0.0.1::hislip0::INSTR",
            Self::Vxi11 => "TCPIP::127.0.0.1,25025::inst0::INSTR",
            Self::Serial => "ASRL/tmp/spurline-analyser::INSTR",
        };
        crate::bench::instruments(25_025, "A-0001").replacen("TCPIP::127.0.0.1::25025::SOCKET", analyser, 1)
    }
}

/// A fault with its keys.
#[derive(Debug)]
pub(super) struct Case {
    pub(super) does: &'static str,
    pub(super) keys: &'static str,
}

impl Case {
    pub(super) fn fault(&self, instrument: &str) -> String {
        format!("instrument: {instrument}, does: {}{}", self.does, self.keys)
    }
}

const fn case(does: &'static str, keys: &'static str) -> Case {
    Case { does, keys }
}

/// In the order of the table of faults. So many messages are over when the unit has been keyed for the first time.
pub(super) const CASES: &[Case] = &[
    case("late-answer", ", by: 5 s, after_messages: 17"),
    case("late-answer", ", after_messages: 17"),
    case("late-answers", ", after_messages: 17"),
    case("slow-reset", ""),
    case("slow-sweep", ", times: 1, after_messages: 11"),
    case("slow-sweep", ""),
    case("stall", ", after_messages: 17"),
    case("no-terminator", ", after_messages: 17"),
    case("wants-cr-lf", ""),
    case("cr-is-data", ""),
    case("ends-in-silence", ""),
    case("nul-bytes", ""),
    case("trickle", ""),
    case("answers-apart", ""),
    case("newline-inside", ", times: 1, after_messages: 17"),
    case("newline-inside", ""),
    case("newlines-in-block", ""),
    case("block-unterminated", ""),
    case("block-two-newlines", ""),
    case("block-odd-length", ", times: 1"),
    case("block-odd-length", ""),
    case("block-indefinite", ", times: 1"),
    case("block-indefinite", ""),
    case("block-in-two", ", times: 1"),
    case("block-in-two", ""),
    case("block-cut-short", ""),
    case("block-swapped", ", times: 1"),
    case("block-swapped", ""),
    case("full-buffers", ""),
    case("full-buffers", ", bytes: 20480"),
    case("wedged", ", after_messages: 17"),
    case("not-a-number", ", times: 1, after_messages: 17"),
    case("not-a-number", ", chance: 5 %"),
    case("not-a-number", ""),
    case("trailing-comma", ""),
    case("doubled-blanks", ""),
    case("plus-signs", ""),
    case("decimal-comma", ", times: 1, after_messages: 17"),
    case("decimal-comma", ""),
    case("unit-in-answer", ""),
    case("header-in-answer", ""),
    case("not-ascii", ", times: 1, after_messages: 17"),
    case("not-ascii", ""),
    case("integers-as-reals", ""),
    case("unknown-header", ", on: \":\", times: 1, after_messages: 9"),
    case("unknown-header", ", on: \":\""),
    case("stale-errors", ""),
    case("error-flood", ", after_messages: 17"),
    case("errors-per-connection", ""),
    case("short-input", ""),
    case("short-input", ", bytes: 60"),
    case("rest-skipped", ", on: \":\", times: 1, after_messages: 9"),
    case("rest-skipped", ", on: \":\""),
    case("busy-refused", ", lasts: 3 s"),
    case("busy-closed", ", lasts: 3 s"),
    case("busy-closed", ""),
    case("busy-mute", ", lasts: 3 s"),
    case("busy-mute", ""),
    case("locked-elsewhere", ", lasts: 3 s"),
    case("locked-elsewhere", ""),
    case("idle-death", ", by: 10 s"),
    case("cut-link", ", after_messages: 17, lasts: 5 s"),
    case("cut-link", ", after_messages: 17"),
    case("mute-link", ", after_messages: 17, lasts: 5 s"),
    case("mute-link", ", after_messages: 17"),
    case("slot-leak", ""),
    case("mute-handshake", ""),
    case("slow-start", ""),
    case("closes-for-answer", ", after_messages: 17"),
    case("half-answer", ", after_messages: 17"),
    case("reset-inside", ", after_messages: 17"),
    case("echo", ""),
    case("prompt", ""),
    case("lost-byte", ", chance: 3 %"),
    case("unplugged", ", after_messages: 17"),
    case("late-settings", ""),
    case("deaf-when-rushed", ""),
    case("clipped-setting", ", times: 1, after_messages: 9"),
    case("clipped-setting", ""),
    case("other-serial", ""),
    case("power-cycle", ", after_messages: 17"),
    case("power-dip", ", after_messages: 17"),
];
