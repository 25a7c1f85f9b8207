//! The form in which a figure leaves the program: for a slide, for paper or for a screen, so large, as SVG, PNG or PDF.
//!
//! The sizes of text are what each use asks for, and the drawing is laid out anew for each: nothing is shrunk until it cannot be read.

use super::plot::canvas::{RasterError, escape, png};
use super::plot::pdf::PdfError;
use super::plot::theme::Theme;
use super::plot::{Figure, Look, Numbers, Title};
use resvg::usvg;
use std::fmt;

/// What a figure is for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Use {
    /// A slide of so many picture points: 7.5 inches high, as slide programs have it.
    Slide {
        /// Across and down.
        points: [u32; 2],
    },
    /// Print, so wide.
    Paper {
        /// Width, mm.
        width_mm: f64,
    },
    /// A page on a screen, so wide.
    Screen {
        /// Width, px.
        width_px: f64,
    },
}

/// Height of a slide.
const SLIDE_IN: f64 = 7.5;
/// Height of a slide in px of a page; with it goes how large text is on it.
const SLIDE_PX: f64 = 360.0;
/// Least text of a slide: 18 pt, a thirtieth of its height.
const SLIDE_TEXT_PX: f64 = 12.0;
/// Least text on paper, in px of a page and in points.
const PAPER_TEXT_PX: f64 = 11.0;
const PAPER_TEXT_PT: f64 = 8.0;
/// A screen's figures are those of the reports: nothing in them is smaller.
const SCREEN_TEXT_PX: f64 = 9.5;
const PT_PER_IN: f64 = 72.0;
const MM_PER_IN: f64 = 25.4;
/// Px of a page to an inch, as style sheets have it.
const PX_PER_IN: f64 = 96.0;
/// Picture points to a px of a page on paper: 297 to an inch. A whole number keeps patterns free of seams.
const PAPER_POINTS_PER_PX: f64 = 3.0;
/// Picture points to a px of a screen, as in reports.
const SCREEN_POINTS_PER_PX: f64 = 2.0;
/// A sheet grows by so much at a time until a figure that is too much for it fits, its text shrinking as much.
const GROWTH: f64 = 1.05;
/// Too high by less than this fits.
const FITS_PX: f64 = 0.5;
/// So often at most: to a quarter of the text.
const MOST_GROWTHS: usize = 28;

impl Use {
    /// A slide of 16:9.
    pub const SLIDE: Use = Use::Slide { points: [1920, 1080] };
    /// Both columns of a page.
    pub const PAPER: Use = Use::Paper { width_mm: 170.0 };
    /// As in reports.
    pub const SCREEN: Use = Use::Screen { width_px: 900.0 };

    /// Whether figures can be laid out at that size, and what would be accepted.
    ///
    /// # Errors
    /// What is accepted.
    pub fn check(self) -> Result<(), &'static str> {
        let (good, accepted) = match self {
            Use::Slide { points: [w, h] } => {
                let shape = f64::from(w) / f64::from(h.max(1));
                let good = (1.3..=2.4).contains(&shape) && (360..=4320).contains(&h);
                (good, "360 to 4320 px high, and 1.3 to 2.4 times as wide as high")
            }
            Use::Paper { width_mm } => ((80.0..=420.0).contains(&width_mm), "80 to 420 mm"),
            Use::Screen { width_px } => ((320.0..=2_400.0).contains(&width_px), "320 to 2400 px"),
        };
        if good { Ok(()) } else { Err(accepted) }
    }

    /// Its word.
    pub fn word(self) -> &'static str {
        match self {
            Use::Slide { .. } => "slide",
            Use::Paper { .. } => "paper",
            Use::Screen { .. } => "screen",
        }
    }

    /// The form that serves it, unless another is asked for.
    pub fn format(self) -> Format {
        match self {
            Use::Slide { .. } => Format::Png,
            Use::Paper { .. } => Format::Pdf,
            Use::Screen { .. } => Format::Svg,
        }
    }

    /// Inches to a px of a page, as long as the figure fits.
    fn inches_per_px(self) -> f64 {
        match self {
            Use::Slide { .. } => SLIDE_IN / SLIDE_PX,
            Use::Paper { .. } => PAPER_TEXT_PT / PAPER_TEXT_PX / PT_PER_IN,
            Use::Screen { .. } => 1.0 / PX_PER_IN,
        }
    }

    /// No text is smaller, in points, as long as the figure fits.
    pub fn least_text_pt(self) -> f64 {
        self.least_px() * self.inches_per_px() * PT_PER_IN
    }

    fn least_px(self) -> f64 {
        match self {
            Use::Slide { .. } => SLIDE_TEXT_PX,
            Use::Paper { .. } => PAPER_TEXT_PX,
            Use::Screen { .. } => SCREEN_TEXT_PX,
        }
    }
}

