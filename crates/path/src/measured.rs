//! A loss table that was measured: what stands in it beside the losses, and how it is written down.

use std::fmt::Write;

use spurline_document::{Node, Reader, quoted};
use spurline_units::{Db, Hertz};

use crate::calibration::Calibration;

/// How a table was measured.
#[derive(Clone, Debug, PartialEq)]
pub struct Measured {
    /// Program and version.
    pub by: String,
    /// The title of the bench.
    pub bench: String,
    /// What was measured: a way, or parts of it.
    pub path: String,
    /// The instrument that read both levels, as in a bench file: `power_meter` or `analyser`.
    pub with: String,
    /// Maker, model, serial number and firmware of generator and instrument.
    pub instruments: Vec<String>,
    /// How often the path was connected.
    pub repeats: u32,
    /// How far the generator's level had moved at the end, where it had moved most.
    pub drift: Db,
    /// The seed, of a simulated bench.
    pub simulated: Option<u64>,
}

/// One row of such a table.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MeasuredPoint {
    /// The frequency.
    pub frequency: Hertz,
    /// The loss there.
    pub loss: Db,
    /// Its uncertainty, expanded for k = 2.
    pub uncertainty: Db,
    /// The standard deviation of the repeats.
    pub spread: Db,
}

/// A whole table file.
#[derive(Clone, Debug, PartialEq)]
pub struct MeasuredTable {
    /// What a person should know who reads the file, a line each.
    pub remarks: Vec<String>,
    /// The days, and the instruments by their numbers.
    pub calibration: Calibration,
    /// How it was measured.
    pub measured: Measured,
    /// The rows, with rising frequencies.
    pub points: Vec<MeasuredPoint>,
}

/// As often as a path is connected at most.
const MOST_REPEATS: u32 = 1000;

impl Measured {
    /// Reads it from its node; `None` after a mistake.
    pub fn read(reader: &mut Reader, node: &Node) -> Option<Self> {
        let mut fields = reader.fields(node, "how a table was measured")?;
        let by = fields.required(reader, "by");
        let bench = fields.required(reader, "bench");
        let path = fields.required(reader, "path");
        let with = fields.required(reader, "with");
        let instruments = fields.required(reader, "instruments");
        let repeats = fields.required(reader, "repeats");
        let drift = fields.required(reader, "drift");
        let simulated = fields.maybe(reader, "simulated", |r, n| r.whole(n, "a seed", 0, u32::MAX));
        fields.close(reader);
        let [by, bench, path] = [by, bench, path]
            .map(|node| node.and_then(|node| reader.text(node, "a text")).map(str::to_owned));
        let instrument = [("power_meter", "power_meter"), ("analyser", "analyser")];
        let with = with.and_then(|node| reader.choice(node, "an instrument", &instrument));
        let instruments = instruments.and_then(|node| {
            let list = reader.list(node, "instruments")?;
            let read: Vec<_> =
                list.iter().map(|node| reader.text(node, "an instrument").map(str::to_owned)).collect();
            read.into_iter().collect::<Option<Vec<String>>>()
        });
        let repeats = repeats.and_then(|node| reader.whole(node, "repeats", 1, MOST_REPEATS));
        let drift = drift.and_then(|node| reader.parse(node, "a ratio in dB"));
        Some(Self {
            by: by?,
            bench: bench?,
            path: path?,
            with: with?.to_owned(),
            instruments: instruments?,
            repeats: repeats?,
            drift: drift?,
            simulated: simulated?.map(u64::from),
        })
    }
}

impl MeasuredTable {
    /// The text of the file: what a bench file names as a part.
    #[must_use]
    pub fn to_yaml(&self) -> String {
        self.try_to_yaml().expect("a string takes everything")
    }

    fn try_to_yaml(&self) -> Result<String, std::fmt::Error> {
        let mut text = String::new();
        for remark in &self.remarks {
            let gap = if remark.is_empty() { "" } else { " " };
            writeln!(text, "#{gap}{remark}")?;
        }
        text.push('\n');
        let Calibration { calibrated, due, certificate } = &self.calibration;
        if let Some(day) = calibrated {
            writeln!(text, "calibrated: {day}")?;
        }
        if let Some(day) = due {
            writeln!(text, "due: {day}")?;
        }
        if let Some(certificate) = certificate {
            writeln!(text, "certificate: {}", quoted(certificate))?;
        }
        let measured = &self.measured;
        writeln!(text, "measured:")?;
        writeln!(text, "  by: {}", quoted(&measured.by))?;
        writeln!(text, "  bench: {}", quoted(&measured.bench))?;
        writeln!(text, "  path: {}", quoted(&measured.path))?;
        writeln!(text, "  with: {}", measured.with)?;
        writeln!(text, "  instruments:")?;
        for instrument in &measured.instruments {
            writeln!(text, "    - {}", quoted(instrument))?;
        }
        writeln!(text, "  repeats: {}", measured.repeats)?;
        writeln!(text, "  drift: {:.3} dB", measured.drift.get())?;
        if let Some(seed) = measured.simulated {
            writeln!(text, "  simulated: {seed}")?;
        }
        writeln!(
            text,
            "# frequency, loss, its uncertainty (expanded, k = 2), standard deviation of the repeats"
        )?;
        writeln!(text, "loss:")?;
        for point in &self.points {
            // An uncertainty is never rounded down.
            let within = (point.uncertainty.get() * 1000.0 - 1e-6).ceil() / 1000.0;
            let MeasuredPoint { frequency, loss, spread, .. } = point;
            // Short where that says the same.
            let short = frequency.to_string();
            let says_the_same = short.parse().is_ok_and(|read: Hertz| read == *frequency);
            let hertz = if says_the_same { short } else { format!("{} Hz", frequency.get()) };
            writeln!(text, "  - [ {hertz}, {:.3} dB, {within:.3} dB, {:.3} dB ]", loss.get(), spread.get())?;
        }
        Ok(text)
    }
}

