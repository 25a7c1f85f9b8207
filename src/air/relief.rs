//! Wind over hills: the speed-up at their crests, and the separated air behind steep ones.
//!
//! Valid for neutral air over hills that are low against their length: h/L ≤ 0.5, a speed-up of no more than 1.6. Steeper ones
//! count as that steep. Upslope and downslope winds of sun and night, the slow air at a windward foot and the flow
//! around the flanks of a hill are left out.

/// The shape of what stands in the wind.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Rise {
    /// Long across the wind, falling again behind the crest.
    Ridge,
    /// About as wide as it is long.
    Hill,
    /// Stays high behind the crest.
    Scarp,
}

/// Greatest height over half-length that the formulas hold for; steeper rises count as this steep.
///
/// # Source
/// ASCE 7, topographic effects: h/L_h not taken above 0.5 (as quoted); Taylor and Lee 1984 give 0.3–0.5.
pub const STEEPEST: f64 = 0.5;

/// Greatest speed-up of a crest, as a share of the wind over level ground.
///
/// # Source
/// Range stated with the formulas of Taylor and Lee 1984 (as quoted).
pub const MOST_SPEED_UP: f64 = 1.6;

/// Slope in the lee from which on the air separates, as a tangent: 20°.
///
/// # Source
/// Common finding over two-dimensional hills (as quoted: 'about 20°').
pub const SEPARATING_TAN: f64 = 0.364;

/// Fall of the top of the separated air behind the crest, as a tangent: it comes down to level ground six heights behind.
///
/// # Source
/// Estimate, after the six to seven step heights of a backward-facing step (from memory); for hills no length was found.
pub const WAKE_TAN: f64 = 1.0 / 6.0;

/// Wind at the ground within the separated air, as a share of that outside: a weak wind back.
///
/// # Source
/// Estimate; reversed mean flow of a tenth to a third of the wind outside is usual in separated air (from memory).
pub const WAKE_AT_GROUND: f64 = -0.2;

/// Factor on the turbulence in the separated air, down to 1 at one and a half times its top.
///
/// # Source
/// Estimate.
pub const WAKE_TURBULENCE: f64 = 2.0;

impl Rise {
    /// Speed-up over h/L at the ground of the crest.
    ///
    /// # Source
    /// Jackson and Hunt 1975, simplified by Taylor and Lee, Climatological Bulletin 18(2) 1984: ΔS = B h/L with B = 2.0 for a
    /// ridge, 1.6 for a round hill, 0.8 for a scarp (four independent quotes).
    pub fn gain(self) -> f64 {
        match self {
            Rise::Ridge => 2.0,
            Rise::Hill => 1.6,
            Rise::Scarp => 0.8,
        }
    }

    /// A of the decay with height above the ground, exp(−A z/L).
    ///
    /// # Source
    /// Taylor and Lee 1984: 3 for a ridge, 4 for a hill, 2.5 for a scarp (from memory).
    pub fn decay(self) -> f64 {
        match self {
            Rise::Ridge => 3.0,
            Rise::Hill => 4.0,
            Rise::Scarp => 2.5,
        }
    }

    /// Half-lengths from the crest to where nothing is left of the speed-up: before and behind it.
    ///
    /// # Source
    /// ASCE 7: K₂ = 1 − |x|/(μ L_h), μ = 1.5, and 4 behind a scarp (from memory).
    pub fn reach(self) -> (f64, f64) {
        (1.5, if self == Rise::Scarp { 4.0 } else { 1.5 })
    }
}

/// The air over one place, for one direction of the wind. Small and plain: there is one for every cell.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Relief {
    /// Speed-up at the ground.
    pub speed_up: f32,
    /// How fast it goes with height, 1/m.
    pub decay_per_m: f32,
    /// Top of the separated air above the ground; 0: none.
    pub wake_m: f32,
}

/// What hills make of wind and turbulence at a height.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Flow {
    /// Share of the wind over level ground; below 0 it blows back.
    pub wind: f64,
    /// Factor on the turbulence.
    pub turbulence: f64,
}

impl Flow {
    /// Level ground.
    pub const LEVEL: Flow = Flow { wind: 1.0, turbulence: 1.0 };
}

impl Relief {
    /// At a distance behind (negative: before) the crest of a rise of a height and an upwind half-length at half height.
    pub fn of(rise: Rise, height_m: f64, half_length_m: f64, behind_m: f64) -> Relief {
        // What is steeper than the formulas hold for counts as longer, in reach and height too.
        let length_m = half_length_m.max(height_m / STEEPEST);
        let (before, behind) = rise.reach();
        let reach_m = length_m * if behind_m < 0.0 { before } else { behind };
        let share = (1.0 - behind_m.abs() / reach_m).max(0.0);
        Relief {
            speed_up: (rise.gain() * height_m / length_m * share) as f32,
            decay_per_m: (rise.decay() / length_m) as f32,
            wake_m: 0.0,
        }
    }

