//! How results are judged.

use super::ESTIMATE;
use crate::scenario::declare::part;
use crate::scenario::kind::{above, between};

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

part! {
    /// How results are judged; set before the run.
    pub struct Judge(s) {
        "Smallest difference of the share in danger that matters"
        matters_points: f64 = number(between(0.01, 50.0), 2.0, ESTIMATE);
        "Two-sided confidence of intervals"
        confidence: f64 = number(between(0.5, 0.999), 0.95, "common practice");
        "Within this distance of the take-off spot a landing is at home"
        home_radius_m: f64 = number(above(0.0, 1000.0), 15.0, ESTIMATE);
        "Pack level under which the reserve is said to be used"
        reserve_pct: f64 = number(between(0.0, 90.0), 20.0, "common practice");
        "Whether to print the harm annex"
        harm: bool = flag(false, "an annex for experts");
        let order = s.words("order", &HEADLINE_WORDS.map(|word| (word, word)), &[], "the order built in", "Headline outcomes, worst first; those left out follow in the built-in order");
        "Headline outcomes, worst first, when not in the built-in order"
        order: Option<Vec<String>> = made(s.has("order").then(|| order.into_iter().map(String::from).collect()));
    }
}
