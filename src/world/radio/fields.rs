//! The fields of every antenna that sends to the craft or hears it.

use super::field::{FieldOptions, LinkField};
use super::source_field::SourceField;
use crate::radio::OutOfRange;
use crate::radio::free_space::WavePolarisation;
use crate::scenario::Scenario;
use crate::site::SiteGrid;
use std::sync::Arc;

/// What stands in the way over a site, antenna by antenna.
#[derive(Debug, Clone, Default)]
pub struct LinkFields {
    /// Of the pilot's antenna as it stands.
    pub standing: PilotFields,
    /// Of the antenna that he raises.
    pub raised: PilotFields,
    /// The sources' in their order; a missing one is in free space.
    pub sources: Vec<Option<Arc<SourceField>>>,
}

/// What stands in the way of the pilot's antenna at one height.
#[derive(Debug, Clone, Default)]
pub struct PilotFields {
    /// The control link's; `None`: nothing in the way anywhere.
    pub control: Option<Arc<LinkField>>,
    /// The video link's; `None`: as the control link.
    pub video: Option<Arc<LinkField>>,
}

impl PilotFields {
    fn all(&self) -> impl Iterator<Item = &Arc<LinkField>> {
        self.control.iter().chain(&self.video)
    }
}

impl LinkFields {
    /// The fields of a scenario over its site, up to `top_m`; `antenna_m` is the pilot's antenna. Fields that `base`, those of
    /// a world that differs in nothing they depend on, holds for the same place and frequency are shared.
    ///
    /// # Errors
    /// A frequency outside what the propagation models hold for.
    pub fn of(
        scenario: &Scenario,
        grid: &Arc<SiteGrid>,
        antenna_m: [f64; 3],
        options: &FieldOptions,
        base: Option<&LinkFields>,
    ) -> Result<LinkFields, OutOfRange> {
        let radio = &scenario.radio;
        // At one frequency over one ground there is one field.
        let field = |place_m: [f64; 3], frequency_hz: f64, beside: Option<&Arc<LinkField>>| {
            let of_base = base.iter().flat_map(|base| base.standing.all().chain(base.raised.all()));
            let same = |field: &&Arc<LinkField>| field.frequency_hz() == frequency_hz && field.antenna_m() == place_m;
            match of_base.chain(beside).find(same) {
                Some(field) => Ok(field.clone()),
                None => LinkField::new(grid, place_m, frequency_hz, options).map(Arc::new),
            }
        };
        let both = |place_m: [f64; 3]| -> Result<PilotFields, OutOfRange> {
            let control = field(place_m, radio.control.frequency_hz, None)?;
            let video = match &radio.video {
                Some(video) => Some(field(place_m, video.frequency_hz, Some(&control))?),
                None => None,
            };
            Ok(PilotFields { control: Some(control), video })
        };
        let [x_m, y_m] = scenario.pilot.place_m;
        let raised = match scenario.pilot.hands.as_ref().and_then(|hands| hands.raise.as_ref()) {
            Some(raise) => both([x_m, y_m, grid.ground_m(x_m, y_m) + raise.to_m])?,
            None => PilotFields::default(),
        };
        let known = base.map_or(&[][..], |base| &base.sources);
        let sources = SourceField::of_all(grid, &radio.interferers, antenna_m, options, known)?;
        Ok(LinkFields { standing: both(antenna_m)?, raised, sources })
    }

    /// How they are worked out. The craft's antenna says which way the wave swings against the ground.
    pub fn options(scenario: &Scenario, top_m: f64) -> FieldOptions {
        let upright = scenario.radio.control.craft_antenna.axis[2].abs() > std::f64::consts::FRAC_1_SQRT_2;
        FieldOptions {
            top_m,
            polarisation: if upright { WavePolarisation::Vertical } else { WavePolarisation::Horizontal },
            in_leaf: scenario.radio.in_leaf,
            spacing_m: None,
        }
    }
}
