//! Touchstone files: text to scattering parameters.

use spurline_path::Touchstone;

/// A file is read; what was read is what a passive path can be, and reads the same when it is written again.
pub fn touchstone(data: &[u8]) {
    let Ok(text) = std::str::from_utf8(data) else { return };
    let part = match Touchstone::parse(text) {
        Ok(part) => part,
        Err(error) => {
            let told = error.to_string();
            assert!(told.contains('\n'), "`{told}` gives no advice");
            assert!(told.chars().count() < 1000, "a message shows only the start of what stands there");
            return;
        }
    };
    let points = part.points();
    assert!(points.windows(2).all(|pair| pair[0].0 < pair[1].0));
    let mut again = "# Hz S RI R 50\n".to_owned();
    for (frequency, point) in points {
        let loss = part.loss_at(*frequency).expect("a point lies between the ends");
        assert!(loss.get().is_finite() && loss.get() > -1.0, "{loss}");
        for reflection in [part.input_at(*frequency), part.output_at(*frequency)] {
            assert!(reflection.is_some(), "a passive part has reflections up to 1");
        }
        again += &frequency.get().to_string();
        for parameter in [point.s11, point.s21, point.s12, point.s22] {
            again += &format!(" {} {}", parameter.re, parameter.im);
        }
        again.push('\n');
    }
    assert_eq!(Touchstone::parse(&again).as_ref().map(Touchstone::points), Ok(points));
}
