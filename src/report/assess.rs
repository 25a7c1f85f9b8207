//! The document of an assessment: which policy, how sure, what the others do.

use super::document::{Block, Document, On, Paper, Part, Section, Table, Term};
use super::earth;
use super::gallery::Gallery;
use super::plot::{self, Look};
use super::words::{self, brief, count, difference, matters, number};
use crate::flight::{Flags, Tier};
use crate::risk::assess::condition_flights;
use crate::risk::cautions;
use crate::risk::follow::Early;
use crate::risk::outcome::Concern;
use crate::risk::summary::{Pair, PolicySummary, Summary, flag_labels};
use crate::scenario::InputRow;

/// The figures of an assessment, for [`document`].
pub fn gallery(summary: &Summary) -> Gallery {
    Gallery::new(|look| plot::all(summary, look), halves(summary))
}

/// Those drawn for half a page too.
fn halves(summary: &Summary) -> Vec<plot::Figure> {
    vec![plot::bars(summary, Look::MIDDLE), plot::map(summary, Look::MIDDLE)]
}

/// Those of them that can be drawn while the side runs fly.
pub fn main_gallery(summary: &Summary) -> Gallery {
    Gallery::new(|look| plot::of_main_run(summary, look), halves(summary))
}

/// Those that show what the side runs say.
pub fn side_gallery(summary: &Summary) -> Gallery {
    Gallery::new(|look| plot::of_side_runs(summary, look), vec![])
}

/// What the first flights of a longer run say, named as what it is.
pub fn preliminary(early: &Early) -> String {
    let (flown, of) = (count(early.flights), count(early.of));
    format!("Preliminary, after {flown} of {of} flights; the whole run may say otherwise. {}", early.sentence)
}

/// The document.
pub fn document(summary: &Summary) -> Document {
    Document {
        kind: "What becomes of a lost link",
        tab: "what becomes of a lost link",
        title: summary.title.clone(),
        invented: summary.invented,
        question: summary.about.clone(),
        first: cautions::first(summary),
        answer: summary.verdict.sentence.clone(),
        lead: lead(summary),
        beside: Some("map"),
        cautions: cautions::of_summary(summary),
        boxed: false,
        sections: [second_sheet(summary), third_sheet(summary), fourth_sheet(summary), annex(summary)].concat(),
        made: format!(
            "Version {}, seed {}, {} flights ({}).",
            summary.program_version,
            summary.seed,
            count(summary.flights),
            summary.flights_rule
        ),
    }
}

/// What stands beside the large map: what each policy does, and the others beside the first.
fn second_sheet(summary: &Summary) -> Vec<Section> {
    vec![policies(summary).on_paper(Paper::Sheet), beside_the_first(summary)]
}

/// What would change the answer, the choice over conditions, one flight.
fn third_sheet(summary: &Summary) -> Vec<Section> {
    let (beside, lines) = super::information::lines(summary);
    let open = match &summary.information {
        _ if !(beside.is_empty() && lines.is_empty()) => "",
        _ if summary.loss.lost.events == 0 => "Not worked out: no link was lost.",
        _ if summary.policies.len() < 2 => "Not worked out: there is no other policy to choose.",
        None => "Left out of a quick run, and so are other conditions; run without --quick for them.",
        _ => "Not worked out: no input is given with a spread.",
    };
    vec![
        Section::new("drives", "What changes it", "What would change the answer")
            .on_paper(Paper::Sheet)
            .lines(lines)
            .with(On::Page, Block::Line(open.into()))
            .with(On::Page, Block::Figures("turns"))
            .with(On::Page, Block::Line(plot::what_if_words(summary).unwrap_or_default())),
        conditions(summary),
        Section::new("flights", "A flight told", "The worst flight under the first policy")
            .with(On::Page, Block::Figures("timeline-2")),
    ]
}

/// What the numbers are not, and how they were made.
fn fourth_sheet(summary: &Summary) -> Vec<Section> {
    vec![
        Section::new("limits", "Limits", "What these numbers are not")
            .on_paper(Paper::Sheet)
            .with(On::Page, Block::List(cautions::of_summary(summary))),
        knowledge(summary),
        unusual(summary),
        made(summary),
    ]
}

