//! What is known of a plan before any flight, as figures show it.

use crate::plan::Survey;
use crate::risk::summary::{AlongPath, NoReturn, Section, SiteMap, Summary};

/// The site, the path and what the link, the sky and the pack are expected to be along it.
#[derive(Debug, Clone)]
pub struct Planned<'a> {
    /// The site as drawn.
    pub map: &'a SiteMap,
    /// Along the path.
    pub along: &'a [AlongPath],
    /// Cuts of the link.
    pub sections: &'a [Section],
    /// Points of no return, one per policy that returns.
    pub no_return: &'a [NoReturn],
    /// Names of the policies.
    pub policies: Vec<&'a str>,
}

impl<'a> Planned<'a> {
    /// From a survey, which flies nothing.
    pub fn surveyed(map: &'a SiteMap, survey: &'a Survey, policies: Vec<&'a str>) -> Planned<'a> {
        Planned { map, along: &survey.along, sections: &survey.sections, no_return: &survey.no_return, policies }
    }

    /// Name of a policy by its place in the scenario.
    pub fn policy(&self, index: usize) -> &'a str {
        self.policies.get(index).copied().unwrap_or("?")
    }
}

impl<'a> From<&'a Summary> for Planned<'a> {
    fn from(summary: &'a Summary) -> Planned<'a> {
        Planned {
            map: &summary.map,
            along: &summary.along,
            sections: &summary.sections,
            no_return: &summary.no_return,
            policies: summary.policies.iter().map(|policy| policy.name.as_str()).collect(),
        }
    }
}
