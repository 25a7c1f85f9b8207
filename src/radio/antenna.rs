//! Antennas: patterns, orientation, polarisation.

use super::maths::quick_db;
use crate::geometry::{Frame, dot};
use crate::units::ratio_from_db;

/// Shape of an antenna's power pattern.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Pattern {
    /// The same in all directions.
    Isotropic,
    /// Half-wave dipole.
    Dipole,
    /// Quarter-wave rod on a small frame: a dipole's pattern, the frame being its other half.
    QuarterWave,
    /// Half-space cosⁿ pattern.
    Patch {
        /// Exponent n of the power pattern.
        exponent: f64,
        /// Gain behind it, relative to the peak (negative).
        back_db: f64,
    },
}

/// Polarisation of an antenna in its own frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Polarisation {
    /// Linear along the antenna's axis (for a patch: along its stated polarisation axis).
    Linear,
    /// Right-hand circular with this axial ratio in dB (0 is perfect).
    RightCircular(f64),
    /// Left-hand circular with this axial ratio in dB.
    LeftCircular(f64),
}

/// Whether the antenna is whole.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub enum AntennaCondition {
    /// As built.
    #[default]
    Whole,
    /// Damaged: this much less gain in every direction.
    Damaged {
        /// Loss, positive.
        loss_db: f64,
    },
    /// Not fitted, torn off or unplugged. What still couples is a stated loss.
    Missing {
        /// Loss against an isotropic antenna, positive.
        loss_db: f64,
    },
}

/// One antenna as mounted.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Antenna {
    /// Pattern.
    pub pattern: Pattern,
    /// Polarisation.
    pub polarisation: Polarisation,
    /// Unit vector of the dipole's axis, or of a patch's boresight, in the mount's frame:
    /// on the craft x forward, y left, z up; at the pilot x along the pointing direction, y left, z up.
    pub axis: [f64; 3],
    /// Condition.
    pub condition: AntennaCondition,
    /// Loss of cable and connectors, positive.
    pub feed_loss_db: f64,
}

/// How far below the peak the null of one rod is filled by feed line, frame and scatter, dB.
///
/// # Source
/// Badi et al., ACM MSWiM 2019 (as quoted by others): two upright rods lie 20 to 27 dB lower straight overhead than abeam,
/// distance apart, at 2.5 GHz between small craft; half of it for each end, polarisation included.
pub const NULL_DEPTH_DB: f64 = 12.0;

/// Greatest loss that polarisation mismatch costs in practice, dB.
///
/// # Source
/// Badi et al. 2019: a craft's body lowers the cross-polar discrimination by 14.5 dB on average; Gómez-Ponce et al. 2021
/// (arXiv 2103.09135): 12 dB between upright and level at 3.5 GHz in an air-ground array (both as quoted by others).
pub const CROSS_POLAR_DB: f64 = 12.0;

/// What is left in nulls, of patterns and of polarisation, as ratios of powers.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Floor {
    /// Of a rod's peak along its axis.
    null: f64,
    /// Between polarisations that do not match.
    cross: f64,
}

impl Floor {
    /// From the depth of a rod's null and the greatest loss of polarisation, dB, both positive.
    pub fn new(null_depth_db: f64, cross_polar_db: f64) -> Floor {
        Floor { null: ratio_from_db(-null_depth_db), cross: ratio_from_db(-cross_polar_db) }
    }
}

impl Default for Floor {
    /// [`NULL_DEPTH_DB`] and [`CROSS_POLAR_DB`].
    fn default() -> Floor {
        Floor::new(NULL_DEPTH_DB, CROSS_POLAR_DB)
    }
}

/// `cos(π/2·√w)/(1−w)` for w = cos² of the angle from the axis, in [0, 1].
///
/// The Taylor series of the cosine in w, divided by 1−w: its coefficients are the partial sums of the cosine's own at
/// π/2, which tend to zero, so that nine give full accuracy even at w = 1, where the quotient itself is 0/0.
#[inline(always)]
fn dipole_quotient(w: f64) -> f64 {
    const P: [f64; 9] = [
        1.0,
        -0.233_700_550_136_169_83,
        0.019_968_957_764_878_188,
        -0.000_894_522_998_474_774_6,
        2.473_727_636_465_199e-5,
        -4.647_660_084_086_16e-7,
        6.321_469_473_201_112e-9,
        -6.513_361_059_074_086e-11,
        5.260_205_590_538_67e-13,
    ];
    // In pairs, so that the terms do not wait for each other.
    let w2 = w * w;
    let low = (P[0] + P[1] * w) + w2 * (P[2] + P[3] * w);
    let high = (P[4] + P[5] * w) + w2 * ((P[6] + P[7] * w) + w2 * P[8]);
    low + (w2 * w2) * high
}