    /// Wind and turbulence at a height above the ground; `factor` is on the speed-up.
    #[inline]
    pub fn at(&self, height_agl_m: f64, factor: f64) -> Flow {
        let height_m = height_agl_m.max(0.0);
        let wake_m = f64::from(self.wake_m);
        if wake_m > 0.0 && height_m < 1.5 * wake_m {
            let share = height_m / wake_m;
            let above = self.above(height_m, factor);
            return if share < 1.0 {
                Flow { wind: WAKE_AT_GROUND + share * (above - WAKE_AT_GROUND), turbulence: WAKE_TURBULENCE }
            } else {
                Flow { wind: above, turbulence: 1.0 + (WAKE_TURBULENCE - 1.0) * (3.0 - 2.0 * share) }
            };
        }
        Flow { wind: self.above(height_m, factor), turbulence: 1.0 }
    }

    #[inline]
    fn above(&self, height_m: f64, factor: f64) -> f64 {
        if self.speed_up <= 0.0 {
            return 1.0;
        }
        let most = (factor * f64::from(self.speed_up)).min(MOST_SPEED_UP);
        1.0 + most * libm::exp(-f64::from(self.decay_per_m) * height_m)
    }
}

/// Heights of the top of separated air along a profile of the ground, downwind from its first sample, as heights above the ground; 0
/// where the air follows the ground.
///
/// It separates where the ground falls away steeper than [`SEPARATING_TAN`] and comes down again along [`WAKE_TAN`].
pub fn wakes_m(ground_m: &[f64], spacing_m: f64) -> Vec<f64> {
    let mut top_m = f64::NEG_INFINITY;
    let mut separated = false;
    ground_m
        .iter()
        .enumerate()
        .map(|(index, &z_m)| {
            top_m -= WAKE_TAN * spacing_m;
            if top_m <= z_m {
                (top_m, separated) = (z_m, false);
            }
            let over_m = if separated { top_m - z_m } else { 0.0 };
            if !separated {
                top_m = z_m;
                let next_m = ground_m.get(index + 1).copied().unwrap_or(z_m);
                separated = z_m - next_m > SEPARATING_TAN * spacing_m;
            }
            over_m
        })
        .collect()
}

/// A crest of a profile, seen by the wind.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Crest {
    /// Index of the sample, between samples.
    pub at: f64,
    /// Height above the lowest ground before it.
    pub height_m: f64,
    /// Distance from the crest back to half that height.
    pub half_length_m: f64,
    /// Whether the ground falls by half the height again behind it.
    pub falls_again: bool,
}

/// Rises lower than this are left out, m: what is smaller is roughness.
const LEAST_RISE_M: f64 = 5.0;

/// Share of the height at which the flat top of a rise begins, and what the half-length to there is of the whole one.
///
/// A bell 1/(1 + (x/L)²) reaches 98 % at 0.14 L before its crest, exp(−ln 2 (x/L)²) at 0.17 L: the length to there over 0.85 is
/// theirs within 2 %, that of a ramp within 13 %, and a plateau behind its edge does not make a scarp look long.
const TOP: (f64, f64) = (0.98, 0.85);

/// Shares of a rise that may be its edge, and how much steeper than the whole rise it must be to there. Of a bell the first nine
/// tenths are 1.03 times as steep, so that it has no edge. Estimates.
const EDGES: [f64; 2] = [0.9, 0.8];
const EDGE_STEEPER: f64 = 1.1;

/// Half-lengths behind a crest within which a ridge falls again.
const FALLS_WITHIN: f64 = 6.0;

