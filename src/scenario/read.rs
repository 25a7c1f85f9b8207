//! From the text of a scenario file to a [`Scenario`], with all findings in one pass.

use super::diagnostic::{Diagnostic, Severity, line_of};
use super::files::{Files, Keeper, NoFiles, Remembered};
use super::kind::{KeyDoc, MISSING, UNKNOWN, between, section_of};
use super::meant::elsewhere;
use super::parts::path::{DrawnPath, check_place};
use super::parts::path_heights::warn_of_path_heights;
use super::parts::policy::{read_policies, read_policy};
use super::parts::site::UnlaidSite;
use super::parts::sky::check_declination;
use super::section::{Change, Section};
use super::sink::Sink;
use super::types::{Condition, Craft, FlightPlan, Judge, Loss, Pilot, Radio, Scenario, Sky, Weather};
use crate::failsafe::Policy;
use toml::de::DeTable;

/// Reads a scenario. `name` is the file's name for diagnostics; files it names are asked of `files`.
///
/// # Errors
/// Every error found, and the warnings with them, in the order of their places. No text makes it panic.
pub fn read(name: &str, text: &str, files: &dyn Files) -> Result<Scenario, Vec<Diagnostic>> {
    read_remembering(name, text, files, &Remembered::default())
}

/// As [`read`], for one who reads the same files again: what was made of them is kept in `remembered`.
pub(crate) fn read_remembering(
    name: &str,
    text: &str,
    files: &dyn Files,
    remembered: &Remembered,
) -> Result<Scenario, Vec<Diagnostic>> {
    read_checked(name, text, &Keeper::new(files, remembered), true)
}

/// Reads a scenario again after keys were changed that move neither its site nor its path: what stands in the way of the path is
/// not looked for again, which takes as long as all else. What `remembered` has of earlier readings of the same files is not made
/// again either, nor is what was said of those files said again.
///
/// # Errors
/// As [`read`].
pub fn read_again(
    name: &str,
    text: &str,
    files: &dyn Files,
    remembered: &Remembered,
) -> Result<Scenario, Vec<Diagnostic>> {
    read_checked(name, text, &Keeper::new(files, remembered), false)
}

fn read_checked(name: &str, text: &str, keep: &Keeper, check_path: bool) -> Result<Scenario, Vec<Diagnostic>> {
    let (document, faults) = DeTable::parse_recoverable(text);
    let document = document.get_ref();
    let sink = Sink::new(name, text.into(), document);
    keep.add(text.as_bytes());
    let mut scenario = read_scenario(&sink, keep, check_path);
    let conditions = read_conditions(&sink, document, keep, &scenario.policies);
    let found = settled(&sink, &faults);
    if found.iter().any(|finding| finding.severity == Severity::Error) {
        return Err(found);
    }
    scenario.warnings = found.iter().map(Diagnostic::in_words).collect();
    scenario.hash = keep.hash();
    scenario.conditions = conditions;
    for condition in &mut scenario.conditions {
        condition.scenario.hash.clone_from(&scenario.hash);
    }
    Ok(scenario)
}

/// All findings of a file in the order of their places, with what its grammar lacks.
pub(super) fn settled(sink: &Sink, faults: &[toml::de::Error]) -> Vec<Diagnostic> {
    let (name, text) = (sink.name.as_str(), &*sink.text);
    let mut found = sink.diagnostics.take();
    // A key that its own table does not know may stand in another.
    for finding in found.iter_mut().filter(|finding| finding.found == UNKNOWN && finding.hint.is_none()) {
        finding.hint = elsewhere(&finding.key, &sink.keys.borrow());
    }
    if !faults.is_empty() {
        // What does not parse hides keys, so 'missing' and what follows from it says nothing; the rest stands.
        let lines: Vec<usize> =
            faults.iter().filter_map(|fault| fault.span()).map(|span| line_of(text, span.start)).collect();
        found.retain(|finding| finding.found != MISSING && finding.line.is_some_and(|line| !lines.contains(&line)));
        let grammar = Sink::new(name, sink.text.clone(), sink.document);
        if text.trim_start().starts_with('{') {
            let start = text.len() - text.trim_start().len();
            grammar.push(
                Severity::Error,
                Some(start..start + 1),
                "",
                "JSON",
                "a scenario in TOML, as `lostlink new` writes one",
                None,
            );
            return grammar.diagnostics.take();
        }
        for fault in faults {
            let span = fault.span().map(|span| span.start.min(text.len())..span.end.min(text.len()));
            grammar.push(Severity::Error, span, "", fault.message().replace('\n', ", "), "TOML 1.0", None);
        }
        found.extend(grammar.diagnostics.take());
    }
    found.sort_by_key(|finding| {
        (finding.file != name, finding.file.clone(), finding.span.as_ref().map(|span| span.start))
    });
    found.dedup();
    found
}

