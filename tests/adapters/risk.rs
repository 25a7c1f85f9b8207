//! Adapters of the `risk` routines.
//!
//! Whatever a report states is asked of the code that states it. The statistics in `reference` are other methods for the same
//! questions, exact answers to rare events and test functions: no report uses them, so there is nothing else to ask.

use super::{Adapter, Inputs, Value};
use crate::reference::stats as reference;
use crate::reference::stats::cluster;
use crate::reference::stats::proportion::ShareInterval;
use crate::reference::stats::rare::{self, Combine, Polynomial};
use crate::reference::stats::sensitivity::{self, exact};
use lostlink::chance::{self, Purpose, Source};
use lostlink::risk::harm;
use lostlink::stats::quantile::QuantileRule;
use lostlink::stats::{Interval, StatsError, density, display, paired, proportion, quantile};

type Answer = Result<Value, String>;

fn ends(result: Result<Interval, StatsError>) -> Answer {
    let interval = result.map_err(|error| error.to_string())?;
    Ok(Value::numbers([interval.low, interval.high]))
}

fn one(result: Result<f64, StatsError>) -> Answer {
    result.map(Value::Number).map_err(|error| error.to_string())
}

fn count(result: Result<u64, StatsError>) -> Answer {
    one(result.map(|n| n as f64))
}

fn two(result: Result<(f64, f64), StatsError>) -> Answer {
    result.map(|(a, b)| Value::numbers([a, b])).map_err(|error| error.to_string())
}

fn share(i: &mut Inputs, f: fn(u64, u64, f64) -> Result<Interval, StatsError>) -> Answer {
    ends(f(i.whole("events_count")?, i.whole("flights_count")?, i.number("confidence")?))
}

fn coverage(i: &mut Inputs, method: ShareInterval) -> Answer {
    one(reference::proportion::coverage(
        method,
        i.whole("flights_count")?,
        i.number("true_p")?,
        i.number("confidence")?,
    ))
}

fn discordant(i: &mut Inputs) -> Result<(u64, u64), String> {
    Ok((i.whole("only_a_count")?, i.whole("only_b_count")?))
}

fn p_of(i: &mut Inputs, f: fn(u64, u64) -> f64) -> Answer {
    let (a, b) = discordant(i)?;
    Ok(f(a, b).into())
}

fn difference(i: &mut Inputs, f: fn(u64, u64, u64, f64) -> Result<Interval, StatsError>) -> Answer {
    let (a, b) = discordant(i)?;
    ends(f(a, b, i.whole("flights_count")?, i.number("confidence")?))
}

fn odds(i: &mut Inputs, f: fn(u64, u64, f64) -> Result<Interval, StatsError>) -> Answer {
    let (a, b) = discordant(i)?;
    ends(f(a, b, i.number("confidence")?))
}

fn table(i: &mut Inputs) -> Result<[u64; 4], String> {
    Ok([i.whole("both_count")?, i.whole("only_a_count")?, i.whole("only_b_count")?, i.whole("neither_count")?])
}

fn counts(i: &mut Inputs, key: &str) -> Result<Vec<u64>, String> {
    Ok(i.numbers(key)?.into_iter().map(|x| x as u64).collect())
}

fn many(result: Result<Vec<Interval>, StatsError>) -> Answer {
    let list = result.map_err(|error| error.to_string())?;
    Ok(Value::List(list.into_iter().map(|x| Value::numbers([x.low, x.high])).collect()))
}

fn sorted(i: &mut Inputs) -> Result<Vec<f64>, String> {
    let mut values = i.numbers("values_m")?;
    values.sort_by(f64::total_cmp);
    Ok(values)
}

fn word32(text: &str) -> Result<u32, String> {
    u32::from_str_radix(text, 16).map_err(|error| format!("`{text}`: {error}"))
}

fn word64(text: &str) -> Result<u64, String> {
    u64::from_str_radix(text, 16).map_err(|error| format!("`{text}`: {error}"))
}

