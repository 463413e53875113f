//! The sheets of a document: what is placed on each, its head and its foot. A document is laid out twice: first to count
//! its sheets, then to write them, one after the other, so that only one is held at a time.

use krilla::destination::XyzDestination;
use krilla::geom::Point as Place;
use krilla::metadata::{DateTime, Metadata};
use krilla::outline::{Outline, OutlineNode};
use krilla::page::PageSettings;
use krilla::tagging::{ArtifactType, ContentTag, SpanTag};
use krilla::{Document, SerializeSettings};

use super::element::{ElementId, Elements, Role};
use super::flow::Waiting;
use super::font::{Face, Fonts};
use super::ink::Ink;
use super::{Paper, place};
use crate::drawing::Drawing;
use crate::view::ReportError;

const SIDE: f32 = 42.0;
const TOP: f32 = 58.0;
const BOTTOM: f32 = 54.0;
const SMALL: f32 = 7.0;

/// What stands on every sheet and in the properties of the document.
#[derive(Clone, Debug)]
pub(crate) struct Frame {
    pub(crate) paper: Paper,
    pub(crate) title: String,
    pub(crate) head_left: String,
    pub(crate) head_right: String,
    pub(crate) foot: String,
    pub(crate) software: String,
    pub(crate) date: Option<jiff::Timestamp>,
}

/// Something placed on a sheet.
pub(crate) enum Placed {
    Words { at: (f32, f32), words: String, face: Face, size: f32, ink: Ink },
    Line { from: (f32, f32), to: (f32, f32), ink: Ink, width: f32 },
    Filled { at: (f32, f32), size: (f32, f32), ink: Ink },
    Framed { at: (f32, f32), size: (f32, f32), ink: Ink, width: f32 },
    Drawn { at: (f32, f32), scale: f32, drawing: Box<Drawing> },
}

/// Sheets that are being filled.
pub(crate) struct Sheets<'f> {
    pub(crate) fonts: &'f Fonts,
    frame: &'f Frame,
    /// Where the next thing is placed, from the top of the sheet.
    pub(crate) y: f32,
    /// How many sheets were begun.
    page: usize,
    /// How many there will be; `None` while they are counted.
    total: Option<usize>,
    placed: Vec<(Placed, Option<ElementId>)>,
    document: Document,
    elements: Elements,
    outline: Vec<(u16, String, XyzDestination)>,
    /// Headings that wait for what they stand over.
    pub(super) waiting: Vec<Waiting>,
}

impl<'f> Sheets<'f> {
    fn new(fonts: &'f Fonts, frame: &'f Frame, total: Option<usize>) -> Self {
        let settings = SerializeSettings { xmp_metadata: true, ..SerializeSettings::default() };
        Self {
            fonts,
            frame,
            y: TOP,
            page: 1,
            total,
            placed: Vec::new(),
            document: Document::new_with(settings),
            elements: Elements::default(),
            outline: Vec::new(),
            waiting: Vec::new(),
        }
    }

