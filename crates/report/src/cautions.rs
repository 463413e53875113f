//! What whoever keys a transmitter must know: one text, for reports and for the terminal.

/// The usual cautions, a sentence or two each.
pub const CAUTIONS: [&str; 6] = [
    "Key the unit only into a load or an attenuator that is rated for its power and for the time that it is keyed.",
    "Attenuators and loads turn that power into heat: they stay hot after the key is up.",
    "Radio frequency burns. Never touch, loosen or open a connector while the unit is keyed.",
    "An open end or a bad joint radiates. Keep people away, and keep to the exposure limits where you are.",
    "A test frequency needs a licence, even into a load.",
    "A bench supply and a fitted battery pack must never be in parallel.",
];

/// What stands above all of them.
pub const LOCAL_RULES: &str = "Local rules and qualified people decide; this does not replace them.";