fn array<T: Copy, const N: usize>(list: Vec<T>) -> Result<[T; N], String> {
    list.try_into().map_err(|list: Vec<T>| format!("{N} words wanted, {} given", list.len()))
}

/// Routine and adapter.
pub fn adapters() -> Vec<(&'static str, Adapter)> {
    let mut list = shares();
    list.extend(pairs());
    list.extend(samples());
    list.extend(choices());
    list.extend(places());
    list.extend(harms());
    list.extend(rares());
    list.extend(drivers());
    list
}

fn shares() -> Vec<(&'static str, Adapter)> {
    vec![
        ("risk.clopper_pearson", |i| share(i, proportion::clopper_pearson)),
        ("risk.wilson", |i| share(i, reference::proportion::wilson)),
        ("risk.wilson_corrected", |i| share(i, reference::proportion::wilson_corrected)),
        ("risk.jeffreys", |i| share(i, reference::proportion::jeffreys)),
        ("risk.clopper_pearson_midp", |i| share(i, reference::proportion::clopper_pearson_midp)),
        ("risk.upper_bound_one_sided", |i| {
            one(proportion::upper_bound_one_sided(
                i.whole("events_count")?,
                i.whole("flights_count")?,
                i.number("confidence")?,
            ))
        }),
        ("risk.rule_of_three", |i| {
            let bound = reference::proportion::rule_of_three(i.whole("events_count")?, i.whole("flights_count")?);
            Ok(bound.map_or(Value::NoAnswer, Value::Number))
        }),
        ("risk.event_free_flights_needed", |i| {
            count(reference::proportion::event_free_needed(i.number("share_bound")?, i.number("confidence")?))
        }),
        ("risk.coverage_wilson", |i| coverage(i, ShareInterval::Wilson)),
        ("risk.coverage_clopper_pearson", |i| coverage(i, ShareInterval::ClopperPearson)),
        ("risk.coverage_wald", |i| coverage(i, ShareInterval::Wald)),
        ("risk.garwood", |i| ends(reference::proportion::garwood(i.whole("events_count")?, i.number("confidence")?))),
        ("risk.poisson_upper_one_sided", |i| {
            one(reference::proportion::poisson_upper_one_sided(i.whole("events_count")?, i.number("confidence")?))
        }),
        ("risk.goodman", |i| {
            many(reference::proportion::goodman(&counts(i, "outcome_counts")?, i.number("confidence")?))
        }),
        ("risk.sison_glaz", |i| {
            many(reference::proportion::sison_glaz(&counts(i, "outcome_counts")?, i.number("confidence")?))
        }),
        ("risk.sample_size_half_width", |i| {
            count(proportion::sample_size_half_width(
                i.number("observed_share")?,
                i.number("half_width")?,
                i.number("confidence")?,
            ))
        }),
    ]
}

