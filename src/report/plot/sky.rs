//! The sky over a day: satellites and HDOP by the hour, and the ways of the satellites.

use super::axis::Panel;
use super::canvas::{At, Canvas, Entry, Figure, Look};
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
        entries.push((
            format!("{}{own}", set.name),
            Box::new(move |canvas, at| stroke(canvas, &[[at[0] - 11.0, at[1]], [at[0] + 11.0, at[1]]], index)),
        ));
        canvas.drew(&format!("{}{own}", set.name));
    }
    let limit = strictest(day);
    if let Some(limit) = limit {
        let name =
            format!("guard ({}): {} satellites, HDOP {}", limit.label, limit.satellites, words::number(limit.hdop, 1));
        canvas.drew(&name);
        entries.push((
            name,
            Box::new(|canvas, at| {
                canvas.line(&[[at[0] - 11.0, at[1]], [at[0] + 11.0, at[1]]], Ink::Ink, 1.0, 1.0);
            }),
        ));
    }
    let mut y = canvas.legend(top, &entries) + 24.0;
    let (left, right) = (canvas.margin() + 34.0, canvas.width_px() - canvas.margin() - 12.0);
    let most = day.sets.iter().flat_map(|set| &set.rows).map(|row| f64::from(row.satellites)).fold(8.0, f64::max);
    let hours = [0.0, 24.0];
    let height = 150.0;
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

