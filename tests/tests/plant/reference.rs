//! The plant against scipy 1.17.1's solve_ivp (DOP853, rtol 1e-11, events for friction and
//! contact): `reference/plant/make_vectors.py` holds the equations, written from the description.

use host_sim::body::{Body, Sprung};
use host_sim::plant::{Config, Drive, Plant};
use serde_json::Value;
use std::f64::consts::TAU;

fn number(value: &Value) -> f64 {
    value.as_f64().expect("a number")
}

fn list(value: &Value) -> &Vec<Value> {
    value.as_array().expect("a list")
}

fn directory() -> String {
    format!("{}/reference/plant", env!("CARGO_MANIFEST_DIR"))
}

fn case(name: &str) -> Value {
    let text = std::fs::read_to_string(format!("{}/cases.json", directory())).expect("cases.json");
    let all: Value = serde_json::from_str(&text).expect("JSON");
    list(&all["cases"])
        .iter()
        .find(|c| c["name"] == name)
        .cloned()
        .expect("the case")
}

fn rows(name: &str) -> Vec<Vec<f64>> {
    let text = std::fs::read_to_string(format!("{}/{name}.csv", directory())).expect("the vectors");
    text.lines()
        .skip(1)
        .map(|line| {
            line.split(',')
                .map(|x| x.parse().expect("a number"))
                .collect()
        })
        .collect()
}

fn config(c: &Value, period_s: f64, substeps: usize) -> Config {
    let pair = |v: &Value| [number(&v[0]), number(&v[1])];
    let of = |field: &str| number(&c[field]);
    Config {
        seat_kg: of("seat_kg"),
        travel_m: of("travel_m"),
        spring_npm: of("spring_npm"),
        viscous_nspm: of("viscous_nspm"),
        coulomb_n: of("coulomb_n"),
        stiction_n: of("stiction_n"),
        stribeck_mps: of("stribeck_mps"),
        bumper_npm15: of("bumper_npm15"),
        bumper_spm: of("bumper_spm"),
        force_constant_npa: of("force_constant_npa"),
        droop: of("droop"),
        resistance_20c_ohm: of("resistance_20c_ohm"),
        inductance_h: of("inductance_h"),
        current_loop_radps: of("current_loop_radps"),
        supply_v: of("supply_v"),
        source_ohm: of("source_ohm"),
        capacitance_f: of("capacitance_f"),
        chopper_v: of("chopper_v"),
        chopper_band_v: of("chopper_band_v"),
        chopper_ohm: of("chopper_ohm"),
        level_rate_nps: of("level_rate_nps"),
        preload_max_n: of("preload_max_n"),
        heat_jpk: pair(&c["heat_jpk"]),
        thermal_kpw: pair(&c["thermal_kpw"]),
        ambient_c: of("ambient_c"),
        step_s: period_s / substeps as f64,
        substeps,
    }
}

fn body(b: &Value) -> Body {
    let mut sprung = [Sprung::default(); 2];
    for (slot, s) in sprung.iter_mut().zip(list(&b["sprung"])) {
        *slot = Sprung {
            mass_kg: number(&s[0]),
            stiffness_npm: number(&s[1]),
            damper_nspm: number(&s[2]),
        };
    }
    Body {
        base_kg: number(&b["base_kg"]),
        sprung,
    }
}

fn signal(sines: &Value, t: f64) -> f64 {
    list(sines)
        .iter()
        .map(|s| number(&s[0]) * (TAU * number(&s[1]) * t + number(&s[2])).sin())
        .sum()
}

/// Worst errors over the ride.
#[derive(Clone, Copy, Debug, Default)]
struct Errors {
    travel_m: f64,
    rate_mps: f64,
    sprung_m: f64,
    current_a: f64,
    bus_v: f64,
    winding_k: f64,
    accel_mps2: f64,
}

