//! A summary for people.

use std::fmt::Write;

use super::summary::Summary;

/// Wrong outcomes and broken runs that are told one by one.
const MOST_TOLD: usize = 20;

/// The summary as text.
#[must_use]
pub fn page(summary: &Summary) -> String {
    let mut page = String::new();
    write_page(&mut page, summary).expect("a string takes everything");
    page
}

fn write_page(page: &mut String, summary: &Summary) -> std::fmt::Result {
    let Summary { units, readings, keyed_s, .. } = summary;
    writeln!(
        page,
        "{units} units, {readings} readings, {:.1} a unit, keyed for {keyed_s:.2} s a unit in the mean\n",
        *readings as f64 / (*units).max(1) as f64
    )?;
    for target in &summary.targets {
        let mark = if target.kept { "kept  " } else { "MISSED" };
        writeln!(page, "{mark}  {:<56}  {:<28}  {}", target.what, target.wanted, target.found)?;
    }
    writeln!(page, "\nreadings by outcome")?;
    for (outcome, count) in &summary.by_outcome {
        writeln!(page, "  {count:>7}  {outcome}")?;
    }
    let undecided = &summary.undecided;
    writeln!(page, "\nundecided within 2 U, though called able")?;
    for (reason, count) in &undecided.near_reasons {
        writeln!(page, "  {count:>7}  {reason}")?;
    }
    writeln!(page, "\nundecided beyond 2 U, though called able")?;
    for (reason, count) in &undecided.far_reasons {
        writeln!(page, "  {count:>7}  {reason}")?;
    }
    let benches = &undecided.far_on_able_benches;
    writeln!(
        page,
        "  on benches called able throughout: {} of {}; readings not called able: {} of {}",
        benches.hits, benches.of, undecided.not_able.hits, undecided.not_able.of
    )?;
    let bounds = &summary.coverage.bound_below_truth;
    writeln!(page, "  bounds below the truth by anything: {} of {}", bounds.hits, bounds.of)?;
    let nothing = &summary.coverage.value_of_nothing;
    writeln!(page, "  values for lines that the unit does not have: {} of {}", nothing.hits, nothing.of)?;
    write_strata(page, summary)?;
    for told in summary.coverage.bounds_told.iter().take(MOST_TOLD) {
        writeln!(page, "truth more than U above a bound: {told}")?;
    }
    for told in summary.outcomes.told.iter().filter(|told| told.beyond).take(MOST_TOLD) {
        writeln!(page, "wrong beyond U: {}", told.words())?;
    }
    for told in summary.outcomes.told.iter().filter(|told| !told.beyond).take(MOST_TOLD) {
        writeln!(page, "wrong within U: {}", told.words())?;
    }
    for (name, why) in summary.broken.iter().take(MOST_TOLD) {
        writeln!(page, "broke off: unit {name}: {why}")?;
    }
    Ok(())
}

fn write_strata(page: &mut String, summary: &Summary) -> std::fmt::Result {
    writeln!(
        page,
        "\n{:<40} {:>7} {:>8} {:>7} {:>7} {:>7}  stated variance comes from",
        "values of", "number", "hold", "mean", "rms", "stated"
    )?;
    writeln!(page, "{:<40} {:>7} {:>8} {:>7} {:>7} {:>7}", "", "", "truth", "error", "error", "rms u")?;
    for stratum in &summary.strata {
        let families: Vec<String> = stratum
            .families
            .iter()
            .filter(|(_, share)| *share >= 0.005)
            .map(|(family, share)| format!("{} {:.0} %", family.words(), 100.0 * share))
            .collect();
        writeln!(
            page,
            "{:<40} {:>7} {:>6.1} % {:>7.3} {:>7.3} {:>7.3}  {}",
            stratum.name,
            stratum.holds.of,
            100.0 * stratum.holds.get(),
            stratum.mean_error,
            stratum.rms_error,
            stratum.rms_stated,
            families.join(", ")
        )?;
    }
    writeln!(page)
}
