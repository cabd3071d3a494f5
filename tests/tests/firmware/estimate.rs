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
