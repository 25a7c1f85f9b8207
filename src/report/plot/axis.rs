//! Scales, ticks and panels.

use super::canvas::{At, Canvas};
use super::font::Weight;
use super::theme::{Ink, Pattern};
use crate::report::words;

/// Size of tick labels.
pub const TICK: f64 = 11.0;

/// A rectangle of the figure with a scale on either axis.
#[derive(Debug, Clone, Copy)]
pub struct Panel {
    /// Left, top, right, bottom.
    pub box_px: [f64; 4],
    /// From, to on the x axis.
    pub x: [f64; 2],
    /// From, to on the y axis.
    pub y: [f64; 2],
}

impl Panel {
    /// Place of a value across.
    pub fn at_x(&self, value: f64) -> f64 {
        self.box_px[0] + (value - self.x[0]) / (self.x[1] - self.x[0]) * (self.box_px[2] - self.box_px[0])
    }

    /// Place of a value upwards.
    pub fn at_y(&self, value: f64) -> f64 {
        self.box_px[3] - (value - self.y[0]) / (self.y[1] - self.y[0]) * (self.box_px[3] - self.box_px[1])
    }

    /// Place of both.
    pub fn at(&self, x: f64, y: f64) -> [f64; 2] {
        [self.at_x(x), self.at_y(y)]
    }

    /// Width in px.
    pub fn width_px(&self) -> f64 {
        self.box_px[2] - self.box_px[0]
    }

    /// Grid lines and labels of the y axis.
    pub fn y_axis(&self, canvas: &mut Canvas, n_ticks: usize) {
        let [left, top, right, bottom] = self.box_px;
        let ticks = ticks(self.y[0], self.y[1], n_ticks);
        for &tick in &ticks.values {
            let y = self.at_y(tick);
            canvas.line(&[[left, y], [right, y]], Ink::Grid, 1.0, 0.8);
            canvas.text(&ticks.label(tick), [left - 6.0, y], At::Right, TICK, Weight::Regular, Ink::Ink);
        }
        canvas.line(&[[left, top], [left, bottom]], Ink::Soft, 1.0, 1.0);
    }

    /// Grid lines of the x axis, its labels when `label` is given, and its name below.
    pub fn x_axis(&self, canvas: &mut Canvas, n_ticks: usize, label: Option<&str>) {
        let [left, top, right, bottom] = self.box_px;
        let ticks = ticks(self.x[0], self.x[1], n_ticks);
        let mut last = f64::NEG_INFINITY;
        for &tick in &ticks.values {
            let x = self.at_x(tick);
            canvas.line(&[[x, top], [x, bottom]], Ink::Grid, 1.0, 0.8);
            if label.is_some() {
                canvas.line(&[[x, bottom], [x, bottom + 4.0]], Ink::Soft, 1.0, 1.0);
                let text = ticks.label(tick);
                let b = canvas.box_of(&text, [x, bottom + 12.0], At::Middle, TICK, Weight::Regular);
                if b[0] > last + 3.0 && b[2] <= canvas.width_px() {
                    canvas.text(&text, [x, bottom + 12.0], At::Middle, TICK, Weight::Regular, Ink::Ink);
                    last = b[2];
                }
            }
        }
        canvas.line(&[[left, bottom], [right, bottom]], Ink::Soft, 1.0, 1.0);
        if let Some(label) = label {
            canvas.text_inside(label, [(left + right) / 2.0, bottom + 30.0], 12.0, Weight::Regular, Ink::Ink);
        }
    }

    /// A curve, thinned to what the panel can show and broken where a value is not finite.
    pub fn curve(&self, canvas: &mut Canvas, points: impl Iterator<Item = [f64; 2]>, ink: Ink, width: f64) {
        for piece in self.pieces(points) {
            canvas.line(&piece, ink, 1.0, width);
            canvas.keep_off(&piece);
        }
    }

    /// A dashed curve.
    pub fn dashed_curve(&self, canvas: &mut Canvas, points: impl Iterator<Item = [f64; 2]>, ink: Ink) {
        for piece in self.pieces(points) {
            canvas.dashed(&piece, ink, 1.0, 1.8, 5.0, 3.0);
            canvas.keep_off(&piece);
        }
    }

