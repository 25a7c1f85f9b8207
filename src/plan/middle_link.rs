//! The link in the middle of all that is uncertain, for planning.

use crate::flight::{Drawn, LossBudget};
use crate::geometry::Frame;
use crate::world::World;
use crate::world::radio::{LinkDraws, LinkSetup, Strength};

/// The mean uplink at full power, with the middle values of everything uncertain.
pub struct MiddleLink<'a> {
    world: &'a World,
    drawn: Drawn,
    strengths: Vec<Strength>,
}

/// Margin at a place, and where it went.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlaceMargin {
    /// Mean margin.
    pub margin_db: f64,
    /// What each cause took.
    pub budget: LossBudget,
}

impl<'a> MiddleLink<'a> {
    /// Of a world.
    pub fn of(world: &'a World) -> MiddleLink<'a> {
        let drawn = Drawn::central(&world.scenario);
        let mut strengths = Vec::new();
        world.link.strengths(&LinkDraws::from(&drawn), &mut strengths);
        MiddleLink { world, drawn, strengths }
    }

    /// Whether anything interferes.
    pub fn has_sources(&self) -> bool {
        !self.strengths.is_empty()
    }

    /// What the losses are taken from.
    pub fn at_one_metre_db(&self) -> f64 {
        let link = &self.world.link;
        link.margin_at_one_metre_db(
            link.full_power_dbm(self.drawn.radio.control.power_dbm),
            self.drawn.radio.control.noise_rise_db,
        )
    }

    /// Margin of the picture at a place, without interference; `None` without a picture.
    pub fn picture_margin_db(&self, place_m: [f64; 3], body: &Frame) -> Option<f64> {
        self.world.link.picture_margin_db(place_m, body, self.drawn.radio.control.body_loss_db)
    }

    /// Margin at a place and where it went, without interference.
    pub fn quiet(&self, place_m: [f64; 3], body: &Frame) -> PlaceMargin {
        let mean = self.world.link.mean(place_m, body, self.drawn.radio.control.body_loss_db, 0.0);
        PlaceMargin { margin_db: self.at_one_metre_db() - mean.loss_db, budget: mean.budget }
    }

    /// The same with the mean rise of the noise floor by the sources.
    pub fn margin(&self, place_m: [f64; 3], body: &Frame) -> PlaceMargin {
        self.under(LinkSetup::mean_rise_db, place_m, body)
    }

    /// The same while every source is on.
    pub fn margin_with_all_on(&self, place_m: [f64; 3], body: &Frame) -> PlaceMargin {
        self.under(LinkSetup::greatest_rise_db, place_m, body)
    }

    fn under(&self, rise_db: fn(&LinkSetup, &[f64]) -> f64, place_m: [f64; 3], body: &Frame) -> PlaceMargin {
        let PlaceMargin { margin_db, mut budget } = self.quiet(place_m, body);
        let link = &self.world.link;
        budget.interference_db = rise_db(link, &link.at_craft(&self.strengths, place_m, body));
        PlaceMargin { margin_db: margin_db - budget.interference_db, budget }
    }
}