fn pairs() -> Vec<(&'static str, Adapter)> {
    vec![
        ("risk.mcnemar_exact", |i| p_of(i, paired::mcnemar_exact)),
        ("risk.mcnemar_midp", |i| p_of(i, reference::paired::mcnemar_midp)),
        ("risk.mcnemar_asymptotic", |i| p_of(i, reference::paired::mcnemar_asymptotic)),
        ("risk.mcnemar_corrected", |i| p_of(i, reference::paired::mcnemar_corrected)),
        ("risk.paired_tango", |i| difference(i, paired::tango)),
        ("risk.paired_wald", |i| difference(i, reference::paired::wald)),
        ("risk.paired_agresti_min", |i| difference(i, reference::paired::agresti_min)),
        ("risk.paired_bonett_price", |i| difference(i, reference::paired::bonett_price)),
        ("risk.paired_newcombe", |i| ends(reference::paired::newcombe(table(i)?, i.number("confidence")?))),
        ("risk.paired_standard_errors", |i| {
            two(paired::standard_errors(table(i)?).map(|errors| (errors.paired, errors.apart)))
        }),
        ("risk.odds_ratio_exact", |i| {
            let (a, b) = discordant(i)?;
            let interval = reference::paired::odds_ratio_exact(a, b, i.number("confidence")?)
                .map_err(|error| error.to_string())?;
            Ok(Value::numbers([reference::paired::odds_ratio(a, b), interval.low, interval.high]))
        }),
        ("risk.odds_ratio_midp", |i| odds(i, reference::paired::odds_ratio_midp)),
        ("risk.odds_ratio_wald", |i| odds(i, reference::paired::odds_ratio_wald)),
        ("risk.cochran_q", |i| {
            let rows: Vec<Vec<bool>> = i
                .rows("events_by_flight")?
                .into_iter()
                .map(|row| row.into_iter().map(|event| event != 0.0).collect())
                .collect();
            two(reference::paired::cochran_q(&rows))
        }),
        ("risk.bowker", |i| one(reference::paired::bowker(&i.rows("outcome_table")?))),
        ("risk.stuart_maxwell", |i| one(reference::paired::stuart_maxwell(&i.rows("outcome_table")?))),
        ("risk.holm", |i| Ok(Value::numbers(paired::holm(&i.numbers("p_values")?)))),
        ("risk.bonferroni_level", |i| {
            Ok(paired::bonferroni_level(i.whole("policies_count")? as usize, i.number("confidence")?).into())
        }),
    ]
}

fn samples() -> Vec<(&'static str, Adapter)> {
    vec![
        ("risk.quantile_ranks", |i| {
            let ranks =
                quantile::quantile_ranks(i.whole("flights_count")?, i.number("quantile")?, i.number("confidence")?)
                    .map_err(|error| error.to_string())?;
            Ok(match ranks.high {
                None => Value::NoAnswer,
                Some(high) => Value::numbers([ranks.low.unwrap_or(0) as f64, high as f64, ranks.coverage]),
            })
        }),
        ("risk.quantile_upper_rank", |i| {
            let rank = quantile::quantile_upper_rank(
                i.whole("flights_count")?,
                i.number("quantile")?,
                i.number("confidence")?,
            )
            .map_err(|error| error.to_string())?;
            Ok(rank.map_or(Value::NoAnswer, |rank| Value::Number(rank as f64)))
        }),
        ("risk.wilks_flights", |i| {
            count(reference::quantile::wilks(i.number("content")?, i.number("confidence")?, i.whole("rank")?))
        }),
        ("risk.wilks_flights_two_sided", |i| {
            count(reference::quantile::wilks_two_sided(i.number("content")?, i.number("confidence")?))
        }),
        ("risk.sample_quantiles", |i| {
            let (values, q) = (sorted(i)?, i.number("quantile")?);
            let at = |rule| quantile::sample_quantile(&values, q, rule);
            Ok(Value::numbers([at(QuantileRule::Type7), at(QuantileRule::Type8)]))
        }),
        ("risk.tail_mean", |i| one(reference::quantile::tail_mean(&sorted(i)?, i.number("tail_share")?))),
        ("risk.bootstrap_ideal_se", |i| one(reference::quantile::bootstrap_ideal_se(&i.numbers("values_m")?))),
        ("risk.bca_acceleration", |i| one(reference::quantile::bca_acceleration(&i.numbers("values_m")?))),
        ("risk.ecdf_band", |i| {
            one(reference::quantile::ecdf_half_width(i.whole("flights_count")?, i.number("confidence")?))
        }),
        ("risk.design_effect", |i| {
            let (effect, size) = cluster::design_effect(
                i.whole("wind_draws_count")?,
                i.whole("flights_per_draw")?,
                i.number("intraclass_correlation")?,
            );
            Ok(Value::numbers([effect, size]))
        }),
        ("risk.cluster_share", |i| {
            two(cluster::cluster_share(&counts(i, "events_per_draw")?, i.whole("flights_per_draw")?))
        }),
        ("risk.stratified_share", |i| {
            let weights = i.numbers("stratum_weight")?;
            let events = counts(i, "stratum_events_count")?;
            let of = counts(i, "stratum_flights_count")?;
            if weights.len() != events.len() || weights.len() != of.len() {
                return Err("strata differ in length".into());
            }
            let strata: Vec<(f64, u64, u64)> =
                weights.into_iter().zip(events).zip(of).map(|((w, e), n)| (w, e, n)).collect();
            two(cluster::stratified_share(&strata))
        }),
        ("risk.effective_sample_size", |i| one(cluster::effective_size(&i.numbers("weights")?))),
        ("risk.philox4x32_block", |i| {
            let words = |list: Vec<String>| list.iter().map(|w| word32(w)).collect::<Result<Vec<_>, _>>();
            let counter = array(words(i.texts("counter_hex")?)?)?;
            let key = array(words(i.texts("key_hex")?)?)?;
            let block = chance::philox4x32(counter, key, i.whole("rounds")? as u32);
            Ok(Value::List(block.iter().map(|w| Value::Text(format!("{w:08x}"))).collect()))
        }),
        ("risk.unit_from_word", |i| {
            let words = i.texts("words_hex")?;
            let units: Result<Vec<f64>, String> = words.iter().map(|w| word64(w).map(chance::unit_from_word)).collect();
            Ok(Value::numbers(units?))
        }),
    ]
}

