//! One figure being drawn: primitives in px, a record of where text lies, SVG and PNG at the end.
//!
//! The SVG backend of plotters takes whole-number coordinates, so everything is drawn ten times larger and the
//! header alone is rewritten. Patterns are drawn with key colours that are replaced by references afterwards.

use super::font::{self, Weight};
pub use super::look::Look;
use super::look::Title;
use super::theme::{Ink, Pattern, Shape, Theme};
use plotters::prelude::{DrawingBackend, RGBAColor, SVGBackend, ShapeStyle};
use plotters::style::text_anchor::{HPos, Pos, VPos};
use plotters::style::{Color, FontDesc, FontFamily, FontStyle, RGBColor};
use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg;
use std::collections::BTreeSet;
use std::fmt::Write as _;

/// Families asked for in figures.
pub const FAMILY: &str = "Inter, Arial, sans-serif";
/// How much larger than a px the backend draws.
pub const OVER: f64 = 10.0;
/// Height of capitals and digits over the font size: 1490 of 2048 in Inter.
const CAP_EM: f64 = 0.7275;
/// Depth of descenders over the font size.
const DESCENT_EM: f64 = 0.2;

/// What a figure is, where it stands alone.
pub const CAUTION: &str = "Simulation of a model: no permission, no clearance.";
/// Room for it at the foot.
const CAUTION_ROOM_PX: f64 = 20.0;
/// Shares of a sheet that the words of its legend may take.
const ASIDE_SHARES: [f64; 2] = [0.27, 0.36];
/// Between the drawing and the legend beside it.
const ASIDE_GAP_PX: f64 = 18.0;

/// Draws the sample of a legend entry in a box of 22 × 12 px around a place.
pub type Sample = Box<dyn Fn(&mut Canvas, [f64; 2])>;
/// A legend entry: words and sample.
pub type Entry = (String, Sample);

/// An entry of a legend.
pub fn entry(words: impl Into<String>, sample: impl Fn(&mut Canvas, [f64; 2]) + 'static) -> Entry {
    (words.into(), Box::new(sample))
}

/// The box that a legend's sample fills, around its middle.
pub fn sample_box([x, y]: [f64; 2]) -> [[f64; 2]; 4] {
    Canvas::corners(x - 11.0, y - 6.0, x + 11.0, y + 6.0)
}

/// Where on the text its place is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum At {
    /// Left end.
    Left,
    /// Middle.
    Middle,
    /// Right end.
    Right,
}

/// A text where it was put.
#[derive(Debug, Clone, PartialEq)]
pub struct TextBox {
    /// The text.
    pub text: String,
    /// Left, top, right, bottom in px.
    pub box_px: [f64; 4],
}

/// A stroke that stands for a direction, a length or a place: an arrow from its tail to its tip, a scale bar between its ends, a
/// mark from the place that it stands for to where it is drawn.
#[derive(Debug, Clone, PartialEq)]
pub struct Measured {
    /// What it shows: `wind`, `north`, `scale`, `home`, `pilot`.
    pub what: &'static str,
    /// Start.
    pub from_px: [f64; 2],
    /// End.
    pub to_px: [f64; 2],
}

/// What tests need to know about a drawn figure.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Layout {
    /// Width and height.
    pub size_px: [f64; 2],
    /// All texts.
    pub texts: Vec<TextBox>,
    /// Kinds of things drawn that need explaining.
    pub drawn: BTreeSet<String>,
    /// Kinds of things explained, in a legend or by a label beside them.
    pub explained: BTreeSet<String>,
    /// Strokes that stand for a direction or a length.
    pub measured: Vec<Measured>,
}

impl Layout {
    /// Texts that reach out of the figure.
    pub fn cut(&self) -> Vec<&TextBox> {
        let [w, h] = self.size_px;
        let out = |b: &[f64; 4]| b[0] < -0.5 || b[1] < -0.5 || b[2] > w + 0.5 || b[3] > h + 0.5;
        self.texts.iter().filter(|text| out(&text.box_px)).collect()
    }

    /// Pairs of texts that lie upon each other.
    pub fn overlaps(&self) -> Vec<(&TextBox, &TextBox)> {
        let mut pairs = Vec::new();
        for (index, one) in self.texts.iter().enumerate() {
            for other in &self.texts[index + 1..] {
                if meet(&one.box_px, &other.box_px, -0.8) {
                    pairs.push((one, other));
                }
            }
        }
        pairs
    }

    /// Kinds drawn but not explained.
    pub fn unexplained(&self) -> Vec<&String> {
        self.drawn.difference(&self.explained).collect()
    }

    /// Whether a box with `gap_px` around it is free of text.
    pub fn is_free(&self, box_px: &[f64; 4], gap_px: f64) -> bool {
        !self.texts.iter().any(|text| meet(&text.box_px, box_px, gap_px))
    }
}

fn meet(a: &[f64; 4], b: &[f64; 4], gap: f64) -> bool {
    a[0] < b[2] + gap && b[0] < a[2] + gap && a[1] < b[3] + gap && b[1] < a[3] + gap
}

/// One thing to draw.
enum Op {
    Area { points: Vec<[f64; 2]>, fill: Fill },
    Line { points: Vec<[f64; 2]>, ink: Ink, alpha: f64, width: f64 },
    Word { text: String, at: At, place: [f64; 2], size: f64, weight: Weight, ink: Ink },
    Raw(String),
}

#[derive(Clone, Copy)]
enum Fill {
    Plain(Ink, f64),
    Pattern(usize),
}

