//! Pages: one file each, works offline, light and dark, on paper and on a phone.

use super::plot::{self, Figure, Look};
use super::sheet::{FieldTest, Sheet};
use super::words;
use crate::flight::Group;
use crate::plan::SkyDay;
use crate::plan::reach::Reach;
use crate::risk::cautions;
use crate::risk::summary::SiteMap;
use crate::risk::summary::{Compared, Heights, PolicySummary, QuantileBand, Share, Summary};
use askama::Template;
use base64::Engine as _;
use std::io::Write;

/// Why a page could not be written.
#[derive(Debug, thiserror::Error)]
pub enum HtmlError {
    /// Writing failed.
    #[error("the page could not be written: {0}")]
    Write(#[from] std::io::Error),
}

/// The page's fonts, for embedding.
struct Fonts {
    regular: String,
    bold: String,
}

impl Fonts {
    fn embedded() -> Fonts {
        let encode = |bytes: &[u8]| base64::engine::general_purpose::STANDARD.encode(bytes);
        Fonts {
            regular: encode(include_bytes!("../../assets/fonts/Inter-Regular.woff2")),
            bold: encode(include_bytes!("../../assets/fonts/Inter-Bold.woff2")),
        }
    }
}

/// A figure on the page: one drawing for screens and paper, one for phones.
struct Shown {
    id: String,
    class: &'static str,
    desk: String,
    paper: String,
    phone: String,
    caption: String,
    words: String,
}

impl Shown {
    fn new(desk: &Figure, phone: &Figure) -> Shown {
        Shown {
            id: desk.id.clone(),
            class: if desk.layout.size_px[0] < 800.0 { "mid" } else { "full" },
            desk: desk.inline(),
            paper: String::new(),
            phone: phone.inline(),
            caption: desk.caption.clone(),
            words: desk.words.clone(),
        }
    }

    fn both(draw: impl Fn(Look) -> Figure) -> Shown {
        Shown::new(&draw(Look::WIDE), &draw(Look::NARROW))
    }

    /// With a third drawing for paper.
    fn three(draw: impl Fn(Look) -> Figure) -> Shown {
        Shown { paper: draw(Look::WIDE).inline(), ..Shown::new(&draw(Look::MIDDLE), &draw(Look::NARROW)) }
    }

