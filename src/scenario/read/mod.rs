//! From the text of a scenario file to a [`Scenario`], with all findings in one pass: a file per part of it.

mod craft;
mod pilot;
mod place;
mod policy;
mod radio;
mod sky;
mod weather;

use crate::failsafe::Policy;
use crate::scenario::diagnostic::{Diagnostic, Severity};
use crate::scenario::files::Files;
use crate::scenario::table::{Change, KeyDoc, Section, Sink, above, between};
use crate::scenario::types::{Condition, Judge, Scenario};
use crate::sky::{Geodetic, LocalFrame};
use craft::read_craft;
use pilot::{read_loss, read_pilot};
use place::{check_place, read_heights, read_origin, read_place};
use policy::{read_policy, warn_of_height};
use radio::read_radio;
use sha2::{Digest, Sha256};
use sky::{check_declination, read_sky};
use toml::de::DeTable;
use weather::read_weather;

/// Words of the headline outcomes, in the built-in order, worst first.
pub const HEADLINE_WORDS: [&str; 13] = [
    "among-people",
    "on-road",
    "left-area",
    "on-property",
    "struck",
    "ran-dry",
    "in-water",
    "fell",
    "rough-or-hard",
    "clear-elsewhere",
    "at-home",
    "pilot-back",
    "not-settled",
];

/// Reads a scenario. `name` is the file's name for diagnostics; files it names are asked of `files`.
///
/// # Errors
/// Every error found, and the warnings with them, in the order of their places. No text makes it panic.
pub fn read(name: &str, text: &str, files: &dyn Files) -> Result<Scenario, Vec<Diagnostic>> {
    let (document, faults) = DeTable::parse_recoverable(text);
    let document = document.get_ref();
    let sink = Sink::new(name, text.into(), document);
    let keep = Keeper { files, hasher: std::cell::RefCell::new(Sha256::new()) };
    keep.add(text.as_bytes());
    let mut scenario = read_scenario(&sink, &keep, true);
    let conditions = read_conditions(&sink, document, &keep, &scenario.policies);
    let mut found = sink.diagnostics.take();
    if !faults.is_empty() {
        // What does not parse hides keys, so 'missing' and what follows from it says nothing; the rest stands.
        let lines: Vec<usize> = faults
            .iter()
            .filter_map(|fault| fault.span())
            .map(|span| super::diagnostic::line_of(text, span.start))
            .collect();
        found.retain(|finding| {
            finding.found != super::table::MISSING && finding.line.is_some_and(|line| !lines.contains(&line))
        });
        let grammar = Sink::new(name, sink.text.clone(), document);
        for fault in &faults {
            let span = fault.span().map(|span| span.start.min(text.len())..span.end.min(text.len()));
            grammar.push(Severity::Error, span, "", fault.message().replace('\n', ", "), "TOML 1.0", None);
        }
        found.extend(grammar.diagnostics.take());
    }
    found.sort_by_key(|finding| {
        (finding.file != name, finding.file.clone(), finding.span.as_ref().map(|span| span.start))
    });
    found.dedup();
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

/// Every key of the format, in the order in which they are read.
pub fn key_list() -> Vec<KeyDoc> {
    let document = DeTable::new();
    let sink = Sink::describing(&document);
    let keep = Keeper { files: &super::files::NoFiles, hasher: std::cell::RefCell::new(Sha256::new()) };
    read_scenario(&sink, &keep, false);
    read_condition_keys(&sink.root());
    sink.keys.take()
}

/// Gives files and hashes all that is read.
struct Keeper<'f> {
    files: &'f dyn Files,
    hasher: std::cell::RefCell<Sha256>,
}

impl Keeper<'_> {
    fn add(&self, bytes: &[u8]) {
        let mut hasher = self.hasher.borrow_mut();
        hasher.update((bytes.len() as u64).to_le_bytes());
        hasher.update(bytes);
    }

    fn hash(&self) -> String {
        self.hasher.borrow().clone().finalize().iter().map(|byte| format!("{byte:02x}")).collect()
    }

    /// The text of a file named by a key; its absence is a finding.
    fn text(&self, section: &Section, key: &'static str, name: &str) -> Option<String> {
        if section.sink.is_describing() {
            return None;
        }
        match self.files.read(name) {
            Ok(bytes) => {
                self.add(&bytes);
                let text = String::from_utf8(bytes);
                if text.is_err() {
                    section.error(key, format!("the file \"{name}\" is not text"), "a text file in UTF-8");
                }
                text.ok()
            }
            Err(why) => {
                section.error(
                    key,
                    format!("the file \"{name}\" cannot be read: {why}"),
                    "a file that is there, relative to the scenario's folder",
                );
                None
            }
        }
    }
}

/// Keys that a condition cannot change: flights are paired and judged alike, and what is said of the scenario is said once.
const FIXED: [&str; 9] = ["condition", "title", "about", "invented", "seed", "flights", "step_s", "judge", "delivered"];

