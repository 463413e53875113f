//! What was placed on a sheet, drawn.

use krilla::geom::{Path, PathBuilder, Point as Place, Rect};
use krilla::surface::Surface;

use super::font::{Face, Fonts};
use super::ink::{self, Ink};
use super::sheets::Placed;
use crate::drawing::{Anchor, Drawing, Point, Shape, What, width_of};

/// The size of the letters in a drawing, in its own units.
const FONT: f64 = 12.0;
/// How far the two points by which a quarter of a circle is drawn lie from its ends: 4/3 (√2 - 1) of the radius.
const QUARTER: f32 = 0.552_284_8;

pub(super) fn draw(surface: &mut Surface<'_>, fonts: &Fonts, what: &Placed) {
    match what {
        Placed::Words { at, words, face, size, ink } => {
            set(surface, fonts, *at, words, (*face, *size, *ink));
        }
        Placed::Line { from, to, ink, width } => {
            surface.set_fill(None);
            surface.set_stroke(Some(ink.stroke(*width, &[])));
            stroke(surface, polyline(&[*from, *to]));
        }
        Placed::Filled { at, size, ink } => {
            surface.set_stroke(None);
            surface.set_fill(Some(ink.fill()));
            stroke(surface, rectangle(*at, *size));
        }
        Placed::Framed { at, size, ink, width } => {
            surface.set_fill(None);
            surface.set_stroke(Some(ink.stroke(*width, &[])));
            stroke(surface, rectangle(*at, *size));
        }
        Placed::Drawn { at, scale, drawing } => drawn(surface, fonts, *at, *scale, drawing),
    }
}

pub(super) fn set(
    surface: &mut Surface<'_>,
    fonts: &Fonts,
    (mut x, y): (f32, f32),
    words: &str,
    (face, size, ink): (Face, f32, Ink),
) {
    surface.set_stroke(None);
    surface.set_fill(Some(ink.fill()));
    for run in fonts.set(words, face) {
        let at = Place::from_xy(x, y);
        surface.draw_glyphs(at, &run.glyphs, run.font, &run.text, size * run.size, false);
        x += run.width * size;
    }
}

fn stroke(surface: &mut Surface<'_>, path: Option<Path>) {
    if let Some(path) = path {
        surface.draw_path(&path);
    }
}

fn polyline(points: &[(f32, f32)]) -> Option<Path> {
    let mut path = PathBuilder::new();
    for (index, (x, y)) in points.iter().enumerate() {
        if index == 0 { path.move_to(*x, *y) } else { path.line_to(*x, *y) }
    }
    path.finish()
}

fn rectangle((x, y): (f32, f32), (width, height): (f32, f32)) -> Option<Path> {
    let mut path = PathBuilder::new();
    path.push_rect(Rect::from_xywh(x, y, width, height)?);
    path.finish()
}

fn circle((x, y): (f32, f32), radius: f32) -> Option<Path> {
    let (r, k) = (radius, radius * QUARTER);
    let mut path = PathBuilder::new();
    path.move_to(x + r, y);
    path.cubic_to(x + r, y + k, x + k, y + r, x, y + r);
    path.cubic_to(x - k, y + r, x - r, y + k, x - r, y);
    path.cubic_to(x - r, y - k, x - k, y - r, x, y - r);
    path.cubic_to(x + k, y - r, x + r, y - k, x + r, y);
    path.close();
    path.finish()
}

/// A drawing from its upper left corner.
fn drawn(surface: &mut Surface<'_>, fonts: &Fonts, at: (f32, f32), scale: f32, drawing: &Drawing) {
    let to = |(x, y): Point| (at.0 + x as f32 * scale, at.1 + y as f32 * scale);
    for Shape { what, class } in drawing.shapes() {
        let look = ink::look(class);
        let line = look.line.map(|(ink, width, dash)| {
            let dash: Vec<f32> = dash.iter().map(|part| part * scale).collect();
            ink.stroke(width * scale, &dash)
        });
        match what {
            What::Text { at, anchor, words } => {
                let face = if look.bold { Face::Bold } else { Face::Plain };
                let words = fonts.shown(words, face);
                // Its room was found by an estimate: letters that are wider are set smaller.
                let room = width_of(&words, FONT) as f32 * scale;
                let size = FONT as f32 * scale;
                let wide = fonts.width(&words, face, size);
                let size = if wide > room { size * room / wide } else { size };
                let wide = wide.min(room);
                let (x, y) = to(*at);
                let x = match anchor {
                    Anchor::Start => x,
                    Anchor::Middle => x - wide / 2.0,
                    Anchor::End => x - wide,
                };
                set(surface, fonts, (x, y), &words, (face, size, look.fill.unwrap_or(Ink::SOFT)));
            }
            What::Line { from, to: end } => {
                surface.set_fill(None);
                surface.set_stroke(line);
                stroke(surface, polyline(&[to(*from), to(*end)]));
            }
            What::Path { pieces } => {
                surface.set_fill(None);
                surface.set_stroke(line);
                for piece in pieces {
                    let points: Vec<(f32, f32)> = piece.iter().map(|point| to(*point)).collect();
                    stroke(surface, polyline(&points));
                }
            }
            What::Dot { at, radius } => {
                surface.set_fill(look.fill.map(Ink::fill));
                surface.set_stroke(line);
                stroke(surface, circle(to(*at), *radius as f32 * scale));
            }
            What::Rect { at, size } => {
                surface.set_fill(look.fill.map(Ink::fill));
                surface.set_stroke(line);
                stroke(surface, rectangle(to(*at), (size.0 as f32 * scale, size.1 as f32 * scale)));
            }
        }
    }
}
