//! What the analyser understands.

/// A command of the analyser.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Command {
    Number(Number),
    Switch(Switch),
    Marker(Marker),
    FullSpan,
    Detector,
    Average,
    TraceMode,
    Unit,
    Continuous,
    Source,
    Initiate,
    Trigger,
    Abort,
    Format,
    Border,
    Trace,
    TracePoints,
    TraceCatalogue,
    Reference,
    Align,
    /// How an alignment went, once it has ended.
    Aligned,
}

/// Settings of one number.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Number {
    Centre,
    CentreStep,
    Span,
    Start,
    Stop,
    Rbw,
    Vbw,
    Points,
    SweepTime,
    SweepCount,
    Averages,
    Attenuation,
    ReferenceLevel,
    PerDivision,
    Impedance,
}

/// Settings that are on or off.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Switch {
    CentreStepAuto,
    RbwAuto,
    VbwAuto,
    SweepTimeAuto,
    AttenuationAuto,
    Averaging,
    Preamplifier,
    AlignmentAuto,
}

/// What the marker does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Marker {
    State,
    Off,
    Maximum,
    Next,
    Left,
    Right,
    Minimum,
    X,
    Y,
    Centre,
    /// Whether the frequency counter is on.
    Counter,
    /// What it counts.
    Counted,
}

/// Headers and what they mean. The marker and `INPut:GAIN`, `TRACe:POINts?`,
/// `CALibration:AUTO` and `DISPlay:TRACe:MODE` are common practice.
pub(super) fn headers() -> Vec<(&'static str, Command)> {
    let numbers = [
        ("[SENSe#:]FREQuency:CENTer[?]", Number::Centre),
        ("[SENSe#:]FREQuency:CENTer:STEP[:INCRement][?]", Number::CentreStep),
        ("[SENSe#:]FREQuency:SPAN[?]", Number::Span),
        ("[SENSe#:]FREQuency:STARt[?]", Number::Start),
        ("[SENSe#:]FREQuency:STOP[?]", Number::Stop),
        ("[SENSe#:]BANDwidth|BWIDth[:RESolution][?]", Number::Rbw),
        ("[SENSe#:]BANDwidth|BWIDth:VIDeo[?]", Number::Vbw),
        ("[SENSe#:]SWEep:POINts[?]", Number::Points),
        ("[SENSe#:]SWEep:TIME[?]", Number::SweepTime),
        ("[SENSe#:]SWEep:COUNt[?]", Number::SweepCount),
        ("[SENSe#:]AVERage:COUNt[?]", Number::Averages),
        ("[SENSe#:]POWer[:RF]:ATTenuation[?]", Number::Attenuation),
        ("INPut#:ATTenuation[?]", Number::Attenuation),
        ("INPut#:IMPedance[?]", Number::Impedance),
        ("DISPlay[:WINDow#][:TRACe#]:Y[:SCALe]:RLEVel[?]", Number::ReferenceLevel),
        ("DISPlay[:WINDow#][:TRACe#]:Y[:SCALe]:PDIVision[?]", Number::PerDivision),
    ];
    let switches = [
        ("[SENSe#:]FREQuency:CENTer:STEP:AUTO[?]", Switch::CentreStepAuto),
        ("[SENSe#:]BANDwidth|BWIDth[:RESolution]:AUTO[?]", Switch::RbwAuto),
        ("[SENSe#:]BANDwidth|BWIDth:VIDeo:AUTO[?]", Switch::VbwAuto),
        ("[SENSe#:]SWEep:TIME:AUTO[?]", Switch::SweepTimeAuto),
        ("[SENSe#:]POWer[:RF]:ATTenuation:AUTO[?]", Switch::AttenuationAuto),
        ("INPut#:ATTenuation:AUTO[?]", Switch::AttenuationAuto),
        ("[SENSe#:]AVERage[:STATe][?]", Switch::Averaging),
        ("[SENSe#:]POWer[:RF]:GAIN[:STATe][?]", Switch::Preamplifier),
        ("INPut#:GAIN:STATe[?]", Switch::Preamplifier),
        ("CALibration#:AUTO[?]", Switch::AlignmentAuto),
    ];
    let markers = [
        ("CALCulate#:MARKer#[:STATe][?]", Marker::State),
        ("CALCulate#:MARKer#:AOFF", Marker::Off),
        ("CALCulate#:MARKer#:MAXimum[:PEAK]", Marker::Maximum),
        ("CALCulate#:MARKer#:MAXimum:NEXT", Marker::Next),
        ("CALCulate#:MARKer#:MAXimum:LEFT", Marker::Left),
        ("CALCulate#:MARKer#:MAXimum:RIGHt", Marker::Right),
        ("CALCulate#:MARKer#:MINimum", Marker::Minimum),
        ("CALCulate#:MARKer#:X[?]", Marker::X),
        ("CALCulate#:MARKer#:Y?", Marker::Y),
        ("CALCulate#:MARKer#[:SET]:CENTer", Marker::Centre),
        ("CALCulate#:MARKer#:FCOunt[:STATe][?]", Marker::Counter),
        ("CALCulate#:MARKer#:FCOunt:FREQuency?", Marker::Counted),
    ];
    let others = [
        ("[SENSe#:]FREQuency:SPAN:FULL", Command::FullSpan),
        ("[SENSe#:]DETector#[:FUNCtion][?]", Command::Detector),
        ("[SENSe#:]AVERage:TYPE[?]", Command::Average),
        ("DISPlay[:WINDow#]:TRACe#:MODE[?]", Command::TraceMode),
        ("[SENSe#:]ROSCillator:SOURce[?]", Command::Reference),
        ("UNIT#:POWer[?]", Command::Unit),
        ("INITiate#:CONTinuous[?]", Command::Continuous),
        ("INITiate#[:IMMediate][:ALL]", Command::Initiate),
        ("TRIGger#[:SEQuence#]:SOURce[?]", Command::Source),
        ("TRIGger#[:SEQuence#][:IMMediate]", Command::Trigger),
        ("ABORt", Command::Abort),
        ("FORMat[:DATA][?]", Command::Format),
        ("FORMat:BORDer[?]", Command::Border),
        ("TRACe#[:DATA]?", Command::Trace),
        ("TRACe#:POINts?", Command::TracePoints),
        ("TRACe#:CATalog?", Command::TraceCatalogue),
        ("CALibration#[:ALL][?]", Command::Align),
        ("*CAL?", Command::Align),
    ];
    let numbers = numbers.into_iter().map(|(header, number)| (header, Command::Number(number)));
    let switches = switches.into_iter().map(|(header, switch)| (header, Command::Switch(switch)));
    let markers = markers.into_iter().map(|(header, marker)| (header, Command::Marker(marker)));
    numbers.chain(switches).chain(markers).chain(others).collect()
}