/// The ways of the satellites through the sky between two times of the day, with the horizon of the place: zenith in the middle,
/// north up, east to the right as on a map.
pub fn sky_plot(day: &SkyDay, from_s: f64, to_s: f64, look: Look) -> Figure {
    let mut canvas = Canvas::new("sky-plot", look);
    let title = "Where the satellites stand";
    let under = format!(
        "Seen from above like a map, {} to {} UTC; a mark is where a satellite stands at the end.",
        clock(from_s),
        clock(to_s)
    );
    let top = canvas.head(title, &under);
    let systems = ["GPS", "Galileo", "GLONASS", "BeiDou"];
    let shapes = [Shape::Disc, Shape::Square, Shape::Up, Shape::Diamond];
    let mut entries: Vec<Entry> = Vec::new();
    for (k, &name) in systems.iter().enumerate() {
        if day.tracks.iter().any(|track| track.system == name) {
            let (ink, shape) = (INKS[k], shapes[k]);
            entries.push((
                name.into(),
                Box::new(move |canvas, at| {
                    canvas.line(&[[at[0] - 11.0, at[1]], [at[0] + 5.0, at[1]]], ink, 1.0, 1.4);
                    canvas.marks(&[[at[0] + 6.0, at[1]]], shape, 4.0, ink, 1.0);
                }),
            ));
        }
    }
    let highest = |line: &[[f64; 2]]| line.iter().map(|p| p[1]).fold(0.0, f64::max);
    let patches = [
        (GROUND, Ink::Grey, Pattern::Rising, highest(&day.horizon_deg) > 0.5),
        (TREES, Ink::Green, Pattern::Falling, highest(&day.canopy_deg) > 0.5),
        (MASK, Ink::Sky, Pattern::Dots, day.mask_deg > 0.5),
    ];
    for (name, ink, pattern, used) in patches {
        if used {
            canvas.drew(name);
            entries.push((
                name.into(),
                Box::new(move |canvas, at| {
                    let corners = Canvas::corners(at[0] - 11.0, at[1] - 6.0, at[0] + 11.0, at[1] + 6.0);
                    canvas.patterned(&corners, ink, pattern, 0.35, 0.6);
                    canvas.outline(&corners, Ink::Soft, 1.0, 0.8);
                }),
            ));
        }
    }
    let y = canvas.legend(top, &entries) + 12.0;
    let radius = ((canvas.width_px() - 2.0 * canvas.margin() - 40.0) / 2.0).min(270.0);
    let centre = [canvas.width_px() / 2.0, y + radius + 18.0];
    let at = |azimuth_deg: f64, elevation_deg: f64| {
        let (s, c) = azimuth_deg.to_radians().sin_cos();
        let r = radius * (90.0 - elevation_deg.clamp(0.0, 90.0)) / 90.0;
        [centre[0] + r * s, centre[1] - r * c]
    };
    let ring = |elevation: &dyn Fn(f64) -> f64| -> Vec<[f64; 2]> {
        (0..=120).map(|k| at(f64::from(k) * 3.0, elevation(f64::from(k) * 3.0))).collect()
    };
    let band = |outer: &dyn Fn(f64) -> f64, inner: &dyn Fn(f64) -> f64| -> Vec<[f64; 2]> {
        let mut points = ring(outer);
        points.extend(ring(inner).into_iter().rev());
        points
    };
    let line = |points: &[[f64; 2]], azimuth_deg: f64| -> f64 {
        let step = 360.0 / points.len() as f64;
        let place = azimuth_deg.rem_euclid(360.0) / step;
        let (k, share) = (place as usize % points.len(), place.fract());
        points[k][1] + (points[(k + 1) % points.len()][1] - points[k][1]) * share
    };
    let ground = |azimuth: f64| line(&day.horizon_deg, azimuth);
    let trees = |azimuth: f64| line(&day.canopy_deg, azimuth).max(ground(azimuth));
    let mask = |azimuth: f64| day.mask_deg.max(ground(azimuth));
    if patches[2].3 {
        canvas.patterned(&band(&ground, &mask), Ink::Sky, Pattern::Dots, 0.35, 0.6);
    }
    if patches[1].3 {
        canvas.patterned(&band(&ground, &trees), Ink::Green, Pattern::Falling, 0.35, 0.6);
    }
    if patches[0].3 {
        canvas.patterned(&band(&|_| 0.0, &ground), Ink::Grey, Pattern::Rising, 0.35, 0.6);
    }
    for elevation in [0.0, 30.0, 60.0] {
        canvas.line(&ring(&|_| elevation), if elevation == 0.0 { Ink::Soft } else { Ink::Grid }, 1.0, 1.0);
    }
    for azimuth in [0.0, 45.0, 90.0, 135.0] {
        canvas.line(&[at(azimuth, 0.0), at(azimuth + 180.0, 0.0)], Ink::Grid, 1.0, 0.8);
    }
    for (name, azimuth) in [("N", 0.0f64), ("E", 90.0), ("S", 180.0), ("W", 270.0)] {
        let (s, c) = azimuth.to_radians().sin_cos();
        let place = [centre[0] + (radius + 11.0) * s, centre[1] - (radius + 11.0) * c];
        canvas.text(name, place, At::Middle, 12.0, Weight::Bold, Ink::Ink);
    }
    let mut ends = Vec::new();
    for track in &day.tracks {
        let k = systems.iter().position(|name| *name == track.system).unwrap_or(0);
        canvas.drew(track.system);
        for pass in &track.passes {
            let way: Vec<[f64; 2]> =
                pass.iter().filter(|p| (from_s..=to_s).contains(&p[0])).map(|p| at(p[1], p[2])).collect();
            canvas.line(&way, INKS[k], 0.9, 1.3);
            if let Some(&end) = way.last() {
                canvas.keep_off(&way);
                ends.push((end, k, track.name.clone()));
            }
        }
    }
    for (name, elevation) in [("60°", 60.0), ("30°", 30.0)] {
        let place = at(45.0, elevation);
        canvas.chip_where_free(name, &[(place, At::Middle)], all(centre, radius), 10.5, Ink::Soft);
    }
    let shown = ends.len();
    for (end, _, name) in &ends {
        let beside = |dx: f64, dy: f64, at: At| ([end[0] + dx, end[1] + dy], at);
        let places = [
            beside(7.0, 0.0, At::Left),
            beside(-7.0, 0.0, At::Right),
            beside(0.0, -11.0, At::Middle),
            beside(0.0, 11.0, At::Middle),
        ];
        canvas.chip_where_free(name, &places, all(centre, radius), 10.5, Ink::Ink);
    }
    // Marks last: no label hides one.
    for (end, k, _) in ends {
        canvas.marks(&[end], shapes[k], 4.0, INKS[k], 1.0);
    }
    canvas.height_px = centre[1] + radius + 26.0;
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

fn all(centre: [f64; 2], radius: f64) -> [f64; 4] {
    [centre[0] - radius - 30.0, centre[1] - radius - 30.0, centre[0] + radius + 30.0, centre[1] + radius + 30.0]
}
