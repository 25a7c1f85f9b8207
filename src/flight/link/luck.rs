//! The radio luck of one flight.

use crate::chance::Purpose;
use crate::flight::kept::{AT_ONCE, Kept};
use crate::flight::{Drawn, FlightDraws};
use crate::radio::antenna::Floor;
use crate::radio::body::CraftShadow;
use crate::radio::fading::{DiffuseRead, INDEPENDENT_BANDS};
use crate::radio::interference::Spells;
use crate::radio::shadowing::ShadowTile;
use crate::world::radio::{LinkDraws, LinkSetup, Strength};

/// Block of the uplink stream that holds the bytes of sixteen packets.
const BYTES_BLOCK: u32 = 0;

/// Blocks of the telemetry stream: the words of four packets, and the moment of the first one.
const WORDS_BLOCK: u32 = 0;
const PHASE_BLOCK: u32 = 1;

impl From<&Drawn> for LinkDraws {
    fn from(drawn: &Drawn) -> LinkDraws {
        let (radio, hands) = (&drawn.radio, drawn.pilot.hands.as_ref());
        let after = |after_s: Option<f64>| after_s.unwrap_or(f64::INFINITY);
        LinkDraws {
            power_dbm: radio.control.power_dbm,
            noise_rise_db: radio.control.noise_rise_db,
            body_loss_db: radio.control.body_loss_db,
            shadow_sigma_db: radio.shadow_sigma_db,
            null_depth_db: radio.null_depth_db,
            cross_polar_db: radio.cross_polar_db,
            interferer_dbm: radio.interferers.iter().map(|source| source.eirp_dbm).collect(),
            interferer_spells: radio.interferers.iter().map(|source| source.spells()).collect(),
            hands_s: [
                after(hands.and_then(|hands| hands.turn_after_s)),
                after(hands.and_then(|hands| hands.raise.as_ref()).map(|raise| raise.after_s)),
                after(hands.and_then(|hands| hands.aim_after_s)),
                after(hands.and_then(|hands| hands.walk.as_ref()).map(|walk| walk.after_s)),
            ],
        }
    }
}

/// The radio luck of one flight: its drawn values, its shadows, where it reads the fading.
#[derive(Debug, Clone)]
pub struct LinkLuck {
    pub(super) draws: FlightDraws,
    /// The drawn values.
    pub values: LinkDraws,
    pub(super) tile: ShadowTile,
    pub(super) reads: Vec<DiffuseRead>,
    pub(super) strengths: Vec<Strength>,
    uplink_bytes: Kept<[u8; 16]>,
    telemetry_words: Kept<[u32; 4]>,
    /// When the first packet of telemetry is sent, as a share of the time between two: nothing ties it to the take-off.
    pub(super) telemetry_phase: f64,
    /// When each source is on.
    pub(super) spells: Vec<Spells>,
    pub(super) floor: Floor,
    pub(super) craft_shadow: CraftShadow,
}

impl LinkLuck {
    /// Room for the luck of flights in this world, filled with the first one's.
    pub fn new(setup: &LinkSetup, draws: FlightDraws, values: LinkDraws) -> LinkLuck {
        let mut luck = LinkLuck {
            draws,
            values: values.clone(),
            tile: ShadowTile::new(setup.shadow_distance_m),
            reads: Vec::new(),
            strengths: Vec::new(),
            uplink_bytes: Kept::none(),
            telemetry_words: Kept::none(),
            telemetry_phase: 0.0,
            spells: Vec::new(),
            floor: setup.floor,
            craft_shadow: CraftShadow::even(0.0),
        };
        luck.redraw(setup, draws, values);
        luck
    }

    /// Becomes the luck of another flight; keeps its memory.
    pub fn redraw(&mut self, setup: &LinkSetup, draws: FlightDraws, values: LinkDraws) {
        self.draws = draws;
        self.values = values;
        self.uplink_bytes.clear();
        self.telemetry_words.clear();
        [self.telemetry_phase, _] = draws.streams.of(Purpose::Telemetry).units(draws.flight, 0, PHASE_BLOCK);
        self.tile.redraw(draws.streams.of(Purpose::Shadowing), draws.flight);
        let bands = if setup.bands() < INDEPENDENT_BANDS { setup.bands() } else { 0 };
        self.reads.clear();
        self.reads
            .extend((0..bands).map(|band| setup.fading.read(draws.streams.of(Purpose::Uplink), draws.flight, band)));
        setup.strengths(&self.values, &mut self.strengths);
        let drawn = &self.values.interferer_spells;
        self.spells.clear();
        self.spells.extend(setup.sources.iter().enumerate().map(|(i, source)| *drawn.get(i).unwrap_or(&source.spells)));
        self.floor = Floor::new(self.values.null_depth_db, self.values.cross_polar_db);
        self.craft_shadow = craft_shadow_of(setup, &draws);
    }

    /// Random bytes of sixteen packets of the uplink, from one on.
    #[inline]
    pub(super) fn uplink_bytes(&self, first_packet: u32) -> [u8; 16] {
        self.uplink_bytes.bytes_from(first_packet, |first_block| {
            let stream = self.draws.streams.of(Purpose::Uplink);
            let words: [[u32; 4]; AT_ONCE] = stream.words_from(self.draws.flight, first_block, BYTES_BLOCK);
            words.map(|words| {
                let [a, b, c, d] = words.map(u128::from);
                (a | b << 32 | c << 64 | d << 96).to_le_bytes()
            })
        })
    }

    /// Random word of a packet of telemetry.
    #[inline]
    pub(super) fn telemetry_word(&self, packet: u32) -> u32 {
        let stream = self.draws.streams.of(Purpose::Telemetry);
        let words =
            self.telemetry_words.at(packet / 4, |first| stream.words_from(self.draws.flight, first, WORDS_BLOCK));
        words[(packet % 4) as usize]
    }

    /// Shadowing loss at a place, dB (negative: a gain).
    #[inline]
    pub fn shadowing_db(&self, setup: &LinkSetup, place_m: [f64; 3]) -> f64 {
        -self.values.shadow_sigma_db * setup.shadow_share(place_m[2]) * self.tile.at(place_m[0], place_m[1])
    }
}

/// Blocks of the craft's stream that hold the shadows of its body.
const CRAFT_SHADOW_BLOCK: u32 = 1000;

/// The body of the craft that flies: nobody has measured it, so every flight has one of its own.
fn craft_shadow_of(setup: &LinkSetup, draws: &FlightDraws) -> CraftShadow {
    let [mean_db, sigma_db] = setup.craft_shadow_db;
    if sigma_db <= 0.0 {
        return CraftShadow::even(mean_db);
    }
    let four = |block: u32| draws.streams.of(Purpose::Craft).normals(draws.flight, 0, CRAFT_SHADOW_BLOCK + block);
    let ([a, b, c, d], [e, f, g, h]) = (four(0), four(1));
    CraftShadow::new(mean_db, sigma_db, [a, b, c, d, e, f, g, h])
}
