//! A lost link told under every policy: as text, and as the words of its page.

use super::document::{Block, Document, On, Section};
use super::words::number as n;
use crate::story::{Sentence, Story};

/// A sentence as a line of text: its number, when, what.
fn line(sentence: &Sentence) -> String {
    let when = sentence.time_s.map_or(String::new(), |time_s| format!("{} s: ", n(time_s, 1)));
    format!("{}. {when}{}", sentence.number, sentence.text)
}

fn lines(sentences: &[Sentence]) -> Block {
    Block::List(sentences.iter().map(line).collect())
}

/// The document.
pub fn document(story: &Story) -> Document {
    let mut sections =
        vec![Section::new("shared", "Until the loss", "What all policies share").with(On::Both, lines(&story.shared))];
    for policy in &story.policies {
        let heading = format!("Under \"{}\": {}", policy.name, policy.outcome);
        let words = format!("The policy: {}.", policy.words);
        sections.push(Section::new("policy", "Policy", heading).line(words).with(On::Both, lines(&policy.sentences)));
    }
    sections.push(Section::new("compared", "Compared", "Side by side").with(On::Both, lines(&story.compared)));
    Document {
        kind: "One lost link",
        tab: "one lost link",
        title: story.title.clone(),
        invented: story.invented,
        question: match story.lost_at_s {
            Some(_) => {
                format!("One flight under every policy with the same luck: flight {}, {}.", story.flight, picked(story))
            }
            None => format!("Flight {}, {}.", story.flight, picked(story)),
        },
        answer: story.answer.clone(),
        cautions: vec![
            "One simulated flight shows how things can go, not how often. Times are in seconds after take-off; heights are above the take-off \
             spot unless they say above the ground."
                .into(),
            "The same luck: wind, gusts, radio, fix, pack and people are the same under every policy; only what the craft does differs."
                .into(),
        ],
        sections,
        ..Document::default()
    }
}

/// Why this flight, without saying its number twice.
fn picked(story: &Story) -> &str {
    story.picked.strip_prefix(&format!("flight {}, ", story.flight)).unwrap_or(&story.picked)
}
