//! One reading with every figure behind it as plain text, in the order in which a person would redo it with a pencil.

use spurline_record::{Acquisition, Budget, Limit, Proof, Reading, RunHeader, SweepFlags, Unit};

use crate::arithmetic::decision;
use crate::arithmetic::sum::Sum;
use crate::course::course;
use crate::limit::dbm;
use crate::paragraph::paragraph;
use crate::{figures, scope};

/// A sheet that is being written.
struct Sheet {
    text: String,
}

/// The whole sheet of a reading, in lines of at most 80 columns.
#[must_use]
pub fn sheet(header: &RunHeader, reading: &Reading) -> String {
    let mut sheet = Sheet { text: String::new() };
    sheet.title(header, reading);
    sheet.limit(reading);
    if let Some(course) = course(reading, usize::MAX) {
        sheet.heading("course");
        sheet.text.push_str(&course);
    }
    sheet.raw(reading);
    sheet.level(reading);
    sheet.decision(header, reading);
    sheet.proof(&reading.proof);
    if let Some(budget) = &reading.budget {
        sheet.budget(budget);
    }
    sheet.settings(reading);
    sheet.text
}

impl Sheet {
    /// A paragraph; all its lines but the first begin four columns in.
    fn line(&mut self, text: &str) {
        self.wrapped(text, 4);
    }

    fn wrapped(&mut self, text: &str, indent: usize) {
        self.text.push_str(&paragraph(text, indent));
        self.text.push('\n');
    }

    fn heading(&mut self, text: &str) {
        self.text.push_str(&format!("\n{text}\n"));
    }

    /// A line of a sum: words on the left, the figure flush right; words that are too many go before it.
    fn item(&mut self, words: &str, figure: &str) {
        const WORDS: usize = 54;
        let lines = textwrap::wrap(words, WORDS);
        let (last, before) =
            lines.split_last().map_or(("", &[][..]), |(last, before)| (last.as_ref(), before));
        for line in before {
            self.text.push_str(&format!("  {line}\n"));
        }
        self.text.push_str(&format!("  {last:<WORDS$} {figure:>14}\n"));
    }

    fn title(&mut self, header: &RunHeader, reading: &Reading) {
        let title = reading.running_title();
        self.line(&format!("{title} at {}: {}", reading.frequency, reading.outcome));
        self.line(&format!("  {}, by the path {}", scope::name(&reading.scope), reading.scope.path));
        let at = reading.at.strftime("%Y-%m-%d %H:%M:%S UTC");
        self.line(&format!("  no. {} of run {}, {at}", reading.ordinal, header.id));
        if let Some(reason) = &reading.reason {
            self.line(&format!("  {}: {}", reason.code.code(), reason.text));
        }
        for remark in &reading.remarks {
            self.wrapped(&format!("  {remark}"), 2);
        }
    }

    fn limit(&mut self, reading: &Reading) {
        self.heading("limit");
        if !reading.derivation.source.is_empty() {
            self.line(&format!("  {}", reading.derivation.source));
        }
        for (number, step) in (1..).zip(&reading.derivation.steps) {
            self.line(&format!("  {number}. {step}"));
        }
        match &reading.limit {
            None => self.line("  none"),
            Some(Limit::Upper { level, below_carrier: Some(below) }) => {
                self.item(&format!("limit, {below} below the carrier"), &level.to_string());
            }
            Some(Limit::Upper { level, below_carrier: None }) => self.item("limit", &level.to_string()),
            Some(between @ Limit::Between { .. }) => self.item("limit", &figures::limit(Some(between))),
            Some(Limit::Window { low, high }) => {
                let shown = Limit::shown_window(*low, *high);
                for ((side, watts), shown) in [("below", *low), ("above", *high)].into_iter().zip(shown) {
                    let level = dbm(watts).map_or_else(|| "-".to_owned(), |level| format!("{level:.3} dBm"));
                    self.item(&format!("not {side} {shown} W"), &level);
                }
            }
            Some(Limit::Several(levels)) => {
                for level in levels {
                    self.item("possible limit", &level.to_string());
                }
            }
        }
    }

