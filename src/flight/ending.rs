//! How a flight ended.

use serde::{Deserialize, Serialize};

/// How the craft came down.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Manner {
    /// Softly, upright.
    SetDown,
    /// Upright, but hard.
    HardLanding,
    /// Landed and tipped over: drift, slope or rough ground.
    TippedOver,
    /// Fell without thrust, as told.
    Fall,
    /// Flew into something, or hit the ground harder than any landing.
    Strike,
    /// Lost lift because the pack was empty, then fell.
    RanDry,
    /// Was still flying when the clock ran out.
    StillUp,
}

impl Manner {
    /// All, in their order.
    pub const ALL: [Manner; 7] = [
        Manner::SetDown,
        Manner::HardLanding,
        Manner::TippedOver,
        Manner::Fall,
        Manner::Strike,
        Manner::RanDry,
        Manner::StillUp,
    ];
}

/// What it came down on, apart from whoever was there.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Ground {
    /// Within the home radius of the take-off spot.
    Home,
    /// Open ground.
    #[default]
    Clear,
    /// Rough ground.
    Rough,
    /// The crowns of trees.
    Trees,
    /// Water.
    Water,
    /// A road in use.
    Road,
    /// Property of others.
    Property,
    /// Outside the permitted area.
    Outside,
}

impl Ground {
    /// All, in their order.
    pub const ALL: [Ground; 8] = [
        Ground::Home,
        Ground::Clear,
        Ground::Rough,
        Ground::Trees,
        Ground::Water,
        Ground::Road,
        Ground::Property,
        Ground::Outside,
    ];
}

/// The one headline outcome of a flight, worst first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Headline {
    /// Came down hard where others were.
    HardAmongOthers,
    /// Came down on a road in use.
    OnRoad,
    /// Came down gently where others were.
    AmongOthers,
    /// Came down hard where the crew was.
    HardAmongCrew,
    /// Left the permitted area, whatever came later.
    LeftArea,
    /// Came down on property of others.
    OnProperty,
    /// Struck something, the ground included, faster than any landing.
    Struck,
    /// The pack ran out in the air.
    RanDry,
    /// Came down in water.
    InWater,
    /// Came down in the crowns of trees.
    InTrees,
    /// Fell onto open ground.
    Fell,
    /// Came down on rough ground, hard, or tipped over.
    RoughOrHard,
    /// Landed on clear ground, not at home.
    ClearElsewhere,
    /// Landed at home.
    AtHome,
    /// The pilot got it back and flew it home.
    PilotBack,
    /// The clock ran out, or the simulation faulted.
    NotSettled,
}

/// What an ending does to whom, worst first. The rule is told at [`Facts`](super::Facts).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Tier {
    /// Came down hard where others were, or on a road in use.
    Grave,
    /// Came down gently where others were, or hard where the crew was.
    Danger,
    /// Left the permitted area, or came down on property of others.
    Trespass,
    /// Craft lost.
    CraftLost,
    /// Craft at risk.
    CraftAtRisk,
    /// Ended fine.
    Fine,
    /// Not settled.
    NotSettled,
}

/// A headline with what is said of it: the one list of words for code, pages and files.
struct Named {
    headline: Headline,
    tier: Tier,
    /// In JSON, CSV and scenario files.
    word: &'static str,
    /// In tables and figures.
    label: &'static str,
}

const fn named(headline: Headline, tier: Tier, word: &'static str, label: &'static str) -> Named {
    Named { headline, tier, word, label }
}

/// All headlines, worst first.
const NAMED: [Named; 16] = [
    named(Headline::HardAmongOthers, Tier::Grave, "hard-among-others", "came down hard among others"),
    named(Headline::OnRoad, Tier::Grave, "on-road", "came down on a road in use"),
    named(Headline::AmongOthers, Tier::Danger, "among-others", "came down gently among others"),
    named(Headline::HardAmongCrew, Tier::Danger, "hard-among-crew", "came down hard among the crew"),
    named(Headline::LeftArea, Tier::Trespass, "left-area", "left the permitted area"),
    named(Headline::OnProperty, Tier::Trespass, "on-property", "came down on property"),
    named(Headline::Struck, Tier::CraftLost, "struck", "struck something at speed"),
    named(Headline::RanDry, Tier::CraftLost, "ran-dry", "pack ran out in the air"),
    named(Headline::InWater, Tier::CraftLost, "in-water", "came down in water"),
    named(Headline::InTrees, Tier::CraftLost, "in-trees", "came down in trees"),
    named(Headline::Fell, Tier::CraftLost, "fell", "fell onto open ground"),
    named(Headline::RoughOrHard, Tier::CraftAtRisk, "rough-or-hard", "rough, hard or tipped landing"),
    named(Headline::ClearElsewhere, Tier::Fine, "clear-elsewhere", "landed clear elsewhere"),
    named(Headline::AtHome, Tier::Fine, "at-home", "landed at home"),
    named(Headline::PilotBack, Tier::Fine, "pilot-back", "pilot got it back"),
    named(Headline::NotSettled, Tier::NotSettled, "not-settled", "not settled"),
];