    fn some(draw: impl Fn(Look) -> Option<Figure>) -> Option<Shown> {
        Some(Shown::new(&draw(Look::WIDE)?, &draw(Look::NARROW)?))
    }
}

/// One of the numbers at the top.
struct Number {
    what: String,
    value: String,
    note: String,
}

struct PolicyRow {
    name: String,
    lost: String,
    words: String,
    danger: String,
    fine: String,
    alone: String,
}

struct CountTable {
    name: String,
    lost: String,
    rows: Vec<(String, Vec<String>)>,
}

#[derive(Template)]
#[template(path = "report.html")]
struct ReportPage<'a> {
    fonts: Fonts,
    s: &'a Summary,
    first: Vec<String>,
    /// The verdict's first sentence, and what follows.
    answer: (String, String),
    sure: String,
    numbers: Vec<Number>,
    bars: Shown,
    map: Shown,
    strip: String,
    paper_map: String,
    icons: Shown,
    warnings: Vec<String>,
    contents: Vec<(&'static str, &'static str)>,
    pairs: Option<Shown>,
    pair_rows: Vec<Vec<(String, bool)>>,
    policies: Vec<PolicyRow>,
    unsettled: Vec<String>,
    spreads: Vec<Shown>,
    measures: Vec<Vec<String>>,
    loss: Vec<String>,
    causes: Vec<(String, String)>,
    moment: Option<Shown>,
    what_if: Option<Shown>,
    unmoved: Option<String>,
    regret: Option<Shown>,
    condition_rows: Vec<(String, Vec<String>)>,
    flights: Vec<Shown>,
    path: Vec<Shown>,
    no_return: Vec<String>,
    order: Option<String>,
    flag_names: Vec<&'static str>,
    flag_keys: Vec<String>,
    last_flag: String,
    counts: Vec<CountTable>,
    harm: Vec<Vec<String>>,
    made: Vec<(&'static str, String)>,
}

fn group(policy: &PolicySummary, group: Group) -> Share {
    let none = Share { events: 0, of: 0, low: 0.0, high: 1.0 };
    policy.groups.iter().find(|(this, _)| *this == group).map_or(none, |found| found.1)
}

/// A band in words, unbounded ends said.
fn band(band: &QuantileBand, decimals: usize) -> String {
    let end = |end: Option<f64>| end.map_or("not bounded".into(), |value| words::number(value, decimals));
    match (band.low, band.high) {
        (None, None) => format!("{}, not bounded", words::number(band.value, decimals)),
        _ => format!("{} ({} to {})", words::number(band.value, decimals), end(band.low), end(band.high)),
    }
}

/// How many decimals a measure needs.
fn decimals(value: f64) -> usize {
    if value.abs() < 10.0 { 1 } else { 0 }
}

/// The recommended policy: the best one, or the first of the ranking.
pub fn recommended(summary: &Summary) -> Option<&PolicySummary> {
    let index = summary.verdict.best.first().or(summary.verdict.ranking.first())?;
    summary.policies.get(*index)
}

/// The five numbers of the first screen.
fn five_numbers(summary: &Summary) -> Vec<Number> {
    let Some(policy) = recommended(summary) else { return vec![] };
    let number = |what: &str, value: String, note: String| Number { what: what.into(), value, note };
    let share_number = |what: &str, share: Share| match (share.events, share.of) {
        (_, 0) => number(what, "not known".into(), "no link was lost".into()),
        (0, of) => number(
            what,
            format!("under {} of 1,000", words::of_thousand(share.high)),
            format!("none seen in {} lost links", words::count(of)),
        ),
        (events, of) if events == of => number(
            what,
            format!("over {} of 1,000", words::of_thousand(share.low)),
            format!("all of {} lost links", words::count(of)),
        ),
        (_, of) => number(
            what,
            format!("{} of 1,000", words::of_thousand(share.estimate())),
            format!("{}; from {} lost links", words::interval(&share), words::count(of)),
        ),
    };
    let mut numbers = vec![
        share_number("1 · Danger to others", group(policy, Group::Danger)),
        share_number("2 · Ended fine", group(policy, Group::Fine)),
        match policy.within_99_m {
            Some(distance) => number(
                "3 · 99 % came down within",
                format!("{} m of home", words::number(distance, 0)),
                format!("{} % sure; from {}", words::number(summary.confidence * 100.0, 0), words::count(policy.lost)),
            ),
            None => number(
                "3 · 99 % came down within",
                "not bounded".into(),
                format!("{} lost links are too few", words::count(policy.lost)),
            ),
        },
    ];
    numbers.push(best_against_next(summary).unwrap_or_else(|| {
        number("4 · Best against next best", "nothing to compare".into(), "one policy, or no lost link".into())
    }));
    numbers.push(match policy.measures.iter().find(|measure| measure.key == "pack_left_pct") {
        Some(measure) if measure.p05.value.is_finite() => {
            let end = |end: Option<f64>| end.map_or("not bounded".into(), |value| words::number(value, 0));
            number(
                "5 · Charge left at touch-down",
                format!("{} % or more", words::number(measure.p05.value, 0)),
                format!("in 95 of 100 flights; {} to {}", end(measure.p05.low), end(measure.p05.high)),
            )
        }
        _ => number("5 · Charge left at touch-down", "not known".into(), "no flight to tell".into()),
    });
    for one in &mut numbers {
        if one.what.starts_with('1') {
            one.what = format!("{}, \"{}\"", one.what, policy.name);
        }
    }
    numbers
}

fn best_against_next(summary: &Summary) -> Option<Number> {
    let (first, second) = (*summary.verdict.ranking.first()?, *summary.verdict.ranking.get(1)?);
    let pair = summary.pairs.iter().find(|pair| {
        pair.about == Compared::Danger
            && ((pair.first, pair.second) == (first, second) || (pair.first, pair.second) == (second, first))
    })?;
    let sign = if pair.first == first { 1.0 } else { -1.0 };
    let (low, high) = if sign > 0.0 { (pair.low, pair.high) } else { (-pair.high, -pair.low) };
    let name = summary.policies.get(second).map_or("the next", |policy| policy.name.as_str());
    Some(Number {
        what: format!("4 · Danger against \"{name}\""),
        value: format!("{} of 1,000", words::difference(sign * pair.difference)),
        note: format!(
            "{} to {}: {}",
            words::difference(low),
            words::difference(high),
            plot::verdict_words(summary, pair)
        ),
    })
}

/// The eight lines that go with every report.
pub fn warnings(summary: &Summary) -> Vec<String> {
    let weak: Vec<String> = summary
        .knowledge
        .iter()
        .filter(|known| known.grade == "weak")
        .chain(summary.knowledge.iter().filter(|known| known.grade == "middling"))
        .take(3)
        .map(|known| format!("{} ({})", known.model, known.why))
        .collect();
    let grades: Vec<String> =
        summary.knowledge.iter().map(|known| format!("{} {}", known.model, known.grade)).collect();
    vec![
        "A simulation of a model of this site; not a permission, not a clearance, not a record of real flights.".into(),
        "All rates are per lost link: how often the link is lost here is not in them. Danger is danger to others; a policy that gives up the craft can come first by it.".into(),
        if weak.is_empty() {
            "Intervals cover the luck of the draw and the listed unknowns. They do not cover a wrong model.".into()
        } else {
            format!(
                "Intervals cover the luck of the draw and the listed unknowns, not a wrong model. Weakest assumptions: {}.",
                words::list(&weak)
            )
        },
        "People, roads and property of others count only where they were drawn, people for the hours given. Nobody drawn is not nobody there.".into(),
        "Seeing none does not mean none can occur; the upper bound is shown.".into(),
        format!(
            "Results hold for the wind, craft, battery and policy settings in the table of inputs; seed {} and version {} make them again.",
            summary.seed, summary.program_version
        ),
        cautions::endings(summary),
        format!("Strength of knowledge: {}.", if grades.is_empty() { "not graded".into() } else { grades.join(", ") }),
    ]
}

pub(super) fn loss_lines(summary: &Summary) -> Vec<String> {
    let loss = &summary.loss;
    let lost = &loss.lost;
    let mut lines = Vec::new();
    let how = if loss.how == "modelled" {
        "The link goes when the radio model says so.".into()
    } else {
        format!("The link goes: {}.", loss.how)
    };
    lines.push(match (lost.events, lost.of) {
        (0, of) => format!("{how} In {} flights it was never declared lost.", words::count(of)),
        (events, of) if events == of => {
            format!("{how} It was declared lost in every one of {} flights.", words::count(of))
        }
        (events, of) => {
            format!("{how} It was declared lost in {} of {} flights.", words::count(events), words::count(of))
        }
    });
    if loss.time_s.iter().all(|time| time.is_finite()) {
        lines.push(format!(
            "Half of the losses came within {} s of take-off (90 % between {} and {} s), {} m from the pilot ({} to {} m).",
            words::number(loss.time_s[1], 0),
            words::number(loss.time_s[0], 0),
            words::number(loss.time_s[2], 0),
            words::number(loss.distance_m[1], 0),
            words::number(loss.distance_m[0], 0),
            words::number(loss.distance_m[2], 0)
        ));
    }
    if !loss.without_loss.is_empty() {
        let ends: Vec<String> = loss
            .without_loss
            .iter()
            .map(|(word, n)| format!("{} {}", words::count(*n), word.replace('-', " ")))
            .collect();
        lines.push(format!("Flights that ended before any loss: {}.", words::list(&ends)));
    }
    if loss.not_taken_off > 0 {
        lines.push(format!("Take-off was refused for want of a fix in {} flights.", words::count(loss.not_taken_off)));
    }
    lines
}

fn count_tables(summary: &Summary) -> Vec<CountTable> {
    summary
        .policies
        .iter()
        .map(|policy| CountTable {
            name: policy.name.clone(),
            lost: words::count(policy.lost),
            rows: policy
                .headlines
                .iter()
                .enumerate()
                .map(|(index, (headline, share))| {
                    let mut cells = vec![words::count(share.events), words::brief(share)];
                    if share.events > 0 && share.events < share.of {
                        cells[1] += &format!(" ({})", words::interval(share));
                    }
                    let flags = policy.headline_by_flag.get(index);
                    cells.extend(flags.into_iter().flatten().map(|n| words::count(*n)));
                    (headline.label().to_string(), cells)
                })
                .collect(),
        })
        .collect()
}

fn pair_rows(summary: &Summary) -> Vec<Vec<(String, bool)>> {
    let name = |index: usize| summary.policies.get(index).map_or("?".to_string(), |policy| policy.name.clone());
    summary
        .pairs
        .iter()
        .map(|pair| {
            let about = match pair.about {
                Compared::Danger => "danger to others",
                Compared::CraftLostOrWorse => "craft lost or worse (exploratory)",
            };
            let p =
                pair.p_adjusted.map_or("–".into(), |p| if p < 0.001 { "< 0.001".into() } else { words::number(p, 3) });
            vec![
                (format!("\"{}\" against \"{}\"", name(pair.first), name(pair.second)), false),
                (about.into(), false),
                (words::difference(pair.difference), true),
                (format!("{} to {}", words::difference(pair.low), words::difference(pair.high)), true),
                (plot::verdict_words(summary, pair), false),
                (p, true),
                (pair.table.map(words::count).join(" / "), true),
                (words::number(pair.pairing_gain, 1), true),
            ]
        })
        .collect()
}

fn no_return_lines(summary: &Summary) -> Vec<String> {
    summary
        .no_return
        .iter()
        .map(|back| {
            let name = summary.policies.get(back.policy).map_or("?", |policy| policy.name.as_str());
            let wind = if back.headwind_mps >= 0.0 { "headwind" } else { "tailwind" };
            let how = format!(
                "best speed home {} m/s, {wind} {} m/s",
                words::number(back.best_speed_mps, 1),
                words::number(back.headwind_mps.abs(), 1)
            );
            match back.distance_m {
                None => format!("{name}: home can be reached on the charge left from everywhere on the path ({how})."),
                Some(distance) => format!(
                    "{name}: no return after {} m of the path: the charge left no longer brings it home ({how}).",
                    words::number(distance, 0)
                ),
            }
        })
        .collect()
}

fn harm_rows(summary: &Summary) -> Vec<Vec<String>> {
    let digit = |value: f64| {
        if value <= 0.0 || !value.is_finite() {
            return "–".to_string();
        }
        let place = -libm::floor(libm::log10(value)) as i32;
        let scale = 10f64.powi(place);
        words::number((value * scale).round() / scale, place.max(0) as usize)
    };
    summary
        .policies
        .iter()
        .filter_map(|policy| {
            let harm = policy.harm?;
            let lines: Vec<String> = harm
                .above_lines
                .iter()
                .map(|share| if *share > 0.0 { words::of_thousand(*share) } else { "none seen".into() })
                .collect();
            Some(vec![
                policy.name.clone(),
                digit(harm.low_per_million),
                digit(harm.mean_per_million),
                digit(harm.high_per_million),
                words::number(harm.strike_area_m2, 1),
                lines.join(" / "),
            ])
        })
        .collect()
}

/// The first sentence of an answer, printed large, and what follows.
fn answer(sentence: &str) -> (String, String) {
    match sentence.split_once(". ") {
        Some((first, rest)) => (format!("{first}."), rest.to_string()),
        None => (sentence.to_string(), String::new()),
    }
}

/// Whether the choice over several conditions is the best one here, in a sentence with a space before it.
fn choice_line(summary: &Summary) -> String {
    let Some(choice) = &summary.choice else { return String::new() };
    let Some(policy) = summary.policies.get(choice.policy) else { return String::new() };
    let count = summary.conditions.len();
    if summary.verdict.best.first() == Some(&choice.policy) {
        format!(" It also comes first over the {count} conditions tried.")
    } else {
        format!(
            " Over the {count} conditions tried the choice is another: \"{}\"; see \"Under other conditions\".",
            policy.name
        )
    }
}

/// Writes `report.html`.
///
/// # Errors
/// When the page cannot be written.
pub fn report(summary: &Summary, out: &mut dyn Write) -> Result<(), HtmlError> {
    let confidence = words::number(summary.confidence * 100.0, 0);
    let lost = summary.policies.iter().map(|policy| policy.lost).max().unwrap_or(0);
    let aside = match summary.faults.flights {
        0 => String::new(),
        n => format!(" ({} more set aside for a numerical fault)", words::count(n)),
    };
    let sure = format!(
        "From {} lost links in {} simulated flights{aside}; intervals at {confidence} %; differences under {} of 1,000 count as none that matters.",
        words::count(lost),
        words::count(summary.flights),
        words::number(summary.matters_points * 10.0, 1).trim_end_matches(".0")
    ) + &choice_line(summary);
    let unsettled = summary
        .policies
        .iter()
        .filter_map(|policy| {
            let (low, high) = policy.danger_bounds?;
            let share = group(policy, Group::NotSettled);
            let bound = |v: f64| if v > 0.0 { words::of_thousand(v) } else { "none".into() };
            Some(format!(
                "{}: {} of {} flights are not settled. Were they all to end well, danger would be {} of 1,000; all badly, {}.",
                policy.name,
                words::count(share.events),
                words::count(share.of),
                bound(low),
                bound(high)
            ))
        })
        .collect();
    let policies = summary
        .verdict
        .ranking
        .iter()
        .filter_map(|index| summary.policies.get(*index))
        .map(|policy| PolicyRow {
            name: policy.name.clone(),
            words: policy.words.clone(),
            lost: words::bare_frequency(&policy.craft_lost_or_worse),
            danger: words::bare_frequency(&group(policy, Group::Danger)),
            fine: words::bare_frequency(&group(policy, Group::Fine)),
            alone: words::bare_frequency(&policy.danger_without_pilot),
        })
        .collect();
    let measures = summary
        .policies
        .iter()
        .flat_map(|policy| policy.measures.iter().map(move |measure| (policy, measure)))
        .filter(|(_, measure)| measure.p50.value.is_finite())
        .map(|(policy, measure)| {
            let d = decimals(measure.p50.value);
            vec![
                policy.name.clone(),
                format!("{} / {}", measure.label, measure.unit),
                band(&measure.p05, d),
                band(&measure.p50, d),
                band(&measure.p95, d),
            ]
        })
        .collect();
    let spreads: Vec<Shown> = ["distance_home_m", "time_to_end_s", "pack_left_pct"]
        .into_iter()
        .filter_map(|key| Shown::some(|look| plot::spread_of(summary, key, look)))
        .collect();
    // Timelines, each about a page on paper; then the budgets, which share one.
    let mut flights = Vec::new();
    for (index, (story, trace)) in summary.traces.iter().enumerate() {
        let id = format!("timeline-{}", index + 1);
        flights.push(Shown::both(|look| plot::timeline(&id, story, trace, summary.map.ceiling_m, look)));
    }
    for (index, (story, trace)) in summary.traces.iter().enumerate() {
        let id = format!("budget-{}", index + 1);
        flights.push(Shown::both(|look| plot::budget(&id, story, trace, look)));
    }
    let mut path: Vec<Shown> = Shown::some(|look| plot::along(summary, look)).into_iter().collect();
    for (index, section) in summary.sections.iter().enumerate() {
        path.extend(Shown::some(|look| plot::section(index, section, look)));
    }
    let flag_keys: Vec<String> =
        (0..crate::flight::Flags::NAMED.len()).map(|k| char::from(b'a' + k as u8).to_string()).collect();
    let no_return = no_return_lines(summary);
    let what_if = Shown::some(|look| plot::what_if(summary, look));
    let unmoved = plot::what_if_words(summary);
    let regret = Shown::some(|look| plot::regret(summary, look));
    let pairs = (!summary.pairs.is_empty()).then(|| Shown::both(|look| plot::pairs(summary, look)));
    let harm = harm_rows(summary);
    let mut contents = Vec::new();
    for (wanted, id, name) in [
        (pairs.is_some(), "pairs", "Differences"),
        (true, "policies", "Policies"),
        (!spreads.is_empty(), "spreads", "How far, how long"),
        (true, "loss", "When the link goes"),
        (what_if.is_some() || unmoved.is_some(), "drives", "What drives it"),
        (regret.is_some(), "conditions", "Other conditions"),
        (!flights.is_empty(), "flights", "Selected flights"),
        (!path.is_empty() || !no_return.is_empty(), "path", "Along the path"),
        (true, "counts", "Counts"),
        (!harm.is_empty(), "harm", "Expected harm"),
        (true, "known", "How well it is known"),
        (!summary.inputs.is_empty(), "inputs", "Inputs"),
        (true, "made", "How this was made"),
    ] {
        if wanted {
            contents.push((id, name));
        }
    }
    let mut map = Shown::three(|look| plot::map(summary, look));
    let paper_map = std::mem::take(&mut map.paper);
    let page = ReportPage {
        fonts: Fonts::embedded(),
        s: summary,
        first: cautions::first(summary),
        answer: answer(&summary.verdict.sentence),
        sure,
        numbers: five_numbers(summary),
        bars: Shown::three(|look| plot::bars(summary, look)),
        map,
        paper_map,
        strip: plot::map_strip(summary, Look::WIDE).inline(),
        icons: Shown::both(|look| plot::icons(summary, look)),
        warnings: warnings(summary),
        contents,
        pairs,
        pair_rows: pair_rows(summary),
        policies,
        unsettled,
        spreads,
        measures,
        loss: loss_lines(summary),
        causes: summary.loss.causes.iter().map(|(cause, n)| (cause.clone(), words::count(*n))).collect(),
        moment: Shown::some(|look| plot::moment(summary, look)),
        what_if,
        unmoved,
        regret,
        condition_rows: summary
            .conditions
            .iter()
            .map(|condition| (condition.name.clone(), condition.danger.iter().map(words::brief).collect()))
            .collect(),
        flights,
        path,
        no_return,
        order: summary.order.as_ref().map(|order| order.join(", ")),
        flag_names: crate::risk::summary::flag_labels().collect(),
        last_flag: flag_keys.last().cloned().unwrap_or_default(),
        flag_keys,
        counts: count_tables(summary),
        harm,
        made: vec![
            ("command", summary.command.clone()),
            ("scenario", summary.scenario_name.clone()),
            ("SHA-256 of the scenario and its files", summary.scenario_hash.clone()),
            ("version", summary.program_version.clone()),
            ("seed", summary.seed.to_string()),
            ("flights", format!("{} ({})", words::count(summary.flights), summary.flights_rule)),
            ("step", format!("{} s", summary.step_s)),
            (
                "intervals",
                format!("Clopper–Pearson for shares, Tango for pairs, order statistics for quantiles, {confidence} %"),
            ),
        ],
    };
    page.write_into(out)?;
    Ok(())
}

#[derive(Template)]
#[template(path = "heights.html")]
struct HeightsPage<'a> {
    fonts: Fonts,
    h: &'a Heights,
    hash: String,
    first: Vec<String>,
    answer: (String, String),
    flights: String,
    numbers: Vec<Number>,
    sweep: Shown,
    warnings: Vec<String>,
    speeds: bool,
    rows: Vec<Vec<String>>,
}

