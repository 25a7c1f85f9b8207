//! `flights.csv`: a row per flight and policy, written as the flights come in. `inputs.csv`: what each flight drew.

use crate::flight::{Ending, Flags, FlightOutcome, input_columns};
use crate::risk::faults::is_faulted;
use crate::sky::LocalFrame;
use crate::world::World;
use std::io::Write;

/// Columns of `flights.csv` with what they hold; `docs/summary.md` lists the same.
pub const COLUMNS: [(&str, &str); 41] = [
    ("flight", "number of the flight, from 0"),
    ("policy", "name of the policy"),
    ("headline", "headline outcome, or faulted; for a flight without a loss how it ended, with an empty policy"),
    (
        "tier",
        "grave, danger, trespass, craft-lost, craft-at-risk, fine, not-settled; set-aside: faulted under some policy and in no total of the report",
    ),
    ("manner", "how it came down"),
    ("ground", "on what"),
    ("zone", "name of the zone whose people, road or property it met; empty: none"),
    ("loss_time_s", "when the link was declared lost, after take-off; empty: never"),
    ("loss_x_m", "where it was then, east of the site's origin"),
    ("loss_y_m", "north of it"),
    ("loss_z_m", "above it"),
    ("loss_cause", "main cause of the loss"),
    ("end_x_m", "where it ended, east"),
    ("end_y_m", "north"),
    ("end_z_m", "above"),
    ("time_to_end_s", "from loss to the end"),
    ("distance_home_m", "horizontal distance of the end from the take-off spot"),
    ("greatest_distance_m", "greatest horizontal distance from the take-off spot"),
    ("greatest_height_m", "greatest height above the take-off spot"),
    ("over_people_s", "time over people"),
    ("people_per_km2", "people per km² where it ended"),
    ("impact_speed_mps", "speed at the ground or obstacle"),
    ("impact_angle_deg", "angle of that speed below the horizontal"),
    ("impact_energy_j", "kinetic energy then"),
    ("energy_below_j", "energy with which it could reach whoever was below: that, and the rest of the fall"),
    ("pack_left_pct", "state of charge at the end"),
    ("without_fix_s", "time without a fix"),
    ("vortex_ring_s", "time sinking through its own wake"),
    ("declared_lost", "how often the link was declared lost"),
    ("telemetry_only_s", "time since take-off in which the pilot's set heard the craft while the link was called lost"),
    ("control_only_s", "time since take-off in which the craft obeyed while the pilot's set did not hear it"),
    ("left_area", "1: left the permitted area"),
    ("above_ceiling", "1: rose above the permitted height"),
    ("over_people", "1: flew over people"),
    ("fix_lost", "1: lost the position fix"),
    ("fell_back", "1: a guard failed and the fallback ran"),
    ("taken_up_again", "1: the way home was taken up again when the fix was back"),
    ("pack_acted", "1: a low pack acted instead of the policy"),
    ("pilot_took_over", "1: the pilot took over"),
    ("wrong_switch", "1: a switch stood in the wrong position when he did"),
    ("fault", "1: the simulation faulted: the row tells of no ending"),
];

/// Columns that come last where the scenario says where the site lies: map programs take them for the place of a row.
pub const EARTH_COLUMNS: [(&str, &str); 4] = [
    ("loss_lat_deg", "latitude of the loss"),
    ("loss_lon_deg", "longitude of the loss"),
    ("end_lat_deg", "latitude of the end"),
    ("end_lon_deg", "longitude of the end"),
];

/// Writes rows one after the other; nothing is kept in memory.
pub struct FlightsCsv<W: Write> {
    writer: csv::Writer<W>,
    policies: Vec<String>,
    zones: Vec<String>,
    frame: Option<LocalFrame>,
}

/// Writes a table: its head, then its rows.
pub(super) fn table(
    out: impl Write,
    head: &[&str],
    mut rows: impl Iterator<Item = Vec<String>>,
) -> Result<(), csv::Error> {
    let mut writer = csv::Writer::from_writer(out);
    writer.write_record(head)?;
    rows.try_for_each(|row| writer.write_record(row))?;
    Ok(writer.flush()?)
}

/// Flights whose inputs are drawn at once.
const INPUTS_AT_ONCE: usize = 4096;

