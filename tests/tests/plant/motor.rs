//! Winding, current loop, bus, energy and heat against closed forms and independent books.

use becalm_tests::plant::{Phasor, balanced, over, quiet, ride_sine, rigid_60};
use host_sim::plant::{Config, Drive, Plant};
use std::f64::consts::TAU;

/// A seat that friction holds fast: only the electrical side moves.
fn locked(config: Config) -> Plant {
    let mut plant = balanced(
        Config {
            stiction_n: 1.0e9,
            coulomb_n: 1.0e9,
            ..config
        },
        rigid_60(),
    );
    plant.set_temperatures([20.0, 20.0]);
    plant
}

/// Heat capacities so large that nothing warms.
const COLD: [f64; 2] = [1.0e12, 1.0e12];

/// Copper: R(T)/R20 = 1 + 0.00393 (T - 20), IEC 60028 temperature coefficient; printed to four
/// decimals. 0.1 ohm at 20 degrees is 0.11179 ohm at 50 (a published worked example).
#[test]
fn copper_resistance() {
    let resistance = |r20: f64, celsius: f64| {
        let mut plant = locked(Config {
            resistance_20c_ohm: r20,
            ..quiet(0.001)
        });
        plant.set_temperatures([celsius, 25.0]);
        plant.resistance()
    };
    for (celsius, ratio) in [
        (20.0_f64, 1.0_f64),
        (80.0, 1.2358),
        (105.0, 1.3341),
        (130.0, 1.4323),
        (155.0, 1.5306),
        (180.0, 1.6288),
    ] {
        // Half of the last printed digit, and a little for 1.53055 and 1.43230.
        assert!(
            (resistance(1.0, celsius) - ratio).abs() < 5.1e-5,
            "{celsius}"
        );
        // The other handbook form, (234.5 + T) / (234.5 + 20).
        let other = (234.5 + celsius) / 254.5;
        assert!(
            (resistance(1.0, celsius) - other).abs() < 1.5e-4,
            "{celsius}"
        );
    }
    assert!((resistance(0.1, 50.0) - 0.11179).abs() < 1e-9);
}

/// Force is K i, and K falls by the stated share toward either stop.
#[test]
fn force_constant_droops() {
    let config = Config {
        droop: 0.05,
        travel_m: 0.045,
        ..quiet(0.001)
    };
    for (travel, share) in [(0.0, 1.0), (0.045, 0.95), (-0.045, 0.95), (0.0225, 0.9875)] {
        let body = rigid_60();
        let mut plant = Plant::new(
            Config {
                stiction_n: 1.0e9,
                ..config
            },
            body,
            Plant::balance_n(&config, &body),
            travel,
        );
        for _ in 0..50 {
            plant.step(0.0, 0.0, Drive::Current(10.0), 0);
        }
        assert!((plant.current() - 10.0).abs() < 1e-9);
        assert!((plant.force() - 300.0 * share).abs() < 1e-6, "{travel}");
    }
}

/// Without saturation the current follows its command as a first-order lag, i = c (1 - exp(-w t)).
#[test]
fn current_loop_is_a_lag() {
    let mut plant = locked(Config {
        heat_jpk: COLD,
        substeps: 4,
        ..quiet(0.000_125)
    });
    for k in 1..=10 {
        plant.step(0.0, 0.0, Drive::Current(8.0), 0);
        let closed = 8.0 * (1.0 - (-1500.0 * 0.0005 * f64::from(k)).exp());
        // Runge-Kutta at w h = 0.19 leaves 8 A (w h)^5 / 120 = 1.6e-5 A a step, and forgets it by
        // 17 % a step.
        assert!(
            (plant.current() - closed).abs() < 9e-5,
            "{} {closed}",
            plant.current()
        );
    }
}