impl Headline {
    /// All, worst first.
    pub const ALL: [Headline; NAMED.len()] = {
        let mut all = [Headline::NotSettled; NAMED.len()];
        let mut i = 0;
        while i < NAMED.len() {
            all[i] = NAMED[i].headline;
            i += 1;
        }
        all
    };

    /// Words for tables and figures.
    pub fn label(self) -> &'static str {
        NAMED[self.index()].label
    }

    /// The word used in JSON, CSV and scenario files.
    pub fn word(self) -> &'static str {
        NAMED[self.index()].word
    }

    /// What the headline means for people and for the craft.
    pub fn tier(self) -> Tier {
        NAMED[self.index()].tier
    }

    /// Its place in [`Headline::ALL`].
    pub fn index(self) -> usize {
        self as usize
    }
}

impl Tier {
    /// All, worst first.
    pub const ALL: [Tier; 7] =
        [Tier::Grave, Tier::Danger, Tier::Trespass, Tier::CraftLost, Tier::CraftAtRisk, Tier::Fine, Tier::NotSettled];

    /// Words for tables and figures.
    pub fn label(self) -> &'static str {
        match self {
            Tier::Grave => "grave danger to people",
            Tier::Danger => "danger to people",
            Tier::Trespass => "trespass",
            Tier::CraftLost => "craft lost",
            Tier::CraftAtRisk => "craft at risk",
            Tier::Fine => "ended fine",
            Tier::NotSettled => "not settled",
        }
    }
}

/// Things that happened on the way; they may overlap, so they do not add to 100 %.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Flags(pub u32);

impl Flags {
    /// Left the permitted area.
    pub const LEFT_AREA: Flags = Flags(1);
    /// Left it although the craft did as its policy says (else: control, fix or heading had failed).
    pub const LEFT_OBEYING: Flags = Flags(1 << 1);
    /// Entered the margin inside the fence.
    pub const ENTERED_MARGIN: Flags = Flags(1 << 2);
    /// Rose above the permitted height.
    pub const ABOVE_CEILING: Flags = Flags(1 << 3);
    /// Flew over people.
    pub const OVER_PEOPLE: Flags = Flags(1 << 4);
    /// Lost the position fix.
    pub const FIX_LOST: Flags = Flags(1 << 5);
    /// Used the pack below the reserve.
    pub const RESERVE_USED: Flags = Flags(1 << 6);
    /// A guard failed and the fallback ran.
    pub const FELL_BACK: Flags = Flags(1 << 7);
    /// Had no home point.
    pub const NO_HOME: Flags = Flags(1 << 8);
    /// The pilot took over at least once.
    pub const PILOT_TOOK_OVER: Flags = Flags(1 << 9);
    /// Sank through its own wake (vortex-ring exposure).
    pub const VORTEX_RING: Flags = Flags(1 << 10);
    /// The simulation faulted.
    pub const FAULT: Flags = Flags(1 << 11);
    /// The link was declared lost more than once.
    pub const LOST_AGAIN: Flags = Flags(1 << 12);
    /// A low pack acted instead of the policy.
    pub const PACK_ACTED: Flags = Flags(1 << 13);
    /// A way home given up for want of a fix was taken up again.
    pub const TAKEN_UP_AGAIN: Flags = Flags(1 << 14);
    /// A switch stood in the wrong position at hand-back.
    pub const WRONG_SWITCH: Flags = Flags(1 << 15);

