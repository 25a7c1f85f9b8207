//! Link, sky and charge along the path; a vertical cut of the link.

use super::axis::{self, Panel, Stack};
use super::canvas::{At, Canvas, Figure, Look, entry, sample_box};
use super::planned::Planned;
use super::theme::{Ink, Pattern};
use crate::report::words;
use crate::risk::summary::{AlongPath, Section};

const SURFACE: &str = "ground, trees, roofs below";

/// What is expected along the path: height, margin, satellites, HDOP, charge.
pub fn along(planned: &Planned, look: Look) -> Option<Figure> {
    let rows = planned.along;
    let last = rows.last().filter(|_| rows.len() > 1)?;
    let mut canvas = Canvas::new("along", look);
    let title = "Link, sky and charge expected along the path";
    let top = canvas.head(title, "Means without luck: no fading, no gusts; interference as its mean over time.");
    let margin = canvas.margin();
    let mut stack = Stack {
        sides_px: [margin + 40.0, canvas.width_px() - margin - 10.0],
        y: top + 20.0,
        height_px: 84.0,
        gap_px: 36.0,
        x: [0.0, last.distance_m.max(1.0)],
        n_ticks: if look.narrow() { 5 } else { 9 },
    };
    let points =
        |f: &dyn Fn(&AlongPath) -> f64| -> Vec<[f64; 2]> { rows.iter().map(|row| [row.distance_m, f(row)]).collect() };
    let (heights, surface) = (points(&|row| row.place_m[2]), points(&|row| row.surface_m));
    let scale = axis::range(heights.iter().chain(&surface).map(|p| p[1]).chain([0.0]), 3);
    // A sheet leaves out the sky, which has figures of its own.
    let sheet = look.sheet();
    if sheet {
        stack.height_px = canvas.room(0.0, stack.y, 51.0 + 2.0 * stack.gap_px, 90.0) / 3.0;
    }
    let panel = stack.panel(&mut canvas, "Height above home / m", scale, 3, None);
    panel.surface(&mut canvas, surface.iter().copied());
    panel.curve(&mut canvas, heights.iter().copied(), Ink::Blue, 1.8);
    panel.name_curve(&mut canvas, &heights, "path");
    panel.name_curve(&mut canvas, &surface, SURFACE);

    margins(&mut canvas, &mut stack, &points(&|row| row.margin_db));

    if !sheet {
        let most = rows.iter().map(|row| f64::from(row.satellites)).fold(8.0, f64::max);
        let scale = [0.0, axis::range([0.0, most].into_iter(), 3)[1]];
        let panel = stack.panel(&mut canvas, "Satellites in view", scale, 3, None);
        panel.curve(&mut canvas, points(&|row| f64::from(row.satellites)).into_iter(), Ink::Green, 1.8);
        let panel = stack.panel(&mut canvas, "HDOP (gap: no fix; above 4 not drawn)", [0.0, 4.0], 2, None);
        let hdop = points(&|row| if row.hdop > 4.0 { f64::NAN } else { row.hdop });
        panel.curve(&mut canvas, hdop.into_iter(), Ink::Green, 1.8);
    }

    let panel = stack.panel(&mut canvas, "Charge / %", [0.0, 100.0], 2, Some("Distance flown / m"));
    let home =
        |row: &AlongPath| if row.charge_home_pct.is_finite() { row.charge_home_pct.min(100.0) } else { f64::NAN };
    let (charge, home) = (points(&|row| row.charge_pct), points(&home));
    panel.curve(&mut canvas, charge.iter().copied(), Ink::Blue, 1.8);
    panel.dashed_curve(&mut canvas, home.iter().copied(), Ink::Vermilion);
    no_return(&mut canvas, &panel, planned);
    panel.name_curve(&mut canvas, &charge, "in the pack");
    panel.name_curve(&mut canvas, &home, "needed to come home");
    canvas.height_px = stack.y + 14.0;
    let worst = rows.iter().filter(|row| row.margin_db.is_finite()).min_by(|a, b| a.margin_db.total_cmp(&b.margin_db));
    let told = worst.map_or("No margin known along the path.".into(), |row| {
        format!(
            "Least mean margin {} dB after {} m of the path; charge at the end {} %.",
            words::number(row.margin_db, 1),
            words::number(row.distance_m, 0),
            words::number(last.charge_pct, 0)
        )
    });
    let caption = "The thick part of the margin curve is where the link is expected to fade first. Few satellites or a gap in HDOP: a \
                   way home started there may have to fall back.";
    Some(canvas.finish(title, caption, &told))
}