/// A command beyond reach: the winding sees the whole bus, which sags by its source resistance, so
/// i = V / (R + Rs) and u = R i in the end.
#[test]
fn bus_voltage_limits_current() {
    let mut plant = locked(Config {
        heat_jpk: COLD,
        ..quiet(0.0002)
    });
    for _ in 0..5000 {
        plant.step(0.0, 0.0, Drive::Current(500.0), 0);
        assert!(plant.current() <= 48.0 / 0.4);
    }
    let closed = 48.0 / 0.45;
    assert!(
        (plant.current() - closed).abs() < 1e-6,
        "{}",
        plant.current()
    );
    assert!((plant.bus_voltage() - 0.4 * closed).abs() < 1e-6);
}

/// Source and chopper: from below the bus fills as 1 - exp(-t / Rs C). From above the brake resistor empties it with R C
/// down to the chopper's band. There x volts above the threshold U it conducts x / b of the time, so that
/// dx/dt = -x (x + U) / (b R C), a logistic curve: x / (x + U) falls as exp(-U t / (b R C)). Between the two nothing flows.
#[test]
fn bus_source_and_chopper() {
    let run = |from: f64, seconds: f64| {
        let mut plant = locked(quiet(0.0001));
        plant.set_bus_voltage(from);
        for _ in 0..(seconds / 0.0001).round() as u32 {
            plant.step(0.0, 0.0, Drive::Open, 0);
        }
        plant.bus_voltage()
    };
    let filled = 48.0 - 8.0 * (-0.004_f64 / (0.05 * 0.05)).exp();
    assert!((run(40.0, 0.004) - filled).abs() < 1e-6);
    let emptied = 60.0 * (-0.001_f64 / (0.5 * 0.05)).exp();
    assert!((run(60.0, 0.001) - emptied).abs() < 1e-6);
    let share = 2.0 / 56.0 * (-54.0 * 0.002_f64 / (2.0 * 0.5 * 0.05)).exp();
    let pulsed = 54.0 / (1.0 - share);
    assert!((run(56.0, 0.002) - pulsed).abs() < 1e-6);
    assert!((run(60.0, 2.0) - 54.0).abs() < 1e-6);
    assert!((run(51.0, 1.0) - 51.0).abs() < 1e-12);
    assert!((run(48.0, 1.0) - 48.0).abs() < 1e-12);
}

/// Shorted: i = -K v / (R + j w L), the force a damper of K^2 / R at low frequency.
#[test]
fn shorted_windings_damp() {
    for f_hz in [0.5, 5.0, 50.0_f64] {
        let period_s = (1.0 / (f_hz * 2000.0)).min(0.0002);
        let mut plant = balanced(
            Config {
                heat_jpk: COLD,
                ..quiet(period_s)
            },
            rigid_60(),
        );
        plant.set_temperatures([20.0, 20.0]);
        let (mut current, mut rate) = (Phasor::default(), Phasor::default());
        let settle = (3.0 * f_hz).ceil() as u32;
        ride_sine(
            &mut plant,
            period_s,
            f_hz,
            2.0,
            (settle, 4),
            |_, _| Drive::Braked(0.0),
            |t, _, plant| {
                current.push(f_hz, t, plant.current());
                rate.push(f_hz, t, plant.travel_rate());
            },
        );
        let ours = over(current.value(), rate.value());
        let closed = over((-30.0, 0.0), (0.4, TAU * f_hz * 0.001));
        let error = (ours.0 - closed.0).hypot(ours.1 - closed.1);
        assert!(
            error < 1e-4 * closed.0.hypot(closed.1),
            "{f_hz}: {ours:?} {closed:?}"
        );
        assert!(plant.energy().copper_j > 0.0);
    }
}

