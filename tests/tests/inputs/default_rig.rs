//! The default rig: no kinder than was asked, and its comments true by closed forms.

use firmware::DriveFrame;
use host_sim::body::{Body, BodyKind};
use host_sim::floor::FloorSpec;
use host_sim::limits;
use host_sim::plant::{COPPER_PK, Config, Plant};
use host_sim::ride::{self, RideSpec};
use host_sim::rig::Rig;
use serde_json::Value;
use std::f64::consts::TAU;
use std::path::Path;

fn rig() -> Rig {
    Rig::default_machine().expect("the default rig")
}

/// The least hardship that the project asks of its default machine.
#[test]
fn no_kinder_than_asked() {
    let rig = rig();
    assert!((rig.seat.travel_m - 0.045).abs() < 1e-12);
    assert!(rig.friction.coulomb_n >= 40.0 && rig.friction.stiction_n > rig.friction.coulomb_n);
    assert!(rig.spring.stiffness_npm >= 2000.0 && rig.friction.viscous_nspm >= 150.0);
    for accel in [&rig.sensors.floor_accel, &rig.sensors.seat_accel] {
        assert!(accel.noise_rms >= 0.02 && accel.bias_max >= 0.3);
    }
    assert!(rig.sensors.travel.per_count >= 20.0e-6);
    assert!(rig.timing.transport_steps as f64 * rig.timing.step_s >= 0.001);
    assert!(rig.actuator.current_loop_hz <= 300.0);
    assert!(rig.actuator.force_constant_error >= 0.05 && rig.actuator.force_constant_droop >= 0.05);
    // The firmware is told neither the true force constant nor the true friction.
    let told = &rig.firmware.limit;
    assert!((f64::from(told.force_constant_npa) - rig.actuator.force_constant_npa).abs() < 1e-3);
    assert!(f64::from(told.coulomb_n) < rig.friction.coulomb_n);
}

/// Peak force of the weakest unit at its stops, current times constant less error and droop; continuous force from the thermal resistances with the
/// resistance at its own temperature (closed form, copper 0.393 %/K).
#[test]
fn actuator_forces() {
    let rig = rig();
    let (a, t) = (&rig.actuator, &rig.thermal);
    let weakest = (1.0 - a.force_constant_error) * (1.0 - a.force_constant_droop);
    let peak = a.current_max_a * a.force_constant_npa * weakest;
    assert!((2900.0..3100.0).contains(&peak), "{peak} N");
    // One second of it into the winding alone.
    let rise = a.current_max_a.powi(2) * a.resistance_20c_ohm / t.winding_jpk;
    assert!((4.0..6.0).contains(&rise), "{rise} K");
    let loss_20c = (350.0 / a.force_constant_npa).powi(2) * a.resistance_20c_ohm;
    let per_watt = t.winding_to_case_kpw + t.case_to_ambient_kpw;
    let winding = (t.ambient_c + per_watt * loss_20c * (1.0 - 20.0 * COPPER_PK))
        / (1.0 - per_watt * loss_20c * COPPER_PK);
    assert!(
        winding < f64::from(rig.firmware.limit.derate_from_c),
        "{winding} C at 350 N"
    );
}

/// The passive seat: natural frequency and damping ratio as stated, at 80 kg, everything else that of
/// the active seat.
#[test]
fn passive_seat_as_described() {
    let rig = rig();
    let (passive, active) = (Config::passive(&rig), Config::active(&rig, 0.0, 0.0));
    let mass = rig.seat.empty_mass_kg
        + Body::new(BodyKind::Rigid, 80.0 * rig.seat.on_seat_share).total_kg();
    let omega = (passive.spring_npm / mass).sqrt();
    assert!((omega / TAU - 1.2).abs() < 1e-9, "{}", omega / TAU);
    let ratio = passive.viscous_nspm / (2.0 * mass * omega);
    assert!((ratio - 0.3).abs() < 1e-9, "{ratio}");
    let same = Config {
        spring_npm: active.spring_npm,
        viscous_nspm: active.viscous_nspm,
        ..passive
    };
    assert_eq!(format!("{same:?}"), format!("{active:?}"));
}

