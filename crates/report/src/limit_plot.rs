//! Limits as a drawing of its own: levels over the frequency of an emission, an offset or a power.

use spurline_units::Dbm;

use crate::drawing::{Anchor, Drawing, Point, Scale};

/// One limit along the axis; `None` where there is none.
#[derive(Clone, Debug)]
pub struct Curve {
    /// What it is called.
    pub name: String,
    /// The places along the axis in rising order, each with its level.
    pub points: Vec<(f64, Option<Dbm>)>,
}

/// The axis that limits are drawn along.
#[derive(Clone, Debug)]
pub struct Axis {
    /// What it is, with its unit.
    pub label: String,
    /// Whether equal steps are equal factors.
    pub logarithmic: bool,
}

const WIDTH: f64 = 760.0;
const HEIGHT: f64 = 420.0;
const LEFT: f64 = 58.0;
const RIGHT: f64 = 16.0;
const TOP: f64 = 34.0;
const BOTTOM: f64 = 46.0;
/// The names of the curves stand above each other.
const NAME_HEIGHT: f64 = 16.0;
const STEPS: u32 = 8;
/// Told apart by dashes as well as by colour.
const CLASSES: [&str; 4] = ["c0", "c1", "c2", "c3"];
const STYLE: &str = "<style>svg{background:#fff;font:12px sans-serif}text{fill:#222}.g{stroke:#ddd}.a{stroke:#555}\
    path{fill:none;stroke-width:1.8}.c0{stroke:#0b5394}.c1{stroke:#a64d00;stroke-dasharray:7 3}\
    .c2{stroke:#38761d;stroke-dasharray:2 3}.c3{stroke:#741b47;stroke-dasharray:9 3 2 3}</style>";

/// The drawing as a file; `None` if no curve has a level.
#[must_use]
pub fn limit_plot(title: &str, axis: &Axis, curves: &[Curve]) -> Option<String> {
    let levels = curves.iter().flat_map(|curve| &curve.points).filter_map(|(_, level)| *level);
    let scale = Scale::over(levels.map(Dbm::get).collect::<Vec<_>>().into_iter(), STEPS)?;
    let ends = || curves.iter().flat_map(|curve| &curve.points).map(|(x, _)| *x);
    let (low, high) = (ends().fold(f64::MAX, f64::min), ends().fold(f64::MIN, f64::max));
    if high <= low {
        return None;
    }
    let top = TOP + NAME_HEIGHT * curves.len() as f64;
    let placed = |x: f64| {
        let part =
            if axis.logarithmic { (x / low).ln() / (high / low).ln() } else { (x - low) / (high - low) };
        LEFT + part * (WIDTH - LEFT - RIGHT)
    };
    let raised = |level: f64| HEIGHT - BOTTOM - scale.part(level) * (HEIGHT - BOTTOM - top);
    let mut drawing = Drawing::new(WIDTH, HEIGHT, title);
    drawing.text((LEFT, 20.0), Anchor::Start, "t", title);
    for (level, words) in scale.lines() {
        let y = raised(level);
        drawing.line((LEFT, y), (WIDTH - RIGHT, y), "g");
        drawing.text((LEFT - 6.0, y + 4.0), Anchor::End, "n", &words);
    }
    drawing.text((LEFT - 6.0, top - 8.0), Anchor::End, "n", "dBm");
    for x in ticks(low, high, axis.logarithmic) {
        drawing.line((placed(x), top), (placed(x), HEIGHT - BOTTOM), "g");
        drawing.text((placed(x), HEIGHT - BOTTOM + 16.0), Anchor::Middle, "n", &shown(x));
    }
    drawing.line((LEFT, HEIGHT - BOTTOM), (WIDTH - RIGHT, HEIGHT - BOTTOM), "a");
    drawing.text(((LEFT + WIDTH - RIGHT) / 2.0, HEIGHT - 10.0), Anchor::Middle, "n", &axis.label);
    for (place, curve) in curves.iter().enumerate() {
        let class = CLASSES[place % CLASSES.len()];
        let y = TOP + NAME_HEIGHT * place as f64;
        drawing.line((LEFT, y), (LEFT + 26.0, y), class);
        drawing.text((LEFT + 32.0, y + 4.0), Anchor::Start, "n", &curve.name);
        let at = |(x, level): &(f64, Option<Dbm>)| level.map(|level| (placed(*x), raised(level.get())));
        let places: Vec<Option<Point>> = curve.points.iter().map(at).collect();
        let pieces: Vec<Vec<Point>> =
            places.split(Option::is_none).map(|piece| piece.iter().flatten().copied().collect()).collect();
        drawing.path(&pieces, class);
    }
    let svg = drawing.finish();
    let open = format!(r#"<svg xmlns="http://www.w3.org/2000/svg" width="{WIDTH}" height="{HEIGHT}" "#);
    Some(svg.replacen("<svg ", &open, 1).replacen('>', &format!(">{STYLE}"), 1))
}

/// Round figures between two ends.
fn ticks(low: f64, high: f64, logarithmic: bool) -> Vec<f64> {
    const MOST: usize = 10;
    if logarithmic && low > 0.0 {
        let decades = (low.log10().floor() as i32)..=(high.log10().ceil() as i32);
        let all: Vec<f64> = decades
            .flat_map(|decade| [1.0, 2.0, 5.0].map(|digit| digit * 10f64.powi(decade)))
            .filter(|x| (low..=high).contains(x))
            .collect();
        return if all.len() > MOST { all.into_iter().filter(|x| is_decade(*x)).collect() } else { all };
    }
    let raw = (high - low) / MOST as f64;
    let decade = 10f64.powf(raw.log10().floor());
    let step = [1.0, 2.0, 5.0, 10.0].map(|digit| digit * decade).into_iter().find(|step| *step >= raw);
    let step = step.unwrap_or(decade * 10.0);
    let first = (low / step).ceil() as i64;
    (0..=MOST as i64).map(|n| (first + n) as f64 * step).filter(|x| *x <= high).collect()
}

fn is_decade(x: f64) -> bool {
    (x.log10() - x.log10().round()).abs() < 1e-9
}

/// A figure without the dust of its arithmetic.
fn shown(x: f64) -> String {
    const DIGITS: f64 = 1e6;
    format!("{}", (x * DIGITS).round() / DIGITS)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_drawing_has_its_curves_and_their_gaps() {
        let points = (1..=10).map(|x| (f64::from(x), (x != 5).then(|| Dbm::new(-f64::from(x)))));
        let curve = Curve { name: "rule <a>".to_owned(), points: points.collect() };
        let axis = Axis { label: "offset, kHz".to_owned(), logarithmic: false };
        let svg = limit_plot("limits", &axis, std::slice::from_ref(&curve)).unwrap();
        assert!(svg.starts_with("<svg xmlns=") && svg.contains("rule &lt;a&gt;"), "{svg}");
        // The gap divides the line in two.
        let path = svg.split("<path d=\"").nth(1).unwrap();
        assert_eq!(path.split('"').next().unwrap().matches('M').count(), 2);
        let nothing = Curve { points: vec![(1.0, None), (2.0, None)], ..curve };
        assert_eq!(limit_plot("limits", &axis, &[nothing]), None);
    }

    #[test]
    fn ticks_are_round_and_few() {
        assert_eq!(ticks(0.0, 50.0, false), [0.0, 5.0, 10.0, 15.0, 20.0, 25.0, 30.0, 35.0, 40.0, 45.0, 50.0]);
        assert_eq!(ticks(0.1, 100.0, true), [0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0]);
    }
}