/// Energy, three independent books against the plant's own: the bus (what source, chopper and
/// capacitor gave), the moving mass (kinetic, spring, viscous), and the copper (integral of i^2 R).
fn books(drive: impl Fn(f64) -> Drive, floor_moves: bool) -> [f64; 4] {
    let step_s = 0.000_02;
    let config = Config {
        viscous_nspm: 100.0,
        droop: 0.05,
        travel_m: 0.2,
        ..quiet(step_s)
    };
    let mut plant = balanced(config, rigid_60());
    let (mut from_bus, mut motor_work, mut copper) = (0.0, 0.0, 0.0);
    let stored_bus = |u: f64| 0.5 * config.capacitance_f * u * u;
    let bus_power = |u: f64| {
        u * (((config.supply_v - u) / config.source_ohm).max(0.0)
            - ((u - config.chopper_v) / config.chopper_band_v).clamp(0.0, 1.0) * u
                / config.chopper_ohm)
    };
    let start_bus = stored_bus(plant.bus_voltage());
    let floor = |t: f64| {
        if floor_moves {
            3.0 * (TAU * 2.0 * t).sin()
        } else {
            0.0
        }
    };
    let (mut last_rate, mut viscous) = (0.0, 0.0);
    let mut floor_work = 0.0;
    for k in 0..100_000 {
        let t = f64::from(k) * step_s;
        let u = plant.bus_voltage();
        let (i, r) = (plant.current(), plant.resistance());
        plant.step(floor(t), floor(t + step_s), drive(t), 0);
        from_bus += 0.5 * step_s * (bus_power(u) + bus_power(plant.bus_voltage()));
        copper += 0.5 * step_s * r * (i * i + plant.current().powi(2));
        let rate = plant.travel_rate();
        viscous += 0.5 * step_s * config.viscous_nspm * (last_rate * last_rate + rate * rate);
        // Seen from the floor, the inertia force -m a0 acts.
        floor_work -= 0.5 * step_s * 80.0 * (floor(t) * last_rate + floor(t + step_s) * rate);
        last_rate = rate;
    }
    from_bus -= stored_bus(plant.bus_voltage()) - start_bus;
    motor_work += 0.5 * 80.0 * plant.travel_rate().powi(2)
        + 0.5 * config.spring_npm * plant.travel().powi(2)
        + viscous
        - floor_work;
    let e = plant.energy();
    let magnetic = 0.5 * config.inductance_h * plant.current().powi(2);
    let size = e.electrical_j.abs() + e.copper_j + e.mechanical_j.abs();
    [
        (e.electrical_j - e.copper_j - e.mechanical_j - magnetic) / size,
        (e.electrical_j - from_bus) / size,
        (e.mechanical_j - motor_work) / size,
        (e.copper_j - copper) / size,
    ]
}

/// Driven, with the bus sagging and regenerating: all books agree to 1e-4 of what was turned over.
#[test]
fn energy_balance_driven() {
    let errors = books(|t| Drive::Current(40.0 * (TAU * 2.5 * t).sin()), true);
    assert!(errors[0].abs() < 1e-9, "{errors:?}");
    assert!(errors.iter().all(|e| e.abs() < 1e-4), "{errors:?}");
}

/// Shorted: nothing comes from the bus; what the floor puts in becomes copper heat.
#[test]
fn energy_balance_shorted() {
    let errors = books(|_| Drive::Braked(0.0), true);
    assert!(errors.iter().all(|e| e.abs() < 1e-4), "{errors:?}");
}

/// Two nodes at steady current: case = ambient + P R2, winding = case + P R1, with P = i^2 R(T).
#[test]
fn thermal_steady_state() {
    let mut plant = locked(Config {
        heat_jpk: [5.0, 40.0],
        ..quiet(0.001)
    });
    for _ in 0..600_000 {
        plant.step(0.0, 0.0, Drive::Current(10.0), 0);
    }
    // T = 25 + 1.2 * 40 (1 + a (T - 20)), linear in T.
    let a = 0.003_93;
    let power_20c = 100.0 * 0.4;
    let winding = (25.0 + 1.2 * power_20c * (1.0 - 20.0 * a)) / (1.0 - 1.2 * power_20c * a);
    let power = power_20c * (1.0 + a * (winding - 20.0));
    let [ours, case] = plant.temperatures();
    assert!((ours - winding).abs() < 1e-4, "{ours} {winding}");
    assert!((case - (25.0 + 0.8 * power)).abs() < 1e-4, "{case}");
}

