//! The README's commands are real, and it names every shipped scenario.

use clap::{CommandFactory, Parser};
use lostlink::cli::args::Cli;
use std::path::Path;

fn root() -> &'static Path {
    Path::new(env!("LOSTLINK_ROOT"))
}

fn readme() -> String {
    std::fs::read_to_string(root().join("README.md")).unwrap()
}

#[test]
fn commands_in_code_blocks_parse_and_name_files_that_exist() {
    let text = readme();
    let mut seen = 0;
    for line in text.lines() {
        let Some(rest) = line.trim().strip_prefix("cargo run --release -- ") else { continue };
        let words: Vec<&str> = rest.split('#').next().unwrap().split_whitespace().collect();
        let typed = std::iter::once("lostlink").chain(words.iter().copied());
        Cli::try_parse_from(typed).unwrap_or_else(|error| panic!("{line}: {error}"));
        for word in words.iter().filter(|word| word.ends_with(".toml")) {
            assert!(root().join(word).is_file(), "{line}: {word} is missing");
        }
        seen += 1;
    }
    assert!(seen > 0, "the README shows no command");
}

#[test]
fn every_command_and_every_scenario_is_named() {
    let text = readme();
    for command in Cli::command().get_subcommands() {
        assert!(
            text.contains(&format!("lostlink {}", command.get_name())),
            "{} is not in the README",
            command.get_name()
        );
    }
    for entry in std::fs::read_dir(root().join("scenarios")).unwrap() {
        let name = entry.unwrap().file_name().to_string_lossy().into_owned();
        if name.ends_with(".toml") {
            assert!(text.contains(&name), "{name} is not in the README");
        }
    }
}

#[test]
fn links_to_files_lead_somewhere() {
    for document in ["README.md", "DEVELOPERS.md"] {
        let text = std::fs::read_to_string(root().join(document)).unwrap();
        for target in text.split("](").skip(1).filter_map(|rest| rest.split(')').next()) {
            if !target.starts_with("http") && !target.starts_with('#') {
                assert!(root().join(target).exists(), "{document}: {target} is missing");
            }
        }
    }
}

/// Examples in `--help` are commands too.
#[test]
fn examples_in_help_parse() {
    let mut seen = 0;
    let mut command = Cli::command();
    let mut helps = vec![command.render_long_help().to_string()];
    for sub in command.get_subcommands_mut() {
        helps.push(sub.render_long_help().to_string());
    }
    for line in helps.iter().flat_map(|help| help.lines()) {
        let Some(rest) = line.trim().strip_prefix("lostlink ") else { continue };
        if !rest.contains("scenarios/") {
            continue;
        }
        let rest = rest.split(" > ").next().unwrap();
        let mut words = vec!["lostlink".to_string()];
        for (index, part) in rest.split('"').enumerate() {
            if index % 2 == 1 {
                words.push(part.to_string());
            } else {
                words.extend(part.split_whitespace().map(str::to_string));
            }
        }
        Cli::try_parse_from(&words).unwrap_or_else(|error| panic!("{line}: {error}"));
        seen += 1;
    }
    assert!(seen >= 7, "only {seen} examples");
}
