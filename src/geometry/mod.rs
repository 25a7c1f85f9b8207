//! Orientation of bodies in space, distances in the plane. World: x east, y north, z up.

/// How a body is turned: its forward, left and up axes as unit vectors of the world.
///
/// Which way round a rotation is written (rows or columns) cannot be mistaken: there is no matrix to be seen, and vectors
/// go through [`Frame::to_world`] and [`Frame::to_body`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Frame {
    forward: [f64; 3],
    left: [f64; 3],
    up: [f64; 3],
}

impl Frame {
    /// Level, looking east: body and world agree.
    pub const EAST: Frame = Frame { forward: [1.0, 0.0, 0.0], left: [0.0, 1.0, 0.0], up: [0.0, 0.0, 1.0] };

    /// From its three axes: unit vectors at right angles, forward × left = up. East, north and up of a place on Earth, given in
    /// Earth-fixed coordinates, are such axes too: forward is east there, left north.
    pub fn of_axes(forward: [f64; 3], left: [f64; 3], up: [f64; 3]) -> Frame {
        let near = |a: [f64; 3], b: [f64; 3]| (0..3).all(|axis| (a[axis] - b[axis]).abs() < 1e-9);
        debug_assert!(near(cross(forward, left), up) && near(cross(left, up), forward), "{forward:?} {left:?} {up:?}");
        Frame { forward, left, up }
    }

    /// A level body that looks along a horizontal direction (east, north) of any length; without one, north.
    #[inline]
    pub fn level(forward: [f64; 2]) -> Frame {
        let length = (forward[0] * forward[0] + forward[1] * forward[1]).sqrt();
        let [x, y] = if length > 1e-9 { [forward[0] / length, forward[1] / length] } else { [0.0, 1.0] };
        Frame::level_along([x, y])
    }

    /// The same for a direction that is a unit vector already.
    #[inline(always)]
    pub fn level_along([x, y]: [f64; 2]) -> Frame {
        Frame { forward: [x, y, 0.0], left: [-y, x, 0.0], up: [0.0, 0.0, 1.0] }
    }

    /// A body whose up axis is the unit vector `up` and that looks as nearly along the horizontal unit vector `nose` as
    /// that allows.
    #[inline]
    pub fn of_nose_and_up(nose: [f64; 2], up: [f64; 3]) -> Frame {
        let along = nose[0] * up[0] + nose[1] * up[1];
        let forward = [nose[0] - along * up[0], nose[1] - along * up[1], -along * up[2]];
        let inverse = 1.0 / dot(forward, forward).sqrt().max(1e-9);
        let forward = [forward[0] * inverse, forward[1] * inverse, forward[2] * inverse];
        Frame { forward, left: cross(up, forward), up }
    }

    /// A body that looks along the unit vector `forward`, its left axis level; straight up or down, as one that raised its
    /// head out of the level direction `level`.
    #[inline]
    pub fn pointing(forward: [f64; 3], level: [f64; 2]) -> Frame {
        let across = (forward[0] * forward[0] + forward[1] * forward[1]).sqrt();
        let [x, y] = if across > 1e-6 { [forward[0] / across, forward[1] / across] } else { level };
        let left = [-y, x, 0.0];
        Frame { forward, left, up: cross(forward, left) }
    }

    /// Forward axis.
    #[inline]
    pub fn forward(&self) -> [f64; 3] {
        self.forward
    }

    /// Left axis.
    #[inline]
    pub fn left(&self) -> [f64; 3] {
        self.left
    }

    /// Up axis.
    #[inline]
    pub fn up(&self) -> [f64; 3] {
        self.up
    }

    /// A vector given as [forward, left, up] of the body, in the world.
    #[inline(always)]
    pub fn to_world(&self, v: [f64; 3]) -> [f64; 3] {
        let at = |axis: usize| self.forward[axis] * v[0] + self.left[axis] * v[1] + self.up[axis] * v[2];
        [at(0), at(1), at(2)]
    }

    /// A vector of the world as [forward, left, up] of the body.
    #[inline(always)]
    pub fn to_body(&self, v: [f64; 3]) -> [f64; 3] {
        [dot(self.forward, v), dot(self.left, v), dot(self.up, v)]
    }
}

