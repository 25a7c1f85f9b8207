//! RINEX 3 navigation files.

use super::System;
use super::broadcast::{Elements, Ephemeris};
use super::time::GpsTime;

/// What a navigation file holds for us.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Navigation {
    /// Usable records in file order, one per satellite and reference time.
    pub ephemerides: Vec<Ephemeris>,
    /// What was passed over.
    pub skipped: Skipped,
}

/// Records passed over, by reason.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Skipped {
    /// GLONASS and SBAS state vectors, which need an integration.
    pub state_vectors: usize,
    /// Regional and other systems.
    pub other_systems: usize,
    /// Geostationary BeiDou satellites, whose elements are in a turned frame.
    pub geostationary: usize,
    /// Second copies of the same satellite and reference time (Galileo sends two messages).
    pub duplicates: usize,
    /// Satellites that call themselves unhealthy.
    pub unhealthy: usize,
}

impl std::fmt::Display for Skipped {
    fn fmt(&self, f: &mut std::fmt::Formatter) -> std::fmt::Result {
        let parts: Vec<String> = [
            (self.state_vectors, "GLONASS or SBAS state vectors"),
            (self.other_systems, "records of other systems"),
            (self.geostationary, "geostationary BeiDou records"),
            (self.duplicates, "second copies"),
            (self.unhealthy, "records of unhealthy satellites"),
        ]
        .iter()
        .filter(|(count, _)| *count > 0)
        .map(|(count, what)| format!("{count} {what}"))
        .collect();
        if parts.is_empty() { f.write_str("nothing") } else { f.write_str(&parts.join(", ")) }
    }
}

/// Why a navigation file is refused.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum NavigationError {
    /// Not RINEX 3 navigation.
    #[error("line {line}: this is no RINEX 3 navigation file: {why}")]
    Kind {
        /// Line, counted from 1.
        line: usize,
        /// What is wrong.
        why: String,
    },
    /// A number that cannot be read.
    #[error("line {line}, columns {from}-{to}: `{found}` is not a number")]
    Number {
        /// Line, counted from 1.
        line: usize,
        /// First column, counted from 1.
        from: usize,
        /// Last column.
        to: usize,
        /// What stands there.
        found: String,
    },
    /// A value that no satellite has.
    #[error("line {line}: {what} = {value} is not possible")]
    Range {
        /// Line of the record, counted from 1.
        line: usize,
        /// Quantity.
        what: &'static str,
        /// Value.
        value: f64,
    },
    /// The file ends within a record.
    #[error("line {line}: the record that starts here is cut off")]
    Short {
        /// Line of the record, counted from 1.
        line: usize,
    },
    /// No usable record.
    #[error("no usable satellite in the file (passed over: {0})")]
    Empty(Skipped),
}

/// Reads a RINEX 3 navigation file (versions 3.00 to 3.05): GPS, Galileo and BeiDou records; the others are counted.
///
/// # Errors
/// The first thing that cannot be read, with its line.
///
/// # Source
/// RINEX 3.05 (IGS/RTCM, December 2020), appendix tables A5 to A18: first line of a record 4X/23 columns then 19-column
/// fields, following lines four blanks and 19-column fields, exponents with `D` or `E`.
pub fn read_navigation(text: &str) -> Result<Navigation, NavigationError> {
    let lines: Vec<&str> = text.lines().map(|line| line.trim_end_matches('\r')).collect();
    let mut navigation = Navigation::default();
    let mut at = header(&lines)?;
    while at < lines.len() {
        let line = lines[at];
        if line.trim().is_empty() {
            at += 1;
            continue;
        }
        let kind = line.as_bytes()[0];
        // Number of lines that follow the first, by system.
        let more = match kind {
            b'G' | b'E' | b'C' | b'J' | b'I' => 7,
            b'R' | b'S' => glonass_lines(&lines, at),
            _ => {
                return Err(NavigationError::Kind {
                    line: at + 1,
                    why: format!("a record should start here, found `{}`", line.chars().take(23).collect::<String>()),
                });
            }
        };
        let end = at + 1 + more;
        if end > lines.len() || lines[at + 1..end].iter().any(|next| !next.starts_with(' ')) {
            return Err(NavigationError::Short { line: at + 1 });
        }
        match kind {
            b'G' => record(System::Gps, &lines, at, &mut navigation)?,
            b'E' => record(System::Galileo, &lines, at, &mut navigation)?,
            b'C' => record(System::Beidou, &lines, at, &mut navigation)?,
            b'R' | b'S' => navigation.skipped.state_vectors += 1,
            _ => navigation.skipped.other_systems += 1,
        }
        at = end;
    }
    if navigation.ephemerides.is_empty() {
        return Err(NavigationError::Empty(navigation.skipped));
    }
    Ok(navigation)
}

