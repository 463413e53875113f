//! The table of faults: the word of each, and what it is unless stated otherwise.

use super::nature::Befalls::{Answer, Block, Bytes, Connection, Instrument, Message, Number, Work};
use super::nature::Nature;

macro_rules! faults {
    ($($(#[$about:meta])* $does:ident = $word:literal, $nature:expr;)*) => {
        /// What goes wrong. Named by what happens.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
        pub(crate) enum Does {
            $($(#[$about])* $does,)*
        }

        impl Does {
            /// Every fault with its word in the file.
            pub(crate) const ALL: &'static [(&'static str, Self)] = &[$(($word, Self::$does),)*];

            /// Its word in the file.
            pub(crate) const fn word(self) -> &'static str {
                match self { $(Self::$does => $word,)* }
            }

            /// What it is unless stated otherwise.
            pub(crate) const fn nature(self) -> Nature {
                match self { $(Self::$does => $nature,)* }
            }
        }
    };
}

faults! {
    /// The answer comes `by` later; what follows waits behind it.
    LateAnswer = "late-answer", Nature::once(Answer).by(10_000);
    /// The answers are kept back and come all together in front of the next one.
    LateAnswers = "late-answers", Nature::every(Answer).times(2);
    /// `*RST` keeps the instrument busy for `by`.
    SlowReset = "slow-reset", Nature::every(Message).by(15_000);
    /// Work takes `count` times as long as it should; `SWEep:TIME?` does not tell.
    SlowSweep = "slow-sweep", Nature::every(Work).count(20);
    /// The answer takes two minutes.
    Stall = "stall", Nature::once(Answer).by(121_000);
    /// The answer has neither terminator nor END.
    NoTerminator = "no-terminator", Nature::once(Answer);
    /// A new line ends a message only behind a carriage return; else it is a blank.
    WantsCrLf = "wants-cr-lf", Nature::every(Bytes);
    /// A carriage return is data, and data that means nothing.
    CrIsData = "cr-is-data", Nature::every(Bytes);
    /// Answers have no terminator; END is there where the link carries it.
    EndsInSilence = "ends-in-silence", Nature::every(Answer);
    /// A NUL before the answer and one behind its terminator.
    NulBytes = "nul-bytes", Nature::every(Answer);
    /// The first `bytes` come one by one, `by` apart.
    Trickle = "trickle", Nature::every(Answer).by(50).bytes(40);
    /// Each query of a message gets an answer of its own, all in one segment.
    AnswersApart = "answers-apart", Nature::every(Answer);
    /// A new line stands behind the first field of the answer.
    NewlineInside = "newline-inside", Nature::every(Answer);
    /// Every value of a block has 0x0A as its least byte, the nearest value that has.
    NewlinesInBlock = "newlines-in-block", Nature::every(Block);
    /// An answer with a block has no terminator; END is there where the link carries it.
    BlockUnterminated = "block-unterminated", Nature::every(Block);
    /// An answer with a block ends with two new lines.
    BlockTwoNewlines = "block-two-newlines", Nature::every(Block);
    /// A block is announced and sent one byte short.
    BlockOddLength = "block-odd-length", Nature::every(Block);
    /// A block of indefinite length.
    BlockIndefinite = "block-indefinite", Nature::every(Block);
    /// The data of a block in two blocks.
    BlockInTwo = "block-in-two", Nature::every(Block);
    /// A block ends before its announced length; then silence.
    BlockCutShort = "block-cut-short", Nature::once(Block);
    /// The bytes of the values are in the other order than the instrument says.
    BlockSwapped = "block-swapped", Nature::every(Block);
    /// The answer fills whole buffers of `bytes`; its terminator comes `by` later.
    FullBuffers = "full-buffers", Nature::every(Answer).by(200).bytes(4096);
    /// From now on nothing is answered before a device clear or on another connection.
    Wedged = "wedged", Nature::once(Message);
    /// One number is a word that stands for none.
    NotANumber = "not-a-number", Nature::every(Number);
    /// A comma behind the last field.
    TrailingComma = "trailing-comma", Nature::every(Answer);
    /// Blanks around every field.
    DoubledBlanks = "doubled-blanks", Nature::every(Answer);
    /// A plus sign before every number that has no sign.
    PlusSigns = "plus-signs", Nature::every(Answer);
    /// A comma before the decimals.
    DecimalComma = "decimal-comma", Nature::every(Number);
    /// Numbers with their unit.
    UnitInAnswer = "unit-in-answer", Nature::every(Number);
    /// The header of the query before its answer.
    HeaderInAnswer = "header-in-answer", Nature::every(Answer);
    /// A byte outside ASCII in the answer.
    NotAscii = "not-ascii", Nature::every(Answer);
    /// Whole numbers with point and exponent.
    IntegersAsReals = "integers-as-reals", Nature::every(Number);
    /// The commands in which `on` stands are not known.
    UnknownHeader = "unknown-header", Nature::every(Message);
    /// `count` errors are in the queue when a connection is made.
    StaleErrors = "stale-errors", Nature::once(Connection).count(3);
    /// `count` errors at once.
    ErrorFlood = "error-flood", Nature::once(Message).count(30);
    /// Each connection has an error queue of its own.
    ErrorsPerConnection = "errors-per-connection", Nature::every(Message);
    /// Messages of more than `bytes` are dropped whole.
    ShortInput = "short-input", Nature::every(Message).bytes(200);
    /// The command in which `on` stands is not known, and what follows it in the message is not looked at.
    RestSkipped = "rest-skipped", Nature::every(Message);
    /// The only connection is somebody else's: new ones are refused.
    BusyRefused = "busy-refused", Nature::every(Instrument);
    /// The only connection is somebody else's: new ones are closed at once.
    BusyClosed = "busy-closed", Nature::every(Instrument);
    /// The only connection is somebody else's: new ones stay open and are not listened to.
    BusyMute = "busy-mute", Nature::every(Instrument);
    /// Somebody else holds the instrument's lock.
    LockedElsewhere = "locked-elsewhere", Nature::every(Instrument);
    /// A connection over which nothing has come for `by` is dead, and nobody is told.
    IdleDeath = "idle-death", Nature::every(Message).by(60_000);
    /// All connections are closed and new ones refused.
    CutLink = "cut-link", Nature::once(Message);
    /// Connections stay, but nothing is heard and nothing is answered.
    MuteLink = "mute-link", Nature::once(Message);
    /// After `count` connections the next ones are closed at once.
    SlotLeak = "slot-leak", Nature::once(Connection).lasts(60).count(3);
    /// The connection is taken and never listened to.
    MuteHandshake = "mute-handshake", Nature::once(Connection);
    /// The first answer on a connection comes `by` later.
    SlowStart = "slow-start", Nature::every(Answer).by(2_000);
    /// The connection is closed in place of the answer.
    ClosesForAnswer = "closes-for-answer", Nature::once(Answer);
    /// Half the answer, then the connection is closed.
    HalfAnswer = "half-answer", Nature::once(Answer);
    /// The connection is reset behind `bytes` of the answer.
    ResetInside = "reset-inside", Nature::once(Answer).bytes(1);
    /// The instrument asks for service and has no reason to.
    StrayServiceRequest = "stray-service-request", Nature::once(Message);
    /// Every message comes back first.
    Echo = "echo", Nature::every(Message);
    /// A prompt follows every message.
    Prompt = "prompt", Nature::every(Message);
    /// A byte of the message is lost.
    LostByte = "lost-byte", Nature::every(Message);
    /// The adapter of the link is unplugged, and plugged in again.
    Unplugged = "unplugged", Nature::once(Message).lasts(5);
    /// A program that is gone has left its exclusive flag on the port.
    LeftExclusive = "left-exclusive", Nature::every(Instrument);
    /// A setting takes effect `by` later.
    LateSettings = "late-settings", Nature::every(Message).by(300);
    /// A message that comes within `by` of the last is lost.
    DeafWhenRushed = "deaf-when-rushed", Nature::every(Message).by(20);
    /// A reply to an older call comes before the right one.
    StaleReply = "stale-reply", Nature::once(Answer);
    /// A number is set to 80 % of what was asked for, and no error tells.
    ClippedSetting = "clipped-setting", Nature::every(Message);
    /// On every connection but the first another instrument answers: another serial number.
    OtherSerial = "other-serial", Nature::every(Answer);
    /// Switched off and on: settings gone, connections gone, back after `lasts`.
    PowerCycle = "power-cycle", Nature::once(Message).lasts(5);
    /// Switched off and on so quickly that the connections stay.
    PowerDip = "power-dip", Nature::once(Message);
}
