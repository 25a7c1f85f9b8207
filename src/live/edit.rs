//! A scenario's own text with a few keys changed: comments, order and all else stay as they are.

use super::control::{RADIO, has_height};
use super::state::{Key, Refusal, Setting, State};
use crate::failsafe::{HeightFrom, ReturnHeight};
use toml_edit::{Array, Datetime, DocumentMut, InlineTable, Item, Table, TableLike, Value};

/// What of the scenario the text alone does not tell.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Context {
    /// Length of the path.
    pub path_m: f64,
    /// Date and time of take-off as the scenario has them.
    pub utc: [u32; 6],
}

/// The text of a scenario as a state has it.
///
/// # Errors
/// A text whose tables do not stand where the format has them; one that has been read as a scenario is none such.
pub fn edited(text: &str, state: &State, context: &Context) -> Result<DocumentMut, Refusal> {
    let mut document: DocumentMut = text.parse().map_err(|error: toml_edit::TomlError| {
        Refusal::new(format!("the scenario's text: {}", error.message()), "TOML")
    })?;
    for (key, setting) in state.settings() {
        let root: &mut dyn TableLike = document.as_table_mut();
        match (key, setting) {
            (Key::Cut, setting) => cut(root, setting, context.path_m)?,
            (Key::Height, Setting::Number(up_m)) => heights(root, *up_m),
            (Key::Hour, Setting::Number(hour)) => put(root, &["sky", "utc"], hour_of(context.utc, *hour)?)?,
            (Key::Constellations, Setting::Words(words)) => {
                let list: Array = words.iter().copied().collect();
                put(root, &["sky", "constellations"], list.into())?;
            }
            (Key::Patience, Setting::Number(s)) => {
                put(root, &["radio", "control", "receiver", "patience_s"], (*s).into())?
            }
            (Key::Wind, Setting::Number(mps)) => put(root, &["weather", "wind_mps"], (*mps).into())?,
            (Key::WindFrom, Setting::Number(deg)) => put(root, &["weather", "from_deg"], (*deg).into())?,
            (Key::Pack, Setting::Number(pct)) => put(root, &["craft", "battery", "charge_pct"], (*pct).into())?,
            (key, _) => return Err(Refusal::new(format!("{}: not of its kind", key.word()), "what the control gives")),
        }
    }
    Ok(document)
}

/// Puts a value at a path of keys. Where one stands already its comment stays; tables that are not there are made, on one line.
fn put(root: &mut dyn TableLike, path: &[&str], mut value: Value) -> Result<(), Refusal> {
    let (last, tables) = path.split_last().expect("a path of keys");
    let table = table_at(root, tables)?;
    if let Some(decor) = table.get(last).and_then(Item::as_value).map(|old| old.decor().clone()) {
        *value.decor_mut() = decor;
    }
    table.insert(last, Item::Value(value));
    Ok(())
}

/// The table at a path of keys, made where it is not there.
fn table_at<'t>(mut table: &'t mut dyn TableLike, path: &[&str]) -> Result<&'t mut dyn TableLike, Refusal> {
    for key in path {
        // `false` says that there is none.
        if table.get(key).is_none_or(|item| item.as_bool() == Some(false)) {
            table.remove(key);
            let mut made = Table::new();
            made.set_dotted(true);
            table.insert(key, Item::Table(made));
        }
        let found = table.get_mut(key).and_then(Item::as_table_like_mut);
        table = found.ok_or_else(|| Refusal::new(format!("{key}: no table in the scenario's text"), "a table"))?;
    }
    Ok(table)
}

/// Keys that say when a link is cut.
const MOMENTS: [&str; 4] = ["any_time", "time_s", "path_share", "near_m"];