    /// The figures as the instruments gave them.
    fn raw(&mut self, reading: &Reading) {
        const MEAN: &str = "  mean of the powers: add 10^(dBm/10), divide by their number, 10 lg of that";
        if !reading.meter.is_empty() {
            self.heading("what the power meter showed");
            for shown in &reading.meter {
                self.item(&format!("told {}", shown.frequency), &format!("{:.3}", shown.level));
            }
            self.line(MEAN);
        }
        let Some(point) = reading.proof.peak_point else { return };
        // The look that the figure was read from is not the last one where others followed it.
        let named = reading.proof.read_from.and_then(|place| reading.acquisitions.get(place as usize - 1));
        let last =
            || reading.acquisitions.iter().rev().find(|look| look.keyed).or(reading.acquisitions.last());
        let Some(look) = named.or_else(last) else { return };
        self.heading("what the analyser showed");
        let (point, reach) = (point as usize, reading.proof.peak_reach as usize);
        let at = look.settings.frequency_of(point);
        if look.sweeps.is_empty() {
            self.line(&format!(
                "  {}: the raw figure below is what the program read from them",
                figures::PRUNED
            ));
            return;
        }
        for (number, sweep) in (1..).zip(&look.sweeps) {
            let near =
                sweep.levels.get(point.saturating_sub(reach)..(point + reach + 1).min(sweep.levels.len()));
            let Some(near) = near.filter(|near| !near.is_empty()) else { continue };
            let sum: f64 = near.iter().map(|level| 10f64.powf(f64::from(*level) / 10.0)).sum();
            let level = 10.0 * (sum / near.len() as f64).log10();
            let points = match reach {
                0 => format!("point {point}"),
                reach => format!("mean of points {} to {}", point - reach.min(point), point + reach),
            };
            self.item(&format!("sweep {number}, {points}, {at}"), &format!("{level:.3} dBm"));
        }
        self.line(MEAN);
        if let Some(width) = reading.proof.width {
            let width = Unit::Hz.show(width.get(), 0);
            let words = format!(
                "  the line is wider than the filter: what follows is the power within {width}, every point of the mean \
                 sweep added up over its share of the noise bandwidth"
            );
            self.wrapped(&words, 2);
        }
    }

    fn level(&mut self, reading: &Reading) {
        let Some(sum) = Sum::of(reading) else { return };
        self.heading("from what was shown to the level at the connector");
        for term in &sum.terms {
            self.item(&term.what, &term.amount);
        }
        if let Some(figure) = &reading.figure {
            let words = if figure.bound { "the level is at most" } else { "level" };
            self.item(
                &format!("{words}; whole loss {}", sum.whole_loss),
                &figure
                    .level
                    .map_or_else(|| figure.unit.show(figure.value, 3), |level| format!("{level:.3}")),
            );
        }
        if let Some(watts) = &sum.watts {
            self.line(&format!("  {watts}"));
        }
    }

    fn decision(&mut self, header: &RunHeader, reading: &Reading) {
        self.heading("decision");
        self.wrapped(&format!("  {}", header.decision_words()), 2);
        for judged in decision::judged(reading, header) {
            for step in &judged.steps {
                self.line(&format!("  {step}"));
            }
            self.line(&format!("  so by this arithmetic: {}", judged.verdict));
        }
        if let Some(margin) = reading.margin {
            let words = match reading.limit {
                Some(Limit::Window { .. } | Limit::Between { low: Some(_), high: Some(_), .. }) => {
                    "margin, to the nearer end"
                }
                Some(Limit::Upper { .. } | Limit::Several(_) | Limit::Between { .. }) | None => {
                    "margin, limit less figure"
                }
            };
            self.item(words, &figures::signed(margin));
        }
        if let Some(probability) = reading.conformance_probability {
            self.item("chance that the limit is kept", &format!("{:.2} %", probability * 100.0));
        }
        self.item("outcome", reading.outcome.word());
    }

