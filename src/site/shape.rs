//! Plane geometry of areas: size, containment, distance, outline.

use super::Area;
use crate::geometry::distance_m;

/// Points on the outline of a full circle, for drawing and for measuring.
const CIRCLE_POINTS: usize = 48;

impl Area {
    /// Size in m². A strip counts its middle line times its width plus its two round ends; where it bends or
    /// crosses itself that is slightly too much.
    pub fn size_m2(&self) -> f64 {
        match self {
            Area::Polygon(points) => signed_area_m2(points).abs(),
            Area::Circle { radius_m, .. } => std::f64::consts::PI * radius_m * radius_m,
            Area::Strip { line_m, width_m } => {
                let half = 0.5 * width_m;
                line_length_m(line_m) * width_m + std::f64::consts::PI * half * half
            }
        }
    }

    /// Whether the point lies inside or on the edge (the edge of a polygon may count either way).
    pub fn contains(&self, point_m: [f64; 2]) -> bool {
        match self {
            Area::Polygon(points) => polygon_contains(points, point_m),
            Area::Circle { centre_m, radius_m } => distance_m(*centre_m, point_m) <= *radius_m,
            Area::Strip { line_m, width_m } => line_distance_m(line_m, point_m) <= 0.5 * width_m,
        }
    }

    /// Distance to the area in metres, 0 inside.
    pub fn distance_m(&self, point_m: [f64; 2]) -> f64 {
        match self {
            Area::Polygon(points) => {
                if polygon_contains(points, point_m) {
                    0.0
                } else {
                    ring_distance_m(points, point_m)
                }
            }
            Area::Circle { centre_m, radius_m } => (distance_m(*centre_m, point_m) - radius_m).max(0.0),
            Area::Strip { line_m, width_m } => (line_distance_m(line_m, point_m) - 0.5 * width_m).max(0.0),
        }
    }

    /// Distance to the edge in metres, from inside or outside.
    pub fn edge_distance_m(&self, point_m: [f64; 2]) -> f64 {
        match self {
            Area::Polygon(points) => ring_distance_m(points, point_m),
            Area::Circle { centre_m, radius_m } => (distance_m(*centre_m, point_m) - radius_m).abs(),
            Area::Strip { line_m, width_m } => (line_distance_m(line_m, point_m) - 0.5 * width_m).abs(),
        }
    }

    /// West, south, east and north edge of what surrounds it.
    pub fn bounds_m(&self) -> [f64; 4] {
        let (points, grow): (&[[f64; 2]], f64) = match self {
            Area::Polygon(points) => (points, 0.0),
            Area::Circle { centre_m, radius_m } => (std::slice::from_ref(centre_m), *radius_m),
            Area::Strip { line_m, width_m } => (line_m, 0.5 * width_m),
        };
        let mut bounds = [f64::INFINITY, f64::INFINITY, f64::NEG_INFINITY, f64::NEG_INFINITY];
        for point in points {
            bounds[0] = bounds[0].min(point[0] - grow);
            bounds[1] = bounds[1].min(point[1] - grow);
            bounds[2] = bounds[2].max(point[0] + grow);
            bounds[3] = bounds[3].max(point[1] + grow);
        }
        bounds
    }

    /// A point to hang a label on: the middle of a disc, the half-way point of a strip, the centroid of a
    /// polygon (which may lie outside a hollow one).
    pub fn middle_m(&self) -> [f64; 2] {
        match self {
            Area::Polygon(points) => centroid_m(points),
            Area::Circle { centre_m, .. } => *centre_m,
            Area::Strip { line_m, .. } => {
                let mut left = 0.5 * line_length_m(line_m);
                for pair in line_m.windows(2) {
                    let length = distance_m(pair[0], pair[1]);
                    if left <= length && length > 0.0 {
                        let t = left / length;
                        return [
                            pair[0][0] + t * (pair[1][0] - pair[0][0]),
                            pair[0][1] + t * (pair[1][1] - pair[0][1]),
                        ];
                    }
                    left -= length;
                }
                line_m.first().copied().unwrap_or_default()
            }
        }
    }

    /// Outline as rings of points, not closed, for drawing: one ring for a polygon or disc, one ring per
    /// piece of a strip (the pieces overlap at the bends, so fill them without an edge of their own).
    pub fn outline_m(&self) -> Vec<Vec<[f64; 2]>> {
        match self {
            Area::Polygon(points) => vec![points.clone()],
            Area::Circle { centre_m, radius_m } => {
                vec![arc_m(*centre_m, *radius_m, 0.0, 1.0 / CIRCLE_POINTS as f64, CIRCLE_POINTS)]
            }
            Area::Strip { line_m, width_m } => {
                let half = 0.5 * width_m;
                line_m
                    .windows(2)
                    .filter(|pair| pair[0] != pair[1])
                    .map(|pair| {
                        let along = libm::atan2(pair[1][1] - pair[0][1], pair[1][0] - pair[0][0]);
                        let quarter = std::f64::consts::FRAC_PI_2;
                        // Round ends in eight pieces, both their own ends included.
                        let mut ring = arc_m(pair[1], half, along - quarter, 1.0 / 16.0, 9);
                        ring.extend(arc_m(pair[0], half, along + quarter, 1.0 / 16.0, 9));
                        ring
                    })
                    .collect()
            }
        }
    }

