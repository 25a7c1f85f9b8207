//! What a command says, as one document: `terminal` prints it as text, `page` as a page. It holds words, tables and the places of
//! figures; the data behind it is the command's JSON.

/// Which printers print a part. A page has room for what a terminal leaves out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum On {
    /// Terminal and page.
    Both,
    /// The terminal, where the page has a figure or a longer table.
    Terminal,
    /// The page.
    Page,
}

/// A document.
#[derive(Debug, Clone, Default)]
pub struct Document {
    /// What kind of document, above its title.
    pub kind: &'static str,
    /// What it is about, after the title in the browser's tab.
    pub tab: &'static str,
    /// Title of the scenario.
    pub title: String,
    /// Whether place and craft are invented.
    pub invented: bool,
    /// The question that it answers.
    pub question: String,
    /// Cautions that stand before the answer.
    pub first: Vec<String>,
    /// The answer; a page prints its first sentence large.
    pub answer: String,
    /// What stands with the answer.
    pub lead: Vec<Part>,
    /// Figure beside the answer where the screen is wide; on paper it heads the second sheet.
    pub beside: Option<&'static str>,
    /// What the numbers are not.
    pub cautions: Vec<String>,
    /// Whether the cautions stand in a box before the sections of a page.
    pub boxed: bool,
    /// Sections in order.
    pub sections: Vec<Section>,
    /// How it was made, in a line under a terminal's text.
    pub made: String,
}

/// Where a section stands on paper.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Paper {
    /// After the one before.
    #[default]
    Goes,
    /// At the top of a sheet, which those that follow share.
    Sheet,
    /// At the top of a sheet, with as many more as it and those that follow need.
    Annex,
}

/// A section.
#[derive(Debug, Clone)]
pub struct Section {
    /// Short name, for links.
    pub id: &'static str,
    /// Name in the list of contents.
    pub name: &'static str,
    /// Heading.
    pub heading: String,
    /// Where it stands on paper.
    pub paper: Paper,
    /// What stands in it. Nothing that the printer prints: no section there.
    pub parts: Vec<Part>,
}

/// A part and where it is printed.
#[derive(Debug, Clone)]
pub struct Part {
    /// Where.
    pub on: On,
    /// What.
    pub block: Block,
}

/// A part of a section.
#[derive(Debug, Clone)]
pub enum Block {
    /// A paragraph.
    Line(String),
    /// A paragraph that carries an answer.
    Strong(String),
    /// A paragraph on how sure the answer is.
    Sure(String),
    /// Points.
    List(Vec<String>),
    /// Points lettered a, b, c.
    Letters(Vec<String>),
    /// Terms with what stands for each, as in code.
    Terms(Vec<Term>),
    /// A table.
    Table(Table),
    /// Numbers in boxes.
    Numbers(Vec<Number>),
    /// The figures of this name: one, or all numbered ones.
    Figures(&'static str),
}

/// An input with its value.
#[derive(Debug, Clone)]
pub struct Term {
    /// Key.
    pub key: String,
    /// Value.
    pub value: String,
    /// Where it was stated; `None`: a default.
    pub line: Option<usize>,
    /// Where it comes from.
    pub note: String,
}

/// One of the numbers at the top.
#[derive(Debug, Clone)]
pub struct Number {
    /// What it is.
    pub what: String,
    /// Its value with unit.
    pub value: String,
    /// How sure, or from what.
    pub note: String,
}

/// A table. The first cell of a row names it.
#[derive(Debug, Clone, Default)]
pub struct Table {
    /// What it is, for those who do not see it.
    pub label: String,
    /// Caption.
    pub caption: String,
    /// Style: `tight`, `short`, or none.
    pub class: &'static str,
    /// Whether it stays on one sheet of paper.
    pub keep: bool,
    /// Columns.
    pub head: Vec<Column>,
    /// Rows.
    pub rows: Vec<Row>,
}

/// A column.
#[derive(Debug, Clone)]
pub struct Column {
    /// Heading.
    pub words: String,
    /// Whether its cells are numbers.
    pub number: bool,
}

/// A row.
#[derive(Debug, Clone)]
pub struct Row {
    /// Cells, one per column.
    pub cells: Vec<String>,
    /// Whether it is the one to look at.
    pub strong: bool,
}

impl Section {
    /// An empty section.
    pub fn new(id: &'static str, name: &'static str, heading: impl Into<String>) -> Section {
        Section { id, name, heading: heading.into(), paper: Paper::Goes, parts: vec![] }
    }

    /// At the top of a sheet of paper.
    pub fn on_paper(self, paper: Paper) -> Section {
        Section { paper, ..self }
    }

    /// With a part.
    pub fn with(mut self, on: On, block: Block) -> Section {
        // Nothing to say is said by leaving it out.
        let empty = match &block {
            Block::Line(text) | Block::Strong(text) | Block::Sure(text) => text.is_empty(),
            Block::List(lines) | Block::Letters(lines) => lines.is_empty(),
            Block::Terms(terms) => terms.is_empty(),
            Block::Table(table) => table.rows.is_empty(),
            Block::Numbers(numbers) => numbers.is_empty(),
            Block::Figures(_) => false,
        };
        if !empty {
            self.parts.push(Part { on, block });
        }
        self
    }

    /// With a paragraph for both.
    pub fn line(self, text: impl Into<String>) -> Section {
        self.with(On::Both, Block::Line(text.into()))
    }

    /// With paragraphs for both.
    pub fn lines(self, lines: impl IntoIterator<Item = String>) -> Section {
        lines.into_iter().fold(self, Section::line)
    }
}

impl Part {
    /// A part for both.
    pub fn both(block: Block) -> Part {
        Part { on: On::Both, block }
    }

    /// A part for pages.
    pub fn page(block: Block) -> Part {
        Part { on: On::Page, block }
    }

    /// A part for terminals.
    pub fn terminal(block: Block) -> Part {
        Part { on: On::Terminal, block }
    }
}

impl Number {
    /// From its words.
    pub fn new(what: impl Into<String>, value: impl Into<String>, note: impl Into<String>) -> Number {
        Number { what: what.into(), value: value.into(), note: note.into() }
    }
}

impl Table {
    /// A table with its columns; a name that starts with `#` heads numbers.
    pub fn new(caption: impl Into<String>, columns: &[&str]) -> Table {
        let head = columns
            .iter()
            .map(|name| Column { words: name.trim_start_matches('#').into(), number: name.starts_with('#') });
        Table { caption: caption.into(), head: head.collect(), ..Table::default() }
    }

    /// Said of it to those who do not see it.
    pub fn label(self, label: impl Into<String>) -> Table {
        Table { label: label.into(), ..self }
    }

    /// In a style.
    pub fn class(self, class: &'static str) -> Table {
        Table { class, ..self }
    }

    /// On one sheet of paper.
    pub fn kept(self) -> Table {
        Table { keep: true, ..self }
    }

    /// With these rows.
    pub fn rows(mut self, rows: impl IntoIterator<Item = Vec<String>>) -> Table {
        self.rows.extend(rows.into_iter().map(|cells| Row { cells, strong: false }));
        self
    }

    /// With one row.
    pub fn row(&mut self, cells: Vec<String>, strong: bool) {
        self.rows.push(Row { cells, strong });
    }

    /// As a part of a document.
    pub fn block(self) -> Block {
        Block::Table(self)
    }
}
