//! Something that answers like an analyser, always the same and at once: the far end of `scripts/bench links`.
//!
//! It is no simulator: every answer is made when it is first asked for and only sent after that. It prints two ports; what
//! goes through the second is held up for 1 ms each way, as on a slow network.

#![expect(clippy::print_stdout, reason = "it talks to the script that started it")]

use std::collections::HashMap;
use std::io::{BufRead, BufReader, Read, Result, Write};
use std::net::{Ipv4Addr, SocketAddr, TcpListener, TcpStream};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::thread;
use std::time::Duration;

use spurline_clock::{Clock, Moment, Pace, run};
use spurline_scpi::{ByteOrder, Element, Number, Response, Unit};

const HELD_UP: Duration = Duration::from_millis(1);

fn main() -> Result<()> {
    let direct = TcpListener::bind((Ipv4Addr::LOCALHOST, 0))?;
    let slow = TcpListener::bind((Ipv4Addr::LOCALHOST, 0))?;
    let address = direct.local_addr()?;
    println!("{} {}", address.port(), slow.local_addr()?.port());
    let clock = run(Pace::Real, |clock| async move { clock })?;
    thread::spawn(move || each(&slow, move |client| hold_up(client, address, clock)));
    each(&direct, answer)
}

/// A thread for each caller.
fn each(
    listener: &TcpListener,
    talk: impl Fn(TcpStream) -> Result<()> + Copy + Send + 'static,
) -> Result<()> {
    loop {
        let (stream, _) = listener.accept()?;
        stream.set_nodelay(true)?;
        // A caller that hangs up ends its thread and nothing else.
        thread::spawn(move || talk(stream).ok());
    }
}

fn answer(mut stream: TcpStream) -> Result<()> {
    let mut lines = BufReader::new(stream.try_clone()?);
    let mut known: HashMap<String, Vec<u8>> = HashMap::new();
    let mut line = String::new();
    while lines.read_line(&mut line)? > 0 {
        if !known.contains_key(&line) {
            known.insert(line.clone(), made(line.trim_end()));
        }
        let bytes = &known[&line];
        if !bytes.is_empty() {
            stream.write_all(bytes)?;
        }
        line.clear();
    }
    Ok(())
}

/// The answers to all questions of a message, with terminator; nothing if there are none.
fn made(message: &str) -> Vec<u8> {
    let questions =
        message.split(';').map(|unit| unit.trim_start_matches(':')).filter(|unit| unit.contains('?'));
    let units: Vec<Unit> = questions.map(answered).collect();
    if units.is_empty() {
        return Vec::new();
    }
    let mut bytes = Response { units }.encode().to_vec();
    bytes.push(b'\n');
    bytes
}

fn answered(question: &str) -> Unit {
    match question.split_once("? ") {
        Some(("TRAC", "TRACE1")) => real(1001).into(),
        Some(("TRAC", trace)) => match trace.split_at(4) {
            ("REAL", points) => real(count(points)).into(),
            (_, points) => ascii(count(points)),
        },
        _ => match question {
            "SYST:ERR?" => vec![Element::from_integer(0), Element::from_string("No error")].into(),
            "*OPC?" => Element::from_integer(1).into(),
            "*ESR?" | "STAT:QUES:COND?" => Element::from_integer(0).into(),
            "SWE:POIN?" => Element::from_integer(1001).into(),
            _ => Element::from_number(Number::Finite(433e6)).into(),
        },
    }
}

fn count(points: &str) -> usize {
    points.parse().expect("the scripts ask for a number of points")
}

/// Levels as of noise, from a row of numbers that looks drawn (the minimal standard of Park and Miller).
fn levels(points: usize) -> Vec<f32> {
    let mut state = 1_u64;
    let next = || {
        state = state * 48_271 % 2_147_483_647;
        -95.0 + 10.0 * (state as f32 / 2_147_483_647.0)
    };
    std::iter::repeat_with(next).take(points).collect()
}

fn real(points: usize) -> Element {
    Element::from_f32s(&levels(points), ByteOrder::Big)
}

/// With the seven digits that a 32-bit float has.
fn ascii(points: usize) -> Unit {
    let text = |level: f32| format!("{level:.6E}").replace("E1", "E+01");
    levels(points).into_iter().map(|level| Element::from_word(&text(level))).collect::<Vec<_>>().into()
}

/// Passes everything on, both ways, `HELD_UP` later.
fn hold_up(client: TcpStream, address: SocketAddr, clock: Clock) -> Result<()> {
    let server = TcpStream::connect(address)?;
    server.set_nodelay(true)?;
    for (from, to) in [(client.try_clone()?, server.try_clone()?), (server, client)] {
        let (sender, receiver) = channel();
        thread::spawn(move || take_in(from, &sender, clock).ok());
        thread::spawn(move || let_out(to, &receiver, clock).ok());
    }
    Ok(())
}

fn take_in(mut from: TcpStream, sender: &Sender<(Moment, Vec<u8>)>, clock: Clock) -> Result<()> {
    let mut space = vec![0; 1 << 16];
    loop {
        let count = from.read(&mut space)?;
        if count == 0 || sender.send((clock.now().after(HELD_UP), space[..count].to_vec())).is_err() {
            return Ok(());
        }
    }
}

fn let_out(mut to: TcpStream, receiver: &Receiver<(Moment, Vec<u8>)>, clock: Clock) -> Result<()> {
    while let Ok((due, bytes)) = receiver.recv() {
        // The runtime's timers count whole milliseconds: too coarse here.
        thread::sleep(due.since(clock.now()));
        to.write_all(&bytes)?;
    }
    Ok(())
}
