//! The observer's bound on biases, at the register's number. Our own rule.

use firmware::estimate::{Config, Input, State};
use host_sim::design;
use host_sim::limits::constant;
use host_sim::rig::Rig;

/// Accelerometers that both show `offset` on a machine at rest, for ten seconds: floor's and seat's bias as estimated at most,
/// and after 30 periods, in which the machine is taken to stand still, m/s2.
fn biases(offset: f64) -> [[f64; 2]; 2] {
    let rig = Rig::default_machine().expect("the default rig");
    let p = design::parameters(&rig).expect("parameters");
    let config: Config<f64> = p.estimate.build(&p.timing).expect("an observer");
    let mut state = State::default();
    let (mut most, mut early) = ([0.0_f64; 2], [0.0; 2]);
    for k in 0..10_000 {
        let out = state.step(&config, &Input::sound(offset, offset, 0.0));
        let now = [out.floor_bias, out.seat_bias];
        for (most, now) in most.iter_mut().zip(now) {
            *most = most.max(now.abs());
        }
        if k == 30 {
            early = now;
        }
    }
    [most, early]
}

/// What is more than the largest bias is not taken for one; what is less is.
// Demonstrates: bias-most
#[test]
fn bias_is_kept_within_its_bound() {
    let bound = constant::BIAS_MOST;
    for side in [1.0, -1.0] {
        // The mean of the 31 readings up to then and of the zero before them.
        let reading = |bias: f64| side * bias * 32.0 / 31.0;
        let [_, within] = biases(reading(0.98 * bound));
        let [most, cut] = biases(reading(1.02 * bound));
        for n in 0..2 {
            assert!(
                (side * within[n] - 0.98 * bound).abs() < 1.0e-3,
                "{within:?}"
            );
            assert!((side * cut[n] - bound).abs() < 1.0e-6, "{cut:?}");
            assert!(most[n] <= bound + 1.0e-6, "{most:?}");
        }
    }
}

/// What three readings of a travel sensor that has jumped have corrected is taken back: then the estimates go on as if the
/// readings had not been believed, but for what the corrections have moved in the three periods.
#[test]
fn what_a_wrong_travel_has_corrected_is_taken_back() {
    let rig = Rig::default_machine().expect("the default rig");
    let p = design::parameters(&rig).expect("parameters");
    let config: Config<f64> = p.estimate.build(&p.timing).expect("an observer");
    let bound = constant::TRAVEL_NOISE;
    // In the start's stages and after them.
    for before in [100, 400, 800, 10_000] {
        let mut state = State::default();
        let read = |k: i32, off: f64, bound: f64| {
            let t = f64::from(k) * 0.001;
            let travel = 0.01 * (t * 9.0).sin();
            Input {
                innovation_max: bound,
                ..Input::sound(0.1, 0.2 - 0.81 * (t * 9.0).sin(), travel + off)
            }
        };
        for k in 0..before {
            state.step(&config, &read(k, 0.0, 1.0));
        }
        let (mut believed, mut deaf) = (state, state);
        for k in before..before + 3 {
            believed.step(&config, &read(k, 0.004, bound));
            deaf.step(&config, &read(k, 0.004, 0.0));
        }
        let mut taken_back = believed;
        taken_back.take_back(&config, bound);
        let next = |state: &State<f64>| {
            let out = state.clone().step(&config, &read(before + 3, 0.004, 0.0));
            [out.travel_rate, out.seat_bias, out.floor_bias]
        };
        let [with, back, without] = [believed, taken_back, deaf].map(|s| next(&s));
        for n in 0..with.len() {
            let (was, is) = ((with[n] - without[n]).abs(), (back[n] - without[n]).abs());
            assert!(was > 0.0 && is <= 0.1 * was, "{before}, {n}: {was} {is}");
        }
        // It is no sign of struck memory.
        assert!(
            taken_back
                .step(&config, &read(before + 3, 0.004, 0.0))
                .sound
        );
    }
}
