//! One reading with every figure behind it, in the order in which a person would redo it with a pencil.

use spurline_record::{
    Acquisition, Budget, Decision, Figure, Limit, Proof, Quantity, Reading, RunHeader, SweepFlags,
};
use spurline_units::{Db, Dbm, Watts};

use crate::paint;
use crate::table;
use crate::talk::wrapped;

/// A sheet that is being written.
struct Sheet {
    text: String,
}

/// The whole sheet of a reading.
pub(crate) fn of(header: &RunHeader, reading: &Reading) -> String {
    let mut sheet = Sheet { text: String::new() };
    sheet.title(header, reading);
    sheet.limit(reading);
    sheet.raw(reading);
    sheet.level(reading);
    sheet.decision(header.decision, reading);
    sheet.proof(&reading.proof);
    if let Some(budget) = &reading.budget {
        sheet.budget(budget);
    }
    sheet.settings(reading);
    sheet.text
}

impl Sheet {
    fn line(&mut self, text: &str) {
        self.text.push_str(&wrapped(text, 4));
        self.text.push('\n');
    }

    fn heading(&mut self, text: &str) {
        self.text.push_str(&format!("\n{}\n", paint::heading(text)));
    }

    /// A sum's line: words on the left, the figure flush right.
    fn item(&mut self, words: &str, figure: &str) {
        const WORDS: usize = 50;
        let words: String = words.chars().take(WORDS).collect();
        self.text.push_str(&format!("  {words:<WORDS$} {figure:>14}\n"));
    }

