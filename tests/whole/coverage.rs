//! Two hundred small assessments of one scenario: printed intervals cover what a long run says as often as they promise.

use crate::bench::{outcomes, read};
use crate::plain::{self, CRAFT, NO_FIX, PILOT, STRONG, policy};
use lostlink::flight::Headline;
use lostlink::risk::compare::Standing;
use lostlink::risk::outcome::Concern;
use lostlink::risk::summary::{Pair, Share};
use lostlink::risk::{Tally, TallyResult};
use lostlink::world::World;

/// A share of a result.
type Pick<'a> = &'a dyn Fn(&TallyResult) -> Share;

const SEEDS: u64 = 200;
const FLIGHTS: u32 = 100;

#[test]
fn intervals_cover_what_a_long_run_says() {
    let zones = "[[site.zone]]\nkind = \"people\"\npeople = 20\nmargin_m = 0\ncircle_m = [60, 0, 12]\n\
                 [[site.zone]]\nkind = \"road\"\nline_m = [[20, -200], [20, 200]]\nwidth_m = 3\n";
    let text = plain::text(&[
        &plain::site(200.0, 1.0, zones),
        "\n[weather]\nwind_mps = { lognormal = [6, 1.5] }\nfrom_deg = { uniform = [0, 360] }\n",
        CRAFT,
        STRONG,
        NO_FIX,
        &plain::path("[[0, 0, 18], [110, 0, 18]]", 14.0, 0.0),
        PILOT,
        // Some links come back in time.
        "\n[loss.cut]\npath_share = { uniform = [0.15, 1.0] }\nfor_s = { uniform = [0.8, 3] }\n",
        &policy("drop", &["drop = {}"]),
        &policy("the same by another name", &["drop = {}"]),
        &policy("wait, then drop", &["hold = { for_s = 1.5 }", "drop = {}"]),
    ]);
    let mut world = World::new(read(&text)).expect("a world");
    let results: Vec<_> = (0..SEEDS)
        .map(|seed| {
            world.scenario.seed = 1000 + seed;
            let scenario = &world.scenario;
            let mut tally = Tally::new(&scenario.policies, &scenario.judge, "cut", scenario.craft.radius_m);
            outcomes(&world, FLIGHTS).iter().for_each(|outcome| tally.push(outcome));
            tally.finish()
        })
        .collect();
    // Each quantity: its interval per seed; the long run is all of them together.
    let share = |pick: Pick| {
        let shares: Vec<_> = results.iter().map(pick).collect();
        let (events, of) = shares.iter().fold((0, 0), |(e, n), share| (e + share.events, n + share.of));
        let truth = events as f64 / of as f64;
        let covered = shares.iter().filter(|share| share.low <= truth && truth <= share.high).count();
        let widths: f64 = shares.iter().map(|share| share.high - share.low).sum::<f64>() / SEEDS as f64;
        (truth, covered, widths, of as f64 / SEEDS as f64)
    };
    let nominal = 0.95;
    let least = SEEDS as f64 * nominal - 3.5 * (SEEDS as f64 * nominal * (1.0 - nominal)).sqrt();
    let picks: [(&str, Pick); 4] = [
        ("lost links", &|result| result.loss.lost),
        ("danger of the drop", &|result| result.policies[0].share(Concern::Danger)),
        ("danger of the late drop", &|result| result.policies[2].share(Concern::Danger)),
        ("on the road", &|result| {
            let of = &result.policies[0].headlines;
            of.iter().find(|(headline, _)| *headline == Headline::OnRoad).expect("a road").1
        }),
    ];
    for (what, pick) in picks {
        let (truth, covered, width, of) = share(pick);
        assert!((0.005..0.995).contains(&truth), "{what}: {truth} teaches nothing");
        assert!(covered as f64 >= least, "{what}: {covered} of {SEEDS} intervals cover {truth}");
        // Exact intervals are wider than the normal law's, by a continuity of one flight at either end and little more.
        let normal = 2.0 * 1.96 * (truth * (1.0 - truth) / of).sqrt();
        assert!(width < 1.15 * normal + 2.5 / of, "{what}: {width} wide, the normal law {normal}");
    }

    // Paired differences of the danger, by the level that three pairs at 95 % together leave each.
    let pair = |result: &TallyResult, first: usize, second: usize| {
        let find = |pair: &&Pair| (pair.first, pair.second) == (first, second) && pair.about == Concern::Danger;
        result.pairs.iter().find(find).expect("a pair").clone()
    };
    let pairs: Vec<_> = results.iter().map(|result| pair(result, 0, 2)).collect();
    let weights: Vec<f64> = results.iter().map(|result| result.loss.lost.events as f64).collect();
    let truth =
        pairs.iter().zip(&weights).map(|(pair, w)| w * pair.difference).sum::<f64>() / weights.iter().sum::<f64>();
    let covered = pairs.iter().filter(|pair| pair.low <= truth && truth <= pair.high).count();
    assert!(covered as f64 >= least, "{covered} of {SEEDS} intervals cover the difference {truth}");
    assert!(truth.abs() > 0.02, "{truth}: the two drops hardly differ");

    for (seed, result) in results.iter().enumerate() {
        let same = pair(result, 0, 1);
        assert_eq!(same.difference, 0.0, "seed {seed}");
        assert!(!matches!(same.standing, Standing::Better | Standing::Worse), "seed {seed}: {same:?}");
        let best = &result.verdict.choice.left;
        assert_eq!(best.contains(&0), best.contains(&1), "seed {seed}: {best:?} tells one policy from itself");
    }
}
