//! Colours, patterns and shapes. Colour never stands alone: a pattern or a shape says the same.

use crate::flight::{Headline, Tier};
use crate::site::ZoneKind;

/// Light or dark ground.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Theme {
    /// Dark ink on white.
    Light,
    /// Light ink on near-black.
    Dark,
}

/// What a colour is for. Each has one value per theme; in the page it becomes a style variable.
///
/// # Source
/// Data colours: Okabe and Ito, "Color universal design" (2008), lightened a little on dark ground; the greys are our own.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Ink {
    /// Ground of the figure.
    Paper,
    /// Text and strong lines.
    Ink,
    /// Lesser text.
    Soft,
    /// Grid lines.
    Grid,
    /// Strips and bands.
    Band,
    /// Lines of patterns upon colours.
    Hatch,
    /// Bluish green.
    Green,
    /// Sky blue.
    Sky,
    /// Yellow.
    Yellow,
    /// Orange.
    Orange,
    /// Vermilion.
    Vermilion,
    /// Blue.
    Blue,
    /// Reddish purple.
    Purple,
    /// Grey for what is not settled.
    Grey,
}

impl Ink {
    /// All of them.
    pub const ALL: [Ink; 14] = [
        Ink::Paper,
        Ink::Ink,
        Ink::Soft,
        Ink::Grid,
        Ink::Band,
        Ink::Hatch,
        Ink::Green,
        Ink::Sky,
        Ink::Yellow,
        Ink::Orange,
        Ink::Vermilion,
        Ink::Blue,
        Ink::Purple,
        Ink::Grey,
    ];

    /// Name of the page's style variable; red, green, blue on light and on dark ground.
    fn row(self) -> (&'static str, [[u8; 3]; 2]) {
        match self {
            Ink::Paper => ("--paper", [[255, 255, 255], [20, 24, 29]]),
            Ink::Ink => ("--ink", [[31, 35, 40], [232, 236, 241]]),
            Ink::Soft => ("--soft", [[87, 96, 106], [166, 175, 186]]),
            Ink::Grid => ("--grid", [[217, 222, 227], [54, 62, 71]]),
            Ink::Band => ("--band", [[238, 241, 244], [36, 43, 51]]),
            Ink::Hatch => ("--hatch", [[38, 41, 46], [18, 20, 24]]),
            Ink::Green => ("--green", [[0, 158, 115], [25, 178, 135]]),
            Ink::Sky => ("--sky", [[86, 180, 233], [108, 192, 240]]),
            Ink::Yellow => ("--yellow", [[240, 228, 66], [238, 226, 84]]),
            Ink::Orange => ("--orange", [[230, 159, 0], [236, 171, 34]]),
            Ink::Vermilion => ("--vermilion", [[213, 94, 0], [232, 115, 28]]),
            Ink::Blue => ("--blue", [[0, 114, 178], [64, 150, 212]]),
            Ink::Purple => ("--purple", [[204, 121, 167], [216, 140, 181]]),
            Ink::Grey => ("--grey", [[140, 149, 159], [128, 138, 150]]),
        }
    }

    /// Red, green, blue.
    pub fn rgb(self, theme: Theme) -> [u8; 3] {
        self.row().1[usize::from(theme == Theme::Dark)]
    }

    /// `#RRGGBB`, as the figures write it.
    pub fn hex(self, theme: Theme) -> String {
        let [r, g, b] = self.rgb(theme);
        format!("#{r:02X}{g:02X}{b:02X}")
    }

    /// Name of the page's style variable.
    pub fn variable(self) -> &'static str {
        self.row().0
    }
}

/// Patterns of areas.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Pattern {
    /// Plain.
    Plain,
    /// Rising diagonals.
    Rising,
    /// Falling diagonals.
    Falling,
    /// Diagonals both ways.
    Crossed,
    /// Dots.
    Dots,
    /// Horizontal lines.
    Level,
    /// Upright lines.
    Upright,
    /// Upright and horizontal lines.
    Squares,
    /// Broken horizontal lines, set off.
    Waves,
}

/// Shapes of points.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Shape {
    /// Filled disc.
    Disc,
    /// Small filled disc.
    Dot,
    /// Ring.
    Ring,
    /// Triangle, point up.
    Up,
    /// Triangle, point down.
    Down,
    /// Square.
    Square,
    /// Square on its corner.
    Diamond,
    /// ×.
    Cross,
    /// +.
    Plus,
    /// Hollow square.
    Frame,
    /// Hollow diamond.
    Lozenge,
    /// Hollow triangle.
    Hollow,
}

impl Shape {
    /// Its word, for scripts.
    pub fn word(self) -> String {
        format!("{self:?}").to_lowercase()
    }
}

/// How one kind of thing looks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Style {
    /// Colour.
    pub ink: Ink,
    /// Pattern, as an area.
    pub pattern: Pattern,
    /// Shape, as a point.
    pub shape: Shape,
}