/// Everything in full.
fn annex(summary: &Summary) -> Vec<Section> {
    vec![
        loss(summary).on_paper(Paper::Annex),
        Section::new("plan", "Site plan", "Annex: site plan, and where the others ended")
            .with(On::Page, Block::Figures("site"))
            .with(On::Page, Block::Figures("others")),
        Section::new("squares", "Squares to count", "Annex: outcomes to count").with(On::Page, Block::Figures("icons")),
        Section::new("inputs-moved", "Inputs moved", "Annex: what moves the danger")
            .with(On::Page, Block::Figures("what-if")),
        Section::new("other-flights", "Other flights", "Annex: selected flights in detail")
            .with(On::Page, Block::Figures("timeline-1"))
            .with(On::Page, Block::Figures("timeline-3"))
            .with(On::Page, Block::Figures("budget")),
        Section::new("path", "Along the path", "Annex: link, sky and charge along the path")
            .with(On::Page, Block::Figures("along"))
            .with(On::Page, Block::Figures("section"))
            .with(On::Page, Block::List(no_return(summary))),
        spreads(summary),
        condition_table(summary),
        counts(summary),
        inputs(summary),
        pairs(summary),
        harm(summary),
    ]
}

/// The recommended policy: the best one, or the first of the ranking.
pub fn recommended(summary: &Summary) -> Option<&PolicySummary> {
    let index = summary.verdict.choice.ranking.first()?;
    summary.policies.get(*index)
}

/// The policies, best first.
fn ranked(summary: &Summary) -> impl Iterator<Item = &PolicySummary> {
    summary.verdict.choice.ranking.iter().filter_map(|index| summary.policies.get(*index))
}

fn confidence(summary: &Summary) -> String {
    number(summary.confidence * 100.0, 0)
}

/// Lost links under the policy with most of them.
fn lost(summary: &Summary) -> String {
    count(summary.policies.iter().map(|policy| policy.lost).max().unwrap_or(0))
}

/// What stands with the answer: what would change it, the policies in short, how sure it is.
fn lead(summary: &Summary) -> Vec<Part> {
    let verdict = &summary.verdict;
    let changes = super::information::lines(summary).0;
    let mut lead = Vec::new();
    if !changes.is_empty() {
        lead.push(Part::both(Block::Line(format!("What would change it: {}", changes.join(" ")))));
    }
    if !verdict.others.is_empty() {
        let columns = [
            "of 1,000 lost links, as ranked",
            "#grave danger",
            "#danger",
            "#craft lost or worse",
            "#back home",
            "#median energy at the ground / J",
        ];
        let row = |policy: &PolicySummary| {
            vec![
                policy.name.clone(),
                brief(&policy.share(Concern::Grave)),
                words::cell(&policy.share(Concern::Danger)),
                brief(&policy.share(Concern::CraftLost)),
                brief(&policy.home),
                middle_energy(policy),
            ]
        };
        let short =
            Table::new("", &columns).label("All policies in short").class("short").rows(ranked(summary).map(row));
        lead.push(Part::page(short.block()));
    }
    lead.extend([
        Part::terminal(outcomes(summary).block()),
        Part::page(Block::Sure(sure(summary))),
        Part::page(Block::Figures("bars")),
    ]);
    lead
}

/// Energy at the ground that half of the flights keep under.
fn middle_energy(policy: &PolicySummary) -> String {
    let energy = policy.measures.iter().find(|measure| measure.key == "energy_below_j");
    energy.map_or("–".into(), |measure| number(measure.p50.value, if measure.p50.value < 9.95 { 1 } else { 0 }))
}

/// Tiers of outcomes per policy, for a terminal.
fn outcomes(summary: &Summary) -> Table {
    let caption = format!("Of 1,000 lost links ({} simulated; {} % intervals)", lost(summary), confidence(summary));
    let mut table = Table::new(
        caption,
        &["policy, as ranked", "#grave", "#danger", "#trespass", "#lost", "#home", "#J", "#99 % / m"],
    );
    let best = recommended(summary).map(|policy| &policy.name);
    for policy in ranked(summary) {
        table.row(
            vec![
                policy.name.clone(),
                brief(&policy.tier(Tier::Grave)),
                words::cell(&policy.share(Concern::Danger)),
                brief(&policy.tier(Tier::Trespass)),
                brief(&policy.tier(Tier::CraftLost)),
                brief(&policy.home),
                middle_energy(policy),
                words::within(policy.within_99_m),
            ],
            best == Some(&policy.name),
        );
    }
    table
}

