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
    when: When,
}

/// When it begins.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum When {
    /// When the instruments have been prepared.
    Early,
    /// While the unit is keyed for the first time.
    Keyed,
    /// At once.
    Always,
}

impl Case {
    pub(super) fn faults(&self, instrument: &str) -> String {
        // Messages of a run without a fault: those of connecting, of preparing, and those of the first key-down.
        let (early, keyed) = match instrument {
            "analyser" => (9, 17),
            "power-meter" => (7, 10),
            "relay" => (8, 10),
            _ => (7, 8),
        };
        let after = match self.when {
            When::Early => format!(", after_messages: {early}"),
            When::Keyed => format!(", after_messages: {keyed}"),
            When::Always => String::new(),
        };
        // What shows only on another connection is given one.
        let cut = if self.does == "other-serial" {
            format!(", {{ instrument: {instrument}, does: cut-link, after_messages: {keyed}, lasts: 1 s }}")
        } else {
            String::new()
        };
        format!("{{ instrument: {instrument}, does: {}{}{after} }}{cut}", self.does, self.keys)
    }

    pub(super) fn when(&self) -> &'static str {
        match self.when {
            When::Early => "before the key",
            When::Keyed => "keyed",
            When::Always => "always",
        }
    }
}

const fn case(does: &'static str, keys: &'static str) -> Case {
    Case { does, keys, when: When::Always }
}

const fn early(does: &'static str, keys: &'static str) -> Case {
    Case { does, keys, when: When::Early }
}

const fn keyed(does: &'static str, keys: &'static str) -> Case {
    Case { does, keys, when: When::Keyed }
}

/// What is no fault but the way of an instrument, with the line of its profile that says so.
pub(super) const DIALECTS: &[(&str, &str, &str)] = &[
    ("wants-cr-lf", "terminator: LF ", "terminator: CR LF "),
    ("ends-in-silence", "answers_end: terminator ", "answers_end: 50 ms "),
    ("echo", "echo: false ", "echo: true "),
    ("prompt", "echo: false ", "prompt: \"> \" "),
    ("deaf-when-rushed", "pause: 0 s ", "pause: 30 ms "),
    ("answers-apart", "compound: true ", "compound: false "),
    ("block-unterminated", "compound: true ", "compound: false "),
    ("short-input", "longest: 900 ", "longest: 150 "),
];

/// In the order of the table of faults.
pub(super) const CASES: &[Case] = &[
    keyed("late-answer", ", by: 5 s"),
    keyed("late-answer", ""),
    keyed("late-answers", ""),
    case("slow-reset", ""),
    early("slow-sweep", ", times: 1"),
    case("slow-sweep", ""),
    keyed("stall", ""),
    keyed("no-terminator", ""),
    case("wants-cr-lf", ""),
    case("cr-is-data", ""),
    case("ends-in-silence", ""),
    case("nul-bytes", ""),
    case("trickle", ""),
    case("answers-apart", ""),
    keyed("newline-inside", ", times: 1"),
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
    keyed("wedged", ""),
    keyed("not-a-number", ", times: 1"),
    case("not-a-number", ", chance: 5 %"),
    case("not-a-number", ""),
    case("trailing-comma", ""),
    case("doubled-blanks", ""),
    case("plus-signs", ""),
    keyed("decimal-comma", ", times: 1"),
    case("decimal-comma", ""),
    case("unit-in-answer", ""),
    case("header-in-answer", ""),
    keyed("not-ascii", ", times: 1"),
    case("not-ascii", ""),
    case("integers-as-reals", ""),
    early("unknown-header", ", on: \":\", times: 1"),
    case("unknown-header", ", on: \":\""),
    case("stale-errors", ""),
    keyed("error-flood", ""),
    case("errors-per-connection", ""),
    case("short-input", ""),
    case("short-input", ", bytes: 60"),
    early("rest-skipped", ", on: \":\", times: 1"),
    case("rest-skipped", ", on: \":\""),
    case("busy-refused", ", lasts: 3 s"),
    case("busy-closed", ", lasts: 3 s"),
    case("busy-closed", ""),
    case("busy-mute", ", lasts: 3 s"),
    case("busy-mute", ""),
    case("locked-elsewhere", ", lasts: 3 s"),
    case("locked-elsewhere", ""),
    case("idle-death", ", by: 10 s"),
    keyed("cut-link", ", lasts: 5 s"),
    keyed("cut-link", ""),
    keyed("mute-link", ", lasts: 5 s"),
    keyed("mute-link", ""),
    case("slot-leak", ""),
    case("mute-handshake", ""),
    case("slow-start", ""),
    keyed("closes-for-answer", ""),
    keyed("half-answer", ""),
    keyed("reset-inside", ""),
    case("echo", ""),
    case("prompt", ""),
    case("lost-byte", ", chance: 3 %"),
    keyed("unplugged", ""),
    case("late-settings", ""),
    case("deaf-when-rushed", ""),
    early("clipped-setting", ", times: 1"),
    case("clipped-setting", ""),
    case("other-serial", ""),
    keyed("power-cycle", ""),
    keyed("power-dip", ""),
];
