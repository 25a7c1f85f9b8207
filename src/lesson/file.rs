//! From a lesson file to a checked [`Lesson`], by the same reader as scenarios.

use super::measure::{Event, Quantity, events, quantities};
use super::quote::Quoting;
use crate::scenario::{Changes, Diagnostic, Files, Scenario, Section, Written, between, read_host, read_variations};

/// A lesson file.
#[derive(Debug, Clone)]
pub struct Lesson {
    /// Its title.
    pub title: String,
    /// For whom it is.
    pub for_whom: String,
    /// Its chapters, in order.
    pub chapters: Vec<Chapter>,
}

/// A chapter.
#[derive(Debug, Clone)]
pub struct Chapter {
    /// The file that it stands in.
    pub file: String,
    /// Its line there.
    pub line: usize,
    /// Its title.
    pub title: String,
    /// What the flights are about.
    pub setting: Quoting,
    /// How many flights a variant flies.
    pub flights: u32,
    /// Their seed.
    pub seed: u64,
    /// From where the flight shown is seen.
    pub view: View,
    /// The flight shown; `None`: one that shows a difference.
    pub flight: Option<u32>,
    /// What is compared.
    pub variants: Vec<Variant>,
    /// What is measured of each; the first unless something else is said.
    pub measures: Vec<Measure>,
    /// What is asked.
    pub question: Question,
    /// Why the answer is as it is.
    pub why: Quoting,
    /// What to do in the field.
    pub field: Quoting,
    /// What the prose rests on.
    pub claims: Vec<Claim>,
}

/// From where a flight is seen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum View {
    /// Height against the distance from the take-off spot.
    Side,
    /// The site from above.
    Plan,
    /// Distance from the take-off spot against time.
    Time,
}

/// A variant of a chapter's scenario.
#[derive(Debug, Clone)]
pub struct Variant {
    /// Its name in quotes and claims.
    pub id: String,
    /// Its name on the page.
    pub name: String,
    /// The scenario with its keys changed, under one policy.
    pub scenario: Scenario,
}

/// What is measured.
#[derive(Debug, Clone)]
pub struct Measure {
    /// Its name in quotes and claims.
    pub id: String,
    /// What it is, in the page's words.
    pub words: String,
    /// How it is made.
    pub statistic: Statistic,
}

/// How a number is made from flights.
#[derive(Debug, Clone, Copy)]
pub enum Statistic {
    /// Share of the lost links with an event.
    Share(Event),
    /// Median over the lost links.
    Median(Quantity),
    /// Mean over the lost links.
    Mean(Quantity),
    /// Greatest of the lost links.
    Greatest(Quantity),
    /// Of the flight shown.
    Shown(Quantity),
}

/// What the learner predicts.
#[derive(Debug, Clone)]
pub struct Question {
    /// In words.
    pub words: Quoting,
    /// What is asked.
    pub ask: Ask,
    /// Of which measure, by its place.
    pub measure: usize,
}

/// What is asked of a measure.
#[derive(Debug, Clone, PartialEq)]
pub enum Ask {
    /// How much it is for one variant; the answers are the ranges between the edges.
    HowMuch {
        /// The variant, by its place.
        variant: usize,
        /// Edges in rising order; shares out of 100.
        edges: Vec<f64>,
    },
    /// For which variant it is greatest.
    Most,
    /// For which variant it is least.
    Least,
}

/// What the prose rests on: one number above another.
#[derive(Debug, Clone, PartialEq)]
pub struct Claim {
    /// As written.
    pub text: String,
    /// Its line.
    pub line: usize,
    /// What is greater …
    pub greater: Operand,
    /// … than this …
    pub less: Operand,
    /// … by more than that.
    pub by: f64,
}

/// A side of a claim.
#[derive(Debug, Clone, PartialEq)]
pub enum Operand {
    /// A number; shares are out of 100.
    Number(f64),
    /// A measure of a variant, by their places.
    Of {
        /// Variant.
        variant: usize,
        /// Measure.
        measure: usize,
    },
}