fn read_conditions<'a>(
    sink: &Sink<'a>,
    document: &'a DeTable<'a>,
    keep: &Keeper,
    policies: &[Policy],
) -> Vec<Condition> {
    let root = sink.root();
    let mut found: Vec<Condition> = Vec::new();
    for section in read_condition_keys(&root) {
        let condition_name = section.required_text("name", "Name in tables");
        let odds = section.opt_number(
            "odds",
            between(0.0, 1e9),
            "left out",
            "Odds of the condition, relative to those of the others; the scenario as stated has odds of 1",
        );
        let changes =
            section.pairs("set", "Keys changed, by their path in quotes, e.g. { \"weather.wind_mps\" = 9.0 }");
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
        let line = section.span.as_ref().map(|span| super::diagnostic::line_of(&sink.text, span.start));
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

fn read_condition_keys<'r, 'a>(root: &Section<'r, 'a>) -> Vec<Section<'r, 'a>> {
    let sections = root.tables("condition", "Variations of the scenario, each assessed beside it");
    if root.sink.is_describing() {
        for section in &sections {
            section.required_text("name", "Name in tables");
            section.opt_number(
                "odds",
                between(0.0, 1e9),
                "left out",
                "Odds of the condition, relative to those of the others; the scenario as stated has odds of 1",
            );
            section.pairs("set", "Keys changed, by their path in quotes, e.g. { \"weather.wind_mps\" = 9.0 }");
        }
    }
    // The whole file is read elsewhere: here only conditions are asked for.
    root.forget();
    sections
}

fn read_scenario(sink: &Sink, keep: &Keeper, check_path: bool) -> Scenario {
    let root = sink.root();
    let title = root.required_text("title", "Title of the report");
    let about = root.text("about", "", "none", "The question, in a sentence or two");
    let invented = root.flag(
        "invented",
        false,
        "real unless said otherwise",
        "Whether place and craft are invented; the report says so",
    );
    let seed =
        root.whole("seed", 0, i64::MAX as u64, 1, "any number", "Master seed: the same seed gives the same flights");
    let flights =
        root.whole("flights", 1, 10_000_000, 2000, "gives half-widths of 2 points or less", "Number of flights") as u32;
    let step_s = root.number(
        "step_s",
        between(0.001, 0.1),
        0.05,
        "step at which results no longer change",
        "Time step of the simulation",
    );
    let judge = read_judge(&root.table("judge"));
    let craft = read_craft(&root.table("craft"));
    let path_section = root.table("path");
    let site_section = root.table("site");
    let origin = read_origin(&site_section);
    let heights = read_heights(&site_section, keep);
    let frame = origin.map(|place| LocalFrame::new(Geodetic::from_deg(place.lat_deg, place.lon_deg, heights.0)));
    let pilot_section = root.table("pilot");
    let (site, path, home_z_m) =
        read_place(&site_section, &path_section, origin, heights, frame.as_ref(), craft.cruise_mps, keep);
    let pilot = read_pilot(&pilot_section, site.home_m);
    let weather = read_weather(&root.table("weather"));
    let traced = site.terrain.is_some() || !site.obstacles.is_empty();
    let radio = read_radio(&root.table("radio"), traced);
    let sky_section = root.table("sky");
    let sky = read_sky(&sky_section, keep);
    check_declination(&sky_section, &sky, &site);
    drop(sky_section);
    let loss = read_loss(&root.table("loss"), site.home_m, &path.waypoints_m);
    let mut policies = Vec::new();
    let policy_sections =
        root.tables("policy", "The policies compared, in the order of tables and figures; at least one");
    if policy_sections.is_empty() {
        root.missing("policy", "at least one table `[[policy]]` with a name and its actions");
    }
    for section in policy_sections {
        let policy = read_policy(&section);
        if policies.iter().any(|other: &Policy| other.name == policy.name) {
            section.error("name", format!("the name \"{}\" for the second time", policy.name), "a name of its own");
        }
        warn_of_height(&section, &policy, site.ceiling_m);
        policies.push(policy);
    }
    let delivered = root
        .opt_table("delivered", "What the craft was delivered with, for the site card: name and actions as in a policy")
        .map(|section| read_policy(&section));
    if check_path {
        check_place(&site_section, &path_section, &pilot_section, &site, &path, &pilot, home_z_m);
    }
    root.find("condition");
    drop(root);
    let mut inputs = sink.inputs.take();
    inputs.sort_by_key(|row| super::document::section_of(&row.key));
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
        warnings: Vec::new(),
        hash: String::new(),
    }
}

const ESTIMATE: &str = "estimate";

fn read_judge(s: &Section) -> Judge {
    let matters_points = s.number(
        "matters_points",
        between(0.01, 50.0),
        2.0,
        ESTIMATE,
        "Smallest difference of the share in danger that matters",
    );
    let confidence =
        s.number("confidence", between(0.5, 0.999), 0.95, "common practice", "Two-sided confidence of intervals");
    let home_radius_m = s.number(
        "home_radius_m",
        above(0.0, 1000.0),
        15.0,
        ESTIMATE,
        "Within this distance of the take-off spot a landing is at home",
    );
    let reserve_pct = s.number(
        "reserve_pct",
        between(0.0, 90.0),
        20.0,
        "common practice",
        "Pack level under which the reserve is said to be used",
    );
    let harm = s.flag("harm", false, "an annex for experts", "Whether to print the harm annex");
    let words: Vec<(&'static str, &'static str)> = HEADLINE_WORDS.iter().map(|word| (*word, *word)).collect();
    let order = s.words(
        "order",
        &words,
        &[],
        "the order built in",
        "Headline outcomes, worst first; those left out follow in the built-in order",
    );
    let order = if s.has("order") { Some(order.into_iter().map(String::from).collect()) } else { None };
    Judge { matters_points, confidence, home_radius_m, reserve_pct, harm, order }
}
