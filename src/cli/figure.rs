//! `figure`: one figure for a slide, for paper or for a screen; or a page of all that a scenario can give.

use super::args::{
    Common, DWELL_S, FigureArgs, FormatArg, HEIGHTS, LOWEST_M, REACH_CELLS, SKY_HEIGHT_M, ThemeArg, UseArg,
};
use super::out::{Failure, bad};
use super::progress::Progress;
use super::{gather, load, out};
use crate::plan::{site_map, survey};
use crate::report::figure_page::{self, Thumbnail};
use crate::report::figures::{self, ALL, Found, Named, Need, Plan, Reached};
use crate::report::form::{Form, Format, LaidOut, Use};
use crate::report::plot::theme::Theme;
use crate::report::plot::{Numbers, Title};
use crate::risk::assess::{Ask, assess, work};
use crate::scenario::Scenario;
use std::convert::Infallible;
use std::path::{Path, PathBuf};

/// Flights of the page of thumbnails, and of each return height on it: a few seconds.
const THUMBNAIL_FLIGHTS: u32 = 400;
const THUMBNAIL_HEIGHT_FLIGHTS: u32 = 100;
/// Return heights of the thumbnail.
const THUMBNAIL_HEIGHTS: u32 = 9;

/// How much is worked out.
#[derive(Clone, Copy, PartialEq)]
enum Care {
    /// For a figure that leaves the program.
    Full,
    /// For a thumbnail.
    Thumbnail,
}

/// Runs it.
pub fn run(common: &Common, args: &FigureArgs) -> Result<(), Failure> {
    let form = form(args)?;
    if !(0.5..=2_000.0).contains(&args.height) {
        return Err(bad(&format!("--height {}: accepted: 0.5 to 2000 m", args.height)));
    }
    let scenario = load::changed(&args.scenario, &args.run)?;
    match args.what.as_deref() {
        None => thumbnails(common, args, scenario),
        Some("all") => all(common, args, scenario, &form),
        Some(name) => {
            let named = Named::of(name).ok_or_else(|| unknown(name, &scenario))?;
            named.possible(&scenario).map_err(|why| impossible(named, why, &scenario))?;
            one(common, args, scenario, named, &form)
        }
    }
}

fn unknown(name: &str, scenario: &Scenario) -> Failure {
    let meant = figures::nearest(name).map_or(String::new(), |near| format!("; did you mean '{near}'?"));
    let names = figures::list_for(scenario);
    Failure::Input(format!("lostlink: no figure is called '{name}'{meant}\n  accepted: all, {names}"))
}

fn impossible(named: &Named, why: &str, scenario: &Scenario) -> Failure {
    let names = figures::list_for(scenario);
    Failure::Input(format!("lostlink: this scenario has no figure '{}': {why}\n  accepted: all, {names}", named.name))
}

/// A length as typed, in the unit that its use takes.
fn length(text: &str, unit: &str) -> Result<f64, Failure> {
    let number = text.trim().strip_suffix(unit).unwrap_or(text.trim()).trim();
    number.parse().map_err(|_| bad(&format!("--width {text}: accepted: a number of {unit}, such as 85{unit}")))
}

fn form(args: &FigureArgs) -> Result<Form<'_>, Failure> {
    let usage = match (args.usage, &args.size, &args.width) {
        (UseArg::Slide, None, None) => Use::SLIDE,
        (UseArg::Slide, Some(size), _) => {
            let points = size
                .trim_end_matches("px")
                .split_once('x')
                .and_then(|(w, h)| Some([w.trim_end_matches("px").trim().parse().ok()?, h.trim().parse().ok()?]));
            let accepted =
                || bad(&format!("--size {size}: accepted: WIDTHxHEIGHT in picture points, such as 1920x1080"));
            Use::Slide { points: points.ok_or_else(accepted)? }
        }
        (UseArg::Slide, _, Some(_)) => return Err(bad("--width: a slide takes --size WIDTHxHEIGHT in picture points")),
        (_, Some(_), _) => return Err(bad("--size: for slides only; paper and screen take --width")),
        (UseArg::Paper, _, None) => Use::PAPER,
        (UseArg::Paper, _, Some(width)) => Use::Paper { width_mm: length(width, "mm")? },
        (UseArg::Screen, _, None) => Use::SCREEN,
        (UseArg::Screen, _, Some(width)) => Use::Screen { width_px: length(width, "px")? },
    };
    usage.check().map_err(|accepted| {
        let typed = args.size.as_ref().or(args.width.as_ref()).map_or("", String::as_str);
        let option = if args.size.is_some() { "--size" } else { "--width" };
        bad(&format!("{option} {typed}: accepted: {accepted}"))
    })?;
    let numbers = Numbers::of(&args.numbers).ok_or_else(|| {
        let codes: Vec<&str> = Numbers::LANGUAGES.iter().map(|known| known.0).collect();
        bad(&format!("--numbers {}: accepted: {}", args.numbers, codes.join(", ")))
    })?;
    Ok(Form {
        usage,
        theme: if args.theme == ThemeArg::Dark { Theme::Dark } else { Theme::Light },
        title: match &args.title {
            _ if args.no_title => Title::None,
            Some(title) => Title::Given(title),
            None => Title::Own,
        },
        numbers,
    })
}

