//! Turns a summary into bytes: terminal text, JSON, CSV, GeoJSON, figures, pages. Computes nothing new.

pub mod plot;
pub mod reach;
pub mod words;
