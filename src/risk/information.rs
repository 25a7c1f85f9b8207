//! What would change the answer: what it is worth to know each uncertain input, and at which value of it the choice turns.
//!
//! The flights of the main run screen all inputs (`stats::information`); only those that lead are flown again, value by value, on the
//! same luck. Inputs are what one could measure; what is left is luck, which no measurement takes away.

use super::choice::{lead, leading};
use super::end_log::EndLog;
use super::outcome::Concern;
use crate::chance::{Purpose, Source};
use crate::flight::input_values;
use crate::scenario::{Judge, Matters, Scenario, UncertainInput};
use crate::site::{Area, Whose};
use crate::stats::information::{Losses, Question, Standing, Value, saved_by_knowing, standing, value_of_knowing};
use crate::stats::paired::tango;
use crate::world::{World, WorldError};
use rayon::prelude::*;
use serde::{Deserialize, Serialize};
use std::ops::Range;

/// Values that stand for the distribution of an input: so many that its quantiles add nothing to the error of the regression.
const PLACES: u32 = 100;

/// Inputs told at most. Twice as many, the best at first look, get an error and a noise floor.
const CLOSER: usize = 10;

/// Inputs flown again, the quantiles at which they are, and how often the step in which the choice turns is halved.
const FLOWN_AGAIN: usize = 2;
const QUANTILES: [f64; 3] = [0.1, 0.5, 0.9];
const HALVINGS: usize = 2;

/// A stated margin around people is flown again at these shares of it: what two people may differ by who pace it out. Estimate.
const MARGIN_SHARES: [f64; 2] = [0.5, 1.25];

/// What matters is at least this share, where shares are held against it: a hundredth of a flight in a thousand. Estimate.
const LEAST_MATTERS: f64 = 1e-5;

/// How far the take-off spot is moved. Estimate: a few paces.
const MOVE_M: f64 = 4.0;

/// Flights flown again at most, as a share of the run's. The regressions and a world for each value come on top.
const SHARE: f64 = 0.2;

/// Flights at each value: at least these, or a number is not flown again, and at most these.
const FLIGHTS: (u32, u32) = (30, 500);

/// What would change the answer.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Information {
    /// Uncertain inputs looked at.
    pub screened: usize,
    /// Those whose value stands out from noise, the most valuable first.
    pub inputs: Vec<InputValue>,
    /// Share of plausible inputs at which the choice would be the same; `None` when no input stands out.
    pub stands: Option<f64>,
    /// Standard error of that share.
    pub stands_error: Option<f64>,
    /// Inputs flown again value by value, stated numbers and the take-off spot among them.
    pub again: Vec<FlownAgain>,
    /// Flights at each value; 0 where nothing was flown again.
    pub flights: u32,
}

/// What it is worth to know an input.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct InputValue {
    /// Its key path; several for what shapes the site, which is drawn together.
    pub keys: Vec<String>,
    /// The gravest concern by which knowing it stands out.
    pub concern: Concern,
    /// Endings of that concern avoided, as a share of lost links, by choosing with it known.
    pub saved: f64,
    /// Standard error of that.
    pub error: f64,
    /// What the best of all inputs would seem to save in 19 of 20 cases if none had any bearing.
    pub floor: f64,
}

/// A number flown again at several values on the same luck.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FlownAgain {
    /// Its key path.
    pub key: String,
    /// Whether the scenario states it exactly.
    pub stated: bool,
    /// The zone of the crew whose people were counted as others for this, by its place in the site's list.
    pub others_in: Option<usize>,
    /// The value assumed: stated, or the middle.
    pub assumed: f64,
    /// Its values in rising order, with what comes of them.
    pub at: Vec<AtValue>,
    /// Where the choice turns.
    pub turns: Vec<Turn>,
}

/// What comes of one value.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct AtValue {
    /// The value.
    pub value: f64,
    /// Lost links among the flights flown.
    pub lost: u64,
    /// Endings per policy and concern, in the order of [`Concern::ALL`].
    pub endings: Vec<[u64; Concern::ALL.len()]>,
    /// The policy that leads by these counts, as far as the flights there or at the values beside show that it does; otherwise the one
    /// chosen. `None` without a lost link.
    pub leads: Option<usize>,
}