impl Chapter {
    /// What a name stands for: `low`, the first measure of that variant; `low.hits`, another.
    pub fn named(&self, name: &str) -> Option<Operand> {
        let (variant, measure) = name.split_once('.').map_or((name, None), |(a, b)| (a, Some(b)));
        let variant = self.variants.iter().position(|known| known.id == variant)?;
        let measure = match measure {
            None => 0,
            Some(measure) => self.measures.iter().position(|known| known.id == measure)?,
        };
        Some(Operand::Of { variant, measure })
    }
}

/// Reads a lesson. `name` is the file's name for diagnostics; files it names are asked of `files`.
///
/// # Errors
/// Every error found, and the warnings with them, in the order of their places. No text makes it panic.
pub fn read(name: &str, text: &str, files: &dyn Files) -> Result<Lesson, Vec<Diagnostic>> {
    read_host(name, text, |root| {
        let title = root.required_text("title", "Title of the lesson");
        let for_whom = root.text("for_whom", "", "none", "For whom it is");
        let sections = root.tables("chapter", "The chapters, in order");
        if sections.is_empty() {
            root.missing("chapter", "one or more tables `[[chapter]]`");
        }
        let chapters = sections.iter().filter_map(|section| read_chapter(section, files)).collect();
        Lesson { title, for_whom, chapters }
    })
}

fn read_chapter(section: &Section, files: &dyn Files) -> Option<Chapter> {
    let title = section.required_text("title", "Title of the chapter");
    let setting = section.text("setting", "", "none", "Who flies what, where: a sentence or two");
    let usual = "a figure to about 10 of 100";
    let flights = section.count("flights", 1, 100_000, 200, usual, "Number of flights of each variant");
    let seed = section.whole("seed", 0, i64::MAX as u64, 1, "any number", "Seed of their luck");
    let views = [("side", View::Side), ("plan", View::Plan), ("time", View::Time)];
    let view =
        section.word("view", &views, "side", "heights are what most chapters turn on", "From where a flight is seen");
    let one = "one that shows a difference";
    let flight = section.opt_number("flight", between(0.0, 99_999.0), one, "Number of the flight shown");
    if flight.is_some_and(|flight| flight.fract() != 0.0 || flight >= f64::from(flights)) {
        section.error("flight", "no flight of this chapter", format!("a whole number, 0 to {}", flights - 1));
    }
    let measures = read_measures(section);
    let variants = read_variants(section, files);
    let why = section.required_text("why", "Why the answer is as it is: two sentences");
    let field = section.required_text("in_the_field", "What to do in the field");
    let claims = section.texts("claims", "nothing is claimed", "What the prose rests on, checked at every run");
    let asked = section.table("question");
    let question = asked.required_text("text", "The question");
    let mut chapter = Chapter {
        file: section.sink.name.clone(),
        line: section.span.as_ref().map_or(1, |span| line_of(section, span.start)),
        title,
        setting: Quoting::new(&setting),
        flights,
        seed,
        view,
        flight: flight.map(|flight| flight as u32),
        variants: variants?,
        measures,
        question: Question { words: Quoting::new(&question), ask: Ask::Most, measure: 0 },
        why: Quoting::new(&why),
        field: Quoting::new(&field),
        claims: Vec::new(),
    };
    read_question(&asked, &mut chapter);
    for (text, span) in claims {
        match claim(&chapter, &text, line_of(section, span.start)) {
            Some(claim) => chapter.claims.push(claim),
            None => section.fault("claims", span, format!("\"{text}\""), &accepted_claim(&chapter), None),
        }
    }
    for (key, text) in [("setting", &chapter.setting), ("why", &chapter.why), ("in_the_field", &chapter.field)] {
        check_quotes(section, key, text, &chapter);
    }
    check_quotes(&asked, "text", &chapter.question.words, &chapter);
    Some(chapter)
}

fn line_of(section: &Section, at: usize) -> usize {
    section.sink.text.as_bytes().iter().take(at).filter(|byte| **byte == b'\n').count() + 1
}

fn check_quotes(section: &Section, key: &'static str, text: &Quoting, chapter: &Chapter) {
    for name in text.names().filter(|name| *name != "flights" && chapter.named(name).is_none()) {
        section.error(key, format!("the quote {{{name}}}"), format!("{{flights}}, {}", names(chapter)));
    }
}