/// Share of the power that passes between two polarisation ellipses.
///
/// Ellipticities are signed inverse axial ratios: 0 linear, 1 right-hand, −1 left-hand circular; `cos_double_tilt` is the
/// cosine of twice the angle between the major axes.
///
/// # Source
/// Stutzman and Thiele, Antenna Theory and Design (from memory).
#[inline]
pub fn polarisation_share(ellipticity_a: f64, ellipticity_b: f64, cos_double_tilt: f64) -> f64 {
    let (aa, bb) = (ellipticity_a * ellipticity_a, ellipticity_b * ellipticity_b);
    let mixed = 4.0 * ellipticity_a * ellipticity_b + (1.0 - aa) * (1.0 - bb) * cos_double_tilt;
    0.5 * (1.0 + mixed / ((1.0 + aa) * (1.0 + bb)))
}

impl Polarisation {
    /// Signed inverse of the axial ratio: 0 linear, 1 right-hand, −1 left-hand circular.
    #[inline]
    pub fn ellipticity(self) -> f64 {
        // Field amplitudes: half the decibels. The perfect ones skip the exponential.
        match self {
            Polarisation::Linear => 0.0,
            Polarisation::RightCircular(0.0) => 1.0,
            Polarisation::LeftCircular(0.0) => -1.0,
            Polarisation::RightCircular(axial_db) => ratio_from_db(-0.5 * axial_db),
            Polarisation::LeftCircular(axial_db) => -ratio_from_db(-0.5 * axial_db),
        }
    }
}

impl Antenna {
    /// Gain in its best direction when whole, without the feed, dBi.
    #[inline]
    pub fn peak_dbi(&self) -> f64 {
        match self.pattern {
            Pattern::Isotropic => 0.0,
            Pattern::Dipole | Pattern::QuarterWave => 2.150_880_374_549_227_5,
            Pattern::Patch { exponent, .. } => quick_db(2.0 * (exponent + 1.0)),
        }
    }

    /// Power in a direction whose cosine with [`Antenna::axis`] is `cos_axis`, against the peak, as a ratio; nulls are
    /// filled to `floor`, a patch's back to its own figure. A missing antenna couples alike in all directions.
    #[inline]
    pub fn pattern_share(&self, floor: &Floor, cos_axis: f64) -> f64 {
        ReadyAntenna::new(self).share(floor, cos_axis)[0]
    }

    /// Loss in all directions by damage or absence, dB: a missing antenna loses its peak, too.
    #[inline]
    pub fn condition_loss_db(&self) -> f64 {
        match self.condition {
            AntennaCondition::Whole => 0.0,
            AntennaCondition::Damaged { loss_db } => loss_db,
            AntennaCondition::Missing { loss_db } => self.peak_dbi() + loss_db,
        }
    }

    /// Direction of the field's major axis in the mount's frame, before projection across the line of sight: the rod
    /// itself; for a patch the mount's z (y when it looks straight up or down).
    #[inline]
    pub fn field_axis(&self) -> [f64; 3] {
        match self.pattern {
            Pattern::Patch { .. } if self.axis[2].abs() > 0.99 => [0.0, 1.0, 0.0],
            Pattern::Patch { .. } => [0.0, 0.0, 1.0],
            _ => self.axis,
        }
    }
}

/// What two antennas make of a straight path between them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Coupling {
    /// Gain of both ends together with feed losses and condition, without polarisation, dB:
    /// both peaks − both feeds − `pattern_db`.
    pub gain_db: f64,
    /// Loss against both peaks: patterns, pointing, damage, a missing antenna.
    pub pattern_db: f64,
    /// Both patterns alone, as a ratio of powers to both peaks.
    pub pattern_share: f64,
    /// The same in decibels of loss.
    pub turned_away_db: f64,
    /// Loss by polarisation mismatch, at most that of the [`Floor`]. What fills a null has no polarisation of its own.
    pub polarisation_db: f64,
    /// Patterns and polarisation together, as a ratio of powers.
    pub direct_share: f64,
}