/// A value at which the choice turns, between the two nearest values flown.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Turn {
    /// The greater of the values flown at which `below` leads.
    pub above: f64,
    /// The least of those at which it no longer does.
    pub under: f64,
    /// Policy that leads below.
    pub below: usize,
    /// Policy that leads from there on.
    pub from_there: usize,
}

/// The policy that leads by these shares; the one chosen as long as it is among those that lead, for to change between equals
/// changes nothing.
fn leads(shares: &[[f64; Concern::ALL.len()]], matters: &Matters, chosen: usize) -> usize {
    let all: Vec<usize> = (0..shares.len()).collect();
    let matters = Concern::ALL.map(|on| on.matters(matters));
    if leading(&matters, shares, &all).contains(&chosen) {
        chosen
    } else {
        lead(&matters, shares, &all).unwrap_or(chosen)
    }
}

/// An input of the screening, or those that shape the site together.
struct Screened {
    inputs: Vec<UncertainInput>,
    is: Is,
    plausible: Vec<f64>,
}

/// What is screened.
enum Is {
    /// The input of this place in the list.
    Input(usize),
    /// The world of a family, which is one of so many.
    Member(usize),
}

impl Screened {
    /// The values that it took in these flights. They are drawn again each time: those of all inputs in a long run take more room
    /// than anything else of it.
    fn values(&self, world: &World, flights: &[u32]) -> Vec<f64> {
        match self.is {
            Is::Input(place) => input_values(world, flights, place),
            Is::Member(of) => flights.iter().map(|&flight| (flight as usize % of) as f64).collect(),
        }
    }
}

/// Flights flown again at most, for a progress bar.
pub fn work(flights: u32) -> u64 {
    (SHARE * f64::from(flights)) as u64
}

/// What was found, with what the rest of an assessment needs of it.
pub struct Found {
    /// What would change the answer.
    pub information: Information,
    /// Inputs whose value stands out, the most valuable first.
    pub leading: Vec<UncertainInput>,
    /// Flights flown again.
    pub flown: u64,
    /// Those of them that were set aside for a numerical fault.
    pub faulted: u64,
}

/// Works it out for a run whose endings are `log` and whose answer is the policy `chosen`. `done` hears of flights flown again.
///
/// # Errors
/// A value at which no world can be built.
pub fn information(
    world: &World,
    log: &EndLog,
    chosen: usize,
    flights: Range<u32>,
    done: &(dyn Fn(u64) + Sync),
) -> Result<Found, WorldError> {
    let mut found = Information {
        screened: 0,
        inputs: Vec::new(),
        stands: None,
        stands_error: None,
        again: Vec::new(),
        flights: 0,
    };
    if world.scenario.policies.len() < 2 || log.flights().is_empty() {
        return Ok(Found { information: found, leading: Vec::new(), flown: 0, faulted: 0 });
    }
    let leading = screening(world, log, chosen, &mut found);
    let mut plans = plans(world, log, &leading);
    found.flights = share_out(&mut plans, flights.len() as u32);
    let until = flights.start + found.flights;
    let mut again = Again {
        world,
        chosen,
        flights: flights.start..until,
        flown_anyway: log.before(until),
        with_others: None,
        done,
        flown: 0,
        faulted: 0,
    };
    for plan in &plans {
        found.again.push(again.sweep(plan)?);
    }
    Ok(Found { information: found, leading, flown: again.flown, faulted: again.faulted })
}