/// Writes the values that the uncertain inputs took in each flight: a row per flight, a column per input under its key. Who sorts
/// flights by what they drew finds with it what their endings hang on.
///
/// # Errors
/// Those of the writer.
pub fn inputs(world: &World, flights: std::ops::Range<u32>, out: impl Write) -> Result<(), csv::Error> {
    let drawn = |flights: &[u32]| {
        let mut columns = input_columns(world, flights);
        columns.retain(|(input, _)| !input.number.is_exact());
        columns
    };
    let keys = drawn(&[]).into_iter().map(|(input, _)| input.key);
    let mut writer = csv::Writer::from_writer(out);
    writer.write_record(std::iter::once("flight".to_string()).chain(keys))?;
    // So many at a time, whatever their number.
    for start in flights.clone().step_by(INPUTS_AT_ONCE) {
        let some: Vec<u32> = (start..flights.end).take(INPUTS_AT_ONCE).collect();
        let columns = drawn(&some);
        for (place, flight) in some.iter().enumerate() {
            // As many digits as single precision holds: more than any of these is known to.
            let values = columns.iter().map(|(_, values)| (values[place] as f32).to_string());
            writer.write_record(std::iter::once(flight.to_string()).chain(values))?;
        }
    }
    Ok(writer.flush()?)
}

fn word<T: serde::Serialize>(value: &T) -> String {
    serde_json::to_value(value).ok().and_then(|value| value.as_str().map(str::to_string)).unwrap_or_default()
}

impl<W: Write> FlightsCsv<W> {
    /// Starts the file with its header. `policies` are the names in the order of the endings, `zones` those of the site's zones;
    /// `frame` ties the site to the Earth, where the scenario says how.
    ///
    /// # Errors
    /// Those of the writer.
    pub fn new(
        out: W,
        policies: &[String],
        zones: &[String],
        frame: Option<LocalFrame>,
    ) -> Result<FlightsCsv<W>, csv::Error> {
        let mut writer = csv::Writer::from_writer(out);
        let on_earth = EARTH_COLUMNS.iter().filter(|_| frame.is_some());
        writer.write_record(COLUMNS.iter().chain(on_earth).map(|column| column.0))?;
        Ok(FlightsCsv { writer, policies: policies.to_vec(), zones: zones.to_vec(), frame })
    }

    /// The columns of [`EARTH_COLUMNS`] for a place of the loss and one of the end, where there are any.
    fn on_earth(&self, places_m: [Option<[f32; 3]>; 2]) -> Vec<String> {
        let Some(frame) = &self.frame else { return Vec::new() };
        let degrees = |place_m: Option<[f32; 3]>| match place_m.filter(|place_m| place_m.iter().all(|v| v.is_finite()))
        {
            // 1e-7° is a centimetre.
            Some([x, y, _]) => frame.degrees_from_local([x, y].map(f64::from)).map(|degrees| format!("{degrees:.7}")),
            None => Default::default(),
        };
        places_m.into_iter().flat_map(degrees).collect()
    }

    /// Writes the rows of one flight: one per policy, or one without a policy when the link was never lost.
    ///
    /// # Errors
    /// Those of the writer.
    pub fn write(&mut self, outcome: &FlightOutcome) -> Result<(), csv::Error> {
        if outcome.endings.is_empty() {
            let mut row = vec![String::new(); COLUMNS.len()];
            row[0] = outcome.flight.to_string();
            if let Some(headline) = outcome.without_loss {
                row[2] = headline.word().into();
                row[3] = word(&headline.tier());
            } else if outcome.not_taken_off {
                row[2] = "not-taken-off".into();
            }
            row.extend(self.on_earth([None, None]));
            return self.writer.write_record(row);
        }
        let cause = outcome.loss.map_or(String::new(), |loss| word(&loss.cause));
        let aside = is_faulted(outcome);
        for (index, ending) in outcome.endings.iter().enumerate() {
            let name = self.policies.get(index).map_or("", String::as_str);
            let zone = ending.zone.and_then(|zone| self.zones.get(usize::from(zone))).map_or("", String::as_str);
            let mut row = row(name, ending, zone, &cause);
            if aside {
                row[3] = "set-aside".into();
            }
            if ending.flags.has(Flags::FAULT) {
                row[2] = "faulted".into();
            }
            row.extend(self.on_earth([Some(ending.loss_m), Some(ending.end_m)]));
            self.writer.write_record(row)?;
        }
        Ok(())
    }

    /// Flushes and gives the writer back.
    ///
    /// # Errors
    /// Those of the writer.
    pub fn finish(mut self) -> std::io::Result<W> {
        self.writer.flush()?;
        self.writer.into_inner().map_err(|error| std::io::Error::other(error.to_string()))
    }
}