    fn proof(&mut self, proof: &Proof) {
        self.heading("proof");
        if let Some(floor) = proof.floor {
            let words = format!("noise floor, mean of {} points beside the line", floor.points);
            self.item(&words, &floor.level.to_string());
            self.item("the reading stands above it by", &floor.distance.to_string());
            self.item("the highest of that noise by", &floor.height.to_string());
        }
        let check = proof.cross_check;
        for (words, level) in [
            ("carrier at the analyser's mixer", proof.mixer_level),
            ("made by the analyser itself, at most", proof.own_distortion),
            ("there while the unit was not keyed", proof.unkeyed),
            ("least that the line can be, own products counted", proof.lowest),
            ("most that the line can be, own products counted", proof.highest),
            ("carrier by the power meter", check.map(|check| check.meter)),
            ("carrier by the analyser", check.map(|check| check.analyser)),
        ] {
            if let Some(level) = level {
                self.item(words, &level.to_string());
            }
        }
        for (words, ratio) in [
            ("largest less smallest of the repeats", proof.spread),
            ("marker less trace", proof.marker_difference),
            ("variation of the carrier in zero span", proof.carrier_variation),
            ("change of the carrier by the end of the key-down", proof.carrier_change),
            ("analyser less power meter", check.map(|check| check.difference)),
            ("let pass: 3 standard uncertainties of that", check.map(|check| check.allowed)),
        ] {
            if let Some(ratio) = ratio {
                self.item(words, &ratio.to_string());
            }
        }
        if let Some(width) = proof.width {
            self.item("wider than the filter: its power was added up over", &Unit::Hz.show(width.get(), 0));
        }
        for step in &proof.steps {
            let words = format!("by {:.0} of attenuation, RBW {}", step.attenuation, step.rbw);
            let bound = if step.bound { "≤ " } else { "" };
            self.item(&words, &format!("{bound}{:.2}", step.level));
        }
    }

    fn budget(&mut self, budget: &Budget) {
        self.heading(&format!(
            "uncertainty, in {}: stated, distribution, standard uncertainty u, u squared",
            budget.unit.symbol()
        ));
        for line in &budget.lines {
            let (stated, standard) = (line.value, line.standard);
            let squared = standard * standard;
            let row = format!(
                "  {stated:>6.3} {:<21} {standard:>6.3} {squared:>7.4}  {}",
                line.distribution, line.name
            );
            self.wrapped(&row, 47);
        }
        let squares: f64 = budget.lines.iter().map(|line| line.standard.powi(2)).sum();
        self.item("sum of the squares", &format!("{squares:.4}"));
        self.item("combined: its root", &budget.unit.show(budget.combined, 3));
        let found = budget.factor_words();
        let found = if found.is_empty() { found } else { format!(", {found}") };
        let words = format!("U, expanded: {} times that{found}", figures::factor(budget.coverage_factor));
        self.item(&words, &budget.unit.show(budget.expanded, 3));
        self.heading("where these figures stand");
        for line in &budget.lines {
            self.line(&format!("  {}: {}", line.name, line.source));
        }
    }

    fn settings(&mut self, reading: &Reading) {
        for look in &reading.acquisitions {
            self.heading(&format!("settings of the look: {}", look.purpose));
            self.line(&format!("  {}", settings(look)));
            if look.flags != SweepFlags::default() {
                let flags = [(look.flags.overload, "overload"), (look.flags.uncalibrated, "uncalibrated")];
                let set: Vec<&str> =
                    flags.into_iter().filter_map(|(set, word)| set.then_some(word)).collect();
                self.line(&format!("  the analyser reported: {}", set.join(", ")));
            }
        }
    }
}

fn settings(look: &Acquisition) -> String {
    let set = &look.settings;
    let keyed = if look.keyed { "keyed" } else { "not keyed" };
    let marker = look
        .marker
        .map_or_else(String::new, |(frequency, level)| format!("; marker {level:.3} at {frequency}"));
    format!(
        "{keyed}; centre {}, span {}, RBW {}, VBW {}, {} points, {}, detector {}, attenuation {:.0}, \
         preamplifier {}, reference level {:.0}{marker}",
        set.centre,
        set.span,
        set.rbw,
        set.vbw,
        set.points,
        figures::sweeps(look),
        set.detector.word(),
        set.attenuation,
        set.preamplifier.word(),
        set.reference_level
    )
}
