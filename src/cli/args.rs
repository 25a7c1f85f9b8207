//! What is typed.

use clap::{Arg, Args, CommandFactory, FromArgMatches, Parser, Subcommand, ValueEnum};
use std::path::PathBuf;

/// Simulates what a small remotely piloted multirotor does when its radio link goes.
///
/// A simulation of a model of a site: no permission, no clearance, no record of real flights. Local rules
/// and licensed practice come first.
#[derive(Debug, Parser)]
#[command(name = "lostlink", bin_name = "lostlink", version, max_term_width = 100, arg_required_else_help = true)]
#[command(after_help = "Examples:
  lostlink new
  lostlink check scenarios/club-field.toml
  lostlink assess scenarios/club-field.toml --flights 2000 --out reports/club-field
  lostlink heights scenarios/ridge-valley.toml --from 20 --to 120

Exit codes: 0 done; 1 failed, also when the simulation broke off with a numerical fault in more \
than 1 of 1,000 lost links; 2 bad input.")]
pub struct Cli {
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
    /// Options that hold everywhere.
    #[command(flatten)]
    pub common: Common,
}

impl Cli {
    /// What was typed. A number below zero is a value, to be refused with what is accepted, and no option.
    pub fn typed() -> Cli {
        let value = |arg: Arg| {
            let takes = arg.get_action().takes_values();
            if takes { arg.allow_negative_numbers(true) } else { arg }
        };
        let command = Cli::command().mut_args(value).mut_subcommands(|command| command.mut_args(value));
        Cli::from_arg_matches(&command.get_matches()).unwrap_or_else(|error| error.exit())
    }
}

/// Options that hold for every command.
#[derive(Debug, Clone, Args)]
pub struct Common {
    /// Plain ASCII in the terminal: no box lines, no special signs.
    #[arg(long, global = true)]
    pub ascii: bool,
    /// Colour in the terminal.
    #[arg(long, global = true, value_enum, default_value_t = Colour::Auto)]
    pub color: Colour,
    /// Number of threads; results do not depend on it.
    #[arg(long, global = true, value_name = "N")]
    pub threads: Option<usize>,
}

/// When to colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Colour {
    /// On a terminal, unless NO_COLOR is set.
    Auto,
    /// Always.
    Always,
    /// Never.
    Never,
}

/// The commands.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Writes a commented scenario to start from: an invented place, or a flight from a file of yours.
    #[command(after_help = "Examples:
  lostlink new
  lostlink new my-field.toml --template shore
  lostlink new my-flight.toml --path track.gpx --terrain tile.hgt

On a terminal, without --template and --path, it asks a few questions, each with a default. A file that is there is left \
alone unless --overwrite is given. What it writes passes `lostlink check` and `lostlink assess` as it stands; the lines to \
edit first are marked EDIT. Beside it lies the JSON Schema by which editors complete the keys.")]
    New(NewArgs),
    /// Reads a scenario and prints link budget, sky, energy and clearance before any flight is simulated.
    #[command(after_help = "Example:\n  lostlink check scenarios/lake-shore.toml")]
    Check(CheckArgs),
    /// Flies the scenario under every policy and writes a report: which policy, how sure, what the others do.
    #[command(after_help = "Examples:
  lostlink assess scenarios/club-field.toml
  lostlink assess scenarios/lake-shore.toml --flights 20000 --out reports/lake --json > lake.json
  lostlink assess scenarios/ridge-valley.toml --until-half-width 0.5")]
    Assess(AssessArgs),
    /// Compares return heights on the same flights and recommends an interval.
    #[command(
        after_help = "Example:\n  lostlink heights scenarios/ridge-valley.toml --from 20 --to 120 --count 25 --flights 2000"
    )]
    Heights(HeightsArgs),
    /// Tells one lost link as a story under every policy with the same luck; its page plays it.
    #[command(after_help = "Examples:
  lostlink replay scenarios/club-field.toml 17
  lostlink replay scenarios/ridge-valley.toml policies-differ-most --page ridge.html
  lostlink replay scenarios/lake-shore.toml worst --policy \"drop\" --out reports/lake-worst")]
    Replay(ReplayArgs),
    /// Maps where the radio link holds at a height, and a section along the path.
    #[command(after_help = "Example:\n  lostlink reach scenarios/ridge-valley.toml --height 60")]
    Reach(ReachArgs),
    /// Satellites and HDOP over a day at the site, constellations compared.
    #[command(after_help = "Example:\n  lostlink sky scenarios/quarry.toml --satellites 8 --hdop 2")]
    Sky(SkyArgs),
    /// Prints the site card and the bench and field test sheet.
    #[command(after_help = "Example:\n  lostlink sheet scenarios/club-field.toml --out reports/club-card")]
    Sheet(SheetArgs),
    /// Writes one figure for a slide, for paper or for a screen; without a name, a page of all that the scenario can give.
    #[command(after_help = help_of_figures())]
    Figure(FigureArgs),
    /// Makes training pages: questions, predictions, and answers simulated on the spot.
    #[command(after_help = "Examples:
  lostlink lesson --out reports/course
  lostlink lesson my-lesson.toml --out reports/my-lesson