/// A pattern made ready for flight.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Ready {
    Round,
    Rod,
    Patch { exponent: f64, back_share: f64 },
}

/// One antenna made ready for flight: what does not change with direction is worked out.
#[derive(Debug, Clone, Copy, PartialEq)]
struct ReadyAntenna {
    axis: [f64; 3],
    field_axis: [f64; 3],
    pattern: Ready,
}

impl ReadyAntenna {
    fn new(antenna: &Antenna) -> ReadyAntenna {
        let pattern = match (antenna.condition, antenna.pattern) {
            (AntennaCondition::Missing { .. }, _) | (_, Pattern::Isotropic) => Ready::Round,
            (_, Pattern::Dipole | Pattern::QuarterWave) => Ready::Rod,
            (_, Pattern::Patch { exponent, back_db }) => Ready::Patch { exponent, back_share: ratio_from_db(back_db) },
        };
        ReadyAntenna { axis: antenna.axis, field_axis: antenna.field_axis(), pattern }
    }

    /// Power against the peak, and how much of it is the pattern's own and does not fill a null.
    #[inline(always)]
    fn share(&self, floor: &Floor, cos_axis: f64) -> [f64; 2] {
        match self.pattern {
            Ready::Round => [1.0, 1.0],
            Ready::Rod => {
                let own = rod_share(cos_axis);
                if own < floor.null { [floor.null, own / floor.null] } else { [own, 1.0] }
            }
            Ready::Patch { exponent, back_share } => [patch_share(exponent, back_share, cos_axis), 1.0],
        }
    }
}

/// Two antennas made ready for flight: their coupling without the work that repeats.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AntennaPair {
    a: ReadyAntenna,
    b: ReadyAntenna,
    /// Both peaks less both feeds, dB.
    best_db: f64,
    condition_db: f64,
    /// Polarisation share = first + second · cos of twice the tilt.
    polarisation: [f64; 2],
}

impl AntennaPair {
    /// Prepares two antennas.
    pub fn new(a: &Antenna, b: &Antenna) -> AntennaPair {
        let missing = |antenna: &Antenna| matches!(antenna.condition, AntennaCondition::Missing { .. });
        let (e, f) = (a.polarisation.ellipticity(), b.polarisation.ellipticity());
        AntennaPair {
            a: ReadyAntenna::new(a),
            b: ReadyAntenna::new(b),
            best_db: a.peak_dbi() + b.peak_dbi() - a.feed_loss_db - b.feed_loss_db,
            condition_db: a.condition_loss_db() + b.condition_loss_db(),
            // What is left of a missing antenna has no sense of its own: half passes, whatever the tilt.
            polarisation: if missing(a) || missing(b) {
                [0.5, 0.0]
            } else {
                let middle = polarisation_share(e, f, 0.0);
                [middle, polarisation_share(e, f, 1.0) - middle]
            },
        }
    }

    /// Both peaks less both feeds, dB: the gain with both whole and pointing at each other.
    pub fn best_db(&self) -> f64 {
        self.best_db
    }

