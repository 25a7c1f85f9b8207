//! What one policy made of the loss, from the trace.

use super::guards::{asked, guards};
use super::margin::{why_back, why_lost_again};
use super::shared::nearest;
use super::told::{About, Draft};
use super::way::{Standing, closest, highest_between};
use super::words::{
    between, by_satellites, energy, high, high_to, length, level, lies, metres, per_cent, rounded, rounded_m, span,
    span_between, speed,
};
use crate::failsafe::{ActionKind, FIX_GRACE_S, Fallback, GivenUp, HeightFrom, Policy};
use crate::flight::{Doing, Ending, Event, Flags, Ground, Happened, Manner, Presence, Trace, TraceRow};
use crate::risk::words::{direction, list, named, number, sentence};
use crate::site::{Whose, ZoneKind};
use crate::world::World;

/// So often a thing that comes and goes is told; then only how often more.
const TOLD_TIMES: usize = 2;

/// A way home so much higher or lower than the loss has a wind of its own. Estimate.
const OTHER_HEIGHT_M: f64 = 5.0;

/// A craft that climbs or sinks more slowly is level.
const LEVEL_MPS: f64 = 0.3;

/// Steps in which the way between two rows is looked at.
const BETWEEN_ROWS: u32 = 8;

/// An empty place is worth a word when the end was as near to it as this. Estimate.
const EMPTY_WITHIN_M: f64 = 20.0;

/// The sentences of one policy, in time order.
pub(super) fn branch(world: &World, presence: &Presence, policy: &Policy, trace: &Trace) -> Vec<Draft> {
    let (Some(moment), Some(ending)) = (&trace.loss, &trace.ending) else { return Vec::new() };
    let view = View { world, presence, policy, trace, home_m: level(world.home_m) };
    let rows = &trace.rows[trace.rows.partition_point(|row| row.time_s < moment.time_s)..];
    let mut told: Vec<Draft> = trace.events.iter().filter_map(|happened| view.event(happened)).collect();
    told.extend(view.on_the_way(rows));
    told.extend(view.fix(rows));
    told.extend(view.area(rows));
    told.extend(view.ceiling(rows));
    told.extend(view.over_people(rows));
    told.extend(view.telemetry(rows));
    told.extend(view.clearance(rows, ending));
    told.sort_by(|a, b| a.time_s.unwrap_or(0.0).total_cmp(&b.time_s.unwrap_or(0.0)));
    let end_s = trace.rows.last().map_or(moment.time_s, |row| row.time_s);
    told.retain(|draft| draft.time_s.is_none_or(|time_s| time_s <= end_s));
    told.extend(view.end(ending, end_s));
    told
}

struct View<'a> {
    world: &'a World,
    presence: &'a Presence,
    policy: &'a Policy,
    trace: &'a Trace,
    home_m: [f64; 2],
}

