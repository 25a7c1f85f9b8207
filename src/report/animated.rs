//! One lost link as an animated picture for slides: an APNG, which browsers and slide programs that run in them play.
//!
//! Programs that do not know the animation show its still, in which everything has ended.

use super::plot::canvas::RasterError;
use super::plot::loss;
use crate::story::Told;
use rayon::prelude::*;
use resvg::tiny_skia::Pixmap;

/// Pictures of the animation.
const FRAMES: u32 = 48;
/// Pictures a second.
const PER_SECOND: u16 = 6;
/// How long the last one stays, s.
const LAST_S: u16 = 4;
/// So much of the flight has a third of the pictures, when it is long: what happens soon after the loss can be followed.
const FIRST_THIRD_S: f64 = 45.0;

/// Why there is no animation.
#[derive(Debug, thiserror::Error)]
pub enum AnimatedError {
    /// A picture could not be drawn.
    #[error(transparent)]
    Raster(#[from] RasterError),
    /// The animation could not be encoded.
    #[error("the animation could not be encoded: {0}")]
    Encode(#[from] png::EncodingError),
}

/// Times of the pictures, s after take-off: evenly spaced, or with the later ones farther apart when the flight is long.
pub fn times_s(told: &Told) -> Vec<f64> {
    let [from_s, to_s] = told.window_s();
    let span_s = to_s - from_s;
    let power = (libm::log(span_s / FIRST_THIRD_S) / libm::log(3.0)).max(1.0);
    (0..FRAMES).map(|k| from_s + span_s * libm::pow(f64::from(k) / f64::from(FRAMES - 1), power)).collect()
}

/// A picture's part that differs from the one before it.
struct Part {
    x: u32,
    y: u32,
    width: u32,
    height: u32,
    rgb: Vec<u8>,
}

impl Part {
    /// Without `before`: all of it.
    fn of(now: &Pixmap, before: Option<&Pixmap>) -> Part {
        let (width, height) = (now.width(), now.height());
        let [mut left, mut top, mut right, mut bottom] = [width, height, 0, 0];
        match before {
            None => [left, top, right, bottom] = [0, 0, width - 1, height - 1],
            Some(before) => {
                let pairs = now.data().chunks_exact(4).zip(before.data().chunks_exact(4));
                for (index, _) in (0u32..).zip(pairs).filter(|(_, (a, b))| a != b) {
                    let (x, y) = (index % width, index / width);
                    (left, top, right, bottom) = (left.min(x), top.min(y), right.max(x), bottom.max(y));
                }
                // A picture like the one before it still needs a point.
                if left > right {
                    [left, top, right, bottom] = [0; 4];
                }
            }
        }
        let mut rgb = Vec::new();
        for y in top..=bottom {
            let from = 4 * (y * width + left) as usize;
            let to = 4 * (y * width + right + 1) as usize;
            rgb.extend(now.data()[from..to].chunks_exact(4).flat_map(|point| [point[0], point[1], point[2]]));
        }
        Part { x: left, y: top, width: right - left + 1, height: bottom - top + 1, rgb }
    }
}

/// The animation at slide size, 16:9.
///
/// # Errors
/// When a picture cannot be drawn or encoded.
pub fn apng(told: &Told) -> Result<Vec<u8>, AnimatedError> {
    let times_s = times_s(told);
    let pictures: Vec<Pixmap> =
        times_s.par_iter().map(|&time_s| loss::slide(told, time_s).pixels(1.0)).collect::<Result<_, _>>()?;
    let (Some(first), Some(last)) = (pictures.first(), pictures.last()) else { return Ok(Vec::new()) };
    let mut bytes = Vec::new();
    let mut encoder = png::Encoder::new(&mut bytes, first.width(), first.height());
    encoder.set_color(png::ColorType::Rgb);
    encoder.set_depth(png::BitDepth::Eight);
    encoder.set_animated(FRAMES, 0)?;
    encoder.set_sep_def_img(true)?;
    encoder.set_frame_delay(1, PER_SECOND)?;
    let mut writer = encoder.write_header()?;
    writer.write_image_data(&Part::of(last, None).rgb)?;
    let mut before: Option<&Pixmap> = None;
    for (index, picture) in pictures.iter().enumerate() {
        let part = Part::of(picture, before);
        writer.reset_frame_position()?;
        writer.set_frame_dimension(part.width, part.height)?;
        writer.set_frame_position(part.x, part.y)?;
        if index + 1 == pictures.len() {
            writer.set_frame_delay(LAST_S, 1)?;
        }
        writer.write_image_data(&part.rgb)?;
        before = Some(picture);
    }
    writer.finish()?;
    Ok(bytes)
}