fn sure(summary: &Summary) -> String {
    let aside = match summary.faults.flights {
        0 => String::new(),
        n => format!(" ({} more set aside for a numerical fault)", count(n)),
    };
    format!(
        "How sure: counted in {} lost links of {} simulated flights{aside}; {} % intervals. A difference in danger to people under {} of \
         1,000 counts as none. How often the link is lost is not included. A calculation about a model: it permits nothing.",
        lost(summary),
        count(summary.flights),
        confidence(summary),
        matters(summary.matters.danger_points)
    )
}

/// The others beside the policy that comes first, on danger, where any lost link went differently.
fn beside_the_first(summary: &Summary) -> Section {
    let section = Section::new("beside", "Against the first", "Danger to people, compared with the first policy");
    let Some(&first) = summary.verdict.choice.ranking.first() else { return section };
    let told = summary.pairs.iter().filter(|pair| {
        pair.about == Concern::Danger
            && (pair.first == first || pair.second == first)
            && pair.table[1] + pair.table[2] > 0
    });
    let lines: Vec<String> = told.map(|pair| words::beside(summary, pair, first)).collect();
    let alike = if lines.is_empty() && summary.pairs.len() > 1 {
        "No lost link ended in danger under one policy and not under another."
    } else {
        ""
    };
    section
        .with(On::Page, Block::Figures("pairs"))
        .with(On::Terminal, Block::List(lines))
        .with(On::Page, Block::Line(alike.into()))
}

/// All pairs in full.
fn pairs(summary: &Summary) -> Section {
    let mut rows = Vec::new();
    // Where no lost link went differently there is nothing to tell, but on danger.
    let telling = |pair: &&Pair| pair.about == Concern::Danger || pair.table[1] + pair.table[2] > 0;
    for pair in summary.pairs.iter().filter(telling) {
        let name = |index| words::policy_name(summary, index);
        let names = format!("\"{}\" against \"{}\"", name(pair.first), name(pair.second));
        let interval = words::difference_range(pair.low, pair.high);
        let (estimate, verdict) = (difference(pair.difference), words::verdict(summary, pair));
        let p = pair.p_adjusted.map_or("–".into(), |p| if p < 0.001 { "< 0.001".into() } else { number(p, 3) });
        let (table, gain) = (pair.table.map(count).join(" / "), number(pair.pairing_gain, 1));
        rows.push(vec![names, pair.about.label().into(), estimate, interval, verdict, p, table, gain]);
    }
    let table = Table::new(
        "Paired differences on the same flights, in endings as bad as the concern says or worse. Danger to people is always listed; any other \
         concern only if some lost link ended differently under the two. p: exact McNemar test, Holm-adjusted over all pairs. Pairing \
         gain: how many times as many flights would be needed without pairing.",
        &[
            "first against second",
            "about",
            "#per 1,000",
            "#interval",
            "verdict",
            "#p, adjusted",
            "#both / first / second / neither",
            "#pairing gain",
        ],
    );
    Section::new("pairs", "All pairs", "Annex: all pairs of policies")
        .with(On::Page, table.label("Table of paired differences").class("tight").rows(rows).block())
}

fn policies(summary: &Summary) -> Section {
    let table = Table::new(
        format!(
            "Ranked in the order of concern: grave danger to people, danger, trespass, craft lost, craft at risk, coming home. What set a policy aside last: {}.",
            summary.verdict.decided_by
        ),
        &[
            "policy",
            "what the craft does",
            "#ended fine, of 1,000",
            "#danger where the pilot did not take over, of 1,000",
        ],
    );
    let rows = ranked(summary).map(|policy| {
        vec![
            policy.name.clone(),
            policy.words.clone(),
            words::cell(&policy.tier(Tier::Fine)),
            words::cell(&policy.danger_without_pilot),
        ]
    });
    let unsettled = summary.policies.iter().filter_map(|policy| {
        let (low, high) = policy.danger_bounds?;
        let share = policy.tier(Tier::NotSettled);
        let bound = |v: f64| if v > 0.0 { words::of_thousand(v) } else { "none".into() };
        Some(format!(
            "{}: {} of {} lost links are not settled. If all of them ended well, danger would be {} of 1,000; if all ended badly, {}.",
            policy.name,
            count(share.events),
            count(share.of),
            bound(low),
            bound(high)
        ))
    });
    Section::new("policies", "Policies", "The policies")
        .with(On::Page, table.label("Table of policies").class("tight").rows(rows).block())
        .lines(unsettled)
}