/// State vectors have three lines after the first, and from version 3.05 on GLONASS has four.
fn glonass_lines(lines: &[&str], at: usize) -> usize {
    lines[at + 1..].iter().take(4).take_while(|line| line.starts_with("    ")).count().max(3)
}

/// Checks the header and tells how many lines it has.
fn header(lines: &[&str]) -> Result<usize, NavigationError> {
    let kind = |line: usize, why: &str| NavigationError::Kind { line, why: why.to_string() };
    let first = lines.first().copied().unwrap_or("");
    if !label(first).starts_with("RINEX VERSION / TYPE") {
        return Err(kind(1, "the first line is no RINEX header"));
    }
    let version: f64 = columns(first, 0, 9).trim().parse().map_err(|_| kind(1, "no version number"))?;
    if !(3.0..4.0).contains(&version) {
        return Err(kind(1, &format!("version {version}, only 3 is read")));
    }
    if columns(first, 20, 21) != "N" {
        return Err(kind(1, &format!("file type `{}`, not `N`", columns(first, 20, 21))));
    }
    match lines.iter().position(|line| label(line).trim() == "END OF HEADER") {
        Some(index) => Ok(index + 1),
        None => Err(kind(lines.len(), "the header has no end")),
    }
}

fn label(line: &str) -> &str {
    line.get(60..).unwrap_or("")
}

/// Columns of a line as far as it goes; counted from 0, the end excluded.
fn columns(line: &str, from: usize, to: usize) -> &str {
    let end = to.min(line.len());
    if from >= end { "" } else { line.get(from..end).unwrap_or("") }
}

/// A number in columns; blank counts as 0, as the format allows for spare fields.
fn number(line: &str, index: usize, from: usize, to: usize) -> Result<f64, NavigationError> {
    let text = columns(line, from, to).trim();
    if text.is_empty() {
        return Ok(0.0);
    }
    text.replace(['D', 'd'], "E").parse().ok().filter(|x: &f64| x.is_finite()).ok_or_else(|| NavigationError::Number {
        line: index + 1,
        from: from + 1,
        to,
        found: text.to_string(),
    })
}