/// The names that can be quoted.
fn names(chapter: &Chapter) -> String {
    let list = |ids: Vec<&str>| ids.join("`, `");
    let variants = list(chapter.variants.iter().map(|variant| variant.id.as_str()).collect());
    let measures = list(chapter.measures.iter().map(|measure| measure.id.as_str()).collect());
    format!("or a variant (`{variants}`), a point and a measure (`{measures}`) in braces")
}

fn accepted_claim(chapter: &Chapter) -> String {
    let first = chapter.variants.first().map_or("first", |variant| &variant.id);
    let measure = chapter.measures.first().map_or("measure", |measure| &measure.id);
    format!(
        "two sides with > or < between them, each a number or a variant with a measure, such as \"{first}.{measure} > 10\" or \
         \"{first} > other by 5\""
    )
}

fn claim(chapter: &Chapter, text: &str, line: usize) -> Option<Claim> {
    let words: Vec<&str> = text.split_whitespace().collect();
    let operand = |word: &str| {
        word.parse().ok().filter(|x: &f64| x.is_finite()).map(Operand::Number).or_else(|| chapter.named(word))
    };
    let (left, sign, right, by) = match words.as_slice() {
        [left, sign, right] => (left, sign, right, 0.0),
        [left, sign, right, "by", by] => (left, sign, right, by.parse().ok().filter(|by: &f64| *by >= 0.0)?),
        _ => return None,
    };
    let (left, right) = (operand(left)?, operand(right)?);
    let (greater, less) = match *sign {
        ">" => (left, right),
        "<" => (right, left),
        _ => return None,
    };
    let measured = [&greater, &less].into_iter().any(|side| matches!(side, Operand::Of { .. }));
    measured.then(|| Claim { text: text.into(), line, greater, less, by })
}

fn read_question(section: &Section, chapter: &mut Chapter) {
    #[derive(Clone, Copy)]
    enum Kind {
        HowMuch,
        Most,
        Least,
    }
    let kinds = [("how_much", Kind::HowMuch), ("most", Kind::Most), ("least", Kind::Least)];
    let kind = section.required_word(
        "ask",
        &kinds,
        "How much a number is for one variant, or which variant has most or least",
    );
    let measure = section.text("measure", "", "the first", "Of which measure");
    if !measure.is_empty() {
        match chapter.measures.iter().position(|known| known.id == measure) {
            Some(at) => chapter.question.measure = at,
            None => {
                section.error("measure", format!("the text \"{measure}\""), "the `id` of a measure of this chapter")
            }
        }
    }
    match kind {
        Some(Kind::HowMuch) => {
            let id = section.required_text("variant", "Of which variant");
            let edges = section.list("edges", between(-1e6, 1e6), "none", "Edges of the ranges to choose from");
            if edges.is_empty() || edges.len() > 4 || edges.windows(2).any(|pair| pair[0] >= pair[1]) {
                section.error(
                    "edges",
                    "no edges in rising order",
                    "one to four numbers in rising order; shares out of 100",
                );
            }
            match chapter.variants.iter().position(|known| known.id == id) {
                Some(variant) => chapter.question.ask = Ask::HowMuch { variant, edges },
                None if !id.is_empty() => {
                    section.error("variant", format!("the text \"{id}\""), "the `id` of a variant of this chapter");
                }
                None => {}
            }
        }
        Some(_) if chapter.variants.len() < 2 => {
            section.error("ask", "one variant alone", "two or more variants to choose from, or \"how_much\"");
        }
        Some(Kind::Least) => chapter.question.ask = Ask::Least,
        Some(Kind::Most) | None => {}
    }
}

/// Whether a text can be a name in quotes and claims.
fn check_id(section: &Section, id: &str, earlier: &[String]) {
    let plain =
        id.chars().all(|c| c.is_ascii_alphanumeric() || c == '_') && !id.starts_with(|c: char| c.is_ascii_digit());
    if !plain {
        section.error("id", format!("the text \"{id}\""), "letters, digits and _, beginning with a letter");
    } else if !id.is_empty() && (earlier.iter().any(|known| known == id) || id == "flights") {
        section.error("id", format!("\"{id}\" for the second time"), "a name of its own");
    }
}