    /// A document of what `fill` places.
    pub(crate) fn document(
        fonts: &Fonts,
        frame: &Frame,
        fill: impl Fn(&mut Sheets<'_>),
    ) -> Result<Vec<u8>, ReportError> {
        let mut counted = Sheets::new(fonts, frame, None);
        fill(&mut counted);
        let mut sheets = Sheets::new(fonts, frame, Some(counted.page));
        fill(&mut sheets);
        sheets.finish()
    }

    pub(crate) const fn left(&self) -> f32 {
        SIDE
    }

    pub(crate) fn width(&self) -> f32 {
        self.frame.paper.size().0 - 2.0 * SIDE
    }

    /// The room for what is placed on an empty sheet.
    pub(crate) fn height(&self) -> f32 {
        self.bottom() - TOP
    }

    fn bottom(&self) -> f32 {
        self.frame.paper.size().1 - BOTTOM
    }

    /// The room that is left on this sheet.
    pub(crate) fn room(&self) -> f32 {
        self.bottom() - self.y
    }

    pub(crate) fn is_fresh(&self) -> bool {
        self.y <= TOP
    }

    /// Begins a new sheet if less than this is left, unless this one is empty.
    pub(crate) fn need(&mut self, height: f32) {
        if self.room() < height && !self.is_fresh() {
            self.turn();
        }
    }

    /// Room between two things; none at the top of a sheet.
    pub(crate) fn gap(&mut self, height: f32) {
        if !self.is_fresh() {
            self.y += height;
        }
    }

    /// Begins a new sheet.
    pub(crate) fn turn(&mut self) {
        self.write_sheet();
        self.page += 1;
        self.y = TOP;
    }

    /// An element of the tree; while sheets are counted there is none.
    pub(crate) fn element(&mut self, role: Role, within: Option<ElementId>) -> Option<ElementId> {
        self.total.map(|_| self.elements.open(role, within))
    }

    /// A place that the table of contents of a reader leads to.
    pub(crate) fn bookmark(&mut self, level: u16, title: &str) {
        if self.total.is_some() {
            let at = XyzDestination::new(self.page - 1, Place::from_xy(SIDE, self.y));
            let title = self.fonts.spoken(title, Face::Bold);
            self.outline.push((level, title, at));
        }
    }

    pub(crate) fn place(&mut self, what: Placed, of: Option<ElementId>) {
        if self.total.is_some() {
            self.placed.push((what, of));
        }
    }

    /// Words that [`Fonts::typeset`] has given, from their base line on.
    pub(crate) fn words(
        &mut self,
        at: (f32, f32),
        words: &str,
        (face, size, ink): (Face, f32, Ink),
        of: Option<ElementId>,
    ) {
        self.place(Placed::Words { at, words: words.to_owned(), face, size, ink }, of);
    }

    fn write_sheet(&mut self) {
        let Some(total) = self.total else { return };
        let (width, height) = self.frame.paper.size();
        let settings = PageSettings::from_wh(width, height).expect("a paper has a size");
        let margins = self.margins(total);
        let mut page = self.document.start_page_with(settings);
        let mut surface = page.surface();
        for (what, kind) in margins {
            surface.start_tagged(ContentTag::Artifact(kind));
            place::draw(&mut surface, self.fonts, &what);
            surface.end_tagged();
        }
        for (what, of) in self.placed.drain(..) {
            let tag = match (&what, of) {
                (Placed::Words { .. }, Some(_)) => ContentTag::Span(SpanTag::empty()),
                (_, Some(_)) => ContentTag::Other,
                (_, None) => ContentTag::Artifact(ArtifactType::Other),
            };
            let marked = surface.start_tagged(tag);
            place::draw(&mut surface, self.fonts, &what);
            surface.end_tagged();
            if let Some(of) = of {
                self.elements.mark(of, marked);
            }
        }
        surface.finish();
        page.finish();
    }

    /// The head and the foot of this sheet.
    fn margins(&self, total: usize) -> Vec<(Placed, ArtifactType)> {
        let (width, height) = self.frame.paper.size();
        let right = width - SIDE;
        let (head, foot) = (38.0, height - 30.0);
        let rule = |y, kind| {
            let line = Placed::Line { from: (SIDE, y), to: (right, y), ink: Ink::RULE, width: 0.6 };
            (line, kind)
        };
        let words = |words: &str, room: f32, y: f32, flush_right: bool| {
            let mut lines = super::lines::lines(self.fonts, words, Face::Plain, SMALL, room);
            let words = if lines.is_empty() { String::new() } else { lines.remove(0) };
            let wide = self.fonts.width(&words, Face::Plain, SMALL);
            let x = if flush_right { right - wide } else { SIDE };
            Placed::Words { at: (x, y), words, face: Face::Plain, size: SMALL, ink: Ink::SOFT }
        };
        let number = format!("page {} of {total}", self.page);
        let half = self.width() / 2.0 - 6.0;
        vec![
            (words(&self.frame.head_left, half, head, false), ArtifactType::Header),
            (words(&self.frame.head_right, half, head, true), ArtifactType::Header),
            rule(head + 5.0, ArtifactType::Header),
            rule(foot - 11.0, ArtifactType::Footer),
            (words(&self.frame.foot, self.width() - 80.0, foot, false), ArtifactType::Footer),
            (words(&number, 76.0, foot, true), ArtifactType::Footer),
        ]
    }

    fn finish(mut self) -> Result<Vec<u8>, ReportError> {
        self.write_sheet();
        let frame = self.frame;
        let mut metadata = Metadata::new()
            .title(self.fonts.shown(&frame.title, Face::Plain))
            .language("en".to_owned())
            .creator(self.fonts.shown(&frame.software, Face::Plain))
            .document_id(self.fonts.shown(&frame.head_right, Face::Plain));
        if let Some(date) = frame.date.and_then(pdf_date) {
            metadata = metadata.creation_date(date);
        }
        self.document.set_metadata(metadata);
        self.document.set_tag_tree(self.elements.tree());
        self.document.set_outline(outline(self.outline));
        self.document.finish().map_err(|error| ReportError::Pdf(format!("{error:?}")))
    }
}

/// The record's own date: the same record makes the same bytes at any time.
fn pdf_date(at: jiff::Timestamp) -> Option<DateTime> {
    let at = jiff::tz::Offset::UTC.to_datetime(at);
    let part = |part: i8| u8::try_from(part).ok();
    let date = DateTime::new(u16::try_from(at.year()).ok()?);
    let date = date.month(part(at.month())?).day(part(at.day())?);
    let time = date.hour(part(at.hour())?).minute(part(at.minute())?).second(part(at.second())?);
    Some(time.utc_offset_hour(0).utc_offset_minute(0))
}

/// Headings of the second level under those of the first.
fn outline(places: Vec<(u16, String, XyzDestination)>) -> Outline {
    let mut outline = Outline::new();
    let mut open: Option<OutlineNode> = None;
    for (level, title, at) in places {
        let node = OutlineNode::new(title, at);
        match &mut open {
            Some(chapter) if level > 1 => chapter.push_child(node),
            _ => {
                if let Some(done) = open.replace(node) {
                    outline.push_child(done);
                }
            }
        }
    }
    if let Some(done) = open {
        outline.push_child(done);
    }
    outline
}