fn spreads(summary: &Summary) -> Section {
    let table = Table::new(
        "5 %: one flight in twenty stays below it; half: the median; 95 %: one in twenty goes beyond it. In brackets the bounds from order \
         statistics; \"not bounded\": too few flights to bound it.",
        &["policy", "measure", "#5 %", "#half", "#95 %"],
    );
    let measures =
        summary.policies.iter().flat_map(|policy| policy.measures.iter().map(move |measure| (policy, measure)));
    let rows = measures.filter(|(_, measure)| measure.p50.value.is_finite()).map(|(policy, measure)| {
        let decimals = usize::from(measure.p50.value.abs() < 10.0);
        let mut row = vec![policy.name.clone(), format!("{} / {}", measure.label, measure.unit)];
        row.extend([&measure.p05, &measure.p50, &measure.p95].map(|band| words::band(band, decimals)));
        row
    });
    Section::new("spreads", "How far, how long", "Annex: how far, how long, how hard, battery margin")
        .with(On::Page, Block::Figures("energy"))
        .with(On::Page, Block::Figures("dots"))
        .with(On::Page, table.label("Table of measures").class("tight").rows(rows).block())
}

fn loss(summary: &Summary) -> Section {
    let loss = &summary.loss;
    let modelled = loss.how == "modelled";
    // A link that the scenario cuts has no other cause.
    let main = loss.causes.first().filter(|_| modelled);
    let main = main.map(|(cause, n)| format!("Main cause most often: {cause} ({} flights).", count(*n)));
    let causes = loss.causes.iter().filter(|_| modelled).map(|(cause, n)| vec![cause.clone(), count(*n)]);
    let table = Table::new("Main cause: what took most of the link margin.", &["cause", "#flights"]);
    Section::new("loss", "When the link goes", "Annex: when the link goes")
        .lines(loss_lines(summary))
        .with(On::Terminal, Block::Line(main.unwrap_or_default()))
        .with(On::Page, table.label("Table of causes").rows(causes).block())
        .with(On::Page, Block::Figures("moment"))
}

fn loss_lines(summary: &Summary) -> Vec<String> {
    let loss = &summary.loss;
    let how = if loss.how == "modelled" {
        "The link is lost when the radio model says so.".into()
    } else {
        format!("The link is {}.", loss.how)
    };
    let mut lines = vec![match (loss.lost.events, loss.lost.of) {
        (0, of) => format!("{how} In {} flights it was never declared lost.", count(of)),
        (events, of) if events == of => format!("{how} It was declared lost in every one of {} flights.", count(of)),
        (events, of) => format!("{how} It was declared lost in {} of {} flights.", count(events), count(of)),
    }];
    if loss.time_s.iter().all(|time| time.is_finite()) {
        let [early, half, late] = loss.time_s.map(|time| number(time, 0));
        let [near, middle, far] = loss.distance_m.map(|distance| number(distance, 0));
        lines.push(format!(
            "Half of the losses came within {half} s of take-off (90 % between {early} and {late} s), and half within {middle} m of the \
             pilot (90 % between {near} and {far} m)."
        ));
    }
    if !loss.without_loss.is_empty() {
        let ends = loss.without_loss.iter().map(|(word, n)| format!("{} {}", count(*n), word.replace('-', " ")));
        lines.push(format!("Flights that ended before any loss: {}.", words::list(&ends.collect::<Vec<_>>())));
    }
    if loss.not_taken_off > 0 {
        lines.push(format!("Take-off was refused for want of a fix in {} flights.", count(loss.not_taken_off)));
    }
    lines
}