Without a file it writes the built-in course. docs/lesson.md says how to write a lesson of your own. A text that no \
longer fits what is simulated is an error that names the chapter.")]
    Lesson(LessonArgs),
    /// Serves a live page to the browser of this machine: sliders, one flight under all policies, shares that refine.
    #[cfg(feature = "serve")]
    #[command(after_help = "Examples:
  lostlink serve scenarios/club-field.toml --open
  lostlink serve scenarios/ridge-valley.toml --port 8765

Nothing is reached from other machines, nothing is fetched from the network, no file is written. Ctrl-C ends it.")]
    Serve(ServeArgs),
    /// Prints the page of a report again, from its summary.json and the figures beside it.
    #[command(after_help = "Examples:
  lostlink page reports/club-field/summary.json --out club-field.html
  lostlink page reports/club-field/summary.json > club-field.html

All words and tables come from summary.json. Site, tracks and single flights are not in it: the figures are taken \
from the folder figures/ beside it, as assess wrote them. The page is the same, byte for byte.")]
    Page(PageArgs),
    /// Prints the JSON Schema of scenario files, by which editors with a TOML language server complete and check them.
    #[command(after_help = "Example:
  lostlink schema > scenario.schema.json

A scenario that lies beside it names it in its first line: #:schema ./scenario.schema.json")]
    Schema,
    /// Writes shell completions to standard output.
    Completions {
        /// Shell.
        shell: clap_complete::Shell,
    },
    /// Writes the manual pages into a folder.
    Man {
        /// Folder; made when missing.
        folder: PathBuf,
    },
}

/// Arguments of `new`.
#[derive(Debug, Default, Args)]
pub struct NewArgs {
    /// File to write [default: the name of the template or of the path file, with .toml].
    pub file: Option<PathBuf>,
    /// An invented place [default: flat-field].
    #[arg(long, value_enum, conflicts_with = "path")]
    pub template: Option<TemplateArg>,
    /// A planned or recorded flight in a file that `path.file` of a scenario takes; its first point is the take-off spot.
    #[arg(long, value_name = "FILE")]
    pub path: Option<PathBuf>,
    /// Ground heights under it, in a file that `site.terrain_file` of a scenario takes.
    #[arg(long, value_name = "FILE", requires = "path")]
    pub terrain: Option<PathBuf>,
    /// Replace files that are there.
    #[arg(long)]
    pub overwrite: bool,
    /// Do not write the JSON Schema for editors beside the scenario.
    #[arg(long)]
    pub no_schema: bool,
}

/// An invented place to start from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum TemplateArg {
    /// Circuits over grass, a lane and a footpath beside it.
    FlatField,
    /// Round a spur that hides the craft from the radio.
    Valley,
    /// Out over the water with the wind behind, home against it.
    Shore,
    /// Roofs seen from a meadow, with gardens and a street.
    TownEdge,
    /// Eight kilometres out along a line, and back.
    LongLeg,
}

/// Arguments of `check`.
#[derive(Debug, Args)]
pub struct CheckArgs {
    /// Scenario file.
    pub scenario: PathBuf,
    /// Print JSON instead of text.
    #[arg(long)]
    pub json: bool,
}