/// A figure being drawn.
pub struct Canvas<'t> {
    /// How it is to look.
    pub look: Look<'t>,
    /// Height, may grow until the end.
    pub height_px: f64,
    /// What is known of it.
    pub layout: Layout,
    id: String,
    ops: Vec<Op>,
    patterns: Vec<(Ink, Pattern, u32, u32)>,
    clips: Vec<[f64; 4]>,
    /// The rectangle that drawing is clipped to now.
    within: Option<[f64; 4]>,
    /// Places that carry data: labels keep off them when they can.
    busy: Vec<[f64; 2]>,
    /// The legend's column on a sheet.
    beside: Option<Beside>,
    /// What stands under the title, or would.
    under: String,
}

/// A column at the right of a sheet: where it begins, and where its next entry stands.
#[derive(Clone, Copy)]
struct Beside {
    left_px: f64,
    next_px: f64,
}

/// A finished figure.
#[derive(Debug, Clone, PartialEq)]
pub struct Figure {
    /// Short name: file stem and prefix of ids.
    pub id: String,
    /// Title.
    pub title: String,
    /// What stands under the title where there is room.
    pub under: String,
    /// How to read it, a sentence or two.
    pub caption: String,
    /// What it shows, in words, for those who do not see it.
    pub words: String,
    /// By how much it is too high for its sheet; 0 or less: it fits.
    pub over_px: f64,
    /// The drawing.
    pub svg: String,
    /// Where things lie.
    pub layout: Layout,
    /// Its theme.
    pub theme: Theme,
}