/// The crests of a profile of the ground, downwind from its first sample.
pub fn crests(ground_m: &[f64], spacing_m: f64) -> Vec<Crest> {
    let n = ground_m.len();
    let mut found = Vec::new();
    for index in 1..n {
        let z_m = ground_m[index];
        let next_m = ground_m.get(index + 1).copied().unwrap_or(z_m);
        if ground_m[index - 1] >= z_m || next_m > z_m {
            continue;
        }
        // The lowest ground before it, on this side of anything higher.
        let (mut base_m, mut k) = (z_m, index);
        while k > 0 && ground_m[k - 1] <= z_m {
            k -= 1;
            base_m = base_m.min(ground_m[k]);
        }
        let height_m = z_m - base_m;
        if height_m < LEAST_RISE_M {
            continue;
        }
        // Back from the crest to the last crossing of a level: between samples.
        let crossing = |level_m: f64| {
            let mut k = index;
            while k > 0 && ground_m[k - 1] > level_m {
                k -= 1;
            }
            let (low_m, high_m) = (ground_m[k.max(1) - 1], ground_m[k]);
            k as f64 - if high_m > low_m { ((high_m - level_m) / (high_m - low_m)).clamp(0.0, 1.0) } else { 0.0 }
        };
        let up_to = |share: f64| {
            let rise_m = share * height_m;
            let (top, half) = (crossing(base_m + TOP.0 * rise_m), crossing(base_m + 0.5 * rise_m));
            let half_length_m = ((top - half) * spacing_m / TOP.1).max(spacing_m);
            let within = (FALLS_WITHIN * half_length_m / spacing_m).ceil() as usize;
            let falls_again = ground_m[index..n.min(index + within + 1)].iter().any(|&z| z < base_m + 0.5 * rise_m);
            let at = (half + half_length_m / spacing_m).min(index as f64);
            Crest { at, height_m: rise_m, half_length_m, falls_again }
        };
        let whole = up_to(1.0);
        let steepness = |crest: &Crest| crest.height_m / crest.half_length_m;
        found.push(whole);
        // A plateau that goes on rising a little has its crest at its edge.
        found.extend(EDGES.map(up_to).into_iter().filter(|edge| steepness(edge) > EDGE_STEEPER * steepness(&whole)));
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    fn profile(shape: impl Fn(f64) -> f64) -> Vec<f64> {
        (0..400).map(|k| shape(-2_000.0 + 10.0 * f64::from(k))).collect()
    }

    #[test]
    fn crests_of_known_shapes() {
        let bell = |x: f64| 80.0 / (1.0 + (x / 250.0).powi(2));
        let found = crests(&profile(bell), 10.0);
        assert_eq!(found.len(), 1);
        // Its foot at 2 km still stands 1.2 m.
        assert!((found[0].height_m - 80.0).abs() < 2.0 && found[0].falls_again);
        assert!((found[0].half_length_m / 250.0 - 1.0).abs() < 0.06, "{found:?}");
        assert!((found[0].at - 200.0).abs() < 3.0, "{found:?}");
        for rising in [1e-4, 2e-3] {
            let scarp = |x: f64| 60.0 * ((x + 100.0) / 200.0).clamp(0.0, 1.0) + rising * x;
            let found = crests(&profile(scarp), 10.0);
            let edge =
                found.iter().max_by(|a, b| (a.height_m / a.half_length_m).total_cmp(&(b.height_m / b.half_length_m)));
            let edge = edge.expect("an edge");
            assert!(!edge.falls_again && (edge.height_m / edge.half_length_m / 0.6 - 1.0).abs() < 0.15, "{found:?}");
            assert!((edge.at - 210.0).abs() < 4.0, "{found:?}");
        }
        assert!(crests(&profile(|x| 1.0 * libm::sin(x / 50.0)), 10.0).is_empty());
        // A second hill behind a higher one is as high as the valley between is deep.
        let two = |x: f64| bell(x + 800.0) + 0.5 * bell(x - 800.0);
        let found = crests(&profile(two), 10.0);
        assert!(found.len() == 2 && found[1].height_m < 40.0 && found[1].height_m > 25.0, "{found:?}");
    }

    /// Behind a step the separated air comes down to the ground six heights on; behind a gentle slope there is none.
    #[test]
    fn air_separates_behind_steep_ground_alone() {
        let step = profile(|x| if x < 0.0 { 30.0 } else { 0.0 });
        let wakes = wakes_m(&step, 10.0);
        let behind = |x: f64| wakes[200 + (x / 10.0) as usize];
        assert!(
            (behind(0.0) - 28.3).abs() < 0.1 && (behind(90.0) - 13.3).abs() < 0.1,
            "{} {}",
            behind(0.0),
            behind(90.0)
        );
        assert_eq!((behind(190.0), wakes[150]), (0.0, 0.0));
        let gentle = profile(|x| 100.0 / (1.0 + (x / 400.0).powi(2)));
        assert!(wakes_m(&gentle, 10.0).iter().all(|&wake| wake == 0.0));
        let flow = Relief { wake_m: 20.0, ..Relief::default() }.at(0.0, 1.0);
        assert_eq!(flow, Flow { wind: WAKE_AT_GROUND, turbulence: WAKE_TURBULENCE });
        assert_eq!(Relief { wake_m: 20.0, ..Relief::default() }.at(30.0, 1.0), Flow::LEVEL);
    }

    /// At the crest of a ridge: ΔS = 2 h/L at the ground, e⁻³ of it a half-length up; limits hold.
    #[test]
    fn the_formula_at_the_crest() {
        let at = |z_m: f64| Relief::of(Rise::Ridge, 60.0, 300.0, 0.0).at(z_m, 1.0).wind - 1.0;
        assert!((at(0.0) - 0.4).abs() < 1e-6 && (at(300.0) - 0.4 * libm::exp(-3.0)).abs() < 1e-6);
        assert!((Relief::of(Rise::Ridge, 90.0, 100.0, 0.0).speed_up - 1.0).abs() < 1e-6);
        assert_eq!(Relief::of(Rise::Ridge, 60.0, 300.0, -450.0).speed_up, 0.0);
        assert!(Relief::of(Rise::Scarp, 60.0, 300.0, 450.0).speed_up > 0.0);
        assert!(Relief::of(Rise::Ridge, 60.0, 100.0, 0.0).at(0.0, 9.0).wind <= 1.0 + MOST_SPEED_UP);
    }
}