/// Writes `heights.html`.
///
/// # Errors
/// When the page cannot be written.
pub fn heights(heights: &Heights, out: &mut dyn Write) -> Result<(), HtmlError> {
    let number = |what: &str, value: String, note: &str| Number { what: what.into(), value, note: note.into() };
    // The reason large, its count in brackets below it.
    let limit = |what: &str, why: &str| match why.split_once(" (") {
        Some((reason, count)) => number(what, words::sentence(reason), count.trim_end_matches(')')),
        None => number(what, words::sentence(why), ""),
    };
    let interval = match heights.interval_m {
        Some([low, high]) => format!("{} to {} m", words::number(low, 0), words::number(high, 0)),
        None => "no height does".into(),
    };
    let speeds = heights.rows.iter().any(|row| row.speed_mps.is_some());
    let share = |share: &Share| match (share.events, share.of) {
        (0, _) => words::brief(share),
        (events, of) if events == of => words::brief(share),
        _ => format!("{} ({})", words::brief(share), words::interval(share)),
    };
    let spread = |values: &[f64; 3]| {
        format!("{} ({} to {})", words::number(values[1], 0), words::number(values[0], 0), words::number(values[2], 0))
    };
    let page = HeightsPage {
        fonts: Fonts::embedded(),
        h: heights,
        hash: heights.scenario_hash.chars().take(12).collect(),
        first: cautions::first_of_heights(heights),
        answer: answer(&heights.sentence),
        flights: words::count(heights.flights),
        numbers: vec![
            number("Recommended heights above home", interval, "an interval, not a point"),
            limit("What limits it below", &heights.below),
            limit("What limits it above", &heights.above),
            number(
                "Tallest obstacle on the ways home",
                format!("{} m", words::number(heights.tallest_m, 0)),
                "above home",
            ),
            number("Ceiling", format!("{} m", words::number(heights.ceiling_m, 0)), "above home"),
        ],
        sweep: Shown::both(|look| plot::sweep(heights, look)),
        warnings: vec![
            "A simulation of a model of this site; not a permission, not a clearance, not a record of real flights."
                .into(),
            "All rates are per lost link. How often links are lost here is not in them.".into(),
            "Intervals cover the luck of the draw and the listed unknowns, not a wrong model.".into(),
            "People are counted only where they were drawn, for the hours given.".into(),
            "Seeing none does not mean none can occur; the upper bound is shown.".into(),
            "Heights are above the take-off spot. Obstacles that nobody drew are not there for the model.".into(),
        ],
        speeds,
        rows: heights
            .rows
            .iter()
            .map(|row| {
                let mut cells = vec![words::number(row.height_m, 0)];
                if speeds {
                    cells.push(row.speed_mps.map_or("–".into(), |speed| words::number(speed, 1)));
                }
                cells.extend([
                    share(&row.danger),
                    share(&row.craft_lost),
                    share(&row.at_home),
                    spread(&row.pack_left_pct),
                    spread(&row.time_s),
                ]);
                cells
            })
            .collect(),
    };
    page.write_into(out)?;
    Ok(())
}

