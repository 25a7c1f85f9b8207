//! How the link is lost.

use crate::chance::Uncertain;
use crate::scenario::kind::{Limits, above, between, tidy};
use crate::scenario::place::Place;
use crate::scenario::section::Section;
use crate::site::shape::line_distance_m;

/// How the link is lost.
#[derive(Debug, Clone, PartialEq)]
pub enum Loss<U = Uncertain> {
    /// When physics says so.
    Modelled,
    /// Cut at a moment along the path.
    Cut {
        /// The moment at which it goes.
        at: CutAt<U>,
        /// For how long, s; `None`: for ever.
        for_s: Option<U>,
    },
}

/// The moment of a forced loss.
#[derive(Debug, Clone, PartialEq)]
pub enum CutAt<U = Uncertain> {
    /// Any moment of the path, all equally likely.
    AnyTime,
    /// At a time after take-off, s.
    TimeS(U),
    /// At a share of the path's length, 0 to 1.
    PathShare(U),
    /// Within a disc.
    Near {
        /// Middle: x, y in local metres.
        place_m: [f64; 2],
        /// Radius on the ground, m.
        radius_m: f64,
    },
}

/// Blocks of the draws of the moment and of the length.
const BLOCKS: [u32; 2] = [21, 22];

impl<U> Loss<U> {
    /// The same with every uncertain input changed.
    pub(in crate::scenario) fn map<V>(&self, place: &Place, change: &mut impl FnMut(&Place, u32, &U) -> V) -> Loss<V> {
        let Loss::Cut { at, for_s } = self else { return Loss::Modelled };
        let cut = place.key("cut");
        Loss::Cut {
            at: match at {
                CutAt::AnyTime => CutAt::AnyTime,
                CutAt::TimeS(time) => CutAt::TimeS(change(&cut.key("time_s"), BLOCKS[0], time)),
                CutAt::PathShare(share) => CutAt::PathShare(change(&cut.key("path_share"), BLOCKS[0], share)),
                CutAt::Near { place_m, radius_m } => CutAt::Near { place_m: *place_m, radius_m: *radius_m },
            },
            for_s: for_s.as_ref().map(|time| change(&cut.key("for_s"), BLOCKS[1], time)),
        }
    }
}

impl Loss {
    pub(in crate::scenario) fn read(s: &Section, home_m: [f64; 2], waypoints_m: &[[f64; 3]]) -> Loss {
        let modelled = s.flag("modelled", true, "the radio decides", "The link goes when the radio model says so");
        let Some(c) = s.opt_table(
            "cut",
            "The link is cut at a moment, whatever the radio model says; a loss that comes before it counts with its own cause",
        ) else {
            if !modelled {
                s.error("modelled", "no loss at all", "`modelled = true` or a table `cut`");
            }
            return Loss::Modelled;
        };
        if s.has("modelled") && modelled && s.has("cut") {
            s.error("modelled", "both `modelled` and `cut`", "one of the two");
        }
        Loss::Cut { at: read_moment(&c, home_m, waypoints_m), for_s: read_length(&c) }
    }
}

/// An input that only counts where it is stated.
fn when_stated(
    c: &Section,
    key: &'static str,
    limits: Limits,
    default: f64,
    otherwise: &str,
    meaning: &str,
) -> Option<Uncertain> {
    (c.has(key) || c.sink.is_describing()).then(|| c.uncertain(key, limits, default, otherwise, meaning))
}

fn read_length(c: &Section) -> Option<Uncertain> {
    when_stated(c, "for_s", above(0.0, 36_000.0), 10.0, "when left out: for good", "How long the cut lasts")
}

fn read_moment(c: &Section, home_m: [f64; 2], waypoints_m: &[[f64; 3]]) -> CutAt {
    const OTHER: &str = "another moment is given";
    let any_time = c.flag("any_time", false, "", "Any moment of the path, all equally likely");
    let time_s = when_stated(c, "time_s", between(0.0, 36_000.0), 0.0, OTHER, "At this time after take-off");
    let path_share = when_stated(c, "path_share", between(0.0, 1.0), 0.5, OTHER, "At this share of the path's length");
    let near_m = c.opt_numbers::<3>("near_m", between(-1e6, 1e6), OTHER, "Within a disc: [x, y, radius]");
    let moments = [any_time, time_s.is_some(), path_share.is_some(), c.has("near_m")];
    let moments = moments.into_iter().filter(|there| *there).count();
    if moments != 1 && !c.sink.is_describing() {
        let found = if moments == 0 { "no moment" } else { "more than one moment" };
        c.error("", found, "one of `any_time = true`, `time_s`, `path_share`, `near_m`");
    }
    match (time_s, path_share, near_m) {
        (Some(time_s), ..) => CutAt::TimeS(time_s),
        (_, Some(share), _) => CutAt::PathShare(share),
        (_, _, Some([x, y, radius_m])) => {
            check_disc(c, [x, y], radius_m, home_m, waypoints_m);
            CutAt::Near { place_m: [x, y], radius_m }
        }
        _ => CutAt::AnyTime,
    }
}

fn check_disc(c: &Section, place_m: [f64; 2], radius_m: f64, home_m: [f64; 2], waypoints_m: &[[f64; 3]]) {
    if radius_m <= 0.0 {
        c.error("near_m", format!("the radius {radius_m}"), "a radius above 0");
    }
    let way_m: Vec<[f64; 2]> = std::iter::once(home_m).chain(waypoints_m.iter().map(|p| [p[0], p[1]])).collect();
    let off_m = line_distance_m(&way_m, place_m);
    if off_m > radius_m && !waypoints_m.is_empty() {
        let found = format!("a disc of {} m whose middle the path passes at {off_m:.0} m", tidy(radius_m));
        c.error("near_m", found, "a disc that the path crosses");
    }
}
