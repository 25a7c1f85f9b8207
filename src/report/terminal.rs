//! The printer for terminals: 80 columns, aligned, in colour only where wanted, in plain ASCII where asked for.

use super::document::{Block, Document, On, Part, Table};
use crate::risk::cautions::DEFERENCE;
use anstyle::{AnsiColor, Style};
use std::fmt::Write as _;

/// Width of all text.
pub const COLUMNS: usize = 80;

/// How to write.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Manner {
    /// Escape sequences for colour and weight.
    pub colour: bool,
    /// Plain ASCII only.
    pub ascii: bool,
}

impl Manner {
    /// For a stream: colour on a terminal only, and not when `NO_COLOR` is set to anything (no-color.org).
    pub fn of(is_terminal: bool, no_color: Option<&std::ffi::OsStr>, ascii: bool) -> Manner {
        Manner { colour: is_terminal && no_color.is_none_or(std::ffi::OsStr::is_empty), ascii }
    }
}

/// A paragraph by itself, in the width of all text.
pub fn paragraph(text: &str, manner: Manner) -> String {
    let mut page = Page { text: String::new(), manner };
    page.paragraph(text, "", "", PLAIN);
    page.text
}

const PLAIN: Style = Style::new();
const BOLD: Style = Style::new().bold();
const DIM: Style = Style::new().dimmed();
const GOOD: Style = AnsiColor::Green.on_default().bold();
const BAD: Style = AnsiColor::Red.on_default().bold();

/// Prints a document.
pub fn print(document: &Document, manner: Manner) -> String {
    let mut page = Page { text: String::new(), manner };
    let invented = if document.invented { " (invented place and craft)" } else { "" };
    page.paragraph(&format!("{}{invented}", document.title), "", "", BOLD);
    page.paragraph(&document.question, "", "", PLAIN);
    if !document.first.is_empty() || !document.answer.is_empty() {
        page.text.push('\n');
    }
    for line in &document.first {
        page.paragraph(line, "CAUTION: ", "  ", BAD);
    }
    if !document.first.is_empty() {
        page.text.push('\n');
    }
    page.paragraph(&document.answer, "", "", GOOD);
    page.parts(&document.lead);
    for section in &document.sections {
        if section.parts.iter().any(printed) {
            page.heading(&section.heading);
            page.parts(&section.parts);
        }
    }
    page.heading("Cautions");
    for line in document.cautions.iter().map(String::as_str).chain([DEFERENCE]) {
        page.paragraph(line, "• ", "  ", PLAIN);
    }
    page.paragraph(&document.made, "", "", DIM);
    page.text
}

/// Whether a terminal prints a part.
fn printed(part: &Part) -> bool {
    part.on != On::Page && !matches!(part.block, Block::Figures(_))
}

/// A text being written.
struct Page {
    text: String,
    manner: Manner,
}

impl Page {
    fn parts(&mut self, parts: &[Part]) {
        for part in parts.iter().filter(|part| printed(part)) {
            match &part.block {
                Block::Line(text) | Block::Sure(text) => self.paragraph(text, "", "  ", PLAIN),
                Block::Strong(text) => self.paragraph(text, "", "  ", BOLD),
                Block::List(lines) | Block::Letters(lines) => {
                    lines.iter().for_each(|line| self.paragraph(line, "  ", "    ", PLAIN));
                }
                Block::Table(table) => self.table(table),
                Block::Numbers(numbers) => {
                    for number in numbers {
                        let note = if number.note.is_empty() { String::new() } else { format!(" ({})", number.note) };
                        self.paragraph(&format!("{}: {}{note}", number.what, number.value), "", "  ", PLAIN);
                    }
                }
                Block::Terms(terms) => {
                    for term in terms {
                        self.paragraph(&format!("{} = {}", term.key, term.value), "  ", "    ", PLAIN);
                    }
                }
                Block::Figures(_) => {}
            }
        }
    }