/// The form of the file: as asked for, else by its ending, else as its use has it.
fn format(args: &FigureArgs, usage: Use) -> Result<Format, Failure> {
    let asked = args.format.map(|format| match format {
        FormatArg::Svg => Format::Svg,
        FormatArg::Png => Format::Png,
        FormatArg::Pdf => Format::Pdf,
    });
    if let Some(asked) = asked {
        return Ok(asked);
    }
    let file = args.out.as_ref().filter(|_| args.what.as_deref() != Some("all"));
    let Some(ending) = file.and_then(|file| file.extension()) else { return Ok(usage.format()) };
    let known = Format::ALL.into_iter().find(|format| ending.eq_ignore_ascii_case(format.ending()));
    known.ok_or_else(|| bad(&format!("--out …{}: accepted: .svg, .png, .pdf, or --format", ending.display())))
}

/// Works out what figures need, and no more.
fn found(
    common: &Common,
    args: &FigureArgs,
    scenario: &Scenario,
    needs: &[Need],
    care: Care,
) -> Result<Found, Failure> {
    let (path, needed) = (args.scenario.as_path(), |need| needs.contains(&need));
    let few = |most: u32| if care == Care::Full || args.run.flights.is_some() { u32::MAX } else { most };
    let mut found = Found::default();
    if needed(Need::Plan) {
        let world = load::world_for_planning(path, scenario.clone())?;
        let policies = scenario.policies.iter().map(|policy| policy.name.clone()).collect();
        found.plan = Some(Plan { map: site_map(&world), survey: survey(&world), policies });
    }
    if needed(Need::Reach) {
        let reached = gather::reach(path, scenario.clone(), &[args.height], DWELL_S, REACH_CELLS)?;
        found.reach = Some(Reached { map: site_map(&reached.world), reach: reached.found });
    }
    if needed(Need::Sky) {
        found.sky = Some(gather::sky(path, scenario, vec![], SKY_HEIGHT_M)?);
    }
    if needed(Need::Flight) {
        let policies = gather::chosen(scenario, &args.policy)?;
        let flights = args.run.flights.unwrap_or(scenario.flights.min(gather::PICKS_FROM));
        let which = gather::which(&args.flight)?;
        found.told = match gather::told(common, path, scenario.clone(), which, &policies, flights) {
            // Where it is one of many, the others can be had all the same.
            Err(Failure::Input(_)) if needs.len() > 1 => None,
            told => Some(told?),
        };
    }
    if needed(Need::Flights) || needed(Need::Variations) {
        let flown = scenario.clone().with_flights(scenario.flights.min(few(THUMBNAIL_FLIGHTS)));
        found.summary = Some(assessed(common, path, flown, !needed(Need::Variations))?);
    }
    if needed(Need::Heights) {
        let flown = scenario.clone().with_flights(scenario.flights.min(few(THUMBNAIL_HEIGHT_FLIGHTS)));
        let count = if care == Care::Full { HEIGHTS } else { THUMBNAIL_HEIGHTS };
        let ask = gather::Sweep { from_m: LOWEST_M, to_m: None, count, speeds_mps: &[], policy: None };
        found.heights = Some(gather::heights(common, path, flown, &ask)?);
    }
    Ok(found)
}

fn assessed(
    common: &Common,
    path: &Path,
    scenario: Scenario,
    quick: bool,
) -> Result<crate::risk::summary::Summary, Failure> {
    let world = load::world(path, scenario)?;
    let ask = Ask {
        scenario_name: load::name(path),
        command: load::again("assess", path, &world.scenario),
        flights: 0..world.scenario.flights,
        flights_rule: "fixed beforehand".into(),
        quick,
    };
    let progress = Progress::new("flights", work(&world.scenario, &ask), common.ascii);
    let summary = assess::<Infallible>(&world, &ask, &progress.hear(), &mut |_| Ok(()))
        .map_err(|error| load::assess_refused(path, error))?;
    progress.finish();
    load::bearable(&summary.faults, &world.scenario.policies)?;
    Ok(summary)
}

/// What a reader of the terminal should know of a figure that was laid out.
fn note(named: &Named, laid: &LaidOut) -> String {
    let asked_pt = laid.usage.least_text_pt();
    if laid.text_pt > asked_pt - 0.01 {
        return String::new();
    }
    format!(
        "Note: {} is too much for a {} with text of {asked_pt:.0} pt; its text is {:.1} pt. Paper has more room.\n",
        named.name,
        laid.usage.word(),
        laid.text_pt
    )
}