fn conditions(summary: &Summary) -> Section {
    let choice = summary.over_conditions.as_ref().map(|over| over.sentence.clone());
    let section = Section::new("conditions", "Other conditions", "Under other conditions")
        .with(On::Both, Block::Strong(choice.unwrap_or_default()));
    if plot::regret_tells(summary) || summary.conditions.is_empty() {
        return section.with(On::Page, Block::Figures("regret"));
    }
    section.with(
        On::Page,
        Block::Line(format!(
            "In no condition did the danger to people counted under a policy exceed the lowest there by more than {} of 1,000; up to that, a \
             difference counts as none.",
            matters(summary.matters.danger_points)
        )),
    )
}

fn condition_table(summary: &Summary) -> Section {
    let names: Vec<String> = summary.policies.iter().map(|policy| format!("#{}", policy.name)).collect();
    let columns: Vec<&str> = ["condition"].into_iter().chain(names.iter().map(String::as_str)).collect();
    let rows = summary.conditions.iter().map(|condition| {
        [condition.name.clone()].into_iter().chain(condition.danger.iter().map(brief)).collect::<Vec<_>>()
    });
    let each = u64::from(condition_flights(summary.flights as u32));
    let fewer = if each < summary.flights { format!(" (of the first {} flights)", count(each)) } else { String::new() };
    let table = Table::new(format!("Danger to people, of 1,000 lost links, in each condition{fewer}."), &columns);
    Section::new("in-each", "In each condition", "Annex: danger in each condition")
        .with(On::Page, table.label("Table of conditions").class("tight").kept().rows(rows).block())
}

fn no_return(summary: &Summary) -> Vec<String> {
    let lines = summary.no_return.iter().map(|back| {
        let name = words::policy_name(summary, back.policy);
        let how = format!(
            "cheapest speed home {} m/s over the ground, {}",
            number(back.best_speed_mps, 1),
            words::along_wind(back.headwind_mps, 1)
        );
        match back.distance_m {
            None => format!("{name}: at the middle values of wind and pack, home can be reached on the charge left from everywhere on the path ({how})."),
            Some(distance) => format!(
                "{name}: no return after {} m of the path: at the middle values of wind and pack, the charge left no longer brings it home ({how}).",
                number(distance, 0)
            ),
        }
    });
    lines.collect()
}

fn counts(summary: &Summary) -> Section {
    let keys: Vec<String> = (0..Flags::NAMED.len()).map(|k| char::from(b'a' + k as u8).to_string()).collect();
    let order = summary.order.as_ref().map_or(String::new(), |order| {
        format!("The order of outcomes was changed in the scenario: {}.", order.join(", "))
    });
    let intro = format!(
        "Every lost link has exactly one headline outcome: the worst thing that happened. Flags may overlap and do not add up. Columns a \
         to {}:",
        keys.last().map_or("", String::as_str)
    );
    let numbers: Vec<String> = ["count", "of 1,000 (interval)"]
        .into_iter()
        .chain(keys.iter().map(String::as_str))
        .map(|k| format!("#{k}"))
        .collect();
    let columns: Vec<&str> = ["headline outcome"].into_iter().chain(numbers.iter().map(String::as_str)).collect();
    let mut section = Section::new("counts", "Counts", "Annex: counts")
        .with(On::Both, Block::Strong(order))
        .with(On::Page, Block::Line(intro))
        .with(On::Page, Block::Letters(flag_labels().map(String::from).collect()));
    for policy in &summary.policies {
        let rows = policy.headlines.iter().enumerate().map(|(index, (headline, share))| {
            let mut row = vec![headline.label().into(), count(share.events), words::cell(share)];
            let by_flag = policy.headline_by_flag.get(index).into_iter().flatten();
            // A summary that somebody edited may have more of them than there are columns.
            row.extend(by_flag.take(keys.len()).map(|n| count(*n)));
            row
        });
        let table = Table::new(format!("{}: {} lost links", policy.name, count(policy.lost)), &columns);
        let table = table.label(format!("Counts of {}", policy.name)).class("tight").kept().rows(rows);
        section = section.with(On::Page, table.block());
    }
    section
}