    fn plain(&self, text: &str) -> String {
        if !self.manner.ascii {
            return text.to_string();
        }
        text.chars().fold(String::new(), |mut out, c| {
            match c {
                '−' | '–' | '—' | '‑' => out.push('-'),
                '…' => out += "...",
                '±' => out += "+/-",
                '·' | '•' => out.push('*'),
                '×' => out.push('x'),
                '≤' => out += "<=",
                '≥' => out += ">=",
                '²' => out.push('2'),
                '³' => out.push('3'),
                '°' => out += " deg",
                '‘' | '’' => out.push('\''),
                '“' | '”' => out.push('"'),
                'ä' => out += "ae",
                'ö' => out += "oe",
                'ü' => out += "ue",
                'Ä' => out += "Ae",
                'Ö' => out += "Oe",
                'Ü' => out += "Ue",
                'ß' => out += "ss",
                c if c.is_ascii() && !c.is_control() => out.push(c),
                c if c.is_whitespace() => out.push(' '),
                _ => out.push('?'),
            }
            out
        })
    }

    fn styled(&self, style: Style, text: &str) -> String {
        if self.manner.colour { format!("{style}{text}{style:#}") } else { text.to_string() }
    }

    /// A paragraph wrapped to the width, later lines indented. Nothing for no text.
    fn paragraph(&mut self, text: &str, first: &str, rest: &str, style: Style) {
        if text.is_empty() {
            return;
        }
        let (text, first, rest) = (self.plain(text), self.plain(first), self.plain(rest));
        for (index, line) in wrap(&text, COLUMNS - first.chars().count().max(rest.chars().count())).iter().enumerate() {
            let lead = if index == 0 { &first } else { &rest };
            let _ = writeln!(self.text, "{lead}{}", self.styled(style, line));
        }
    }

    fn heading(&mut self, text: &str) {
        self.text.push('\n');
        self.paragraph(text, "", "", BOLD);
    }

    /// A caption, then rows of cells; the first column takes what is left and wraps, the others are aligned to the right.
    fn table(&mut self, table: &Table) {
        self.paragraph(&table.caption, "", "", PLAIN);
        let cells = |row: &[String]| -> Vec<String> { row.iter().map(|cell| self.plain(cell)).collect() };
        let head: Vec<String> = table.head.iter().map(|column| self.plain(&column.words)).collect();
        let rows: Vec<Vec<String>> = table.rows.iter().map(|row| cells(&row.cells)).collect();
        let width = |column: usize| {
            let all = rows.iter().filter_map(|row| row.get(column)).chain([&head[column]]);
            all.map(|cell| cell.chars().count()).max().unwrap_or(0)
        };
        let widths: Vec<usize> = (1..head.len()).map(width).collect();
        let taken: usize = widths.iter().map(|width| width + 2).sum();
        let first = COLUMNS.saturating_sub(taken + 1).max(12).min(width(0));
        let mut write = |row: &[String], style: Style| {
            for (index, line) in wrap(&row[0], first).iter().enumerate() {
                let mut out = format!("{line:<first$}");
                if index == 0 {
                    for (cell, width) in row[1..].iter().zip(&widths) {
                        let _ = write!(out, "  {cell:>width$}");
                    }
                }
                let _ = writeln!(self.text, "{}", self.styled(style, out.trim_end()));
            }
        };
        write(&head, DIM);
        for (cells, row) in rows.iter().zip(&table.rows) {
            write(cells, if row.strong { BOLD } else { PLAIN });
        }
    }
}

/// Breaks at spaces, and inside a word that is wider than a line.
pub fn wrap(text: &str, width: usize) -> Vec<String> {
    let mut lines = Vec::new();
    let mut line = String::new();
    for word in text.split_whitespace() {
        let mut word: Vec<char> = word.chars().collect();
        loop {
            let used = line.chars().count();
            let room = if used == 0 { width } else { width.saturating_sub(used + 1) };
            if word.len() <= room {
                if used > 0 {
                    line.push(' ');
                }
                line.extend(word.iter());
                break;
            }
            if used > 0 {
                lines.push(std::mem::take(&mut line));
                continue;
            }
            line.extend(word.drain(..width));
            lines.push(std::mem::take(&mut line));
        }
    }
    if !line.is_empty() || lines.is_empty() {
        lines.push(line);
    }
    lines
}
