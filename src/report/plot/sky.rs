//! The sky over a day: satellites and HDOP by the hour, and the ways of the satellites.

use super::axis::Panel;
use super::canvas::{At, Canvas, Entry, Figure, Look, entry, sample_box};
use super::font::Weight;
use super::theme::{Ink, Pattern, Shape};
use crate::plan::{FixLimit, SkyDay};
use crate::report::words::{self, clock};

const INKS: [Ink; 4] = [Ink::Vermilion, Ink::Blue, Ink::Green, Ink::Purple];
/// Dash and gap of each set's curve; no dash: a whole line.
const DASHES: [Option<(f64, f64)>; 4] = [Some((7.0, 3.0)), Some((2.5, 2.5)), None, Some((10.0, 4.0))];
/// HDOP above this is not drawn.
const HDOP_TOP: f64 = 6.0;

/// Satellites and HDOP over the day, the choices of constellations compared.
pub fn sky_day(day: &SkyDay, look: Look) -> Figure {
    let mut canvas = Canvas::new("sky-day", look);
    let title = "Satellites and HDOP over the day";
    let [year, month, date] = day.date;
    let under = format!(
        "{year:04}-{month:02}-{date:02}, {} m above the ground at the take-off spot; {}.",
        words::number(day.height_agl_m, if day.height_agl_m < 10.0 { 1 } else { 0 }),
        day.origin
    );
    let top = canvas.head(title, &under);
    let mut entries: Vec<Entry> = Vec::new();
    for (index, set) in day.sets.iter().enumerate() {
        let own = if index == day.own { " (as flown)" } else { "" };
        entries.push(entry(format!("{}{own}", set.name), move |canvas, [x, y]| {
            stroke(canvas, &[[x - 11.0, y], [x + 11.0, y]], index);
        }));
        canvas.drew(&format!("{}{own}", set.name));
    }
    let limit = strictest(day);
    if let Some(limit) = limit {
        let name =
            format!("guard ({}): {} satellites, HDOP {}", limit.label, limit.satellites, words::number(limit.hdop, 1));
        canvas.drew(&name);
        entries.push(entry(name, |canvas, at| canvas.stroke_sample(at, Ink::Ink, 1.0)));
    }
    let mut y = canvas.legend(top, &entries) + 24.0;
    let (left, right) = (canvas.margin() + 34.0, canvas.width_px() - canvas.margin() - 12.0);
    let most = day.sets.iter().flat_map(|set| &set.rows).map(|row| f64::from(row.satellites)).fold(8.0, f64::max);
    let hours = [0.0, 24.0];
    let height = 0.5 * canvas.room(300.0, y, 84.0, 100.0);
    let satellites = Panel {
        box_px: [left, y, right, y + height],
        x: hours,
        y: [0.0, super::axis::range([0.0, most].into_iter(), 4)[1]],
    };
    canvas.text("Satellites tracked", [left, y - 12.0], At::Left, 12.0, Weight::Bold, Ink::Ink);
    frame(&mut canvas, &satellites, None, 4);
    y += height + 40.0;
    let dilution = Panel { box_px: [left, y, right, y + height], x: hours, y: [0.0, HDOP_TOP] };
    canvas.text("HDOP (a gap: no fix, or above 6)", [left, y - 12.0], At::Left, 12.0, Weight::Bold, Ink::Ink);
    frame(&mut canvas, &dilution, Some("Hour of the day (UTC)"), 3);
    for (index, set) in day.sets.iter().enumerate() {
        let hour = |time_s: f64| time_s / 3600.0;
        let count = set.rows.iter().map(|row| [hour(row.time_s), f64::from(row.satellites)]);
        let value = |x: f64| if x <= HDOP_TOP { x } else { f64::NAN };
        let hdop = set.rows.iter().map(|row| [hour(row.time_s), value(row.hdop)]);
        for piece in satellites.pieces(count).into_iter().chain(dilution.pieces(hdop)) {
            stroke(&mut canvas, &piece, index);
        }
    }
    if let Some(limit) = limit {
        for (panel, value) in [(&satellites, f64::from(limit.satellites)), (&dilution, limit.hdop)] {
            let at = panel.at_y(value);
            if at > panel.box_px[1] && at < panel.box_px[3] {
                canvas.line(&[[left, at], [right, at]], Ink::Ink, 1.0, 1.0);
            }
        }
    }
    canvas.height_px = y + height + 44.0;
    let set = day.own_set();
    let mut told = words::day(set);
    for guard in &set.guards {
        told += &format!(" {}.", words::guard(set, guard));
    }
    let caption = "More satellites and a lower HDOP are better. Where a curve crosses the guard's line, a return that waits for it would \
                   not start, or would fall back.";
    canvas.finish(title, caption, &told)
}

fn stroke(canvas: &mut Canvas, points: &[[f64; 2]], index: usize) {
    let ink = INKS[index % INKS.len()];
    match DASHES[index % DASHES.len()] {
        Some((on, off)) => canvas.dashed(points, ink, 1.0, 1.7, on, off),
        None => canvas.line(points, ink, 1.0, 1.7),
    }
}

