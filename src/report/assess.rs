//! The document of an assessment: which policy, how sure, what the others do.

use super::document::{Block, Document, Number, On, Part, Section, Table, Term};
use super::gallery::Gallery;
use super::plot::{self, Look};
use super::words::{self, bare_frequency, bound, brief, count, difference, matters, number};
use crate::flight::{Flags, Tier};
use crate::risk::cautions;
use crate::risk::outcome::Concern;
use crate::risk::summary::{Pair, PolicySummary, Share, Summary, flag_labels};
use crate::scenario::InputRow;

/// The figures of an assessment, for [`document`].
pub fn gallery(summary: &Summary) -> Gallery {
    let draw = |look| {
        let mut figures = plot::all(summary, look);
        figures.push(plot::map_strip(summary, Look::WIDE));
        figures
    };
    Gallery::new(draw, vec![plot::bars(summary, Look::MIDDLE), plot::map(summary, Look::MIDDLE)])
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
        boxed: true,
        sections: vec![
            beside_the_first(summary),
            policies(summary),
            loss(summary),
            Section::new("drives", "What changes it", "What would change the answer")
                .lines(super::information::lines(summary).1)
                .with(On::Page, Block::Figures("what-if"))
                .with(On::Page, Block::Line(plot::what_if_words(summary).unwrap_or_default())),
            conditions(summary),
            Section::new("flights", "Selected flights", "Selected flights in detail")
                .with(On::Page, Block::Figures("timeline"))
                .with(On::Page, Block::Figures("budget")),
            Section::new("path", "Along the path", "Link, sky and charge along the path")
                .with(On::Page, Block::Figures("along"))
                .with(On::Page, Block::Figures("section"))
                .with(On::Page, Block::List(no_return(summary))),
            knowledge(summary),
            unusual(summary),
            made(summary),
            spreads(summary),
            counts(summary),
            inputs(summary),
            pairs(summary),
            harm(summary),
        ],
        made: format!(
            "Version {}, seed {}, {} flights ({}).",
            summary.program_version,
            summary.seed,
            count(summary.flights),
            summary.flights_rule
        ),
    }
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

/// What stands with the answer: the policies in short, how sure it is, five numbers.
fn lead(summary: &Summary) -> Vec<Part> {
    let verdict = &summary.verdict;
    let changes = super::information::lines(summary).0;
    let mut lead = Vec::new();
    if !changes.is_empty() {
        lead.push(Part::both(Block::Line(format!("What would change it: {}", changes.join(" ")))));
    }
    if !verdict.others.is_empty() {
        let columns = [
            "of 1,000 lost links, best first",
            "#grave danger",
            "#danger",
            "#craft lost or worse",
            "#back home",
            "#energy / J",
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
        Part::page(Block::Numbers(five_numbers(summary))),
    ]);
    lead
}

/// Energy at contact that half of the flights keep under.
fn middle_energy(policy: &PolicySummary) -> String {
    let energy = policy.measures.iter().find(|measure| measure.key == "impact_energy_j");
    energy.map_or("–".into(), |measure| number(measure.p50.value, if measure.p50.value < 9.95 { 1 } else { 0 }))
}

/// Tiers of outcomes per policy, for a terminal.
fn outcomes(summary: &Summary) -> Table {
    let caption = format!("Of 1,000 lost links ({} simulated; {} % intervals)", lost(summary), confidence(summary));
    let mut table = Table::new(
        caption,
        &["policy, best first", "#grave", "#danger", "#trespass", "#lost", "#home", "#J", "#99 % / m"],
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
                bound(policy.within_99_m, 0),
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
        "From {} lost links in {} simulated flights{aside}; intervals at {} %; on danger to people a \
         difference under {} of 1,000 counts as none.",
        lost(summary),
        count(summary.flights),
        confidence(summary),
        matters(summary.matters.danger_points)
    )
}

