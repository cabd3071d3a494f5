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

/// A seat that moves at mid travel, somebody on it who is being weighed.
const MOVING: Input<f64> = Input {
    force: 0.0,
    seat_accel: 0.0,
    travel: 0.0,
    travel_rate: 0.5,
    level: 0,
    seated: true,
};

/// One on the seat who is weighed, and what is found.
struct Scale {
    config: Config<f64>,
    state: State<f64>,
}

impl Scale {
    /// Somebody has just sat down.
    fn new() -> Self {
        let config = config();
        let mut state = State::new(&config);
        state.begin(&config);
        Self { config, state }
    }

    /// One step with `kg` on the seat, from which the force follows.
    fn step(&mut self, kg: f64, input: &Input<f64>) {
        let accel = GRAVITY + input.seat_accel;
        let force = 1.0e-3 * kg * accel - self.state.preload();
        self.state.step(&self.config, &Input { force, ..*input });
        self.state.look_whether_known(&self.config);
    }

    fn is_known(&self) -> bool {
        self.state.is_known()
    }

    fn kg(&self) -> f64 {
        1000.0 * self.state.mass()
    }

    /// Steps until the mass is known.
    fn steps_to_know(
        &mut self,
        most: usize,
        kg: impl Fn(usize) -> f64,
        input: &Input<f64>,
    ) -> usize {
        let known = (0..most).position(|n| {
            self.step(kg(n), input);
            self.is_known()
        });
        known.map_or(most, |n| n + 1)
    }
}

/// The mass that is found of one on the seat, kg, a minute after sitting down.
fn found_kg(kg: f64, travel: f64) -> f64 {
    let mut scale = Scale::new();
    for _ in 0..30_000 {
        scale.step(kg, &Input { travel, ..MOVING });
        assert!(scale.kg() <= constant::MASS_MOST + 1.0e-4);
    }
    scale.kg()
}

/// Steps in `first_s`.
fn first_steps() -> usize {
    let rig = Rig::default_machine().expect("the default rig");
    let steps = rig.firmware.weigh.first_s / (2.0 * rig.firmware.timing.step_s);
    steps.round() as usize
}

/// A mean: what n readings weigh falls as 1/n, so the mass is known after as many as `first_s` has, and
/// the height adjuster's force begins with what the motor carries.
#[test]
fn the_mass_is_known_after_the_first_readings() {
    for kg in [60.0, 88.0, 125.5] {
        let mut scale = Scale::new();
        assert!(!scale.is_known());
        let steps = scale.steps_to_know(1000, |_| kg, &MOVING);
        // Those far from the mean at the very first count as much as the ones before.
        let first = first_steps();
        assert!(
            (first - 8..first + 40).contains(&steps),
            "{kg} kg: {steps} of {first}"
        );
        assert!(
            (scale.kg() / kg - 1.0).abs() < 0.01,
            "{} of {kg} kg",
            scale.kg()
        );
        let carried = 1000.0 * scale.state.carried(&scale.config);
        let by_hand = scale.kg() * GRAVITY - 1000.0 * scale.state.preload();
        assert!(
            (carried - by_hand).abs() < 1.0e-4,
            "{carried} of {by_hand} N"
        );
    }
}

/// Readings at rest and in a stop do not count, those of a shaken seat by an eighth.
#[test]
fn what_shakes_or_rests_is_weighed_for_longer() {
    let first = first_steps();
    let rig = Rig::default_machine().expect("the default rig");
    let calm = f64::from(rig.firmware.weigh.calm_mps2);
    let travel = 1.001 * constant::WEIGH_TRAVEL;
    let rest = Input {
        travel_rate: 0.0,
        ..MOVING
    };
    let stop = Input { travel, ..MOVING };
    for not_read in [rest, stop] {
        let mut scale = Scale::new();
        assert_eq!(
            scale.steps_to_know(20 * first, |_| 88.0, &not_read),
            20 * first
        );
    }
    let steps = |seat_accel| {
        let input = Input {
            seat_accel,
            ..MOVING
        };
        Scale::new().steps_to_know(20 * first, |_| 88.0, &input)
    };
    let (quiet, shaken) = (steps(0.99 * calm), steps(-1.01 * calm));
    assert!(quiet < 2 * first, "{quiet}");
    assert!((6 * first..9 * first).contains(&shaken), "{shaken}");
}

/// Somebody takes 0.4 s to sit down, as the bench's occupants do: they are not known before they sit.
#[test]
fn one_who_is_still_sitting_down_is_weighed_on() {
    let (dt, takes_s) = (0.002, 0.4);
    for kg in [58.0, 88.0, 125.5] {
        let on_seat = |n: usize| {
            let share = (n as f64 * dt / takes_s).min(1.0);
            // Smoothly, 3 s^2 - 2 s^3.
            28.0 + (kg - 28.0) * share * share * (3.0 - 2.0 * share)
        };
        let mut scale = Scale::new();
        let steps = scale.steps_to_know(2000, on_seat, &MOVING);
        assert!(steps as f64 * dt > 0.9 * takes_s, "{kg} kg: {steps} steps");
        assert!(steps as f64 * dt < 2.0 * takes_s, "{kg} kg: {steps} steps");
        assert!(
            (scale.kg() / kg - 1.0).abs() < 0.03,
            "{} of {kg} kg",
            scale.kg()
        );
    }
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