/// Axes of one panel with a tick every third hour.
fn frame(canvas: &mut Canvas, panel: &Panel, label: Option<&str>, n_ticks: usize) {
    let [left, top, right, bottom] = panel.box_px;
    panel.y_axis(canvas, n_ticks);
    let every = if canvas.look.narrow() { 6 } else { 3 };
    for hour in (0..=24).step_by(every) {
        let x = panel.at_x(f64::from(hour));
        canvas.line(&[[x, top], [x, bottom]], Ink::Grid, 1.0, 0.8);
        if label.is_some() {
            let text = clock(f64::from(hour) * 3600.0);
            let place =
                if hour == 24 { ([x + 8.0, bottom + 12.0], At::Right) } else { ([x, bottom + 12.0], At::Middle) };
            canvas.text(&text, place.0, place.1, super::axis::TICK, Weight::Regular, Ink::Ink);
        }
    }
    canvas.line(&[[left, bottom], [right, bottom]], Ink::Soft, 1.0, 1.0);
    if let Some(label) = label {
        canvas.text(label, [(left + right) / 2.0, bottom + 30.0], At::Middle, 12.0, Weight::Regular, Ink::Ink);
    }
}

/// The guard drawn: the one that fails most under the own choice, the first of equals.
fn strictest(day: &SkyDay) -> Option<&FixLimit> {
    let guards = &day.own_set().guards;
    let most = guards.iter().map(|guard| guard.share_failing).fold(0.0, f64::max);
    guards.iter().find(|guard| guard.share_failing >= most).map(|guard| &guard.guard)
}

const GROUND: &str = "ground and buildings";
const TREES: &str = "through trees";
const MASK: &str = "below the least elevation used";

const SYSTEMS: [(&str, Shape); 4] =
    [("GPS", Shape::Disc), ("Galileo", Shape::Square), ("GLONASS", Shape::Up), ("BeiDou", Shape::Diamond)];

/// The dome seen from above like a map: zenith in the middle, north up, east to the right.
struct Dome {
    centre: [f64; 2],
    radius: f64,
}

impl Dome {
    fn at(&self, azimuth_deg: f64, elevation_deg: f64) -> [f64; 2] {
        let (s, c) = azimuth_deg.to_radians().sin_cos();
        let r = self.radius * (90.0 - elevation_deg.clamp(0.0, 90.0)) / 90.0;
        [self.centre[0] + r * s, self.centre[1] - r * c]
    }

    fn ring(&self, elevation: impl Fn(f64) -> f64) -> Vec<[f64; 2]> {
        (0..=120).map(|k| self.at(f64::from(k) * 3.0, elevation(f64::from(k) * 3.0))).collect()
    }

    fn band(&self, outer: impl Fn(f64) -> f64, inner: impl Fn(f64) -> f64) -> Vec<[f64; 2]> {
        let inner = self.ring(inner);
        self.ring(outer).into_iter().chain(inner.into_iter().rev()).collect()
    }

    /// The dome with room for labels around it.
    fn around(&self) -> [f64; 4] {
        let ([x, y], r) = (self.centre, self.radius + 30.0);
        [x - r, y - r, x + r, y + r]
    }
}

fn patch(canvas: &mut Canvas, points: &[[f64; 2]], ink: Ink, pattern: Pattern) {
    canvas.patterned(points, ink, pattern, 0.35, 0.6);
}

/// Elevation of a horizon at an azimuth, between its points.
fn elevation(points: &[[f64; 2]], azimuth_deg: f64) -> f64 {
    if points.is_empty() {
        return 0.0;
    }
    let place = azimuth_deg.rem_euclid(360.0) / (360.0 / points.len() as f64);
    let (k, share) = (place as usize % points.len(), place.fract());
    points[k][1] + (points[(k + 1) % points.len()][1] - points[k][1]) * share
}

fn highest(horizon: &[[f64; 2]]) -> f64 {
    horizon.iter().map(|p| p[1]).fold(0.0, f64::max)
}

