//! The profiles of supply, relay and unit: spellings, and little else.

use spurline_document::{Fields, Reader};

use crate::command::{Commands, command_set};

command_set! {
    /// What a supply is asked to do.
    SupplyCommand {
        /// Output voltage, in volts.
        Voltage => "voltage" (value),
        /// Current limit, in amperes.
        Current => "current" (value),
        /// Output on.
        On => "on",
        /// Output off.
        Off => "off",
        /// Measured voltage and current.
        Measured => "measured" asks 2,
        /// 1 if the output is on, 0 if it is off.
        Output => "output" asks 1 or nothing,
        /// Voltage and current limit as they are set.
        ReadBack => "read_back" asks 2,
    }
}

command_set! {
    /// What a relay is asked to do; a value is the number of a contact, but in `OpensAfter` a time.
    RelayCommand {
        /// Contact closed.
        Close => "close" (value),
        /// Contact open.
        Open => "open" (value),
        /// 1 if the contact is closed, 0 if it is open.
        State => "state" (value) asks 1,
        /// A closed contact opens by itself after this many seconds without a new `close`; 0 for never.
        OpensAfter => "opens_after" (value),
        /// That time as it is.
        ReadBack => "read_back" asks 1,
    }
}

command_set! {
    /// What a unit's control port is asked to do.
    UnitCommand {
        /// Carrier frequency, in hertz.
        Frequency => "frequency" (value),
        /// Power setting, by its name.
        Power => "power" (value),
        /// Frequency and power setting as they are.
        ReadBack => "read_back" asks 2,
    }
}

macro_rules! simple_profile {
    ($(#[$doc:meta])* $name:ident, $set:ident) => {
        $(#[$doc])*
        #[derive(Clone, Debug, PartialEq)]
        pub struct $name {
            /// Spellings.
            pub commands: Commands<$set>,
        }

        impl $name {
            pub(crate) fn read(reader: &mut Reader, fields: &mut Fields<'_>) -> Option<Self> {
                let commands = fields.required(reader, "commands")?;
                Some(Self { commands: Commands::read(reader, commands)? })
            }
        }
    };
}

simple_profile!(
    /// What a bench supply understands.
    SupplyProfile, SupplyCommand
);
simple_profile!(
    /// What a relay understands.
    RelayProfile, RelayCommand
);
simple_profile!(
    /// What a unit's control port understands.
    UnitProfile, UnitCommand
);