fn harm(summary: &Summary) -> Section {
    let digit = |value: f64| {
        if value <= 0.0 || !value.is_finite() {
            return "–".to_string();
        }
        let place = -libm::floor(libm::log10(value)) as i32;
        let scale = 10f64.powi(place);
        number((value * scale).round() / scale, place.max(0) as usize)
    };
    let rows: Vec<Vec<String>> = summary
        .policies
        .iter()
        .filter_map(|policy| {
            let harm = policy.harm?;
            let lines =
                harm.above_lines.map(|share| if share > 0.0 { words::of_thousand(share) } else { "none seen".into() });
            let mut row = vec![policy.name.clone()];
            row.extend([harm.low_per_million, harm.mean_per_million, harm.high_per_million].map(digit));
            row.extend([number(harm.strike_area_m2, 1), lines.join(" / ")]);
            Some(row)
        })
        .collect();
    let intro = if rows.is_empty() {
        ""
    } else {
        "A wide band from published tables, asked for in the scenario. It is no permission, no class and no clearance; the middle of \
         the band means little without its ends."
    };
    let columns = [
        "policy",
        "#5th percentile",
        "#mean",
        "#95th percentile",
        "#strike area / m²",
        "#impacts above 15 J / 33.9 J / 80 J, of 1,000",
    ];
    let table = Table::new("Expected casualties per million lost links, to one digit.", &columns);
    Section::new("harm", "Expected harm", "Annex: expected harm")
        .with(On::Page, Block::Line(intro.into()))
        .with(On::Page, table.label("Table of harm").rows(rows).block())
}

fn knowledge(summary: &Summary) -> Section {
    let rows =
        summary.knowledge.iter().map(|known| vec![known.model.to_string(), known.grade.to_string(), known.why.clone()]);
    Section::new("known", "How well it is known", "How well it is known").with(
        On::Page,
        Table::new("What each model rests on.", &["model", "knowledge", "why"])
            .label("Strength of knowledge")
            .rows(rows)
            .block(),
    )
}

fn unusual(summary: &Summary) -> Section {
    Section::new("unusual", "Unusual values", "Unusual values in this scenario")
        .with(On::Both, Block::List(summary.warnings.clone()))
}

fn inputs(summary: &Summary) -> Section {
    let rows = &summary.inputs;
    let term = |row: &InputRow| Term {
        key: row.key.clone(),
        value: row.value.clone(),
        line: row.line,
        note: if row.note.is_empty() { "estimate".into() } else { row.note.clone() },
    };
    let terms: Vec<Term> = rows.iter().filter(|row| row.line.is_some()).map(term).collect();
    let defaults = rows.iter().filter(|row| row.line.is_none() && row.value != "none").count();
    let intro = format!(
        "The inputs that {} states, each with its line there and its source. {} more keys stand at their defaults; summary.json gives each \
         with its source.",
        summary.scenario_name,
        count(defaults as u64)
    );
    let section = Section::new("inputs", "Inputs", "Annex: inputs that the scenario states");
    if rows.is_empty() {
        return section;
    }
    section.with(On::Page, Block::Line(intro)).with(On::Page, Block::Terms(terms))
}

fn made(summary: &Summary) -> Section {
    let intervals = format!(
        "Clopper–Pearson for shares, Tango for pairs, order statistics for quantiles, {} %",
        confidence(summary)
    );
    let mut rows = vec![
        ("command", summary.command.clone()),
        ("scenario", summary.scenario_name.clone()),
        ("SHA-256 of the scenario and its files", summary.scenario_hash.clone()),
        ("version", summary.program_version.clone()),
        ("seed", summary.seed.to_string()),
        ("flights", format!("{} ({})", count(summary.flights), summary.flights_rule)),
        ("step", format!("{} s", summary.step_s)),
        ("intervals", intervals),
    ];
    let table =
        Table::new("Enough to reproduce this report byte for byte.", &["", ""]).label("How this was made").kept();
    // The map is not part of the data that a page may be printed from again; the inputs are.
    let on_earth = |row: &InputRow| row.key == "site.lat_deg" && row.line.is_some();
    if summary.map.earth.is_none() && !summary.inputs.iter().any(on_earth) {
        rows.push(("map.geojson, map.kml, ends.geojson", earth::WITHOUT.into()));
    }
    let rows = rows.into_iter().map(|(what, value)| vec![what.to_string(), value]);
    Section::new("made", "How this was made", "How this was made")
        .with(On::Page, table.class("made").rows(rows).block())
}