/// Cooling: two exponentials, the eigenvalues of the two-node matrix.
#[test]
fn thermal_time_constants() {
    let (c, r) = ([50.0, 400.0], [0.4, 0.8]);
    let mut plant = locked(Config {
        heat_jpk: c,
        ..quiet(0.001)
    });
    plant.set_temperatures([105.0, 45.0]);
    // d/dt (w, k) = -M (w, k), rises over ambient.
    let (a, b) = (1.0 / (r[0] * c[0]), -1.0 / (r[0] * c[0]));
    let (d, e) = (-1.0 / (r[0] * c[1]), (1.0 / r[0] + 1.0 / r[1]) / c[1]);
    let root = ((a - e).powi(2) + 4.0 * b * d).sqrt();
    let lambda = [0.5 * (a + e + root), 0.5 * (a + e - root)];
    let start = [80.0, 20.0];
    // exp(-M t) = sum of exp(-l_i t) (M - l_j) / (l_i - l_j).
    let closed = |t: f64| {
        let part = |i: usize, j: usize| {
            let share = (-lambda[i] * t).exp() / (lambda[i] - lambda[j]);
            [
                share * ((a - lambda[j]) * start[0] + b * start[1]),
                share * (d * start[0] + (e - lambda[j]) * start[1]),
            ]
        };
        let (p, q) = (part(0, 1), part(1, 0));
        [25.0 + p[0] + q[0], 25.0 + p[1] + q[1]]
    };
    for k in 1..=300_000 {
        plant.step(0.0, 0.0, Drive::Open, 0);
        if k % 30_000 == 0 {
            let expected = closed(f64::from(k) * 0.001);
            let ours = plant.temperatures();
            // Explicit steps of 1 ms against a time constant of 17 s: 3e-5 of the rise.
            for (o, e) in ours.iter().zip(expected) {
                assert!((o - e).abs() < 2e-3, "{k}: {ours:?} {expected:?}");
            }
        }
    }
}

/// The winding's heat is the copper loss that the energy book holds, whatever the waveform.
#[test]
fn heat_is_the_copper_loss() {
    let mut plant = locked(Config {
        thermal_kpw: [1.0e9, 1.0e9],
        heat_jpk: [100.0, 100.0],
        substeps: 10,
        ..quiet(0.0001)
    });
    for k in 0..5000 {
        let t = f64::from(k) * 0.001;
        plant.step(0.0, 0.0, Drive::Current(20.0 * (TAU * 180.0 * t).sin()), 0);
    }
    let rise = plant.temperatures()[0] - 20.0;
    let heat = plant.energy().copper_j;
    assert!(
        rise > 0.5 && (100.0 * rise - heat).abs() < 1e-4 * heat,
        "{rise} {heat}"
    );
}

/// The height adjuster moves the preload at its rate and stops at both ends.
#[test]
fn height_adjuster() {
    let config = Config {
        level_rate_nps: 90.0,
        preload_max_n: 1000.0,
        ..quiet(0.001)
    };
    let mut plant = locked(config);
    let start = plant.preload();
    for _ in 0..500 {
        plant.step(0.0, 0.0, Drive::Open, 1);
    }
    assert!((plant.preload() - start - 45.0).abs() < 1e-9);
    for _ in 0..10_000 {
        plant.step(0.0, 0.0, Drive::Open, 1);
    }
    assert!((plant.preload() - 1000.0).abs() < 1e-12);
    for _ in 0..20_000 {
        plant.step(0.0, 0.0, Drive::Open, -1);
    }
    assert!(plant.preload().abs() < 1e-12);
}
