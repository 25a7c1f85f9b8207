//! Policies as data: actions, guards, fallback.

/// A named chain of actions.
#[derive(Debug, Clone, PartialEq)]
pub struct Policy {
    /// Name shown in every table and figure.
    pub name: String,
    /// The actions, in order. The last one ends the flight; [`Policy::check`] holds it to that.
    pub actions: Vec<Action>,
}

/// One action with what must hold for it to go on.
#[derive(Debug, Clone, PartialEq)]
pub struct Action {
    /// What the craft does.
    pub kind: ActionKind,
    /// What must hold meanwhile.
    pub guards: Guards,
    /// What it does when a guard fails or the action is impossible.
    pub otherwise: Fallback,
    /// When it came down for want of a fix: the time with a good fix after which it takes the action up again;
    /// `None`: never.
    pub resumes_after_s: Option<f64>,
}

/// What the craft does.
#[derive(Debug, Clone, PartialEq)]
pub enum ActionKind {
    /// Stays where it is; without a fix it holds level and drifts.
    Hold {
        /// How long, then the next action follows.
        for_s: f64,
    },
    /// Comes down where it is.
    Land {
        /// Sink speed aloft; `None`: the craft's descent limit.
        sink_mps: Option<f64>,
    },
    /// Flies to the home point and comes down there.
    Return {
        /// Height of the way home.
        height: ReturnHeight,
        /// Speed over ground aimed for; `None`: the craft's cruise speed.
        speed_mps: Option<f64>,
        /// Horizontal distance from the home point at which it starts to come down.
        home_circle_m: f64,
        /// Whether it reaches its height before it starts home (else it climbs on the way).
        climbs_before: bool,
        /// Within this distance of home it does not climb to its height first; 0: it always does.
        level_within_m: f64,
    },
    /// Stops the motors.
    Drop,
    /// Nothing is set: the last commands stay, whatever they were.
    CarryOn {
        /// How long, then the next action follows; `None`: until the pack or the ground ends it.
        for_s: Option<f64>,
    },
}

/// How high the way home is flown: from what the height is measured, and whether the craft may sink to it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ReturnHeight {
    /// From what it is measured.
    pub from: HeightFrom,
    /// How far above that.
    pub up_m: f64,
    /// Whether the craft comes down to it when it is higher; else it stays up.
    pub may_sink: bool,
}

/// From what the height of a way home is measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum HeightFrom {
    /// The home point.
    Home,
    /// The height it has when the return starts.
    Here,
    /// The highest point flown so far.
    Path,
    /// The ground below, known from a terrain table on board.
    Ground,
}

impl ReturnHeight {
    /// The height it has.
    pub fn here() -> ReturnHeight {
        ReturnHeight { from: HeightFrom::Here, up_m: 0.0, may_sink: false }
    }

    /// Above home, or higher when it is higher.
    pub fn at_least_m(up_m: f64) -> ReturnHeight {
        ReturnHeight { from: HeightFrom::Home, up_m, may_sink: false }
    }

    /// Above home, whether it has to climb or to sink.
    pub fn exactly_m(up_m: f64) -> ReturnHeight {
        ReturnHeight { from: HeightFrom::Home, up_m, may_sink: true }
    }

    /// Above the highest point flown.
    pub fn above_path_m(up_m: f64) -> ReturnHeight {
        ReturnHeight { from: HeightFrom::Path, up_m, may_sink: false }
    }

    /// Above the ground below, up and down with it.
    pub fn above_ground_m(up_m: f64) -> ReturnHeight {
        ReturnHeight { from: HeightFrom::Ground, up_m, may_sink: true }
    }

    /// The height to fly at, all heights measured from one level: where the return starts, the home point, the highest
    /// point flown, the ground below.
    pub fn level_m(&self, here_m: f64, home_m: f64, highest_m: f64, ground_m: f64) -> f64 {
        let base_m = match self.from {
            HeightFrom::Home => home_m,
            HeightFrom::Here => here_m,
            HeightFrom::Path => highest_m,
            HeightFrom::Ground => ground_m,
        };
        let level_m = base_m + self.up_m;
        if self.may_sink { level_m } else { level_m.max(here_m) }
    }

    /// In words, as what is flown at.
    pub fn in_words(&self) -> String {
        let up_m = self.up_m;
        let stays = if self.may_sink { "" } else { " or higher" };
        match self.from {
            HeightFrom::Home => format!("{up_m} m above home{stays}"),
            HeightFrom::Here if up_m == 0.0 => "the height it has".into(),
            HeightFrom::Here => format!("{up_m} m above where it is"),
            HeightFrom::Path => format!("{up_m} m above the highest point flown"),
            HeightFrom::Ground => format!("{up_m} m above the ground below{stays}"),
        }
    }
}

/// Conditions under which an action goes on.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Guards {
    /// Enough satellites, good enough geometry.
    pub fix: Option<FixGuard>,
    /// Gets closer to home.
    pub progress: Option<ProgressGuard>,
    /// Least state of charge that is kept, per cent.
    pub reserve_pct: Option<f64>,
    /// Longest time in this action.
    pub at_most_s: Option<f64>,
    /// Least room to the fence where the craft would come to a stop, as far as it knows where it is.
    pub fence_within_m: Option<f64>,
}

