//! Link, sky and charge along the path; a vertical cut of the link.

use super::axis::{self, Panel};
use super::canvas::{At, Canvas, Entry, Figure, Look};
use super::font::Weight;
use super::theme::{Ink, Pattern};
use crate::report::words;
use crate::risk::summary::{AlongPath, Section, Summary};

const SURFACE: &str = "ground, trees, roofs below";

/// What is expected along the path: height, margin, satellites, HDOP, charge.
pub fn along(summary: &Summary, look: Look) -> Option<Figure> {
    let rows = &summary.along;
    let last = rows.last().filter(|_| rows.len() > 1)?;
    let mut canvas = Canvas::new("along", look);
    let title = "Link, sky and charge expected along the path";
    let top = canvas.head(title, "Means without luck: no fading, no gusts; interference as its mean over time.");
    let margin = canvas.margin();
    let (left, right) = (margin + 40.0, canvas.width_px() - margin - 10.0);
    let x = [0.0, last.distance_m.max(1.0)];
    let mut y = top + 20.0;
    let points =
        |f: &dyn Fn(&AlongPath) -> f64| -> Vec<[f64; 2]> { rows.iter().map(|row| [row.distance_m, f(row)]).collect() };
    let panel =
        |canvas: &mut Canvas, y: &mut f64, name: &str, scale: [f64; 2], n: usize, label: Option<&str>| -> Panel {
            let height = 84.0;
            let panel = Panel { box_px: [left, *y, right, *y + height], x, y: scale };
            canvas.text(name, [left, *y - 13.0], At::Left, 12.0, Weight::Bold, Ink::Ink);
            panel.x_axis(canvas, if canvas.look.narrow() { 5 } else { 9 }, label);
            panel.y_axis(canvas, n);
            *y += height + 36.0;
            panel
        };
    let heights = points(&|row| row.place_m[2]);
    let surface = points(&|row| row.surface_m);
    let scale = axis::range(heights.iter().chain(&surface).map(|p| p[1]).chain([0.0]), 3);
    let p = panel(&mut canvas, &mut y, "Height above home / m", scale, 3, None);
    for piece in p.pieces(surface.iter().copied()) {
        let mut shape = piece.clone();
        shape.push([piece[piece.len() - 1][0], p.box_px[3]]);
        shape.push([piece[0][0], p.box_px[3]]);
        canvas.patterned(&shape, Ink::Soft, Pattern::Rising, 0.25, 0.5);
        canvas.line(&piece, Ink::Soft, 1.0, 1.2);
        canvas.keep_off(&piece);
    }
    p.curve(&mut canvas, heights.iter().copied(), Ink::Blue, 1.8);
    beside(&mut canvas, &p, &heights, "path", Ink::Ink);
    beside(&mut canvas, &p, &surface, SURFACE, Ink::Ink);

    let margins = points(&|row| row.margin_db);
    let scale = axis::range(margins.iter().map(|p| p[1]).chain([0.0]), 3);
    let p = panel(&mut canvas, &mut y, "Mean margin of the control link / dB", scale, 3, None);
    // Where it is below 10 dB ordinary fading takes it away.
    let thin: Vec<[f64; 2]> = margins.iter().map(|m| [m[0], if m[1] < 10.0 { m[1] } else { f64::NAN }]).collect();
    p.curve(&mut canvas, margins.iter().copied(), Ink::Blue, 1.6);
    p.curve(&mut canvas, thin.into_iter(), Ink::Vermilion, 3.2);
    for (value, words) in [(10.0, "10 dB: below it ordinary fading can silence the link"), (0.0, "needed")] {
        let at = p.at_y(value);
        if at > p.box_px[1] && at < p.box_px[3] + 0.1 {
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
            canvas.chip_where_free(words, &places, p.box_px, 10.5, Ink::Ink);
        }
    }

    let most = rows.iter().map(|row| f64::from(row.satellites)).fold(8.0, f64::max);
    let p =
        panel(&mut canvas, &mut y, "Satellites in view", [0.0, axis::range([0.0, most].into_iter(), 3)[1]], 3, None);
    p.curve(&mut canvas, points(&|row| f64::from(row.satellites)).into_iter(), Ink::Green, 1.8);
    let p = panel(&mut canvas, &mut y, "HDOP (gap: no fix; above 4 not drawn)", [0.0, 4.0], 2, None);
    p.curve(&mut canvas, points(&|row| if row.hdop > 4.0 { f64::NAN } else { row.hdop }).into_iter(), Ink::Green, 1.8);

    let p = panel(&mut canvas, &mut y, "Charge / %", [0.0, 100.0], 2, Some("Distance flown / m"));
    let (charge, home) = (
        points(&|row| row.charge_pct),
        points(&|row| if row.charge_home_pct.is_finite() { row.charge_home_pct.min(100.0) } else { f64::NAN }),
    );
    p.curve(&mut canvas, charge.iter().copied(), Ink::Blue, 1.8);
    for piece in p.pieces(home.iter().copied()) {
        canvas.dashed(&piece, Ink::Vermilion, 1.0, 1.8, 5.0, 3.0);
        canvas.keep_off(&piece);
    }
    for back in &summary.no_return {
        if let Some(at) = back.distance_m.filter(|d| *d <= x[1]) {
            let at = p.at_x(at);
            canvas.line(&[[at, p.box_px[1]], [at, p.box_px[3]]], Ink::Ink, 1.0, 1.4);
            let name = summary.policies.get(back.policy).map_or("", |policy| policy.name.as_str());
            let text = format!("no return beyond: {name}");
            let places: Vec<([f64; 2], At)> = [10.0, 26.0, 42.0, 58.0]
                .iter()
                .flat_map(|d| [([at + 5.0, p.box_px[1] + d], At::Left), ([at - 5.0, p.box_px[1] + d], At::Right)])
                .collect();
            canvas.chip_where_free(&text, &places, p.box_px, 10.5, Ink::Ink);
        }
    }
    beside(&mut canvas, &p, &charge, "in the pack", Ink::Ink);
    beside(&mut canvas, &p, &home, "needed to come home", Ink::Ink);
    canvas.height_px = y + 14.0;
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

fn beside(canvas: &mut Canvas, panel: &Panel, points: &[[f64; 2]], words: &str, ink: Ink) {
    let finite: Vec<&[f64; 2]> = points.iter().filter(|p| p[1].is_finite()).collect();
    let mut places = Vec::new();
    for f in [0.12, 0.3, 0.5, 0.7, 0.88, 0.03, 0.97] {
        if let Some(p) = finite.get((finite.len() as f64 * f) as usize) {
            let at = panel.at(p[0], p[1]);
            for d in [-11.0, 11.0, -22.0, 22.0] {
                places.push(([at[0], at[1] + d], At::Middle));
            }
        }
    }
    if canvas.chip_where_free(words, &places, panel.box_px, 10.5, ink) {
        canvas.explained(words);
    }
}

fn tinted(canvas: &mut Canvas, at: [f64; 2], ink: Ink, pattern: Pattern, tint: f64) {
    let corners = Canvas::corners(at[0] - 11.0, at[1] - 6.0, at[0] + 11.0, at[1] + 6.0);
    canvas.patterned(&corners, ink, pattern, tint, 0.7);
    canvas.outline(&corners, ink, 1.0, 1.0);
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
    let entries: Vec<Entry> = vec![
        (
            RAY.into(),
            Box::new(|canvas, at| {
                canvas.line(&[[at[0] - 11.0, at[1] + 3.0], [at[0] + 11.0, at[1] - 3.0]], Ink::Blue, 1.0, 1.6);
            }),
        ),
        (ZONE.into(), Box::new(|canvas, at| tinted(canvas, at, Ink::Sky, Pattern::Plain, 0.45))),
        (TOPS.into(), Box::new(|canvas, at| tinted(canvas, at, Ink::Green, Pattern::Dots, 0.55))),
        (GROUND.into(), Box::new(|canvas, at| tinted(canvas, at, Ink::Soft, Pattern::Rising, 0.45))),
    ];
    let y = canvas.legend(top, &entries) + 26.0;
    let margin = canvas.margin();
    let scale = axis::range(
        section.points.iter().flat_map(|p| [p.ground_m, p.surface_m, p.ray_m + p.fresnel_m, p.ray_m - p.fresnel_m]),
        5,
    );
    let panel = Panel {
        box_px: [margin + 40.0, y, canvas.width_px() - margin - 12.0, y + 220.0],
        x: [first.distance_m, last.distance_m.max(first.distance_m + 1.0)],
        y: scale,
    };
    canvas.text("Height / m (stretched)", [margin + 40.0, y - 13.0], At::Left, 12.0, Weight::Bold, Ink::Ink);
    panel.x_axis(&mut canvas, if look.narrow() { 5 } else { 9 }, Some("Distance from the pilot's antenna / m"));
    panel.y_axis(&mut canvas, 5);
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