/// The drawn errors reach the plant, and only where they belong.
#[test]
fn errors_reach_the_plant() {
    let rig = rig();
    let (plain, off) = (
        Config::active(&rig, 0.0, 0.0),
        Config::active(&rig, -0.05, 0.1),
    );
    assert!((off.force_constant_npa / plain.force_constant_npa - 0.95).abs() < 1e-12);
    assert!((off.level_rate_nps / plain.level_rate_nps - 1.1).abs() < 1e-12);
    let same = Config {
        force_constant_npa: plain.force_constant_npa,
        level_rate_nps: plain.level_rate_nps,
        ..off
    };
    assert_eq!(format!("{same:?}"), format!("{plain:?}"));
}

/// The empty seat's preload balances it, the largest carries 130 kg.
#[test]
fn preload_carries_the_heaviest() {
    let rig = rig();
    let config = Config::active(&rig, 0.0, 0.0);
    let empty = rig.seat.empty_mass_kg * 9.806_65;
    let told = f64::from(rig.firmware.weigh.preload_n);
    assert!((told - empty).abs() < 0.1, "{told} {empty}");
    let heaviest = Body::new(BodyKind::TwoMass, 130.0 * rig.seat.on_seat_share);
    assert!(Plant::balance_n(&config, &heaviest) < rig.spring.preload_max_n);
}

/// Resistance of the hottest winding that is reckoned with, 300 degrees Celsius, ohm.
fn hot_ohm(config: &Config) -> f64 {
    config.resistance_20c_ohm * (1.0 + COPPER_PK * 280.0)
}

/// The classical Runge-Kutta method is stable on the negative axis down to step * rate = -2.785
/// (textbook): the default rig's fastest decays stay well inside, but that of the braked winding, 1.8, which has a test of its own.
#[test]
fn plant_step_is_stable() {
    let rig = rig();
    let config = Config::active(&rig, 0.0, 0.0);
    for (what, rate) in [
        ("current loop", config.current_loop_radps),
        ("winding", hot_ohm(&config) / config.inductance_h),
        ("source", 1.0 / (config.source_ohm * config.capacitance_f)),
        (
            "chopper",
            (config.chopper_v / config.chopper_band_v + 2.0)
                / (config.chopper_ohm * config.capacitance_f),
        ),
        ("friction", config.viscous_nspm / config.seat_kg),
        (
            "breakaway",
            (config.stiction_n - config.coulomb_n) / config.stribeck_mps / config.seat_kg,
        ),
    ] {
        assert!(
            config.step_s * rate < 1.0,
            "{what}: {}",
            config.step_s * rate
        );
    }
}

/// A brake resistor with which the winding's current fades faster than the plant can step is refused by its name; the largest that
/// is not brakes with no more current than its speed drives through the winding alone, K v / R.
#[test]
fn a_brake_resistor_is_stepped_stably_or_refused() {
    let told = "brake_ohm = 3.5";
    let with = |ohm: f64| {
        let text = Rig::default_text().replacen(told, &format!("brake_ohm = {ohm}"), 1);
        Rig::from_toml(&text, Path::new("rig.toml"))
    };
    assert!(Rig::default_text().contains(told));
    let least = with(1.0).expect("a small resistor");
    let (motor, config) = (&least.actuator, Config::active(&least, 0.0, 0.0));
    // Rates up to 2 by the plant's step are borne.
    let most = 2.0 * config.inductance_h / config.step_s - hot_ohm(&config);
    let refused = with(1.001 * most).expect_err("too fast").to_string();
    assert!(refused.contains("actuator.brake_ohm"), "{refused}");
    let rig = with(0.999 * most).expect("the largest");
    let mut spec = RideSpec::on(FloorSpec::named("hauler"));
    spec.faults = vec!["stop-opened:onset=1".parse().expect("a fault")];
    (spec.seconds, spec.skip_s) = (3.0, 0.0);
    let (mut given_a, mut rate) = (0.0_f64, 0.0_f64);
    ride::run(&rig, &spec, |s| {
        // The drive's own current is gone by then.
        if s.time_s > 1.1 {
            given_a = given_a.max(s.current.abs());
            rate = rate.max(s.travel_rate.abs());
        }
        true
    })
    .expect("a ride");
    let constant = motor.force_constant_npa * (1.0 + motor.force_constant_error);
    let most_a = constant * rate / motor.resistance_20c_ohm;
    assert!(given_a > 0.1 && given_a < most_a, "{given_a} of {most_a} A");
}

