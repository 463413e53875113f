//! All lines and products that some conditions on powers allow.
//!
//! The power of a line of voltage t with a product of voltage q z, z complex, is a + b q + c q² with a = t², b = 2 t Re z
//! and c = |z|². So a condition on a power, or on the ratio of two, is a plane in (a, b, c), and what line and product
//! can be is the cone b² <= 4 a c. Planes and cone bound a convex body, and where a is least or most on it is one of
//! few points: where three planes meet, or two planes and the cone.

type Triple = [f64; 3];

/// By how much, relative to the terms of a condition, it may be missed: rounding must not shut a point out.
const ROUNDING: f64 = 1e-8;

/// Conditions `normal` · (a, b, c) <= `most`.
#[derive(Default)]
pub(super) struct Region {
    planes: Vec<(Triple, f64)>,
}

/// The weights of (a, b, c) in the power when the product has the share `q` of its voltage.
pub(super) fn power(q: f64) -> Triple {
    [1.0, q, q * q]
}

impl Region {
    pub(super) fn at_most(&mut self, normal: Triple, most: f64) {
        self.planes.push((normal, most));
    }

    pub(super) fn at_least(&mut self, normal: Triple, least: f64) {
        self.planes.push((normal.map(|weight| -weight), -least));
    }

    /// The least and the most power of the line; no least if there may be no line at all, and `None` if nothing is
    /// allowed.
    ///
    /// The conditions must bound it from above, which those on two powers do.
    pub(super) fn lines(&self) -> Option<(Option<f64>, f64)> {
        let mut found: Option<(f64, f64)> = None;
        let mut consider = |point: Triple| {
            if self.allows(point) {
                let a = point[0];
                found = Some(found.map_or((a, a), |(low, high)| (low.min(a), high.max(a))));
            }
        };
        for (index, one) in self.planes.iter().enumerate() {
            for (offset, two) in self.planes[index + 1..].iter().enumerate() {
                let Some((start, along)) = edge(one, two) else { continue };
                on_cone(start, along).into_iter().flatten().for_each(&mut consider);
                for three in &self.planes[index + offset + 2..] {
                    if let Some(point) = vertex(start, along, three) {
                        consider(point);
                    }
                }
            }
        }
        let without_line = self.allows_no_line();
        match found {
            Some((low, high)) => {
                Some(((!without_line && low > 0.0).then_some(low), high.max(f64::MIN_POSITIVE)))
            }
            None if without_line => Some((None, f64::MIN_POSITIVE)),
            None => None,
        }
    }

    fn allows(&self, [a, b, c]: Triple) -> bool {
        let in_cone = a >= 0.0 && c >= 0.0 && b * b <= 4.0 * a * c * (1.0 + ROUNDING) + f64::MIN_POSITIVE;
        in_cone
            && self.planes.iter().all(|(normal, most)| {
                let terms = [normal[0] * a, normal[1] * b, normal[2] * c];
                let size: f64 = terms.iter().map(|term| term.abs()).sum();
                terms.iter().sum::<f64>() <= most + ROUNDING * (size + most.abs())
            })
    }

    /// Whether a product alone, a = b = 0, is allowed.
    fn allows_no_line(&self) -> bool {
        let (mut low, mut high) = (0f64, f64::INFINITY);
        for (normal, most) in &self.planes {
            match normal[2] {
                weight if weight > 0.0 => high = high.min(most / weight),
                weight if weight < 0.0 => low = low.max(most / weight),
                _ if *most < 0.0 => return false,
                _ => {}
            }
        }
        low <= high * (1.0 + ROUNDING)
    }
}

fn dot(one: Triple, other: Triple) -> f64 {
    one[0] * other[0] + one[1] * other[1] + one[2] * other[2]
}

fn cross(one: Triple, other: Triple) -> Triple {
    [
        one[1] * other[2] - one[2] * other[1],
        one[2] * other[0] - one[0] * other[2],
        one[0] * other[1] - one[1] * other[0],
    ]
}

/// A point where two planes meet, and the direction along which they do; `None` for parallel planes.
fn edge((one, d1): &(Triple, f64), (two, d2): &(Triple, f64)) -> Option<(Triple, Triple)> {
    let along = cross(*one, *two);
    let square = dot(along, along);
    if square < 1e-26 * dot(*one, *one) * dot(*two, *two) {
        return None;
    }
    let (first, second) = (cross(*two, along), cross(along, *one));
    let start = [0, 1, 2].map(|axis| (d1 * first[axis] + d2 * second[axis]) / square);
    let length = square.sqrt();
    Some((start, along.map(|part| part / length)))
}

/// Where a third plane cuts the edge.
fn vertex(start: Triple, along: Triple, (normal, most): &(Triple, f64)) -> Option<Triple> {
    let slope = dot(*normal, along);
    let way = (most - dot(*normal, start)) / slope;
    way.is_finite().then(|| walked(start, along, way))
}

/// Where the edge goes through the cone b² = 4 a c.
fn on_cone(start: Triple, along: Triple) -> [Option<Triple>; 2] {
    let [a, b, c] = start;
    let [da, db, dc] = along;
    let (square, linear, rest) =
        (db * db - 4.0 * da * dc, 2.0 * b * db - 4.0 * (a * dc + c * da), b * b - 4.0 * a * c);
    let discriminant = linear * linear - 4.0 * square * rest;
    // An edge that touches the cone may miss it by a rounding.
    let discriminant = if discriminant.abs() < 1e-14 * linear * linear { 0.0 } else { discriminant };
    if discriminant < 0.0 {
        return [None; 2];
    }
    // The one of the two forms of the solution in which nothing cancels.
    let sum = -0.5 * (linear + discriminant.sqrt().copysign(linear));
    [sum / square, rest / sum].map(|way| way.is_finite().then(|| settled(walked(start, along, way))))
}

fn walked(start: Triple, along: Triple, way: f64) -> Triple {
    [0, 1, 2].map(|axis| start[axis] + way * along[axis])
}

/// A point that is on the cone but for rounding, put there.
fn settled([a, b, c]: Triple) -> Triple {
    let most = 2.0 * (a.max(0.0) * c.max(0.0)).sqrt();
    [a, b.clamp(-most, most), c]
}