    fn title(&mut self, header: &RunHeader, reading: &Reading) {
        let scope = &reading.scope;
        let supply = scope.supply.as_ref().map_or_else(String::new, |supply| format!(", fed by {supply}"));
        let what = match (reading.quantity, reading.order) {
            (Quantity::Harmonic, Some(order)) => format!("harmonic {order}"),
            (Quantity::Harmonic, None) => "harmonic".to_owned(),
            (Quantity::CarrierPower, _) => "carrier power".to_owned(),
        };
        self.text.push_str(&format!(
            "{}\n",
            paint::heading(&format!("{what} at {}: {}", reading.frequency, reading.outcome))
        ));
        self.line(&format!(
            "  {}, {}, {}{supply}, by the path {}",
            scope.channel, scope.carrier, scope.power_setting, scope.path
        ));
        self.line(&format!(
            "  no. {} of run {}, {}",
            reading.ordinal,
            header.id,
            reading.at.strftime("%Y-%m-%d %H:%M:%S UTC")
        ));
        if let Some(reason) = &reading.reason {
            self.line(&format!("  {}: {}", reason.code.code(), reason.text));
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
            Some(Limit::Upper { level, below_carrier }) => {
                self.item(&format!("limit, {below_carrier} below the carrier"), &level.to_string());
            }
            Some(Limit::Window { low, high }) => {
                let in_dbm = |watts: f64| Watts::new(watts).to_dbm().to_string();
                let [from, to] = Limit::shown_window(*low, *high);
                self.item(&format!("not below {from} W"), &in_dbm(*low));
                self.item(&format!("not above {to} W"), &in_dbm(*high));
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
        if !reading.meter.is_empty() {
            self.heading("what the power meter showed");
            for shown in &reading.meter {
                self.item(&format!("told {}", shown.frequency), &format!("{:.3}", shown.level));
            }
            self.line("  mean of the powers: add 10^(dBm/10), divide by their number, 10 lg of that");
        }
        let Some(point) = reading.proof.peak_point else { return };
        let Some(look) = reading.acquisitions.last() else { return };
        self.heading("what the analyser showed");
        let at = look.settings.frequency_of(point as usize);
        let levels = look.sweeps.iter().filter_map(|sweep| sweep.levels.get(point as usize));
        for (number, level) in (1..).zip(levels) {
            self.item(&format!("sweep {number}, point {point}, {at}"), &format!("{level:.3} dBm"));
        }
        self.line("  mean of the powers: add 10^(dBm/10), divide by their number, 10 lg of that");
    }

    fn level(&mut self, reading: &Reading) {
        let (Some(correction), Some(figure)) = (&reading.correction, &reading.figure) else { return };
        self.heading("from what was shown to the level at the connector");
        self.item("shown, mean", &format!("{:.3}", correction.raw));
        let sign = |value: Db| format!("{:+.3} dB", value.get());
        if correction.noise.get() > 0.0 {
            self.item("less what noise added", &sign(-correction.noise));
        }
        for (name, loss) in &correction.path {
            self.item(&format!("plus loss of {name}"), &sign(*loss));
        }
        let sum = correction.raw + correction.path_loss - correction.noise;
        let more = figure.level - sum;
        // An upper bound holds room for what the analyser may have made itself, added as a voltage.
        if more.get().abs() > 1e-6 {
            self.item("plus what the analyser's own product may hide", &sign(more));
        }
        let words = if figure.bound { "the level is at most" } else { "level" };
        self.item(words, &format!("{:.3}", figure.level));
        if reading.quantity == Quantity::CarrierPower {
            self.item("the same in watts, 10^((dBm - 30)/10)", &format!("{:.3} W", figure.value));
        }
    }

    fn decision(&mut self, rule: Decision, reading: &Reading) {
        let Some(figure) = &reading.figure else { return };
        self.heading("decision");
        self.line(&format!("  {}", rule.words()));
        let expanded = reading.budget.as_ref().map_or(Db::default(), |budget| budget.expanded);
        let guard = match rule {
            Decision::GuardBand => expanded,
            Decision::Simple => Db::default(),
        };
        match &reading.limit {
            Some(Limit::Upper { level, .. }) => self.against(figure, *level, guard),
            Some(Limit::Several(levels)) => {
                for level in levels {
                    self.against(figure, *level, guard);
                }
            }
            Some(Limit::Window { low, high }) => {
                let [low, high] = [*low, *high].map(|watts| Watts::new(watts).to_dbm());
                self.window(figure.level, [low, high], guard);
            }
            None => {}
        }
        if let Some(margin) = reading.margin {
            self.item("margin, to the nearest edge", &format!("{:+.3} dB", margin.get()));
        }
        if let Some(probability) = reading.conformance_probability {
            self.item("chance that the limit is kept", &format!("{:.2} %", probability * 100.0));
        }
        self.item("outcome", &paint::outcome(reading.outcome));
    }

    fn against(&mut self, figure: &Figure, limit: Dbm, guard: Db) {
        let (high, low) = (figure.level + guard, figure.level - guard);
        let sign = |holds: bool| if holds { "<=" } else { ">" };
        self.line(&format!("  level + U = {high:.3} {} {limit:.3}", sign(high <= limit)));
        if !figure.bound {
            self.line(&format!("  level - U = {low:.3} {} {limit:.3}", sign(low <= limit)));
        }
        self.line(&format!("  limit - level = {:.3}", limit - figure.level));
    }

    fn window(&mut self, level: Dbm, [low, high]: [Dbm; 2], guard: Db) {
        let sign = |holds: bool| if holds { "<=" } else { ">" };
        let (under, over) = (level - guard, level + guard);
        self.line(&format!("  lower edge {low:.3} {} level - U = {under:.3}", sign(low <= under)));
        self.line(&format!("  level + U = {over:.3} {} upper edge {high:.3}", sign(over <= high)));
    }

    fn proof(&mut self, proof: &Proof) {
        self.heading("proof");
        if let Some(floor) = proof.floor {
            self.item(
                &format!("noise floor, mean of {} points beside the line", floor.points),
                &floor.level.to_string(),
            );
            self.item("the reading stands above it by", &floor.distance.to_string());
        }
        let levels = [
            ("carrier at the analyser's mixer", proof.mixer_level),
            ("made by the analyser itself, at most", proof.own_distortion),
            ("there while the unit was not keyed", proof.unkeyed),
        ];
        for (words, level) in levels {
            if let Some(level) = level {
                self.item(words, &level.to_string());
            }
        }
        let ratios = [
            ("largest less smallest of the repeats", proof.spread),
            ("marker less trace", proof.marker_difference),
            ("variation of the carrier in zero span", proof.carrier_variation),
        ];
        for (words, ratio) in ratios {
            if let Some(ratio) = ratio {
                self.item(words, &ratio.to_string());
            }
        }
        if let Some(check) = proof.cross_check {
            self.item("carrier by the power meter", &check.meter.to_string());
            self.item("carrier by the analyser", &check.analyser.to_string());
            self.item("analyser less meter", &check.difference.to_string());
            self.item("let pass: 3 standard uncertainties of that", &check.allowed.to_string());
        }
    }

    fn budget(&mut self, budget: &Budget) {
        self.heading("uncertainty, in dB");
        let mut table = table::table(&["stated", "distribution", "u", "u\u{b2}", "contribution"]);
        for line in &budget.lines {
            let standard = line.standard.get();
            table.add_row([
                format!("{:.3}", line.value.get()),
                line.distribution.clone(),
                format!("{standard:.3}"),
                format!("{:.4}", standard * standard),
                line.name.clone(),
            ]);
        }
        table::flush_right(&mut table, &[0, 2, 3]);
        // Figures are never broken over lines; the name of what contributes may be.
        table::fit(&mut table, 4);
        self.text.push_str(&format!("{}\n", table.trim_fmt()));
        let squares: f64 = budget.lines.iter().map(|line| line.standard.get().powi(2)).sum();
        self.item("sum of the squares", &format!("{squares:.4}"));
        self.item("combined: its root", &format!("{:.3}", budget.combined));
        let words = format!("U, expanded: {} times that", budget.coverage_factor);
        self.item(&words, &format!("{:.3}", budget.expanded));
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
        "{keyed}; centre {}, span {}, RBW {}, VBW {}, {} points, {} sweeps of {}, detector {}, attenuation {:.0}, \
         preamplifier {}, reference level {:.0}{marker}",
        set.centre,
        set.span,
        set.rbw,
        set.vbw,
        set.points,
        look.sweeps.len(),
        set.sweep_time,
        set.detector.word(),
        set.attenuation,
        set.preamplifier.word(),
        set.reference_level
    )
}