impl<'t> Canvas<'t> {
    /// An empty figure.
    pub fn new(id: &str, look: Look<'t>) -> Canvas<'t> {
        let id = match look.width_px {
            900.0 => id.to_string(),
            width => format!("{id}-{width:.0}"),
        };
        let layout = Layout::default();
        Canvas {
            look,
            height_px: 0.0,
            layout,
            id,
            ops: vec![],
            patterns: vec![],
            clips: vec![],
            within: None,
            busy: vec![],
            beside: None,
            under: String::new(),
        }
    }

    /// Width in px, up to the legend's column where there is one.
    pub fn width_px(&self) -> f64 {
        self.beside.map_or(self.look.width_px, |beside| beside.left_px + self.margin() - ASIDE_GAP_PX)
    }

    /// Height for the main part of the figure: on a page its `natural` one, on a sheet what is left below `top` with `under` px kept
    /// for what follows, but no less than `least`.
    pub fn room(&self, natural: f64, top: f64, under: f64, least: f64) -> f64 {
        match self.look.sheet_px {
            None => natural,
            Some(sheet) => (sheet - CAUTION_ROOM_PX - under - top).max(least),
        }
    }

    /// A size of text that is not below the least.
    fn sized(&self, size: f64) -> f64 {
        size.max(self.look.least_px)
    }

    /// A filled shape.
    pub fn area(&mut self, points: &[[f64; 2]], ink: Ink, alpha: f64) {
        if points.len() > 2 {
            self.ops.push(Op::Area { points: points.to_vec(), fill: Fill::Plain(ink, alpha) });
        }
    }

    /// A shape filled with a colour and a pattern; `tint` is the opacity of the colour, `strength` that of the pattern.
    pub fn patterned(&mut self, points: &[[f64; 2]], ink: Ink, pattern: Pattern, tint: f64, strength: f64) {
        if points.len() < 3 {
            return;
        }
        let index = self.pattern_index(ink, pattern, tint, strength);
        self.ops.push(Op::Area { points: points.to_vec(), fill: Fill::Pattern(index) });
    }

    fn pattern_index(&mut self, ink: Ink, pattern: Pattern, tint: f64, strength: f64) -> usize {
        let kind = (ink, pattern, (tint * 1000.0) as u32, (strength * 1000.0) as u32);
        self.patterns.iter().position(|known| *known == kind).unwrap_or_else(|| {
            self.patterns.push(kind);
            self.patterns.len() - 1
        })
    }

    /// Many rectangles (left, top, right, bottom) as one patterned shape without seams.
    pub fn cells(&mut self, boxes: &[[f64; 4]], ink: Ink, pattern: Pattern, tint: f64, strength: f64) {
        if boxes.is_empty() {
            return;
        }
        let index = self.pattern_index(ink, pattern, tint, strength);
        let mut path = String::new();
        for [x0, y0, x1, y1] in boxes.iter().map(|b| b.map(|v| (v * OVER).round() as i64)) {
            let _ = write!(path, "M{x0} {y0}h{w}v{h}h-{w}z", w = x1 - x0 + 2, h = y1 - y0 + 2);
        }
        self.ops.push(Op::Raw(format!("<path fill=\"url(#{}-p{index})\" d=\"{path}\"/>", self.id)));
    }

    /// A rectangle as points.
    pub fn corners(x0: f64, y0: f64, x1: f64, y1: f64) -> [[f64; 2]; 4] {
        [[x0, y0], [x1, y0], [x1, y1], [x0, y1]]
    }

    /// A filled rectangle.
    pub fn rect(&mut self, x0: f64, y0: f64, x1: f64, y1: f64, ink: Ink, alpha: f64) {
        self.area(&Self::corners(x0, y0, x1, y1), ink, alpha);
    }

    /// A line through points. Nothing is drawn of one that lies beside what is clipped to.
    pub fn line(&mut self, points: &[[f64; 2]], ink: Ink, alpha: f64, width: f64) {
        if points.len() > 1 && !self.is_clipped_away(points, width) {
            self.ops.push(Op::Line { points: points.to_vec(), ink, alpha, width });
        }
    }

    fn is_clipped_away(&self, points: &[[f64; 2]], width: f64) -> bool {
        self.within.is_some_and(|[x0, y0, x1, y1]| {
            points.iter().all(|p| p[0] < x0 - width)
                || points.iter().all(|p| p[0] > x1 + width)
                || points.iter().all(|p| p[1] < y0 - width)
                || points.iter().all(|p| p[1] > y1 + width)
        })
    }

    /// A level line through the box of a legend's sample.
    pub fn stroke_sample(&mut self, at: [f64; 2], ink: Ink, width: f64) {
        self.line(&[[at[0] - 11.0, at[1]], [at[0] + 11.0, at[1]]], ink, 1.0, width);
    }

    /// A closed outline.
    pub fn outline(&mut self, points: &[[f64; 2]], ink: Ink, alpha: f64, width: f64) {
        if points.len() > 2 {
            let mut closed = points.to_vec();
            closed.extend_from_slice(&points[..2]);
            self.line(&closed, ink, alpha, width);
        }
    }

    /// A dashed line; lengths in px.
    pub fn dashed(&mut self, points: &[[f64; 2]], ink: Ink, alpha: f64, width: f64, on: f64, off: f64) {
        for piece in dashes(points, on, off) {
            self.line(&piece, ink, alpha, width);
        }
    }

    /// A text; `place` is the middle of its capitals' height and its left, middle or right. Returns its box.
    pub fn text(&mut self, text: &str, place: [f64; 2], at: At, size: f64, weight: Weight, ink: Ink) -> [f64; 4] {
        let text: String = self.look.numbers.write(text).chars().filter(|c| !c.is_control()).collect();
        let (box_px, size) = (self.box_of(&text, place, at, size, weight), self.sized(size));
        if text.trim().is_empty() {
            return box_px;
        }
        self.layout.texts.push(TextBox { text: text.clone(), box_px });
        self.ops.push(Op::Word { text, at, place, size, weight, ink });
        box_px
    }

    /// A text around the middle of something, moved aside where it would be cut at the edge.
    pub fn text_inside(&mut self, text: &str, [x, y]: [f64; 2], size: f64, weight: Weight, ink: Ink) -> [f64; 4] {
        let half = 0.5 * font::width_px(text, self.sized(size), weight) + 2.0;
        let x = x.min(self.width_px() - half).max(half);
        self.text(text, [x, y], At::Middle, size, weight, ink)
    }

    /// The box a text would take.
    pub fn box_of(&self, text: &str, place: [f64; 2], at: At, size: f64, weight: Weight) -> [f64; 4] {
        let size = self.sized(size);
        let width = font::width_px(text, size, weight);
        let left = match at {
            At::Left => place[0],
            At::Middle => place[0] - width / 2.0,
            At::Right => place[0] - width,
        };
        let half = CAP_EM * size / 2.0;
        [left, place[1] - half, left + width, place[1] + half + DESCENT_EM * size]
    }

    /// A text on a chip of paper, so that it reads on any ground. Returns the chip's box.
    pub fn chip(&mut self, text: &str, place: [f64; 2], at: At, size: f64, weight: Weight, ink: Ink) -> [f64; 4] {
        let [x0, y0, x1, y1] = self.box_of(text, place, at, size, weight);
        self.rect(x0 - 2.5, y0 - 2.0, x1 + 2.5, y1 - 0.5, Ink::Paper, 0.88);
        self.text(text, place, at, size, weight, ink)
    }

    /// Puts a chip at the first of some places where it lies inside `within` and on no other text. Whether it found one.
    pub fn chip_where_free(
        &mut self,
        text: &str,
        places: &[([f64; 2], At)],
        within: [f64; 4],
        size: f64,
        ink: Ink,
    ) -> bool {
        // First a place off the data, then any that is free of text.
        let hidden = |busy: &[[f64; 2]], b: &[f64; 4]| {
            busy.iter().any(|p| p[0] > b[0] - 2.0 && p[0] < b[2] + 2.0 && p[1] > b[1] - 2.0 && p[1] < b[3] + 2.0)
        };
        for pass in 0..2 * places.len() {
            let (place, at) = places[pass % places.len()];
            let b = self.box_of(text, place, at, size, Weight::Regular);
            if pass < places.len() && hidden(&self.busy, &b) {
                continue;
            }
            let inside = b[0] >= within[0] + 2.0
                && b[1] >= within[1] + 2.0
                && b[2] <= within[2] - 2.0
                && b[3] <= within[3] - 2.0;
            if inside && self.layout.is_free(&b, 2.0) {
                self.chip(text, place, at, size, Weight::Regular, ink);
                return true;
            }
        }
        false
    }

    /// Lines of text below each other from `place`; returns the height used.
    pub fn paragraph(
        &mut self,
        text: &str,
        place: [f64; 2],
        limit_px: f64,
        size: f64,
        weight: Weight,
        ink: Ink,
    ) -> f64 {
        let size = self.sized(size);
        let lines = font::wrap(text, size, weight, limit_px);
        for (index, line) in lines.iter().enumerate() {
            let y = place[1] + size * CAP_EM / 2.0 + index as f64 * size * 1.35;
            self.text(line, [place[0], y], At::Left, size, weight, ink);
        }
        lines.len() as f64 * size * 1.35
    }

    /// A name with what is said of it: below it, on a sheet beside it where that fits. Returns the height used.
    pub fn heading(&mut self, name: &str, said: &str, [left, top]: [f64; 2], limit_px: f64, size: f64) -> f64 {
        let beside = left + font::width_px(name, self.sized(size), Weight::Bold) + 10.0;
        let wide = font::width_px(said, self.sized(11.0), Weight::Regular);
        let used = self.paragraph(name, [left, top], limit_px, size, Weight::Bold, Ink::Ink);
        if self.look.sheet() && beside + wide <= left + limit_px {
            let y = top + self.sized(size) * CAP_EM / 2.0;
            self.text(said, [beside, y], At::Left, 11.0, Weight::Regular, Ink::Soft);
            return used;
        }
        used + self.paragraph(said, [left, top + used], limit_px, 11.0, Weight::Regular, Ink::Soft)
    }

    /// Title and subtitle at the top; returns where the figure itself may start. A sheet has room for one line under its title.
    pub fn head(&mut self, title: &str, under: &str) -> f64 {
        let (left, limit) = (self.margin(), self.width_px() - 2.0 * self.margin());
        self.under = under.into();
        let title = match self.look.title {
            Title::Own => title,
            Title::Given(title) => title,
            Title::None => return 10.0,
        };
        let sheet = self.look.sheet();
        let size = if self.look.phone() { 14.5 } else { 17.0 };
        let mut y = 12.0;
        y += self.paragraph(title, [left, y], limit, size, Weight::Bold, Ink::Ink);
        let fits = !sheet || font::width_px(under, self.sized(12.0), Weight::Regular) <= limit;
        if !under.is_empty() && fits {
            y += self.paragraph(under, [left, y + 2.0], limit, 12.0, Weight::Regular, Ink::Soft) + 2.0;
        }
        y + 8.0
    }

    /// Margin at the sides.
    pub fn margin(&self) -> f64 {
        if self.look.phone() { 4.0 } else { 14.0 }
    }

    /// Marks a line as data that labels should not hide.
    pub fn keep_off(&mut self, points: &[[f64; 2]]) {
        for pair in points.windows(2) {
            let (dx, dy) = (pair[1][0] - pair[0][0], pair[1][1] - pair[0][1]);
            let n = ((dx * dx + dy * dy).sqrt() / 3.0).clamp(1.0, 2_000.0) as usize;
            for k in 0..=n {
                let f = k as f64 / n as f64;
                self.busy.push([pair[0][0] + f * dx, pair[0][1] + f * dy]);
            }
        }
    }

    /// Says that a kind of thing was drawn and needs explaining.
    pub fn drew(&mut self, kind: &str) {
        self.layout.drawn.insert(kind.into());
    }

    /// Says that a kind of thing is explained.
    pub fn explained(&mut self, kind: &str) {
        self.layout.explained.insert(kind.into());
    }

    /// A legend in rows between the margins from `top`; each entry draws its sample in a box of 22 × 12 px whose
    /// middle it is given. Returns the bottom.
    ///
    /// On a sheet it stands in a column at the right, and takes no height.
    pub fn legend(&mut self, top: f64, entries: &[Entry]) -> f64 {
        if self.look.sheet() {
            self.legend_beside(top, entries);
            return top;
        }
        let (left, right) = (self.margin(), self.width_px() - self.margin());
        let (mut x, mut y) = (left, top + 9.0);
        for (words, sample) in entries {
            let limit = right - left - 28.0;
            let lines = font::wrap(words, 12.0, Weight::Regular, limit);
            let wide = lines.iter().map(|line| font::width_px(line, 12.0, Weight::Regular)).fold(0.0, f64::max);
            if x > left && x + 28.0 + wide > right {
                x = left;
                y += 20.0;
            }
            sample(self, [x + 11.0, y]);
            for (index, line) in lines.iter().enumerate() {
                self.text(line, [x + 28.0, y + 15.0 * index as f64], At::Left, 12.0, Weight::Regular, Ink::Ink);
            }
            y += 15.0 * (lines.len() - 1) as f64;
            self.explained(words);
            x += 28.0 + wide + 18.0;
        }
        y + 14.0
    }

    /// Keeps a column so wide at the right of a sheet, from `top` on, for a legend and what is said below it.
    pub fn keep_beside(&mut self, top: f64, wide_px: f64) {
        if self.look.sheet() {
            let left_px = self.look.width_px - self.margin() - wide_px;
            self.beside = Some(Beside { left_px, next_px: top + 9.0 });
        }
    }

    fn legend_beside(&mut self, top: f64, entries: &[Entry]) {
        let (Some(sheet), false) = (self.look.sheet_px, entries.is_empty()) else { return };
        let size = self.sized(12.0);
        let right = self.look.width_px - self.margin();
        let longest = entries.iter().map(|(words, _)| font::width_px(words, size, Weight::Regular)).fold(0.0, f64::max);
        let wrapped = |words: &str, wide: f64| font::wrap(words, size, Weight::Regular, wide);
        let high = |wide: f64, [line, gap]: [f64; 2]| -> f64 {
            entries.iter().map(|(words, _)| line * wrapped(words, wide).len() as f64 + gap).sum()
        };
        // As narrow and as loose as its height lets it be.
        let shares: &[f64] = if self.beside.is_some() { &[0.0] } else { &ASIDE_SHARES };
        let loose = [[14.5, 4.0], [14.5, 1.0], [13.5, 0.0]];
        let ways = shares.iter().flat_map(|share| loose.map(|lines| (*share, lines))).map(|(share, lines)| {
            let wide = longest.min(share * self.look.width_px);
            let free = Beside { left_px: right - 28.0 - wide, next_px: top + 9.0 };
            (self.beside.unwrap_or(free), lines)
        });
        let ways: Vec<(Beside, [f64; 2])> = ways.collect();
        let fits = |(beside, lines): &&(Beside, [f64; 2])| {
            beside.next_px + high(right - beside.left_px - 28.0, *lines) <= sheet - CAUTION_ROOM_PX
        };
        let Some(&(beside, [line_px, gap])) = ways.iter().find(fits).or(ways.last()) else { return };
        let (left, mut y) = (beside.left_px, beside.next_px);
        for (words, sample) in entries {
            sample(self, [left + 11.0, y]);
            for line in &wrapped(words, right - left - 28.0) {
                self.text(line, [left + 28.0, y], At::Left, size, Weight::Regular, Ink::Ink);
                y += line_px;
            }
            y += gap;
            self.explained(words);
        }
        self.beside = Some(Beside { next_px: y, ..beside });
    }

    /// Lines of words under the legend of a sheet, as far as there is room.
    pub fn beside<'w>(&mut self, lines: impl Iterator<Item = &'w str>) {
        let (Some(mut beside), Some(sheet)) = (self.beside, self.look.sheet_px) else { return };
        let size = self.sized(11.0);
        let limit = self.look.width_px - self.margin() - beside.left_px;
        beside.next_px += 4.0;
        for line in lines {
            let high = 1.35 * size * font::wrap(line, size, Weight::Regular, limit).len() as f64;
            if beside.next_px + high > sheet - CAUTION_ROOM_PX {
                break;
            }
            let at = [beside.left_px, beside.next_px - 6.0];
            beside.next_px += self.paragraph(line, at, limit, size, Weight::Regular, Ink::Ink) + 3.0;
        }
        self.beside = Some(beside);
    }