fn ride(name: &str, substeps: usize) -> (Errors, Plant, Value) {
    let case = case(name);
    let rows = rows(name);
    let period = number(&case["period_s"]);
    let config = config(&case["config"], period, substeps);
    let body = body(&case["body"]);
    let preload = Plant::balance_n(&config, &body) + number(&case["surplus_n"]);
    let mut plant = Plant::new(config, body, preload, number(&case["travel_m"]));
    if case["rate_mps"] != 0.0 {
        plant.set_travel_rate(number(&case["rate_mps"]));
    }
    plant.set_temperatures([
        number(&case["temperature_c"][0]),
        number(&case["temperature_c"][1]),
    ]);
    let mut worst = Errors::default();
    let mut next = rows.iter().skip(1).peekable();
    let count = (number(&case["seconds"]) / period).round() as u64;
    for k in 0..count {
        let (start, end) = (k as f64 * period, (k + 1) as f64 * period);
        let drive = list(&case["drive"])
            .iter()
            .find(|d| start < number(&d[0]) - 1e-9)
            .expect("a drive");
        let drive = match drive[1].as_str() {
            Some("none") => Drive::None,
            Some("open") => Drive::Open,
            Some("shorted") => Drive::Braked(0.0),
            _ => Drive::Current(signal(&drive[2], start)),
        };
        let floor = &case["floor"];
        plant.step(signal(floor, start), signal(floor, end), drive, 0);
        if let Some(row) = next.next_if(|r| r[0] < end + 0.5 * period) {
            let raise = |worst: &mut f64, ours: f64, theirs: f64| {
                *worst = worst.max((ours - theirs).abs());
            };
            raise(&mut worst.travel_m, plant.travel(), row[1]);
            raise(&mut worst.rate_mps, plant.travel_rate(), row[2]);
            let [a, b] = plant.sprung_displacement();
            raise(&mut worst.sprung_m, a, row[3]);
            raise(&mut worst.sprung_m, b, row[5]);
            raise(&mut worst.current_a, plant.current(), row[7]);
            raise(&mut worst.bus_v, plant.bus_voltage(), row[8]);
            raise(&mut worst.winding_k, plant.temperatures()[0], row[9]);
            raise(&mut worst.accel_mps2, plant.seat_accel(), row[11]);
        }
    }
    assert!(next.next().is_none(), "all rows were compared");
    (worst, plant, case)
}

/// Rides at the default 0.5 ms plant step and holds the errors to `most`.
fn check(name: &str, most: &Errors) -> Plant {
    let (worst, plant, case) = ride(name, 2);
    for (what, ours, limit) in [
        ("travel", worst.travel_m, most.travel_m),
        ("rate", worst.rate_mps, most.rate_mps),
        ("sprung masses", worst.sprung_m, most.sprung_m),
        ("current", worst.current_a, most.current_a),
        ("bus", worst.bus_v, most.bus_v),
        ("winding", worst.winding_k, most.winding_k),
        ("acceleration", worst.accel_mps2, most.accel_mps2),
    ] {
        assert!(
            ours <= limit,
            "{name}: {what} is off by {ours:e}, not {limit:e}"
        );
    }
    // A bumper counts as left at a gap of 0.1 mm.
    let met: Vec<_> = list(&case["contacts"])
        .iter()
        .filter(|c| number(&c[2]) > 1.0e-4)
        .collect();
    assert_eq!(
        plant.stops().contacts as usize,
        met.len(),
        "{name}: contacts"
    );
    let fastest = met.iter().map(|c| number(&c[1])).fold(0.0, f64::max);
    // The closing speed is interpolated linearly in a step: (0.5 ms)^2 of some 100 m/s3 at most.
    assert!(
        (plant.stops().speed_max_mps - fastest).abs() < 2.0e-5,
        "{name}: {} against {fastest}",
        plant.stops().speed_max_mps
    );
    plant
}

/// Nothing switches: what is left is the method's h^4 and the solver's own 1e-12.
const SMOOTH: Errors = Errors {
    travel_m: 2e-12,
    rate_mps: 1e-11,
    sprung_m: 1e-12,
    current_a: 0.0,
    bus_v: 0.0,
    winding_k: 0.0,
    accel_mps2: 1e-9,
};

#[test]
fn free_decay() {
    check("free_decay", &SMOOTH);
}

#[test]
fn floor_sine_without_friction() {
    check("floor_sine", &SMOOTH);
}

#[test]
fn one_mass_body() {
    check("one_mass", &SMOOTH);
}

/// Breakaway is judged at step ends, up to 0.5 ms late: its effect is of second order.
#[test]
fn floor_sine_with_coulomb_friction() {
    check(
        "coulomb_sine",
        &Errors {
            travel_m: 1e-6,
            rate_mps: 6e-6,
            accel_mps2: 3e-5,
            ..SMOOTH
        },
    );
}

