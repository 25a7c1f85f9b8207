//! The straight way over the ground from one place to another: one walker for all who look at what lies on it.

/// A straight way over the ground.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Straight {
    from_m: [f64; 2],
    by_m: [f64; 2],
}

impl Straight {
    /// Between two places; heights are left aside.
    pub fn between(from_m: [f64; 3], to_m: [f64; 3]) -> Straight {
        Straight { from_m: [from_m[0], from_m[1]], by_m: [to_m[0] - from_m[0], to_m[1] - from_m[1]] }
    }

    /// Its length.
    pub fn length_m(&self) -> f64 {
        (self.by_m[0] * self.by_m[0] + self.by_m[1] * self.by_m[1]).sqrt()
    }

    /// Its direction as a unit vector; east when it leads nowhere.
    pub fn direction(&self) -> [f64; 2] {
        let length_m = self.length_m();
        if length_m < 1e-6 { [1.0, 0.0] } else { self.by_m.map(|part| part / length_m) }
    }

    /// The place at a share, 0 to 1, of it.
    pub fn at(&self, share: f64) -> [f64; 2] {
        [0, 1].map(|axis| self.from_m[axis] + share * self.by_m[axis])
    }

    /// The ends of so many equal parts (≥ 1) of it, both its own included.
    pub fn in_parts(self, parts: usize) -> impl Iterator<Item = [f64; 2]> {
        (0..=parts).map(move |k| self.at(k as f64 / parts as f64))
    }

    /// Places on it at most `step_m` apart, both ends included.
    pub fn every(self, step_m: f64) -> impl Iterator<Item = [f64; 2]> {
        self.in_parts((self.length_m() / step_m).ceil().max(1.0) as usize)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_walk_has_both_ends_and_no_longer_steps() {
        let way = Straight::between([10.0, 0.0, 7.0], [10.0, 25.0, 0.0]);
        let places: Vec<[f64; 2]> = way.every(10.0).collect();
        assert_eq!((places.len(), places[0], places[3]), (4, [10.0, 0.0], [10.0, 25.0]));
        assert_eq!((way.length_m(), way.direction()), (25.0, [0.0, 1.0]));
        let nowhere = Straight::between([3.0, 4.0, 0.0], [3.0, 4.0, 9.0]);
        assert_eq!(nowhere.every(1.0).collect::<Vec<_>>(), [[3.0, 4.0]; 2]);
        assert_eq!(nowhere.direction(), [1.0, 0.0]);
    }
}