    /// Two edges of a polygon's outline that cross or overlap, as the index of each edge's first point; `None` for a
    /// simple polygon and for other shapes.
    pub fn self_crossing(&self) -> Option<(usize, usize)> {
        let Area::Polygon(points) = self else { return None };
        let mut boxes: Vec<EdgeBox> = edges(points)
            .enumerate()
            .map(|(edge, [a, b])| EdgeBox {
                edge,
                west: a[0].min(b[0]),
                east: a[0].max(b[0]),
                south: a[1].min(b[1]),
                north: a[1].max(b[1]),
            })
            .collect();
        // From west to east an edge is held against those alone that begin before it ends.
        boxes.sort_by(|a, b| a.west.total_cmp(&b.west));
        boxes.iter().enumerate().find_map(|(place, one)| {
            let beside = boxes[place + 1..].iter().take_while(|other| other.west <= one.east);
            let near = beside.filter(|other| other.south <= one.north && other.north >= one.south);
            let mut pairs = near.map(|other| (one.edge.min(other.edge), one.edge.max(other.edge)));
            pairs.find(|&pair| edges_cross(points, pair))
        })
    }
}

/// An edge of a ring and the box around it.
struct EdgeBox {
    edge: usize,
    west: f64,
    east: f64,
    south: f64,
    north: f64,
}

/// Whether two edges of a ring, told by their first points, share more than the point at which neighbours meet.
fn edges_cross(points: &[[f64; 2]], (first, second): (usize, usize)) -> bool {
    let count = points.len();
    let (a, b) = (points[first], points[(first + 1) % count]);
    let (c, d) = (points[second], points[(second + 1) % count]);
    let next = second == first + 1;
    let last = first == 0 && second == count - 1;
    if next && last {
        false
    } else if next {
        folds_back(a, b, d)
    } else if last {
        folds_back(c, a, b)
    } else {
        segments_touch(a, b, c, d)
    }
}

/// Most pairs of points looked at for the shortest way from an outline to a hole; beyond, the hole's first point is taken.
const PAIRS_AT_MOST: usize = 2_000_000;

/// An outline with a hole cut out of it, as one ring: it runs to the hole along the shortest way, around it and back the same way.
/// Size, containment and distances from outside are those of the outline without the hole.
pub fn cut_out(mut outline_m: Vec<[f64; 2]>, hole_m: &[[f64; 2]]) -> Vec<[f64; 2]> {
    if outline_m.len() < 3 || hole_m.len() < 3 {
        return outline_m;
    }
    let tried = if outline_m.len().saturating_mul(hole_m.len()) > PAIRS_AT_MOST { 1 } else { hole_m.len() };
    let mut best = (f64::INFINITY, 0, 0, outline_m[0]);
    for (from, point) in hole_m.iter().enumerate().take(tried) {
        for (edge, [a, b]) in edges(&outline_m).enumerate() {
            let near = nearest_on_segment_m(a, b, *point);
            let away_m = distance_m(near, *point);
            if away_m < best.0 {
                best = (away_m, from, edge, near);
            }
        }
    }
    let (_, from, edge, near) = best;
    // The hole runs against the outline, so that its size counts against it.
    let same = (signed_area_m2(&outline_m) > 0.0) == (signed_area_m2(hole_m) > 0.0);
    let mut around: Vec<[f64; 2]> = hole_m[from..].iter().chain(&hole_m[..from]).copied().collect();
    if same {
        around[1..].reverse();
    }
    let way = std::iter::once(near).chain(around).chain([hole_m[from], near]);
    outline_m.splice(edge + 1..edge + 1, way);
    outline_m
}

/// Edges of a ring, the one that closes it last.
pub(super) fn edges(points: &[[f64; 2]]) -> impl Iterator<Item = [[f64; 2]; 2]> {
    points.iter().zip(points.iter().cycle().skip(1)).map(|(a, b)| [*a, *b])
}

/// Area of a ring, positive when its points run anticlockwise (the shoelace formula).
pub fn signed_area_m2(points: &[[f64; 2]]) -> f64 {
    0.5 * edges(points).fold(0.0, |twice, [a, b]| twice + (a[0] * b[1] - b[0] * a[1]))
}

