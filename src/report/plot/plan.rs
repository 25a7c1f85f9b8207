//! The site from above with nothing flown, for pages that draw upon it.

use super::canvas::{Canvas, Look};
use super::loss::{Scale, Scaled, ground_legend};
use super::map::{self, Frame};
use super::theme::Ink;
use crate::risk::summary::SiteMap;

/// Path and site in a frame that does not depend on what is flown. Without the wind: it is another in every flight.
pub fn plan(map: &SiteMap, look: Look) -> Scaled {
    let mut canvas = Canvas::new("plan", look);
    let view_m = map::view(map, &[]);
    let [left, right] = [canvas.margin() + 36.0, canvas.width_px() - canvas.margin() - 4.0];
    let high = (view_m[3] - view_m[1]) / (view_m[2] - view_m[0]);
    let at = |top: f64| Frame { box_px: [left, top, right, top + (right - left) * high], view_m };
    map::scale_and_north(&mut canvas, &at(0.0), 16.0);
    let frame = at(36.0);
    canvas.clip(frame.box_px);
    map::ground(&mut canvas, &frame, map);
    map::place_marks(&mut canvas, &frame, map);
    canvas.unclip();
    let [x0, y0, x1, y1] = frame.box_px;
    canvas.outline(&Canvas::corners(x0, y0, x1, y1), Ink::Soft, 1.0, 1.0);
    map::names(&mut canvas, &frame, map);
    map::ticks(&mut canvas, &frame, true, true);
    let y = y1 + 30.0;
    map::axes_words(&mut canvas, [look.width_px / 2.0, y]);
    let entries = ground_legend(&mut canvas, map, view_m);
    canvas.height_px = canvas.legend(y + 10.0, &entries) + 4.0;
    let words = format!(
        "The site from above, {:.0} m by {:.0} m, with the planned path.",
        view_m[2] - view_m[0],
        view_m[3] - view_m[1]
    );
    let figure = canvas.finish("The site from above", "", &words);
    let [w, s, e, n] = view_m;
    let scale = Scale { key: "plan".into(), box_px: frame.box_px, x: [w, e], y: [s, n] };
    Scaled { figure, scales: vec![scale] }
}
