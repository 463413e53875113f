//! The drawing for narrow pages: boxes one below the other, the ways off a trunk at the left.

use super::block::{Block, title};
use super::{Scene, Way, wire};
use crate::drawing::{Drawing, Point};

const WIDTH: f64 = 360.0;
const LEFT: f64 = 24.0;
const BOX: f64 = 332.0;
const TRUNK: f64 = 8.0;
const GAP: f64 = 16.0;
const EDGE: f64 = 4.0;

/// A drawing that grows downwards.
struct Pen {
    drawing: Drawing,
    /// Where the next box begins.
    y: f64,
}

pub(super) fn draw(scene: &Scene) -> Drawing {
    let mut pen = Pen { drawing: Drawing::new(WIDTH, 0.0, &scene.label), y: EDGE };
    pen.feeds(&scene.feeds);
    let mut end = pen.block(&scene.unit, true);
    for part in &scene.common {
        end = pen.below(part, end, true);
    }
    if !scene.ways.is_empty() {
        pen.ways(end, &scene.ways);
    }
    pen.drawing.set_height(pen.y - GAP + EDGE);
    pen.drawing
}

impl Pen {
    /// What feeds and what keys the unit, side by side above it.
    fn feeds(&mut self, feeds: &[Block]) {
        let Some(number) = (!feeds.is_empty()).then_some(feeds.len() as f64) else { return };
        let width = (BOX - (number - 1.0) * 2.0 * EDGE) / number;
        let tall = feeds.iter().map(|feed| feed.set(width).height()).fold(0.0, f64::max);
        for (place, feed) in feeds.iter().enumerate() {
            let x = LEFT + place as f64 * (width + 2.0 * EDGE);
            feed.set(width).draw(&mut self.drawing, (x, self.y), tall, true);
            let (middle, foot) = (x + width / 2.0, self.y + tall);
            self.drawing.path(&[vec![(middle, foot), (middle, foot + GAP)]], "lead");
        }
        self.y += tall + GAP;
    }

    /// A box; gives where the wire leaves it.
    fn block(&mut self, block: &Block, used: bool) -> Point {
        let set = block.set(BOX);
        set.draw(&mut self.drawing, (LEFT, self.y), set.height(), used);
        let foot = self.y + set.height();
        self.y = foot + GAP;
        (LEFT + BOX / 2.0, foot)
    }

    /// The next box, and the wire down to it.
    fn below(&mut self, block: &Block, end: Point, used: bool) -> Point {
        self.drawing.path(&[vec![end, (end.0, end.1 + GAP)]], wire(used));
        self.block(block, used)
    }

    /// The trunk from where the power leaves the common parts, and the ways off it.
    fn ways(&mut self, end: Point, ways: &[Way]) {
        let turn = end.1 + GAP / 2.0;
        let lead = vec![end, (end.0, turn), (TRUNK, turn)];
        self.drawing.path(&[lead], wire(ways.iter().any(|way| way.used)));
        let mut from = turn;
        for (index, way) in ways.iter().enumerate() {
            self.y += title(&mut self.drawing, (LEFT, self.y), BOX, &way.title);
            let Some((first, rest)) = way.blocks.split_first() else { continue };
            let middle = self.y + first.set(BOX).height() / 2.0;
            // The trunk is in use down to the last way that is.
            let used = ways[index..].iter().any(|way| way.used);
            self.drawing.path(&[vec![(TRUNK, from), (TRUNK, middle)]], wire(used));
            self.drawing.path(&[vec![(TRUNK, middle), (LEFT, middle)]], wire(way.used));
            if index + 1 < ways.len() {
                self.drawing.dot((TRUNK, middle), 3.0, "joint");
            }
            let mut end = self.block(first, way.used);
            for block in rest {
                end = self.below(block, end, way.used);
            }
            from = middle;
        }
    }
}
