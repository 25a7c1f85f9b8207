//! What does a small remotely piloted multirotor do when its radio link goes?
//!
//! `lostlink` simulates it over a described site: it flies a planned path a few thousand times, loses the control link when
//! the radio model or the scenario says so, and replays every loss under each failsafe policy with the same gusts, shadows and
//! satellites. The answer says which policy ends better, how sure that is, and what the others do.
//!
//! # How to start
//!
//! Describe site, craft, radio, weather, path and policies in a scenario file (`docs/scenario.md` lists its keys, as
//! [`scenario::key_list`] does; `scenarios/` holds six worked ones), then ask:
//!
//! ```
//! use lostlink::risk::outcome::Concern;
//! use lostlink::{Options, Scenario, assess};
//!
//! # fn main() -> Result<(), lostlink::Error> {
//! let scenario = Scenario::from_file("scenarios/club-field.toml")?.with_flights(60);
//! let summary = assess(&scenario, &Options::quick())?;
//! for policy in &summary.policies {
//!     println!("{}: danger to people in {} of {} lost links", policy.name, policy.share(Concern::Danger).events, policy.lost);
//! }
//! println!("{}", summary.verdict.sentence);
//! # Ok(())
//! # }
//! ```
//!
//! | to | call |
//! |---|---|
//! | read a scenario | [`Scenario::from_file`], [`Scenario::from_toml`]; from elsewhere than a disk: [`scenario::read`] |
//! | compare its policies | [`assess`] |
//! | compare return heights | [`compare_heights`] |
//! | have the endings of single flights | [`fly`] |
//! | have one flight step by step | [`replay`] |
//! | have one loss told in sentences, under all policies | [`tell`] |
//! | look at the site without flying | [`World`]: ground, link, sky, wind and path of a scenario |
//! | hear of progress, take flights as they come | [`World`], [`risk::assess::assess`], [`risk::run::fly_all`] |
//! | print what was found | [`report`]: terminal text, JSON, CSV, GeoJSON, figures, pages |
//!
//! `examples/` has a program of a few lines for each of the first. Every error implements [`std::error::Error`] and is
//! [`Send`] and [`Sync`]; [`Error`] takes them all, so `?` does.
//!
//! # How it hangs together
//!
//! One way through, each stage using only earlier ones:
//!
//! | stage | turns | into |
//! |---|---|---|
//! | [`scenario`] | a TOML file | a checked, typed [`Scenario`] |
//! | [`world`] | a scenario | everything that is the same for all flights: a [`World`] |
//! | [`flight`] | the world and a flight number | a trunk, then one branch per policy, each with an [`Ending`] |
//! | [`plan`] | the world | what can be said without flying: survey, ways home, reach, sky over a day |
//! | [`risk`] | endings | rates, paired differences, a verdict, with intervals: a [`Summary`] |
//! | [`story`] | one flight under several policies | sentences with times: a [`Story`] |
//! | [`lesson`] | a lesson file | chapters whose answers were flown on the spot |
//! | [`live`] | a scenario under a few controls | its text with these keys changed, and what is flown of it so far |
//! | [`report`] | a summary | terminal text, JSON, CSV, GeoJSON, figures, a page |
//! | `serve` | a scenario under controls | a page on the loopback address (with the feature of that name) |
//! | [`cli`] | arguments | calls of the above and an exit code |
//!
//! Below them stand [`units`], [`geometry`], [`chance`], [`stats`] and the models, which know nothing of flights: [`site`],
//! [`air`], [`radio`], [`sky`], [`craft`], and [`failsafe`], which sees an observation and answers with a demand.
//!
//! **Units and frames.** SI inside, degrees only where a name says `_deg`; every name that carries a dimension ends in its
//! unit. Local metres: x east, y north, z up from the height of the site's origin. Directions run clockwise from north; a wind
//! is named by where it comes from.
//!
//! **Luck.** No random number depends on a policy, the order of calls, the time step or the thread: each is keyed by (seed,
//! purpose, flight, count of things at fixed times). So policies are compared on the same flights, and the same scenario and
//! seed give the same bytes. [`chance::Source::sequence`] opens a stream at such a key as a generator of the `rand` crate.
//!
//! # The models and where they come from
//!
//! Every function names its source, its equation and its range of validity, and says so where a number is an estimate or was
//! quoted second-hand. `tests/published.rs` holds the functions against published values.
//!
//! | of | model | source | in |
//! |---|---|---|---|
//! | radio | free space, Fresnel zones, the Earth's bulge | ITU-R P.525, P.526 | [`radio::free_space`] |
//! | | terrain and edges in the way | ITU-R P.526, P.1812 (delta-Bullington) | [`radio::diffraction`] |
//! | | ground reflection, permittivity of water and soil | ITU-R P.527, Fresnel, Ament | [`radio::ground`] |
//! | | trees, clutter, rain, gases | ITU-R P.833, P.2108, P.838, P.676 | [`radio::vegetation`], [`radio::weather`] |
//! | | antennas and polarisation; bodies in the way | textbooks, measurements as quoted, estimates | [`radio::antenna`], [`radio::body`] |
//! | | shadowing as a field in space | Gudmundson 1991; circulant embedding | [`radio::shadowing`] |
//! | | fading in time and frequency | Rice, Clarke | [`radio::fading`] |
//! | | noise, other users of the band | ITU-R P.372; geometry, duty cycles | [`radio::noise`], [`radio::interference`] |
//! | | packets lost by waveform; what a receiver makes of the silence | textbooks of digital communications; counting | [`radio::modem`], [`radio::packets`], [`radio::receiver`] |
//! | position | satellites | IS-GPS-200, almanacs, RINEX, nominal constellations | [`sky`] |
//! | | dilution of precision, range errors, C/N0 | least squares, RTCA DO-229, IS-GPS-200 | [`sky`] |
//! | | declination | World Magnetic Model | [`sky::magnetic_field`] |
//! | | errors that last, losses of the fix | open records of standing receivers; Markov processes | [`world::FixSetup`] |
//! | air | density | ISO 2533 | [`air::atmosphere`] |
//! | | mean wind by height, terrain categories | logarithmic law, EN 1991-1-4 | [`air::wind`] |
//! | | turbulence, discrete gusts | MIL-F-8785C, MIL-HDBK-1797 (Dryden) | [`air::turbulence`], [`air::gust`] |
//! | | hills and wind shadow | Jackson and Hunt as simplified by Taylor and Lee; estimates | [`air::relief`], [`air::lee`] |
//! | craft | rotor power | momentum theory (Glauert, Leishman) | [`craft::rotor`] |
//! | | pack: voltage, resistance, cold | open data sets of cells, as named there | [`craft::battery`] |
//! | | motion of a point mass, stopping, turning | closed forms, first-order lags | [`craft::motion`], [`craft::kinematics`] |
//! | | fall and touch-down | quadratic drag; estimates of what tips a craft | [`craft::fall`], [`craft::landing`] |
//! | people | harm, if asked for | JARUS SORA 2.5 annex F, as quoted | [`risk::harm`] |
//! | answers | intervals of shares and paired differences | Clopper–Pearson, Tango, McNemar, Holm | [`stats`] |
//!
//! # Limits
//!
//! - One motor out, collisions with other craft, ice and lightning are not modelled.
//! - The craft is a point mass with limits of tilt, rate and descent: there are no attitude dynamics.
//! - Wind over hills follows a formula for gentle slopes; how long a lee lasts behind a steep one is an estimate.
//! - What pilots do when the link comes back rests on studies of drivers: nothing is published about remote pilots.
//! - The fix errs as receivers of one satellite system were recorded to; how several systems err together is not published.
//! - Nominal constellations are representative of a day, never a forecast; give an almanac for a real date.
//! - Sources of interference beyond the site's extent are taken to be in free space.
//! - People are counted only where the scenario puts them.
//!
//! # Cautions
//!
//! A summary is a statement about a model of a site: no permission, no clearance, no record of real flights. Its shares are
//! *given a lost link*, not per flight. Its intervals cover the luck of the draw and the inputs that the scenario calls
//! uncertain, not a wrong model. Whatever shows a verdict should show [`Summary::warnings`], the inputs with their defaults
//! ([`Summary::inputs`]) and how well each model is known ([`Summary::knowledge`]) beside it; [`report`] does. Link, home
//! point and failsafe are to be tested on the bench, propellers removed, and in the field before people are anywhere near.
#![warn(missing_docs)]

// The formulas that judge stand with the tests; the unit tests in here hold flying code against them.
#[cfg(test)]
extern crate self as lostlink;
#[cfg(test)]
#[path = "../tests/reference/mod.rs"]
mod reference;

pub mod chance;
pub mod geometry;
pub mod stats;
pub mod units;

pub mod air;
pub mod craft;
pub mod radio;
pub mod site;
pub mod sky;

pub mod cli;
pub mod failsafe;
pub mod flight;
pub mod geodata;
pub mod lesson;
pub mod live;
pub mod plan;
pub mod report;
pub mod risk;
pub mod scenario;
#[cfg(feature = "serve")]
pub mod serve;
pub mod story;
pub mod world;

pub use chance::Uncertain;
pub use failsafe::Policy;
pub use flight::{Ending, FlightOutcome, Headline, Tier, Trace};
pub use risk::answer::{Error, Options, assess, compare_heights, fly, replay};
pub use risk::summary::{Heights, Share, Summary, Verdict};
pub use scenario::{Scenario, ScenarioError};
pub use story::{Story, tell};
pub use world::World;
