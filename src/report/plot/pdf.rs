//! A figure as a PDF of one page: lines and areas as lines and areas, text as text in the letters that are used of our own fonts.
//!
//! The drawing is read back as for a picture, so all forms of a figure show the same. No time and no random name goes in: the same
//! figure gives the same bytes.

use super::canvas::{Figure, RasterError};
use super::font::{self, Weight};
use pdf_writer::types::{CidFontType, FontFlags, LineCapStyle, PaintType, SystemInfo, TilingType, UnicodeCmap};
use pdf_writer::writers::Resources;
use pdf_writer::{Content, Filter, Finish, Name, Pdf, Rect, Ref, Str, TextStr};
use resvg::tiny_skia::{Path, PathSegment, Transform};
use resvg::usvg::{self, Node, Paint};
use std::collections::{BTreeMap, BTreeSet};
use subsetter::GlyphRemapper;

/// Resolution of coordinates: a thousandth of a point.
const PER_PT: f32 = 1000.0;
/// How the letters of our fonts are numbered: as they stand in the font.
const NUMBERED: SystemInfo = SystemInfo { registry: Str(b"Adobe"), ordering: Str(b"Identity"), supplement: 0 };
/// What a reader is told of the shape of our fonts, in thousandths of the font size; in 2048ths the capitals are 1490 high.
const ASCENT: f32 = 969.0;
const DESCENT: f32 = -242.0;
const CAPITALS: f32 = 727.5;

fn round(value: f32) -> f32 {
    (value * PER_PT).round() / PER_PT
}

fn matrix(t: Transform) -> [f32; 6] {
    // Scales keep more digits than places.
    let fine = |value: f32| (value * 1e6).round() / 1e6;
    [fine(t.sx), fine(t.ky), fine(t.kx), fine(t.sy), round(t.tx), round(t.ty)]
}

/// Why a figure could not become a PDF.
#[derive(Debug, thiserror::Error)]
pub enum PdfError {
    /// The drawing was refused.
    #[error(transparent)]
    Drawing(#[from] RasterError),
    /// A font could not be cut down.
    #[error("the font could not be cut down: {0}")]
    Font(#[from] subsetter::Error),
}

/// The letters used of one font.
#[derive(Default)]
struct Letters {
    numbers: GlyphRemapper,
    /// Number in the font that is written → number in ours, and what it says.
    said: BTreeMap<u16, (u16, String)>,
}

/// A pattern that areas are filled with.
struct Tile<'a> {
    pattern: &'a usvg::Pattern,
    /// From its own places to those of the page.
    to_page: Transform,
}

/// The content of the page while it is written.
struct Sheet<'a> {
    content: Content,
    opacities: BTreeSet<u16>,
    tiles: Vec<Tile<'a>>,
    fonts: [Letters; 2],
    tree: &'a usvg::Tree,
}

fn thousandths(opacity: f32) -> u16 {
    (opacity.clamp(0.0, 1.0) * 1000.0).round() as u16
}

fn opacity_name(thousandths: u16) -> String {
    format!("O{thousandths}")
}

fn colour(paint: &Paint) -> Option<[f32; 3]> {
    match paint {
        Paint::Color(c) => Some([c.red, c.green, c.blue].map(|part| round(f32::from(part) / 255.0))),
        _ => None,
    }
}

fn trace(content: &mut Content, path: &Path) {
    let mut from = [0.0; 2];
    for segment in path.segments() {
        match segment {
            PathSegment::MoveTo(p) => {
                content.move_to(round(p.x), round(p.y));
                from = [p.x, p.y];
            }
            PathSegment::LineTo(p) => {
                content.line_to(round(p.x), round(p.y));
                from = [p.x, p.y];
            }
            PathSegment::QuadTo(c, p) => {
                // The same curve with two controls.
                let [a, b] = [[from[0], from[1]], [p.x, p.y]]
                    .map(|end| [end[0] + (c.x - end[0]) * 2.0 / 3.0, end[1] + (c.y - end[1]) * 2.0 / 3.0]);
                content.cubic_to(round(a[0]), round(a[1]), round(b[0]), round(b[1]), round(p.x), round(p.y));
                from = [p.x, p.y];
            }
            PathSegment::CubicTo(a, b, p) => {
                content.cubic_to(round(a.x), round(a.y), round(b.x), round(b.y), round(p.x), round(p.y));
                from = [p.x, p.y];
            }
            PathSegment::Close => {
                content.close_path();
            }
        }
    }
}