fn read_measures(chapter: &Section) -> Vec<Measure> {
    let sections = chapter.tables("measure", "What is measured of every variant");
    if sections.is_empty() {
        chapter.missing("measure", "one or more tables `[[chapter.measure]]`");
    }
    let mut ids = Vec::new();
    let mut measures = Vec::new();
    for section in &sections {
        let id = section.required_text("id", "Name in quotes and claims");
        check_id(section, &id, &ids);
        ids.push(id.clone());
        let words = section.required_text("words", "What it is, in the page's words");
        if let Some(statistic) = read_statistic(section) {
            measures.push(Measure { id, words, statistic });
        }
    }
    measures
}

fn read_statistic(section: &Section) -> Option<Statistic> {
    type Make = fn(Quantity) -> Statistic;
    let numbers: [(&'static str, Make, &'static str); 4] = [
        ("median", Statistic::Median, "Median over the lost links"),
        ("mean", Statistic::Mean, "Mean over the lost links"),
        ("greatest", Statistic::Greatest, "Greatest of the lost links"),
        ("shown", Statistic::Shown, "Of the flight shown"),
    ];
    let mut found = Vec::new();
    if section.has("share") {
        let share = section.required_word("share", &events(), "Share of the lost links in which it came about");
        found.push(share.map(Statistic::Share));
    }
    for (key, make, meaning) in numbers {
        if section.has(key) {
            found.push(section.required_word(key, &quantities(), meaning).map(make));
        }
    }
    match found.as_slice() {
        [one] => *one,
        _ => {
            let accepted = "one of the keys `share`, `median`, `mean`, `greatest`, `shown`";
            let found = if found.is_empty() {
                "none of the keys that say how"
            } else {
                "more than one of the keys that say how"
            };
            section.error("", found, accepted);
            None
        }
    }
}

fn read_variants(chapter: &Section, files: &dyn Files) -> Option<Vec<Variant>> {
    let sections = chapter.tables("variant", "What is compared");
    if sections.is_empty() || sections.len() > 4 {
        let accepted = "one to four tables `[[chapter.variant]]`";
        chapter.error("variant", format!("{} variants", sections.len()), accepted);
    }
    let mut ids: Vec<String> = Vec::new();
    let mut policies = Vec::new();
    let mut changes = Vec::new();
    for section in &sections {
        let id = section.required_text("id", "Name in quotes and claims");
        check_id(section, &id, &ids);
        ids.push(id);
        let name = section.required_text("name", "Name on the page");
        policies.push(section.text(
            "policy",
            "",
            "the scenario's first",
            "Name of the scenario's policy that it flies",
        ));
        let keys = if section.has("set") {
            section.pairs("set", "Keys of the scenario that it changes, by their path in quotes")
        } else {
            Vec::new()
        };
        changes.push(Changes { name, span: section.span.clone().unwrap_or(0..0), keys });
    }
    let written = match chapter.find("scenario") {
        None => {
            chapter.missing(
                "scenario",
                "a scenario's keys in a table `[chapter.scenario]`, or the name of a scenario file",
            );
            return None;
        }
        Some(value) => match (value.get_ref().as_table(), value.get_ref().as_str()) {
            (Some(table), _) => Written::Here(table, value.span()),
            (None, Some(name)) => Written::Elsewhere(name.into(), value.span()),
            (None, None) => {
                chapter.wrong("scenario", value, "a table of a scenario's keys, or the name of a scenario file");
                return None;
            }
        },
    };
    let scenarios = read_variations(chapter.sink, &chapter.path("scenario"), &written, files, &changes);
    if scenarios.len() != sections.len() || scenarios.is_empty() {
        return None;
    }
    let mut variants = Vec::new();
    for (index, mut scenario) in scenarios.into_iter().enumerate() {
        let wanted = &policies[index];
        let names: Vec<String> = scenario.policies.iter().map(|policy| format!("\"{}\"", policy.name)).collect();
        match scenario.policies.iter().position(|policy| wanted.is_empty() || policy.name == *wanted) {
            Some(at) => scenario.policies = vec![scenario.policies.swap_remove(at)],
            None if !names.is_empty() => {
                sections[index].error("policy", format!("the text \"{wanted}\""), names.join(", "));
            }
            None => sections[index].error("policy", "a scenario without policies", "one or more `[[policy]]` in it"),
        }
        scenario.conditions.clear();
        variants.push(Variant { id: ids[index].clone(), name: changes[index].name.clone(), scenario });
    }
    Some(variants)
}