/// Every key of the format, in the order in which they are read.
pub fn key_list() -> Vec<KeyDoc> {
    let document = DeTable::new();
    let sink = Sink::describing(&document);
    read_scenario(&sink, &Keeper::new(&NoFiles, &Remembered::default()), false);
    let root = Section::root(&sink);
    read_condition_tables(&root).iter().for_each(|section| drop(read_condition_keys(section)));
    drop(root);
    sink.keys.take()
}

/// Keys that a condition cannot change: flights are paired and judged alike, and what is said of the scenario is said once.
pub(super) const FIXED: [&str; 9] =
    ["condition", "title", "about", "invented", "seed", "flights", "step_s", "judge", "delivered"];

fn read_conditions<'a>(
    sink: &Sink<'a>,
    document: &'a DeTable<'a>,
    keep: &Keeper,
    policies: &[Policy],
) -> Vec<Condition> {
    let root = Section::root(sink);
    let mut found: Vec<Condition> = Vec::new();
    for section in read_condition_tables(&root) {
        let ConditionKeys { name: condition_name, odds, changes } = read_condition_keys(&section);
        if found.iter().any(|other| other.name == condition_name) {
            section.error("name", format!("the name \"{condition_name}\" for the second time"), "a name of its own");
        }
        let changed = Sink::new(&sink.name, sink.text.clone(), document);
        for (key, span, value) in &changes {
            let first = key.split(['.', '[']).next().unwrap_or_default();
            if FIXED.contains(&first) {
                sink.push(
                    Severity::Error,
                    Some(span.clone()),
                    key,
                    "a key that a condition cannot change",
                    "a key of the place, air, craft, radio, sky, path, pilot, loss or policies",
                    None,
                );
            } else {
                changed.replace(key, span.clone(), value);
            }
        }
        let moved = changes.iter().any(|(key, ..)| key.starts_with("site") || key.starts_with("path"));
        let mut scenario = read_scenario(&changed, keep, moved);
        changed.report_unused();
        check_names(&changed, &changes, policies, &scenario.policies);
        // What is wrong without the condition is reported already: keep what lies in its own lines, and what is new.
        let known = sink.diagnostics.borrow().clone();
        let fresh: Vec<Diagnostic> =
            changed.diagnostics.take().into_iter().filter(|finding| !known.contains(finding)).collect();
        scenario.warnings =
            fresh.iter().filter(|finding| finding.severity == Severity::Warning).map(Diagnostic::in_words).collect();
        sink.diagnostics.borrow_mut().extend(fresh.into_iter().map(|mut finding| {
            if finding
                .span
                .as_ref()
                .is_none_or(|span| section.span.as_ref().is_none_or(|own| !own.contains(&span.start)))
            {
                finding.found = format!("{} (under the condition \"{condition_name}\")", finding.found);
            }
            finding
        }));
        let line = section.span.as_ref().map(|span| line_of(&sink.text, span.start));
        found.push(Condition { name: condition_name, odds, line, scenario: Box::new(scenario) });
    }
    found
}

/// Results are set beside each other by policy: a condition has the same ones, whatever they do under it.
fn check_names(sink: &Sink, changes: &[Change], policies: &[Policy], changed: &[Policy]) {
    let names =
        |list: &[Policy]| list.iter().map(|policy| format!("\"{}\"", policy.name)).collect::<Vec<_>>().join(", ");
    let Some((key, span, _)) = changes.iter().find(|(key, ..)| key.starts_with("policy")) else { return };
    // A policy that could not be read is a finding of its own.
    if names(policies) != names(changed) && !changed.iter().any(|policy| policy.name.is_empty()) {
        let found = match changed.len() {
            0 => "no policies".to_string(),
            _ => format!("the policies {}", names(changed)),
        };
        let accepted = format!("the same policies in the same order: {}; what they do may differ", names(policies));
        sink.push(Severity::Error, Some(span.clone()), key, found, accepted, None);
    }
}