impl View<'_> {
    fn where_from_home(&self, row: &TraceRow) -> String {
        lies(self.home_m, level(row.place_m), "the take-off spot")
    }

    /// The row from which something was done: the first one not before.
    fn row_from(&self, time_s: f64) -> Option<&TraceRow> {
        let rows = &self.trace.rows;
        let at = rows.partition_point(|row| row.time_s < time_s - 1e-6);
        // What the policy does from the loss on begins in the step that the loss lies in.
        rows.get(at).or(rows.last())
    }

    fn event(&self, happened: &Happened) -> Option<Draft> {
        let time_s = happened.time_s;
        if time_s < self.trace.lost_at_s? {
            return None;
        }
        let row = self.trace.at(time_s)?;
        let at = |about, text: String| Some(Draft::at(time_s, about, text));
        match &happened.event {
            Event::Begins(doing) => at(About::Begins, self.begins(*doing, time_s, row)),
            Event::GivenUp(why) => at(About::Guard, self.given_up(why, time_s)),
            Event::TakenUpAgain => at(About::Guard, "The fix is good again: the way home is taken up again.".into()),
            Event::LostAgain => at(
                About::Link,
                format!("The receiver calls the link lost again.{}", why_lost_again(self.trace, time_s)),
            ),
            Event::LinkBack => at(About::Link, format!("The link is back.{}", why_back(self.trace, time_s))),
            Event::TakesOver => at(About::Pilot, self.takes_over(time_s, row)),
            Event::TakesOverWithWrongSwitch => {
                at(About::Pilot, "The pilot takes over with a switch in the wrong position.".into())
            }
            Event::SwitchPutRight => at(About::Pilot, "The pilot puts the switch right.".into()),
            Event::Pilot(what) => at(About::Pilot, format!("{}.", sentence(what))),
            Event::LowPack(what) => at(
                About::Pack,
                format!(
                    "The pack is low, at {}: instead of its policy the craft will {what}.",
                    per_cent(row.charge_pct)
                ),
            ),
            Event::PackEmpty => {
                at(About::Pack, format!("The pack is empty and the motors stop, {}.", high(row.height_m)))
            }
            Event::NoReturn => at(
                About::Pack,
                format!("From here on the pack no longer reaches home: it holds {}.", per_cent(row.charge_pct)),
            ),
            // Told where the fall begins, at the loss, or at the end.
            Event::MotorsStop | Event::End(_) | Event::Lost(_) | Event::TakeOff | Event::Cut => None,
        }
    }

    fn begins(&self, doing: Doing, time_s: f64, row: &TraceRow) -> String {
        let above_m = row.place_m[2] - self.world.grid.ground_m(row.place_m[0], row.place_m[1]);
        let same = |other: &Happened, event: &Event| (other.time_s - time_s).abs() < 1e-6 && other.event == *event;
        let happens = |event: Event| self.trace.events.iter().any(|other| same(other, &event));
        let before = self.trace.events.iter().rev().find_map(|other| match other.event {
            Event::Begins(doing) if other.time_s < time_s => Some(doing),
            _ => None,
        });
        match doing {
            Doing::Hold if row.believed_m[0].is_finite() => {
                format!("It begins to hold its place, {}.", high(row.height_m))
            }
            Doing::Hold => {
                format!("It keeps level, {}, and drifts with the wind: it has no fix.", high(row.height_m))
            }
            Doing::Return => self.goes_home(row),
            Doing::Land if before == Some(Doing::Return) && self.over_home(row) => format!(
                "It believes it is {} from its home point (it is {}) and starts down from {}.",
                metres(length(between(row.believed_m, row.stored_home_m))),
                self.where_from_home(row),
                high(row.height_m)
            ),
            Doing::Land => {
                format!("It starts down from {} above the ground, {}.", metres(above_m), self.where_from_home(row))
            }
            // That the pack is empty is told already.
            Doing::Drop if happens(Event::PackEmpty) => format!("It falls from {} above the ground.", metres(above_m)),
            Doing::Drop => format!("The motors stop, and it falls from {} above the ground.", metres(above_m)),
            Doing::CarryOn => format!(
                "Nothing is set, so the last commands stay: it flies on at {}, {}.",
                speed(row.speed_mps),
                high(row.height_m)
            ),
            Doing::Piloted | Doing::Silent | Doing::TakenOver => format!("It is {}.", doing.label()),
        }
    }

    /// Whether it takes itself to be where the way home turns into coming down.
    fn over_home(&self, row: &TraceRow) -> bool {
        let off_m = length(between(row.believed_m, row.stored_home_m));
        self.policy.actions.iter().any(
            |action| matches!(action.kind, ActionKind::Return { home_circle_m, .. } if off_m <= home_circle_m + 0.05),
        )
    }

    /// What it does when it is higher than a way home that is measured from home: the one thing in which "or higher" tells.
    fn sinks_or_stays(&self, row: &TraceRow) -> &'static str {
        let mut ways = self.policy.actions.iter().filter_map(|action| match &action.kind {
            ActionKind::Return { height, .. } if height.from == HeightFrom::Home => Some(height),
            _ => None,
        });
        match (ways.next(), ways.next()) {
            (Some(height), None) if row.believed_height_m > height.up_m + 1.0 => {
                if height.may_sink {
                    " and comes down to that"
                } else {
                    ", and stays as high as it is"
                }
            }
            _ => "",
        }
    }

    fn goes_home(&self, row: &TraceRow) -> String {
        let way = between(row.believed_m, row.stored_home_m);
        let heights = self.policy.actions.iter().filter_map(|action| match &action.kind {
            ActionKind::Return { height, .. } => Some(height.in_words()),
            _ => None,
        });
        let height = heights.collect::<Vec<_>>().join(", or ");
        if !length(way).is_finite() {
            return format!("It sets out for home; it is to fly at {height}.");
        }
        format!(
            "It sets out for home, by its own reckoning {} to the {}, from {}; it is to fly at {height}{}.",
            metres(length(way)),
            direction(way),
            high(row.height_m),
            self.sinks_or_stays(row)
        )
    }

    /// Which guard fired on which value, what it asks, and what follows.
    fn given_up(&self, why: &GivenUp, time_s: f64) -> String {
        let reason = match why {
            GivenUp::NoHome => "There is no home point, so it cannot fly home".into(),
            GivenUp::NoFix => format!("There has been no position fix for {FIX_GRACE_S} s"),
            GivenUp::PoorFix { satellites, hdop } => {
                let has = if hdop.is_finite() {
                    format!("{satellites} satellites and an HDOP of {}", number(*hdop, 1))
                } else {
                    format!("{satellites} satellites and no solution")
                };
                let asked = asked(self.policy, |guards| guards.fix).map(|guard| {
                    format!(
                        ", where at least {} satellites and an HDOP of at most {} are asked for",
                        guard.satellites, guard.hdop
                    )
                });
                format!("The fix guard fires at {has}{}", asked.unwrap_or_default())
            }
            GivenUp::Progress { closing_mps } => {
                let has = if *closing_mps < 0.0 {
                    format!("home moves away at {}", speed(-closing_mps))
                } else {
                    format!("home comes closer at only {}", speed(*closing_mps))
                };
                let asked = asked(self.policy, |guards| guards.progress)
                    .map(|guard| format!(", where {} m/s over {} s is asked for", guard.closing_mps, guard.within_s));
                format!("The progress guard fires: {has}{}", asked.unwrap_or_default())
            }
            GivenUp::Charge { charge_pct } => {
                let asked = asked(self.policy, |guards| guards.reserve_pct);
                let asked = asked.map(|guard| format!(", where {guard} % is asked for"));
                format!("The battery guard fires at {} %{}", number(*charge_pct, 1), asked.unwrap_or_default())
            }
            GivenUp::Time { taken_s } => {
                let asked = asked(self.policy, |guards| guards.at_most_s);
                let asked = asked.map(|guard| format!(", where at most {guard} s are allowed"));
                format!("The duration guard fires after {}{}", span(*taken_s), asked.unwrap_or_default())
            }
            GivenUp::Fence { room_m } => {
                let asked = asked(self.policy, |guards| guards.fence_within_m)
                    .map(|guard| format!(", too near to stop {guard} m inside it"));
                format!("The fence guard fires with {} to the edge{}", metres(*room_m), asked.unwrap_or_default())
            }
            GivenUp::Pack { charge_pct } => format!("The pack demands a landing, at {}", per_cent(*charge_pct)),
        };
        format!("{reason}. {}.", self.follows(time_s))
    }

    /// What the craft does once an action is given up.
    fn follows(&self, time_s: f64) -> &'static str {
        match self.row_from(time_s).map(|row| row.doing) {
            Some(Doing::Land) => "Instead it comes down where it is",
            Some(Doing::Drop) => "Instead it stops the motors",
            Some(Doing::Hold) => "Instead it holds",
            Some(Doing::Return) => "The next action follows: it flies home",
            Some(Doing::CarryOn) => "Instead it flies on with the last commands",
            _ if self.policy.actions.iter().any(|action| action.otherwise == Fallback::Next) => {
                "The next action follows"
            }
            _ => "The fallback follows",
        }
    }

    /// The wind once the height of the way home is reached, where that is another than before.
    fn on_the_way(&self, rows: &[TraceRow]) -> Option<Draft> {
        let start = rows.iter().position(|row| row.doing == Doing::Return)?;
        let [from_s, from_m] = [rows[start].time_s, rows[start].height_m];
        let home = rows[start..].iter().take_while(|row| row.doing == Doing::Return);
        let row = home.into_iter().find(|row| {
            let changed = (row.height_m - from_m).abs() > OTHER_HEIGHT_M;
            changed && row.climb_mps.abs() < LEVEL_MPS && row.time_s - from_s > 1.0
        })?;
        let text = format!(
            "It is {}, where the wind is {} from the {}; it makes {} over the ground.",
            high(row.height_m),
            speed(row.wind_mps),
            direction([-row.wind_to_mps[0], -row.wind_to_mps[1]]),
            speed(row.speed_mps)
        );
        Some(Draft::at(row.time_s, About::Wind, text))
    }

    /// The fix goes and comes.
    fn fix(&self, rows: &[TraceRow]) -> Vec<Draft> {
        let there = |row: &TraceRow| row.believed_m[0].is_finite();
        turns(rows, there, |row, back| {
            let text = if back {
                format!(
                    "The fix is back, {}; it is {} off.",
                    by_satellites(row.satellites, row.hdop),
                    metres(row.fix_error_m)
                )
            } else {
                format!("The position fix is gone, with {} satellites in view.", row.satellites)
            };
            Draft::at(row.time_s, About::Fix, text)
        })
    }

    /// It crosses the edge of the permitted area.
    fn area(&self, rows: &[TraceRow]) -> Vec<Draft> {
        turns(
            rows,
            |row| row.inside,
            |row, back| {
                let text = if back {
                    "It is inside the permitted area again.".into()
                } else {
                    format!("It leaves the permitted area, {}, {}.", self.where_from_home(row), high(row.height_m))
                };
                Draft::at(row.time_s, About::Area, text)
            },
        )
    }

    /// It rises above the permitted height.
    fn ceiling(&self, rows: &[TraceRow]) -> Option<Draft> {
        let ceiling_m = self.world.scenario.site.ceiling_m;
        let above = |row: &TraceRow| row.height_m > ceiling_m;
        let pair = rows.windows(2).find(|pair| !above(&pair[0]) && above(&pair[1]))?;
        let highest_m = rows.iter().map(|row| row.height_m).fold(f64::NEG_INFINITY, f64::max);
        let text = format!("It rises above the permitted {}, up to {}.", metres(ceiling_m), high(highest_m));
        Some(Draft::at(pair[1].time_s, About::Area, text))
    }

    /// The pilot's transmitter hears the craft, or no longer.
    fn telemetry(&self, rows: &[TraceRow]) -> Vec<Draft> {
        if self.world.scenario.radio.telemetry.is_none() {
            return Vec::new();
        }
        turns(
            rows,
            |row| row.telemetry_up,
            |row, back| {
                let text = if back {
                    "The pilot's transmitter receives telemetry from the craft again."
                } else {
                    "The pilot's transmitter no longer receives telemetry from the craft."
                };
                Draft::at(row.time_s, About::Telemetry, text)
            },
        )
    }

    /// How closely it passes over what stands on the way home, under the policy and in the pilot's hands. Where a way ended in a
    /// strike, that is told at the end.
    fn clearance(&self, rows: &[TraceRow], ending: &Ending) -> Vec<Draft> {
        let ends = rows.last().filter(|_| ending.manner == Manner::Strike).map(|row| row.doing);
        let ways = [
            (Doing::Return, "At its closest on the way home,"),
            (Doing::TakenOver, "At its closest in the pilot's hands,"),
        ];
        let told = |(doing, when): (Doing, &str)| {
            let closest = closest(self.world, rows, doing).filter(|_| ends != Some(doing))?;
            Some(Draft::at(closest.row.time_s, About::Clearance, closest.in_words(self.world, when)))
        };
        ways.into_iter().filter_map(told).collect()
    }

    /// Where the pilot gets it, and what the policy has done until then.
    fn takes_over(&self, time_s: f64, row: &TraceRow) -> String {
        let away_m = |row: &TraceRow| rounded_m(length(between(self.home_m, level(row.place_m))));
        let mut text = format!(
            "The pilot takes over, with the craft {}, {}, and flies it from here on.",
            self.where_from_home(row),
            high(row.height_m)
        );
        let lost =
            self.trace.events.iter().rev().find(|happened| {
                happened.time_s < time_s && matches!(happened.event, Event::Lost(_) | Event::LostAgain)
            });
        if let Some(then) = lost.and_then(|lost| self.trace.at(lost.time_s)) {
            let [was_m, is_m] = [then, row].map(away_m);
            let by_m = rounded(was_m - is_m, 1);
            let by = format!("{} m", number(by_m.abs(), usize::from(was_m.min(is_m) < 9.95)));
            text += &match by_m {
                by_m if by_m.abs() < 1.0 => {
                    " Since the loss the policy has brought it no closer to the take-off spot.".into()
                }
                by_m if by_m > 0.0 => {
                    format!(" Since the loss the policy has brought it {} closer to the take-off spot.", by)
                }
                _ => format!(" Since the loss it has come {by} farther from the take-off spot under the policy."),
            };
        }
        text
    }

    /// Those whom it passed over or close to, with the margins around them.
    fn whom_it_passed(&self) -> Vec<String> {
        let site = &self.world.scenario.site;
        let names = site.zone_names();
        let from_s = self.trace.lost_at_s.unwrap_or(0.0);
        let rows = &self.trace.rows[self.trace.rows.partition_point(|row| row.time_s < from_s)..];
        // Between two rows it may have passed a corner.
        let places = rows.windows(2).flat_map(|pair| {
            let [from, to] = [0, 1].map(|end: usize| level(pair[end].place_m));
            (0..=BETWEEN_ROWS).map(move |k| {
                let share = f64::from(k) / f64::from(BETWEEN_ROWS);
                [0, 1].map(|axis: usize| from[axis] + share * (to[axis] - from[axis]))
            })
        });
        let mut passed: Vec<u16> = places
            .flat_map(|[x, y]| self.world.grid.zones_at(x, y))
            .filter(|at| at.kind == ZoneKind::People && self.presence.of(at.zone))
            .map(|at| at.zone)
            .collect();
        passed.sort_unstable();
        passed.dedup();
        let one = |at: u16| {
            let zone = site.zones.get(usize::from(at))?;
            let whose = if zone.whose == Whose::Crew { "the crew" } else { "others" };
            let name = named(&[names.get(usize::from(at))?.as_str()]);
            Some(format!("{whose} at {name}, with a margin of {}", metres(zone.margin_m)))
        };
        passed.into_iter().filter_map(one).collect()
    }

    /// Why a strike came about on the way home, and how far a fall went.
    fn how_so(&self, ending: &Ending, row: &TraceRow) -> String {
        let began = |doing: Doing| {
            let mut begun = self.trace.events.iter().rev();
            let begun = begun.find(|happened| happened.event == Event::Begins(doing))?;
            self.row_from(begun.time_s)
        };
        match ending.manner {
            Manner::Fall => began(Doing::Drop).map_or(String::new(), |from| self.drift(from, row)),
            Manner::Strike => match (Standing::at(self.world, level(row.place_m)), self.struck(ending, row).above) {
                (Some(standing), true) => {
                    let set_out = began(Doing::Return).filter(|_| row.doing == Doing::Return);
                    self.why_so_low(&standing, set_out, row)
                }
                _ => String::new(),
            },
            _ => String::new(),
        }
    }

    /// How far it has gone without its motors.
    fn drift(&self, from: &TraceRow, row: &TraceRow) -> String {
        let way = between(level(from.place_m), level(row.place_m));
        if length(way) < 1.0 {
            return " It has fallen straight down.".into();
        }
        format!(
            " On the way down it has gone {} to the {}, with the speed of {} that it had and a wind of {} from the {}.",
            metres(length(way)),
            direction(way),
            speed(from.speed_mps),
            speed(from.wind_mps),
            direction([-from.wind_to_mps[0], -from.wind_to_mps[1]])
        )
    }

    /// How high what it struck is, there and farther on, and how the way home came to be lower.
    fn why_so_low(&self, standing: &Standing, set_out: Option<&TraceRow>, row: &TraceRow) -> String {
        let mut text = format!(" {}", sentence(&standing.reaches()));
        let mut heights = self.policy.actions.iter().filter_map(|action| match &action.kind {
            ActionKind::Return { height, .. } => Some(*height),
            _ => None,
        });
        let (Some(from), Some(height)) = (set_out, heights.next_back()) else { return text + "." };
        let farther_on_m = highest_between(self.world, level(row.place_m), self.home_m);
        let [from_m, is_m, top_m] =
            [from.height_m, row.height_m, farther_on_m.max(standing.top_m)].map(|value_m| rounded(value_m, 1));
        if top_m > rounded(standing.top_m, 1) {
            text += &format!(
                "; on the straight line from there to the take-off spot the highest top is at {} m",
                number(top_m, 1)
            );
        }
        if height.may_sink && from_m > is_m + 1.0 {
            text += &format!(
                ". It had come down from {} m because its way home is flown at {}, not at that height or higher",
                number(from_m, 1),
                height.in_words()
            );
            if from_m > top_m {
                text += &format!(
                    "; at {} m it would have been {} m over the highest of them",
                    number(from_m, 1),
                    number(from_m - top_m, 1)
                );
            }
        } else {
            text += &format!(". Its way home is flown at {}", height.in_words());
        }
        text + "."
    }

    /// It comes over people.
    fn over_people(&self, rows: &[TraceRow]) -> Vec<Draft> {
        let Some((_, aloft)) = rows.split_last() else { return Vec::new() };
        let names = self.world.scenario.site.zone_names();
        turns(
            aloft,
            |row| row.people_m != 0.0,
            |row, left| {
                let name = row.people_zone.and_then(|zone| names.get(usize::from(zone))).map_or("", String::as_str);
                let text = if left {
                    "It is no longer over people.".into()
                } else {
                    format!("It comes over \"{name}\", where people are, {}.", high(row.height_m))
                };
                Draft::at(row.time_s, About::People, text)
            },
        )
    }

    fn end(&self, ending: &Ending, end_s: f64) -> Vec<Draft> {
        if ending.flags.has(Flags::FAULT) {
            let text = "The simulation broke off with a numerical fault: this is no ending.";
            return vec![Draft::at(end_s, About::End, text)];
        }
        let Some(row) = self.trace.rows.last() else { return Vec::new() };
        let after = span_between(self.trace.lost_at_s.unwrap_or(end_s), end_s);
        let more = self.how_so(ending, row);
        let text =
            format!("{}, {after} after the loss.{more} Outcome: {}.", self.touch(ending, row), self.trace.headline);
        let mut told = vec![Draft::at(end_s, About::End, text)];
        if ending.manner != Manner::StillUp {
            told.push(Draft::at(end_s, About::Near, self.near(ending, row)));
        }
        told.push(Draft::at(end_s, About::After, self.after(ending, row)));
        told.push(Draft::at(end_s, About::Guards, guards(self.policy, self.trace)));
        told
    }

    /// How it touched, where and how fast.
    fn touch(&self, ending: &Ending, row: &TraceRow) -> String {
        let place = self.where_from_home(row);
        let speed = speed(f64::from(ending.impact_speed_mps));
        let what = self.struck(ending, row);
        match ending.manner {
            Manner::SetDown if row.doing == Doing::TakenOver => {
                format!("The pilot sets it down softly on {what}, {place}, at {speed}")
            }
            Manner::SetDown => format!("It sets down softly on {what}, {place}, at {speed}"),
            Manner::HardLanding => format!("It lands hard on {what}, {place}, at {speed}"),
            Manner::TippedOver => format!("It lands on {what} and tips over, {place}, at {speed}"),
            Manner::Fall => format!("It falls onto {what}, {place}, at {speed}"),
            Manner::Strike if what.above => {
                format!("It strikes {what}, {place}, {}, at {speed}", high_to(row.height_m, 1))
            }
            Manner::Strike => format!("It strikes {what}, {place}, at {speed}"),
            Manner::RanDry => format!("Its pack spent, it comes down on {what}, {place}, at {speed}"),
            Manner::StillUp => {
                format!("It is still in the air when the clock runs out, {place}, {}", high(row.height_m))
            }
        }
    }

    /// What it touched.
    fn struck(&self, ending: &Ending, row: &TraceRow) -> Touched {
        let [x, y, z] = row.place_m;
        // Half a metre: a touch of the ground lies on it.
        if z > self.world.grid.ground_m(x, y) + 0.5 {
            let standing = Standing::at(self.world, [x, y]);
            let what = standing.map_or("something that stands there".into(), |standing| standing.what);
            return Touched { what, above: true };
        }
        let what = match ending.ground {
            Ground::Home => "the ground at home",
            Ground::Clear => "open ground",
            Ground::Rough => "rough ground",
            Ground::Trees => "trees",
            Ground::Water => "water",
            Ground::Road => "a road in use",
            Ground::Property => "property of others",
            Ground::Outside => "ground outside the permitted area",
        };
        Touched { what: what.into(), above: false }
    }

    /// Who was near, and with what energy it came.
    fn near(&self, ending: &Ending, row: &TraceRow) -> String {
        let below_j = f64::from(ending.energy_below_j);
        let site = &self.world.scenario.site;
        let mut text = format!("Its energy at contact is {}", energy(f64::from(ending.impact_energy_j)));
        if below_j > f64::from(ending.impact_energy_j) + 0.5 {
            text += &format!("; it could reach the ground with {}", energy(below_j));
        }
        text += ".";
        text += &match nearest(self.world, row) {
            Some(near) => format!(" {}.", near.replace("Below it are", "There it meets")),
            None if site.zones.iter().any(|zone| zone.kind == ZoneKind::People) => {
                " Nobody is in any of the marked places.".into()
            }
            None => " The scenario marks no places with people.".into(),
        };
        if let Some((name, distance_m)) = self.empty_place(row) {
            text += &match distance_m {
                d if d > 0.0 => format!(" \"{name}\", {} away, happens to be empty.", metres(d)),
                _ => format!(" \"{name}\", where it lies, happens to be empty."),
            };
        }
        if ending.over_people_s > 0.0 {
            let whom = self.whom_it_passed();
            text += &format!(
                " On the way it was over people, or within the margin around them, for {}{}{}.",
                span(f64::from(ending.over_people_s)),
                if whom.is_empty() { "" } else { ": " },
                list(&whom)
            );
        }
        text
    }

    /// The nearest place of people with nobody in it, when it is near and nearer than people are.
    fn empty_place(&self, row: &TraceRow) -> Option<(String, f64)> {
        let site = &self.world.scenario.site;
        let zones = site.zones.iter().zip(site.zone_names()).filter(|(zone, _)| zone.kind == ZoneKind::People);
        let away = zones.map(|(zone, name)| (name, zone.area.distance_m(level(row.place_m))));
        away.min_by(|a, b| a.1.total_cmp(&b.1)).filter(|(_, distance_m)| {
            let people_m = if row.people_m.is_nan() { f64::INFINITY } else { row.people_m };
            *distance_m <= EMPTY_WITHIN_M && *distance_m < people_m
        })
    }

    /// What is left: belief against truth, pack, and whether the craft can still be heard.
    fn after(&self, ending: &Ending, row: &TraceRow) -> String {
        let mut text = format!("The pack still holds {}.", per_cent(f64::from(ending.pack_left_pct)));
        if row.believed_m[0].is_finite() && ending.manner != Manner::StillUp {
            let off_m = length(between(level(row.place_m), row.believed_m));
            let up_m = row.believed_height_m - row.height_m;
            let height = match up_m {
                up_m if up_m.abs() < 0.05 => "its height estimate right".into(),
                up_m if up_m < 0.0 => format!("its height estimate {} too low", metres(-up_m)),
                up_m => format!("its height estimate {} too high", metres(up_m)),
            };
            text += &format!(" Its position estimate is {} off and {height}.", metres(off_m));
        } else if ending.manner != Manner::StillUp {
            text += " It has no fix, so it cannot tell where it lies.";
        }
        if self.world.scenario.radio.telemetry.is_some() {
            text += if row.telemetry_up {
                " Just before the end the pilot's transmitter still receives its telemetry."
            } else {
                " Just before the end the pilot's transmitter receives no telemetry from it."
            };
        }
        text
    }
}

/// What was touched, and whether it stands above the ground.
struct Touched {
    what: String,
    above: bool,
}

impl std::fmt::Display for Touched {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.what)
    }
}

/// Turns of something that is there or not: at each the row, and whether it came. After some of them only how many there were more.
fn turns(rows: &[TraceRow], there: impl Fn(&TraceRow) -> bool, tell: impl Fn(&TraceRow, bool) -> Draft) -> Vec<Draft> {
    let pairs = rows.windows(2).filter(|pair| there(&pair[0]) != there(&pair[1]));
    let turned: Vec<&TraceRow> = pairs.map(|pair| &pair[1]).collect();
    let mut told: Vec<Draft> = turned.iter().take(2 * TOLD_TIMES).map(|row| tell(row, there(row))).collect();
    let more = turned.iter().skip(2 * TOLD_TIMES).filter(|row| !there(row)).count();
    if let Some(last) = told.last_mut().filter(|_| more > 0) {
        last.text += &format!(" The same happens {more} more {}.", if more == 1 { "time" } else { "times" });
    }
    told
}
