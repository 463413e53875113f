//! The near end of `scripts/bench links`: does what it is told on standard input, and prints how long that took.
//!
//! `timed_client DIRECT SLOW`, then one job a line: `roundtrips ours 1000`, `roundtrips bare 1000`, `roundtrips runtime 1000`
//! (a bare socket of the asynchronous runtime that our session runs on), `trace ours ASCI1001 20`,
//! `trace bare REAL1001 20`, `reading ours 10`, `slow bare 10`. The answer is the time in seconds, and for traces the sum of
//! the last one, so that the script can see that everybody has read the same numbers.

#![expect(clippy::print_stdout, reason = "it talks to the script that started it")]

use std::error::Error;
use std::io::{BufRead, Read, Write};
use std::net::{Ipv4Addr, TcpStream};
use std::time::Duration;

use spurline_clock::{Clock, Pace, run};
use spurline_scpi::{ByteOrder, Message, Unit};
use spurline_transport::{Address, LinkSettings, Manners, Session, Tap, connect};
use tokio::io::{AsyncReadExt, AsyncWriteExt};

type Fallible<T> = Result<T, Box<dyn Error>>;

/// What the session asks behind every message, and what it is answered.
const BEHIND: &str = ";*ESR?;:SYST:ERR?\n";
const ANSWERED_BEHIND: &str = ";0;0,\"No error\"\n";

/// The settings of one line of a spectrum and the questions that confirm them, then the sweep with all that is read of
/// it: as the shipped profile of an analyser spells them.
const SETTINGS: &str = "INP:ATT 20;:DISP:WIND:TRAC:Y:RLEV -10;:FREQ:CENT 433000000;:FREQ:SPAN 1000000;:BAND 10000;\
    :BAND:VID 30000;:SWE:POIN 1001;:DET RMS;:SWE:TIME 0.1;:FREQ:CENT?;:FREQ:SPAN?;:BAND?;:BAND:VID?;:SWE:POIN?;\
    :SWE:TIME?;:INP:ATT?;:DISP:WIND:TRAC:Y:RLEV?";
const SWEEP: &str = "INIT;*WAI;:TRAC? TRACE1;:STAT:QUES:COND?;:CALC:MARK:MAX;:CALC:MARK:X?;:CALC:MARK:Y?";

fn main() -> Fallible<()> {
    let ports = std::env::args().skip(1).map(|port| port.parse()).collect::<Result<Vec<u16>, _>>()?;
    let [direct, slow] = ports[..] else { return Err("expected two ports".into()) };
    run(Pace::Real, |clock| async move {
        let mut near = Near::new(direct, clock).await?;
        let mut far = Near::new(slow, clock).await?;
        for line in std::io::stdin().lock().lines() {
            let line = line?;
            let words: Vec<&str> = line.split_whitespace().collect();
            match words[..] {
                ["roundtrips", arm, times] => near.round_trips(arm, times.parse()?).await?,
                ["slow", arm, times] => far.round_trips(arm, times.parse()?).await?,
                ["trace", arm, name, times] => near.traces(arm, name, times.parse()?).await?,
                ["reading", "ours", times] => far.readings(times.parse()?).await?,
                _ => return Err(format!("expected a job, found `{line}`").into()),
            }
        }
        Ok(())
    })?
}

fn sum(levels: &[f32]) -> f64 {
    levels.iter().copied().map(f64::from).sum()
}

/// Our session and a bare socket to the same server.
struct Near {
    ours: (Session, Tap),
    bare: TcpStream,
    runtime: tokio::net::TcpStream,
    clock: Clock,
}

async fn ours(port: u16, clock: Clock) -> Fallible<(Session, Tap)> {
    let address: Address = format!("TCPIP::127.0.0.1::{port}::SOCKET").parse()?;
    let manners =
        Manners { longest: 900, compound: true, power_on_bit: true, answer_within: Duration::from_secs(5) };
    let tap = Tap::default();
    let link = connect(&address, &LinkSettings::default(), clock).await?;
    Ok((Session::over(link, "analyser", address, manners, clock, tap.clone()), tap))
}