    /// Flags with their words, for tables.
    pub const NAMED: [(Flags, &'static str); 16] = [
        (Flags::LEFT_AREA, "left the permitted area"),
        (Flags::LEFT_OBEYING, "left it while obeying its policy"),
        (Flags::ENTERED_MARGIN, "entered the margin inside the fence"),
        (Flags::ABOVE_CEILING, "rose above the permitted height"),
        (Flags::OVER_PEOPLE, "flew over people"),
        (Flags::FIX_LOST, "lost the position fix"),
        (Flags::RESERVE_USED, "used the reserve of the pack"),
        (Flags::FELL_BACK, "a guard failed, the fallback ran"),
        (Flags::NO_HOME, "had no home point"),
        (Flags::PILOT_TOOK_OVER, "the pilot took over"),
        (Flags::VORTEX_RING, "sank through its own wake"),
        (Flags::FAULT, "the simulation faulted"),
        (Flags::LOST_AGAIN, "the link was declared lost more than once"),
        (Flags::PACK_ACTED, "a low pack acted instead of the policy"),
        (Flags::TAKEN_UP_AGAIN, "the way home was taken up again"),
        (Flags::WRONG_SWITCH, "a switch stood wrong at hand-back"),
    ];

    /// Whether all of `other` are set.
    pub fn has(self, other: Flags) -> bool {
        self.0 & other.0 == other.0
    }

    /// Sets `other`.
    pub fn set(&mut self, other: Flags) {
        self.0 |= other.0;
    }
}

/// The end of one flight under one policy. Everything counts from the moment the link was declared lost.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ending {
    /// Number of the flight: with the seed all of its luck.
    pub flight: u32,
    /// The one outcome that counts, the first that fits in the order of concern.
    pub headline: Headline,
    /// How it came down, whatever lay there.
    pub manner: Manner,
    /// What it came down on.
    pub ground: Ground,
    /// The zone whose people, road or property it came down on, by its place in the site's list: the one that the headline
    /// tells of, else that of the crew, if they were there.
    pub zone: Option<u16>,
    /// Energy with which it could reach whoever was below: that of the contact, and of the rest of the fall where it struck
    /// something above the ground.
    pub energy_below_j: f32,
    /// What happened on the way; flags may overlap.
    pub flags: Flags,
    /// Where it ended: x, y, z in local metres.
    pub end_m: [f32; 3],
    /// When the link was declared lost, s after take-off.
    pub loss_time_s: f32,
    /// Where it was then: x, y, z.
    pub loss_m: [f32; 3],
    /// Time from the loss to the end, s.
    pub time_to_end_s: f32,
    /// Horizontal distance of the end from the take-off spot.
    pub distance_home_m: f32,
    /// Greatest horizontal distance from the take-off spot.
    pub greatest_distance_m: f32,
    /// Greatest height above the take-off spot.
    pub greatest_height_m: f32,
    /// Time over people from the loss on, s.
    pub over_people_s: f32,
    /// People per km² where it ended.
    pub people_per_km2: f32,
    /// Speed at the ground or obstacle, m/s, in all directions together.
    pub impact_speed_mps: f32,
    /// Angle of that speed below the horizontal.
    pub impact_angle_deg: f32,
    /// Kinetic energy at the ground or obstacle, J.
    pub impact_energy_j: f32,
    /// State of charge at the end, per cent.
    pub pack_left_pct: f32,
    /// Time without a position fix from the loss on, s.
    pub without_fix_s: f32,
    /// Time sinking through its own wake.
    pub vortex_ring_s: f32,
    /// How often the link was declared lost, the first time included.
    pub declared_lost: u32,
    /// Since take-off: time in which the pilot's set heard the craft while the craft's receiver called the link lost …
    pub telemetry_only_s: f32,
    /// … and in which the craft obeyed while the pilot's set did not hear it.
    pub control_only_s: f32,
}

/// Why the link was lost: the term that took most of the margin.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum LossCause {
    /// Cut by the scenario.
    Cut,
    /// Free space: the craft was far away.
    Distance,
    /// Terrain or buildings in the way.
    Obstruction,
    /// Trees in the way.
    Vegetation,
    /// A null of the antennas, polarisation, or a missing antenna.
    Antenna,
    /// The pilot's body stood in the way.
    Body,
    /// The wave off the ground cancelled the direct one.
    Reflection,
    /// Shadowing and fading that terrain and obstacles do not explain.
    Fading,
    /// Others on the band, or bursts of lost packets.
    Interference,
    /// The receiver restarted.
    Restart,
    /// The pilot threw the switch because the picture was gone.
    Switch,
}

impl LossCause {
    /// All, in their order.
    pub const ALL: [LossCause; 11] = [
        LossCause::Cut,
        LossCause::Distance,
        LossCause::Obstruction,
        LossCause::Vegetation,
        LossCause::Antenna,
        LossCause::Body,
        LossCause::Reflection,
        LossCause::Fading,
        LossCause::Interference,
        LossCause::Restart,
        LossCause::Switch,
    ];

    /// Words for tables.
    pub fn label(self) -> &'static str {
        match self {
            LossCause::Cut => "cut by the scenario",
            LossCause::Distance => "distance",
            LossCause::Obstruction => "terrain or buildings in the way",
            LossCause::Vegetation => "trees in the way",
            LossCause::Antenna => "antenna null, mismatch or damage",
            LossCause::Body => "the pilot's body in the way",
            LossCause::Reflection => "ground reflection",
            LossCause::Fading => "shadowing and fading",
            LossCause::Interference => "interference",
            LossCause::Restart => "receiver restart",
            LossCause::Switch => "pilot's switch, picture gone",
        }
    }
}

/// The moment the link was declared lost.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LossMoment {
    /// Time after take-off, s.
    pub time_s: f64,
    /// Where the craft was: x, y, z in local metres.
    pub place_m: [f32; 3],
    /// Share of the path's length flown.
    pub path_share: f32,
    /// Straight distance from the pilot's antenna, m.
    pub distance_m: f32,
    /// What took most of the margin.
    pub cause: LossCause,
    /// The pilot's set still heard the craft.
    pub telemetry_up: bool,
}

/// One flight under all policies.
#[derive(Debug, Clone, PartialEq)]
pub struct FlightOutcome {
    /// Number of the flight: with the seed all of its luck.
    pub flight: u32,
    /// When the link was lost; `None`: never.
    pub loss: Option<LossMoment>,
    /// One ending per policy, in their order; empty without a loss.
    pub endings: Vec<Ending>,
    /// How it ended without a loss; `None` after a loss, or when it did not take off.
    pub without_loss: Option<Headline>,
    /// Take-off was refused for want of a fix.
    pub not_taken_off: bool,
}