impl<'a> Sheet<'a> {
    fn of(tree: &'a usvg::Tree) -> Sheet<'a> {
        let fonts = Default::default();
        Sheet { content: Content::new(), opacities: BTreeSet::new(), tiles: vec![], fonts, tree }
    }

    fn opacity(&mut self, opacity: f32) {
        let kept = thousandths(opacity);
        self.opacities.insert(kept);
        self.content.set_parameters(Name(opacity_name(kept).as_bytes()));
    }

    fn group(&mut self, group: &'a usvg::Group, to_page: Transform, opacity: f32) {
        let opacity = opacity * group.opacity().get();
        if let Some(clip) = group.clip_path() {
            // It lies in the places of what it clips.
            let place = to_page.pre_concat(group.abs_transform()).pre_concat(clip.transform());
            self.content.save_state();
            for path in paths(clip.root()) {
                if let Some(path) = path.data().clone().transform(place.pre_concat(path.abs_transform())) {
                    trace(&mut self.content, &path);
                }
            }
            self.content.clip_nonzero().end_path();
        }
        let clipped = group.clip_path().is_some();
        for node in group.children() {
            match node {
                Node::Group(inner) => self.group(inner, to_page, opacity),
                Node::Path(path) => self.path(path, to_page, opacity),
                Node::Text(text) => self.text(text, to_page, opacity),
                // Figures have none.
                Node::Image(_) => {}
            }
        }
        if clipped {
            self.content.restore_state();
        }
    }

    fn path(&mut self, path: &'a usvg::Path, to_page: Transform, opacity: f32) {
        let place = to_page.pre_concat(path.abs_transform());
        let Some(shape) = path.data().clone().transform(place) else { return };
        if let Some(fill) = path.fill() {
            self.opacity(opacity * fill.opacity().get());
            match fill.paint() {
                Paint::Pattern(pattern) => self.tile(pattern, place),
                paint => {
                    let [r, g, b] = colour(paint).unwrap_or_default();
                    self.content.set_fill_rgb(r, g, b);
                }
            }
            trace(&mut self.content, &shape);
            match fill.rule() {
                usvg::FillRule::NonZero => self.content.fill_nonzero(),
                usvg::FillRule::EvenOdd => self.content.fill_even_odd(),
            };
        }
        if let Some((stroke, [r, g, b])) = path.stroke().and_then(|stroke| Some((stroke, colour(stroke.paint())?))) {
            self.opacity(opacity * stroke.opacity().get());
            self.content.set_stroke_rgb(r, g, b);
            self.content.set_line_width(round(stroke.width().get() * place.sx.hypot(place.ky)));
            self.content.set_line_cap(match stroke.linecap() {
                usvg::LineCap::Butt => LineCapStyle::ButtCap,
                usvg::LineCap::Round => LineCapStyle::RoundCap,
                usvg::LineCap::Square => LineCapStyle::ProjectingSquareCap,
            });
            trace(&mut self.content, &shape);
            self.content.stroke();
        }
    }

    /// Fills what follows with a pattern.
    fn tile(&mut self, pattern: &'a usvg::Pattern, place: Transform) {
        let to_page = place.pre_concat(pattern.transform());
        let known = self.tiles.iter().position(|tile| tile.pattern.id() == pattern.id() && tile.to_page == to_page);
        let index = known.unwrap_or_else(|| {
            self.tiles.push(Tile { pattern, to_page });
            self.tiles.len() - 1
        });
        self.content.set_fill_color_space(pdf_writer::types::ColorSpaceOperand::Pattern);
        self.content.set_fill_pattern([], Name(format!("P{index}").as_bytes()));
    }

    fn text(&mut self, text: &'a usvg::Text, to_page: Transform, opacity: f32) {
        let place = to_page.pre_concat(text.abs_transform());
        for span in text.layouted().iter().filter(|span| span.visible) {
            let Some((fill, [r, g, b])) = span.fill.as_ref().and_then(|fill| Some((fill, colour(fill.paint())?)))
            else {
                continue;
            };
            self.opacity(opacity * fill.opacity().get());
            self.content.set_fill_rgb(r, g, b);
            self.content.begin_text();
            for glyph in &span.positioned_glyphs {
                let heavy = self.tree.fontdb().face(glyph.font).is_some_and(|face| face.weight.0 >= 600);
                let font = usize::from(heavy);
                // Our fonts have few glyphs; what is not among them is drawn as the one that says so.
                let ours = u16::try_from(glyph.id.0).unwrap_or_default();
                let number = self.fonts[font].numbers.remap(ours);
                self.fonts[font].said.entry(number).or_insert_with(|| (ours, glyph.text.clone()));
                // The glyph's place scales from units of the font and looks down; a PDF's letters look up and have a size.
                let per_em = font::units_per_em(if heavy { Weight::Bold } else { Weight::Regular }) as f32;
                let at = place.pre_concat(glyph.transform()).pre_concat(Transform::from_scale(per_em, -per_em));
                let size = at.sx.hypot(at.ky);
                let at = at.pre_concat(Transform::from_scale(1.0 / size, 1.0 / size));
                self.content.set_font(Name(if heavy { b"F1" } else { b"F0" }), round(size));
                self.content.set_text_matrix(matrix(at));
                self.content.show(Str(&number.to_be_bytes()));
            }
            self.content.end_text();
        }
    }
}

fn paths(group: &usvg::Group) -> Vec<&usvg::Path> {
    let mut found = Vec::new();
    for node in group.children() {
        match node {
            Node::Path(path) => found.push(&**path),
            Node::Group(inner) => found.extend(paths(inner)),
            _ => {}
        }
    }
    found
}

fn packed(bytes: &[u8]) -> Vec<u8> {
    miniz_oxide::deflate::compress_to_vec_zlib(bytes, 8)
}

/// Numbers of the objects of a PDF, in the order in which they are given.
struct Count(i32);

impl Count {
    fn next(&mut self) -> Ref {
        self.0 += 1;
        Ref::new(self.0)
    }
}

fn opacities(resources: &mut Resources, opacities: &BTreeSet<u16>) {
    let mut states = resources.ext_g_states();
    for &kept in opacities {
        let name = opacity_name(kept);
        let mut state = states.insert(Name(name.as_bytes())).start::<pdf_writer::writers::ExtGraphicsState>();
        let opacity = round(f32::from(kept) / 1000.0);
        state.non_stroking_alpha(opacity).stroking_alpha(opacity);
    }
}

fn write_tile(pdf: &mut Pdf, id: Ref, tile: &Tile, tree: &usvg::Tree) {
    let mut inner = Sheet::of(tree);
    inner.group(tile.pattern.root(), Transform::identity(), 1.0);
    let content = packed(&inner.content.finish());
    let rect = tile.pattern.rect();
    let mut written = pdf.tiling_pattern(id, &content);
    written.filter(Filter::FlateDecode);
    written.tiling_type(TilingType::ConstantSpacing).paint_type(PaintType::Colored);
    written.bbox(Rect::new(rect.left(), rect.top(), rect.right(), rect.bottom()));
    written.x_step(rect.width()).y_step(rect.height()).matrix(matrix(tile.to_page));
    opacities(&mut written.resources(), &inner.opacities);
}

fn write_font(pdf: &mut Pdf, count: &mut Count, id: Ref, weight: Weight, letters: &Letters) -> Result<(), PdfError> {
    let [cid, descriptor, map, file] = [(); 4].map(|()| count.next());
    let (data, name) = match weight {
        Weight::Regular => (font::REGULAR, "LOSTLA+Inter-Regular"),
        Weight::Bold => (font::BOLD, "LOSTLB+Inter-Bold"),
    };
    let name = Name(name.as_bytes());
    pdf.type0_font(id).base_font(name).encoding_predefined(Name(b"Identity-H")).descendant_font(cid).to_unicode(map);
    let mut written = pdf.cid_font(cid);
    written.subtype(CidFontType::Type2).base_font(name).system_info(NUMBERED).font_descriptor(descriptor);
    written.default_width(0.0).cid_to_gid_map_predefined(Name(b"Identity"));
    let width = |&(ours, _): &(u16, String)| round((1000.0 * font::advance_em(ours, weight)) as f32);
    let mut widths = written.widths();
    for (&number, letter) in &letters.said {
        widths.consecutive(number, [width(letter)]);
    }
    widths.finish();
    written.finish();
    let heavy = weight == Weight::Bold;
    pdf.font_descriptor(descriptor)
        .name(name)
        .flags(FontFlags::SYMBOLIC)
        .bbox(Rect::new(-750.0, -300.0, 2600.0, 1100.0))
        .italic_angle(0.0)
        .ascent(ASCENT)
        .descent(DESCENT)
        .cap_height(CAPITALS)
        .stem_v(if heavy { 140.0 } else { 90.0 })
        .font_file2(file);
    let mut said = UnicodeCmap::<u16>::new(Name(b"Letters"), NUMBERED);
    for (&number, (_, text)) in &letters.said {
        said.pair_with_multiple(number, text.chars());
    }
    pdf.cmap(map, &said.finish());
    let cut = subsetter::subset(data, 0, &letters.numbers)?;
    let bytes = packed(&cut);
    let mut stream = pdf.stream(file, &bytes);
    stream.filter(Filter::FlateDecode);
    stream.pair(Name(b"Length1"), i32::try_from(cut.len()).unwrap_or(i32::MAX));
    Ok(())
}

impl Figure {
    /// The figure as a PDF of one page of a size in points, of which 72 are an inch.
    ///
    /// # Errors
    /// When the drawing cannot be read back or a font cannot be cut down.
    pub fn pdf(&self, size_pt: [f64; 2]) -> Result<Vec<u8>, PdfError> {
        let tree = self.tree()?;
        let [wide, high] = size_pt.map(|side| side as f32);
        let mut sheet = Sheet::of(&tree);
        let scale = [wide / tree.size().width(), high / tree.size().height()];
        let to_page = Transform::from_row(scale[0], 0.0, 0.0, -scale[1], 0.0, high);
        sheet.group(tree.root(), to_page, 1.0);

        let mut count = Count(0);
        let [catalog, pages, page, content, about] = [(); 5].map(|()| count.next());
        let tiles: Vec<Ref> = sheet.tiles.iter().map(|_| count.next()).collect();
        let fonts = [(); 2].map(|()| count.next());
        let mut pdf = Pdf::new();
        let mut root = pdf.catalog(catalog);
        root.pages(pages).lang(TextStr("en"));
        root.viewer_preferences().display_doc_title(true);
        root.finish();
        pdf.pages(pages).kids([page]).count(1);
        let mut written = pdf.page(page);
        written.media_box(Rect::new(0.0, 0.0, wide, high)).parent(pages).contents(content);
        let mut resources = written.resources();
        opacities(&mut resources, &sheet.opacities);
        let mut named = resources.patterns();
        for (index, id) in tiles.iter().enumerate() {
            named.pair(Name(format!("P{index}").as_bytes()), *id);
        }
        named.finish();
        let mut named = resources.fonts();
        for (index, id) in fonts.iter().enumerate().filter(|(index, _)| !sheet.fonts[*index].said.is_empty()) {
            named.pair(Name(format!("F{index}").as_bytes()), *id);
        }
        named.finish();
        resources.finish();
        written.finish();
        let bytes = packed(&sheet.content.finish());
        pdf.stream(content, &bytes).filter(Filter::FlateDecode);
        for (id, tile) in tiles.iter().zip(&sheet.tiles) {
            write_tile(&mut pdf, *id, tile, &tree);
        }
        for ((id, letters), weight) in fonts.into_iter().zip(&sheet.fonts).zip([Weight::Regular, Weight::Bold]) {
            if !letters.said.is_empty() {
                write_font(&mut pdf, &mut count, id, weight, letters)?;
            }
        }
        let program = concat!("lostlink ", env!("CARGO_PKG_VERSION"));
        let mut info = pdf.document_info(about);
        info.title(TextStr(&self.title)).subject(TextStr(&self.under_title())).creator(TextStr(program));
        info.finish();
        Ok(pdf.finish())
    }
}
