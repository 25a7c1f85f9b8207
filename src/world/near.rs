//! The parts of the path within a disc, for a loss forced near a place.

use super::path::FlightPath;

/// Parts of the path inside a disc, as distances flown.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Near {
    parts: Vec<Part>,
}

/// From and to a distance flown.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Part {
    from_m: f64,
    to_m: f64,
}

impl Near {
    /// Finds them, metre by metre. Empty when the path never comes that near.
    pub fn of(path: &FlightPath, place_m: [f64; 2], radius_m: f64) -> Near {
        let mut parts: Vec<Part> = Vec::new();
        let steps = path.length_m().ceil() as usize;
        for k in 0..=steps {
            let flown_m = (k as f64).min(path.length_m());
            let p = path.at_distance(flown_m).place_m;
            let (dx, dy) = (p[0] - place_m[0], p[1] - place_m[1]);
            if dx * dx + dy * dy <= radius_m * radius_m {
                match parts.last_mut() {
                    Some(last) if flown_m - last.to_m <= 1.5 => last.to_m = flown_m,
                    _ => parts.push(Part { from_m: flown_m, to_m: flown_m }),
                }
            }
        }
        Near { parts }
    }

    /// Whether the path comes near at all.
    pub fn is_empty(&self) -> bool {
        self.parts.is_empty()
    }

    /// Distance flown at a share, 0 to 1, of these parts; infinite when there is none.
    pub fn at_share(&self, share: f64) -> f64 {
        let total_m: f64 = self.parts.iter().map(|part| part.to_m - part.from_m).sum();
        let mut left_m = share * total_m;
        for Part { from_m, to_m } in &self.parts {
            if left_m <= to_m - from_m {
                return from_m + left_m;
            }
            left_m -= to_m - from_m;
        }
        self.parts.last().map_or(f64::INFINITY, |part| part.to_m)
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
        assert_eq!(near.parts, [Part { from_m: 50.0, to_m: 70.0 }, Part { from_m: 150.0, to_m: 170.0 }]);
        assert_eq!(near.at_share(0.75), 160.0);
        assert!(Near::of(&path, [50.0, 500.0], 10.0).is_empty());
    }
}
