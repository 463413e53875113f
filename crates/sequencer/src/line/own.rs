//! What the analyser itself may make at a line's place: of a harmonic the product of its order, of another line the
//! product of two lines if their frequencies come to it, else nothing.

use spurline_plan::{Job, own_product_at_input};
use spurline_units::{Db, Dbm};

/// What the analyser itself may make at a line's place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Own {
    /// The product of the line's order, of the carrier alone.
    Harmonic,
    /// Nothing: no product of lines that are there has this frequency.
    Nothing,
    /// The product of two lines.
    Product(Product),
}

/// A product of two lines in the analyser's mixer.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Product {
    pub(crate) order: u32,
    /// The most that it can be, referred to the input, without attenuation; `None` where nobody guarantees it.
    pub(crate) at_most: Option<Dbm>,
}

/// Less than anything.
const NOTHING: Dbm = Dbm::new(-300.0);

impl Own {
    /// The most at the analyser's input with an attenuation, of a carrier of `driving` there; `None` where nobody
    /// guarantees it.
    pub(super) fn at_input(self, job: &Job, order: u32, driving: Dbm, attenuation: Db) -> Option<Dbm> {
        match self {
            Self::Harmonic => own_product_at_input(job.bench.analyser_profile(), order, driving, attenuation),
            Self::Nothing => Some(NOTHING),
            Self::Product(product) => {
                product.at_most.map(|level| level - attenuation * f64::from(product.order - 1))
            }
        }
    }

    /// The order by which it falls with the attenuation.
    pub(super) fn order(self, of_line: u32) -> u32 {
        match self {
            Self::Harmonic => of_line,
            Self::Product(product) => product.order,
            Self::Nothing => 1,
        }
    }
}