/// The plant cuts the Stribeck exponential at six times its rate: 0.25 % of 13 N, 4e-4 m/s2 on
/// 90 kg. Just after a breakaway, judged up to 0.5 ms late, the acceleration lags the reference.
#[test]
fn stick_slip() {
    check(
        "stick_slip",
        &Errors {
            travel_m: 1e-5,
            rate_mps: 5e-5,
            accel_mps2: 6e-3,
            ..SMOOTH
        },
    );
}

/// As stick-slip.
#[test]
fn two_mass_body_with_friction() {
    check(
        "two_mass",
        &Errors {
            travel_m: 3e-6,
            rate_mps: 3e-5,
            sprung_m: 3e-7,
            accel_mps2: 3e-3,
            ..SMOOTH
        },
    );
}

/// A 60 Hz command of 45 A meets the bus voltage four times a cycle: at each meeting the voltage
/// has a kink, which costs h^2. 0.1 % of the 83 A peak, 0.5 % of the 3 K of heating, and 2 N of
/// mean force on a spring of 3 kN/m.
#[test]
fn motor_with_saturating_voltage() {
    check(
        "saturating_motor",
        &Errors {
            travel_m: 5e-4,
            rate_mps: 3.5e-3,
            current_a: 0.1,
            bus_v: 0.01,
            winding_k: 0.02,
            accel_mps2: 0.05,
            ..SMOOTH
        },
    );
}

/// The bus runs through the chopper's band and beyond it: a kink at either end costs h^2 of the 9 V that it rises by, and
/// at first the bus lacks the voltage for the command of 40 A.
#[test]
fn returned_energy_in_the_brake_resistor() {
    check(
        "regenerating",
        &Errors {
            travel_m: 2e-10,
            rate_mps: 2e-7,
            current_a: 1e-3,
            bus_v: 3e-3,
            winding_k: 2e-4,
            accel_mps2: 3e-4,
            ..SMOOTH
        },
    );
}

/// The resistance is held for a period of 1 ms while the reference warms continuously.
#[test]
fn shorted_windings() {
    check(
        "shorted",
        &Errors {
            travel_m: 2e-8,
            rate_mps: 4e-7,
            current_a: 3e-5,
            winding_k: 3e-6,
            accel_mps2: 1e-5,
            ..SMOOTH
        },
    );
}

/// x^1.5 has no second derivative at the bumper's face, so h^2.5 is what a step across it leaves.
#[test]
fn drop_onto_the_bumper() {
    check(
        "drop",
        &Errors {
            travel_m: 3e-7,
            rate_mps: 1.2e-5,
            accel_mps2: 1e-3,
            ..SMOOTH
        },
    );
}

/// Nine contacts, friction, a drive that changes: 0.04 % of the largest rate.
#[test]
fn everything_at_once() {
    check(
        "combined",
        &Errors {
            travel_m: 2e-5,
            rate_mps: 8e-4,
            sprung_m: 1.2e-5,
            current_a: 5e-3,
            bus_v: 2e-4,
            winding_k: 3e-5,
            accel_mps2: 0.06,
        },
    );
}

/// Error of travel and rate at plant steps of 1, 1/2, 1/4 ms: the order is log2 of the quotient.
fn orders(name: &str, error: fn(&Errors) -> f64) -> [f64; 2] {
    let e = [1, 2, 4].map(|substeps| error(&ride(name, substeps).0));
    [(e[0] / e[1]).log2(), (e[1] / e[2]).log2()]
}

/// Classical Runge-Kutta: order 4 while nothing switches (theory; Hairer, Norsett, Wanner,
/// Solving Ordinary Differential Equations I, II.1).
#[test]
fn order_four_while_smooth() {
    let [first, second] = orders("one_mass", |e| e.accel_mps2);
    assert!(first > 3.5 && second > 3.5, "{first} {second}");
}

/// Events leave at least second order.
#[test]
fn order_two_with_friction() {
    for error in [|e: &Errors| e.travel_m, |e: &Errors| e.rate_mps] {
        let [first, second] = orders("coulomb_sine", error);
        assert!(first > 1.8 && second > 1.8, "{first} {second}");
    }
}

/// The voltage limit leaves second order.
#[test]
fn order_two_with_saturation() {
    let [first, second] = orders("saturating_motor", |e| e.current_a);
    assert!(first > 1.8 && second > 1.8, "{first} {second}");
}
