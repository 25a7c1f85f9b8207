//! The craft and its pack.

use super::ESTIMATE;
use crate::chance::Uncertain;
use crate::craft::class::ClassDefaults;
use crate::craft::{battery, kinematics};
use crate::scenario::declare::part;
use crate::scenario::defaults;
use crate::scenario::kind::{above, between, tidy};
use crate::scenario::section::Section;

/// What a craft does by itself when its pack is low.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PackAct {
    /// Nothing: it only tells.
    Nothing,
    /// Flies home.
    Return,
    /// Comes down where it is.
    Land,
}

const ACTS: [(&str, PackAct); 3] =
    [("nothing", PackAct::Nothing), ("return", PackAct::Return), ("land", PackAct::Land)];

/// What decides when the link is lost and the pack is low.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum GoesFirst {
    /// What is set for a low pack.
    Pack,
    /// The policy for a lost link.
    Policy,
}

/// What the cells of a pack are like.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CellForm {
    /// Lithium-polymer pouches.
    Pouch,
    /// Cylindrical lithium-ion cells.
    Cylinder,
}

/// What is drawn about the class.
const CLASS: &str = "class by mass (estimate)";
/// What the owner of a craft can look up, or measure with a ruler.
const OWN: &str = "usual for the mass: yours can be looked up";