/// The ways of the satellites through the sky between two times of the day, with the horizon of the place.
pub fn sky_plot(day: &SkyDay, from_s: f64, to_s: f64, look: Look) -> Figure {
    let mut canvas = Canvas::new("sky-plot", look);
    let title = "Where the satellites stand";
    let under = format!(
        "Seen from above like a map, {} to {} UTC; a mark is where a satellite stands at the end.",
        clock(from_s),
        clock(to_s)
    );
    let top = canvas.head(title, &under);
    let hidden = [
        (GROUND, Ink::Grey, Pattern::Rising, highest(&day.horizon_deg) > 0.5),
        (TREES, Ink::Green, Pattern::Falling, highest(&day.canopy_deg) > 0.5),
        (MASK, Ink::Sky, Pattern::Dots, day.mask_deg > 0.5),
    ];
    let mut entries: Vec<Entry> = Vec::new();
    for ((name, shape), ink) in SYSTEMS.into_iter().zip(INKS) {
        if day.tracks.iter().any(|track| track.system == name) {
            entries.push(entry(name, move |canvas, [x, y]| {
                canvas.line(&[[x - 11.0, y], [x + 5.0, y]], ink, 1.0, 1.4);
                canvas.marks(&[[x + 6.0, y]], shape, 4.0, ink, 1.0);
            }));
        }
    }
    for (name, ink, pattern, _) in hidden.into_iter().filter(|kind| kind.3) {
        canvas.drew(name);
        entries.push(entry(name, move |canvas, at| {
            patch(canvas, &sample_box(at), ink, pattern);
            canvas.outline(&sample_box(at), Ink::Soft, 1.0, 0.8);
        }));
    }
    let y = canvas.legend(top, &entries) + 12.0;
    let radius = ((canvas.width_px() - 2.0 * canvas.margin() - 40.0) / 2.0).min(270.0);
    let radius = radius.min(0.5 * canvas.room(2.0 * radius, y, 44.0, 80.0));
    let dome = Dome { centre: [canvas.width_px() / 2.0, y + radius + 18.0], radius };
    let ground = |azimuth: f64| elevation(&day.horizon_deg, azimuth);
    let trees = |azimuth: f64| elevation(&day.canopy_deg, azimuth).max(ground(azimuth));
    let mask = |azimuth: f64| day.mask_deg.max(ground(azimuth));
    let bands = [dome.band(|_| 0.0, ground), dome.band(ground, trees), dome.band(ground, mask)];
    for ((_, ink, pattern, _), band) in hidden.into_iter().zip(bands).rev().filter(|(kind, _)| kind.3) {
        patch(&mut canvas, &band, ink, pattern);
    }
    compass(&mut canvas, &dome);
    let shown = passes(&mut canvas, &dome, day, [from_s, to_s]);
    canvas.height_px = dome.centre[1] + radius + 26.0;
    let told = format!(
        "{shown} satellite passes between {} and {} UTC. The highest horizon of ground and buildings is {}°, of trees {}°.",
        clock(from_s),
        clock(to_s),
        words::number(highest(&day.horizon_deg), 0),
        words::number(highest(&day.canopy_deg), 0)
    );
    let caption = "The middle is straight up, the rim the horizontal; north is up and east to the right. What is hatched hides or weakens \
                   satellites at this place and height.";
    canvas.finish(title, caption, &told)
}

/// Rings of elevation, lines of azimuth, the four directions.
fn compass(canvas: &mut Canvas, dome: &Dome) {
    for elevation in [0.0, 30.0, 60.0] {
        canvas.line(&dome.ring(|_| elevation), if elevation == 0.0 { Ink::Soft } else { Ink::Grid }, 1.0, 1.0);
    }
    for azimuth in [0.0, 45.0, 90.0, 135.0] {
        canvas.line(&[dome.at(azimuth, 0.0), dome.at(azimuth + 180.0, 0.0)], Ink::Grid, 1.0, 0.8);
    }
    let rim = Dome { radius: dome.radius + 11.0, ..*dome };
    for (name, azimuth) in [("N", 0.0f64), ("E", 90.0), ("S", 180.0), ("W", 270.0)] {
        canvas.text(name, rim.at(azimuth, 0.0), At::Middle, 12.0, Weight::Bold, Ink::Ink);
    }
}

/// Ways of the satellites between two times, named where they end. Returns how many.
fn passes(canvas: &mut Canvas, dome: &Dome, day: &SkyDay, [from_s, to_s]: [f64; 2]) -> usize {
    let mut ends = Vec::new();
    for track in &day.tracks {
        let k = SYSTEMS.iter().position(|(name, _)| *name == track.system).unwrap_or(0);
        canvas.drew(track.system);
        for pass in &track.passes {
            let seen = pass.iter().filter(|p| (from_s..=to_s).contains(&p[0]));
            let way: Vec<[f64; 2]> = seen.map(|p| dome.at(p[1], p[2])).collect();
            canvas.line(&way, INKS[k], 0.9, 1.3);
            if let Some(&end) = way.last() {
                canvas.keep_off(&way);
                ends.push((end, k, &track.name));
            }
        }
    }
    for (name, elevation) in [("60°", 60.0), ("30°", 30.0)] {
        let place = dome.at(45.0, elevation);
        canvas.chip_where_free(name, &[(place, At::Middle)], dome.around(), 10.5, Ink::Soft);
    }
    for ([x, y], _, name) in &ends {
        let places = [
            ([x + 7.0, *y], At::Left),
            ([x - 7.0, *y], At::Right),
            ([*x, y - 11.0], At::Middle),
            ([*x, y + 11.0], At::Middle),
        ];
        canvas.chip_where_free(name, &places, dome.around(), 10.5, Ink::Ink);
    }
    // Marks last: no label hides one.
    for &(end, k, _) in &ends {
        canvas.marks(&[end], SYSTEMS[k].1, 4.0, INKS[k], 1.0);
    }
    ends.len()
}
