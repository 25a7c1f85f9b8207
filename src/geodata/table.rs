//! A plain table: comma-separated values under named columns, each number within its limits.

use super::feature::{Fault, shortened};

/// A column as it is named in the first line.
#[derive(Debug, Clone, Copy)]
pub struct Column {
    /// Its name, with the unit.
    pub name: &'static str,
    /// What its numbers may be.
    pub kind: Kind,
}

/// What a column holds.
#[derive(Debug, Clone, Copy)]
pub enum Kind {
    /// Numbers from the first to the second.
    Number(f64, f64),
    /// Something that another reader makes a number of, in this form.
    Read(fn(&str) -> Option<f64>, &'static str),
}

/// A row: its numbers in the order of the columns asked for; NaN where the column is not there.
#[derive(Debug, Clone, PartialEq)]
pub struct Row<const N: usize> {
    /// Line of the file, counted from 1.
    pub line: usize,
    /// Its numbers.
    pub numbers: [f64; N],
}

/// Most rows.
pub const ROWS_AT_MOST: usize = 10_000;

/// The rows of a text. Each of `needed` lists columns of which exactly one is there; lines that begin with `#` are remarks.
///
/// # Errors
/// The first mistake: a column that is missing or unknown, a value that is none. No text makes it panic.
pub fn read<const N: usize>(text: &str, columns: &[Column; N], needed: &[&[&str]]) -> Result<Vec<Row<N>>, Fault> {
    let mut reader = csv::ReaderBuilder::new().comment(Some(b'#')).trim(csv::Trim::All).from_reader(text.as_bytes());
    let broken = |cause: csv::Error| {
        let line = cause.position().map_or(1, |at| at.line() as usize);
        let found = match cause.kind() {
            csv::ErrorKind::UnequalLengths { expected_len, len, .. } => {
                format!("{len} values under {expected_len} columns")
            }
            _ => cause.to_string(),
        };
        Fault::at(line, "", found, "a value for each column, with commas between them")
    };
    let header = reader.headers().map_err(broken)?.clone();
    let first_line = header.position().map_or(1, |at| at.line() as usize);
    let places = places(&header, first_line, columns, needed)?;
    let mut rows = Vec::new();
    for record in reader.records() {
        let record = record.map_err(broken)?;
        let line = record.position().map_or(1, |at| at.line() as usize);
        if rows.len() >= ROWS_AT_MOST {
            return Err(Fault::at(
                line,
                "",
                format!("more than {ROWS_AT_MOST} rows"),
                format!("at most {ROWS_AT_MOST} rows"),
            ));
        }
        let mut numbers = [f64::NAN; N];
        for (index, column) in columns.iter().enumerate() {
            if let Some(place) = places[index] {
                numbers[index] = value(record.get(place).unwrap_or_default(), column, line)?;
            }
        }
        rows.push(Row { line, numbers });
    }
    if rows.is_empty() {
        return Err(Fault::at(first_line, "", "no row", "a row or more under the names of the columns"));
    }
    Ok(rows)
}

/// Where each column stands.
fn places<const N: usize>(
    header: &csv::StringRecord,
    line: usize,
    columns: &[Column; N],
    needed: &[&[&str]],
) -> Result<[Option<usize>; N], Fault> {
    let one = |names: &&[&str]| names.iter().map(|name| format!("`{name}`")).collect::<Vec<_>>().join(" or ");
    let accepted = format!("the columns {}", needed.iter().map(one).collect::<Vec<_>>().join(", "));
    let mut places = [None; N];
    for (place, name) in header.iter().enumerate() {
        let Some(index) = columns.iter().position(|column| column.name == name) else {
            return Err(Fault::at(line, "", format!("the column `{}`", shortened(name)), accepted));
        };
        if places[index].replace(place).is_some() {
            return Err(Fault::at(line, "", format!("the column `{name}` twice"), accepted));
        }
    }
    for names in needed {
        let there =
            columns.iter().zip(&places).filter(|(column, place)| place.is_some() && names.contains(&column.name));
        match there.count() {
            1 => {}
            0 => return Err(Fault::at(line, "", format!("no column {}", one(names)), accepted)),
            _ => return Err(Fault::at(line, "", format!("more than one of {}", one(names)), accepted)),
        }
    }
    Ok(places)
}

fn value(text: &str, column: &Column, line: usize) -> Result<f64, Fault> {
    let (number, accepted) = match column.kind {
        Kind::Number(low, high) => {
            let number = text.parse().ok().filter(|number| (low..=high).contains(number));
            (number, format!("a number, {low} to {high}"))
        }
        Kind::Read(read, form) => (read(text), form.to_string()),
    };
    number.ok_or_else(|| Fault::at(line, column.name, format!("\"{}\"", shortened(text)), accepted))
}