#[derive(Template)]
#[template(path = "sheet.html")]
struct SheetPage<'a> {
    fonts: Fonts,
    s: &'a Sheet,
    danger: String,
    height: String,
    hdop: String,
    forecast: Vec<(String, u32, String)>,
    groups: Vec<(String, Vec<&'a FieldTest>)>,
    tolerances: String,
    hash: String,
}

/// Writes `sheet.html`: the card on one page, the tests on the next.
///
/// # Errors
/// When the page cannot be written.
pub fn sheet(sheet: &Sheet, out: &mut dyn Write) -> Result<(), HtmlError> {
    let mut groups: Vec<(String, Vec<&FieldTest>)> = Vec::new();
    for test in &sheet.tests {
        match groups.iter_mut().find(|group| group.0 == test.group) {
            Some(group) => group.1.push(test),
            None => groups.push((test.group.clone(), vec![test])),
        }
    }
    let page = SheetPage {
        fonts: Fonts::embedded(),
        s: sheet,
        danger: words::share(&sheet.danger),
        height: match sheet.height_m {
            Some([low, high]) => {
                format!("Come home at {} to {} m above home", words::number(low, 0), words::number(high, 0))
            }
            None => "No height to come home at is recommended".into(),
        },
        hdop: words::number(sheet.greatest_hdop, 1),
        forecast: sheet
            .forecast
            .iter()
            .map(|row| (row.time.clone(), row.satellites, words::number(row.hdop, 1)))
            .collect(),
        groups,
        tolerances: super::card::tolerances(),
        hash: sheet.scenario_hash.chars().take(12).collect(),
    };
    page.write_into(out)?;
    Ok(())
}

