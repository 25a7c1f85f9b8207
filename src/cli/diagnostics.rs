//! Findings in a scenario, drawn with the lines they are about.

use crate::scenario::{Diagnostic, Severity};
use annotate_snippets::{AnnotationKind, Group, Level, Renderer, Snippet};

/// Draws findings, each with its file, line, source excerpt, what was found and what would be accepted; then counts
/// them. `styled` adds colours.
pub fn render(findings: &[Diagnostic], styled: bool) -> String {
    let renderer = if styled { Renderer::styled() } else { Renderer::plain() };
    let mut text = String::new();
    for finding in findings {
        text += &renderer.render(&[group(finding)]);
        text += "\n\n";
    }
    let count = |severity| findings.iter().filter(|finding| finding.severity == severity).count();
    let words = |count: usize, one: &str| match count {
        0 => None,
        1 => Some(format!("1 {one}")),
        _ => Some(format!("{count} {one}s")),
    };
    let counts: Vec<String> = [words(count(Severity::Error), "error"), words(count(Severity::Warning), "warning")]
        .into_iter()
        .flatten()
        .collect();
    if !counts.is_empty() {
        text += &counts.join(", ");
        text.push('\n');
    }
    text
}

fn group(finding: &Diagnostic) -> Group<'_> {
    let level = match finding.severity {
        Severity::Error => Level::ERROR,
        Severity::Warning => Level::WARNING,
    };
    let title = if finding.key.is_empty() {
        format!("found {}", finding.found)
    } else {
        format!("{}: found {}", finding.key, finding.found)
    };
    let mut group = match (&finding.source, &finding.span) {
        (Some(source), Some(span)) => {
            // The first line of the place is enough to find it.
            let end = source[span.start..span.end].find('\n').map_or(span.end, |length| span.start + length);
            let snippet = Snippet::source(&**source)
                .path(&*finding.file)
                .annotation(AnnotationKind::Primary.span(span.start..end).label("here"));
            level.primary_title(title).element(snippet)
        }
        _ => level.primary_title(title).element(annotate_snippets::Origin::path(&*finding.file)),
    };
    if !finding.accepted.is_empty() {
        group = group.element(Level::NOTE.with_name("accepted").message(&*finding.accepted));
    }
    if let Some(hint) = &finding.hint {
        group = group.element(Level::HELP.message(&**hint));
    }
    group
}