    /// Coupling along the unit vector from a to b; the frames are those of the mounts.
    #[inline(always)]
    pub fn coupling(&self, floor: &Floor, a_frame: &Frame, b_frame: &Frame, direction_a_to_b: [f64; 3]) -> Coupling {
        let d = direction_a_to_b;
        let (axis_a, axis_b) = (a_frame.to_world(self.a.axis), b_frame.to_world(self.b.axis));
        let (cos_a, cos_b) = (dot(axis_a, d), -dot(axis_b, d));
        let ([share_a, own_a], [share_b, own_b]) = (self.a.share(floor, cos_a), self.b.share(floor, cos_b));
        let pattern_share = share_a * share_b;
        let turned_away_db = -quick_db(pattern_share);
        let pattern_db = self.condition_db + turned_away_db;
        // Twice the tilt between the field axes u, v across the line of sight, from their dot products alone.
        let field = |ready: &ReadyAntenna, frame: &Frame, axis: [f64; 3], along: f64| match ready.pattern {
            Ready::Patch { .. } => {
                let field = frame.to_world(ready.field_axis);
                (field, dot(field, d))
            }
            _ => (axis, along),
        };
        let (u, along_u) = field(&self.a, a_frame, axis_a, cos_a);
        let (v, along_v) = field(&self.b, b_frame, axis_b, -cos_b);
        let size = (1.0 - along_u * along_u) * (1.0 - along_v * along_v);
        let projection = dot(u, v) - along_u * along_v;
        // Looking along a rod there is no axis left: any tilt is as likely, and its mean cosine is 0.
        let cos_double = if size > 1e-9 { 2.0 * projection * projection / size - 1.0 } else { 0.0 };
        let share = self.polarisation[0] + self.polarisation[1] * cos_double;
        // The depths of nulls were measured with what polarisation did there: it counts for the pattern's own part alone.
        let share = 1.0 - own_a * own_b * (1.0 - share.max(floor.cross));
        let polarisation_db = -quick_db(share);
        let direct_share = pattern_share * share;
        Coupling {
            gain_db: self.best_db - pattern_db,
            pattern_db,
            pattern_share,
            turned_away_db,
            polarisation_db,
            direct_share,
        }
    }

    /// The two patterns along rays of their own (`from_a` leaves a, `to_b` reaches b), as a ratio of powers to both
    /// peaks: for a ray that bounces on its way.
    #[inline]
    pub fn share_of_rays(
        &self,
        floor: &Floor,
        a_frame: &Frame,
        b_frame: &Frame,
        from_a: [f64; 3],
        to_b: [f64; 3],
    ) -> f64 {
        let [from_a, _] = self.a.share(floor, dot(a_frame.to_world(self.a.axis), from_a));
        let [to_b, _] = self.b.share(floor, -dot(b_frame.to_world(self.b.axis), to_b));
        from_a * to_b
    }
}

#[inline(always)]
fn rod_share(cos_axis: f64) -> f64 {
    let w = (cos_axis * cos_axis).min(1.0);
    let quotient = dipole_quotient(w);
    quotient * quotient * (1.0 - w)
}

#[inline]
fn patch_share(exponent: f64, back_share: f64, cos_axis: f64) -> f64 {
    let cos = cos_axis.clamp(0.0, 1.0);
    let front = if exponent == 1.0 {
        cos
    } else if exponent == 2.0 {
        cos * cos
    } else {
        libm::pow(cos, exponent)
    };
    front.max(back_share)
}

#[cfg(test)]
mod tests {
    use super::*;

    const LEVEL: Frame = Frame::EAST;

    fn coupling(a: &Antenna, a_frame: &Frame, b: &Antenna, b_frame: &Frame, direction_a_to_b: [f64; 3]) -> Coupling {
        AntennaPair::new(a, b).coupling(&Floor::default(), a_frame, b_frame, direction_a_to_b)
    }

    fn rod() -> Antenna {
        Antenna {
            pattern: Pattern::Dipole,
            polarisation: Polarisation::Linear,
            axis: [0.0, 0.0, 1.0],
            condition: AntennaCondition::Whole,
            feed_loss_db: 0.0,
        }
    }

    fn patch(exponent: f64) -> Antenna {
        Antenna { pattern: Pattern::Patch { exponent, back_db: f64::NEG_INFINITY }, ..rod() }
    }

    /// Gain at an angle from the axis with nulls left as they are.
    fn gain_dbi(antenna: &Antenna, angle_rad: f64) -> f64 {
        let bare = Floor::new(f64::INFINITY, f64::INFINITY);
        antenna.peak_dbi() + 10.0 * libm::log10(antenna.pattern_share(&bare, libm::cos(angle_rad)))
    }

    /// The quotient against the plain formula; Balanis (from memory): 4/Cin(2π) = 1.6409, 2.15 dBi.
    #[test]
    fn the_dipole_is_the_textbooks() {
        for degrees in 1..=90 {
            let t = f64::from(degrees).to_radians();
            let plain = libm::cos(std::f64::consts::FRAC_PI_2 * libm::cos(t)) / libm::sin(t);
            assert!((gain_dbi(&rod(), t) - 10.0 * libm::log10(1.640_922_376_984_585 * plain * plain)).abs() < 1e-9);
        }
        assert_eq!(gain_dbi(&rod(), 0.0), f64::NEG_INFINITY);
    }