fn record(system: System, lines: &[&str], at: usize, navigation: &mut Navigation) -> Result<(), NavigationError> {
    let line = at + 1;
    let satellite = number(lines[at], at, 1, 3)? as u32;
    let field = |row: usize, column: usize| number(lines[at + row], at + row, 4 + 19 * column, 23 + 19 * column);
    let elements = Elements {
        toe_s: field(3, 0)?,
        sqrt_a_sqrtm: field(2, 3)?,
        eccentricity: field(2, 1)?,
        i0_rad: field(4, 0)?,
        omega0_rad: field(3, 2)?,
        arg_perigee_rad: field(4, 2)?,
        m0_rad: field(1, 3)?,
        delta_n_radps: field(1, 2)?,
        omega_dot_radps: field(4, 3)?,
        idot_radps: field(5, 0)?,
        cuc_rad: field(2, 0)?,
        cus_rad: field(2, 2)?,
        crc_m: field(4, 1)?,
        crs_m: field(1, 1)?,
        cic_rad: field(3, 1)?,
        cis_rad: field(3, 3)?,
    };
    let health = field(6, 1)?;
    let week = field(5, 2)?;
    let range = |what, value: f64, low: f64, high: f64| {
        if (low..=high).contains(&value) { Ok(()) } else { Err(NavigationError::Range { line, what, value }) }
    };
    range("the square root of the axis", elements.sqrt_a_sqrtm, 4_000.0, 7_000.0)?;
    range("the eccentricity", elements.eccentricity, 0.0, 0.5)?;
    range("the reference time", elements.toe_s, 0.0, 604_800.0)?;
    range("the week", week, 0.0, 9_999.0)?;
    if system == System::Beidou && (satellite <= 5 || satellite >= 59) {
        navigation.skipped.geostationary += 1;
        return Ok(());
    }
    // BeiDou weeks count from 2006-01-01, GPS week 1356, and its time runs 14 s behind; Galileo files print the GPS week.
    let reference = match system {
        System::Beidou => GpsTime::from_week(week as i64 + 1356, elements.toe_s + 14.0),
        _ => GpsTime::from_week(week as i64, elements.toe_s),
    };
    let healthy = match system {
        // Of Galileo's health word only the E1-B bits count here: data invalid (bit 0), signal status (bits 1 and 2).
        System::Galileo => (health as u32) & 0b111 == 0,
        _ => health == 0.0,
    };
    let ephemeris = Ephemeris { system, number: satellite, reference, elements, healthy };
    let known = |e: &&Ephemeris| e.system == system && e.number == satellite && e.reference == reference;
    if navigation.ephemerides.iter().rev().take(400).any(|e| known(&e)) {
        navigation.skipped.duplicates += 1;
    } else if !healthy {
        navigation.skipped.unhealthy += 1;
    } else {
        navigation.ephemerides.push(ephemeris);
    }
    Ok(())
}

/// Of each satellite the record whose reference time is nearest to an instant, at most `most_s` away; in order of system and
/// number.
pub fn nearest_ephemerides(all: &[Ephemeris], at: GpsTime, most_s: f64) -> Vec<Ephemeris> {
    let age = |e: &Ephemeris| (e.reference.since_epoch_s - at.since_epoch_s).abs();
    let mut list: Vec<Ephemeris> = all.iter().filter(|e| age(e) <= most_s).copied().collect();
    list.sort_by(|a, b| {
        (a.system.index(), a.number).cmp(&(b.system.index(), b.number)).then(age(a).total_cmp(&age(b)))
    });
    list.dedup_by_key(|e| (e.system, e.number));
    list
}

#[cfg(test)]
mod tests {
    use super::*;

    const HEAD: &str = "     3.04           N: GNSS NAV DATA    M: Mixed            RINEX VERSION / TYPE\n                                                            END OF HEADER       \n";

    #[test]
    fn other_files_are_refused_with_a_line() {
        assert!(matches!(read_navigation(""), Err(NavigationError::Kind { line: 1, .. })));
        let observations = HEAD.replace("N: GNSS NAV DATA", "O: OBSERVATIONS ");
        assert!(matches!(read_navigation(&observations), Err(NavigationError::Kind { line: 1, .. })));
        assert_eq!(read_navigation(HEAD), Err(NavigationError::Empty(Skipped::default())));
        let cut = format!("{HEAD}G01 2021 03 19 12 00 00  .1D-03  .1D-11  .0D+00\n      .1D+01\n");
        assert_eq!(read_navigation(&cut), Err(NavigationError::Short { line: 3 }));
        let junk = format!("{HEAD}äöü und mehr\n");
        assert!(matches!(read_navigation(&junk), Err(NavigationError::Kind { line: 3, .. })));
    }
}