/// The five numbers of the first screen.
fn five_numbers(summary: &Summary) -> Vec<Number> {
    let Some(policy) = recommended(summary) else { return vec![] };
    let share = |what: String, share: Share| match (share.events, share.of) {
        (_, 0) => Number::new(what, "not known", "no link was lost"),
        (0, of) => Number::new(
            what,
            format!("fewer than {} of 1,000", words::at_most(share.high)),
            format!("none seen in {} lost links", count(of)),
        ),
        (events, of) if events == of => Number::new(
            what,
            format!("more than {} of 1,000", words::at_least(share.low)),
            format!("all of {} lost links", count(of)),
        ),
        (_, of) => Number::new(
            what,
            format!("{} of 1,000", words::of_thousand(share.estimate())),
            format!("{}; from {} lost links", words::interval(&share), count(of)),
        ),
    };
    let within = "3 · 99 % came down within";
    let charge = "5 · Charge left at touch-down";
    vec![
        share(format!("1 · Danger to people, \"{}\"", policy.name), policy.share(Concern::Danger)),
        share("2 · Ended fine".into(), policy.tier(Tier::Fine)),
        match policy.within_99_m {
            Some(distance) => Number::new(
                within,
                format!("{} m of home", number(distance, 0)),
                format!("{} % sure; from {}", confidence(summary), count(policy.lost)),
            ),
            None => Number::new(within, "not bounded", format!("{} lost links are too few", count(policy.lost))),
        },
        best_against_next(summary).unwrap_or_else(|| {
            Number::new("4 · Best against next best", "nothing to compare", "one policy, or no lost link")
        }),
        match policy.measures.iter().find(|measure| measure.key == "pack_left_pct") {
            Some(measure) if measure.p05.value.is_finite() => Number::new(
                charge,
                format!("{} % or more", number(measure.p05.value, 0)),
                format!("in 95 of 100 flights; {} to {}", bound(measure.p05.low, 0), bound(measure.p05.high, 0)),
            ),
            _ => Number::new(charge, "not known", "no flight to tell"),
        },
    ]
}

fn best_against_next(summary: &Summary) -> Option<Number> {
    let (first, second) = (*summary.verdict.choice.ranking.first()?, *summary.verdict.choice.ranking.get(1)?);
    let pair = summary.pairs.iter().find(|pair| {
        pair.about == Concern::Danger
            && ((pair.first, pair.second) == (first, second) || (pair.first, pair.second) == (second, first))
    })?;
    let sign = if pair.first == first { 1.0 } else { -1.0 };
    let (low, high) = if sign > 0.0 { (pair.low, pair.high) } else { (-pair.high, -pair.low) };
    Some(Number::new(
        format!("4 · Danger against \"{}\"", words::policy_name(summary, second)),
        format!("{} of 1,000", difference(sign * pair.difference)),
        format!("{}: {}", words::difference_range(low, high), words::verdict(summary, pair)),
    ))
}

/// The others beside the policy that comes first, on danger, where any lost link went differently.
fn beside_the_first(summary: &Summary) -> Section {
    let section = Section::new("beside", "Beside the first", "Danger to people beside the first policy");
    let Some(&first) = summary.verdict.choice.ranking.first() else { return section };
    let told = summary.pairs.iter().filter(|pair| {
        pair.about == Concern::Danger
            && (pair.first == first || pair.second == first)
            && pair.table[1] + pair.table[2] > 0
    });
    section.with(On::Both, Block::List(told.map(|pair| words::beside(summary, pair, first)).collect()))
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
        "Paired differences on the same flights, each of endings that are so or worse; a concern in which no lost link went \
         differently is left out.",
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
        .with(On::Page, Block::Figures("pairs"))
        .with(On::Page, table.label("Table of paired differences").class("tight").rows(rows).block())
}

fn policies(summary: &Summary) -> Section {
    let table = Table::new(
        format!(
            "Best first, in the order of concern: grave danger to people, danger, trespass, craft lost, craft at risk, coming home. Decided last by: {}.",
            summary.verdict.decided_by
        ),
        &[
            "policy",
            "what the craft does",
            "#danger to people, of 1,000",
            "#ended fine, of 1,000",
            "#danger where the pilot did not take over",
        ],
    );
    let rows = ranked(summary).map(|policy| {
        vec![
            policy.name.clone(),
            policy.words.clone(),
            bare_frequency(&policy.share(Concern::Danger)),
            bare_frequency(&policy.tier(Tier::Fine)),
            bare_frequency(&policy.danger_without_pilot),
        ]
    });
    let unsettled = summary.policies.iter().filter_map(|policy| {
        let (low, high) = policy.danger_bounds?;
        let share = policy.tier(Tier::NotSettled);
        let bound = |v: f64| if v > 0.0 { words::of_thousand(v) } else { "none".into() };
        Some(format!(
            "{}: {} of {} flights are not settled. Were they all to end well, danger would be {} of 1,000; all badly, {}.",
            policy.name,
            count(share.events),
            count(share.of),
            bound(low),
            bound(high)
        ))
    });
    Section::new("policies", "Policies", "The policies")
        .with(On::Page, table.label("Table of policies").rows(rows).block())
        .lines(unsettled)
        .with(On::Page, Block::Figures("icons"))
}