/// The cut at a place on the path, or none; how long it lasts stays as it is.
fn cut(root: &mut dyn TableLike, setting: &Setting, path_m: f64) -> Result<(), Refusal> {
    let loss = table_at(root, &["loss"])?;
    let decor = |item: Option<Item>| item.as_ref().and_then(Item::as_value).map(|old| old.decor().clone());
    let before = decor(loss.remove("modelled"));
    match setting {
        Setting::Words(words) if words.as_slice() == [RADIO] => {
            let mut cut = loss.remove("cut");
            // Beside a table on one line the comment stands behind all of it.
            let beside = cut.as_ref().and_then(Item::as_value).map(|old| old.decor().clone());
            let table = cut.as_mut().and_then(Item::as_table_like_mut);
            let moment = table.and_then(|cut| MOMENTS.iter().find_map(|key| decor(cut.remove(key))));
            let mut modelled = Value::from(true);
            if let Some(decor) = beside.or(moment).or(before) {
                *modelled.decor_mut() = decor;
            }
            loss.insert("modelled", Item::Value(modelled));
            // What stood before the header of the cut, and its place, are now the loss's.
            if let (Some(cut), Some(Item::Table(loss))) = (cut.as_ref().and_then(Item::as_table), root.get_mut("loss"))
                && !cut.is_dotted()
            {
                loss.set_implicit(false);
                if loss.position().is_none() {
                    *loss.decor_mut() = cut.decor().clone();
                    loss.set_position(cut.position());
                }
            }
            Ok(())
        }
        Setting::Number(flown_m) => {
            let cut = table_at(loss, &["cut"])?;
            let moment = MOMENTS.iter().fold(None, |found, key| decor(cut.remove(key)).or(found));
            // To a millionth of the path.
            let mut share = Value::from((1e6 * flown_m / path_m).round().min(1e6) / 1e6);
            if let Some(decor) = moment.or(before) {
                *share.decor_mut() = decor;
            }
            cut.insert("path_share", Item::Value(share));
            Ok(())
        }
        Setting::Words(_) => Err(Refusal::new("cut_m: not of its kind", "what the control gives")),
    }
}

/// All tables of a list, however it is written.
fn each(item: Option<&mut Item>, change: &mut dyn FnMut(&mut dyn TableLike)) {
    match item {
        Some(Item::ArrayOfTables(tables)) => tables.iter_mut().for_each(|table| change(table)),
        Some(Item::Value(Value::Array(list))) => {
            list.iter_mut().filter_map(Value::as_inline_table_mut).for_each(|table: &mut InlineTable| change(table));
        }
        _ => {}
    }
}

/// Keys of a height, the one in force and those of earlier files.
const HEIGHTS: [&str; 5] = ["up_m", "at_least_m", "exactly_m", "above_path_m", "above_ground_m"];

/// Every way home at one height.
fn heights(root: &mut dyn TableLike, up_m: f64) {
    each(root.get_mut("policy"), &mut |policy| {
        each(policy.get_mut("action"), &mut |action| {
            let way = action.get_mut("return").and_then(Item::as_table_like_mut);
            let Some(height) = way.and_then(|way| way.get_mut("height")).and_then(Item::as_table_like_mut) else {
                return;
            };
            let here = height.get("from").and_then(Item::as_str) == Some("here");
            let from = if here { HeightFrom::Here } else { HeightFrom::Home };
            if !has_height(&ReturnHeight { from, up_m, may_sink: false }) {
                return;
            }
            if let Some(key) = HEIGHTS.into_iter().find(|key| height.contains_key(key)) {
                // There is a table, and nothing in it to be made.
                let _ = put(height, &[key], up_m.into());
            }
        });
    });
}

fn hour_of(utc: [u32; 6], hour: f64) -> Result<Value, Refusal> {
    let [year, month, day, ..] = utc;
    let second_of_day = (hour * 3600.0).round() as u32;
    let text = format!(
        "{year:04}-{month:02}-{day:02}T{:02}:{:02}:{:02}Z",
        second_of_day / 3600,
        second_of_day / 60 % 60,
        second_of_day % 60
    );
    text.parse::<Datetime>()
        .map(Value::from)
        .map_err(|_| Refusal::new(format!("hour_utc: {hour}"), "an hour of the day"))
}