fn read_condition_tables<'r, 'a>(root: &Section<'r, 'a>) -> Vec<Section<'r, 'a>> {
    // The whole file is read elsewhere: here only conditions are asked for.
    root.forget();
    root.tables("condition", "Variations of the scenario, each assessed beside it")
}

/// What a condition states.
struct ConditionKeys<'a> {
    name: String,
    odds: Option<f64>,
    changes: Vec<Change<'a>>,
}

fn read_condition_keys<'a>(section: &Section<'_, 'a>) -> ConditionKeys<'a> {
    ConditionKeys {
        name: section.required_text("name", "Name in tables"),
        odds: section.opt_number(
            "odds",
            between(0.0, 1e9),
            "left out",
            "Odds of the condition, relative to those of the others; the scenario as stated has odds of 1",
        ),
        changes: section.pairs("set", "Keys changed, by their path in quotes, e.g. { \"weather.wind_mps\" = 9.0 }"),
    }
}

pub(super) fn read_scenario(sink: &Sink, keep: &Keeper, check_path: bool) -> Scenario {
    let root = Section::root(sink);
    let title = root.required_text("title", "Title of the report");
    let about = root.text("about", "", "none", "The question, in a sentence or two");
    let real = "real unless said otherwise";
    let invented = root.flag("invented", false, real, "Whether place and craft are invented; the report says so");
    let any = "any number";
    let seed = root.whole("seed", 0, i64::MAX as u64, 1, any, "Master seed: the same seed gives the same flights");
    let flights =
        root.count("flights", 1, 10_000_000, 2000, "gives half-widths of 2 points or less", "Number of flights");
    let why = "step at which results no longer change";
    let step_s = root.number("step_s", between(0.001, 0.2), 0.2, why, "Time step of the simulation");
    let judge = Judge::read(&root.table("judge"));
    let craft = Craft::read(&root.table("craft"));
    let (path_section, site_section, pilot_section) = (root.table("path"), root.table("site"), root.table("pilot"));
    let site = UnlaidSite::read(&site_section, keep);
    let drawn = DrawnPath::read(&path_section, site.frame().as_ref(), keep);
    let site = site.laid(&site_section, keep, &drawn.waypoints_m);
    let by_sea = drawn.is_by_sea();
    let path = FlightPlan::read(&path_section, drawn, &site, craft.cruise_mps);
    let pilot = Pilot::read(&pilot_section, site.home_m);
    let mut weather = Weather::read(&root.table("weather"), keep);
    let radio = Radio::read(&root.table("radio"), site.terrain.is_some() || !site.obstacles.is_empty());
    let sky_section = root.table("sky");
    let sky = Sky::read(&sky_section, keep);
    weather.settle(&sky);
    check_declination(&sky_section, &sky, &site);
    drop(sky_section);
    let loss = Loss::read(&root.table("loss"), site.home_m, &path.waypoints_m);
    let policies = read_policies(&root, site.ceiling_m);
    let delivered = root
        .opt_table("delivered", "What the craft was delivered with, for the site card: name and actions as in a policy")
        .map(|section| read_policy(&section));
    if check_path {
        check_place(&site_section, &path_section, &pilot_section, &site, &path, &pilot, &craft);
        if by_sea {
            warn_of_path_heights(&path_section, &site, &path);
        }
    }
    root.find("condition");
    drop((root, path_section, site_section, pilot_section));
    let mut inputs = sink.inputs.take();
    inputs.sort_by_key(|row| section_of(&row.key));
    Scenario {
        title,
        about,
        invented,
        seed,
        flights,
        step_s,
        judge,
        site,
        weather,
        craft,
        radio,
        sky,
        path,
        pilot,
        loss,
        policies,
        delivered,
        conditions: Vec::new(),
        inputs,
        file: sink.name.clone(),
        warnings: Vec::new(),
        hash: String::new(),
    }
}