fn spreads(summary: &Summary) -> Section {
    let table = Table::new(
        "Quantiles with order-statistic bounds; \"not bounded\": this many flights cannot bound it.",
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
    Section::new("spreads", "How far, how long", "Annex: how far, how long, battery margin")
        .with(On::Page, Block::Figures("dots"))
        .with(On::Page, table.label("Table of measures").class("tight").rows(rows).block())
}

fn loss(summary: &Summary) -> Section {
    let loss = &summary.loss;
    let modelled = loss.how == "modelled";
    // A link that the scenario cuts has no other cause.
    let main = loss.causes.first().filter(|_| modelled);
    let main = main.map(|(cause, n)| format!("Main cause most often: {cause} ({} flights).", count(*n)));
    let causes = loss.causes.iter().map(|(cause, n)| vec![cause.clone(), count(*n)]);
    let table = Table::new("Main cause: the term that took most of the margin.", &["cause", "#flights"]);
    Section::new("loss", "When the link goes", "When the link goes")
        .lines(loss_lines(summary))
        .with(On::Terminal, Block::Line(main.unwrap_or_default()))
        .with(On::Page, table.label("Table of causes").rows(causes).block())
        .with(On::Page, Block::Figures("moment"))
}

fn loss_lines(summary: &Summary) -> Vec<String> {
    let loss = &summary.loss;
    let how = if loss.how == "modelled" {
        "The link goes when the radio model says so.".into()
    } else {
        format!("The link goes: {}.", loss.how)
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
            "Half of the losses came within {half} s of take-off (90 % between {early} and {late} s), {middle} m from the pilot \
             ({near} to {far} m)."
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
    let names: Vec<String> = summary.policies.iter().map(|policy| format!("#{}", policy.name)).collect();
    let columns: Vec<&str> = ["condition"].into_iter().chain(names.iter().map(String::as_str)).collect();
    let rows = summary.conditions.iter().map(|condition| {
        [condition.name.clone()].into_iter().chain(condition.danger.iter().map(brief)).collect::<Vec<_>>()
    });
    let table = Table::new("Danger to people, of 1,000 lost links, in each condition.", &columns);
    let choice = summary.over_conditions.as_ref().map(|over| over.sentence.clone());
    Section::new("conditions", "Other conditions", "Under other conditions")
        .with(On::Both, Block::Strong(choice.unwrap_or_default()))
        .with(On::Page, Block::Figures("regret"))
        .with(On::Page, table.label("Table of conditions").kept().rows(rows).block())
}

fn no_return(summary: &Summary) -> Vec<String> {
    let lines = summary.no_return.iter().map(|back| {
        let name = words::policy_name(summary, back.policy);
        let how = format!(
            "best speed home {} m/s, {}",
            number(back.best_speed_mps, 1),
            words::along_wind(back.headwind_mps, 1)
        );
        match back.distance_m {
            None => format!("{name}: home can be reached on the charge left from everywhere on the path ({how})."),
            Some(distance) => format!(
                "{name}: no return after {} m of the path: the charge left no longer brings it home ({how}).",
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
        "Every flight has exactly one headline outcome: the worst thing that happened. Flags may overlap and do not add up. Columns a \
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
            row.extend(policy.headline_by_flag.get(index).into_iter().flatten().map(|n| count(*n)));
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
        Table::new(cautions::INTERVALS, &["model", "knowledge", "why"])
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
        "What {} states, with its line there and where it comes from. {} more keys stand at their defaults; summary.json gives each \
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
    let table = Table::new("Enough to make it again, byte for byte.", &["", ""]).label("How this was made").kept();
    if summary.map.origin_deg.is_none() {
        rows.push(("ends.geojson", super::geojson::WITHOUT.into()));
    }
    let rows = rows.into_iter().map(|(what, value)| vec![what.to_string(), value]);
    Section::new("made", "How this was made", "How this was made")
        .with(On::Page, table.class("made").rows(rows).block())
}