/// How many flights, from which seed.
#[derive(Debug, Clone, Args)]
pub struct FlightsArgs {
    /// Number of flights instead of the scenario's.
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=10_000_000))]
    pub flights: Option<u32>,
    /// Seed instead of the scenario's.
    #[arg(long, value_name = "S")]
    pub seed: Option<u64>,
}

/// Arguments of `assess`.
#[derive(Debug, Args)]
pub struct AssessArgs {
    /// Scenario file.
    pub scenario: PathBuf,
    /// Flights and seed.
    #[command(flatten)]
    pub run: FlightsArgs,
    /// Report folder [default: reports/SCENARIO].
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
    /// Write the figures as PNG too, not as SVG alone.
    #[arg(long)]
    pub png: bool,
    /// Choose the number of flights in two stages so that each danger share is known to ± this many
    /// percentage points: a pilot run sets the number, a fresh run is reported alone.
    #[arg(long, value_name = "POINTS", conflicts_with = "flights")]
    pub until_half_width: Option<f64>,
    /// Print the summary as JSON instead of text.
    #[arg(long)]
    pub json: bool,
    /// Leave out conditions, what would change the answer, and what-if bars: quicker.
    #[arg(long)]
    pub quick: bool,
    /// Tell on standard error where the time went, stage by stage.
    #[arg(long)]
    pub timing: bool,
}

/// Lowest return height compared. This and what follows are defaults that `figure` shares with the commands whose figures it gives.
pub const LOWEST_M: f64 = 10.0;
/// Return heights compared.
pub const HEIGHTS: u32 = 25;
/// Height of the map of the reach.
pub const REACH_HEIGHT_M: f64 = 60.0;
/// Stay in one place that it is for.
pub const DWELL_S: f64 = 10.0;
/// Cells along its longer side.
pub const REACH_CELLS: u32 = 400;
/// Height above the take-off spot that the day of the sky is for.
pub const SKY_HEIGHT_M: f64 = 2.0;

/// Arguments of `heights`.
#[derive(Debug, Args)]
pub struct HeightsArgs {
    /// Scenario file.
    pub scenario: PathBuf,
    /// Flights and seed.
    #[command(flatten)]
    pub run: FlightsArgs,
    /// Lowest return height, measured as the policy measures it, m.
    #[arg(long, value_name = "M", default_value_t = LOWEST_M)]
    pub from: f64,
    /// Greatest return height, m [default: a little above the ceiling].
    #[arg(long, value_name = "M")]
    pub to: Option<f64>,
    /// Greatest number of heights; they are a multiple of 5 m apart.
    #[arg(long, value_name = "N", default_value_t = HEIGHTS, value_parser = clap::value_parser!(u32).range(2..=200))]
    pub count: u32,
    /// Return speeds to compare as well, m/s.
    #[arg(long, value_name = "MPS", value_delimiter = ',')]
    pub speeds: Vec<f64>,
    /// Policy whose return is varied [default: the first that returns].
    #[arg(long, value_name = "NAME")]
    pub policy: Option<String>,
    /// Report folder [default: reports/SCENARIO-heights].
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
    /// Write the figures as PNG too, not as SVG alone.
    #[arg(long)]
    pub png: bool,
    /// Print JSON instead of text.
    #[arg(long)]
    pub json: bool,
}

/// Arguments of `replay`.
#[derive(Debug, Args)]
pub struct ReplayArgs {
    /// Scenario file.
    pub scenario: PathBuf,
    /// Which flight: its number, or typical, worst, first-that-struck, policies-differ-most.
    #[arg(value_name = "WHICH", default_value = "typical", conflicts_with = "flight")]
    pub which: String,
    /// The number of the flight; WHICH says the same.
    #[arg(long, value_name = "N", hide = true)]
    pub flight: Option<u32>,
    /// Number of flights that a word picks from [default: the scenario's, at most 400].
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=10_000_000))]
    pub flights: Option<u32>,
    /// Seed instead of the scenario's.
    #[arg(long, value_name = "S")]
    pub seed: Option<u64>,
    /// Only the policy of this name; may be given several times [default: all].
    #[arg(long, value_name = "NAME")]
    pub policy: Vec<String>,
    /// File for the page alone.
    #[arg(long, value_name = "FILE")]
    pub page: Option<PathBuf>,
    /// Folder for the page, its figures, the animated figure, the story and the traces [default: none are written].
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
    /// Write the figures of that folder as PNG too, not as SVG alone.
    #[arg(long, requires = "out")]
    pub png: bool,
    /// Print the story and every row of the traces as JSON instead of text.
    #[arg(long)]
    pub json: bool,
}

