//! Turns a summary into bytes: terminal text, JSON, CSV, GeoJSON, figures, pages. Computes nothing new.

pub mod html;
pub mod plot;
pub mod reach;
pub mod sheet;
pub mod sky;
pub mod words;
