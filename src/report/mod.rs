//! Turns a summary into bytes: terminal text, JSON, CSV, GeoJSON, figures, pages. Computes nothing new.

pub mod card;
pub mod csv;
pub mod folder;
pub mod geojson;
pub mod html;
pub mod json;
pub mod plot;
pub mod reach;
pub mod replay;
pub mod sheet;
pub mod sky;
pub mod survey;
pub mod terminal;
pub mod words;
