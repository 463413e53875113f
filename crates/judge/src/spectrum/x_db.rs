//! x-dB bandwidth: from the outermost points that reach a level below a reference.

use spurline_units::{Db, Dbm, Hertz};

use super::{Edges, Trace};

/// The outermost places at which a trace crosses `down` below `reference`, found from outside; between two points the
/// level goes straight in decibels.
///
/// `None` if nothing reaches that level, or if an outermost point of the trace does: then the width goes beyond it.
#[must_use]
pub fn x_db(trace: &Trace<'_>, reference: Dbm, down: Db) -> Option<Edges> {
    let wanted = (reference - down).get();
    let reaches = |level: &f64| *level >= wanted;
    let low = trace.levels.iter().position(reaches)?;
    let high = trace.levels.iter().rposition(reaches)?;
    let crossing = |inside: usize, outside: Option<usize>| -> Option<Hertz> {
        let outside = outside.filter(|point| *point < trace.levels.len())?;
        let (here, there) = (trace.levels[inside], trace.levels[outside]);
        let share = (here - wanted) / (here - there);
        let at = trace.frequency(inside);
        Some(at + (trace.frequency(outside) - at) * share)
    };
    Some(Edges { lower: crossing(low, low.checked_sub(1))?, upper: crossing(high, high.checked_add(1))? })
}