/// Arguments of `reach`.
#[derive(Debug, Args)]
pub struct ReachArgs {
    /// Scenario file.
    pub scenario: PathBuf,
    /// Height above ground, m; several with commas.
    #[arg(long, value_name = "M", value_delimiter = ',', default_values_t = [REACH_HEIGHT_M])]
    pub height: Vec<f64>,
    /// Dwell within which a declared loss counts, s.
    #[arg(long, value_name = "S", default_value_t = DWELL_S)]
    pub dwell: f64,
    /// Cells along the longer side of the map.
    #[arg(long, value_name = "N", default_value_t = REACH_CELLS, value_parser = clap::value_parser!(u32).range(10..=2000))]
    pub cells: u32,
    /// Report folder [default: reports/SCENARIO-reach].
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
    /// Write the figures as PNG too, not as SVG alone.
    #[arg(long)]
    pub png: bool,
    /// Print JSON instead of text.
    #[arg(long)]
    pub json: bool,
}

/// Arguments of `sky`.
#[derive(Debug, Args)]
pub struct SkyArgs {
    /// Scenario file.
    pub scenario: PathBuf,
    /// Least satellites of the guard.
    #[arg(long, value_name = "N", default_value_t = 8)]
    pub satellites: u32,
    /// Greatest HDOP of the guard.
    #[arg(long, value_name = "X", default_value_t = 2.0)]
    pub hdop: f64,
    /// Height above the take-off spot, m.
    #[arg(long, value_name = "M", default_value_t = SKY_HEIGHT_M)]
    pub height: f64,
    /// Report folder [default: reports/SCENARIO-sky].
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
    /// Write the figures as PNG too, not as SVG alone.
    #[arg(long)]
    pub png: bool,
    /// Print JSON instead of text.
    #[arg(long)]
    pub json: bool,
}

/// Arguments of `sheet`.
#[derive(Debug, Args)]
pub struct SheetArgs {
    /// Scenario file.
    pub scenario: PathBuf,
    /// Flights and seed.
    #[command(flatten)]
    pub run: FlightsArgs,
    /// Policy by name [default: the one the assessment recommends].
    #[arg(long, value_name = "NAME")]
    pub policy: Option<String>,
    /// Folder [default: reports/SCENARIO-sheet].
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
}

/// Arguments of `figure`.
#[derive(Debug, Args)]
pub struct FigureArgs {
    /// Scenario file.
    pub scenario: PathBuf,
    /// Name of the figure, or `all`; without it: a page that shows all with their names.
    #[arg(value_name = "WHAT")]
    pub what: Option<String>,
    /// What it is for: how large its text is, and how it is laid out.
    #[arg(long = "for", value_enum, value_name = "USE", default_value_t = UseArg::Slide)]
    pub usage: UseArg,
    /// Size of a slide in picture points [default: 1920x1080].
    #[arg(long, value_name = "WIDTHxHEIGHT", conflicts_with = "width")]
    pub size: Option<String>,
    /// Width on paper in mm, on a screen in px; the height follows [default: 170mm, 900px].
    #[arg(long, value_name = "WIDTH")]
    pub width: Option<String>,
    /// Light or dark ground.
    #[arg(long, value_enum, default_value_t = ThemeArg::Light)]
    pub theme: ThemeArg,
    /// Form of the file [default: by the ending of --out; slide png, paper pdf, screen svg].
    #[arg(long, value_enum)]
    pub format: Option<FormatArg>,
    /// Title instead of the figure's own.
    #[arg(long, value_name = "TEXT", conflicts_with = "no_title")]
    pub title: Option<String>,
    /// No title: the text around the figure has it.
    #[arg(long)]
    pub no_title: bool,
    /// Language that numbers are written in: en, de, de-CH, fr, es, it, nl, pt, da, sv, nb, fi, pl, cs, uk.
    #[arg(long, value_name = "LANGUAGE", default_value = "en")]
    pub numbers: String,
    /// Which flight, for figures of one: its number, or typical, worst, first-that-struck, policies-differ-most.
    #[arg(long, value_name = "WHICH", default_value = "typical")]
    pub flight: String,
    /// Only the policy of this name, for figures of one flight; may be given several times [default: all].
    #[arg(long, value_name = "NAME")]
    pub policy: Vec<String>,
    /// Height above ground for the map of the reach, m.
    #[arg(long, value_name = "M", default_value_t = REACH_HEIGHT_M)]
    pub height: f64,
    /// Flights and seed, for figures that need flights.
    #[command(flatten)]
    pub run: FlightsArgs,
    /// File, for all a folder [default: reports/figures/SCENARIO-WHAT, reports/SCENARIO-figures].
    #[arg(long, value_name = "FILE")]
    pub out: Option<PathBuf>,
}

