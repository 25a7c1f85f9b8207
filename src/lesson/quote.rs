//! Texts that quote measured numbers by name: `{low.struck}`.

/// A text in pieces.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Quoting(Vec<Piece>);

#[derive(Debug, Clone, PartialEq)]
enum Piece {
    Words(String),
    Name(String),
}

impl Quoting {
    /// From its text. A brace that is not closed quotes what follows it, which no name fits.
    pub fn new(text: &str) -> Quoting {
        let mut pieces = Vec::new();
        let mut rest = text.trim();
        while let Some(at) = rest.find('{') {
            pieces.push(Piece::Words(rest[..at].into()));
            let inner = &rest[at + 1..];
            let end = inner.find('}').unwrap_or(inner.len());
            pieces.push(Piece::Name(inner[..end].trim().into()));
            rest = inner.get(end + 1..).unwrap_or_default();
        }
        pieces.push(Piece::Words(rest.into()));
        Quoting(pieces)
    }

    /// The names it quotes.
    pub fn names(&self) -> impl Iterator<Item = &str> {
        self.0.iter().filter_map(|piece| match piece {
            Piece::Name(name) => Some(name.as_str()),
            Piece::Words(_) => None,
        })
    }

    /// The text with what `value` gives for each name.
    pub fn filled(&self, value: impl Fn(&str) -> String) -> String {
        let one = |piece: &Piece| match piece {
            Piece::Words(words) => words.clone(),
            Piece::Name(name) => value(name),
        };
        let text: String = self.0.iter().map(one).collect();
        // Lines of a file are no lines of the page.
        text.split_whitespace().collect::<Vec<_>>().join(" ")
    }
}
