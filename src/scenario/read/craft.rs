//! The craft and its pack.

use super::ESTIMATE;
use crate::chance::Uncertain;
use crate::craft::class::ClassDefaults;
use crate::craft::{battery, kinematics};
use crate::scenario::defaults;
use crate::scenario::table::{Section, above, between, tidy};
use crate::scenario::types::{Battery, CellForm, Craft, GoesFirst, PackAct};

pub(super) fn read_craft(s: &Section) -> Craft {
    let name = s.text("name", "small multirotor", "none", "Generic description");
    let mass_kg = s
        .required_uncertain("mass_kg", between(0.1, 10.0), "Mass with pack and all that it always carries")
        .unwrap_or(Uncertain::Exact(1.0));
    let payload_kg = s.number(
        "payload_kg",
        between(0.0, 10.0),
        0.0,
        "nothing",
        "What it carries besides; weighs, but makes the motors no stronger",
    );
    let base = defaults::class_of(mass_kg.central());
    let rotors = s.whole("rotors", 3, 12, base.rotors.into(), "class by mass", "Number of rotors") as u32;
    let class = "class by mass (estimate)";
    let rotor_diameter_m = s.number(
        "rotor_diameter_m",
        above(0.01, 2.0),
        defaults::diameter_for(&base, rotors),
        class,
        "Diameter of each rotor",
    );
    let d = defaults::with_rotors(base, rotors, rotor_diameter_m);
    let radius_m =
        s.number("radius_m", above(0.01, 3.0), d.radius_m, class, "Half of the greatest width, rotors included");
    let induced_factor = s.number(
        "induced_factor",
        between(1.0, 2.0),
        d.induced_factor,
        "Leishman, usual value (from memory)",
        "Induced-power factor",
    );
    let profile_power_w = s.number(
        "profile_power_w",
        between(0.0, 5000.0),
        d.profile_power_w,
        "estimate: 32 W at 1 kg, scaled with mass and disc area",
        "Profile power in hover at sea level",
    );
    let tip_speed_mps = s.number("tip_speed_mps", between(20.0, 250.0), d.tip_speed_mps, class, "Blade tip speed");
    let drive_efficiency = s.uncertain(
        "drive_efficiency",
        between(0.3, 0.98),
        triangular(d.drive_efficiency),
        "with the figure of merit 0.34 to 0.50 overall: NASA TM-2018-219758 table C85, Rodrigues et al. 2022",
        "Efficiency of motors and their controllers",
    );
    let aux_power_w = s.number(
        "aux_power_w",
        between(0.0, 500.0),
        d.aux_power_w,
        class,
        "Power of everything that does not turn rotors",
    );
    let (linear_drag_per_s, drag_area_m2) = read_drag(s, &d, mass_kg.central());
    let fall_drag_area_m2 = s.uncertain(
        "fall_drag_area_m2",
        above(0.0, 5.0),
        triangular(d.fall_drag_area_m2),
        "24 kg/m² from 0.5 to 2 kg (ASSURE A4, 2017, as quoted), class by mass elsewhere (estimate)",
        "Drag area when falling",
    );
    let tilt_max_deg = s.number("tilt_max_deg", between(5.0, 70.0), d.tilt_max_deg, class, "Greatest tilt");
    let cruise_mps = s.number("cruise_mps", above(0.5, 60.0), d.cruise_mps, class, "Speed over ground aimed for");
    let climb_mps = s.number("climb_mps", above(0.1, 30.0), d.climb_mps, class, "Greatest climb speed");
    let descent_mps = s.number(
        "descent_mps",
        above(0.1, 20.0),
        d.descent_mps,
        "0.4 times the induced velocity in hover, off the vortex ring (estimate)",
        "Greatest descent speed",
    );
    let final_descent_mps =
        s.number("final_descent_mps", above(0.05, 5.0), d.final_descent_mps, class, "Descent speed near the ground");
    let slow_below_m = s.number(
        "slow_below_m",
        between(0.0, 100.0),
        d.slow_below_m,
        class,
        "Height above the take-off level, as the craft knows it, below which it comes down slowly",
    );
    let ground_sensor_m = s.number(
        "ground_sensor_m",
        between(0.0, 100.0),
        0.0,
        "there is none",
        "Range of a sensor that measures the height above what is below; with it a landing slows down wherever it is",
    );
    let accel_mps2 = s.number("accel_mps2", above(0.1, 30.0), d.accel_mps2, class, "Greatest horizontal acceleration");
    let velocity_lag_s =
        s.number("velocity_lag_s", between(0.05, 10.0), d.velocity_lag_s, class, "Time constant of the velocity loop");
    let attitude_lag_s =
        s.number("attitude_lag_s", between(0.01, 2.0), d.attitude_lag_s, class, "Time constant of the attitude");
    let thrust_ratio = s.number(
        "thrust_ratio",
        between(1.2, 15.0),
        d.thrust_ratio,
        class,
        "Greatest thrust over weight with a full pack",
    );
    let level_error_deg = s.number(
        "level_error_deg",
        between(0.0, 10.0),
        d.level_error_deg,
        class,
        "Attitude error that makes a level hold drift, 1 sigma",
    );
    let soft_touch_mps = s.numbers::<2>(
        "soft_touch_mps",
        above(0.0, 20.0),
        [1.0, 1.5],
        ESTIMATE,
        "Greatest vertical and horizontal speed of a soft touch-down",
    );
    let hard_touch_mps = s.numbers::<2>(
        "hard_touch_mps",
        above(0.0, 30.0),
        [3.0, 3.0],
        "near the 3.12 m/s of a reserve-energy drop, 14 CFR 27.727 (as quoted); along: estimate",
        "Greatest vertical and horizontal speed of a hard touch-down; above is a crash",
    );
    if hard_touch_mps[0] < soft_touch_mps[0] || hard_touch_mps[1] < soft_touch_mps[1] {
        s.error("hard_touch_mps", "speeds below those of a soft touch-down", "not less than `soft_touch_mps`");
    }
    let tip_slope_deg =
        s.number("tip_slope_deg", above(0.0, 60.0), 20.0, ESTIMATE, "Ground slope above which it tips over");
    let b = s.table("battery");
    let cells = b.whole("cells", 1, 20, d.cells.into(), class, "Cells in series") as u32;
    let capacity_ah = b.number(
        "capacity_ah",
        above(0.05, 200.0),
        defaults::capacity_ah(&base, cells),
        "50 Wh a kilogram of craft (estimate)",
        "Capacity",
    );
    let health = b.uncertain(
        "health",
        between(0.2, 1.1),
        Uncertain::Normal(0.96, 0.04),
        ESTIMATE,
        "Capacity left through age, as a share",
    );
    let resistance_ohm = b.uncertain(
        "resistance_ohm",
        above(0.0, 5.0),
        Uncertain::Lognormal(defaults::resistance_ohm(&base, cells, capacity_ah), 1.22),
        "estimate: 15 mΩ·Ah a cell, wiring included",
        "Resistance of the pack at 25 °C",
    );
    let charge_pct = b.uncertain(
        "charge_pct",
        above(0.0, 100.0),
        Uncertain::Uniform(97.0, 100.0),
        ESTIMATE,
        "State of charge at take-off",
    );
    let temperature_c = b.opt_number("temperature_c", between(-30.0, 60.0), "the air's", "Pack temperature");
    let cell_form = b.word(
        "cell_form",
        &[("pouch", CellForm::Pouch), ("cylinder", CellForm::Cylinder)],
        "pouch",
        "usual in packs for high currents",
        "What the cells are like: lithium-polymer pouches or cylindrical lithium-ion cells",
    );
    let resistance_b_k = b.uncertain(
        "resistance_b_k",
        between(0.0, 8000.0),
        triangular(match cell_form {
            CellForm::Pouch => battery::POUCH_B_K,
            CellForm::Cylinder => battery::CYLINDER_B_K,
        }),
        "Plett's public cell set and a web article of 2010; cylinders: an open data set of cold 1C cycles, 2024",
        "Growth of the resistance in the cold: B in exp(B (1/T - 1/298.15)), T in K; cylinders [400, 900, 3000]",
    );
    let cold_loss = b.uncertain(
        "cold_loss",
        between(0.0, 3.0),
        Uncertain::Normal(1.0, battery::COLD_LOSS_SIGMA),
        "0.81 ± 0.07 at -10 °C: an open data set of cold 1C cycles, 2024; 0.90 at 0 °C is interpolated",
        "Factor on the charge that cylinders lose in the cold: 10 % of it at 0 °C, 19 % at -10 °C; pouches lose none",
    );
    // What is left must bring the craft down from as high as it may be.
    let landing = defaults::landing_charge_pct(&d, mass_kg.central(), f64::from(cells) * capacity_ah);
    let land_charge_pct = b.number(
        "land_charge_pct",
        between(0.0, 90.0),
        landing,
        "1.5 times what hovering takes while it sinks 120 m, 4 to 25 % (own computation)",
        "State of charge of the limit, at which the craft does what `at_limit` says",
    );
    let warn_charge_pct = b.number(
        "warn_charge_pct",
        between(0.0, 95.0),
        defaults::warning_charge_pct(&d, mass_kg.central(), f64::from(cells) * capacity_ah, land_charge_pct),
        "that, and what hovering takes for the time of a kilometre at cruise speed (own computation)",
        "State of charge at which the pack warns and the craft does what `at_warning` says",
    );
    if land_charge_pct > warn_charge_pct {
        b.error(
            "land_charge_pct",
            format!("charges of {} (landing) and {} (warning)", tidy(land_charge_pct), tidy(warn_charge_pct)),
            "`land_charge_pct` not above `warn_charge_pct`",
        );
    }
    let warn_v = b.number(
        "warn_v",
        between(2.5, 4.2),
        3.5,
        ESTIMATE,
        "Voltage per cell under load at which the pack warns too, whatever its charge",
    );
    let land_v = b.number(
        "land_v",
        between(2.5, 4.2),
        3.3,
        ESTIMATE,
        "Voltage per cell under load that counts as the limit too, whatever the charge",
    );
    let cutoff_v = b.number(
        "cutoff_v",
        between(2.0, 4.0),
        3.0,
        "limit of the cell whose table is used",
        "Voltage per cell at which thrust is lost",
    );
    const ACTS: [(&str, PackAct); 3] =
        [("nothing", PackAct::Nothing), ("return", PackAct::Return), ("land", PackAct::Land)];
    let at_warning =
        b.word("at_warning", &ACTS, "nothing", "it only warns", "What the craft does by itself at the warning");
    let at_limit =
        b.word("at_limit", &ACTS, "land", "common practice, no source", "What the craft does by itself at the limit");
    let return_at_least_m = b.opt_number(
        "return_at_least_m",
        above(0.0, 2000.0),
        "the height it has",
        "Least height above home at which a low pack sends it home",
    );
    let goes_first = b.word(
        "goes_first",
        &[("pack", GoesFirst::Pack), ("policy", GoesFirst::Policy)],
        "pack",
        ESTIMATE,
        "Which goes first while the link is lost: what is set for the low pack, or the policy, which then flies on until the pack is empty",
    );
    if !(cutoff_v < land_v && land_v <= warn_v) {
        b.error(
            "land_v",
            format!("voltages of {} (cut-off), {} (landing), {} (warning)", tidy(cutoff_v), tidy(land_v), tidy(warn_v)),
            "`cutoff_v` below `land_v`, and `land_v` not above `warn_v`",
        );
    }
    Craft {
        name,
        rated_mass_kg: mass_kg.central(),
        mass_kg,
        payload_kg,
        radius_m,
        rotors,
        rotor_diameter_m,
        induced_factor,
        profile_power_w,
        tip_speed_mps,
        drive_efficiency,
        aux_power_w,
        linear_drag_per_s,
        drag_area_m2,
        fall_drag_area_m2,
        tilt_max_deg,
        cruise_mps,
        climb_mps,
        descent_mps,
        final_descent_mps,
        slow_below_m,
        ground_sensor_m,
        accel_mps2,
        velocity_lag_s,
        attitude_lag_s,
        thrust_ratio,
        level_error_deg,
        soft_touch_mps,
        hard_touch_mps,
        tip_slope_deg,
        battery: Battery {
            cells,
            capacity_ah,
            health,
            resistance_ohm,
            charge_pct,
            cell_form,
            resistance_b_k,
            cold_loss,
            temperature_c,
            warn_charge_pct,
            land_charge_pct,
            warn_v,
            land_v,
            cutoff_v,
            at_warning,
            at_limit,
            return_at_least_m,
            goes_first,
        },
    }
}