fn row(policy: &str, ending: &Ending, zone: &str, cause: &str) -> Vec<String> {
    let fixed =
        |value: f32, decimals: usize| if value.is_finite() { format!("{value:.decimals$}") } else { String::new() };
    let flag = |flag: Flags| u8::from(ending.flags.has(flag)).to_string();
    let mut row = vec![
        ending.flight.to_string(),
        policy.into(),
        ending.headline.word().into(),
        word(&ending.headline.tier()),
        word(&ending.manner),
        word(&ending.ground),
        zone.into(),
        fixed(ending.loss_time_s, 2),
    ];
    row.extend(ending.loss_m.map(|v| fixed(v, 2)));
    row.push(cause.into());
    row.extend(ending.end_m.map(|v| fixed(v, 2)));
    row.extend([
        fixed(ending.time_to_end_s, 2),
        fixed(ending.distance_home_m, 2),
        fixed(ending.greatest_distance_m, 2),
        fixed(ending.greatest_height_m, 2),
        fixed(ending.over_people_s, 2),
        fixed(ending.people_per_km2, 1),
        fixed(ending.impact_speed_mps, 2),
        fixed(ending.impact_angle_deg, 1),
        fixed(ending.impact_energy_j, 2),
        fixed(ending.energy_below_j, 2),
        fixed(ending.pack_left_pct, 2),
        fixed(ending.without_fix_s, 2),
        fixed(ending.vortex_ring_s, 2),
        ending.declared_lost.to_string(),
        fixed(ending.telemetry_only_s, 2),
        fixed(ending.control_only_s, 2),
        flag(Flags::LEFT_AREA),
        flag(Flags::ABOVE_CEILING),
        flag(Flags::OVER_PEOPLE),
        flag(Flags::FIX_LOST),
        flag(Flags::FELL_BACK),
        flag(Flags::TAKEN_UP_AGAIN),
        flag(Flags::PACK_ACTED),
        flag(Flags::PILOT_TOOK_OVER),
        flag(Flags::WRONG_SWITCH),
        flag(Flags::FAULT),
    ]);
    row
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::flight::{Ground, Headline, LossCause, LossMoment, Manner};

    #[test]
    fn rows_have_all_columns_in_order() {
        let mut flags = Flags::default();
        flags.set(Flags::FIX_LOST);
        let ending = Ending {
            flight: 3,
            headline: Headline::InWater,
            manner: Manner::SetDown,
            ground: Ground::Water,
            zone: Some(0),
            energy_below_j: 1.0,
            flags,
            end_m: [1.0, -2.5, 0.25],
            loss_time_s: 12.0,
            loss_m: [100.0, 20.0, 30.0],
            time_to_end_s: 40.5,
            distance_home_m: 2.69,
            greatest_distance_m: 104.0,
            greatest_height_m: 31.0,
            over_people_s: 0.0,
            people_per_km2: 0.0,
            impact_speed_mps: 1.5,
            impact_angle_deg: 90.0,
            impact_energy_j: f32::NAN,
            pack_left_pct: 55.125,
            without_fix_s: 3.0,
            vortex_ring_s: 0.0,
            declared_lost: 1,
            telemetry_only_s: 0.0,
            control_only_s: 0.0,
        };
        let loss = LossMoment {
            time_s: 12.0,
            place_m: [100.0, 20.0, 30.0],
            path_share: 0.5,
            distance_m: 110.0,
            cause: LossCause::Body,
            telemetry_up: true,
        };
        let mut rows = FlightsCsv::new(Vec::new(), &["home, low".into()], &["the lake".into()], None).unwrap();
        rows.write(&FlightOutcome {
            flight: 3,
            loss: Some(loss),
            endings: vec![ending],
            without_loss: None,
            not_taken_off: false,
        })
        .unwrap();
        rows.write(&FlightOutcome {
            flight: 4,
            loss: None,
            endings: vec![],
            without_loss: Some(Headline::AtHome),
            not_taken_off: false,
        })
        .unwrap();
        let text = String::from_utf8(rows.finish().unwrap()).unwrap();
        let mut read = csv::Reader::from_reader(text.as_bytes());
        let header = read.headers().unwrap().clone();
        assert_eq!(header.len(), COLUMNS.len());
        let records: Vec<csv::StringRecord> = read.records().collect::<Result<_, _>>().unwrap();
        let cell = |row: usize, name: &str| {
            records[row].get(header.iter().position(|h| h == name).unwrap()).unwrap().to_string()
        };
        assert_eq!(cell(0, "policy"), "home, low");
        assert_eq!(
            (cell(0, "headline"), cell(0, "tier"), cell(0, "zone")),
            ("in-water".into(), "craft-lost".into(), "the lake".into())
        );
        assert_eq!((cell(0, "loss_z_m"), cell(0, "end_y_m")), ("30.00".into(), "-2.50".into()));
        assert_eq!((cell(0, "loss_cause"), cell(0, "impact_energy_j")), ("body".into(), String::new()));
        assert_eq!((cell(0, "fix_lost"), cell(0, "left_area"), cell(0, "fault")), ("1".into(), "0".into(), "0".into()));
        assert_eq!(
            (cell(1, "flight"), cell(1, "policy"), cell(1, "headline")),
            ("4".into(), String::new(), "at-home".into())
        );
    }
}
