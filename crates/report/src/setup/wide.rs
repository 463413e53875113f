//! The drawing for wide pages: boxes in lines from left to right, lines joined at their left.

use super::block::{Block, title};
use super::{Scene, Way, wire};
use crate::drawing::{Drawing, Point};

const WIDTH: f64 = 760.0;
const SLOTS: usize = 5;
const BOX: f64 = 124.0;
const GAP: f64 = 24.0;
/// Left of the first box there is room for the trunk and, right of that, for the return of a line that goes on.
const FIRST: f64 = 24.0;
const TRUNK: f64 = 6.0;
const RETURN: f64 = 15.0;
/// Between two lines: the return runs in the middle of it.
const BETWEEN: f64 = 26.0;
const EDGE: f64 = 4.0;

/// A drawing that grows downwards.
struct Pen {
    drawing: Drawing,
    /// Where the next line begins.
    y: f64,
}

pub(super) fn draw(scene: &Scene) -> Drawing {
    let mut pen = Pen { drawing: Drawing::new(WIDTH, 0.0, &scene.label), y: EDGE };
    let end = pen.head(scene);
    if !scene.ways.is_empty() {
        pen.ways(end, &scene.ways);
    }
    pen.drawing.set_height(pen.y - BETWEEN + EDGE);
    pen.drawing
}

fn slot(place: usize) -> f64 {
    FIRST + place as f64 * (BOX + GAP)
}

fn height(block: &Block) -> f64 {
    block.set(BOX).height()
}

fn tallest(blocks: &[Block]) -> f64 {
    blocks.iter().map(height).fold(0.0, f64::max)
}

impl Pen {
    /// Feeds, unit and common parts; gives where the power leaves the last of them.
    fn head(&mut self, scene: &Scene) -> Point {
        let first = usize::from(!scene.feeds.is_empty());
        let parts = &scene.common[..scene.common.len().min(SLOTS - first - 1)];
        let apart = 2.0 * EDGE;
        let stack = scene.feeds.iter().map(|feed| height(feed) + apart).sum::<f64>() - apart;
        let tall = tallest(parts).max(height(&scene.unit)).max(stack);
        let mut at = self.y + (tall - stack) / 2.0;
        for feed in &scene.feeds {
            let y = at + height(feed) / 2.0;
            self.drawing.path(&[vec![(slot(0) + BOX, y), (slot(1), y)]], "lead");
            feed.set(BOX).draw(&mut self.drawing, (slot(0), at), height(feed), true);
            at += height(feed) + apart;
        }
        scene.unit.set(BOX).draw(&mut self.drawing, (slot(first), self.y), tall, true);
        let mut end = (slot(first) + BOX, self.y + tall / 2.0);
        for (place, part) in parts.iter().enumerate() {
            end = self.next(part, end, slot(first + 1 + place), true);
        }
        self.y += tall + BETWEEN;
        self.more(&scene.common[parts.len()..], end, true)
    }

    /// Further boxes of the same chain, each line joined to the one before.
    fn more(&mut self, blocks: &[Block], mut end: Point, used: bool) -> Point {
        for line in blocks.chunks(SLOTS) {
            let tall = tallest(line);
            let (middle, back) = (self.y + tall / 2.0, self.y - BETWEEN / 2.0);
            let right = end.0 + GAP / 2.0;
            let bends =
                [end, (right, end.1), (right, back), (RETURN, back), (RETURN, middle), (FIRST, middle)];
            self.drawing.path(&[bends.to_vec()], wire(used));
            end = (FIRST, middle);
            for (place, block) in line.iter().enumerate() {
                end = self.next(block, end, slot(place), used);
            }
            self.y += tall + BETWEEN;
        }
        end
    }

    /// A box further on in the line, and the wire to it; gives where the wire leaves it.
    fn next(&mut self, block: &Block, end: Point, x: f64, used: bool) -> Point {
        let tall = height(block);
        self.drawing.path(&[vec![end, (x, end.1)]], wire(used));
        block.set(BOX).draw(&mut self.drawing, (x, end.1 - tall / 2.0), tall, used);
        (x + BOX, end.1)
    }

    /// The trunk from where the power leaves the common parts, and the ways off it.
    fn ways(&mut self, end: Point, ways: &[Way]) {
        let back = self.y - BETWEEN / 2.0;
        let right = end.0 + GAP / 2.0;
        let to_trunk = vec![end, (right, end.1), (right, back), (TRUNK, back)];
        self.drawing.path(&[to_trunk], wire(ways.iter().any(|way| way.used)));
        let mut from = back;
        for (index, way) in ways.iter().enumerate() {
            self.y += title(&mut self.drawing, (FIRST, self.y), WIDTH - FIRST - EDGE, &way.title);
            let line = &way.blocks[..way.blocks.len().min(SLOTS)];
            let middle = self.y + tallest(line) / 2.0;
            // The trunk is in use down to the last way that is.
            let used = ways[index..].iter().any(|way| way.used);
            self.drawing.path(&[vec![(TRUNK, from), (TRUNK, middle)]], wire(used));
            let mut end = (TRUNK, middle);
            for (place, block) in line.iter().enumerate() {
                end = self.next(block, end, slot(place), way.used);
            }
            if index + 1 < ways.len() {
                self.drawing.dot((TRUNK, middle), 3.0, "joint");
            }
            self.y += tallest(line) + BETWEEN;
            self.more(&way.blocks[line.len()..], end, way.used);
            from = middle;
        }
    }
}