fn bare(port: u16) -> Fallible<TcpStream> {
    let stream = TcpStream::connect((Ipv4Addr::LOCALHOST, port))?;
    stream.set_nodelay(true)?;
    Ok(stream)
}

impl Near {
    async fn new(port: u16, clock: Clock) -> Fallible<Self> {
        let runtime = tokio::net::TcpStream::connect((Ipv4Addr::LOCALHOST, port)).await?;
        runtime.set_nodelay(true)?;
        Ok(Self { ours: ours(port, clock).await?, bare: bare(port)?, runtime, clock })
    }

    async fn round_trips(&mut self, arm: &str, times: u32) -> Fallible<()> {
        let began = self.clock.now();
        if arm == "ours" {
            let question = Message::new().unit("*OPC?")?;
            for _ in 0..times {
                self.ask(&question).await?[0].integer()?;
            }
        } else if arm == "runtime" {
            let question = format!("*OPC?{BEHIND}");
            let mut answer = vec![0; 1 + ANSWERED_BEHIND.len()];
            for _ in 0..times {
                self.runtime.write_all(question.as_bytes()).await?;
                self.runtime.read_exact(&mut answer).await?;
            }
        } else {
            let question = format!("*OPC?{BEHIND}");
            let mut answer = vec![0; 1 + ANSWERED_BEHIND.len()];
            for _ in 0..times {
                self.bare.write_all(question.as_bytes())?;
                self.bare.read_exact(&mut answer)?;
            }
        }
        println!("{}", self.clock.now().since(began).as_secs_f64());
        Ok(())
    }

    async fn traces(&mut self, arm: &str, name: &str, times: u32) -> Fallible<()> {
        if arm == "ours" {
            let mut levels = Vec::new();
            let question = Message::new().unit(&format!("TRAC? {name}"))?;
            // One before the watch starts, as with the bare socket.
            self.ask(&question).await?;
            let began = self.clock.now();
            for _ in 0..times {
                let units = self.ask(&question).await?;
                levels = match name.starts_with("REAL") {
                    true => units[0].f32_block(ByteOrder::Big)?,
                    false => units[0].f32_list()?,
                };
            }
            println!("{} {}", self.clock.now().since(began).as_secs_f64(), sum(&levels));
        } else {
            let question = format!("TRAC? {name}{BEHIND}");
            // The first one tells how long all of them are.
            self.bare.write_all(question.as_bytes())?;
            let mut answer = Vec::new();
            while !answer.ends_with(ANSWERED_BEHIND.as_bytes()) {
                let mut space = [0; 1 << 16];
                let count = self.bare.read(&mut space)?;
                answer.extend_from_slice(&space[..count]);
            }
            let began = self.clock.now();
            for _ in 0..times {
                self.bare.write_all(question.as_bytes())?;
                self.bare.read_exact(&mut answer)?;
            }
            println!("{}", self.clock.now().since(began).as_secs_f64());
        }
        Ok(())
    }

    async fn readings(&mut self, times: u32) -> Fallible<()> {
        let (settings, sweep) = (Message::new().compound(SETTINGS)?, Message::new().compound(SWEEP)?);
        let mut levels = Vec::new();
        let began = self.clock.now();
        for _ in 0..times {
            for unit in self.ask(&settings).await? {
                unit.number()?;
            }
            let units = self.ask(&sweep).await?;
            levels = units[0].f32_block(ByteOrder::Big)?;
            for unit in &units[1..] {
                unit.number()?;
            }
        }
        println!("{} {}", self.clock.now().since(began).as_secs_f64(), sum(&levels));
        Ok(())
    }

    /// Asks, and takes what was noted, as a run does.
    async fn ask(&mut self, message: &Message) -> Fallible<Vec<Unit>> {
        let (session, tap) = &mut self.ours;
        let units = session.ask(message, Duration::ZERO).await?;
        drop(tap.take());
        Ok(units)
    }
}