    /// Starts clipping to a rectangle.
    pub fn clip(&mut self, box_px: [f64; 4]) {
        self.clips.push(box_px);
        self.within = Some(box_px);
        let id = format!("{}-c{}", self.id, self.clips.len() - 1);
        self.ops.push(Op::Raw(format!("<g clip-path=\"url(#{id})\">")));
    }

    /// Ends clipping.
    pub fn unclip(&mut self) {
        self.within = None;
        self.ops.push(Op::Raw("</g>".into()));
    }

    /// Many points of one shape as one path: a map of thousands stays small.
    pub fn marks(&mut self, places: &[[f64; 2]], shape: Shape, radius: f64, ink: Ink, alpha: f64) {
        if places.is_empty() {
            return;
        }
        let r = radius * OVER;
        let at = |v: f64| (v * OVER).round() as i64;
        let i = |v: f64| v.round() as i64;
        let mut path = String::new();
        for place in places {
            let (x, y) = (at(place[0]), at(place[1]));
            let _ = match shape {
                Shape::Disc | Shape::Dot => write!(path, "M{x} {y}h0"),
                Shape::Ring => {
                    let d = i(r);
                    write!(path, "M{} {y}a{d} {d} 0 1 0 {} 0a{d} {d} 0 1 0 -{} 0", x - d, 2 * d, 2 * d)
                }
                Shape::Up | Shape::Hollow => {
                    let (h, s) = (i(r * 1.1), i(r * 1.05));
                    write!(path, "M{} {}l{s} {}h-{}z", x, y - h, i(r * 1.9), 2 * s)
                }
                Shape::Down => {
                    let (h, s) = (i(r * 1.1), i(r * 1.05));
                    write!(path, "M{} {}l{s} -{}h-{}z", x, y + h, i(r * 1.9), 2 * s)
                }
                Shape::Square | Shape::Frame => {
                    let s = i(r * 0.88);
                    write!(path, "M{} {}h{d}v{d}h-{d}z", x - s, y - s, d = 2 * s)
                }
                Shape::Diamond | Shape::Lozenge => {
                    let s = i(r * 1.2);
                    write!(path, "M{x} {}l{s} {s} -{s} {s} -{s} -{s}z", y - s)
                }
                Shape::Cross => {
                    let s = i(r * 0.85);
                    write!(path, "M{} {}l{d} {d}m0 -{d}l-{d} {d}", x - s, y - s, d = 2 * s)
                }
                Shape::Plus => {
                    let s = i(r * 1.1);
                    write!(path, "M{} {y}h{d}M{x} {}v{d}", x - s, y - s, d = 2 * s)
                }
            };
        }
        let colour = ink.hex(self.look.theme);
        let edge = Ink::Hatch.hex(self.look.theme);
        let style = match shape {
            Shape::Disc | Shape::Dot => {
                format!("fill=\"none\" stroke=\"{colour}\" stroke-width=\"{}\" stroke-linecap=\"round\"", i(2.0 * r))
            }
            Shape::Ring | Shape::Frame | Shape::Hollow => {
                format!("fill=\"none\" stroke=\"{colour}\" stroke-width=\"{}\"", i(1.3 * OVER))
            }
            Shape::Cross | Shape::Plus => {
                format!("fill=\"none\" stroke=\"{colour}\" stroke-width=\"{}\"", i(1.6 * OVER))
            }
            Shape::Lozenge => format!("fill=\"{colour}\" stroke=\"{edge}\" stroke-width=\"{}\"", i(0.8 * OVER)),
            _ => format!("fill=\"{colour}\""),
        };
        self.ops.push(Op::Raw(format!("<path opacity=\"{alpha}\" {style} d=\"{path}\"/>")));
    }