fn choices() -> Vec<(&'static str, Adapter)> {
    vec![
        ("risk.decision_rows", |i| {
            let picks = reference::decision::picks(&i.rows("loss")?, &i.numbers("state_probability")?)
                .map_err(|error| error.to_string())?;
            Ok(Value::numbers([picks.minimax as f64, picks.regret as f64, picks.expected as f64]))
        }),
        ("risk.max_regret", |i| {
            reference::decision::max_regret(&i.rows("loss")?).map(Value::numbers).map_err(|error| error.to_string())
        }),
        ("risk.perfect_information_value", |i| {
            one(reference::decision::perfect_information_value(&i.rows("loss")?, &i.numbers("state_probability")?))
        }),
        ("risk.icon_counts", |i| {
            let icons = reference::display::icon_counts(&counts(i, "outcome_counts")?, i.whole("icons_count")?);
            Ok(Value::numbers(icons.into_iter().map(|n| n as f64)))
        }),
        ("risk.quantile_dots_exponential", |i| {
            let mean_s = i.number("mean_s")?;
            let dots = display::quantile_dots(i.whole("dots_count")? as usize, |p| -mean_s * libm::log1p(-p));
            let dot = |rank: usize| dots.get(rank - 1).copied().unwrap_or(f64::NAN);
            Ok(Value::numbers([dot(1), dot(10), dots.last().copied().unwrap_or(f64::NAN)]))
        }),
    ]
}

fn points(i: &mut Inputs, key: &str) -> Result<Vec<[f64; 2]>, String> {
    i.rows(key)?.into_iter().map(array).collect()
}

fn place(i: &mut Inputs, key: &str) -> Result<[f64; 2], String> {
    array(i.numbers(key)?)
}

fn kernel(i: &mut Inputs) -> Result<reference::density::KernelDensity, String> {
    reference::density::KernelDensity::scott(&points(i, "points_m")?).map_err(|error| error.to_string())
}