/// Enough satellites and good enough geometry.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FixGuard {
    /// Fewest satellites.
    pub satellites: u32,
    /// Greatest HDOP.
    pub hdop: f64,
}

impl FixGuard {
    /// Whether so many satellites with such a geometry pass.
    pub fn passes(&self, satellites: u32, hdop: f64) -> bool {
        satellites >= self.satellites && hdop <= self.hdop
    }
}

/// The distance to home shrinks.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ProgressGuard {
    /// Least closing speed.
    pub closing_mps: f64,
    /// Averaged over this time.
    pub within_s: f64,
}

/// What follows when a guard fails or the action is impossible.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Fallback {
    /// Comes down where it is.
    #[default]
    Land,
    /// Stops the motors.
    Drop,
    /// Goes on with the next action of the chain.
    Next,
}

/// Why a policy is refused.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum PolicyError {
    /// No action at all.
    #[error("the policy has no action")]
    Empty,
    /// The last action does not bring the craft down.
    #[error("the chain can never end: its last action is `{0}`; end it with `land`, `drop`, `return` or `carry_on`")]
    NeverEnds(&'static str),
    /// A fallback `next` with nothing after it.
    #[error("action {0} falls back to the next action, but there is none; use `land` or `drop`")]
    NothingNext(usize),
    /// Actions after one that always ends the flight.
    #[error("action {0} is never reached: `{1}` before it ends the flight")]
    NeverReached(usize, &'static str),
}

impl ActionKind {
    /// The action's word.
    pub fn word(&self) -> &'static str {
        match self {
            ActionKind::Hold { .. } => "hold",
            ActionKind::Land { .. } => "land",
            ActionKind::Return { .. } => "return",
            ActionKind::Drop => "drop",
            ActionKind::CarryOn { .. } => "carry_on",
        }
    }

    /// How long it takes before the next action of the chain follows by itself; `None`: nothing follows by itself.
    fn lasts_s(&self) -> Option<f64> {
        match self {
            ActionKind::Hold { for_s } => Some(*for_s),
            ActionKind::CarryOn { for_s } => *for_s,
            ActionKind::Land { .. } | ActionKind::Drop | ActionKind::Return { .. } => None,
        }
    }

    /// How long it keeps its place before the next action follows.
    pub fn waits_s(&self) -> f64 {
        match self {
            ActionKind::CarryOn { .. } => 0.0,
            _ => self.lasts_s().unwrap_or(0.0),
        }
    }
}

impl Policy {
    /// Checks that the chain ends and that every action can be reached.
    ///
    /// # Errors
    /// The first problem, with the action's place counted from 1.
    pub fn check(&self) -> Result<(), PolicyError> {
        let last = self.actions.last().ok_or(PolicyError::Empty)?;
        for (index, action) in self.actions.iter().enumerate() {
            let more = index + 1 < self.actions.len();
            if action.otherwise == Fallback::Next && !more {
                return Err(PolicyError::NothingNext(index + 1));
            }
            let always_down = matches!(action.kind, ActionKind::Land { .. } | ActionKind::Drop);
            let ends = action.kind.lasts_s().is_none() && (always_down || action.otherwise != Fallback::Next);
            if ends && more {
                return Err(PolicyError::NeverReached(index + 2, action.kind.word()));
            }
        }
        if last.kind.lasts_s().is_some() { Err(PolicyError::NeverEnds(last.kind.word())) } else { Ok(()) }
    }

