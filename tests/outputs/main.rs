//! What comes out: the program as typed, texts, figures, pages, and the numbers in them.

#[path = "../common/mod.rs"]
mod common;
#[path = "../common/expected.rs"]
mod expected;
#[path = "../field/mod.rs"]
mod field;

mod cli;
mod elevation;
mod field_sheet;
mod figure;
mod figures;
mod geodata_out;
mod ground_files;
mod killed;
mod lesson;
mod numbers;
mod odd;
mod pages;
mod places;
mod readme;
mod shipped;
mod sky_day;
mod starters;
mod story;
mod texts;
mod threads;
mod typed;