    /// A disc with an outline.
    pub fn disc(&mut self, place: [f64; 2], radius: f64, ink: Ink, edge: Option<(Ink, f64)>) {
        let colour = ink.hex(self.look.theme);
        let [x, y, r] = [place[0], place[1], radius].map(|v| (v * OVER).round() as i64);
        let edge = edge.map_or(String::new(), |(ink, width)| {
            format!(" stroke=\"{}\" stroke-width=\"{}\"", ink.hex(self.look.theme), (width * OVER).round() as i64)
        });
        self.ops.push(Op::Raw(format!("<circle cx=\"{x}\" cy=\"{y}\" r=\"{r}\" fill=\"{colour}\"{edge}/>")));
    }

    /// Notes a stroke or mark that stands for something.
    pub fn measured(&mut self, what: &'static str, from_px: [f64; 2], to_px: [f64; 2]) {
        self.layout.measured.push(Measured { what, from_px, to_px });
    }

    /// An arrow from a to b that shows the direction of something.
    pub fn arrow(&mut self, what: &'static str, a: [f64; 2], b: [f64; 2], ink: Ink, width: f64, head: f64) {
        self.measured(what, a, b);
        let (dx, dy) = (b[0] - a[0], b[1] - a[1]);
        let length = (dx * dx + dy * dy).sqrt().max(1e-9);
        let (ux, uy) = (dx / length, dy / length);
        let neck = [b[0] - ux * head * 0.8, b[1] - uy * head * 0.8];
        self.line(&[a, neck], ink, 1.0, width);
        let base = [b[0] - ux * head, b[1] - uy * head];
        let wing = head * 0.45;
        let (l, r) = ([base[0] - uy * wing, base[1] + ux * wing], [base[0] + uy * wing, base[1] - ux * wing]);
        self.area(&[b, l, r], ink, 1.0);
    }