/// Finds the inputs that are worth knowing, the most valuable first, and notes what they are worth.
fn screening(world: &World, log: &EndLog, chosen: usize, found: &mut Information) -> Vec<UncertainInput> {
    let matters = &world.scenario.judge.matters;
    let losses = Losses::beside(chosen, log.losses(world.scenario.policies.len()));
    let choose = |told: &[Vec<f64>]| {
        let shares: Vec<[f64; Concern::ALL.len()]> =
            told.iter().map(|by| Concern::ALL.map(|on| by[on.index()])).collect();
        leads(&shares, matters, chosen)
    };
    let question = Question { losses: &losses, choose: &choose, least: Some(0.0) };

    let screened = screen(world);
    found.screened = screened.iter().map(|one| one.inputs.len()).sum();
    let valued = closer(&screened, world, log.flights(), &question);
    if !valued.is_empty() {
        let leading: Vec<Vec<f64>> = valued.par_iter().map(|(one, _)| one.values(world, log.flights())).collect();
        let leading: Vec<&[f64]> = leading.iter().map(Vec::as_slice).collect();
        let Standing { share, error } = standing(&leading, &question);
        (found.stands, found.stands_error) = (Some(share), Some(error));
    }
    found.inputs = valued.iter().map(|(one, value)| input_value(one, value)).collect();
    valued.iter().flat_map(|(one, _)| one.inputs.clone()).collect()
}

fn shares_of(endings: &[[u64; Concern::ALL.len()]], lost: u64) -> Vec<[f64; Concern::ALL.len()]> {
    endings.iter().map(|counts| counts.map(|count| count as f64 / lost as f64)).collect()
}

/// The uncertain inputs.
fn screen(world: &World) -> Vec<Screened> {
    let inputs = world.scenario.uncertain().into_iter().enumerate().filter(|(_, input)| !input.number.is_exact());
    let (site, others): (Vec<_>, Vec<_>) = inputs.partition(|(_, input)| input.shapes_the_site);
    let spread = |input: &UncertainInput| {
        let place = |part: u32| input.number.quantile((f64::from(part) + 0.5) / f64::from(PLACES));
        (0..PLACES).map(place).collect()
    };
    let alone = |(place, input): (usize, UncertainInput)| Screened {
        plausible: spread(&input),
        is: Is::Input(place),
        inputs: vec![input],
    };
    let mut screened: Vec<Screened> = others.into_iter().map(alone).collect();
    // What shapes the site is drawn together, for a few worlds: their flights cannot tell one from the other.
    if !site.is_empty() {
        let worlds = world.family.len().max(1);
        screened.push(Screened {
            inputs: site.into_iter().map(|(_, input)| input).collect(),
            is: Is::Member(worlds),
            plausible: (0..worlds).map(|one| one as f64).collect(),
        });
    }
    screened
}

/// The first [`CLOSER`] of those whose value stands out from noise in these flights, the most valuable first: by the gravest concern,
/// then by how much.
fn closer<'s>(
    screened: &'s [Screened],
    world: &World,
    flights: &[u32],
    question: &Question,
) -> Vec<(&'s Screened, Value)> {
    let looked_at = |one: &Screened| saved_by_knowing(&one.values(world, flights), &one.plausible, question);
    let first: Vec<Vec<f64>> = screened.par_iter().map(looked_at).collect();
    // Concern by concern against what matters there: what saves something somewhere may cost a little in a graver one.
    let matters = Concern::ALL.map(|on| on.matters(&world.scenario.judge.matters).max(LEAST_MATTERS));
    let most = |place: usize| {
        first[place].iter().zip(matters).map(|(saved, matters)| saved / matters).fold(f64::NEG_INFINITY, f64::max)
    };
    let mut order: Vec<usize> = (0..screened.len()).collect();
    order.sort_by(|&a, &b| most(b).total_cmp(&most(a)).then(a.cmp(&b)));
    let mut valued: Vec<(&Screened, Value)> = order
        .into_par_iter()
        .take(2 * CLOSER)
        .map(|place| {
            let one = &screened[place];
            let mut stream = Source::new(world.scenario.seed, Purpose::Resample).sequence(place as u32, 0);
            let x = one.values(world, flights);
            (one, value_of_knowing(&x, &one.plausible, question, screened.len(), &mut stream))
        })
        .collect();
    valued.retain(|(_, value)| value.shown_by().is_some());
    let key = |value: &Value| value.shown_by().map(|on| (on, value.saved[on]));
    valued.sort_by(|a, b| match (key(&a.1), key(&b.1)) {
        (Some(a), Some(b)) => a.0.cmp(&b.0).then(b.1.total_cmp(&a.1)),
        _ => std::cmp::Ordering::Equal,
    });
    valued.truncate(CLOSER);
    valued
}

