//! A small invented scenario for tests: what differs from one to the next is put in as lines of its sections.
#![allow(dead_code)]

use lostlink::scenario::{self, Files, NoFiles, Scenario};

/// Lines of the sections that a test fills.
pub struct Field<'a> {
    /// Half of the side of the square site, m.
    pub half_m: f64,
    /// More of `[site]`.
    pub site: &'a str,
    /// `[radio]` and its tables.
    pub radio: &'a str,
    /// More of `[sky]`; without `utc` the usual one is put in.
    pub sky: &'a str,
    /// Waypoints.
    pub waypoints_m: &'a str,
    /// More tables before the policy.
    pub more: &'a str,
    /// The one action of the one policy, with its guards.
    pub action: &'a str,
}

impl Default for Field<'_> {
    fn default() -> Self {
        Field {
            half_m: 600.0,
            site: "",
            radio: "",
            sky: "",
            waypoints_m: "[[0, 40, 30]]",
            more: "",
            action: "land = {}",
        }
    }
}

impl Field<'_> {
    /// Reads it.
    pub fn read(&self) -> Scenario {
        self.read_with(&NoFiles)
    }

    /// Reads it with the files that it names.
    pub fn read_with(&self, files: &dyn Files) -> Scenario {
        let Field { half_m, site, radio, sky, waypoints_m, more, action } = self;
        let utc = if sky.contains("utc") { "" } else { "utc = 2026-05-16T09:30:00Z" };
        let text = format!(
            r#"
title = "A field"
about = "Invented, for tests."
invented = true
seed = 11
[site]
extent_m = [-{half_m:?}, -{half_m:?}, {half_m:?}, {half_m:?}]
home_m = [0, 0]
{site}
[craft]
mass_kg = 1
{radio}
[sky]
{utc}
{sky}
[path]
waypoints_m = {waypoints_m}
speed_mps = 8
{more}
[[policy]]
name = "the policy"
[[policy.action]]
{action}
"#
        );
        scenario::read("field.toml", &text, files).unwrap_or_else(|found| {
            panic!("{}", found.iter().map(|finding| finding.in_words() + "\n").collect::<String>())
        })
    }
}
