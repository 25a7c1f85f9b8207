//! How a figure is to look: its ground, its width, the sheet it must fit on, its least text, its title, the language of its numbers.

use super::theme::Theme;
use std::borrow::Cow;

/// How a figure is to look. Lengths are in px of a page; a slide or a print enlarges the whole drawing, so its text is sized by
/// how few px it is across.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Look<'t> {
    /// Light or dark.
    pub theme: Theme,
    /// Width of the figure.
    pub width_px: f64,
    /// Height of the sheet on which everything must find room; `None`: as high as the figure needs.
    pub sheet_px: Option<f64>,
    /// No text is smaller.
    pub least_px: f64,
    /// What stands at the top.
    pub title: Title<'t>,
    /// How numbers are written.
    pub numbers: Numbers,
    /// Whether the figure itself says that it is a simulation: where it leaves the page that says so.
    pub cautioned: bool,
}

/// What stands at the top of a figure.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Title<'t> {
    /// The figure's own title.
    Own,
    /// This instead.
    Given(&'t str),
    /// Nothing: the text around the figure says it.
    None,
}

impl Look<'static> {
    /// For a page or a screen.
    pub const WIDE: Look<'static> = Look {
        theme: Theme::Light,
        width_px: 900.0,
        sheet_px: None,
        least_px: 0.0,
        title: Title::Own,
        numbers: Numbers::ENGLISH,
        cautioned: false,
    };
    /// For one half of a wide screen.
    pub const MIDDLE: Look<'static> = Look { width_px: 600.0, ..Look::WIDE };
    /// For a phone.
    pub const NARROW: Look<'static> = Look { width_px: 360.0, ..Look::WIDE };
}

impl Look<'_> {
    /// Whether things stand below each other rather than side by side. On a sheet they do: the legend takes its side.
    pub fn narrow(&self) -> bool {
        self.width_px < 600.0 || self.sheet_px.is_some()
    }

    /// Whether it is for a phone: every px of width counts.
    pub fn phone(&self) -> bool {
        self.narrow() && self.sheet_px.is_none()
    }

    /// Whether all must find room on a sheet: less is shown then, not smaller.
    pub fn sheet(&self) -> bool {
        self.sheet_px.is_some()
    }

    /// The same on dark ground.
    pub fn dark(self) -> Self {
        Look { theme: Theme::Dark, ..self }
    }
}

/// How numbers are written: the decimal mark, and what sets thousands apart.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Numbers {
    decimal: char,
    thousands: char,
}

/// A space that no line breaks at.
const SPACE: char = '\u{a0}';

impl Numbers {
    /// As everything else that the program prints.
    pub const ENGLISH: Numbers = Numbers { decimal: '.', thousands: ',' };

    /// Languages by their codes.
    ///
    /// # Source
    /// Unicode Common Locale Data Repository, `numbers/symbols`, from memory; French sets thousands apart by a narrow space there.
    pub const LANGUAGES: [(&'static str, Numbers); 15] = [
        ("en", Numbers::ENGLISH),
        ("de", Numbers { decimal: ',', thousands: '.' }),
        ("de-CH", Numbers { decimal: '.', thousands: '’' }),
        ("fr", Numbers { decimal: ',', thousands: SPACE }),
        ("es", Numbers { decimal: ',', thousands: '.' }),
        ("it", Numbers { decimal: ',', thousands: '.' }),
        ("nl", Numbers { decimal: ',', thousands: '.' }),
        ("pt", Numbers { decimal: ',', thousands: '.' }),
        ("da", Numbers { decimal: ',', thousands: '.' }),
        ("sv", Numbers { decimal: ',', thousands: SPACE }),
        ("nb", Numbers { decimal: ',', thousands: SPACE }),
        ("fi", Numbers { decimal: ',', thousands: SPACE }),
        ("pl", Numbers { decimal: ',', thousands: SPACE }),
        ("cs", Numbers { decimal: ',', thousands: SPACE }),
        ("uk", Numbers { decimal: ',', thousands: SPACE }),
    ];

    /// Those of a language.
    pub fn of(code: &str) -> Option<Numbers> {
        Self::LANGUAGES.iter().find(|known| known.0.eq_ignore_ascii_case(code)).map(|known| known.1)
    }

    /// A text of the program with its numbers written this way. Only marks between digits are touched, and a comma only where three
    /// digits follow it, so lists and ends of sentences stay as they are.
    pub fn write<'s>(&self, text: &'s str) -> Cow<'s, str> {
        if *self == Numbers::ENGLISH || !text.bytes().any(|b| b == b'.' || b == b',') {
            return Cow::Borrowed(text);
        }
        let letters: Vec<char> = text.chars().collect();
        let digits_from = |at: usize| letters[at..].iter().take_while(|c| c.is_ascii_digit()).count();
        let written = letters.iter().enumerate().map(|(at, &letter)| {
            let after = digits_from(at + 1);
            match letter {
                _ if at == 0 || !letters[at - 1].is_ascii_digit() => letter,
                '.' if after > 0 => self.decimal,
                ',' if after == 3 => self.thousands,
                _ => letter,
            }
        });
        Cow::Owned(written.collect())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_change_their_marks_and_words_stay() {
        let text = "1,000 lost links, 2.5 of 1,000 (−1,234,567.89 to 3); 1, 2, 3. From 10.";
        let of = |code: &str| Numbers::of(code).expect("a known language").write(text).into_owned();
        assert_eq!(of("en"), text);
        assert_eq!(of("de"), "1.000 lost links, 2,5 of 1.000 (−1.234.567,89 to 3); 1, 2, 3. From 10.");
        assert_eq!(
            of("FR").replace(SPACE, "_"),
            "1_000 lost links, 2,5 of 1_000 (−1_234_567,89 to 3); 1, 2, 3. From 10."
        );
        assert_eq!(of("de-CH"), "1’000 lost links, 2.5 of 1’000 (−1’234’567.89 to 3); 1, 2, 3. From 10.");
        assert_eq!(Numbers::of("xx"), None);
    }
}