/// The margin of the link; thick where it is below 10 dB and ordinary fading takes it away.
fn margins(canvas: &mut Canvas, stack: &mut Stack, margins: &[[f64; 2]]) {
    let [left, right] = stack.sides_px;
    let scale = axis::range(margins.iter().map(|p| p[1]).chain([0.0]), 3);
    let panel = stack.panel(canvas, "Mean margin of the control link / dB", scale, 3, None);
    let thin = margins.iter().map(|m| [m[0], if m[1] < 10.0 { m[1] } else { f64::NAN }]);
    panel.curve(canvas, margins.iter().copied(), Ink::Blue, 1.6);
    panel.curve(canvas, thin, Ink::Vermilion, 3.2);
    for (value, words) in [(10.0, "10 dB: below it ordinary fading can silence the link"), (0.0, "needed")] {
        let at = panel.at_y(value);
        if at <= panel.box_px[1] || at >= panel.box_px[3] + 0.1 {
            continue;
        }
        canvas.dashed(&[[left, at], [right, at]], Ink::Ink, 0.9, 1.0, 6.0, 3.0);
        // At either end, else wherever the curve leaves room.
        let ends = [(left + 5.0, At::Left), (right - 5.0, At::Right), ((left + right) / 2.0, At::Middle)];
        let between = (1..12).map(|k| (left + (right - left) * f64::from(k) / 16.0, At::Left));
        let mut places: Vec<([f64; 2], At)> = ends
            .into_iter()
            .chain(between)
            .flat_map(|(x, side)| [([x, at - 8.0], side), ([x, at + 8.0], side)])
            .collect();
        places.push(([(left + right) / 2.0, at - 22.0], At::Middle));
        canvas.chip_where_free(words, &places, panel.box_px, 10.5, Ink::Ink);
    }
}

/// Where a way home no longer reaches home.
fn no_return(canvas: &mut Canvas, panel: &Panel, planned: &Planned) {
    for back in planned.no_return {
        let Some(distance) = back.distance_m.filter(|d| *d <= panel.x[1]) else { continue };
        let [_, top, _, bottom] = panel.box_px;
        let at = panel.at_x(distance);
        canvas.line(&[[at, top], [at, bottom]], Ink::Ink, 1.0, 1.4);
        let text = format!("no return beyond: {}", planned.policy(back.policy));
        let places: Vec<([f64; 2], At)> = [10.0, 26.0, 42.0, 58.0]
            .iter()
            .flat_map(|d| [([at + 5.0, top + d], At::Left), ([at - 5.0, top + d], At::Right)])
            .collect();
        canvas.chip_where_free(&text, &places, panel.box_px, 10.5, Ink::Ink);
    }
}

fn tinted(canvas: &mut Canvas, at: [f64; 2], ink: Ink, pattern: Pattern, tint: f64) {
    canvas.patterned(&sample_box(at), ink, pattern, tint, 0.7);
    canvas.outline(&sample_box(at), ink, 1.0, 1.0);
}

/// Whether anything on the way takes from the link: else a cut shows a ray through empty air.
pub(super) fn obstructed(section: &Section) -> bool {
    let losses_db = [section.diffraction_db, section.vegetation_db];
    losses_db.iter().any(|loss_db| loss_db.is_finite() && *loss_db >= 0.05)
}