    /// What stands below a flight: hatched down to the bottom of the panel.
    pub fn surface(&self, canvas: &mut Canvas, points: impl Iterator<Item = [f64; 2]>) {
        for piece in self.pieces(points) {
            let mut shape = piece.clone();
            shape.push([piece[piece.len() - 1][0], self.box_px[3]]);
            shape.push([piece[0][0], self.box_px[3]]);
            canvas.patterned(&shape, Ink::Soft, Pattern::Rising, 0.25, 0.5);
            canvas.line(&piece, Ink::Soft, 1.0, 1.2);
            canvas.keep_off(&piece);
        }
    }

    /// A name beside a curve, at the first free place near it.
    pub fn name_curve(&self, canvas: &mut Canvas, points: &[[f64; 2]], words: &str) {
        let finite: Vec<&[f64; 2]> = points.iter().filter(|p| p[1].is_finite()).collect();
        let mut places = Vec::new();
        for f in [0.12, 0.3, 0.5, 0.7, 0.88, 0.04, 0.96] {
            if let Some(p) = finite.get((finite.len() as f64 * f) as usize) {
                let at = self.at(p[0], p[1]);
                places.extend([-11.0, 11.0, -22.0, 22.0].map(|d| ([at[0], at[1] + d], At::Middle)));
            }
        }
        if canvas.chip_where_free(words, &places, self.box_px, 10.5, Ink::Ink) {
            canvas.explained(words);
        }
    }

    /// The pieces of a curve in px: per half px at most the first, least, greatest and last value.
    pub fn pieces(&self, points: impl Iterator<Item = [f64; 2]>) -> Vec<Vec<[f64; 2]>> {
        let mut pieces: Vec<Vec<[f64; 2]>> = Vec::new();
        let mut piece: Vec<[f64; 2]> = Vec::new();
        let mut column: Vec<[f64; 2]> = Vec::new();
        let flush = |column: &mut Vec<[f64; 2]>, piece: &mut Vec<[f64; 2]>| {
            if column.len() <= 4 {
                piece.append(column);
                return;
            }
            let by = |a: &(usize, &[f64; 2]), b: &(usize, &[f64; 2])| a.1[1].total_cmp(&b.1[1]);
            let least = column.iter().enumerate().min_by(by).map_or(0, |found| found.0);
            let most = column.iter().enumerate().max_by(by).map_or(0, |found| found.0);
            let mut kept = vec![0, least, most, column.len() - 1];
            kept.sort_unstable();
            kept.dedup();
            piece.extend(kept.into_iter().map(|index| column[index]));
            column.clear();
        };
        for [x, y] in points {
            if !x.is_finite() || !y.is_finite() {
                flush(&mut column, &mut piece);
                pieces.push(std::mem::take(&mut piece));
                continue;
            }
            let place = self.at(x, y);
            if column.first().is_some_and(|first| (place[0] - first[0]).abs() > 0.5) {
                flush(&mut column, &mut piece);
            }
            column.push(place);
        }
        flush(&mut column, &mut piece);
        pieces.push(piece);
        pieces.retain(|piece| piece.len() > 1);
        pieces
    }
}

/// Panels below each other over one axis, each under its name, so that figures stay wide.
#[derive(Debug, Clone, Copy)]
pub struct Stack {
    /// Left and right.
    pub sides_px: [f64; 2],
    /// Top of the next panel.
    pub y: f64,
    /// Height of a panel, and what stands between two.
    pub height_px: f64,
    /// Room between two panels.
    pub gap_px: f64,
    /// From, to on the x axis.
    pub x: [f64; 2],
    /// About how many ticks it has.
    pub n_ticks: usize,
}

impl Stack {
    /// The next panel with its grid; `label` names the axis under the last.
    pub fn panel(
        &mut self,
        canvas: &mut Canvas,
        name: &str,
        scale: [f64; 2],
        n_ticks: usize,
        label: Option<&str>,
    ) -> Panel {
        let panel = self.bare(canvas, name, scale);
        panel.x_axis(canvas, self.n_ticks, label);
        panel.y_axis(canvas, n_ticks);
        panel
    }

