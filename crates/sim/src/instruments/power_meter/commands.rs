//! What the meter understands.

/// A command of the meter.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Command {
    Frequency,
    Unit,
    AverageCount,
    AverageState,
    Offset,
    OffsetState,
    AutoZero,
    Zero,
    /// How a zeroing went, once it has ended.
    Zeroed,
    Initiate,
    Continuous,
    Source,
    Trigger,
    Abort,
    Fetch,
    Read,
    Measure,
    Configure,
}

/// Headers and what they mean. A calibration of this meter is a zeroing.
pub(super) fn headers() -> Vec<(&'static str, Command)> {
    vec![
        ("[SENSe#:]FREQuency[:CW|FIXed][?]", Command::Frequency),
        ("UNIT#:POWer[?]", Command::Unit),
        ("[SENSe#:]AVERage:COUNt[?]", Command::AverageCount),
        ("[SENSe#:]AVERage[:STATe][?]", Command::AverageState),
        ("[SENSe#:]CORRection:OFFSet[:MAGNitude][?]", Command::Offset),
        ("[SENSe#:]CORRection:OFFSet:STATe[?]", Command::OffsetState),
        ("CALibration#:ZERO:AUTO[?]", Command::AutoZero),
        ("CALibration#[:ALL][?]", Command::Zero),
        ("*CAL?", Command::Zero),
        ("INITiate#[:IMMediate][:ALL]", Command::Initiate),
        ("INITiate#:CONTinuous[?]", Command::Continuous),
        ("TRIGger#[:SEQuence#]:SOURce[?]", Command::Source),
        ("TRIGger#[:SEQuence#][:IMMediate]", Command::Trigger),
        ("ABORt#", Command::Abort),
        ("FETCh#[:SCALar][:POWer][:AC]?", Command::Fetch),
        ("READ#[:SCALar][:POWer][:AC]?", Command::Read),
        ("MEASure#[:SCALar][:POWer][:AC]?", Command::Measure),
        ("CONFigure#[:SCALar][:POWer][:AC]", Command::Configure),
        ("CONFigure#?", Command::Configure),
    ]
}