#[derive(Template)]
#[template(path = "reach.html")]
struct ReachPage<'a> {
    fonts: Fonts,
    r: &'a Reach,
    answer: String,
    stay: String,
    needed: String,
    maps: Vec<Shown>,
    more: Vec<Shown>,
    rows: Vec<Vec<String>>,
}

/// The sixteen directions by name.
pub(super) fn compass(bearing_deg: f64) -> &'static str {
    const NAMES: [&str; 16] =
        ["N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE", "S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW"];
    NAMES[(bearing_deg.rem_euclid(360.0) / 22.5).round() as usize % 16]
}

/// Writes `reach.html`; `site` gives what is drawn upon the maps.
///
/// # Errors
/// When the page cannot be written.
pub fn reach(reach: &Reach, site: &SiteMap, out: &mut dyn Write) -> Result<(), HtmlError> {
    let weakest = crate::plan::reach::weakest(&reach.along).and_then(|index| reach.along.get(index));
    let answer = match weakest {
        Some(place) if place.margin_db >= reach.needed_margin_db => format!(
            "The mean margin asked for, {} dB, holds along the whole path; least {} dB after {} m.",
            words::number(reach.needed_margin_db, 0),
            words::number(place.margin_db, 1),
            words::number(place.flown_m, 0)
        ),
        Some(place) => format!(
            "The link is weakest after {} m of the path: mean margin {} dB of the {} dB asked for.",
            words::number(place.flown_m, 0),
            words::number(place.margin_db, 1),
            words::number(reach.needed_margin_db, 0)
        ),
        None => "The maps show where the link holds.".into(),
    };
    let answer = match super::reach::likeliest(reach) {
        Some(likeliest) => format!("{answer} {likeliest}"),
        None => answer,
    };
    let page = ReachPage {
        fonts: Fonts::embedded(),
        r: reach,
        answer,
        stay: words::number(reach.stay_s, 0),
        needed: words::number(reach.needed_margin_db, 0),
        maps: (0..reach.maps.len())
            .filter_map(|index| Shown::some(|look| plot::reach_map(reach, index, site, look)))
            .collect(),
        more: [Shown::some(|look| plot::reach_path(reach, look)), Shown::some(|look| plot::reach_section(reach, look))]
            .into_iter()
            .flatten()
            .collect(),
        rows: reach
            .directions
            .iter()
            .map(|d| {
                let from = if d.from_m.is_nan() { "nowhere".into() } else { words::number(d.from_m, 0) };
                let unbroken = if d.to_the_edge() { "to the edge".into() } else { words::number(d.unbroken_m, 0) };
                vec![
                    format!("{} ({}°)", compass(d.bearing_deg), words::number(d.bearing_deg, 1)),
                    from,
                    unbroken,
                    words::number(d.farthest_m, 0),
                    words::number(d.edge_m, 0),
                ]
            })
            .collect(),
    };
    page.write_into(out)?;
    Ok(())
}

