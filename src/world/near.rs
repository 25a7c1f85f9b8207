//! The parts of the path within a disc, for a loss forced near a place.

use super::path::FlightPath;

/// Parts of the path inside a disc, as distances flown.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Near {
    parts_m: Vec<(f64, f64)>,
}

impl Near {
    /// Finds them, metre by metre. Empty when the path never comes that near.
    pub fn of(path: &FlightPath, place_m: [f64; 2], radius_m: f64) -> Near {
        let mut parts_m: Vec<(f64, f64)> = Vec::new();
        let steps = path.length_m().ceil() as usize;
        for k in 0..=steps {
            let flown_m = (k as f64).min(path.length_m());
            let (p, _) = path.at_distance(flown_m);
            let (dx, dy) = (p[0] - place_m[0], p[1] - place_m[1]);
            if dx * dx + dy * dy <= radius_m * radius_m {
                match parts_m.last_mut() {
                    Some(last) if flown_m - last.1 <= 1.5 => last.1 = flown_m,
                    _ => parts_m.push((flown_m, flown_m)),
                }
            }
        }
        Near { parts_m }
    }

    /// Whether the path comes near at all.
    pub fn is_empty(&self) -> bool {
        self.parts_m.is_empty()
    }

    /// Distance flown at a share, 0 to 1, of these parts; infinite when there is none.
    pub fn at_share(&self, share: f64) -> f64 {
        let total_m: f64 = self.parts_m.iter().map(|part| part.1 - part.0).sum();
        let mut left_m = share * total_m;
        for (from, to) in &self.parts_m {
            if left_m <= to - from {
                return from + left_m;
            }
            left_m -= to - from;
        }
        self.parts_m.last().map_or(f64::INFINITY, |part| part.1)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shares_walk_the_parts_inside() {
        let path =
            FlightPath::new([0.0, 0.0], 0.0, &[[0.0, 0.0, 10.0], [100.0, 0.0, 10.0], [0.0, 0.0, 10.0]], 10.0, 4.0, 0.0);
        let near = Near::of(&path, [50.0, 0.0], 10.0);
        assert_eq!(near.parts_m, [(50.0, 70.0), (150.0, 170.0)]);
        assert_eq!(near.at_share(0.75), 160.0);
        assert!(Near::of(&path, [50.0, 500.0], 10.0).is_empty());
    }
}
