//! A trace as CSV: a row per moment, every column with its unit.

use crate::flight::{LossBudget, Trace, TraceRow};
use std::io::Write;

/// Names of the columns, in order.
pub const COLUMNS: [&str; 41] = [
    "flight",
    "policy",
    "time_s",
    "after_loss_s",
    "doing",
    "x_m",
    "y_m",
    "z_m",
    "height_m",
    "surface_m",
    "speed_mps",
    "climb_mps",
    "believed_x_m",
    "believed_y_m",
    "believed_height_m",
    "stored_home_x_m",
    "stored_home_y_m",
    "heading_error_deg",
    "fix_error_m",
    "satellites",
    "hdop",
    "quality_pct",
    "margin_db",
    "telemetry_up",
    "video_up",
    "charge_pct",
    "charge_home_pct",
    "cell_v",
    "wind_mps",
    "wind_to_east_mps",
    "wind_to_north_mps",
    "people_m",
    "inside",
    "distance_db",
    "diffraction_db",
    "vegetation_db",
    "reflection_db",
    "antennas_db",
    "body_db",
    "shadowing_and_fading_db",
    "interference_db",
];

/// Writes a trace; what is not there is empty.
///
/// # Errors
/// Those of the writer.
pub fn write(trace: &Trace, out: impl Write) -> Result<(), csv::Error> {
    let mut writer = csv::Writer::from_writer(out);
    writer.write_record(COLUMNS)?;
    for row in &trace.rows {
        writer.write_record(record(trace, row))?;
    }
    writer.flush()?;
    Ok(())
}

fn record(trace: &Trace, row: &TraceRow) -> Vec<String> {
    let fixed =
        |value: f64, decimals: usize| if value.is_finite() { format!("{value:.decimals$}") } else { String::new() };
    let flag = |yes: bool| u8::from(yes).to_string();
    let b: &LossBudget = &row.budget;
    let mut cells = vec![
        trace.flight.to_string(),
        trace.policy.clone(),
        fixed(row.time_s, 3),
        trace.lost_at_s.map_or(String::new(), |lost_s| fixed(row.time_s - lost_s, 3)),
        row.doing.label().into(),
    ];
    cells.extend(row.place_m.map(|x| fixed(x, 2)));
    cells.extend([row.height_m, row.surface_m, row.speed_mps, row.climb_mps].map(|x| fixed(x, 2)));
    cells.extend([row.believed_m[0], row.believed_m[1], row.believed_height_m].map(|x| fixed(x, 2)));
    cells.extend(row.stored_home_m.map(|x| fixed(x, 2)));
    cells.extend([fixed(row.heading_error_deg, 1), fixed(row.fix_error_m, 2), row.satellites.to_string()]);
    cells.extend([fixed(row.hdop, 2), fixed(row.quality_pct, 1), fixed(row.margin_db, 1)]);
    cells.extend([flag(row.telemetry_up), flag(row.video_up)]);
    cells.extend([fixed(row.charge_pct, 2), fixed(row.charge_home_pct, 2), fixed(row.cell_v, 3)]);
    cells.extend([row.wind_mps, row.wind_to_mps[0], row.wind_to_mps[1], row.people_m].map(|x| fixed(x, 2)));
    cells.push(flag(row.inside));
    let terms = [
        b.distance_db,
        b.diffraction_db,
        b.vegetation_db,
        b.reflection_db,
        b.pattern_db + b.polarisation_db,
        b.body_db,
        b.shadowing_db + b.fading_db,
        b.interference_db,
    ];
    cells.extend(terms.map(|x| fixed(x, 1)));
    cells
}