/// The drive gives no more than its rated current, whatever the firmware asks: with 5 A, far less
/// than the rise takes, the motor gives 5 A times the largest true force constant. A tenth more
/// leaves room for the current loop. Before it is driven the motor brakes, with what current its speed makes.
#[test]
fn the_drive_clips_the_current() {
    let mut rig = rig();
    rig.actuator.current_max_a = 5.0;
    let mut spec = RideSpec::on(FloorSpec::named("hauler"));
    (spec.seconds, spec.skip_s) = (2.0, 0.0);
    let (mut asked, mut given, mut driven) = (0.0_f64, 0.0_f64, 0);
    ride::run(&rig, &spec, |s| {
        let drives = s.drive.has(DriveFrame::ENABLE);
        driven = if drives { driven + 1 } else { 0 };
        // Until the braking current has given way.
        if driven > 20 {
            asked = asked.max(f64::from(s.drive.current_command).abs());
            given = given.max(s.current.abs());
        }
        true
    })
    .expect("a ride");
    assert!(asked * rig.sensors.current.per_count > 10.0, "{asked}");
    assert!((4.0..5.5).contains(&given), "{given} A");
}

/// A value as it may be mistyped: nothing, tiny, negative, huge, and factors that still look sound.
const MISTYPED: [f64; 8] = [0.0, 1e-9, -1.0, 0.01, 70.0, 7000.0, 70_000.0, 1e9];

/// Whatever single number of the default rig is replaced, the rig is either refused with the name of
/// a field, or a ride of 2 s on the rough hauler floor ends with finite figures.
#[test]
fn any_single_value_is_refused_by_name_or_can_be_ridden() {
    // With numbers where the file names a limit: those are mistyped too.
    let text = limits::resolve(
        Rig::default_text(),
        Path::new("default rig"),
        &limits::register(),
    )
    .expect("known limits");
    let mut spec = RideSpec::on(FloorSpec {
        level: 2.5,
        ..FloorSpec::named("hauler")
    });
    (spec.seconds, spec.skip_s) = (2.0, 0.2);
    let (mut table, mut refused, mut ridden) = (String::new(), 0, 0);
    for (at, line) in text.lines().enumerate() {
        if line.starts_with('[') {
            table = line.trim_matches(['[', ']']).to_owned();
        }
        let Some((key, rest)) = line.split_once(" = ") else {
            continue;
        };
        let value = rest.split('#').next().unwrap_or(rest).trim();
        if value.parse::<f64>().is_err() {
            continue;
        }
        for value in MISTYPED {
            let changed: Vec<String> = text
                .lines()
                .enumerate()
                .map(|(i, old)| {
                    if i == at {
                        format!("{key} = {value}")
                    } else {
                        old.to_owned()
                    }
                })
                .collect();
            let what = format!("{table}.{key} = {value}");
            let rig = match Rig::from_toml(&changed.join("\n"), Path::new("rig.toml")) {
                Ok(rig) => rig,
                Err(error) => {
                    let words = error.to_string();
                    assert!(
                        words.contains("expected") || words.contains("section observer"),
                        "{what}: {words}"
                    );
                    refused += 1;
                    continue;
                }
            };
            ridden += 1;
            let summary = match ride::run(&rig, &spec, |_| true) {
                Ok(summary) => summary,
                Err(error) => panic!("{what}: {error}"),
            };
            let figures = serde_json::to_value(&summary).expect("JSON");
            assert_eq!(unfinished(&figures), None, "{what}: {figures}");
        }
    }
    assert!(refused > 200 && ridden > 100, "{refused} {ridden}");
}

/// A figure that is no number, other than those that may be left out. serde_json writes NaN and the
/// infinities as null.
fn unfinished(value: &Value) -> Option<&str> {
    value.as_object()?.iter().find_map(|(key, value)| {
        // No bound is asked for in these rides, and they end before the law isolates.
        let optional = key.starts_with("seat_value")
            || [
                "crest_factor",
                "bound",
                "share_of_possible",
                "set_margin_mps",
            ]
            .contains(&key.as_str());
        if value.is_null() && !optional {
            Some(key.as_str())
        } else {
            unfinished(value)
        }
    })
}