    /// Radiated power integrates to 1 over the sphere.
    #[test]
    fn directivities_are_those_of_their_patterns() {
        let mean = |antenna: &Antenna| {
            super::super::maths::integrate(0.0, std::f64::consts::PI, 200, |t| {
                0.5 * libm::sin(t) * ratio_from_db(gain_dbi(antenna, t).max(-300.0))
            })
        };
        assert!((mean(&rod()) - 1.0).abs() < 1e-9);
        assert!((mean(&patch(2.0)) - 1.0).abs() < 1e-9);
        assert!((mean(&patch(3.7)) - 1.0).abs() < 1e-6);
    }

    #[test]
    fn coupling_is_symmetric_and_capped() {
        let mut other = rod();
        other.polarisation = Polarisation::LeftCircular(2.0);
        other.feed_loss_db = 0.7;
        let tilted = {
            let (c, s) = (libm::cos(0.4), libm::sin(0.4));
            Frame::of_nose_and_up([1.0, 0.0], [s, 0.0, c])
        };
        let d = [0.6, 0.0, 0.8];
        let there = coupling(&rod(), &LEVEL, &other, &tilted, d);
        let back = coupling(&other, &tilted, &rod(), &LEVEL, d.map(|x| -x));
        assert!((there.polarisation_db - back.polarisation_db).abs() < 1e-12);
        assert!((there.gain_db - back.gain_db).abs() < 1e-12);
        let overhead = coupling(&rod(), &LEVEL, &rod(), &LEVEL, [0.0, 0.0, 1.0]);
        assert!((overhead.pattern_db - 2.0 * NULL_DEPTH_DB).abs() < 1e-6 && overhead.polarisation_db.abs() < 1e-6);
        let level = coupling(&rod(), &LEVEL, &rod(), &LEVEL, [0.0, 1.0, 0.0]);
        assert!(level.pattern_db.abs() < 1e-6 && level.polarisation_db.abs() < 1e-6);
        let crossed = Frame::of_nose_and_up([1.0, 0.0], [0.0, -1.0, 0.0]);
        let cross = coupling(&rod(), &LEVEL, &rod(), &crossed, [1.0, 0.0, 0.0]);
        assert!((cross.polarisation_db - CROSS_POLAR_DB).abs() < 1e-6);
        // Badi et al. 2019: a lying rod hears an upright one overhead 12 dB better than another upright one does.
        let lying = coupling(&rod(), &LEVEL, &rod(), &crossed, [0.0, 0.0, 1.0]);
        let gained_db = (overhead.pattern_db + overhead.polarisation_db) - (lying.pattern_db + lying.polarisation_db);
        assert!((gained_db - 12.0).abs() < 0.5, "{gained_db}");
    }

    #[test]
    fn hands_match_or_do_not() {
        let round = |polarisation| Antenna { polarisation, ..rod() };
        let right = round(Polarisation::RightCircular(0.0));
        let left = round(Polarisation::LeftCircular(0.0));
        let at = |a: &Antenna, b: &Antenna| coupling(a, &LEVEL, b, &LEVEL, [1.0, 0.0, 0.0]).polarisation_db;
        assert!(at(&right, &right).abs() < 1e-6);
        assert!((at(&right, &left) - CROSS_POLAR_DB).abs() < 1e-6);
        assert!((at(&right, &rod()) - 3.0103).abs() < 1e-4);
    }

    #[test]
    fn damage_and_absence_cost_what_they_say() {
        let whole = coupling(&rod(), &LEVEL, &rod(), &LEVEL, [1.0, 0.0, 0.0]);
        let hurt = Antenna { condition: AntennaCondition::Damaged { loss_db: 9.0 }, ..rod() };
        let gone = Antenna { condition: AntennaCondition::Missing { loss_db: 30.0 }, ..rod() };
        let damaged = coupling(&rod(), &LEVEL, &hurt, &LEVEL, [1.0, 0.0, 0.0]);
        assert!((whole.gain_db - damaged.gain_db - 9.0).abs() < 1e-9);
        for cos in [0.0, 0.8, 1.0] {
            assert!(
                (gone.peak_dbi() - gone.condition_loss_db()
                    + quick_db(gone.pattern_share(&Floor::default(), cos))
                    + 30.0)
                    .abs()
                    < 1e-9
            );
        }
    }
}
