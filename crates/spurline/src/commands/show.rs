//! `show`: a run of the record, or one of its readings with everything behind it.

use clap::Args;
use spurline_record::Reading;

use crate::data::DataArgument;
use crate::exit::Exit;
use crate::table;
use crate::talk::{Failure, print, print_json};

/// Show a run, or one reading with the figures behind it
#[derive(Args, Debug)]
pub(crate) struct Show {
    /// The run: its name, the beginning of it, or `last`
    run: String,
    /// The reading, by its number in the run
    #[arg(long, value_name = "NUMBER")]
    reading: Option<u32>,
    #[command(flatten)]
    data: DataArgument,
    /// Print one JSON document
    #[arg(long)]
    json: bool,
}

impl Show {
    pub(crate) fn execute(self) -> Result<Exit, Failure> {
        let store = self.data.open()?;
        let stored = store.load(&store.resolve(&self.run)?)?;
        if let Some(number) = self.reading {
            let reading = stored.readings.iter().find(|reading| reading.ordinal == number);
            let reading = reading.ok_or_else(|| Failure::Usage {
                message: format!("run {} has no reading {number}", stored.header.id),
                advice: format!("its readings are numbered 1 to {}", stored.readings.len()),
            })?;
            if self.json {
                print_json(&serde_json::to_value(reading).unwrap_or_default());
            } else {
                print(reading_text(reading).as_bytes());
            }
        } else if self.json {
            print(spurline_report::json(&super::report::view(&stored))?.as_bytes());
        } else {
            let header = &stored.header;
            let outcome = stored.outcome.map_or("-", |outcome| outcome.word());
            let text = format!(
                "run {}, {}\n{} on {}, {} serial {}\nrule {} ({})\n{}\n\n{}\n\noutcome: {outcome}\n",
                header.id,
                stored.state.word(),
                header.plan,
                header.bench,
                header.unit.model,
                header.unit.serial,
                header.rule,
                header.rule_status,
                header.decision.words(),
                table::readings(&stored.readings),
            );
            print(text.as_bytes());
        }
        Ok(Exit::Good)
    }
}

fn reading_text(reading: &Reading) -> String {
    let scope = &reading.scope;
    let mut text = format!(
        "{} {}: {} at {}: {}\n",
        scope.channel,
        scope.power_setting,
        table::what(reading),
        reading.frequency,
        reading.outcome
    );
    let mut line = |words: String| text.push_str(&format!("{words}\n"));
    if let Some(reason) = &reading.reason {
        line(format!("  {}: {}", reason.code.code(), reason.text));
    }
    if let Some(correction) = &reading.correction {
        line(format!("shown {}", correction.raw));
        if correction.noise.get() > 0.0 {
            line(format!("  less noise {}", correction.noise));
        }
        for (name, loss) in &correction.path {
            line(format!("  plus {name} {loss}"));
        }
    }
    if let Some(figure) = &reading.figure {
        let bound = if figure.bound { "at most " } else { "" };
        line(format!("level {bound}{} at the connector", figure.level));
    }
    for step in &reading.derivation.steps {
        line(format!("limit: {step}"));
    }
    if let Some(margin) = reading.margin {
        line(format!("margin {margin}"));
    }
    if let Some(floor) = &reading.proof.floor {
        line(format!("floor {}, {} below the reading", floor.level, floor.distance));
    }
    if let Some(own) = reading.proof.own_distortion {
        line(format!("made by the analyser at most {own}"));
    }
    if let Some(check) = &reading.proof.cross_check {
        line(format!(
            "meter {}, analyser {}: {} apart, {} allowed",
            check.meter, check.analyser, check.difference, check.allowed
        ));
    }
    if let Some(budget) = &reading.budget {
        for part in &budget.lines {
            line(format!(
                "  u {:.3}  {} ({:.3}, {}) from {}",
                part.standard, part.name, part.value, part.distribution, part.source
            ));
        }
        line(format!("u {:.3}, U {:.3} (k = {})", budget.combined, budget.expanded, budget.coverage_factor));
    }
    text
}
