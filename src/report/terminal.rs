//! The answer on a terminal: 80 columns, aligned, in colour only where wanted.

use super::html::recommended;
use super::words;
use crate::flight::Group;
use crate::report::plot;
use crate::risk::cautions;
use crate::risk::summary::{Compared, Heights, PolicySummary, Share, Summary};
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

/// A text being written: 80 columns, styled and plain as its manner says.
pub(super) struct Page {
    text: String,
    manner: Manner,
}

impl Page {
    /// An empty page.
    pub(super) fn new(manner: Manner) -> Page {
        Page { text: String::new(), manner }
    }

    /// A bold title.
    pub(super) fn title(&mut self, text: &str) {
        self.paragraph(text, "", "", BOLD);
    }

    /// A plain paragraph.
    pub(super) fn line(&mut self, text: &str) {
        self.paragraph(text, "", "  ", Style::new());
    }

    /// Lines as they are, for text that is laid out already.
    pub(super) fn laid_out(&mut self, text: &str) {
        self.text += &text.lines().map(|line| self.plain(line) + "\n").collect::<String>();
    }

    /// A line set in.
    pub(super) fn laid_out_item(&mut self, text: &str) {
        self.paragraph(text, "  ", "    ", Style::new());
    }

    /// A table without marks.
    pub(super) fn plain_table(&mut self, head: &[&str], rows: &[Vec<String>]) {
        self.table(head, rows, &[]);
    }

