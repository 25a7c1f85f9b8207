//! Scenarios to start from: invented places whose numbers are to be replaced one by one.

use super::args::TemplateArg;

/// A scenario to start from.
#[derive(Debug, Clone, PartialEq)]
pub struct Starter {
    /// Its text.
    pub text: String,
    /// The files that it names: name and content.
    pub files: Vec<(&'static str, &'static str)>,
}

impl Starter {
    /// One of those built in.
    pub fn of(template: TemplateArg) -> Starter {
        let (text, files) = match template {
            TemplateArg::FlatField => (include_str!("../../starters/flat-field.toml"), vec![]),
            TemplateArg::Valley => (
                include_str!("../../starters/valley.toml"),
                vec![("valley.asc", include_str!("../../starters/valley.asc"))],
            ),
            TemplateArg::Shore => (include_str!("../../starters/shore.toml"), vec![]),
            TemplateArg::TownEdge => (include_str!("../../starters/town-edge.toml"), vec![]),
            TemplateArg::LongLeg => (include_str!("../../starters/long-leg.toml"), vec![]),
        };
        Starter { text: text.into(), files }
    }

    /// The number that stands on the line of a key; of a distribution its middle.
    pub fn number(&self, key: &str) -> Option<f64> {
        let line = self.text.lines().find_map(|line| line.strip_prefix(key)?.trim_start().strip_prefix('='))?;
        let value = line.split('#').next()?.trim();
        let value = value.split_once('[').map_or(value, |(_, list)| list.split(',').next().unwrap_or_default());
        value.trim().parse().ok()
    }

    /// Puts a value on the line of a key, with where it comes from.
    pub fn put(&mut self, key: &str, value: &str, source: &str) {
        let line = |line: &str| {
            let named = line.strip_prefix(key).is_some_and(|rest| rest.trim_start().starts_with('='));
            if named { format!("{key} = {value}   # {source}\n") } else { format!("{line}\n") }
        };
        self.text = self.text.lines().map(line).collect();
    }

    /// Takes out the line that names the schema.
    pub fn without_schema(&mut self) {
        let rest = self.text.lines().skip_while(|line| line.starts_with("#:schema") || *line == "#");
        self.text = rest.map(|line| format!("{line}\n")).collect();
    }

    /// What is to be edited first: the key below each line marked so, and what the line says of it.
    pub fn edits(&self) -> Vec<Edit> {
        let (mut table, mut marked, mut found) = (String::new(), None, Vec::new());
        for line in self.text.lines() {
            if let Some(words) = line.strip_prefix("# EDIT: ") {
                marked = Some(words.trim_end_matches('.').to_string());
            } else if let Some(shown) = line.strip_prefix("# [").filter(|_| marked.is_some()) {
                // A table that stands there as a comment.
                let key = shown.trim_matches(['[', ']']).to_string();
                found.extend(marked.take().map(|words| Edit { key, words }));
            } else if line.starts_with('[') {
                table = line.split('#').next().unwrap_or_default().trim().trim_matches(['[', ']']).to_string();
                found.extend(marked.take().map(|words| Edit { key: table.clone(), words }));
            } else if let Some((key, _)) = line.split_once('=').filter(|_| !line.starts_with('#')) {
                let (dot, key) = (if table.is_empty() { "" } else { "." }, key.trim());
                found.extend(marked.take().map(|words| Edit { key: format!("{table}{dot}{key}"), words }));
            }
        }
        found
    }
}

/// Something to be edited first.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Edit {
    /// Path of its key or table.
    pub key: String,
    /// What the file says of it.
    pub words: String,
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::ValueEnum;

    #[test]
    fn every_starter_says_what_to_edit_first() {
        for template in TemplateArg::value_variants() {
            let starter = Starter::of(*template);
            let keys: Vec<String> = starter.edits().into_iter().map(|edit| edit.key).collect();
            for key in ["title", "site.lat_deg", "weather.wind_mps", "craft.mass_kg", "path.waypoints_m", "policy"] {
                assert!(keys.iter().any(|there| there == key), "{template:?}: {key} is not among {keys:?}");
            }
        }
    }

    #[test]
    fn numbers_are_found_and_replaced_on_their_lines() {
        let mut starter = Starter::of(TemplateArg::Valley);
        assert_eq!((starter.number("lat_deg"), starter.number("mass_kg")), (Some(47.0), Some(1.0)));
        starter.put("lat_deg", "46.5", "as answered");
        starter.put("mass_kg", "{ normal = [2.5, 0.1] }", "as answered");
        assert_eq!((starter.number("lat_deg"), starter.number("mass_kg")), (Some(46.5), Some(2.5)));
        let lines = Starter::of(TemplateArg::Valley).text.lines().count();
        assert_eq!(starter.text.lines().count(), lines);
        starter.without_schema();
        assert!(starter.text.starts_with("# A valley"));
    }
}