/// A vertical cut from the pilot's antenna to a place on the path, with the first Fresnel zone.
pub fn section(index: usize, section: &Section, look: Look) -> Option<Figure> {
    let (first, last) = (section.points.first()?, section.points.last()?);
    let mut canvas = Canvas::new(&format!("section-{}", index + 1), look);
    let title = format!("Looking sideways along the link: {}", section.title);
    let mut under = format!("Mean margin {} dB.", words::number(section.margin_db, 1));
    if section.diffraction_db.is_finite() {
        let parts: Vec<String> =
            [("terrain and buildings take", section.diffraction_db), ("trees take", section.vegetation_db)]
                .iter()
                .filter(|(_, loss_db)| *loss_db >= 0.05)
                .map(|(what, loss_db)| format!("{what} {} dB", words::number(*loss_db, 1)))
                .collect();
        under += &if parts.is_empty() {
            " Nothing that stands there takes from it.".to_string()
        } else {
            format!(" On the way {}.", parts.join(", "))
        };
    }
    let top = canvas.head(&title, &under);
    const ZONE: &str = "first Fresnel zone: what should be free";
    const RAY: &str = "straight ray";
    const TOPS: &str = "trees and roofs";
    const GROUND: &str = "ground";
    let entries = [
        entry(RAY, |canvas, [x, y]| canvas.line(&[[x - 11.0, y + 3.0], [x + 11.0, y - 3.0]], Ink::Blue, 1.0, 1.6)),
        entry(ZONE, |canvas, at| tinted(canvas, at, Ink::Sky, Pattern::Plain, 0.45)),
        entry(TOPS, |canvas, at| tinted(canvas, at, Ink::Green, Pattern::Dots, 0.55)),
        entry(GROUND, |canvas, at| tinted(canvas, at, Ink::Soft, Pattern::Rising, 0.45)),
    ];
    let y = canvas.legend(top, &entries) + 26.0;
    let margin = canvas.margin();
    let scale = axis::range(
        section.points.iter().flat_map(|p| [p.ground_m, p.surface_m, p.ray_m + p.fresnel_m, p.ray_m - p.fresnel_m]),
        5,
    );
    let mut stack = Stack {
        sides_px: [margin + 40.0, canvas.width_px() - margin - 12.0],
        y,
        height_px: canvas.room(220.0, y, 44.0, 80.0),
        gap_px: 0.0,
        x: [first.distance_m, last.distance_m.max(first.distance_m + 1.0)],
        n_ticks: if look.narrow() { 5 } else { 9 },
    };
    let label = Some("Distance from the pilot's antenna / m");
    let panel = stack.panel(&mut canvas, "Height / m (stretched)", scale, 5, label);
    let line = |f: &dyn Fn(&crate::risk::summary::SectionPoint) -> f64| -> Vec<[f64; 2]> {
        section.points.iter().map(|p| panel.at(p.distance_m, f(p))).collect()
    };
    let close = |mut upper: Vec<[f64; 2]>, lower: Vec<[f64; 2]>| -> Vec<[f64; 2]> {
        upper.extend(lower.into_iter().rev());
        upper
    };
    let floor = line(&|_| scale[0]);
    let zone = close(line(&|p| p.ray_m + p.fresnel_m), line(&|p| p.ray_m - p.fresnel_m));
    canvas.area(&zone, Ink::Sky, 0.45);
    canvas.outline(&zone, Ink::Sky, 1.0, 1.0);
    let tops = close(line(&|p| p.surface_m), line(&|p| p.ground_m));
    canvas.patterned(&tops, Ink::Green, Pattern::Dots, 0.55, 0.9);
    canvas.line(&line(&|p| p.surface_m), Ink::Green, 1.0, 1.4);
    let ground = close(line(&|p| p.ground_m), floor);
    canvas.patterned(&ground, Ink::Soft, Pattern::Rising, 0.45, 0.5);
    canvas.line(&line(&|p| p.ground_m), Ink::Ink, 1.0, 1.4);
    let ray = line(&|p| p.ray_m);
    canvas.keep_off(&ray);
    canvas.line(&ray, Ink::Blue, 1.0, 1.8);
    for words in [ZONE, RAY, TOPS, GROUND] {
        canvas.drew(words);
    }
    if let (Some(a), Some(b)) = (ray.first(), ray.last()) {
        let up = |at: &[f64; 2]| [at[0], at[1] - 12.0];
        canvas.chip_where_free(
            "pilot",
            &[([a[0] + 4.0, a[1] - 14.0], At::Left), ([a[0] + 4.0, a[1] + 14.0], At::Left)],
            panel.box_px,
            10.5,
            Ink::Ink,
        );
        canvas.chip_where_free(
            "craft",
            &[([b[0] - 4.0, b[1] - 14.0], At::Right), ([b[0] - 4.0, b[1] + 14.0], At::Right), (up(b), At::Right)],
            panel.box_px,
            10.5,
            Ink::Ink,
        );
    }
    canvas.height_px = panel.box_px[3] + 44.0;
    let caption = "What reaches into the blue zone weakens the link; what rises above the straight ray weakens it a lot. Climbing or \
                   moving the pilot opens the zone. Heights are stretched against distances.";
    let obstructed =
        section.points.iter().filter(|p| p.surface_m > p.ray_m - p.fresnel_m && p.fresnel_m > 0.05).count();
    let told =
        format!("{under} {} of {} points along the ray have something in the zone.", obstructed, section.points.len());
    Some(canvas.finish(&title, caption, &told))
}