fn places() -> Vec<(&'static str, Adapter)> {
    vec![
        ("risk.ellipse_scale", |i| one(reference::density::ellipse_scale(i.number("probability")?))),
        ("risk.ellipse", |i| {
            let covariance = [i.number("cov_xx_m2")?, i.number("cov_xy_m2")?, i.number("cov_yy_m2")?];
            let e =
                reference::density::ellipse(covariance, i.number("probability")?).map_err(|error| error.to_string())?;
            let area = std::f64::consts::PI * e.major * e.minor;
            Ok(Value::numbers([e.major, e.minor, e.angle_rad.to_degrees(), area]))
        }),
        ("risk.containment_radius", |i| {
            one(reference::density::containment_radius(
                i.number("sigma_x_m")?,
                i.number("sigma_y_m")?,
                i.number("correlation")?,
                i.number("probability")?,
            ))
        }),
        ("risk.offset_disc_probability", |i| {
            one(reference::density::offset_disc_probability(
                i.number("sigma_m")?,
                i.number("offset_m")?,
                i.number("disc_radius_m")?,
            ))
        }),
        ("risk.highest_density_level", |i| one(reference::density::highest_density_level(i.number("probability")?))),
        ("risk.kernel_factors", |i| {
            let (n, dimensions) = (i.whole("impacts_count")? as usize, i.whole("dimensions")? as usize);
            let silverman = reference::density::silverman_factor(n, dimensions);
            Ok(Value::numbers([density::scott_factor(n, dimensions), silverman]))
        }),
        ("risk.kernel_density", |i| Ok(kernel(i)?.at(place(i, "at_m")?).into())),
        ("risk.kernel_box_mass", |i| Ok(kernel(i)?.box_mass(place(i, "box_low_m")?, place(i, "box_high_m")?).into())),
        ("risk.kernel_total_mass", |i| one(kernel(i)?.grid_mass())),
    ]
}

fn angle_rad(i: &mut Inputs) -> Result<f64, String> {
    Ok(i.number("impact_angle_deg")?.to_radians())
}

fn harms() -> Vec<(&'static str, Adapter)> {
    vec![
        ("risk.critical_area_with_slide", |i| {
            let area =
                crate::reference::risk::harm::critical_area_with_slide_m2(&crate::reference::risk::harm::Slide {
                    width_m: i.number("width_m")?,
                    mass_kg: i.number("mass_kg")?,
                    impact_speed_mps: i.number("impact_speed_mps")?,
                    impact_angle_rad: angle_rad(i)?,
                    person_radius_m: i.number("person_radius_m")?,
                    person_height_m: i.number("person_height_m")?,
                    lethal_energy_j: i.number("lethal_energy_j")?,
                    friction: i.number("friction")?,
                    restitution: i.number("restitution")?,
                });
            Ok(Value::numbers([area, crate::reference::risk::harm::OBSTACLE_FACTOR * area]))
        }),
        ("risk.critical_area_small", |i| {
            // Mass and speed are listed with the routine, but no slide is left for them to act on.
            let (_mass_kg, _speed_mps) = (i.number("mass_kg")?, i.number("impact_speed_mps")?);
            Ok(crate::reference::risk::harm::critical_area_small_m2(
                i.number("width_m")?,
                angle_rad(i)?,
                i.number("person_radius_m")?,
                i.number("person_height_m")?,
            )
            .into())
        }),
        ("risk.strike_area_disc", |i| {
            Ok(harm::strike_area_disc_m2(i.number("craft_radius_m")?, i.number("person_radius_m")?).into())
        }),
        ("risk.strike_area_capsule", |i| {
            Ok(harm::strike_area_capsule_m2(
                i.number("craft_radius_m")?,
                i.number("person_radius_m")?,
                i.number("person_height_m")?,
                angle_rad(i)?,
            )
            .into())
        }),
        ("risk.slide_distance", |i| {
            Ok(crate::reference::risk::harm::slide_distance_m(
                i.number("speed_mps")?,
                i.number("friction")?,
                i.number("g_mps2")?,
            )
            .into())
        }),
        ("risk.restitution", |i| Ok(crate::reference::risk::harm::restitution(angle_rad(i)?).into())),
        ("risk.debris_casualty_area", |i| {
            Ok(crate::reference::risk::harm::debris_casualty_area_m2(i.number("object_area_m2")?).into())
        }),
        ("risk.fatality_penalty_factor", |i| {
            Ok(harm::fatality_penalty_factor(
                i.number("energy_j")?,
                i.number("alpha_j")?,
                i.number("beta_j")?,
                i.number("shelter")?,
            )
            .into())
        }),
        ("risk.fatality_thresholded", |i| {
            Ok(crate::reference::risk::harm::fatality_thresholded(
                i.number("energy_j")?,
                i.number("alpha_j")?,
                i.number("beta_j")?,
                i.number("shelter_0_to_10")?,
            )
            .into())
        }),
        ("risk.expected_casualties", |i| {
            Ok(harm::expected_casualties(
                i.number("p_arrival")?,
                i.number("people_per_km2")?,
                i.number("strike_area_m2")?,
                i.number("p_casualty")?,
            )
            .into())
        }),
        ("risk.expected_casualties_cells", |i| {
            let share = i.numbers("cell_impact_share")?;
            let people = i.numbers("cell_people_per_km2")?;
            let chance = i.numbers("cell_p_casualty")?;
            if share.len() != people.len() || share.len() != chance.len() {
                return Err("cells differ in length".into());
            }
            let cells = share.into_iter().zip(people).zip(chance).map(|((s, p), c)| (s, p, c));
            Ok(crate::reference::risk::harm::expected_casualties_cells(cells, i.number("strike_area_m2")?).into())
        }),
        ("risk.expected_casualties_sheltered", |i| {
            let classes = [
                (i.number("share_open")?, i.number("p_casualty_open")?),
                (i.number("share_sheltered")?, i.number("p_casualty_sheltered")?),
            ];
            let (people, area) = (i.number("people_per_km2")?, i.number("strike_area_m2")?);
            Ok(crate::reference::risk::harm::expected_casualties_sheltered(people, area, classes).into())
        }),
        ("risk.at_least_one", |i| {
            Ok(crate::reference::risk::harm::at_least_one(i.number("expected_casualties")?).into())
        }),
        ("risk.lognormal_product", |i| {
            let (medians, spread) = (i.numbers("medians")?, i.numbers("geometric_sd")?);
            if medians.len() != spread.len() {
                return Err("factors differ in length".into());
            }
            let p = harm::lognormal_product(medians.into_iter().zip(spread));
            Ok(Value::numbers([p.median, p.mean, p.p05, p.p95]))
        }),
    ]
}

