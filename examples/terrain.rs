//! Writes the invented terrain of the shipped scenarios and of the starters: `cargo run --example terrain` from the project's folder.
//!
//! Every height follows from the formulas below, so that a reader can see what the ground is and change it.

/// A grid file: its name and its text.
pub struct GridFile {
    /// Its place in the project's folder.
    pub name: &'static str,
    /// Text in Esri ASCII format.
    pub text: String,
}

/// Height of the valley's take-off spot and of the quarry's floor above mean sea level: grid files hold heights above
/// that level, as surveyors' files do.
const RIDGE_VALLEY_AMSL_M: f64 = 612.0;
const QUARRY_AMSL_M: f64 = 540.0;
const SPUR_AMSL_M: f64 = 600.0;

/// A valley along x with wooded sides, crossed by a ridge at x = 330 m; heights above the take-off spot at (0, 0).
pub fn ridge_valley_m(x: f64, y: f64, with_ridge: bool) -> f64 {
    // The sides rise by 70 m beyond 200 m from the middle.
    let out = (y.abs() - 200.0).max(0.0) / 160.0;
    let sides = 70.0 * (1.0 - libm::exp(-out * out));
    // The ridge: 62 m high, 150 m wide, a little aslant.
    let across = (x - 330.0 - 0.12 * y) / 75.0;
    let ridge = if with_ridge { 62.0 * libm::exp(-across * across) } else { 0.0 };
    // Where ridge and sides meet they do not add up to a mountain.
    let roll = 1.2 * libm::sin(x / 47.0) * libm::cos(y / 61.0) * (1.0 - libm::exp(-(x * x + y * y) / 6400.0));
    sides + ridge * (1.0 - sides / 140.0) + roll
}

/// A round pit 48 m deep in a plain: floor to 55 m from its middle, rim at 95 m, two benches on the way.
pub fn quarry_m(x: f64, y: f64) -> f64 {
    let from_middle = (x * x + y * y).sqrt();
    let share = ((from_middle - 55.0) / 40.0).clamp(0.0, 1.0);
    // Three walls with benches between them.
    let steps = share * 3.0;
    let wall = |start: f64| ((steps - start) / 0.6).clamp(0.0, 1.0);
    16.0 * (wall(0.0) + wall(1.0) + wall(2.0))
}

/// A valley along x whose northern side sends a spur across half of it at x = 300 m.
pub fn spur_m(x: f64, y: f64) -> f64 {
    let out = (y.abs() - 150.0).max(0.0) / 150.0;
    let sides = 75.0 * (1.0 - libm::exp(-out * out));
    let across = (x - 300.0) / 60.0;
    // From its foot at y = -40 m it rises to its crest at y = 130 m.
    let along = ((y + 40.0) / 170.0).clamp(0.0, 1.0);
    let spur = 70.0 * libm::exp(-across * across) * along * along * (3.0 - 2.0 * along);
    sides.max(spur)
}

fn grid(
    name: &'static str,
    west: i32,
    south: i32,
    cell: i32,
    columns: i32,
    rows: i32,
    height: impl Fn(f64, f64) -> f64,
) -> GridFile {
    let mut text = format!(
        "ncols {columns}\nnrows {rows}\nxllcenter {west}\nyllcenter {south}\ncellsize {cell}\nNODATA_value -9999\n"
    );
    for row in (0..rows).rev() {
        let line: Vec<String> = (0..columns)
            .map(|column| {
                let metres = height(f64::from(west + column * cell), f64::from(south + row * cell));
                // No negative zero.
                format!("{:.1}", (metres * 10.0).round() / 10.0 + 0.0)
            })
            .collect();
        text += &line.join(" ");
        text.push('\n');
    }
    GridFile { name, text }
}

/// All grid files.
pub fn all() -> Vec<GridFile> {
    vec![
        grid("scenarios/ridge-valley.asc", -500, -600, 20, 81, 61, |x, y| {
            RIDGE_VALLEY_AMSL_M + ridge_valley_m(x, y, true)
        }),
        grid("scenarios/ridge-valley-without-ridge.asc", -500, -600, 20, 81, 61, |x, y| {
            RIDGE_VALLEY_AMSL_M + ridge_valley_m(x, y, false)
        }),
        grid("scenarios/quarry.asc", -400, -400, 10, 81, 81, |x, y| QUARRY_AMSL_M + quarry_m(x, y)),
        grid("starters/valley.asc", -320, -420, 20, 63, 43, |x, y| SPUR_AMSL_M + spur_m(x, y)),
    ]
}

#[allow(dead_code, reason = "the tests use the functions above only")]
fn main() -> std::io::Result<()> {
    for file in all() {
        std::fs::write(file.name, file.text)?;
    }
    Ok(())
}