    /// The next panel with its name alone.
    pub fn bare(&mut self, canvas: &mut Canvas, name: &str, scale: [f64; 2]) -> Panel {
        let [left, right] = self.sides_px;
        let panel = Panel { box_px: [left, self.y, right, self.y + self.height_px], x: self.x, y: scale };
        canvas.text(name, [left, self.y - 13.0], At::Left, 12.0, Weight::Bold, Ink::Ink);
        self.y += self.height_px + self.gap_px;
        panel
    }
}

/// Round values on an axis.
#[derive(Debug, Clone, PartialEq)]
pub struct Ticks {
    /// The values.
    pub values: Vec<f64>,
    /// Decimals they need.
    pub decimals: usize,
}

impl Ticks {
    /// Label of one of them.
    pub fn label(&self, value: f64) -> String {
        words::number(value, self.decimals)
    }
}

/// About `n` round values (1, 2 or 5 times a power of ten apart) between two ends.
pub fn ticks(from: f64, to: f64, n: usize) -> Ticks {
    let span = to - from;
    if span <= 0.0 || !span.is_finite() {
        return Ticks { values: vec![from], decimals: 0 };
    }
    let rough = span / n.max(1) as f64;
    let power = 10f64.powi(libm::floor(libm::log10(rough)) as i32);
    let step = [1.0, 2.0, 5.0, 10.0].into_iter().map(|m| m * power).find(|s| *s >= rough * 0.999).unwrap_or(power);
    let decimals = (-libm::floor(libm::log10(step) + 1e-9)).max(0.0) as usize;
    let (first, last) = ((from / step - 1e-6).ceil() as i64, (to / step + 1e-6).floor() as i64);
    Ticks { values: (first..=last).map(|k| k as f64 * step).collect(), decimals }
}

/// Ends of an axis that hold all values, rounded outwards to ticks, never empty.
pub fn range(values: impl Iterator<Item = f64>, n_ticks: usize) -> [f64; 2] {
    let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
    for value in values.filter(|value| value.is_finite()) {
        low = low.min(value);
        high = high.max(value);
    }
    if low > high {
        return [0.0, 1.0];
    }
    if high - low < 1e-9 * high.abs().max(1e-3) {
        high += (high.abs() * 0.1).max(1e-3);
        low -= (low.abs() * 0.1).min(low.abs());
    }
    let t = ticks(low, high, n_ticks);
    let step = if t.values.len() > 1 { t.values[1] - t.values[0] } else { high - low };
    [(low / step + 1e-9).floor() * step, (high / step - 1e-9).ceil() * step]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_are_round_and_inside() {
        assert_eq!(ticks(0.0, 1.0, 5).values, vec![0.0, 0.2, 0.4, 0.6000000000000001, 0.8, 1.0]);
        assert_eq!(ticks(-37.0, 212.0, 5).values, vec![0.0, 50.0, 100.0, 150.0, 200.0]);
        assert_eq!(ticks(0.0, 0.03, 3).decimals, 2);
        assert_eq!(range([3.0, 97.0].into_iter(), 5), [0.0, 100.0]);
        let empty = range(std::iter::empty(), 5);
        assert!(empty[0] < empty[1]);
        let flat = range([5.0].into_iter(), 4);
        assert!(flat[0] <= 5.0 && flat[1] > flat[0]);
    }

    #[test]
    fn thinning_keeps_the_extremes() {
        let panel = Panel { box_px: [0.0, 0.0, 100.0, 100.0], x: [0.0, 1.0], y: [0.0, 1.0] };
        let wave = (0..10_000).map(|k| [k as f64 / 10_000.0, if k == 5_003 { 1.0 } else { 0.2 }]);
        let pieces = panel.pieces(wave);
        assert_eq!(pieces.len(), 1);
        assert!(pieces[0].len() < 900);
        assert!(pieces[0].iter().any(|p| p[1] == 0.0));
        let broken = panel.pieces((0..100).map(|k| [k as f64 / 100.0, if k == 50 { f64::NAN } else { 0.5 }]));
        assert_eq!(broken.len(), 2);
    }
}
