//! The files of a report: its page, its figures, its JSON, what a map program reads.

use super::animated::{self, AnimatedError};
use super::document::Document;
use super::earth::{self, Feature, Features};
use super::folder::{FolderError, ReportFolder};
use super::gallery::{Gallery, GalleryError};
use super::{geojson, heights, json, kml, page, story_page, trace_csv};
use crate::risk::summary::{Heights, Summary};
use crate::story::Told;
use serde::Serialize;
use std::io;

/// Why a report could not be written.
#[derive(Debug, thiserror::Error)]
pub enum ReportError {
    /// The folder.
    #[error(transparent)]
    Folder(#[from] FolderError),
    /// A figure.
    #[error(transparent)]
    Gallery(#[from] GalleryError),
    /// Writing failed.
    #[error("the report could not be written: {0}")]
    Io(#[from] io::Error),
    /// The animated figure.
    #[error(transparent)]
    Animated(#[from] AnimatedError),
}

impl ReportFolder {
    /// Writes a file of what `fill` gives.
    fn filled(&self, name: &str, fill: impl FnOnce(&mut Vec<u8>) -> io::Result<()>) -> Result<(), ReportError> {
        let mut bytes = Vec::new();
        fill(&mut bytes)?;
        Ok(self.write(name, &bytes)?)
    }

    /// Writes a page with its figures.
    ///
    /// # Errors
    /// When a file cannot be written or a figure cannot be drawn.
    pub fn page(&self, name: &str, document: &Document, gallery: &Gallery) -> Result<(), ReportError> {
        gallery.write(self)?;
        self.filled(name, |out| page::write(document, gallery, out))
    }

    /// Writes the story of one lost link: its page with its figures, its data, and its traces as CSV.
    ///
    /// # Errors
    /// When a file cannot be written or a figure cannot be drawn.
    pub fn story(&self, told: &Told) -> Result<(), ReportError> {
        let gallery = story_page::gallery(told);
        gallery.write(self)?;
        self.filled("replay.html", |out| story_page::write(told, &gallery, out))?;
        self.json("replay.json", &json::REPLAY.of(told))?;
        self.write("figures/loss-animated.png", &animated::apng(told)?)?;
        for (index, trace) in told.traces.iter().enumerate() {
            let fill = |out: &mut Vec<u8>| trace_csv::write(trace, out).map_err(io::Error::other);
            self.filled(&format!("trace-{}.csv", index + 1), fill)?;
        }
        Ok(())
    }

    /// Writes the card for the field.
    ///
    /// # Errors
    /// When the file cannot be written.
    pub fn card(&self, name: &str, document: &Document) -> Result<(), ReportError> {
        self.filled(name, |out| page::write_card(document, out))
    }

    /// Writes data as JSON.
    ///
    /// # Errors
    /// When the file cannot be written.
    pub fn json<T: Serialize>(&self, name: &str, value: &T) -> Result<(), ReportError> {
        self.filled(name, |out| json::write(value, out))
    }

    /// Writes what map programs read: `map.geojson`, and `map.kml` with the same and some features `more`.
    ///
    /// # Errors
    /// When a file cannot be written.
    pub fn on_earth(&self, found: &Features, more: Vec<Feature>) -> Result<(), ReportError> {
        self.filled("map.geojson", |out| geojson::write(found, out))?;
        let mut all = found.clone();
        all.list.extend(more);
        self.filled("map.kml", |out| kml::write(&all, out))
    }

    /// Writes `summary.json`, and for a site on the Earth `map.geojson`, `map.kml` and `ends.geojson`. The page is written with
    /// [`page`](Self::page), `flights.csv` while the flights come in.
    ///
    /// # Errors
    /// When a file cannot be written.
    pub fn summary_data(&self, summary: &Summary) -> Result<(), ReportError> {
        if let (Some(found), Some(ends)) = (earth::of_summary(summary), earth::ends(summary)) {
            self.on_earth(&found, earth::ends_together(&ends).list)?;
            self.filled("ends.geojson", |out| geojson::write(&ends, out))?;
        }
        self.json("summary.json", summary)
    }

    /// Writes everything that follows from a height sweep.
    ///
    /// # Errors
    /// When a file cannot be written.
    pub fn heights(&self, found: &Heights) -> Result<(), ReportError> {
        self.page("heights.html", &heights::document(found), &heights::gallery(found))?;
        self.json("heights.json", found)
    }
}