    /// A bar between two places of one height that shows a length, with ticks at its ends.
    pub fn scale_bar(&mut self, a: [f64; 2], b: [f64; 2], ink: Ink) {
        self.measured("scale", a, b);
        self.line(&[[a[0], a[1] - 5.0], a, b, [b[0], b[1] - 5.0]], ink, 1.0, 1.8);
    }

    /// The line that says what the figure is, at its foot; what the figure needs beyond its sheet.
    fn caution(&mut self) -> f64 {
        let bottom = match self.look.sheet_px {
            Some(sheet) => sheet,
            None => self.height_px + if self.look.cautioned { CAUTION_ROOM_PX } else { 0.0 },
        };
        if self.look.cautioned {
            let at = [self.margin(), bottom - 0.45 * CAUTION_ROOM_PX];
            self.text(CAUTION, at, At::Left, 10.5, Weight::Regular, Ink::Soft);
        }
        let lowest = self.beside.map_or(0.0, |beside| beside.next_px - 10.0).max(self.height_px);
        self.height_px = bottom;
        if self.look.sheet() { lowest + CAUTION_ROOM_PX - bottom } else { 0.0 }
    }

    /// Draws all of it.
    pub fn finish(mut self, title: &str, caption: &str, words: &str) -> Figure {
        let over_px = self.caution();
        let title = if let Title::Given(given) = self.look.title { given } else { title };
        let [title, caption, words, under] =
            [title, caption, words, &self.under].map(|text| self.look.numbers.write(text).into_owned());
        let size = [self.look.width_px.round(), self.height_px.ceil()];
        self.layout.size_px = size;
        let theme = self.look.theme;
        let over = |place: &[f64; 2]| ((place[0] * OVER).round() as i32, (place[1] * OVER).round() as i32);
        let colour = |ink: Ink, alpha: f64| -> RGBAColor {
            let [r, g, b] = ink.rgb(theme);
            RGBColor(r, g, b).mix(alpha)
        };
        let pixels = ((size[0] * OVER) as u32, (size[1] * OVER) as u32);
        let mut drawn = String::new();
        let mut raws: Vec<String> = Vec::new();
        {
            let mut backend = SVGBackend::with_string(&mut drawn, pixels);
            let paper: ShapeStyle = colour(Ink::Paper, 1.0).filled();
            // Writing into a string cannot fail, so the results below carry no error.
            let _ = backend.draw_rect((0, 0), (pixels.0 as i32, pixels.1 as i32), &paper, true);
            for op in &self.ops {
                let _ = match op {
                    Op::Area { points, fill } => {
                        let style = match fill {
                            Fill::Plain(ink, alpha) => colour(*ink, *alpha).filled(),
                            Fill::Pattern(index) => RGBColor(1, 2, *index as u8).filled(),
                        };
                        backend.fill_polygon(points.iter().map(over), &style)
                    }
                    Op::Line { points, ink, alpha, width } => {
                        let style = colour(*ink, *alpha).stroke_width(((width * OVER).round() as u32).max(1));
                        backend.draw_path(points.iter().map(over), &style)
                    }
                    Op::Word { text, at, place, size, weight, ink } => {
                        let bold = if *weight == Weight::Bold { FontStyle::Bold } else { FontStyle::Normal };
                        let font = FontDesc::new(FontFamily::Name(FAMILY), size * OVER * 1.24, bold);
                        let across = match at {
                            At::Left => HPos::Left,
                            At::Middle => HPos::Center,
                            At::Right => HPos::Right,
                        };
                        let style = font.color(&colour(*ink, 1.0)).pos(Pos::new(across, VPos::Center));
                        let baseline = [place[0], place[1] + CAP_EM * size / 2.0];
                        backend.draw_text(text, &style, over(&baseline))
                    }
                    Op::Raw(text) => {
                        raws.push(text.clone());
                        let index = raws.len() - 1;
                        let key = RGBColor(2, (index / 256) as u8, (index % 256) as u8).filled();
                        backend.draw_rect((0, 0), (0, 0), &key, true)
                    }
                };
            }
            let _ = backend.present();
        }
        let svg = self.tidy(&drawn, size, &raws, &title, &words);
        Figure { id: self.id, title, under, caption, words, over_px, svg, layout: self.layout, theme }
    }

