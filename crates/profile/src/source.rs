//! What every generator with one output is asked to do: one that gives lines in dBm, and one that gives tones in volts.

use crate::command::command_set;

command_set! {
    /// What a generator is asked to do.
    SourceCommand {
        /// To a known state: a line by itself, without modulation, sweep or offset.
        Reset => "reset",
        /// Frequency of what it gives, in hertz.
        Frequency => "frequency" (value),
        /// Its level: in dBm into 50 ohm, or in volts r.m.s.
        Level => "level" (value),
        /// Output on.
        On => "on",
        /// Output off.
        Off => "off",
        /// Frequency and level as they are set, and 1 if the output is on, 0 if it is off.
        ReadBack => "read_back" asks 3,
    }
}
