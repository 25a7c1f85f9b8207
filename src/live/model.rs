//! A scenario with its controls, and the states of it met last.

use super::at::At;
use super::control::{Control, controls};
use super::edit::{Context, edited};
use super::state::{Refusal, State};
use crate::geodata::Bytes;
use crate::risk::answer::Error;
use crate::scenario::{
    Diagnostic, Files, MemoryFiles, Remembered, ScenarioError, Severity, read_again, read_remembering,
};
use crate::world::World;
use std::cell::RefCell;
use std::collections::BTreeMap;
use std::io::Cursor;
use std::sync::{Arc, Mutex, OnceLock, PoisonError};
use toml_edit::DocumentMut;

/// States whose worlds and flights are kept.
const KEPT: usize = 8;

/// Worked out once, by whoever asks first; others wait.
type Slot = Arc<OnceLock<Result<Arc<At>, Refusal>>>;

/// A scenario whose controls can be moved.
pub struct Live {
    name: String,
    text: String,
    /// What the scenario names, read once: afterwards no file is touched.
    files: MemoryFiles<Arc<[u8]>>,
    /// What was made of them: no control moves the ground.
    remembered: Remembered,
    base: Arc<World>,
    /// Warnings about site and path, which no control moves.
    of_place: Vec<String>,
    controls: Vec<Control>,
    /// The state asked for last stands last.
    recent: Mutex<Vec<(State, Slot)>>,
}

/// Files that remember what was read.
struct Noting<'f> {
    files: &'f dyn Files,
    seen: RefCell<BTreeMap<String, Arc<[u8]>>>,
}

impl Noting<'_> {
    fn bytes(&self, name: &str) -> Result<Arc<[u8]>, String> {
        if let Some(bytes) = self.seen.borrow().get(name) {
            return Ok(bytes.clone());
        }
        let bytes: Arc<[u8]> = self.files.read(name)?.into();
        self.seen.borrow_mut().insert(name.into(), bytes.clone());
        Ok(bytes)
    }
}

impl Files for Noting<'_> {
    fn read(&self, name: &str) -> Result<Vec<u8>, String> {
        self.bytes(name).map(|bytes| bytes.to_vec())
    }

    fn open(&self, name: &str) -> Result<Box<dyn Bytes>, String> {
        self.bytes(name).map(|bytes| Box::new(Cursor::new(bytes)) as Box<dyn Bytes>)
    }
}

/// The text that is flown: without the conditions, which take as long to read as the rest.
fn flown(mut document: DocumentMut) -> String {
    document.remove("condition");
    document.to_string()
}

/// The first error.
fn refused(found: Vec<Diagnostic>) -> Refusal {
    let first = found.iter().find(|finding| finding.severity == Severity::Error);
    let error = first.map_or("the scenario".into(), |finding| format!("{}: {}", finding.key, finding.found));
    Refusal::new(error, first.map_or("", |finding| finding.accepted.as_str()))
}

impl Live {
    /// From the text of a scenario file; the files that it names are read now.
    ///
    /// # Errors
    /// Every mistake in it at once, or a scenario that cannot be flown.
    pub fn open(name: &str, text: &str, files: &dyn Files) -> Result<Live, Error> {
        let noting = Noting { files, seen: RefCell::default() };
        let remembered = Remembered::default();
        let mut scenario = read_remembering(name, text, &noting, &remembered).map_err(ScenarioError::Findings)?;
        // They stay in the text, but are not flown.
        scenario.conditions.clear();
        let files = MemoryFiles(noting.seen.into_inner());
        let again = |document| read_again(name, &flown(document), &files, &remembered).ok();
        let again = text.parse().ok().and_then(again);
        let again = again.map_or_else(Vec::new, |again| again.warnings);
        let of_place = scenario.warnings.iter().filter(|warning| !again.contains(warning)).cloned().collect();
        let base = Arc::new(World::new(scenario)?);
        Ok(Live {
            name: name.into(),
            text: text.into(),
            files,
            remembered,
            of_place,
            controls: controls(&base),
            base,
            recent: Mutex::default(),
        })
    }

    /// The world of the scenario as it stands.
    pub fn base(&self) -> &World {
        &self.base
    }

    /// The controls as a state has them.
    pub fn controls(&self, state: &State) -> Vec<Control> {
        self.controls.iter().map(|control| control.under(state)).collect()
    }

    /// Reads a state from pairs of key and value.
    ///
    /// # Errors
    /// A key that is none, or one for the second time; a value out of its range.
    pub fn state<'p>(&self, pairs: impl IntoIterator<Item = (&'p str, &'p str)>) -> Result<State, Refusal> {
        let mut state = State::default();
        for (key, value) in pairs {
            let known = self.controls.iter().find(|control| control.key.word() == key);
            let control = known.ok_or_else(|| {
                let keys: Vec<&str> = self.controls.iter().map(|control| control.key.word()).collect();
                Refusal::new(format!("there is no key \"{key}\""), keys.join(", "))
            })?;
            if state.setting(control.key).is_some() {
                return Err(Refusal::new(format!("{key} for the second time"), "each key once"));
            }
            let setting = control.read(value)?;
            state = state.with(control.key, setting);
        }
        Ok(state)
    }

    fn context(&self) -> Context {
        Context { path_m: self.base.path.length_m(), utc: self.base.scenario.sky.utc }
    }

    /// The scenario's own text as a state has it, held to be one that can be read.
    ///
    /// # Errors
    /// Conditions of the scenario that do not go with the state.
    pub fn text(&self, state: &State) -> Result<String, Refusal> {
        let text = edited(&self.text, state, &self.context())?.to_string();
        read_remembering(&self.name, &text, &self.files, &self.remembered).map_err(refused)?;
        Ok(text)
    }

    /// A state, ready to fly. Those asked for last are kept with what they flew.
    ///
    /// # Errors
    /// A state that makes a scenario which cannot be read or flown.
    pub fn at(&self, state: &State) -> Result<Arc<At>, Refusal> {
        self.slot(state).get_or_init(|| self.made(state).map(Arc::new)).clone()
    }

    fn slot(&self, state: &State) -> Slot {
        let mut recent = self.recent.lock().unwrap_or_else(PoisonError::into_inner);
        let found = recent.iter().position(|(known, _)| known == state).map(|index| recent.remove(index));
        let (state, slot) = found.unwrap_or_else(|| (state.clone(), Slot::default()));
        if recent.len() == KEPT {
            recent.remove(0);
        }
        recent.push((state, slot.clone()));
        slot
    }

    fn made(&self, state: &State) -> Result<At, Refusal> {
        if *state == State::default() {
            return Ok(At::new(State::default(), self.base.clone()));
        }
        let document = edited(&self.text, state, &self.context())?;
        let mut scenario = read_again(&self.name, &flown(document), &self.files, &self.remembered).map_err(refused)?;
        scenario.warnings.extend(self.of_place.iter().cloned());
        let world = World::like(&self.base, scenario)
            .map_err(|error| Refusal::new(error.to_string(), "settings that can be flown"))?;
        Ok(At::new(state.clone(), Arc::new(world)))
    }
}