fn rares() -> Vec<(&'static str, Adapter)> {
    vec![
        ("risk.rare_linear", |i| Ok(rare::linear(i.number("beta")?).into())),
        ("risk.rare_difference", |i| {
            two(rare::difference(i.number("mean_r")?, i.number("sd_r")?, i.number("mean_s")?, i.number("sd_s")?))
        }),
        ("risk.rare_four_branch", |i| Ok(rare::four_branch(i.number("k")?).into())),
        ("risk.rare_polynomial", |i| {
            let raw = i.raw("pieces")?;
            let pieces = raw.as_array().and_then(|list| list.iter().map(polynomial).collect::<Option<Vec<_>>>());
            let combine = match i.text("combine")?.as_str() {
                "min" => Combine::Min,
                "max" => Combine::Max,
                other => return Err(format!("combine = `{other}`")),
            };
            let pieces = pieces.ok_or("`pieces` is not a list of lists of [c, i, j]")?;
            one(rare::polynomial(&pieces, combine, place(i, "mean")?, place(i, "sd")?))
        }),
        ("risk.rare_two_branch_exponential", |i| one(rare::two_branch_exponential(place(i, "mean")?, place(i, "sd")?))),
        ("risk.rare_hypersphere", |i| Ok(rare::hypersphere(i.number("radius")?, i.whole("dimensions")?).into())),
        ("risk.rare_exponential_sum", |i| {
            Ok(rare::exponential_sum(i.whole("terms_count")?, i.number("threshold")?).into())
        }),
        ("risk.splitting_relative_variance", |i| {
            Ok(rare::splitting_relative_variance(i.number("true_p")?, i.whole("particles_count")?).into())
        }),
        ("risk.splitting_mean", |i| Ok(rare::splitting_mean(i.number("true_p")?, i.whole("particles_count")?).into())),
        ("risk.subset_cov", |i| {
            Ok(rare::subset_cov(
                i.number("level_p")?,
                i.whole("samples_per_level")?,
                i.whole("levels_count")?,
                i.number("gamma")?,
            )
            .into())
        }),
        ("risk.plain_flights_needed", |i| one(rare::plain_trials_needed(i.number("true_p")?, i.number("target_cov")?))),
        ("risk.importance_relative_variance", |i| Ok(rare::importance_relative_variance(i.number("beta")?).into())),
        ("risk.seed_clash", |i| {
            let n = i.whole("flights_count")?;
            Ok(Value::numbers([rare::seed_clash(n, 32), rare::seed_clash(n, 64)]))
        }),
        ("risk.repeated_looks", |i| {
            let looks = counts(i, "looks")?;
            let most = looks.iter().copied().max().unwrap_or(0) as usize;
            let rates = rare::repeated_looks(i.number("nominal")?, most).map_err(|error| error.to_string())?;
            let at = |k: u64| rates.get((k as usize).wrapping_sub(1)).copied().unwrap_or(f64::NAN);
            Ok(Value::numbers(looks.into_iter().map(at)))
        }),
        ("risk.inverse_sampling_mean_plain", |i| {
            one(rare::inverse_sampling_plain(i.number("true_p")?, i.whole("stop_events_count")?))
        }),
        ("risk.inverse_sampling_mean_unbiased", |i| {
            one(rare::inverse_sampling_unbiased(i.number("true_p")?, i.whole("stop_events_count")?))
        }),
    ]
}