    /// The chain in plain words, for tables and the site card.
    pub fn in_words(&self) -> String {
        let mut parts: Vec<String> = Vec::new();
        for action in &self.actions {
            let mut text = match &action.kind {
                ActionKind::Hold { for_s } => format!("hold for {for_s} s"),
                ActionKind::Land { sink_mps: None } => "land where it is".into(),
                ActionKind::Land { sink_mps: Some(sink) } => format!("land where it is at {sink} m/s"),
                ActionKind::CarryOn { for_s: None } => "fly on with the last commands".into(),
                ActionKind::CarryOn { for_s: Some(for_s) } => format!("fly on with the last commands for {for_s} s"),
                ActionKind::Return { height, speed_mps, home_circle_m, climbs_before, level_within_m } => {
                    let mut text = format!("return home at {}", height.in_words());
                    if let Some(speed) = speed_mps {
                        text += &format!(", at {speed} m/s");
                    }
                    if !climbs_before {
                        text += ", climbing on the way";
                    }
                    if *level_within_m > 0.0 {
                        text += &format!(", without a climb within {level_within_m} m of home");
                    }
                    text + &format!(", starting down within {home_circle_m} m of home")
                }
                ActionKind::Drop => "stop the motors".into(),
            };
            let guards = &action.guards;
            let goes_home = matches!(action.kind, ActionKind::Return { .. });
            let mut held: Vec<String> = Vec::new();
            if goes_home && guards.fix.is_none() && *guards != Guards::default() {
                held.push("it has a fix and a home point".into());
            }
            if let Some(g) = guards.fix {
                held.push(format!("it has at least {} satellites and an HDOP of at most {}", g.satellites, g.hdop));
            }
            if let Some(g) = guards.progress {
                held.push(format!("it closes on home at {} m/s or more over {} s", g.closing_mps, g.within_s));
            }
            if let Some(reserve_pct) = guards.reserve_pct {
                held.push(format!("{reserve_pct} % of the charge or more is left"));
            }
            if let Some(at_most_s) = guards.at_most_s {
                held.push(format!("it takes no longer than {at_most_s} s"));
            }
            if let Some(within_m) = guards.fence_within_m {
                held.push(format!("it stays {within_m} m inside the fence"));
            }
            let fallback = match action.otherwise {
                Fallback::Land => "land",
                Fallback::Drop => "stop the motors",
                Fallback::Next => "go on to the next action",
            };
            let resumes = action.resumes_after_s.filter(|_| action.otherwise == Fallback::Land);
            let again = resumes.map_or(String::new(), |after_s| {
                format!("fly home after all once the fix has been good again for {after_s} s")
            });
            let (but, only) = match resumes {
                Some(_) => (", but ", "; if that was for want of a fix, "),
                None => ("", ""),
            };
            if !held.is_empty() {
                text += &format!(" (as long as {}; otherwise {fallback}{only}{again})", held.join(", and "));
            } else if goes_home {
                text += &format!(" (without a fix or a home point: {fallback}{but}{again})");
            }
            parts.push(text);
        }
        parts.join(", then ")
    }

    /// Whether it ever flies home.
    pub fn returns(&self) -> bool {
        self.actions.iter().any(|action| matches!(action.kind, ActionKind::Return { .. }))
    }

    /// Whether any action heeds the fence.
    pub fn heeds_fence(&self) -> bool {
        self.actions.iter().any(|action| action.guards.fence_within_m.is_some())
    }

    /// The policy with every return flown at this height, measured from what it was and with all else as it was, for sweeps;
    /// `None` when no action returns.
    pub fn with_height(&self, height_m: f64) -> Option<Policy> {
        let mut changed = self.clone();
        let mut found = false;
        for action in &mut changed.actions {
            if let ActionKind::Return { height, .. } = &mut action.kind {
                height.up_m = height_m;
                found = true;
            }
        }
        found.then_some(changed)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn action(kind: ActionKind, otherwise: Fallback) -> Action {
        Action { kind, guards: Guards::default(), otherwise, resumes_after_s: None }
    }

    /// A chain in words says when a way home is taken up again.
    #[test]
    fn words_tell_when_the_way_home_is_taken_up_again() {
        let kind = ActionKind::Return {
            height: ReturnHeight::at_least_m(40.0),
            speed_mps: None,
            home_circle_m: 10.0,
            climbs_before: true,
            level_within_m: 0.0,
        };
        let words = |resumes_after_s| {
            let home = Action { resumes_after_s, ..action(kind.clone(), Fallback::Land) };
            Policy { name: "p".into(), actions: vec![home] }.in_words()
        };
        let plain = "return home at 40 m above home or higher, starting down within 10 m of home (without a fix or a home point: land";
        assert_eq!(words(None), format!("{plain})"));
        assert_eq!(
            words(Some(3.0)),
            format!("{plain}, but fly home after all once the fix has been good again for 3 s)")
        );
    }

    #[test]
    fn endless_and_unreachable_chains_are_refused() {
        let policy = |actions| Policy { name: "p".into(), actions };
        let hold = || action(ActionKind::Hold { for_s: 3.0 }, Fallback::Land);
        let land = || action(ActionKind::Land { sink_mps: None }, Fallback::Land);
        assert_eq!(policy(vec![]).check(), Err(PolicyError::Empty));
        assert_eq!(policy(vec![hold()]).check(), Err(PolicyError::NeverEnds("hold")));
        assert_eq!(policy(vec![hold(), land()]).check(), Ok(()));
        assert_eq!(policy(vec![land(), hold()]).check(), Err(PolicyError::NeverReached(2, "land")));
        let home = |otherwise| {
            let height = ReturnHeight::at_least_m(40.0);
            let kind = ActionKind::Return {
                height,
                speed_mps: None,
                home_circle_m: 10.0,
                climbs_before: true,
                level_within_m: 0.0,
            };
            action(kind, otherwise)
        };
        let on = |for_s| action(ActionKind::CarryOn { for_s }, Fallback::Land);
        assert_eq!(policy(vec![on(None)]).check(), Ok(()));
        assert_eq!(policy(vec![on(Some(5.0))]).check(), Err(PolicyError::NeverEnds("carry_on")));
        assert_eq!(policy(vec![on(None), land()]).check(), Err(PolicyError::NeverReached(2, "carry_on")));
        assert_eq!(policy(vec![home(Fallback::Next)]).check(), Err(PolicyError::NothingNext(1)));
        assert_eq!(policy(vec![home(Fallback::Next), hold(), land()]).check(), Ok(()));
    }
}