fn input_value(one: &Screened, value: &Value) -> InputValue {
    let on = value.shown_by().unwrap_or(0);
    InputValue {
        keys: one.inputs.iter().map(|input| input.key.clone()).collect(),
        concern: Concern::ALL[on],
        saved: value.saved[on],
        error: value.error[on],
        floor: value.floor[on],
    }
}

/// A number to be flown again.
#[derive(Debug, Clone)]
struct Plan {
    input: UncertainInput,
    /// Values, the one stated among them.
    values: Vec<f64>,
    /// The crew's zone whose people count as others.
    others_in: Option<usize>,
    /// Values that need no flights of their own: the run has flown them, or another plan does.
    flown_anyway: usize,
}

impl Plan {
    /// Whether this value is what the scenario states.
    fn is_stated(&self, value: f64) -> bool {
        self.input.number.is_exact() && value == self.input.number.central()
    }

    /// Values flown at most.
    fn cost(&self) -> u32 {
        (self.values.len() + HALVINGS - self.flown_anyway) as u32
    }
}

/// What is flown again, the most worth knowing first: the first of the leading inputs, the numbers stated, the others that lead.
fn plans(world: &World, log: &EndLog, leading: &[UncertainInput]) -> Vec<Plan> {
    let mut inputs = leading.iter().take(FLOWN_AGAIN).map(|input| Plan {
        values: QUANTILES.map(|p| input.number.quantile(p)).to_vec(),
        input: input.clone(),
        others_in: None,
        flown_anyway: 0,
    });
    inputs.next().into_iter().chain(stated(world, log)).chain(inputs).collect()
}

/// Flights at each value; plans for which too few are left go, the last first.
fn share_out(plans: &mut Vec<Plan>, flights: u32) -> u32 {
    let all = work(flights) as u32;
    while let cost @ 1.. = plans.iter().map(Plan::cost).sum::<u32>() {
        if all / cost >= FLIGHTS.0 {
            return (all / cost).min(FLIGHTS.1);
        }
        plans.pop();
    }
    0
}

/// Numbers that the scenario states and that endings hang on: the margin around people, or whatever else was met near the take-off
/// spot, and where that spot is. The crew can be trusted to stand where it stands; that nobody else comes to stand there cannot be
/// taken for granted, so its zone is asked about with others in it.
fn stated(world: &World, log: &EndLog) -> Vec<Plan> {
    let mut plans = Vec::new();
    let site = &world.scenario.site;
    let Some((place, zone)) = log.met_near_home().and_then(|zone| Some((zone, site.zones.get(usize::from(zone))?)))
    else {
        return plans;
    };
    let others_in = (zone.whose == Whose::Crew).then_some(usize::from(place));
    let inputs = world.scenario.uncertain();
    let exact = |key: &str| inputs.iter().find(|input| input.key == key && input.number.is_exact());
    let mut add = |input: &UncertainInput, values: Vec<f64>| {
        // With others in the crew's zone, what is stated is flown once for all.
        let flown_anyway = usize::from(others_in.is_none() || !plans.is_empty());
        plans.push(Plan { input: input.clone(), values, others_in, flown_anyway });
    };
    if let Some(input) = exact(&format!("site.zone[{place}].margin_m")) {
        let stated = input.number.central();
        let [less, more] = MARGIN_SHARES.map(|share| share * stated);
        if stated > 0.0 {
            add(input, vec![less, stated, more]);
        }
    }
    let (key, by_m) = away(&zone.area, site.home_m);
    if let Some(input) = exact(key) {
        let here = input.number.central();
        add(input, vec![here, here + by_m]);
    }
    plans
}