#[cfg(test)]
mod tests {
    use spurline_document::{Document, Mistakes};

    use super::*;
    use crate::part::Part;

    fn table() -> MeasuredTable {
        let point = |mhz: f64, loss: f64| MeasuredPoint {
            frequency: Hertz::from_mhz(mhz),
            loss: Db::new(loss),
            uncertainty: Db::new(0.081_2),
            spread: Db::new(0.011),
        };
        MeasuredTable {
            remarks: vec!["Loss of a path.".to_owned(), String::new(), "Invented.".to_owned()],
            calibration: Calibration {
                calibrated: Some("2026-11-26".parse().unwrap()),
                due: Some("2027-11-26".parse().unwrap()),
                certificate: Some("by substitution: G-1, P-1".to_owned()),
            },
            measured: Measured {
                by: "spurline 0.1.0".to_owned(),
                bench: "Bench \"one\" \\".to_owned(),
                path: "direct".to_owned(),
                with: "power_meter".to_owned(),
                instruments: vec!["Example, Generator, G-1, 1.0".to_owned()],
                repeats: 3,
                drift: Db::new(-0.012),
                simulated: Some(7),
            },
            points: vec![point(1.0, 36.012_4), point(144.2, 36.1), point(3000.0, 36.5)],
        }
    }

    fn read(text: &str) -> Result<Part, Mistakes> {
        let bench = Document::parse("bench.yaml", "way.yaml")?;
        let mut reader = Reader::new(&bench);
        let part = Part::read(&mut reader, &bench.root, &mut |_| Ok(text.to_owned()));
        reader.finish(part)
    }

    #[test]
    fn what_is_written_is_read_as_a_part() {
        let part = read(&table().to_yaml()).unwrap();
        let at = |mhz: f64| {
            let frequency = Hertz::from_mhz(mhz);
            (part.loss.value.at(frequency).unwrap().get(), part.uncertainty_at(frequency).get())
        };
        assert_eq!(at(1.0), (36.012, 0.082), "an uncertainty is rounded up");
        assert_eq!(at(144.2), (36.1, 0.082));
        let calibration = part.calibration.unwrap();
        assert_eq!(calibration, table().calibration);
        assert!(calibration.has_expired("2027-11-27".parse().unwrap()));
        assert_eq!(part.name, "way.yaml");
        assert!(part.uncertainty.source.contains("`loss` in way.yaml"), "{}", part.uncertainty.source);
    }

    /// Between two points both loss and uncertainty go along a straight line: by hand.
    #[test]
    fn every_frequency_has_its_own_uncertainty() {
        let text = "loss: [ [ 100 MHz, 1 dB, 0.1 dB ], [ 300 MHz, 2 dB, 0.3 dB, 0.01 dB ] ]\n";
        let part = read(text).unwrap();
        let within = part.uncertainty_at(Hertz::from_mhz(150.0)).get();
        assert!((within - 0.15).abs() < 1e-12, "{within}");
        assert_eq!(part.uncertainty.value, Db::new(0.3), "the largest stands for the whole");
        let path = crate::Path { parts: vec![part] };
        let lost = &path.loss_at(Hertz::from_mhz(150.0)).unwrap().parts[0];
        assert!((lost.uncertainty.get() - 0.15).abs() < 1e-12 && (lost.loss.get() - 1.25).abs() < 1e-12);
    }

    #[test]
    fn slips_are_told() {
        for (text, told) in [
            (
                "loss: [ [ 1 MHz, 1 dB, 0.1 dB ], [ 2 MHz, 1 dB ] ]",
                "expected the 3 or 4 values of a row, found 2",
            ),
            ("loss: [ [ 1 MHz, 1 dB, -0.1 dB ] ]", "expected an uncertainty of 0 dB or more"),
            ("loss: [ [ 1 MHz, 1 dB, 0.1 dB ] ]\nuncertainty: 0.1 dB", "stated twice"),
            ("loss: [ [ 2 MHz, 1 dB, 0.1 dB ], [ 1 MHz, 1 dB, 0.1 dB ] ]", "1 MHz stands behind 2 MHz"),
            ("loss: [ [ 1 MHz, 1 dB, 0.1 dB ] ]\nmeasured: { by: me }", "`bench`"),
            ("loss: [ [ 1 MHz, 1 dB, 0.1 dB ] ]\ndue: soon", "expected a day"),
        ] {
            let mistakes = read(text).unwrap_err().to_string();
            assert!(mistakes.contains(told), "{text}: {mistakes}");
        }
    }
}