part! {
    /// The craft.
    pub struct Craft<U>(s) {
        "Generic description"
        name: String = text("small multirotor", "none");
        let mass = s.required_uncertain("mass_kg", between(0.1, 10.0), "Mass with pack and all that it always carries").unwrap_or(Uncertain::Exact(1.0));
        "Mass with pack and all that it always carries; `payload_kg` comes on top"
        mass_kg: U = drawn(6, mass);
        "The mass that its thrust ratio is of: the middle mass as the file states it"
        rated_mass_kg: f64 = made(mass_kg.central());
        "What it carries besides; weighs, but makes the motors no stronger"
        payload_kg: f64 = number(between(0.0, 10.0), 0.0, "nothing");
        let base = defaults::class_of(rated_mass_kg);
        "Number of rotors"
        rotors: u32 = count(3, 12, base.rotors, OWN);
        "Diameter of each rotor"
        rotor_diameter_m: f64 = number(above(0.01, 2.0), defaults::diameter_for(&base, rotors), OWN);
        let d = defaults::with_rotors(base, rotors, rotor_diameter_m);
        "Half of the greatest width, rotors included"
        radius_m: f64 = number(above(0.01, 3.0), d.radius_m, OWN);
        "Induced-power factor"
        induced_factor: f64 = number(between(1.0, 2.0), d.induced_factor, "Leishman, usual value (from memory)");
        "Profile power in hover at sea level"
        profile_power_w: U = uncertain(1100, between(0.0, 5000.0), Uncertain::Lognormal(d.profile_power_w, 1.2), "estimate: 32 W at 1 kg, scaled with mass and disc area");
        "Blade tip speed"
        tip_speed_mps: U = uncertain(1101, between(20.0, 250.0), Uncertain::Lognormal(d.tip_speed_mps, 1.1), CLASS);
        "Efficiency of motors and their controllers"
        drive_efficiency: U = uncertain(1042, between(0.3, 0.98), triangular(d.drive_efficiency), "with the figure of merit 0.34 to 0.50 overall: NASA TM-2018-219758 table C85, Rodrigues et al. 2022");
        "Power of everything that does not turn rotors"
        aux_power_w: U = uncertain(1102, between(0.0, 500.0), Uncertain::Lognormal(d.aux_power_w, 1.3), CLASS);
        let (linear, area) = read_drag(s, &d, rated_mass_kg);
        "Linear rotor drag over mass"
        linear_drag_per_s: U = drawn(7, linear);
        "Drag area in level flight"
        drag_area_m2: U = drawn(8, area);
        "Drag area when falling"
        fall_drag_area_m2: U = uncertain(9, above(0.0, 5.0), triangular(d.fall_drag_area_m2), "24 kg/m² from 0.5 to 2 kg (ASSURE A4, 2017, as quoted), class by mass elsewhere (estimate)");
        "Greatest tilt"
        tilt_max_deg: f64 = number(between(5.0, 70.0), d.tilt_max_deg, OWN);
        "Speed over ground aimed for"
        cruise_mps: f64 = number(above(0.5, 60.0), d.cruise_mps, OWN);
        "Greatest climb speed"
        climb_mps: f64 = number(above(0.1, 30.0), d.climb_mps, OWN);
        "Greatest descent speed"
        descent_mps: f64 = number(above(0.1, 20.0), d.descent_mps, "0.4 times the induced velocity in hover, off the vortex ring (own computation); yours can be looked up");
        "Descent speed near the ground"
        final_descent_mps: f64 = number(above(0.05, 5.0), d.final_descent_mps, OWN);
        "Height above the take-off level, as the craft knows it, below which it comes down slowly"
        slow_below_m: f64 = number(between(0.0, 100.0), d.slow_below_m, OWN);
        "Range of a sensor that measures the height above what is below; with it a landing slows down wherever it is"
        ground_sensor_m: f64 = number(between(0.0, 100.0), 0.0, "there is none");
        "Greatest horizontal acceleration"
        accel_mps2: f64 = number(above(0.1, 30.0), d.accel_mps2, OWN);
        "Time constant of the velocity loop"
        velocity_lag_s: U = uncertain(1103, between(0.05, 10.0), Uncertain::Lognormal(d.velocity_lag_s, 1.25), CLASS);
        "Time constant of the attitude"
        attitude_lag_s: U = uncertain(1104, between(0.01, 2.0), Uncertain::Lognormal(d.attitude_lag_s, 1.25), CLASS);
        "Greatest thrust over weight with a full pack"
        thrust_ratio: U = uncertain(1105, between(1.2, 15.0), Uncertain::Lognormal(d.thrust_ratio, 1.15), CLASS);
        "Attitude error that makes a level hold drift, 1 sigma"
        level_error_deg: U = uncertain(1106, between(0.0, 10.0), Uncertain::Lognormal(d.level_error_deg, 1.4), CLASS);
        "Greatest vertical and horizontal speed of a soft touch-down"
        soft_touch_mps: [f64; 2] = numbers(above(0.0, 20.0), [1.0, 1.5], "estimate; its spread is `touch_factor`");
        "Greatest vertical and horizontal speed of a hard touch-down; above is a crash"
        hard_touch_mps: [f64; 2] = numbers(above(0.0, 30.0), [3.0, 3.0], "near the 3.12 m/s of a reserve-energy drop, 14 CFR 27.727 (as quoted); along: estimate; its spread is `touch_factor`");
        let stated = s.has("soft_touch_mps") || s.has("hard_touch_mps");
        "Factor of one flight on the speeds that a touch-down forgives"
        touch_factor: U = uncertain(1107, between(0.1, 10.0), if stated { Uncertain::Exact(1.0) } else { Uncertain::Lognormal(1.0, 1.2) }, "estimate; 1 where one of the pairs of speeds is stated");
        "Ground slope above which it tips over"
        tip_slope_deg: U = uncertain(1108, above(0.0, 60.0), Uncertain::Triangular(14.0, 20.0, 26.0), ESTIMATE);
        "The pack and what it makes the craft do"
        battery: Battery<U> = part(Battery::read(&s.table("battery"), &base, &d, rated_mass_kg));
    }
    then {
        if hard_touch_mps[0] < soft_touch_mps[0] || hard_touch_mps[1] < soft_touch_mps[1] {
            s.error("hard_touch_mps", "speeds below those of a soft touch-down", "not less than `soft_touch_mps`");
        }
    }
}

impl Craft<f64> {
    /// Mass with pack and payload.
    pub fn flown_mass_kg(&self) -> f64 {
        self.mass_kg + self.payload_kg
    }
}