/// The key of the take-off spot, and by how much it changes, that leads away from an area: along the axis along which that is most.
fn away(area: &Area, home_m: [f64; 2]) -> (&'static str, f64) {
    let [x, y] = home_m;
    let farther = |dx: f64, dy: f64| area.distance_m([x + dx, y + dy]) - area.distance_m([x - dx, y - dy]);
    let mut out = [farther(1.0, 0.0), farther(0.0, 1.0)];
    if out == [0.0, 0.0] {
        // Well inside it.
        let middle_m = area.middle_m();
        out = [x - middle_m[0], y - middle_m[1]];
    }
    if out[0].abs() > out[1].abs() {
        ("site.home_east_m", MOVE_M.copysign(out[0]))
    } else {
        ("site.home_north_m", MOVE_M.copysign(out[1]))
    }
}

/// Flies numbers again at several values, on the luck of the main run.
struct Again<'a> {
    world: &'a World,
    /// Policy that the main run chose.
    chosen: usize,
    flights: Range<u32>,
    /// These flights as the main run flew them.
    flown_anyway: EndLog,
    /// The same with others in a zone of the crew's, once flown.
    with_others: Option<EndLog>,
    done: &'a (dyn Fn(u64) + Sync),
    /// Flights flown so far, and those of them that were set aside.
    flown: u64,
    faulted: u64,
}

/// Makes something of each value, so many side by side, and takes it before more are made: what is made may be large.
fn a_few_at_once<O: Sync, V: Sync, M: Send, T, E: Send>(
    owner: &mut O,
    values: &[V],
    at_once: usize,
    make: impl Fn(&O, &V) -> Result<M, E> + Sync,
    take: impl Fn(&mut O, &V, M) -> T,
) -> Result<Vec<T>, E> {
    let mut taken = Vec::with_capacity(values.len());
    for some in values.chunks(at_once) {
        let made = some.par_iter().map(|value| make(owner, value)).collect::<Result<Vec<M>, E>>()?;
        taken.extend(some.iter().zip(made).map(|(value, made)| take(owner, value, made)));
    }
    Ok(taken)
}

/// A value that is asked about.
enum Asked {
    /// Its flights, flown before.
    Flown(EndLog),
    /// The world in which it is to be flown.
    ToFly(Box<World>),
}

