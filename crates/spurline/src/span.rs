//! Spans of time as people write them on the command line.

use jiff::Span;

/// Reads a span that leads back in time.
///
/// # Errors
///
/// In words, which forms it takes.
pub(crate) fn span(text: &str) -> Result<Span, String> {
    let forms = "write a number and a unit, for example `90d`, `12w`, `6 months` or `1y 6mo`";
    let read: Span = text
        .trim()
        .parse()
        .map_err(|_| format!("expected a span of days, weeks, months or years, found `{text}`; {forms}"))?;
    if read.is_negative() {
        return Err(format!("expected a span that is not less than nothing, found `{text}`; {forms}"));
    }
    Ok(read)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_forms_that_are_told_are_taken() {
        for good in ["90d", "12w", "6 months", "1y 6mo", "36h"] {
            assert!(span(good).is_ok(), "{good}");
        }
        for bad in ["3 parsecs", "-3d", "3", "", "d", "NaN d", "99999999999999y"] {
            let why = span(bad).unwrap_err();
            assert!(why.contains("`90d`") && why.contains(&format!("found `{bad}`")), "{why}");
        }
    }
}
