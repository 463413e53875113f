//! An instrument that keeps what it is told and answers what it is asked, with one fault at most.

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex};
use std::time::Duration;

use spurline_clock::{Clock, Moment};
use spurline_transport::{Link, StreamLink};
use tokio::io::{AsyncBufReadExt, AsyncWriteExt, BufReader, DuplexStream};

/// What is wrong with the fake.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Quirk {
    None,
    /// Floats with the least significant byte first, whatever it is told.
    SwappedBytes,
    /// Floats of 64 bits.
    DoublePrecision,
    /// `*WAI` is taken and waits for nothing.
    NoWaiting,
    /// Another number of points than it was told.
    FixedPoints,
    /// One header that it does not know.
    NoVideoBandwidth,
    /// A marker that is not at the peak.
    MarkerElsewhere,
    /// Longer messages are lost.
    ShortBuffer,
    /// Only the first command of a message is carried out.
    SingleCommands,
    /// Whatever is wrong raises no error.
    MuteErrors,
    /// `SYST:ERR?` is not answered.
    NoQueue,
    /// The link is closed when a sweep begins.
    HangsUpOnSweep,
    /// A sweep that takes an hour.
    BusyForEver,
    /// Answers that would act on a terminal.
    Hostile,
    /// No answers at all.
    Mute,
}

impl Quirk {
    /// All of those that can be spoken to.
    pub(super) const ALL: [Self; 14] = [
        Self::None,
        Self::SwappedBytes,
        Self::DoublePrecision,
        Self::NoWaiting,
        Self::FixedPoints,
        Self::NoVideoBandwidth,
        Self::MarkerElsewhere,
        Self::ShortBuffer,
        Self::SingleCommands,
        Self::MuteErrors,
        Self::NoQueue,
        Self::HangsUpOnSweep,
        Self::BusyForEver,
        Self::Hostile,
    ];
}

/// What it has before anybody tells it anything.
const SETTINGS: [(&str, &str); 18] = [
    ("FREQ:CENT", "1500000000"),
    ("FREQ:SPAN", "3000000000"),
    ("BAND", "3000000"),
    ("BAND:VID", "3000000"),
    ("SWE:POIN", "601"),
    ("SWE:TIME", "0.02"),
    ("INP:ATT", "10"),
    ("DISP:WIND:TRAC:Y:RLEV", "0"),
    ("INP:GAIN:STAT", "0"),
    ("INIT:CONT", "1"),
    ("CAL:AUTO", "1"),
    ("DET", "NORM"),
    ("FORM", "ASC"),
    ("FORM:BORD", "SWAP"),
    ("UNIT:POW", "W"),
    ("FREQ", "50000000"),
    ("AVER:COUN", "16"),
    ("POW", "high"),
];

const SHORT_BUFFER: usize = 256;

#[derive(Debug)]
pub(super) struct Fake {
    heard: Arc<Mutex<Vec<String>>>,
}

impl Fake {
    /// A link to a fake.
    pub(super) fn connect(quirk: Quirk, clock: Clock) -> (Box<dyn Link>, Self) {
        let (near, far) = tokio::io::duplex(1 << 20);
        let heard = Arc::new(Mutex::new(Vec::new()));
        let playing = Playing {
            quirk,
            clock,
            settings: before(),
            errors: Vec::new(),
            sweep_ends: None,
            heard: heard.clone(),
        };
        tokio::spawn(playing.play(far));
        (Box::new(StreamLink::new(near)), Self { heard })
    }

    /// Every message that came.
    pub(super) fn heard(&self) -> Vec<String> {
        self.heard.lock().unwrap().clone()
    }

    /// What the settings are after these messages.
    pub(super) fn settings_after(messages: &[String]) -> BTreeMap<String, String> {
        let mut settings = before();
        for unit in messages.iter().flat_map(|message| message.split(';')) {
            let unit = unit.trim_start_matches(':').trim();
            if let Some((header, value)) = unit.split_once(' ')
                && settings.contains_key(header)
            {
                settings.insert(header.to_owned(), value.to_owned());
            }
        }
        settings
    }
}

fn before() -> BTreeMap<String, String> {
    SETTINGS.iter().map(|(header, value)| ((*header).to_owned(), (*value).to_owned())).collect()
}

struct Playing {
    quirk: Quirk,
    clock: Clock,
    settings: BTreeMap<String, String>,
    errors: Vec<&'static str>,
    sweep_ends: Option<Moment>,
    heard: Arc<Mutex<Vec<String>>>,
}