impl Again<'_> {
    fn sweep(&mut self, plan: &Plan) -> Result<FlownAgain, WorldError> {
        let mut values = plan.values.clone();
        values.sort_by(f64::total_cmp);
        values.dedup();
        // One value after another is flown on all threads. Its world is mostly built on one, but where it has a family, of which each
        // holds a site of its own: no more of them at a time than threads build.
        let at_once = if self.world.family.is_empty() { rayon::current_num_threads() } else { 1 };
        let mut flown: Vec<Leader> = a_few_at_once(
            self,
            &values,
            at_once,
            |again, value| again.asked(plan, *value),
            |again, value, asked| again.at(plan, *value, asked),
        )?;
        let mut at = settled(&flown, self.chosen);
        for _ in 0..HALVINGS {
            if let Some(place) = at.windows(2).position(|two| two[0].leads != two[1].leads) {
                let middle = 0.5 * (at[place].value + at[place + 1].value);
                let asked = self.asked(plan, middle)?;
                let middle = self.at(plan, middle, asked);
                flown.insert(place + 1, middle);
                at = settled(&flown, self.chosen);
            }
        }
        let turns = at.windows(2).filter_map(|two| {
            let (below, from_there) = (two[0].leads?, two[1].leads?);
            (below != from_there).then_some(Turn { above: two[0].value, under: two[1].value, below, from_there })
        });
        Ok(FlownAgain {
            key: plan.input.key.clone(),
            stated: plan.input.number.is_exact(),
            others_in: plan.others_in,
            assumed: plan.input.number.central(),
            turns: turns.collect(),
            at,
        })
    }

    /// What is known or has to be flown at a value.
    fn asked(&self, plan: &Plan, value: f64) -> Result<Asked, WorldError> {
        let stated = plan.is_stated(value);
        let known = match plan.others_in {
            None => Some(&self.flown_anyway),
            Some(_) => self.with_others.as_ref(),
        };
        if let Some(log) = known.filter(|_| stated) {
            return Ok(Asked::Flown(log.clone()));
        }
        let scenario = plan.others_in.map_or_else(|| self.world.scenario.clone(), |zone| self.with_others_in(zone));
        let scenario = if stated { scenario } else { scenario.with_input(plan.input.block, value) };
        World::like(self.world, scenario).map(|world| Asked::ToFly(Box::new(world)))
    }

    fn at(&mut self, plan: &Plan, value: f64, asked: Asked) -> Leader {
        let log = match asked {
            Asked::Flown(log) => log,
            Asked::ToFly(world) => {
                let flown = self.fly(&world);
                if plan.is_stated(value) {
                    self.with_others = Some(flown.clone());
                }
                flown
            }
        };
        let judge = &self.world.scenario.judge;
        let (lost, endings) = (log.flights().len() as u64, log.endings(self.world.scenario.policies.len()));
        let leads = (lost > 0).then(|| leads(&shares_of(&endings, lost), &judge.matters, self.chosen));
        let shown = leads.is_some_and(|other| is_shown(&log, [self.chosen, other], judge));
        Leader { at: AtValue { value, lost, endings, leads }, shown }
    }

    fn with_others_in(&self, zone: usize) -> Scenario {
        let mut scenario = self.world.scenario.clone();
        scenario.site.zones[zone].whose = Whose::Others;
        scenario
    }

    fn fly(&mut self, world: &World) -> EndLog {
        let (before, done) = (self.flown, self.done);
        let log = EndLog::of(world, self.flights.clone(), &|n| done(before + n));
        self.flown += self.flights.len() as u64;
        self.faulted += log.faulted();
        log
    }
}

/// Who leads at a value by the estimates, and whether the flights there show it.
struct Leader {
    at: AtValue,
    shown: bool,
}

/// Whether these flights, few as they are, show that the second of two policies is better by more than nothing where the first falls
/// behind by what matters: an ending more or less turns no choice.
fn is_shown(log: &EndLog, [chosen, other]: [usize; 2], judge: &Judge) -> bool {
    let lost = log.flights().len() as u64;
    Concern::ALL.into_iter().any(|on| {
        let [more, fewer] = log.apart(chosen, other, on);
        let by = (more as f64 - fewer as f64) / lost as f64;
        by > on.matters(&judge.matters) && tango(more, fewer, lost, judge.confidence).is_ok_and(|ends| ends.low > 0.0)
    })
}