/// Speed at which the halves of the drag pair are weighed against each other: what was published lies about it, m/s.
const PAIR_AT_MPS: f64 = 8.0;

/// Linear drag and drag area. They are two halves of one total: with one of them stated, the default of the other is what
/// the stated one leaves of the class's total at [`PAIR_AT_MPS`], so that no drag counts twice.
fn read_drag(s: &Section, d: &ClassDefaults, mass_kg: f64) -> (Uncertain, Uncertain) {
    let limits = (between(0.0, 2.0), above(0.0, 2.0));
    let source = "a pair: NASA TM-2018-219758 table C18, Hattenberger et al. 2022, Sun et al. 2019, Garreau 2020; with one \
                  stated, what it leaves of the pair's drag at 8 m/s";
    let words = ("Linear rotor drag over mass", "Drag area in level flight");
    let (linear, area) = (triangular(d.linear_drag_per_s), triangular(d.drag_area_m2));
    let linear_mps2 = |linear: &Uncertain| linear.central() * PAIR_AT_MPS;
    let area_mps2 =
        |area: &Uncertain| kinematics::drag_per_m(mass_kg, area.central(), 1.225) * PAIR_AT_MPS * PAIR_AT_MPS;
    let (by_linear, by_area) = (linear_mps2(&linear), area_mps2(&area));
    if s.has("drag_area_m2") && !s.has("linear_drag_per_s") {
        let area = s.uncertain("drag_area_m2", limits.1, area, source, words.1);
        let left = ((by_linear + by_area - area_mps2(&area)) / by_linear).max(0.0);
        let linear = triangular(d.linear_drag_per_s.map(|x| left * x));
        return (s.uncertain("linear_drag_per_s", limits.0, linear, source, words.0), area);
    }
    let stated = s.has("linear_drag_per_s");
    let linear = s.uncertain("linear_drag_per_s", limits.0, linear, source, words.0);
    // An area is never nothing: a twentieth of the class's at least.
    let left = if stated { ((by_linear + by_area - linear_mps2(&linear)) / by_area).clamp(0.05, 4.0) } else { 1.0 };
    let area = triangular(d.drag_area_m2.map(|x| left * x));
    (linear, s.uncertain("drag_area_m2", limits.1, area, source, words.1))
}

/// A low, a likeliest and a high value as a distribution.
fn triangular([low, mode, high]: [f64; 3]) -> Uncertain {
    Uncertain::Triangular(low, mode, high)
}