    /// Rewrites the header, puts patterns and raw pieces in place, and drops what needs no saying.
    fn tidy(&self, drawn: &str, size: [f64; 2], raws: &[String], title: &str, words: &str) -> String {
        let mut svg = String::with_capacity(drawn.len());
        let mut raws = raws.iter();
        let mut lines = drawn.lines();
        let _ = lines.next();
        let id = &self.id;
        let _ = writeln!(
            svg,
            "<svg width=\"{w}\" height=\"{h}\" viewBox=\"0 0 {} {}\" xmlns=\"http://www.w3.org/2000/svg\" role=\"img\" \
             aria-labelledby=\"{id}-t {id}-d\">\n<title id=\"{id}-t\">{}</title>\n<desc id=\"{id}-d\">{}</desc>",
            size[0] * OVER,
            size[1] * OVER,
            escape(title),
            escape(words),
            w = size[0],
            h = size[1],
        );
        svg += &self.definitions();
        while let Some(line) = lines.next() {
            if line.starts_with("<rect x=\"0\" y=\"0\" width=\"0\" height=\"0\"") {
                svg += raws.next().map_or("", String::as_str);
                svg.push('\n');
                continue;
            }
            if line.starts_with("<text") {
                let content = lines.next().unwrap_or_default();
                let _ = lines.next();
                svg += &whole_font_size(&line.replace(" dy=\"0.5ex\"", "").replace(" opacity=\"1\"", ""));
                svg += content;
                svg += "</text>\n";
                continue;
            }
            let mut line = line.replace(" opacity=\"1\"", "").replace(" stroke=\"none\"", "").replace(" \"/>", "\"/>");
            if let Some(at) = line.find("fill=\"#0102") {
                let index = usize::from_str_radix(&line[at + 11..at + 13], 16).unwrap_or_default();
                line.replace_range(at..at + 14, &format!("fill=\"url(#{id}-p{index})\""));
            }
            svg += &line;
            svg.push('\n');
        }
        svg
    }

    fn definitions(&self) -> String {
        if self.patterns.is_empty() && self.clips.is_empty() {
            return String::new();
        }
        let (id, theme) = (&self.id, self.look.theme);
        let mut text = String::from("<defs>\n");
        for (index, [x0, y0, x1, y1]) in self.clips.iter().map(|b| b.map(|v| (v * OVER).round())).enumerate() {
            let (w, h) = (x1 - x0, y1 - y0);
            let _ = writeln!(
                text,
                "<clipPath id=\"{id}-c{index}\"><rect x=\"{x0}\" y=\"{y0}\" width=\"{w}\" height=\"{h}\"/></clipPath>"
            );
        }
        for (index, (ink, pattern, tint, strength)) in self.patterns.iter().enumerate() {
            let (u, path, wide) = match pattern {
                Pattern::Plain => (60, "", 0),
                Pattern::Rising => (60, "M0 60L60 0M-15 15L15 -15M45 75L75 45", 9),
                Pattern::Falling => (60, "M0 0L60 60M-15 45L15 75M45 -15L75 15", 9),
                Pattern::Crossed => (60, "M0 0L60 60M0 60L60 0", 9),
                Pattern::Dots => (60, "M15 15h.1M45 45h.1", 18),
                Pattern::Level => (50, "M0 25H50", 9),
                Pattern::Upright => (50, "M25 0V50", 9),
                Pattern::Squares => (60, "M0 30H60M30 0V60", 9),
                Pattern::Waves => (100, "M5 25h40M55 75h40", 9),
            };
            let round = if *pattern == Pattern::Dots { "round" } else { "butt" };
            // Lines that show on their ground: on the darkest ink they are left blank.
            let lines = match ink {
                Ink::Ink => Ink::Paper,
                _ if *tint < 1000 => *ink,
                _ => Ink::Hatch,
            };
            let alpha = |thousandths: &u32| f64::from(*thousandths) / 1000.0;
            let _ = write!(
                text,
                "<pattern id=\"{id}-p{index}\" width=\"{u}\" height=\"{u}\" patternUnits=\"userSpaceOnUse\">\
                 <rect width=\"{u}\" height=\"{u}\" fill=\"{}\" fill-opacity=\"{}\"/>",
                ink.hex(theme),
                alpha(tint)
            );
            if !path.is_empty() {
                let _ = write!(
                    text,
                    "<path d=\"{path}\" fill=\"none\" stroke=\"{}\" stroke-opacity=\"{}\" stroke-width=\"{wide}\" \
                     stroke-linecap=\"{round}\"/>",
                    lines.hex(theme),
                    alpha(strength)
                );
            }
            text += "</pattern>\n";
        }
        text + "</defs>\n"
    }
}

/// `font-size="120.00000000000001"` to one decimal.
fn whole_font_size(line: &str) -> String {
    let Some(start) = line.find("font-size=\"").map(|at| at + 11) else { return line.into() };
    let Some(end) = line[start..].find('"').map(|at| at + start) else { return line.into() };
    match line[start..end].parse::<f64>() {
        Ok(size) => format!("{}{}{}", &line[..start], (size * 10.0).round() / 10.0, &line[end..]),
        Err(_) => line.into(),
    }
}

/// Escapes text for XML.
pub fn escape(text: &str) -> String {
    text.chars().filter(|c| !c.is_control()).fold(String::with_capacity(text.len()), |mut out, c| {
        match c {
            '<' => out += "&lt;",
            '>' => out += "&gt;",
            '&' => out += "&amp;",
            '"' => out += "&quot;",
            _ => out.push(c),
        }
        out
    })
}

/// Cuts a line into dashes.
fn dashes(points: &[[f64; 2]], on: f64, off: f64) -> Vec<Vec<[f64; 2]>> {
    let mut out = Vec::new();
    let Some(&first) = points.first() else { return out };
    let (mut current, mut left, mut pen) = (vec![first], on, true);
    for pair in points.windows(2) {
        let (mut a, b) = (pair[0], pair[1]);
        loop {
            let (dx, dy) = (b[0] - a[0], b[1] - a[1]);
            let length = (dx * dx + dy * dy).sqrt();
            if !length.is_finite() {
                break;
            }
            if length <= left {
                left -= length;
                if pen {
                    current.push(b);
                }
                break;
            }
            let f = left / length;
            a = [a[0] + f * dx, a[1] + f * dy];
            if pen {
                current.push(a);
                out.push(std::mem::take(&mut current));
            } else {
                current = vec![a];
            }
            pen = !pen;
            left = if pen { on } else { off };
        }
    }
    if pen && current.len() > 1 {
        out.push(current);
    }
    out
}