fn one(common: &Common, args: &FigureArgs, scenario: Scenario, named: &Named, form: &Form) -> Result<(), Failure> {
    let format = format(args, form.usage)?;
    let found = found(common, args, &scenario, &[named.needs()], Care::Full)?;
    let laid =
        form.lay_out(|look| named.draw(&found, look)).ok_or_else(|| impossible(named, named.nothing(), &scenario))?;
    let bytes = laid.write(format)?;
    let usual = || {
        let name = format!("{}-{}.{format}", load::name(&args.scenario), named.name);
        Path::new("reports").join("figures").join(name)
    };
    let file = args.out.clone().unwrap_or_else(usual);
    out::file(&file, &bytes)?;
    let text = format!(
        "{}{}.\n{}\nFigure: {}\n",
        note(named, &laid),
        laid.figure.title.trim_end_matches('.'),
        laid.figure.under_title(),
        file.display()
    );
    out::print(text.as_bytes())
}

/// The figures of a list, and those that are not there with the reason.
struct Sorted {
    given: Vec<(&'static Named, LaidOut)>,
    missing: Vec<(&'static Named, String)>,
}

fn sorted(scenario: &Scenario, found: &Found, form: &Form) -> Sorted {
    let mut sorted = Sorted { given: vec![], missing: vec![] };
    for named in &ALL {
        match named.possible(scenario) {
            Err(why) => sorted.missing.push((named, why.into())),
            Ok(()) => match form.lay_out(|look| named.draw(found, look)) {
                Some(laid) => sorted.given.push((named, laid)),
                None => sorted.missing.push((named, named.nothing().into())),
            },
        }
    }
    sorted
}

fn needs(scenario: &Scenario) -> Vec<Need> {
    let mut needs: Vec<Need> =
        ALL.iter().filter(|named| named.possible(scenario).is_ok()).map(|named| named.needs()).collect();
    needs.sort_unstable();
    needs.dedup();
    needs
}

/// Every figure as a file, with the page of them.
fn all(common: &Common, args: &FigureArgs, scenario: Scenario, form: &Form) -> Result<(), Failure> {
    let format = format(args, form.usage)?;
    let folder = load::folder(args.out.as_deref(), &args.scenario, "-figures")?;
    let found = found(common, args, &scenario, &needs(&scenario), Care::Full)?;
    let sorted = sorted(&scenario, &found, form);
    let mut notes = String::new();
    for (named, laid) in &sorted.given {
        folder.write(&format!("{}.{format}", named.name), &laid.write(format)?)?;
        notes += &note(named, laid);
    }
    let place = page(args, &scenario, &found, "As drawn from all flights asked for.", folder)?;
    let n = sorted.given.len();
    out::print(format!("{notes}{n} figures in {}\nPage: {}\n", parent(&place), place.display()).as_bytes())
}

fn parent(place: &Path) -> String {
    place.parent().map_or(String::new(), |folder| folder.display().to_string())
}

fn thumbnails(common: &Common, args: &FigureArgs, scenario: Scenario) -> Result<(), Failure> {
    let folder = load::folder(args.out.as_deref(), &args.scenario, "-figures")?;
    let found = found(common, args, &scenario, &needs(&scenario), Care::Thumbnail)?;
    let few = args.run.flights.is_none() && scenario.flights > THUMBNAIL_FLIGHTS;
    let note = if few {
        format!(
            "To be quick, these are drawn from at most {THUMBNAIL_FLIGHTS} flights; a figure asked for by name takes all."
        )
    } else {
        "Return heights have fewer flights here than when asked for by name.".into()
    };
    let place = page(args, &scenario, &found, &note, folder)?;
    out::print(format!("Names of the figures, with thumbnails: {}\n", place.display()).as_bytes())
}

/// Writes the page of thumbnails and finishes its folder.
fn page(
    args: &FigureArgs,
    scenario: &Scenario,
    found: &Found,
    note: &str,
    folder: crate::report::folder::ReportFolder,
) -> Result<PathBuf, Failure> {
    let sorted = sorted(scenario, found, &Form::of(Use::SLIDE));
    let thumbnails = sorted.given.iter().map(|(named, laid)| Thumbnail {
        name: named.name,
        shows: named.shows,
        needs: named.needs().words(),
        figure: &laid.figure,
    });
    let page = figure_page::Thumbnails {
        title: &scenario.title,
        invented: scenario.invented,
        scenario: args.scenario.display().to_string(),
        note,
        given: thumbnails.collect(),
        missing: sorted.missing.iter().map(|(named, why)| (named.name, why.as_str())).collect(),
    };
    let mut bytes = Vec::new();
    figure_page::write(&page, &mut bytes)?;
    folder.write("figures.html", &bytes)?;
    Ok(folder.finish()?.join("figures.html"))
}