    /// The text.
    pub(super) fn finish(self) -> String {
        self.text
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

    fn blank(&mut self) {
        self.text.push('\n');
    }

    /// A paragraph wrapped to the width, later lines indented.
    fn paragraph(&mut self, text: &str, first: &str, rest: &str, style: Style) {
        let text = self.plain(text);
        let (first, rest) = (self.plain(first), self.plain(rest));
        for (index, line) in wrap(&text, COLUMNS - first.chars().count().max(rest.chars().count())).iter().enumerate() {
            let lead = if index == 0 { &first } else { &rest };
            let _ = writeln!(self.text, "{lead}{}", self.styled(style, line));
        }
    }

    /// Cautions before the answer.
    pub(super) fn first(&mut self, lines: &[String]) {
        for line in lines {
            self.paragraph(line, "CAUTION: ", "  ", BAD);
        }
        if !lines.is_empty() {
            self.blank();
        }
    }

    pub(super) fn heading(&mut self, text: &str) {
        self.blank();
        self.paragraph(text, "", "", BOLD);
    }

    /// Rows of cells; the first column takes what is left and wraps, the others are aligned to the right.
    fn table(&mut self, head: &[&str], rows: &[Vec<String>], marks: &[Style]) {
        let plain = |page: &Page, row: &[String]| -> Vec<String> { row.iter().map(|cell| page.plain(cell)).collect() };
        let head: Vec<String> = head.iter().map(|cell| self.plain(cell)).collect();
        let rows: Vec<Vec<String>> = rows.iter().map(|row| plain(self, row)).collect();
        let widths: Vec<usize> = (1..head.len())
            .map(|column| {
                let cells = rows.iter().filter_map(|row| row.get(column)).chain([&head[column]]);
                cells.map(|cell| cell.chars().count()).max().unwrap_or(0)
            })
            .collect();
        let taken: usize = widths.iter().map(|width| width + 2).sum();
        let first = COLUMNS.saturating_sub(taken + 1).max(12);
        let longest = rows.iter().map(|row| row[0].chars().count()).max().unwrap_or(0).max(head[0].chars().count());
        let first = first.min(longest);
        let write = |page: &mut Page, row: &[String], style: Style| {
            let lines = wrap(&row[0], first);
            for (index, line) in lines.iter().enumerate() {
                let mut out = format!("{line:<first$}");
                if index == 0 {
                    for (cell, width) in row[1..].iter().zip(&widths) {
                        let _ = write!(out, "  {cell:>width$}");
                    }
                }
                let _ = writeln!(page.text, "{}", page.styled(style, out.trim_end()));
            }
        };
        write(self, &head, DIM);
        for (index, row) in rows.iter().enumerate() {
            write(self, row, marks.get(index).copied().unwrap_or_default());
        }
    }
}

const BOLD: Style = Style::new().bold();
const DIM: Style = Style::new().dimmed();
const GOOD: Style = AnsiColor::Green.on_default().bold();
const BAD: Style = AnsiColor::Red.on_default().bold();

/// Breaks at spaces, and inside a word that is wider than a line.
fn wrap(text: &str, width: usize) -> Vec<String> {
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

fn group(policy: &PolicySummary, group: Group) -> Share {
    let none = Share { events: 0, of: 0, low: 0.0, high: 1.0 };
    policy.groups.iter().find(|(this, _)| *this == group).map_or(none, |found| found.1)
}

fn with_interval(share: &Share) -> String {
    match (share.events, share.of) {
        (_, 0) | (0, _) => words::brief(share),
        (events, of) if events == of => words::brief(share),
        _ => format!("{} ({})", words::brief(share), words::interval(share).replace(" to ", "–")),
    }
}

/// The summary in words and tables.
pub fn summary(summary: &Summary, manner: Manner) -> String {
    let mut page = Page { text: String::new(), manner };
    let title =
        if summary.invented { format!("{} (invented place and craft)", summary.title) } else { summary.title.clone() };
    page.paragraph(&title, "", "", BOLD);
    page.paragraph(&summary.about, "", "", Style::new());
    page.blank();
    page.first(&cautions::first(summary));
    page.paragraph(&summary.verdict.sentence, "", "", GOOD);
    page.paragraph(&summary.verdict.others, "", "", Style::new());

    page.heading(&format!(
        "Of 1,000 lost links ({} simulated; {} % intervals)",
        words::count(summary.policies.iter().map(|policy| policy.lost).max().unwrap_or(0)),
        words::number(summary.confidence * 100.0, 0)
    ));
    let order: Vec<usize> = if summary.verdict.ranking.len() == summary.policies.len() {
        summary.verdict.ranking.clone()
    } else {
        (0..summary.policies.len()).collect()
    };
    let best = recommended(summary).map(|policy| policy.name.clone());
    let mut rows = Vec::new();
    let mut marks = Vec::new();
    for policy in order.iter().filter_map(|index| summary.policies.get(*index)) {
        rows.push(vec![
            policy.name.clone(),
            with_interval(&group(policy, Group::Danger)),
            words::brief(&group(policy, Group::CraftLost)),
            words::brief(&group(policy, Group::CraftAtRisk)),
            words::brief(&group(policy, Group::Fine)),
            policy.within_99_m.map_or("not bounded".into(), |distance| words::number(distance, 0)),
        ]);
        marks.push(if best.as_deref() == Some(policy.name.as_str()) { BOLD } else { Style::new() });
    }
    page.table(
        &["policy, best first", "danger to others", "lost", "at risk", "fine", "99 % within / m"],
        &rows,
        &marks,
    );

    let pairs: Vec<_> = summary.pairs.iter().filter(|pair| pair.about == Compared::Danger).collect();
    if !pairs.is_empty() {
        page.heading("Danger, first against second, per 1,000 (negative: first has less)");
        let name = |index: usize| summary.policies.get(index).map_or("?", |policy| policy.name.as_str());
        for pair in pairs {
            let line = format!(
                "\"{}\" against \"{}\": {} ({} to {}), {}",
                name(pair.first),
                name(pair.second),
                words::difference(pair.difference),
                words::difference(pair.low),
                words::difference(pair.high),
                plot::verdict_words(summary, pair)
            );
            page.paragraph(&line, "  ", "    ", Style::new());
        }
    }
    let unsettled: u64 = summary.policies.iter().map(|policy| group(policy, Group::NotSettled).events).sum();
    if unsettled > 0 {
        page.paragraph(
            &format!("{} ends are not settled; they stay in every total.", words::count(unsettled)),
            "",
            "",
            Style::new(),
        );
    }
    if let Some(choice) = &summary.choice {
        page.heading(&format!("Over {} conditions", summary.conditions.len()));
        page.paragraph(&choice.sentence, "", "", Style::new());
    }
    page.heading("When the link goes");
    for line in super::html::loss_lines(summary) {
        page.line(&line);
    }
    // A link that the scenario cuts has no other cause.
    if let Some((cause, n)) = summary.loss.causes.first().filter(|_| summary.loss.how == "modelled") {
        page.line(&format!("Main cause most often: {cause} ({} flights).", words::count(*n)));
    }
    for warning in &summary.warnings {
        page.paragraph(warning, "note: ", "      ", Style::new());
    }
    cautions(&mut page);
    page.paragraph(
        &format!(
            "Version {}, seed {}, {} flights ({}).",
            summary.program_version,
            summary.seed,
            words::count(summary.flights),
            summary.flights_rule
        ),
        "",
        "",
        DIM,
    );
    page.text
}

fn cautions(page: &mut Page) {
    page.heading("Cautions");
    for line in [
        "A simulation of a model, not a permission and not a record of real flights.",
        "All rates are per lost link; intervals do not cover a wrong model. Danger is danger to others: a policy that gives up the craft can come first by it.",
        "People count only where they were drawn. Seeing none does not mean none can occur.",
        "Local rules, the owner of the ground, the manual of the craft and a qualified remote pilot go before this. Test on the bench with propellers removed.",
    ] {
        page.paragraph(line, "• ", "  ", Style::new());
    }
}

/// A height sweep in words and a table.
pub fn heights(heights: &Heights, manner: Manner) -> String {
    let mut page = Page { text: String::new(), manner };
    let title =
        if heights.invented { format!("{} (invented place and craft)", heights.title) } else { heights.title.clone() };
    page.paragraph(&title, "", "", BOLD);
    page.first(&cautions::first_of_heights(heights));
    page.paragraph(&heights.sentence, "", "", GOOD);
    page.heading(&format!("Of 1,000 lost links, the same {} flights at every height", words::count(heights.flights)));
    let speeds = heights.rows.iter().any(|row| row.speed_mps.is_some());
    let mut head = vec!["height / m"];
    if speeds {
        head.push("m/s");
    }
    head.extend(["danger to others", "lost or worse", "at home", "charge left / %", "time / s"]);
    let mut rows = Vec::new();
    let mut marks = Vec::new();
    for row in &heights.rows {
        let inside =
            heights.interval_m.is_some_and(|[low, high]| row.height_m >= low - 1e-9 && row.height_m <= high + 1e-9);
        let mut cells = vec![format!("{}{}", words::number(row.height_m, 0), if inside { " *" } else { "" })];
        if speeds {
            cells.push(row.speed_mps.map_or("–".into(), |speed| words::number(speed, 1)));
        }
        cells.extend([
            with_interval(&row.danger),
            words::brief(&row.craft_lost),
            words::brief(&row.at_home),
            words::number(row.pack_left_pct[1], 0),
            words::number(row.time_s[1], 0),
        ]);
        rows.push(cells);
        marks.push(if inside { BOLD } else { Style::new() });
    }
    page.table(&head, &rows, &marks);
    page.paragraph(
        &format!(
            "* recommended. Tallest obstacle on the ways home {} m, ceiling {} m above home.",
            words::number(heights.tallest_m, 0),
            words::number(heights.ceiling_m, 0)
        ),
        "",
        "",
        Style::new(),
    );
    cautions(&mut page);
    page.text
}