/// Why a figure could not be rasterised.
#[derive(Debug, thiserror::Error)]
pub enum RasterError {
    /// The SVG was refused.
    #[error("the drawing could not be read back: {0}")]
    Svg(#[from] usvg::Error),
    /// The size is not one.
    #[error("{0} × {1} px is no size for a picture")]
    Size(u32, u32),
    /// The PNG was refused.
    #[error("the picture could not be encoded: {0}")]
    Encode(String),
}

impl Figure {
    /// The figure as PNG, `scale` picture points to a px.
    ///
    /// # Errors
    /// When the SVG cannot be read or the size is 0.
    pub fn png(&self, scale: f32) -> Result<Vec<u8>, RasterError> {
        let pixels = self.pixels(scale)?;
        png(&pixels, |_| Ok(())).map_err(|error| RasterError::Encode(error.to_string()))
    }

    /// The figure as picture points, `scale` of them to a px.
    ///
    /// # Errors
    /// When the SVG cannot be read or the size is 0.
    pub fn pixels(&self, scale: f32) -> Result<Pixmap, RasterError> {
        let tree = self.tree()?;
        let size = tree.size();
        raster(&tree, [(size.width() * scale) as u32, (size.height() * scale) as u32])
    }

    /// The figure as picture points, so many across and down.
    ///
    /// # Errors
    /// When the SVG cannot be read or a size is 0.
    pub fn pixels_of(&self, points: [u32; 2]) -> Result<Pixmap, RasterError> {
        raster(&self.tree()?, points)
    }

    /// The drawing read back, in the committed fonts alone.
    ///
    /// # Errors
    /// When the SVG cannot be read.
    pub fn tree(&self) -> Result<usvg::Tree, RasterError> {
        static OPTIONS: std::sync::OnceLock<usvg::Options<'static>> = std::sync::OnceLock::new();
        let options = OPTIONS.get_or_init(|| {
            let mut options = usvg::Options::default();
            let fonts = options.fontdb_mut();
            fonts.load_font_data(font::REGULAR.to_vec());
            fonts.load_font_data(font::BOLD.to_vec());
            fonts.set_sans_serif_family("Inter");
            options
        });
        Ok(usvg::Tree::from_str(&self.svg, options)?)
    }

    /// What stands under the title, and how to read the figure: its caption in full.
    pub fn under_title(&self) -> String {
        [self.under.as_str(), self.caption.as_str()].join(" ").trim().to_string()
    }
}

fn raster(tree: &usvg::Tree, [w, h]: [u32; 2]) -> Result<Pixmap, RasterError> {
    let mut pixels = Pixmap::new(w, h).ok_or(RasterError::Size(w, h))?;
    let scale = [w as f32 / tree.size().width(), h as f32 / tree.size().height()];
    resvg::render(tree, Transform::from_scale(scale[0], scale[1]), &mut pixels.as_mut());
    Ok(pixels)
}

/// A picture as PNG; `dress` adds what the file says of itself. Figures are flat colours on paper: no point is see-through, and unfiltered
/// rows pack smaller, at half the time, than with the usual settings.
///
/// # Errors
/// When the picture cannot be encoded.
pub fn png(
    pixels: &Pixmap,
    dress: impl FnOnce(&mut png::Encoder<&mut Vec<u8>>) -> Result<(), png::EncodingError>,
) -> Result<Vec<u8>, png::EncodingError> {
    let mut bytes = Vec::new();
    let mut encoder = png::Encoder::new(&mut bytes, pixels.width(), pixels.height());
    encoder.set_color(png::ColorType::Rgb);
    encoder.set_depth(png::BitDepth::Eight);
    encoder.set_deflate_compression(png::DeflateCompression::Level(4));
    encoder.set_filter(png::Filter::NoFilter);
    dress(&mut encoder)?;
    let rgb: Vec<u8> = pixels.data().chunks_exact(4).flat_map(|point| [point[0], point[1], point[2]]).collect();
    let mut writer = encoder.write_header()?;
    writer.write_image_data(&rgb)?;
    writer.finish()?;
    Ok(bytes)
}

/// A drawing for the page: colours become style variables, so that one drawing serves light, dark and print.
pub fn inline(svg: &str, theme: Theme) -> String {
    let mut svg = svg.to_string();
    for ink in Ink::ALL {
        svg = svg.replace(&format!("\"{}\"", ink.hex(theme)), &format!("\"var({})\"", ink.variable()));
    }
    svg
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_beside_the_clip_is_not_drawn() {
        let mut canvas = Canvas::new("t", Look::WIDE);
        let drawn = |canvas: &Canvas| canvas.ops.iter().filter(|op| matches!(op, Op::Line { .. })).count();
        canvas.clip([100.0, 100.0, 200.0, 200.0]);
        for beside in [[90.0, 150.0], [210.0, 150.0], [150.0, 90.0], [150.0, 210.0]] {
            canvas.line(&[beside, [beside[0] + 1.0, beside[1] + 1.0]], Ink::Ink, 1.0, 2.0);
        }
        assert_eq!(drawn(&canvas), 0);
        // Across a corner, through the whole box, and at the edge by half of its width.
        canvas.line(&[[90.0, 150.0], [150.0, 90.0]], Ink::Ink, 1.0, 2.0);
        canvas.line(&[[0.0, 150.0], [300.0, 150.0]], Ink::Ink, 1.0, 2.0);
        canvas.line(&[[99.0, 120.0], [99.0, 180.0]], Ink::Ink, 1.0, 2.0);
        assert_eq!(drawn(&canvas), 3);
        canvas.unclip();
        canvas.line(&[[0.0, 0.0], [10.0, 0.0]], Ink::Ink, 1.0, 2.0);
        assert_eq!(drawn(&canvas), 4);
    }
}
