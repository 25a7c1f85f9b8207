//! How results are judged.

use super::ESTIMATE;
use crate::scenario::declare::part;
use crate::scenario::kind::{above, between};
use serde::{Deserialize, Serialize};

/// Words of the headline outcomes, in the built-in order, worst first.
pub const HEADLINE_WORDS: [&str; 16] = [
    "hard-among-others",
    "on-road",
    "among-others",
    "hard-among-crew",
    "left-area",
    "on-property",
    "struck",
    "ran-dry",
    "in-water",
    "in-trees",
    "fell",
    "rough-or-hard",
    "clear-elsewhere",
    "at-home",
    "pilot-back",
    "not-settled",
];

/// A word that stood for all endings among people.
pub const FORMER_AMONG_PEOPLE: &str = "among-people";

const JUDGED: &str = "estimate: a value judgement";
const AS_DANGER: &str = "as `judge.matters_points`";

part! {
    /// Smallest differences that matter, in percentage points of lost links: value judgements, and the reader's. Each is of the share
    /// that ends so or worse.
    #[derive(Copy, Serialize, Deserialize)]
    pub struct Matters(s, of_danger: f64) {
        "Smallest difference that matters of the share that ends in grave danger to people"
        grave_points: f64 = number(between(0.01, 50.0), of_danger.min(1.0), "estimate: a value judgement; never more than `judge.matters_points`");
        "Smallest difference that matters of the share that ends in danger to people, grave or not"
        danger_points: f64 = made(of_danger);
        "Likewise, that leaves the area or comes down on property of others, or worse"
        trespass_points: f64 = number(between(0.01, 50.0), of_danger, AS_DANGER);
        "Likewise, that loses the craft, or worse"
        craft_lost_points: f64 = number(between(0.01, 50.0), of_danger, AS_DANGER);
        "Likewise, that puts the craft at risk, or worse"
        at_risk_points: f64 = number(between(0.01, 50.0), 5.0, JUDGED);
        "Likewise, that does not end at home"
        away_points: f64 = number(between(0.01, 50.0), 5.0, JUDGED);
    }
}

part! {
    /// Energies at contact above which a craft came down hard on people.
    #[derive(Copy, Serialize, Deserialize)]
    pub struct Hard(s) {
        "Energy at contact above which it came down hard on others"
        others_j: f64 = number(above(0.0, 1000.0), 15.0, "NASA-STD-8719.14, 4.7: hazardous to unsheltered people");
        "Energy at contact above which it came down hard on the crew"
        crew_j: f64 = number(above(0.0, 1000.0), 33.9, "14 CFR 107.130(a)(1), 25 ft·lbf: of craft that fly over people on notice");
    }
}

part! {
    /// How results are judged; set before the run.
    pub struct Judge(s) {
        let danger_points = s.number("matters_points", between(0.01, 50.0), 2.0, JUDGED, "Smallest difference that matters of the share that ends in danger to people or worse");
        "Smallest differences that matter"
        matters: Matters = part(Matters::read(&s.table("matters"), danger_points));
        "Energies above which it came down hard"
        hard: Hard = part(Hard::read(&s.table("hard")));
        "Height asked between what stands on the ways home and a recommended return height"
        clearance_m: f64 = number(between(0.0, 200.0), 10.0, "estimate: errors of fix and barometer, and what grew or was built since it was drawn");
        "Two-sided confidence of intervals"
        confidence: f64 = number(between(0.5, 0.999), 0.95, "common practice");
        "Within this distance of the take-off spot a landing is at home"
        home_radius_m: f64 = number(above(0.0, 1000.0), 15.0, ESTIMATE);
        "Pack level under which the reserve is said to be used"
        reserve_pct: f64 = number(between(0.0, 90.0), 20.0, "common practice");
        "Whether to print the harm annex"
        harm: bool = flag(false, "an annex for experts");
        let words = HEADLINE_WORDS.iter().chain(&[FORMER_AMONG_PEOPLE]).map(|word| (*word, *word)).collect::<Vec<_>>();
        let order = s.words("order", &words, &[], "the order built in", "Headline outcomes, worst first; those left out follow in the built-in order");
        "Headline outcomes, worst first, when not in the built-in order"
        order: Option<Vec<String>> = made(s.has("order").then(|| order.into_iter().map(String::from).collect()));
    }
}
