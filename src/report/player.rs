//! The player of one lost link: three linked views, one time, the current sentence; a piece of a page that others can embed.
//!
//! [`fragment`] is the piece; a page has [`STYLE`] and [`SCRIPT`] once, whatever the number of players on it, and besides the style
//! variables of the pages. Without script the piece is its three figures. The story that it points at is marked sentence by
//! sentence: an element of the id `NAME-story`, a list item with `data-number` per sentence.

use super::plot::canvas::inline;
use super::plot::loss::{self, LINES, Scale, Scaled};
use super::plot::theme::Theme;
use super::plot::{Figure, Look};
use crate::flight::{Doing, Trace};
use crate::story::{Sentence, Told};
use askama::Template;
use serde::Serialize;

/// Styles of all players of a page.
pub const STYLE: &str = include_str!("../../assets/player.css");
/// The script of all players of a page, at the end of its body.
pub const SCRIPT: &str = include_str!("../../assets/player.js");

/// What craft can be doing, by the numbers in the data.
const DOINGS: [Doing; 8] = [
    Doing::Piloted,
    Doing::Silent,
    Doing::Hold,
    Doing::Return,
    Doing::Land,
    Doing::Drop,
    Doing::CarryOn,
    Doing::TakenOver,
];

#[derive(Serialize)]
struct Data<'a> {
    window_s: [f64; 2],
    lost_at_s: Option<f64>,
    doings: [&'static str; 8],
    policies: Vec<PolicyData<'a>>,
    moments: Vec<Moment<'a>>,
    scales: Vec<Scale>,
}

#[derive(Serialize)]
struct PolicyData<'a> {
    name: &'a str,
    ink: &'static str,
    dash_px: [f64; 2],
    shape: String,
    outcome: &'a str,
    columns: Columns,
    doing: Vec<usize>,
}

/// Columns of a trace in the time worth watching, to hundredths; not a number becomes null.
#[derive(Serialize)]
pub struct Columns {
    /// Time after take-off.
    pub time_s: Vec<f64>,
    /// Place, to the east.
    pub x_m: Vec<f64>,
    /// Place, to the north.
    pub y_m: Vec<f64>,
    /// Place along the cut.
    pub along_m: Vec<f64>,
    /// Height above the take-off spot.
    pub height_m: Vec<f64>,
    from_home_m: Vec<f64>,
    people_m: Vec<f64>,
    fix_error_m: Vec<f64>,
    charge_pct: Vec<f64>,
    speed_mps: Vec<f64>,
}

#[derive(Serialize)]
struct Moment<'a> {
    number: usize,
    time_s: f64,
    policy: Option<usize>,
    text: &'a str,
}

/// Rounded for embedding.
fn rounded(value: f64, per_unit: f64) -> f64 {
    let value = (value * per_unit).round() / per_unit;
    // No minus before nothing.
    if value == 0.0 { 0.0 } else { value }
}

/// The columns of one trace.
pub fn columns(told: &Told, trace: &Trace) -> Columns {
    let rows = told.watched(trace);
    let column =
        |value: &dyn Fn(&crate::flight::TraceRow) -> f64| rows.iter().map(|row| rounded(value(row), 100.0)).collect();
    Columns {
        time_s: rows.iter().map(|row| rounded(row.time_s, 1_000.0)).collect(),
        x_m: column(&|row| row.place_m[0]),
        y_m: column(&|row| row.place_m[1]),
        along_m: column(&|row| told.along_m(row.place_m)),
        height_m: column(&|row| row.height_m),
        from_home_m: column(&|row| loss::from_home_m(told, row)),
        people_m: column(&|row| row.people_m),
        fix_error_m: column(&|row| row.fix_error_m),
        charge_pct: column(&|row| row.charge_pct),
        speed_mps: column(&|row| row.speed_mps),
    }
}