/// The values with who leads there. Another policy than the one chosen leads over a stretch of values when it is shown to at one of
/// them: that it does, the flights have to show; from where on, the estimates tell.
fn settled(flown: &[Leader], chosen: usize) -> Vec<AtValue> {
    let mut at: Vec<AtValue> = flown.iter().map(|one| one.at.clone()).collect();
    let mut from = 0;
    for stretch in flown.chunk_by(|a, b| a.at.leads == b.at.leads) {
        let until = from + stretch.len();
        if !stretch.iter().any(|one| one.shown) {
            for one in at[from..until].iter_mut().filter(|one| one.leads.is_some()) {
                one.leads = Some(chosen);
            }
        }
        from = until;
    }
    at
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chance::Uncertain;
    use std::sync::atomic::{AtomicUsize, Ordering};

    /// Away from whoever sits there: along the axis that leads off most, on whichever side they are.
    #[test]
    fn the_take_off_spot_moves_away() {
        let bench = |west: f64, south: f64, east: f64, north: f64| {
            Area::Polygon(vec![[west, south], [east, south], [east, north], [west, north]])
        };
        let home_m = [100.0, 50.0];
        assert_eq!(away(&bench(86.0, 38.0, 114.0, 42.5), home_m), ("site.home_north_m", MOVE_M));
        assert_eq!(away(&bench(86.0, 58.0, 114.0, 62.0), home_m), ("site.home_north_m", -MOVE_M));
        assert_eq!(away(&bench(110.0, 38.0, 114.0, 62.5), home_m), ("site.home_east_m", -MOVE_M));
        // In the middle of a crowd, but nearer to its western edge.
        assert_eq!(away(&bench(90.0, 0.0, 200.0, 100.0), home_m), ("site.home_east_m", -MOVE_M));
    }

    /// What one ending more makes is no turn; beside a value at which it is shown, it tells from where on.
    #[test]
    fn a_turn_has_to_be_shown_somewhere() {
        let leader = |value: f64, lead: usize, shown: bool| Leader {
            at: AtValue { value, lost: 30, endings: vec![], leads: Some(lead) },
            shown,
        };
        let leads = |flown: &[Leader]| settled(flown, 0).iter().filter_map(|at| at.leads).collect::<Vec<usize>>();
        assert_eq!(leads(&[leader(1.0, 0, false), leader(2.0, 1, false), leader(3.0, 1, true)]), [0, 1, 1]);
        assert_eq!(leads(&[leader(1.0, 1, false), leader(2.0, 0, false), leader(3.0, 1, true)]), [0, 0, 1]);
        assert_eq!(leads(&[leader(1.0, 2, false), leader(2.0, 1, false), leader(3.0, 1, false)]), [0, 0, 0]);
    }

    /// Whatever is asked, a fifth of the flights is the most that is flown again, and what cannot be told by the rest is not asked.
    #[test]
    fn flights_are_shared_out_within_a_fifth() {
        let plan = |values: usize, flown_anyway: usize| Plan {
            input: UncertainInput {
                key: String::new(),
                block: 0,
                number: Uncertain::Exact(1.0),
                shapes_the_site: false,
            },
            values: vec![0.0; values],
            others_in: None,
            flown_anyway,
        };
        for flights in [0, 1, 749, 750, 1_349, 1_350, 1_799, 1_800, 2_549, 2_550, 40_000, 10_000_000] {
            let mut plans = vec![plan(3, 0), plan(3, 1), plan(2, 1), plan(3, 0)];
            let each = share_out(&mut plans, flights);
            let cost: u32 = plans.iter().map(Plan::cost).sum();
            assert!(u64::from(each * cost) <= work(flights) && 5 * work(flights) <= u64::from(flights), "{flights}");
            assert!(each <= FLIGHTS.1 && (each >= FLIGHTS.0 || plans.is_empty()), "{flights}: {each}");
            // Values: 5, 4, 3 and 5, the last going first.
            let asked = match flights {
                0..=749 => 0,
                750..=1_349 => 1,
                1_350..=1_799 => 2,
                1_800..=2_549 => 3,
                _ => 4,
            };
            assert_eq!(plans.len(), asked, "{flights}");
        }
    }

    /// However many values are asked about, no more worlds than said are there at once.
    #[test]
    fn no_more_than_a_few_are_there_at_once() {
        struct World<'a>(&'a AtomicUsize);
        impl Drop for World<'_> {
            fn drop(&mut self) {
                self.0.fetch_sub(1, Ordering::SeqCst);
            }
        }
        for at_once in [1, 2, 5] {
            let (there, most) = (AtomicUsize::new(0), AtomicUsize::new(0));
            let make = |_: &(), value: &usize| {
                most.fetch_max(there.fetch_add(1, Ordering::SeqCst) + 1, Ordering::SeqCst);
                let world = World(&there);
                if *value < 9 { Ok(world) } else { Err(*value) }
            };
            let all: Vec<usize> = (0..9).collect();
            assert_eq!(a_few_at_once(&mut (), &all, at_once, make, |(), value, _| *value), Ok(all), "{at_once}");
            assert_eq!((there.load(Ordering::SeqCst), most.load(Ordering::SeqCst)), (0, at_once));
            assert_eq!(a_few_at_once(&mut (), &[0, 9], at_once, make, |(), value, _| *value), Err(9));
        }
    }
}