/// How a figure is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Format {
    /// Lines and areas; letters too, where the figure leaves the page whose fonts it would use.
    Svg,
    /// Picture points.
    Png,
    /// A page with the letters it uses.
    Pdf,
}

impl Format {
    /// All of them.
    pub const ALL: [Format; 3] = [Format::Svg, Format::Png, Format::Pdf];

    /// Ending of its files.
    pub fn ending(self) -> &'static str {
        match self {
            Format::Svg => "svg",
            Format::Png => "png",
            Format::Pdf => "pdf",
        }
    }
}

impl fmt::Display for Format {
    fn fmt(&self, f: &mut fmt::Formatter) -> fmt::Result {
        f.write_str(self.ending())
    }
}

/// All that is asked of a figure beside what it shows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Form<'t> {
    /// What for, and how large.
    pub usage: Use,
    /// Light or dark.
    pub theme: Theme,
    /// What stands at its top.
    pub title: Title<'t>,
    /// How its numbers are written.
    pub numbers: Numbers,
}

impl Form<'static> {
    /// With everything else as usual.
    pub fn of(usage: Use) -> Form<'static> {
        Form { usage, theme: Theme::Light, title: Title::Own, numbers: Numbers::ENGLISH }
    }
}

/// Why a figure could not be written.
#[derive(Debug, thiserror::Error)]
pub enum FormError {
    /// The drawing or the picture.
    #[error(transparent)]
    Picture(#[from] RasterError),
    /// The PDF.
    #[error(transparent)]
    Pdf(#[from] PdfError),
    /// The picture's file.
    #[error("the picture could not be encoded: {0}")]
    Png(#[from] png::EncodingError),
}

/// A figure laid out for its use.
#[derive(Debug, Clone)]
pub struct LaidOut {
    /// The drawing.
    pub figure: Figure,
    /// What for.
    pub usage: Use,
    /// Its size, inches.
    pub size_in: [f64; 2],
    /// No text on it is smaller, pt: [`Use::least_text_pt`] unless there was too much for its sheet.
    pub text_pt: f64,
}

impl Form<'_> {
    /// Lays a figure out. Too much for a sheet is laid out on a larger one, which is shrunk: nothing is ever cut.
    pub fn lay_out(&self, draw: impl Fn(Look) -> Option<Figure>) -> Option<LaidOut> {
        let per_px = self.usage.inches_per_px();
        let (width_px, sheet_px) = match self.usage {
            Use::Slide { points: [w, h] } => (SLIDE_PX * f64::from(w) / f64::from(h), Some(SLIDE_PX)),
            Use::Paper { width_mm } => (width_mm / MM_PER_IN / per_px, None),
            Use::Screen { width_px } => (width_px, None),
        };
        let look = Look {
            theme: self.theme,
            width_px,
            sheet_px,
            least_px: self.usage.least_px(),
            title: self.title,
            numbers: self.numbers,
            cautioned: true,
        };
        let mut figure = draw(look)?;
        let mut grown = 1.0;
        for _ in 0..MOST_GROWTHS {
            if figure.over_px <= FITS_PX {
                break;
            }
            grown *= GROWTH;
            figure = draw(Look { width_px: width_px * grown, sheet_px: sheet_px.map(|px| px * grown), ..look })?;
        }
        let size_in = match self.usage {
            Use::Slide { points: [w, h] } => [SLIDE_IN * f64::from(w) / f64::from(h), SLIDE_IN],
            Use::Paper { .. } | Use::Screen { .. } => [width_px * per_px, figure.layout.size_px[1] * per_px],
        };
        Some(LaidOut { text_pt: self.usage.least_text_pt() / grown, figure, usage: self.usage, size_in })
    }
}

impl LaidOut {
    /// The file.
    ///
    /// # Errors
    /// When the drawing cannot be read back or encoded.
    pub fn write(&self, format: Format) -> Result<Vec<u8>, FormError> {
        match format {
            Format::Svg => Ok(self.svg()?.into_bytes()),
            Format::Png => self.png(),
            Format::Pdf => Ok(self.figure.pdf(self.size_in.map(|side| side * PT_PER_IN))?),
        }
    }

    /// Picture points across and down.
    pub fn points(&self) -> [u32; 2] {
        let per_in = match self.usage {
            Use::Slide { points } => return points,
            Use::Paper { .. } => PAPER_POINTS_PER_PX / self.usage.inches_per_px(),
            Use::Screen { .. } => PX_PER_IN * SCREEN_POINTS_PER_PX,
        };
        self.size_in.map(|side| (side * per_in).round() as u32)
    }

    /// The drawing with its letters as outlines, so that it looks the same where our fonts are not.
    fn svg(&self) -> Result<String, FormError> {
        let side = |inches: f64| match self.usage {
            Use::Slide { points: [_, h] } => format!("{:.0}", inches / SLIDE_IN * f64::from(h)),
            Use::Paper { .. } => format!("{:.2}mm", inches * MM_PER_IN),
            Use::Screen { .. } => format!("{:.0}", inches * PX_PER_IN),
        };
        let tree = self.figure.tree()?;
        let options = usvg::WriteOptions {
            preserve_text: false,
            coordinates_precision: 2,
            transforms_precision: 6,
            indent: usvg::Indent::None,
            ..usvg::WriteOptions::default()
        };
        let drawn = tree.to_string(&options);
        let inner = drawn.find('>').map_or("", |end| &drawn[end + 1..]);
        let [w, h] = [tree.size().width(), tree.size().height()];
        let Figure { id, title, words, .. } = &self.figure;
        Ok(format!(
            "<svg width=\"{}\" height=\"{}\" viewBox=\"0 0 {w} {h}\" xmlns=\"http://www.w3.org/2000/svg\" \
             xmlns:xlink=\"http://www.w3.org/1999/xlink\" role=\"img\" aria-labelledby=\"{id}-t {id}-d\">\
             <title id=\"{id}-t\">{}</title><desc id=\"{id}-d\">{}</desc>{inner}",
            side(self.size_in[0]),
            side(self.size_in[1]),
            escape(title),
            escape(&format!("{} {words}", self.figure.under_title())),
        ))
    }

    fn png(&self) -> Result<Vec<u8>, FormError> {
        let points = self.points();
        let pixels = self.figure.pixels_of(points)?;
        let per_m = (f64::from(points[0]) / self.size_in[0] / MM_PER_IN * 1000.0).round() as u32;
        Ok(png(&pixels, |encoder| {
            encoder.set_pixel_dims(Some(png::PixelDimensions { xppu: per_m, yppu: per_m, unit: png::Unit::Meter }));
            encoder.add_itxt_chunk("Title".into(), self.figure.title.clone())?;
            encoder.add_itxt_chunk("Description".into(), self.figure.under_title())
        })?)
    }
}