/// What a figure is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum UseArg {
    /// A 16:9 slide with text of at least 18 pt.
    Slide,
    /// 170 mm wide with text of at least 8 pt.
    Paper,
    /// As in reports.
    Screen,
}

/// Ground of a figure.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum ThemeArg {
    /// Dark ink on white.
    Light,
    /// Light ink on near-black.
    Dark,
}

/// Form of a figure's file.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum FormatArg {
    /// Lines, areas and outlines of letters.
    Svg,
    /// Picture points.
    Png,
    /// A page; its text can be searched.
    Pdf,
}

fn help_of_figures() -> String {
    format!(
        "Examples:
  lostlink figure scenarios/club-field.toml
  lostlink figure scenarios/club-field.toml bars
  lostlink figure scenarios/ridge-valley.toml section --for paper --width 85mm --no-title
  lostlink figure scenarios/lake-shore.toml loss-plan --flight worst --theme dark --numbers de
  lostlink figure scenarios/quarry.toml sky-day --format svg --out sky.svg
  lostlink figure scenarios/club-field.toml all --for paper --out figures

Names:
{}
Only what a figure needs is worked out. A slide has 16:9 and 1920x1080 unless --size says otherwise; its text is 18 pt or \
more where a slide is 7.5 inches high. What is too much for a slide is set smaller, and a note says so.",
        crate::report::figures::list()
    )
}

/// Arguments of `lesson`.
#[derive(Debug, Args)]
pub struct LessonArgs {
    /// Lesson files; none for the built-in course.
    pub files: Vec<PathBuf>,
    /// Flights and seed of every chapter.
    #[command(flatten)]
    pub run: FlightsArgs,
    /// Folder for the page and the slides.
    #[arg(long, value_name = "DIR", default_value = "reports/lesson")]
    pub out: PathBuf,
}

/// Arguments of `serve`.
#[cfg(feature = "serve")]
#[derive(Debug, Args)]
pub struct ServeArgs {
    /// Scenario file.
    pub scenario: PathBuf,
    /// Port on the loopback address; 0 for a free one.
    #[arg(long, value_name = "N", default_value_t = 0)]
    pub port: u16,
    /// Open the page in the browser.
    #[arg(long)]
    pub open: bool,
}

/// Arguments of `page`.
#[derive(Debug, Args)]
pub struct PageArgs {
    /// A summary.json that assess wrote, with the folder figures/ beside it.
    pub summary: PathBuf,
    /// File for the page [default: standard output].
    #[arg(long, value_name = "FILE")]
    pub out: Option<PathBuf>,
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The help adds the default of an argument that has one: its words need not say it again.
    #[test]
    fn no_help_says_a_default_twice() {
        let mut command = Cli::command();
        command.build();
        let mut seen = 0;
        for part in std::iter::once(&command).chain(command.get_subcommands()) {
            for argument in part.get_arguments().filter(|argument| !argument.get_default_values().is_empty()) {
                let words =
                    argument.get_long_help().or(argument.get_help()).map(ToString::to_string).unwrap_or_default();
                assert!(!words.contains("default"), "{}, --{}: {words}", part.get_name(), argument.get_id());
                seen += 1;
            }
            let text = part.clone().render_long_help().to_string();
            for paragraph in text.split("\n\n") {
                assert!(paragraph.matches("[default").count() <= 1, "{}: {paragraph}", part.get_name());
            }
        }
        assert!(seen >= 10, "{seen} arguments with a default");
    }
}