/// Terms [c, i, j] of one piece.
fn polynomial(piece: &toml::Value) -> Option<Polynomial> {
    let number = |x: &toml::Value| x.as_float().or_else(|| x.as_integer().map(|n| n as f64));
    piece
        .as_array()?
        .iter()
        .map(|term| match term.as_array()?.as_slice() {
            [c, i, j] => Some((number(c)?, number(i)? as u32, number(j)? as u32)),
            _ => None,
        })
        .collect()
}

fn drivers() -> Vec<(&'static str, Adapter)> {
    vec![
        ("risk.ishigami", |i| {
            let (variance, s) = exact::ishigami(i.number("a")?, i.number("b")?);
            let first = s.iter().map(|x| x.first);
            Ok(Value::numbers(std::iter::once(variance).chain(first).chain(s.iter().map(|x| x.total))))
        }),
        ("risk.g_function_first", |i| {
            Ok(Value::numbers(exact::g_function(&i.numbers("g_coefficients")?).iter().map(|x| x.first)))
        }),
        ("risk.g_function_total", |i| {
            Ok(Value::numbers(exact::g_function(&i.numbers("g_coefficients")?).iter().map(|x| x.total)))
        }),
        ("risk.linear_first", |i| Ok(Value::numbers(exact::linear(&i.numbers("coefficients")?)))),
        ("risk.product_indices", |_| {
            let [a, b] = exact::product();
            Ok(Value::numbers([a.first, b.first, a.total, b.total]))
        }),
        ("risk.morris_linear", |i| {
            let c = i.numbers("coefficients")?;
            let mut chance = Source::new(1, Purpose::Resample).sequence(0, 0);
            let line = |x: &[f64]| x.iter().zip(&c).map(|(x, c)| x * c).sum();
            let effects = sensitivity::morris(c.len(), 20, &mut chance, line).map_err(|error| error.to_string())?;
            Ok(Value::List(vec![
                Value::numbers(effects.iter().map(|e| e.mu)),
                Value::numbers(effects.iter().map(|e| e.mu_star)),
                Value::numbers(effects.iter().map(|e| e.sigma)),
            ]))
        }),
        ("risk.saltelli_runs", |i| {
            let (total, second) = sensitivity::saltelli_runs(i.whole("base_count")?, i.whole("inputs_count")?);
            Ok(Value::numbers([total as f64, second as f64]))
        }),
    ]
}
