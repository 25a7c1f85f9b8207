//! The wind by height and by the hour, from tables.

use super::hours::TimeOfDay;
use super::sink::FileFault;
use crate::air::wind::{Series, WindAt};
use crate::geodata::table::{self, Column, Kind};

/// Winds stronger than this are none in which anything small flies. Estimate.
const SPEED_AT_MOST_MPS: f64 = 60.0;

const SPEED: Column = Column { name: "speed_mps", kind: Kind::Number(0.0, SPEED_AT_MOST_MPS) };
const DIRECTION: Column = Column { name: "direction_deg", kind: Kind::Number(0.0, 360.0) };

fn rising(rows: &[WindAt], lines: &[usize], name: &str) -> Result<(), FileFault> {
    match rows.windows(2).position(|pair| pair[1].at <= pair[0].at) {
        None => Ok(()),
        Some(index) => Err(FileFault {
            line: Some(lines[index + 1]),
            key: name.into(),
            found: format!("{} after {}", rows[index + 1].at, rows[index].at),
            accepted: "rows in rising order, none of them twice".into(),
        }),
    }
}

/// Winds at rising heights above the ground.
pub(super) fn read_profile(text: &str) -> Result<Vec<WindAt>, FileFault> {
    let columns = [Column { name: "height_m", kind: Kind::Number(0.5, 3000.0) }, SPEED, DIRECTION];
    let rows = table::read(text, &columns, &[&["height_m"], &["speed_mps"], &["direction_deg"]])?;
    let lines: Vec<usize> = rows.iter().map(|row| row.line).collect();
    let winds: Vec<WindAt> =
        rows.iter().map(|row| WindAt::new(row.numbers[0], row.numbers[1], row.numbers[2])).collect();
    rising(&winds, &lines, "height_m")?;
    Ok(winds)
}

/// Winds at rising hours of the day.
pub(super) fn read_series(text: &str) -> Result<Series, FileFault> {
    let time = Kind::Read(
        |text| TimeOfDay::parse(text).map(TimeOfDay::hour_utc),
        "a time of day with its offset from UTC, such as 10:00+02:00 or 08:00Z",
    );
    let columns = [
        Column { name: "hour_utc", kind: Kind::Number(0.0, 24.0) },
        Column { name: "time", kind: time },
        SPEED,
        DIRECTION,
    ];
    let rows = table::read(text, &columns, &[&["hour_utc", "time"], &["speed_mps"], &["direction_deg"]])?;
    let lines: Vec<usize> = rows.iter().map(|row| row.line).collect();
    let by_time = rows[0].numbers[0].is_nan();
    let at = |numbers: &[f64; 4]| if by_time { numbers[1] } else { numbers[0] };
    let mut winds: Vec<(WindAt, usize)> = rows
        .iter()
        .zip(lines)
        .map(|(row, line)| (WindAt::new(at(&row.numbers), row.numbers[2], row.numbers[3]), line))
        .collect();
    if by_time {
        // A day that begins elsewhere may begin in the middle of this one: the rows may turn over once.
        let turns = winds.windows(2).position(|pair| pair[1].0.at < pair[0].0.at).map_or(0, |index| index + 1);
        if turns > 0 && winds[winds.len() - 1].0.at < winds[0].0.at {
            winds.rotate_left(turns);
        }
    }
    let (winds, lines): (Vec<WindAt>, Vec<usize>) = winds.into_iter().unzip();
    rising(&winds, &lines, if by_time { "time" } else { "hour_utc" })?;
    Ok(Series::new(winds))
}