#[derive(Template)]
#[template(path = "sky.html")]
struct SkyPage<'a> {
    fonts: Fonts,
    d: &'a SkyDay,
    title: &'a str,
    origin: String,
    answer: String,
    place: (String, String),
    figures: Vec<Shown>,
    guards: Vec<String>,
}

/// Writes `sky.html`: the day, and the ways of the satellites between two times of it.
///
/// # Errors
/// When the page cannot be written.
pub fn sky(day: &SkyDay, title: &str, from_s: f64, to_s: f64, out: &mut dyn Write) -> Result<(), HtmlError> {
    let own = day.sets.get(day.own);
    let guards: Vec<String> =
        own.iter().flat_map(|set| set.guards.iter().map(|guard| super::sky::guard_words(set, guard))).collect();
    let page = SkyPage {
        fonts: Fonts::embedded(),
        d: day,
        title,
        origin: words::sentence(&day.origin),
        answer: own.map_or(String::new(), |set| {
            format!(
                "With {}: half of the day at least {} satellites and HDOP {} or better; never fewer than {}. Best hour {}, worst {} UTC.",
                set.name,
                words::number(set.median_satellites, 0),
                super::sky::hdop(set.median_hdop),
                set.fewest_satellites,
                super::sky::hour_span(set.best_hour),
                super::sky::hour_span(set.worst_hour)
            )
        }),
        place: (words::number(day.lat_deg, 3), words::number(day.lon_deg, 3)),
        figures: vec![
            Shown::both(|look| plot::sky_day(day, look)),
            Shown::both(|look| plot::sky_plot(day, from_s, to_s, look)),
        ],
        guards,
    };
    page.write_into(out)?;
    Ok(())
}