/// Length of a line.
pub fn line_length_m(points: &[[f64; 2]]) -> f64 {
    points.windows(2).map(|pair| distance_m(pair[0], pair[1])).sum()
}

/// Distance of a point from a segment.
pub fn segment_distance_m(a_m: [f64; 2], b_m: [f64; 2], point_m: [f64; 2]) -> f64 {
    distance_m(nearest_on_segment_m(a_m, b_m, point_m), point_m)
}

/// The point of a segment that is nearest to another.
fn nearest_on_segment_m(a_m: [f64; 2], b_m: [f64; 2], point_m: [f64; 2]) -> [f64; 2] {
    let (ex, ey) = (b_m[0] - a_m[0], b_m[1] - a_m[1]);
    let square = ex * ex + ey * ey;
    let t = if square > 0.0 {
        (((point_m[0] - a_m[0]) * ex + (point_m[1] - a_m[1]) * ey) / square).clamp(0.0, 1.0)
    } else {
        0.0
    };
    [a_m[0] + t * ex, a_m[1] + t * ey]
}

/// Distance of a point from an open line.
pub fn line_distance_m(line_m: &[[f64; 2]], point_m: [f64; 2]) -> f64 {
    match line_m {
        [] => f64::INFINITY,
        [only] => distance_m(*only, point_m),
        _ => line_m.windows(2).map(|pair| segment_distance_m(pair[0], pair[1], point_m)).fold(f64::INFINITY, f64::min),
    }
}

fn ring_distance_m(points: &[[f64; 2]], point_m: [f64; 2]) -> f64 {
    edges(points).map(|[a, b]| segment_distance_m(a, b, point_m)).fold(f64::INFINITY, f64::min)
}

/// Even-odd rule on half-open edges, so that neighbouring polygons share no point and leave no gap.
fn polygon_contains(points: &[[f64; 2]], point_m: [f64; 2]) -> bool {
    let mut inside = false;
    for [a, b] in edges(points) {
        if (a[1] > point_m[1]) != (b[1] > point_m[1])
            && point_m[0] < a[0] + (point_m[1] - a[1]) / (b[1] - a[1]) * (b[0] - a[0])
        {
            inside = !inside;
        }
    }
    inside
}

fn centroid_m(points: &[[f64; 2]]) -> [f64; 2] {
    let area = signed_area_m2(points);
    if area.abs() < 1e-9 {
        let sum = points.iter().fold([0.0, 0.0], |sum, p| [sum[0] + p[0], sum[1] + p[1]]);
        return sum.map(|sum| sum / points.len().max(1) as f64);
    }
    let mut sum = [0.0, 0.0];
    for [a, b] in edges(points) {
        let cross = a[0] * b[1] - b[0] * a[1];
        sum[0] += (a[0] + b[0]) * cross;
        sum[1] += (a[1] + b[1]) * cross;
    }
    [sum[0] / (6.0 * area), sum[1] / (6.0 * area)]
}

/// `count` points on a circle, each a share `step` of the whole turn after the last, anticlockwise.
fn arc_m(centre_m: [f64; 2], radius_m: f64, from_rad: f64, step: f64, count: usize) -> Vec<[f64; 2]> {
    (0..count)
        .map(|index| {
            let angle = from_rad + std::f64::consts::TAU * (index as f64 * step);
            [centre_m[0] + radius_m * libm::cos(angle), centre_m[1] + radius_m * libm::sin(angle)]
        })
        .collect()
}

