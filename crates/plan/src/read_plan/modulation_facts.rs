//! What a plan wants to be measured of the modulation.

use spurline_document::{Node, Reader};
use spurline_units::Hertz;

use super::above_zero;
use super::set_up::read_share;
use crate::measure::{ModulationFact, ModulationMeasure};
use crate::model::Modulation;

pub(super) fn read(reader: &mut Reader, node: &Node) -> Option<ModulationMeasure> {
    let mut fields = reader.fields(node, "what is measured of the modulation")?;
    let found = fields.one_of(reader, &["deviation", "depth"]);
    fields.close(reader);
    let (key, node) = found?;
    let fact = if key == "deviation" { ModulationFact::Deviation } else { ModulationFact::Depth };
    let mut fields = reader.fields(node, "its limits")?;
    let figure = |reader: &mut Reader, node: &Node| match fact {
        ModulationFact::Deviation => {
            above_zero(reader, node, "a deviation", Hertz::new(0.0)).map(|deviation| deviation.get())
        }
        ModulationFact::Depth => read_share(reader, node),
    };
    let at_least = fields.maybe(reader, "at_least", figure);
    let at_most = fields.maybe(reader, "at_most", figure);
    fields.close(reader);
    let (at_least, at_most) = (at_least?, at_most?);
    if let (Some(least), Some(most)) = (at_least, at_most)
        && least >= most
    {
        reader.mistake(node.span, "expected `at_least` below `at_most`");
        return None;
    }
    Some(ModulationMeasure { fact, at_least, at_most })
}

/// Of a carrier that carries something else there is nothing to measure.
pub(super) fn fits(
    reader: &mut Reader,
    node: &Node,
    measure: &ModulationMeasure,
    modulation: &Modulation,
) -> Option<()> {
    let fits = matches!(
        (measure.fact, modulation),
        (ModulationFact::Deviation, Modulation::Tone { .. }) | (ModulationFact::Depth, Modulation::Am { .. })
    );
    if fits {
        return Some(());
    }
    let (wanted, needs) = match measure.fact {
        ModulationFact::Deviation => ("deviation", "`tone`, or a `set_up` with a `rated_deviation`"),
        ModulationFact::Depth => ("depth", "`am`, or a `set_up` with a `depth`"),
    };
    reader
        .mistake(
            node.span,
            format!("a {wanted} is to be measured, but the plan's modulation is `{}`", modulation.word()),
        )
        .hint(format!("say under `modulation` what the carrier carries: {needs}"));
    None
}
