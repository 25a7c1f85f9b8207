//! Turns what was found into bytes: one document per command, printed on a terminal or as a page; JSON, CSV, GeoJSON, KML, figures.
//! Computes nothing new. Each file uses only those that stand before it.

pub mod folder;
pub mod json;

pub mod csv;
pub mod information;
pub mod plot;
pub mod trace_csv;
pub mod words;

pub mod earth;
pub mod geojson;
pub mod kml;

pub mod document;
pub mod figures;
pub mod form;
pub mod gallery;

pub mod assess;
pub mod card;
pub mod check;
mod field_tests;
pub mod heights;
pub mod reach;
pub mod replay;
pub mod sheet;
pub mod sky;

pub mod animated;
pub mod page;

pub mod figure_page;
pub mod player;
pub mod story_page;

pub mod files;
pub mod lesson;
pub mod terminal;
