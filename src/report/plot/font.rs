//! Widths of text, read from the committed fonts, so that layouts are computed and not guessed.

use std::sync::OnceLock;

/// Inter Regular, a subset.
pub static REGULAR: &[u8] = include_bytes!("../../../assets/fonts/Inter-Regular.ttf");
/// Inter Bold, a subset.
pub static BOLD: &[u8] = include_bytes!("../../../assets/fonts/Inter-Bold.ttf");

/// Weight of a text.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Weight {
    /// Regular.
    Regular,
    /// Bold.
    Bold,
}

/// Advance widths of one face.
struct Face {
    units_per_em: f64,
    advances: Vec<u16>,
    /// Character ranges of the format-4 map: first, last, glyph of the first or the glyphs one by one.
    glyphs: Vec<(u32, u16)>,
}

fn u16_at(data: &[u8], at: usize) -> u16 {
    u16::from_be_bytes([data[at], data[at + 1]])
}

fn u32_at(data: &[u8], at: usize) -> usize {
    u32::from_be_bytes([data[at], data[at + 1], data[at + 2], data[at + 3]]) as usize
}

impl Face {
    /// Reads the tables `head`, `hhea`, `hmtx` and the format-4 `cmap` of a committed font.
    ///
    /// # Panics
    /// When the font is not one of ours; a unit test reads both.
    ///
    /// # Source
    /// OpenType specification, tables `cmap` (format 4), `hhea`, `hmtx`, from memory.
    fn read(data: &[u8]) -> Face {
        let table = |tag: &[u8; 4]| -> usize {
            (0..u16_at(data, 4) as usize)
                .map(|index| 12 + 16 * index)
                .find(|&record| &data[record..record + 4] == tag)
                .map(|record| u32_at(data, record + 8))
                .expect("the font has this table")
        };
        let units_per_em = f64::from(u16_at(data, table(b"head") + 18));
        let n_metrics = u16_at(data, table(b"hhea") + 34) as usize;
        let hmtx = table(b"hmtx");
        let advances = (0..n_metrics).map(|glyph| u16_at(data, hmtx + 4 * glyph)).collect();
        let cmap = table(b"cmap");
        let map = (0..u16_at(data, cmap + 2) as usize)
            .map(|index| cmap + u32_at(data, cmap + 4 + 8 * index + 4))
            .find(|&at| u16_at(data, at) == 4)
            .expect("the font has a format-4 character map");
        let n_segments = u16_at(data, map + 6) as usize / 2;
        let (ends, starts) = (map + 14, map + 16 + 2 * n_segments);
        let (deltas, offsets) = (starts + 2 * n_segments, starts + 4 * n_segments);
        let mut glyphs = Vec::new();
        for segment in 0..n_segments {
            let (first, last) = (u16_at(data, starts + 2 * segment), u16_at(data, ends + 2 * segment));
            let (delta, offset) = (u16_at(data, deltas + 2 * segment), u16_at(data, offsets + 2 * segment));
            for code in first..=last.min(0xFFFE) {
                let glyph = if offset == 0 {
                    code.wrapping_add(delta)
                } else {
                    let at = offsets + 2 * segment + offset as usize + 2 * (code - first) as usize;
                    match u16_at(data, at) {
                        0 => 0,
                        glyph => glyph.wrapping_add(delta),
                    }
                };
                if glyph != 0 {
                    glyphs.push((u32::from(code), glyph));
                }
            }
        }
        glyphs.sort_unstable();
        Face { units_per_em, advances, glyphs }
    }

    fn glyph_em(&self, glyph: u16) -> f64 {
        let units = self.advances.get(usize::from(glyph)).or(self.advances.last()).copied().unwrap_or(0);
        f64::from(units) / self.units_per_em
    }

    fn advance_em(&self, character: char) -> f64 {
        match self.glyphs.binary_search_by_key(&(character as u32), |&(code, _)| code) {
            Ok(found) => self.glyph_em(self.glyphs[found].1),
            // A character from a fallback face: assume a wide one.
            Err(_) => 1.0,
        }
    }
}

fn face(weight: Weight) -> &'static Face {
    static FACES: OnceLock<[Face; 2]> = OnceLock::new();
    let faces = FACES.get_or_init(|| [Face::read(REGULAR), Face::read(BOLD)]);
    &faces[(weight == Weight::Bold) as usize]
}

/// Units of a face to its font size.
pub fn units_per_em(weight: Weight) -> f64 {
    face(weight).units_per_em
}

/// Width of a glyph by its number, over the font size.
pub fn advance_em(glyph: u16, weight: Weight) -> f64 {
    face(weight).glyph_em(glyph)
}

/// Width of a text in px at a font size in px, without kerning (which only makes it narrower, by up to about 2 %).
pub fn width_px(text: &str, size_px: f64, weight: Weight) -> f64 {
    let face = face(weight);
    text.chars().map(|character| face.advance_em(character)).sum::<f64>() * size_px
}

/// Breaks a text into lines no wider than `limit_px`, at spaces, and inside a word only when it alone is too wide.
pub fn wrap(text: &str, size_px: f64, weight: Weight, limit_px: f64) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    let mut line = String::new();
    for word in text.split_whitespace() {
        let longer = if line.is_empty() { word.to_string() } else { format!("{line} {word}") };
        if width_px(&longer, size_px, weight) <= limit_px {
            line = longer;
            continue;
        }
        if !line.is_empty() {
            lines.push(std::mem::take(&mut line));
        }
        for character in word.chars() {
            if !line.is_empty() && width_px(&format!("{line}{character}"), size_px, weight) > limit_px {
                lines.push(std::mem::take(&mut line));
            }
            line.push(character);
        }
    }
    if !line.is_empty() || lines.is_empty() {
        lines.push(line);
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Advances of Inter 4 read with fonttools: the letter A in both weights; 2048 units per em.
    #[test]
    fn widths_are_those_of_the_font_tables() {
        assert!(width_px("", 12.0, Weight::Regular) == 0.0);
        let regular = width_px("A", 2048.0, Weight::Regular);
        let bold = width_px("A", 2048.0, Weight::Bold);
        assert_eq!((regular, bold), (1413.0, 1529.0));
        assert!(width_px("−≤°µ·–…²", 10.0, Weight::Regular) < 70.0, "these are in the subset, not fallbacks of one em");
        let sum = width_px("ab", 10.0, Weight::Bold);
        assert!((sum - width_px("a", 10.0, Weight::Bold) - width_px("b", 10.0, Weight::Bold)).abs() < 1e-12);
    }

    #[test]
    fn wrapped_lines_fit_and_lose_nothing() {
        let text = "hold for twenty seconds then return-home-at-a-considerable-height and land";
        let lines = wrap(text, 12.0, Weight::Regular, 90.0);
        assert!(lines.iter().all(|line| width_px(line, 12.0, Weight::Regular) <= 90.0));
        assert_eq!(lines.concat().replace(' ', ""), text.replace(' ', ""));
        assert_eq!(wrap("", 12.0, Weight::Regular, 50.0), vec![String::new()]);
    }
}