/// How a headline outcome looks: colour by group, in order of harm; pattern and shape within it. Danger has the darkest ink and
/// filled shapes, so that a single one among thousands is seen.
pub fn of_headline(headline: Headline) -> Style {
    let (ink, pattern, shape) = match headline {
        Headline::HardAmongOthers => (Ink::Ink, Pattern::Crossed, Shape::Up),
        Headline::OnRoad => (Ink::Ink, Pattern::Squares, Shape::Square),
        Headline::AmongOthers => (Ink::Ink, Pattern::Dots, Shape::Diamond),
        Headline::HardAmongCrew => (Ink::Ink, Pattern::Level, Shape::Down),
        Headline::LeftArea => (Ink::Purple, Pattern::Rising, Shape::Diamond),
        Headline::OnProperty => (Ink::Purple, Pattern::Level, Shape::Down),
        Headline::Struck => (Ink::Orange, Pattern::Falling, Shape::Cross),
        Headline::RanDry => (Ink::Orange, Pattern::Dots, Shape::Plus),
        Headline::InWater => (Ink::Orange, Pattern::Waves, Shape::Frame),
        Headline::InTrees => (Ink::Orange, Pattern::Squares, Shape::Lozenge),
        Headline::Fell => (Ink::Orange, Pattern::Upright, Shape::Hollow),
        Headline::RoughOrHard => (Ink::Yellow, Pattern::Dots, Shape::Lozenge),
        Headline::ClearElsewhere => (Ink::Sky, Pattern::Rising, Shape::Disc),
        Headline::AtHome => (Ink::Green, Pattern::Plain, Shape::Dot),
        Headline::PilotBack => (Ink::Blue, Pattern::Level, Shape::Ring),
        Headline::NotSettled => (Ink::Grey, Pattern::Crossed, Shape::Ring),
    };
    Style { ink, pattern, shape }
}

/// How a tier of headline outcomes looks.
pub fn of_tier(tier: Tier) -> Style {
    let (ink, pattern) = match tier {
        Tier::Grave => (Ink::Ink, Pattern::Crossed),
        Tier::Danger => (Ink::Ink, Pattern::Dots),
        Tier::Trespass => (Ink::Purple, Pattern::Rising),
        Tier::CraftLost => (Ink::Orange, Pattern::Falling),
        Tier::CraftAtRisk => (Ink::Yellow, Pattern::Dots),
        Tier::Fine => (Ink::Green, Pattern::Plain),
        Tier::NotSettled => (Ink::Grey, Pattern::Level),
    };
    Style { ink, pattern, shape: Shape::Square }
}

/// How a zone looks on the map, and its words.
pub fn of_zone(kind: ZoneKind) -> (Ink, Pattern, &'static str) {
    match kind {
        ZoneKind::Clear => (Ink::Green, Pattern::Plain, "open ground"),
        ZoneKind::Rough => (Ink::Orange, Pattern::Falling, "rough ground"),
        ZoneKind::Water => (Ink::Blue, Pattern::Waves, "water"),
        ZoneKind::Road => (Ink::Soft, Pattern::Level, "road"),
        ZoneKind::People => (Ink::Vermilion, Pattern::Dots, "people"),
        ZoneKind::Property => (Ink::Purple, Pattern::Squares, "property of others"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::HashSet;

    #[test]
    fn no_two_outcomes_share_colour_and_pattern_or_colour_and_shape() {
        let styles: Vec<Style> = Headline::ALL.iter().map(|&headline| of_headline(headline)).collect();
        let patterns: HashSet<_> = styles.iter().map(|style| (style.ink, style.pattern)).collect();
        let shapes: HashSet<_> = styles.iter().map(|style| (style.ink, style.shape)).collect();
        assert_eq!((patterns.len(), shapes.len()), (Headline::ALL.len(), Headline::ALL.len()));
        // Neighbours by harm differ in pattern too, so that grey copies keep them apart.
        assert!(styles.windows(2).all(|pair| pair[0].pattern != pair[1].pattern));
    }

    #[test]
    fn every_colour_has_a_value_of_its_own() {
        for theme in [Theme::Light, Theme::Dark] {
            let values: HashSet<_> = Ink::ALL.iter().map(|ink| ink.rgb(theme)).collect();
            assert_eq!(values.len(), Ink::ALL.len());
            assert!(values.iter().all(|rgb| ![1, 2].contains(&rgb[0])), "these mark patterns and raw pieces");
        }
    }

    /// WCAG 2 contrast of text on its ground: at least 4.5.
    #[test]
    fn text_is_readable_on_its_ground() {
        let luminance = |rgb: [u8; 3]| -> f64 {
            let part = |value: u8| {
                let c = f64::from(value) / 255.0;
                if c <= 0.040_45 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) }
            };
            0.2126 * part(rgb[0]) + 0.7152 * part(rgb[1]) + 0.0722 * part(rgb[2])
        };
        for theme in [Theme::Light, Theme::Dark] {
            for ground in [Ink::Paper, Ink::Band] {
                for text in [Ink::Ink, Ink::Soft] {
                    let (a, b) = (luminance(text.rgb(theme)), luminance(ground.rgb(theme)));
                    let contrast = (a.max(b) + 0.05) / (a.min(b) + 0.05);
                    assert!(contrast >= 4.5, "{text:?} on {ground:?} in {theme:?}: {contrast:.2}");
                }
            }
        }
    }
}
