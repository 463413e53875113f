//! How a unit is keyed, and what becomes of its key when nobody is left to bring it up.

use spurline_document::Span;
use spurline_record::Role;
use spurline_units::{Amperes, Seconds, Volts};

/// How the unit is keyed.
#[derive(Clone, Debug, PartialEq)]
pub struct BenchKey {
    /// By what.
    pub method: KeyMethod,
    /// Where that stands in the bench file.
    pub span: Span,
}

/// By what a unit is keyed.
#[derive(Clone, Debug, PartialEq)]
pub enum KeyMethod {
    /// A contact of a relay.
    Relay(RelayKeyLine),
    /// A control line of a serial port.
    SerialLine(SerialKeyLine),
    /// The output of a supply.
    SupplyOutput(SupplyKeyLine),
    /// Commands of this machine.
    Command(CommandKeyLine),
    /// A person, who is told when and sees to it.
    Operator,
}

/// The key line behind a relay.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RelayKeyLine {
    /// The contact.
    pub contact: u32,
    /// After how long the relay opens without being told; `None` if it stays closed for ever.
    pub opens_by_itself: Option<Seconds>,
}

/// The key line that a supply's output feeds: on is down.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SupplyKeyLine {
    /// The voltage that keys.
    pub set: Volts,
    /// The limit of its current.
    pub limit: Amperes,
}

/// The key line on a serial port that carries no data.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SerialKeyLine {
    /// The port, or the socket of a simulated one.
    pub path: String,
    /// Whether it is RTS that keys; else DTR.
    pub rts: bool,
    /// Whether the circuit keys only while DTR is asserted and RTS is not.
    pub two_lines: bool,
}

/// Commands that key: program and arguments each.
#[derive(Clone, Debug, PartialEq)]
pub struct CommandKeyLine {
    /// Key down.
    pub down: Vec<String>,
    /// Key up.
    pub up: Vec<String>,
    /// Prints `down` or `up`.
    pub state: Option<Vec<String>>,
    /// How long each may take.
    pub within: Seconds,
}

/// What becomes of a key that is down when this program and whatever holds the key for it both die.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Abandoned {
    /// The system drops the line.
    Drops,
    /// It opens by itself after so long.
    Opens(Seconds),
    /// It stays down until the unit's own timer ends it.
    StaysDown,
    /// Nobody but the person who keys brings it up, whatever lives or dies.
    ByHand,
}

impl BenchKey {
    /// The contact of the relay, if it is one.
    #[must_use]
    pub fn relay(&self) -> Option<RelayKeyLine> {
        match &self.method {
            KeyMethod::Relay(relay) => Some(*relay),
            KeyMethod::SerialLine(_)
            | KeyMethod::SupplyOutput(_)
            | KeyMethod::Command(_)
            | KeyMethod::Operator => None,
        }
    }

    /// The path of the port, if it is one.
    #[must_use]
    pub fn serial_line(&self) -> Option<&SerialKeyLine> {
        match &self.method {
            KeyMethod::SerialLine(line) => Some(line),
            KeyMethod::Relay(_)
            | KeyMethod::SupplyOutput(_)
            | KeyMethod::Command(_)
            | KeyMethod::Operator => None,
        }
    }

    /// Whether a person keys.
    #[must_use]
    pub fn is_by_hand(&self) -> bool {
        self.method == KeyMethod::Operator
    }

    /// Whether the bench's supply keys the unit, and so feeds nothing.
    #[must_use]
    pub fn is_supply(&self) -> bool {
        matches!(self.method, KeyMethod::SupplyOutput(_))
    }

    /// The part that the instrument of the key plays, if it is behind one.
    #[must_use]
    pub fn role(&self) -> Option<Role> {
        match self.method {
            KeyMethod::Relay(_) => Some(Role::Relay),
            KeyMethod::SupplyOutput(_) => Some(Role::Supply),
            KeyMethod::SerialLine(_) | KeyMethod::Command(_) | KeyMethod::Operator => None,
        }
    }

    /// What becomes of it when nobody is left.
    #[must_use]
    pub fn abandoned(&self) -> Abandoned {
        match &self.method {
            KeyMethod::Relay(RelayKeyLine { opens_by_itself: Some(span), .. }) => Abandoned::Opens(*span),
            KeyMethod::SerialLine(_) => Abandoned::Drops,
            KeyMethod::Operator => Abandoned::ByHand,
            KeyMethod::Relay(_) | KeyMethod::SupplyOutput(_) | KeyMethod::Command(_) => Abandoned::StaysDown,
        }
    }

    /// Its name in a sentence, such as `contact 1 of the relay`.
    #[must_use]
    pub fn words(&self) -> String {
        match &self.method {
            KeyMethod::Relay(relay) => format!("contact {} of the relay", relay.contact),
            KeyMethod::SerialLine(line) if line.two_lines => format!("DTR without RTS of {}", line.path),
            KeyMethod::SerialLine(line) => {
                let wire = if line.rts { "RTS" } else { "DTR" };
                format!("{wire} of {}", line.path)
            }
            KeyMethod::SupplyOutput(output) => format!("the output of a supply, {}", output.set),
            KeyMethod::Operator => "a person's hand".to_owned(),
            KeyMethod::Command(command) => format!("the command `{}`", command.down.join(" ")),
        }
    }
}