fn data(told: &Told, scales: Vec<Scale>) -> Data<'_> {
    let policies = told.traces.iter().enumerate().map(|(index, trace)| {
        let stroke = loss::stroke_of(index);
        let number = |doing: Doing| DOINGS.iter().position(|known| *known == doing).unwrap_or(0);
        PolicyData {
            name: loss::name_of(told, index),
            ink: stroke.ink.variable(),
            dash_px: stroke.dash_px,
            shape: stroke.shape.word(),
            outcome: &trace.headline,
            columns: columns(told, trace),
            doing: told.watched(trace).iter().map(|row| number(row.doing)).collect(),
        }
    });
    let story = &told.story;
    let moment = |policy: Option<usize>| {
        move |sentence: &'_ Sentence| -> Option<(usize, f64, Option<usize>)> {
            Some((sentence.number, sentence.time_s?, policy))
        }
    };
    let mut keys: Vec<(usize, f64, Option<usize>)> = story.shared.iter().filter_map(moment(None)).collect();
    for (index, policy) in story.policies.iter().enumerate() {
        keys.extend(policy.sentences.iter().filter_map(moment(Some(index))));
    }
    let [from_s, _] = told.window_s();
    keys.retain(|key| key.1 >= from_s - 1e-6);
    keys.sort_by(|a, b| a.1.total_cmp(&b.1).then(a.0.cmp(&b.0)));
    let text = |number: usize| story.sentences().find(|sentence| sentence.number == number).map_or("", |s| &s.text);
    // To steps of the slider, outward: its ends are reached.
    let [from_s, to_s] = told.window_s();
    Data {
        window_s: [libm::floor(from_s * 10.0) / 10.0, libm::ceil(to_s * 10.0) / 10.0],
        lost_at_s: story.lost_at_s.map(|time_s| rounded(time_s, 1_000.0)),
        doings: DOINGS.map(Doing::label),
        policies: policies.collect(),
        moments: keys
            .into_iter()
            .map(|(number, time_s, policy)| Moment {
                number,
                time_s: rounded(time_s, 1_000.0),
                policy,
                text: text(number),
            })
            .collect(),
        scales,
    }
}

/// JSON that may stand inside a script element.
fn embedded(data: &Data) -> Result<String, serde_json::Error> {
    Ok(serde_json::to_string(data)?.replace('<', "\\u003c"))
}

struct View {
    id: &'static str,
    keys: String,
    svg: String,
    caption: String,
    words: String,
}

#[derive(Template)]
#[template(path = "player.html")]
struct Fragment<'a> {
    id: &'a str,
    window_s: [f64; 2],
    names: Vec<&'a str>,
    views: Vec<View>,
    data: String,
}

fn view(id: &'static str, drawn: &Figure, keys: &[&str], prefix: &str) -> View {
    // Ids of the drawing are its own on a page with several players.
    let svg = inline(&drawn.svg, Theme::Light).replace(&drawn.id, &format!("{prefix}-{}", drawn.id));
    View { id, keys: keys.join(" "), svg, caption: drawn.caption.clone(), words: drawn.words.clone() }
}

/// The piece of a page; `id` tells players on a page apart.
///
/// # Errors
/// When the data cannot be written as JSON or the template cannot be filled.
pub fn fragment(told: &Told, id: &str) -> std::io::Result<String> {
    let look = Look::NARROW;
    let drawn: [Scaled; 3] = [loss::plan(told, look), loss::side(told, look), loss::lines(told, look)];
    let keys: Vec<&str> = LINES.iter().map(|line| line.key).collect();
    let views = vec![
        view("plan", &drawn[0].figure, &["plan"], id),
        view("side", &drawn[1].figure, &["side"], id),
        view("lines", &drawn[2].figure, &keys, id),
    ];
    let scales = drawn.into_iter().flat_map(|scaled| scaled.scales).collect();
    let data = data(told, scales);
    let fragment = Fragment {
        id,
        window_s: data.window_s,
        names: (0..told.traces.len()).map(|index| loss::name_of(told, index)).collect(),
        views,
        data: embedded(&data)?,
    };
    fragment.render().map_err(std::io::Error::other)
}
