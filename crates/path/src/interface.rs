//! Every pair of ports in a path whose reflections face each other, each a term of its own in the budget.

use spurline_units::{Db, Hertz};

use crate::cascade::{Path, PathError};
use crate::mismatch::{Mismatch, Reflection};
use crate::part::{Ends, Stated};

/// What a path ends in: the transmitter at one end, an instrument at the other.
#[derive(Clone, Debug, PartialEq)]
pub struct Termination {
    /// What people call it.
    pub name: String,
    /// Its reflection at the frequency in question.
    pub reflection: Stated<Reflection>,
}

/// Two ports that face each other, directly or through what lies between.
#[derive(Clone, Debug, PartialEq)]
pub struct Interface {
    /// The one nearer to the transmitter.
    pub left: String,
    /// The one nearer to the instrument.
    pub right: String,
    /// What the two do to the level.
    pub mismatch: Mismatch,
    /// The files and keys that state the two reflections.
    pub source: String,
}

/// A port owner in the row from transmitter to instrument, with the loss on the way through it.
struct Station {
    name: String,
    ends: Ends,
    loss: Db,
}

impl Path {
    /// All pairs of known reflections that face each other at a frequency, from the transmitter on.
    ///
    /// As in ETSI TR 100 028, ports that are not neighbours count too, weakened by the transmission between them.
    /// Ports of unknown reflection make no pair: their share is not in the result.
    ///
    /// # Errors
    ///
    /// If a part does not cover the frequency.
    pub fn interfaces_at(
        &self,
        frequency: Hertz,
        transmitter: Option<&Termination>,
        instrument: Option<&Termination>,
    ) -> Result<Vec<Interface>, PathError> {
        let losses = self.loss_at(frequency)?.parts;
        let parts = self.parts.iter().zip(losses).map(|(part, loss)| Station {
            name: loss.name,
            ends: part.reflections_at(frequency),
            loss: loss.loss,
        });
        let first = transmitter.map(|end| end.station(|facing| Ends { input: None, output: Some(facing) }));
        let last = instrument.map(|end| end.station(|facing| Ends { input: Some(facing), output: None }));
        let stations: Vec<Station> = first.into_iter().chain(parts).chain(last).collect();
        Ok(pairs(&stations))
    }
}

impl Termination {
    fn station(&self, ends: impl FnOnce(Stated<Reflection>) -> Ends) -> Station {
        Station { name: self.name.clone(), ends: ends(self.reflection.clone()), loss: Db::new(0.0) }
    }
}

fn pairs(stations: &[Station]) -> Vec<Interface> {
    let mut interfaces = Vec::new();
    for (index, left) in stations.iter().enumerate() {
        let Some(one) = &left.ends.output else { continue };
        let mut between = Db::new(0.0);
        for right in &stations[index + 1..] {
            if let Some(other) = &right.ends.input {
                interfaces.push(Interface {
                    left: left.name.clone(),
                    right: right.name.clone(),
                    mismatch: Mismatch::between(one.value, other.value).through(between),
                    source: format!("{}; {}", one.source, other.source),
                });
            }
            between += right.loss;
        }
    }
    interfaces
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::part::{Loss, Part};

    fn part(name: &str, loss: f64, reflection: Option<f64>) -> Part {
        let over = "9 kHz..3 GHz".parse().unwrap();
        Part {
            name: name.to_owned(),
            loss: Stated::new(Loss::Flat { loss: Db::new(loss), over }, "test"),
            uncertainty: Stated::new(Db::new(0.1), "test"),
            rated: None,
            vswr: reflection
                .map(|value| Stated::new(Reflection::new(value).unwrap(), format!("vswr of {name}"))),
            calibration: None,
            time_constant: None,
            distorts: None,
        }
    }

    fn end(name: &str, reflection: f64) -> Termination {
        let reflection = Stated::new(Reflection::new(reflection).unwrap(), format!("vswr of {name}"));
        Termination { name: name.to_owned(), reflection }
    }

    /// Products by numpy 2.4.6 and the form 100 |G1||G2| / (sqrt(2) * 11.5) of ETSI TR 100 028: a transmitter of
    /// 0.7 at a harmonic, a 3 dB pad of 0.1, a 1 dB cable of 0.05 and an analyser of 0.2.
    #[test]
    fn every_pair_of_ports_counts_through_what_lies_between() {
        let path = Path { parts: vec![part("pad", 3.0, Some(0.1)), part("cable", 1.0, Some(0.05))] };
        let found = path
            .interfaces_at(
                Hertz::from_mhz(290.0),
                Some(&end("transmitter", 0.7)),
                Some(&end("analyser", 0.2)),
            )
            .unwrap();
        let expected = [
            ("transmitter", "pad", 0.430_413),
            ("transmitter", "cable", 0.107_859),
            ("transmitter", "analyser", 0.342_701),
            ("pad", "cable", 0.030_744),
            ("pad", "analyser", 0.097_683),
            ("cable", "analyser", 0.061_488),
        ];
        assert_eq!(found.len(), expected.len());
        for (interface, (left, right, standard)) in found.iter().zip(expected) {
            assert_eq!((interface.left.as_str(), interface.right.as_str()), (left, right));
            let found = interface.mismatch.standard().get();
            assert!((found - standard).abs() < 1e-6, "{left} to {right}: {found}");
        }
        assert_eq!(found[0].source, "vswr of transmitter; vswr of pad");
    }

    #[test]
    fn unknown_reflections_make_no_pair() {
        let path = Path { parts: vec![part("pad", 3.0, None), part("cable", 1.0, Some(0.05))] };
        let found = path.interfaces_at(Hertz::from_mhz(290.0), Some(&end("transmitter", 0.7)), None).unwrap();
        assert_eq!(found.len(), 1);
        assert_eq!((found[0].left.as_str(), found[0].right.as_str()), ("transmitter", "cable"));
        assert!(path.interfaces_at(Hertz::from_mhz(3290.0), None, None).is_err());
    }
}
