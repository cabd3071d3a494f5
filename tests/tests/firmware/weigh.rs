//! Mass and preload at their bounds, and where the balance of forces is read. The balance is F + p = m (g + a), by hand.

use firmware::weigh::{Config, Input, State};
use host_sim::limits::constant;
use host_sim::rig::Rig;

const GRAVITY: f64 = 9.806_65;

fn config() -> Config<f64> {
    let rig = Rig::default_machine().expect("the default rig");
    // As the cycle builds it: the stage takes every other step.
    let built = rig.firmware.weigh.build(2.0 * rig.firmware.timing.step_s);
    built.expect("a configuration")
}

/// A seat that moves at mid travel, driven.
const MOVING: Input<f64> = Input {
    force: 0.0,
    seat_accel: 0.0,
    travel: 0.0,
    travel_rate: 0.5,
    driven: true,
    level: 0,
    seated: true,
};

/// The mass that is found of one on the seat, kg, a minute after sitting down.
fn found_kg(kg: f64, travel: f64) -> f64 {
    let config = config();
    let mut state = State::new(&config);
    state.begin(&config);
    for _ in 0..30_000 {
        let force = 1.0e-3 * kg * GRAVITY - state.preload();
        state.step(
            &config,
            &Input {
                force,
                travel,
                ..MOVING
            },
        );
        assert!(1000.0 * state.mass() <= constant::MASS_MOST + 1.0e-4);
    }
    1000.0 * state.mass()
}

// Demonstrates: mass-most, preload-most
#[test]
fn mass_and_preload_stay_within_their_bounds() {
    let most = constant::MASS_MOST;
    assert!((found_kg(0.99 * most, 0.0) - 0.99 * most).abs() < 0.01);
    for beyond in [1.01, 3.0] {
        assert!((found_kg(beyond * most, 0.0) - most).abs() < 1.0e-4);
    }
    // The adjuster goes up for ever, then down for ever; nobody is seated and nothing can be read at rest.
    let config = config();
    let mut state = State::new(&config);
    for (level, end) in [(1, constant::PRELOAD_MOST), (-1, 0.0)] {
        for _ in 0..20_000 {
            let rest = Input {
                level,
                travel_rate: 0.0,
                seated: false,
                ..MOVING
            };
            state.step(&config, &rest);
            let n = 1000.0 * state.preload();
            assert!(
                (-1.0e-4..=constant::PRELOAD_MOST + 1.0e-4).contains(&n),
                "{n}"
            );
        }
        let n = 1000.0 * state.preload();
        assert!((n - end).abs() < 1.0e-4, "{n} N");
    }
}

// Demonstrates: weigh-travel
#[test]
fn the_balance_is_read_off_the_stops_alone() {
    let rig = Rig::default_machine().expect("the default rig");
    let empty = f64::from(rig.firmware.weigh.empty_mass_kg);
    for side in [1.0, -1.0] {
        let edge = side * constant::WEIGH_TRAVEL;
        assert!((found_kg(90.0, 0.999 * edge) - 90.0).abs() < 0.01);
        assert!((found_kg(90.0, 1.001 * edge) - empty).abs() < 1.0e-4);
    }
}