fn turn(a: [f64; 2], b: [f64; 2], c: [f64; 2]) -> f64 {
    (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
}

fn within(a: [f64; 2], b: [f64; 2], point: [f64; 2]) -> bool {
    point[0] >= a[0].min(b[0]) && point[0] <= a[0].max(b[0]) && point[1] >= a[1].min(b[1]) && point[1] <= a[1].max(b[1])
}

/// Whether two segments share a point.
fn segments_touch(a: [f64; 2], b: [f64; 2], c: [f64; 2], d: [f64; 2]) -> bool {
    let (abc, abd, cda, cdb) = (turn(a, b, c), turn(a, b, d), turn(c, d, a), turn(c, d, b));
    if abc * abd < 0.0 && cda * cdb < 0.0 {
        return true;
    }
    (abc == 0.0 && within(a, b, c))
        || (abd == 0.0 && within(a, b, d))
        || (cda == 0.0 && within(c, d, a))
        || (cdb == 0.0 && within(c, d, b))
}

/// Whether the edge from `b` to `d` runs back over the edge from `a` to `b`.
fn folds_back(a: [f64; 2], b: [f64; 2], d: [f64; 2]) -> bool {
    turn(a, b, d) == 0.0 && (d[0] - b[0]) * (a[0] - b[0]) + (d[1] - b[1]) * (a[1] - b[1]) > 0.0
}

#[cfg(test)]
mod tests {
    use super::*;

    fn square() -> Area {
        Area::Polygon(vec![[0.0, 0.0], [10.0, 0.0], [10.0, 10.0], [0.0, 10.0]])
    }

    #[test]
    fn sizes_by_hand() {
        assert_eq!(square().size_m2(), 100.0);
        let circle = Area::Circle { centre_m: [1.0, 2.0], radius_m: 2.0 };
        assert!((circle.size_m2() - 12.566_370_614_359_172).abs() < 1e-12);
        let strip = Area::Strip { line_m: vec![[0.0, 0.0], [3.0, 4.0]], width_m: 2.0 };
        assert!((strip.size_m2() - (10.0 + std::f64::consts::PI)).abs() < 1e-12);
        assert_eq!(square().middle_m(), [5.0, 5.0]);
        assert_eq!(strip.middle_m(), [1.5, 2.0]);
        assert_eq!(strip.bounds_m(), [-1.0, -1.0, 4.0, 5.0]);
    }

    #[test]
    fn inside_and_distance() {
        assert!(square().contains([5.0, 5.0]) && !square().contains([11.0, 5.0]));
        assert_eq!(square().distance_m([13.0, 14.0]), 5.0);
        assert_eq!(square().distance_m([5.0, 5.0]), 0.0);
        assert_eq!(square().edge_distance_m([5.0, 9.0]), 1.0);
        let strip = Area::Strip { line_m: vec![[0.0, 0.0], [10.0, 0.0]], width_m: 2.0 };
        assert!(strip.contains([5.0, 0.9]) && !strip.contains([5.0, 1.1]));
        assert_eq!(strip.distance_m([5.0, 4.0]), 3.0);
    }

    #[test]
    fn crossings_are_found_and_simple_outlines_pass() {
        assert_eq!(square().self_crossing(), None);
        let bow = Area::Polygon(vec![[0.0, 0.0], [10.0, 10.0], [10.0, 0.0], [0.0, 10.0]]);
        assert_eq!(bow.self_crossing(), Some((0, 2)));
        let spike = Area::Polygon(vec![[0.0, 0.0], [10.0, 0.0], [5.0, 0.0], [5.0, 5.0]]);
        assert!(spike.self_crossing().is_some());
        let triangle = Area::Polygon(vec![[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]]);
        assert_eq!(triangle.self_crossing(), None);
    }

    /// The sweep finds a crossing where holding every edge against every other does.
    #[test]
    fn crossings_are_those_of_all_pairs() {
        let mut crossed = 0;
        for turn in 1..200_u32 {
            let point = |k: u32| [f64::from(turn * k * 7919 % 101), f64::from((turn + k) * k * 104_729 % 97)];
            let points: Vec<[f64; 2]> = (0..4 + turn % 5).map(point).collect();
            let mut all = (0..points.len()).flat_map(|a| (a + 1..points.len()).map(move |b| (a, b)));
            let any = all.any(|pair| edges_cross(&points, pair));
            crossed += usize::from(any);
            let found = Area::Polygon(points.clone()).self_crossing();
            assert_eq!(found.is_some(), any, "{turn}");
            assert!(found.is_none_or(|pair| pair.0 < pair.1 && edges_cross(&points, pair)), "{turn}");
        }
        assert!((20..190).contains(&crossed), "{crossed}");
    }

    #[test]
    fn a_hole_is_no_part_of_its_outline() {
        let Area::Polygon(outline) = square() else { panic!() };
        for hole in
            [vec![[4.0, 4.0], [6.0, 4.0], [6.0, 6.0], [4.0, 6.0]], vec![[4.0, 4.0], [4.0, 6.0], [6.0, 6.0], [6.0, 4.0]]]
        {
            let second = [[1.0, 8.0], [2.0, 8.0], [2.0, 9.0]];
            let ring = Area::Polygon(cut_out(cut_out(outline.clone(), &hole), &second));
            assert!((ring.size_m2() - 95.5).abs() < 1e-9, "{}", ring.size_m2());
            assert!(
                !ring.contains([5.0, 5.0])
                    && !ring.contains([1.8, 8.4])
                    && ring.contains([3.9, 5.0])
                    && ring.contains([9.0, 5.0])
            );
            assert!((ring.distance_m([5.0, 5.5]) - 0.5).abs() < 1e-9 && ring.distance_m([13.0, 14.0]) == 5.0);
        }
    }

    #[test]
    fn outlines_stay_within_the_width() {
        let strip = Area::Strip { line_m: vec![[0.0, 0.0], [10.0, 5.0], [20.0, 0.0]], width_m: 3.0 };
        let rings = strip.outline_m();
        assert_eq!(rings.len(), 2);
        for point in rings.iter().flatten() {
            assert!(strip.distance_m(*point) < 1e-9);
        }
    }
}
