//! How well each model is known.

use crate::scenario::{Loss, Multipath};
use crate::world::World;
use serde::{Deserialize, Serialize};
use std::borrow::Cow;

/// What was assumed about one model and how well it is known.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Knowledge {
    /// Link, fix, wind, people, craft.
    pub model: Cow<'static, str>,
    /// strong, middling or weak.
    pub grade: Cow<'static, str>,
    /// Why.
    pub why: String,
}

/// How well each model is known, by stated rules: what the scenario measured or left to defaults.
pub fn knowledge(world: &World) -> Vec<Knowledge> {
    let s = &world.scenario;
    let stated = |prefix: &str| s.inputs.iter().filter(|row| row.key.starts_with(prefix) && row.line.is_some()).count();
    let link = match (&s.loss, s.site.terrain.is_some() || !s.site.obstacles.is_empty()) {
        (Loss::Cut { .. }, _) => ("middling", "the loss is forced; the link model only decides when it comes back"),
        (Loss::Modelled, true) => (
            "middling",
            "terrain and obstacles are given; shadowing, fading and on-board noise are typical values, not measured here",
        ),
        (Loss::Modelled, false) => {
            ("weak", "no terrain and no obstacles are given: what stands in the way is not in it")
        }
    };
    let fix = match (s.sky.almanac.is_some(), s.sky.multipath) {
        (_, Multipath::Walled) => ("weak", "among walls reflections rule, and their statistics are estimates"),
        (true, _) => ("middling", "satellites of a stated almanac; error budget from published figures"),
        (false, _) => {
            ("middling", "nominal constellations, representative of any day; error budget from published figures")
        }
    };
    let wind = if s.weather.wind_mps.is_exact() {
        ("weak", "one wind without a spread: intervals hold for that wind alone")
    } else {
        ("middling", "mean wind drawn per flight; turbulence from a published model for open terrain")
    };
    let people = if s.site.zones.iter().any(|zone| zone.people > 0.0) {
        ("middling", "head counts and hours as stated; nobody is counted outside the zones drawn")
    } else {
        ("weak", "no head counts are given")
    };
    let craft = if stated("craft.") >= 12 {
        ("middling", "most figures of the craft are stated")
    } else {
        ("weak", "most figures of the craft are class estimates; measured hover power and drag would replace them")
    };
    [("link", link), ("fix", fix), ("wind", wind), ("people", people), ("craft", craft)]
        .map(|(model, (grade, why))| Knowledge { model: model.into(), grade: grade.into(), why: why.into() })
        .to_vec()
}
