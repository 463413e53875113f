//! `walk-in`: a test day, radio after radio.

use std::io::IsTerminal;
use std::path::PathBuf;

use clap::{Args, ValueEnum};
use spurline_runner::Files;
use spurline_units::{Hertz, Power, Range};
use spurline_walkin::{
    Audience, Day, Desk, DeskError, SlipWidth, counted, kept_day, load_day, summary_csv, summary_json,
    summary_text,
};

use crate::data::{DataArgument, record_at};
use crate::exit::Exit;
use crate::talk::{self, Failure, print, print_text, say};
use crate::walk_in::{Slips, Stopped, Terminal, Waited};

/// Hold a test day: radios that people bring, one after the other
///
/// Scan or type a call sign, a serial number or a tag; the program says when to key, finds the carrier, says when to let go,
/// and shows a verdict and a slip. All of it is kept; the day goes on after any end. Slips are standard output.
#[derive(Args, Debug)]
pub(crate) struct WalkIn {
    /// The file of the day, or a bench with `--rule` and `--band`
    day: String,
    /// The rule, instead of the one that the day names
    #[arg(long, value_name = "NAME")]
    rule: Option<String>,
    /// A band in which radios may be keyed, such as "144 MHz..148 MHz"; may be repeated
    #[arg(long, value_name = "RANGE")]
    band: Vec<Range<Hertz>>,
    /// How strong a carrier may be, such as "0.2..8 W"
    #[arg(long, value_name = "RANGE")]
    power: Option<Range<Power>>,
    /// The paper of the slips in mm, instead of what the day says
    #[arg(long, value_enum, value_name = "MM")]
    slip: Option<Paper>,
    /// A folder in which each slip has a file too, and a PDF for a label of 62 mm by 29 mm
    #[arg(long, value_name = "DIR")]
    slips: Option<PathBuf>,
    /// Let this day key a real bench: you have looked at it, and the cautions are kept
    #[arg(long)]
    arm: bool,
    /// Print what the day came to, and key nothing: without call signs and serial numbers that may not be published
    #[arg(long, value_enum, value_name = "FORMAT", num_args = 0..=1, default_missing_value = "text")]
    summary: Option<Format>,
    /// The summary with every call sign and serial number
    #[arg(long, requires = "summary")]
    private: bool,
    /// The date of the day, if it is not today
    #[arg(long, value_name = "YYYY-MM-DD", requires = "summary", value_parser = date_of)]
    date: Option<String>,
    #[command(flatten)]
    data: DataArgument,
}

/// A date as the log has it.
fn date_of(text: &str) -> Result<String, String> {
    let form = text.len() == 10 && text.bytes().filter(|byte| *byte == b'-').count() == 2;
    match text.parse::<jiff::civil::Date>() {
        Ok(date) if form => Ok(date.to_string()),
        Ok(_) | Err(_) => Err("expected a date as year, month and day, such as 2026-05-09".to_owned()),
    }
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum Paper {
    #[value(name = "58")]
    Narrow,
    #[value(name = "80")]
    Wide,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Format {
    Text,
    Csv,
    Json,
}

impl WalkIn {
    pub(crate) fn is_json(&self) -> bool {
        self.summary == Some(Format::Json)
    }

    pub(crate) fn execute(self) -> Result<Exit, Failure> {
        let files = Files::from_environment();
        let said = (self.rule.as_deref(), self.band.as_slice(), self.power);
        let day = load_day(&self.day, said, &files)?;
        let folder = self.data.folder()?;
        if let Some(format) = self.summary {
            return self.summarise(&day, format);
        }
        if talk::is_quiet() {
            return Err(Failure::Usage {
                message: "`--quiet` leaves nobody told when to key and when to let go".to_owned(),
                advice: "hold the day without it; `--summary` may be quiet. Nothing was keyed".to_owned(),
            });
        }
        let record = record_at(folder)?;
        let stopped = Stopped::listening()?;
        let mut desk = Desk::open(day, &files, record, self.arm).map_err(of_desk)?;
        if desk.bench().is_real() {
            somebody_is_there()?;
            say(&spurline_runner::cautions());
        }
        say(&opening(&desk));
        let width = self.slip.map(|paper| match paper {
            Paper::Narrow => SlipWidth::Narrow,
            Paper::Wide => SlipWidth::Wide,
        });
        let mut terminal = Terminal::new(Slips { width, folder: self.slips }, stopped.clone());
        desk.begin(&mut terminal).map_err(of_desk)?;
        loop {
            match terminal.ask(&desk.prompt(), desk.reference_due_in())? {
                Waited::Line(line, waited) => {
                    let goes_on = desk.line(&line, waited, &mut terminal).map_err(of_desk)?;
                    if stopped.is_wanted() {
                        return Ok(Exit::Interrupted);
                    }
                    if !goes_on {
                        return Ok(Exit::Good);
                    }
                }
                Waited::End => return Ok(Exit::Good),
                Waited::Stopped => return Ok(Exit::Interrupted),
                Waited::Later => talk::sound(),
            }
        }
    }

    fn summarise(&self, day: &Day, format: Format) -> Result<Exit, Failure> {
        let folder = self.data.folder()?;
        let audience = if self.private { Audience::Private } else { Audience::Public };
        let ledger = kept_day(day, self.date.as_deref(), &folder).map_err(of_desk)?;
        let Some(ledger) = ledger else {
            let date = self.date.clone().map_or_else(|| "today".to_owned(), |date| format!("on {date}"));
            return Err(Failure::Usage {
                message: format!("nothing was entered {date} for `{}` in {}", day.title, folder.display()),
                advice: "name another day with `--date YYYY-MM-DD`, or another folder with `--data DIR`"
                    .to_owned(),
            });
        };
        match format {
            Format::Text => print_text(&summary_text(day, &ledger, audience))?,
            Format::Csv => print(summary_csv(day, &ledger, audience).as_bytes())?,
            Format::Json => talk::print_json(&summary_json(day, &ledger, audience))?,
        }
        Ok(Exit::Good)
    }
}

fn of_desk(error: DeskError) -> Failure {
    match error {
        DeskError::Runner(failure) => failure.into(),
        DeskError::Runtime(source) => Failure::runtime(source),
        DeskError::Log(source) => Failure::DayLog(source),
    }
}

/// A person keys, and must hear and see when.
fn somebody_is_there() -> Result<(), Failure> {
    if std::io::stdin().is_terminal() && std::io::stderr().is_terminal() {
        return Ok(());
    }
    Err(Failure::Usage {
        message: "a person keys on this bench, and nobody is told when: standard input or standard error is no terminal"
            .to_owned(),
        advice: "hold the day at a terminal; nothing was keyed".to_owned(),
    })
}

fn opening(desk: &Desk<'_>) -> String {
    let day = &desk.day;
    let place = if day.place.is_empty() { String::new() } else { format!(", {}", day.place) };
    let bands: Vec<String> = day.bands.iter().map(ToString::to_string).collect();
    let visits = desk.ledger().visits().len();
    let so_far = if visits == 0 { String::new() } else { format!("\n{} so far", counted(desk.ledger())) };
    format!(
        "{}{place}, by {}\nkeyed by thumb: no lease ends what a hand holds. At most {} each, in {}{so_far}",
        day.title,
        day.rule,
        day.longest,
        bands.join(", ")
    )
}