/// Distance between two points of the plane.
#[inline]
pub fn distance_m(a_m: [f64; 2], b_m: [f64; 2]) -> f64 {
    let (dx, dy) = (a_m[0] - b_m[0], a_m[1] - b_m[1]);
    (dx * dx + dy * dy).sqrt()
}

/// A vector, and so many times another added to it. Written out: a closure over the array is not inlined into the flight step.
#[inline(always)]
pub fn plus(a: [f64; 3], times: f64, b: [f64; 3]) -> [f64; 3] {
    [a[0] + times * b[0], a[1] + times * b[1], a[2] + times * b[2]]
}

/// Index of the cell that holds a place, which is given in cells from the beginning of their row; at least 0 (also for NaN) and at most
/// `last`.
#[inline(always)]
pub(crate) fn cell_at(place: f64, last: usize) -> usize {
    // By way of a signed number: processors turn a float into that in one step, and into an unsigned one in several.
    (place as i64).clamp(0, last as i64) as usize
}

/// The difference of two vectors.
#[inline(always)]
pub fn minus(a: [f64; 3], b: [f64; 3]) -> [f64; 3] {
    [a[0] - b[0], a[1] - b[1], a[2] - b[2]]
}

/// Scalar product.
#[inline(always)]
pub fn dot(a: [f64; 3], b: [f64; 3]) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

#[inline(always)]
fn cross(a: [f64; 3], b: [f64; 3]) -> [f64; 3] {
    [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cells_are_counted_from_the_beginning_and_end_at_the_last() {
        let found = [f64::NAN, f64::NEG_INFINITY, -0.5, 0.0, 0.999, 3.0, 6.2, 7.5, 1e30].map(|place| cell_at(place, 7));
        assert_eq!(found, [0, 0, 0, 0, 0, 3, 6, 7, 7]);
    }

    fn near(a: [f64; 3], b: [f64; 3]) -> bool {
        (0..3).all(|axis| (a[axis] - b[axis]).abs() < 1e-12)
    }

    /// What is in front of a craft that looks north lies north, what is on its left lies west.
    #[test]
    fn bodies_look_where_their_nose_points() {
        let north = Frame::level([0.0, 3.0]);
        assert!(near(north.to_world([1.0, 0.0, 0.0]), [0.0, 1.0, 0.0]));
        assert!(near(north.to_world([0.0, 1.0, 0.0]), [-1.0, 0.0, 0.0]));
        assert!(near(north.to_body([-2.0, 0.0, 0.0]), [0.0, 2.0, 0.0]));
        assert_eq!(Frame::level([2.0, 0.0]), Frame::EAST);
        assert_eq!(Frame::level([0.0, 0.0]), Frame::level([0.0, 1.0]));
    }

    /// Flying east with the nose down by 30°: up leans east, forward looks down.
    #[test]
    fn a_tilted_body_keeps_right_angles() {
        let (sin, cos) = (0.5, 0.75f64.sqrt());
        let tilted = Frame::of_nose_and_up([1.0, 0.0], [sin, 0.0, cos]);
        assert!(near(tilted.forward(), [cos, 0.0, -sin]));
        assert!(near(tilted.left(), [0.0, 1.0, 0.0]));
        // Out of a quarter turn to the right of the tilt, left leans with it.
        let aside = Frame::of_nose_and_up([0.0, 1.0], [sin, 0.0, cos]);
        assert!(near(aside.left(), [-cos, 0.0, sin]) && near(aside.forward(), [0.0, 1.0, 0.0]));
        let v = [0.3, -1.2, 0.7];
        assert!(near(tilted.to_body(tilted.to_world(v)), v));
    }

    #[test]
    fn pointing_bodies_keep_their_left_level() {
        let up = Frame::pointing([0.6, 0.0, 0.8], [0.0, 1.0]);
        assert!(near(up.left(), [0.0, 1.0, 0.0]) && near(up.up(), [-0.8, 0.0, 0.6]));
        let zenith = Frame::pointing([0.0, 0.0, 1.0], [0.0, 1.0]);
        assert!(near(zenith.left(), [-1.0, 0.0, 0.0]) && near(zenith.up(), [0.0, -1.0, 0.0]));
    }
}