part! {
    /// The pack.
    pub struct Battery<U>(s, base: &ClassDefaults, class: &ClassDefaults, mass_kg: f64) {
        "Cells in series"
        cells: u32 = count(1, 20, class.cells, OWN);
        "Capacity"
        capacity_ah: f64 = number(above(0.05, 200.0), defaults::capacity_ah(base, cells), "50 Wh a kilogram of craft, usual: yours is on the pack");
        "Capacity left through age, as a share"
        health: U = uncertain(10, between(0.2, 1.1), Uncertain::Normal(0.96, 0.04), ESTIMATE);
        "Resistance of the pack at 25 °C"
        resistance_ohm: U = uncertain(11, above(0.0, 5.0), Uncertain::Lognormal(defaults::resistance_ohm(base, cells, capacity_ah), 1.22), "estimate: 15 mΩ·Ah a cell, wiring included");
        "Pack temperature"
        temperature_c: Option<f64> = opt_number(between(-30.0, 60.0), "the air's");
        "What the cells are like: lithium-polymer pouches or cylindrical lithium-ion cells"
        cell_form: CellForm = word(&[("pouch", CellForm::Pouch), ("cylinder", CellForm::Cylinder)], "pouch", "usual in packs for high currents");
        let growth_k = match cell_form { CellForm::Pouch => battery::POUCH_B_K, CellForm::Cylinder => battery::CYLINDER_B_K };
        "Growth of the resistance in the cold: B in exp(B (1/T - 1/298.15)), T in K; cylinders [400, 900, 3000]"
        resistance_b_k: U = uncertain(1040, between(0.0, 8000.0), triangular(growth_k), "Plett's public cell set and a web article of 2010; cylinders: an open data set of cold 1C cycles, 2024");
        "Factor on the charge that cylinders lose in the cold: 10 % of it at 0 °C, 19 % at -10 °C; pouches lose none"
        cold_loss: U = uncertain(1041, between(0.0, 3.0), Uncertain::Normal(1.0, battery::COLD_LOSS_SIGMA), "0.81 ± 0.07 at -10 °C: an open data set of cold 1C cycles, 2024; 0.90 at 0 °C is interpolated");
        "State of charge at take-off"
        charge_pct: U = uncertain(12, above(0.0, 100.0), Uncertain::Uniform(97.0, 100.0), ESTIMATE);
        let cell_ah = f64::from(cells) * capacity_ah;
        "State of charge of the limit, at which the craft does what `at_limit` says"
        land_charge_pct: f64 = number(between(0.0, 90.0), defaults::landing_charge_pct(class, mass_kg, cell_ah), "1.5 times what hovering takes while it sinks 120 m, 4 to 25 % (own computation)");
        "State of charge at which the pack warns and the craft does what `at_warning` says"
        warn_charge_pct: f64 = number(between(0.0, 95.0), defaults::warning_charge_pct(class, mass_kg, cell_ah, land_charge_pct), "that, and what hovering takes for the time of a kilometre at cruise speed (own computation)");
        "Voltage per cell under load at which the pack warns too, whatever its charge"
        warn_v: f64 = number(between(2.5, 4.2), 3.5, OWN);
        "Voltage per cell under load that counts as the limit too, whatever the charge"
        land_v: f64 = number(between(2.5, 4.2), 3.3, OWN);
        "Voltage per cell at which thrust is lost"
        cutoff_v: f64 = number(between(2.0, 4.0), 3.0, "limit of the cell whose table is used");
        "What the craft does by itself at the warning"
        at_warning: PackAct = word(&ACTS, "nothing", "it only warns");
        "What the craft does by itself at the limit"
        at_limit: PackAct = word(&ACTS, "land", "common practice, no source");
        "Least height above home at which a low pack sends it home"
        return_at_least_m: Option<f64> = opt_number(above(0.0, 2000.0), "the height it has");
        "Which goes first while the link is lost: what is set for the low pack, or the policy, which then flies on until the pack is empty"
        goes_first: GoesFirst = word(&[("pack", GoesFirst::Pack), ("policy", GoesFirst::Policy)], "pack", ESTIMATE);
    }
    then {
        if land_charge_pct > warn_charge_pct {
            let found = format!("charges of {} (landing) and {} (warning)", tidy(land_charge_pct), tidy(warn_charge_pct));
            s.error("land_charge_pct", found, "`land_charge_pct` not above `warn_charge_pct`");
        }
        if !(cutoff_v < land_v && land_v <= warn_v) {
            let found = format!("voltages of {} (cut-off), {} (landing), {} (warning)", tidy(cutoff_v), tidy(land_v), tidy(warn_v));
            s.error("land_v", found, "`cutoff_v` below `land_v`, and `land_v` not above `warn_v`");
        }
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