impl Playing {
    async fn play(mut self, stream: DuplexStream) {
        let mut stream = BufReader::new(stream);
        let mut line = Vec::new();
        while stream.read_until(b'\n', &mut line).await.unwrap_or(0) > 0 {
            let message = String::from_utf8_lossy(&line).trim().to_owned();
            line.clear();
            self.heard.lock().unwrap().push(message.clone());
            if self.quirk == Quirk::Mute {
                continue;
            }
            if self.quirk == Quirk::ShortBuffer && message.len() > SHORT_BUFFER {
                self.errors.push("-363,\"Input buffer overrun\"");
                continue;
            }
            let several = if self.quirk == Quirk::SingleCommands { 1 } else { usize::MAX };
            let mut answers: Vec<Vec<u8>> = Vec::new();
            for unit in message.split(';').take(several) {
                let unit = unit.trim_start_matches(':').trim().to_owned();
                if self.quirk == Quirk::HangsUpOnSweep && unit == "INIT" {
                    return;
                }
                answers.extend(self.unit(&unit).await);
            }
            if !answers.is_empty() {
                let mut answer = answers.join(&b';');
                answer.push(b'\n');
                drop(stream.get_mut().write_all(&answer).await);
            }
        }
    }

    /// Carries out one unit, and answers if it is a question that it knows.
    async fn unit(&mut self, unit: &str) -> Option<Vec<u8>> {
        let text = |text: &str| Some(text.as_bytes().to_vec());
        match unit {
            "*IDN?" if self.quirk == Quirk::Hostile => {
                return Some([b"\x1b[2J".as_slice(), &[b'x'; 9000]].concat());
            }
            "*IDN?" => return text("Example,Fake,F-1,1.0"),
            "*OPT?" => return text("0"),
            "SYST:VERS?" => return text("1999.0"),
            "*ESE?" => return text("0"),
            "SYST:ERR?" | "SYSTEM:ERROR?" if self.quirk != Quirk::NoQueue => {
                let entry = if self.errors.is_empty() { "0,\"No error\"" } else { self.errors.remove(0) };
                return text(entry);
            }
            "*WAI" if self.quirk == Quirk::NoWaiting => {}
            "*WAI" => self.finish().await,
            "*OPC?" => {
                self.finish().await;
                return text("1");
            }
            "INIT" => {
                let time = match self.quirk {
                    Quirk::BusyForEver => 3600.0,
                    _ => self.settings["SWE:TIME"].parse().unwrap(),
                };
                self.sweep_ends = Some(self.clock.now().after(Duration::from_secs_f64(time)));
            }
            "ABOR" | "CAL" | "CALC:MARK:MAX" => {}
            "STAT:QUES:COND?" => return text("0"),
            "CALC:MARK:X?" => return text(&self.settings["FREQ:CENT"].clone()),
            "CALC:MARK:Y?" if self.quirk == Quirk::MarkerElsewhere => return text("-50"),
            "CALC:MARK:Y?" => return text("-40.004"),
            "TRAC? TRACE1" => return Some(self.trace()),
            "READ?" => return text("-31.25"),
            "OUTP?" => return text("0"),
            "MEAS:VOLT?" => return text("13.8"),
            "MEAS:CURR?" => return text("1.25"),
            "VOLT?" => return text("13.8"),
            "CURR?" => return text("3"),
            "ROUT:CLOS:TIM?" => return text("1"),
            "ROUT:CLOS? (@1)" => return text("0"),
            other => return self.setting(other),
        }
        None
    }

    fn setting(&mut self, unit: &str) -> Option<Vec<u8>> {
        let (header, value) = unit.split_once(' ').unwrap_or((unit, ""));
        let known = header.trim_end_matches('?');
        let unknown = !self.settings.contains_key(known)
            || (self.quirk == Quirk::NoVideoBandwidth && known == "BAND:VID");
        if unknown {
            if self.quirk != Quirk::MuteErrors {
                self.errors.push("-113,\"Undefined header\"");
            }
            return None;
        }
        if header.ends_with('?') {
            return self.settings.get(known).map(|value| value.clone().into_bytes());
        }
        let fixed = self.quirk == Quirk::FixedPoints && header == "SWE:POIN";
        if !fixed {
            self.settings.insert(header.to_owned(), value.to_owned());
        }
        None
    }

    async fn finish(&mut self) {
        if let Some(end) = self.sweep_ends.take() {
            self.clock.sleep_until(end).await;
        }
    }

    /// A peak in the middle; in plain numbers with two digits behind the point.
    fn trace(&self) -> Vec<u8> {
        let points: usize = self.settings["SWE:POIN"].parse().unwrap();
        let level =
            |point: usize| if point == points / 2 { -40.004 } else { -89.985 - point as f64 / 1000.0 };
        let levels = (0..points).map(level);
        if self.settings["FORM"] == "ASC" {
            return levels.map(|level| format!("{level:.2}")).collect::<Vec<_>>().join(",").into_bytes();
        }
        let data: Vec<u8> = match self.quirk {
            Quirk::SwappedBytes => levels.flat_map(|level| (level as f32).to_le_bytes()).collect(),
            Quirk::DoublePrecision => levels.flat_map(f64::to_be_bytes).collect(),
            _ => levels.flat_map(|level| (level as f32).to_be_bytes()).collect(),
        };
        let length = data.len().to_string();
        [format!("#{}{length}", length.len()).into_bytes(), data].concat()
    }
}
