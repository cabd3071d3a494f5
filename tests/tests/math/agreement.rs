//! The law in single precision and in fixed point against double precision, over whole rides.

use firmware::{Cycle, DriveFrame, SensorFrame};
use host_sim::design;
use host_sim::floor::FloorSpec;
use host_sim::ride::{self, Arithmetic, RideSpec};
use host_sim::rig::Rig;
use host_sim::summary::Summary;
use shared_math::{Q24, Scalar};
use std::cell::RefCell;
use std::ops::{Add, Mul, Neg, Sub};

const RIDES: [(&str, f64); 3] = [("hauler", 1.0), ("hauler", 2.5), ("edge", 1.0)];

fn spec(name: &str, level: f64, arithmetic: Arithmetic) -> RideSpec {
    let mut spec = RideSpec::on(FloorSpec {
        level,
        seed: 3,
        ..FloorSpec::named(name)
    });
    spec.skip_s = 5.0;
    spec.arithmetic = arithmetic;
    spec
}

fn ride(name: &str, level: f64, arithmetic: Arithmetic) -> (Summary, Vec<SensorFrame>) {
    let rig = Rig::default_machine().expect("the default rig");
    let mut frames = Vec::new();
    let summary = ride::run(&rig, &spec(name, level, arithmetic), |s| {
        frames.push(s.frame);
        true
    })
    .expect("a ride");
    (summary, frames)
}

/// What is compared of a step, in order; see [`NAMES`].
type Look = [f64; 8];

/// Place of the current in a [`Look`].
const CURRENT: usize = 7;

const NAMES: [&str; 8] = [
    "floor velocity, m/s",
    "travel rate, m/s",
    "floor bias, m/s2",
    "seat bias, m/s2",
    "floor ahead, m",
    "wanted, m/s2",
    "permitted, m/s2",
    "current, A",
];

fn answers<S: Scalar>(frames: &[SensorFrame]) -> Vec<(DriveFrame, Look)> {
    let rig = Rig::default_machine().expect("the default rig");
    let mut parameters = design::parameters(&rig).expect("parameters");
    // Open loop the current is another law's and the loads drift apart: that is no fault here.
    parameters.agree.current_a = 127.0;
    parameters.agree.load_n = 1.0e5;
    parameters.agree.load_change_n = 1.0e5;
    // Whether the motor waits in a step is a decision, on which side of a bound a rounded number falls: no doubt here.
    parameters.agree.travel_noise_m = 0.05;
    let mut cycle = Cycle::<S>::new(&parameters).expect("a cycle");
    frames
        .iter()
        .map(|frame| {
            let (drive, inside) = cycle.watch(frame);
            let inside = inside.map(Scalar::to_f64);
            let motion = &inside.motion;
            let look = [
                motion.floor_velocity,
                motion.travel_rate,
                motion.floor_bias,
                motion.seat_bias,
                motion.floor_ahead[firmware::estimate::TIMES / 2 - 1],
                inside.wanted,
                inside.arrest.permitted,
                f64::from(drive.current_command) * 0.005,
            ];
            (drive, look)
        })
        .collect()
}

/// Root mean square of the differences to double precision; that of the current until the first
/// step in which an output bit (the height adjuster's valve) differs.
fn differences<S: Scalar>(frames: &[SensorFrame], what: &str) -> Look {
    let (exact, other) = (answers::<f64>(frames), answers::<S>(frames));
    let modes = exact
        .iter()
        .zip(&other)
        .filter(|(x, y)| x.0.mode != y.0.mode)
        .count();
    assert_eq!(modes, 0, "{what}: modes differ");
    let same = exact
        .iter()
        .zip(&other)
        .take_while(|(x, y)| x.0.outputs == y.0.outputs)
        .count();
    let rms: Look = core::array::from_fn(|i| {
        let count = if i == CURRENT { same } else { exact.len() };
        let sum: f64 = exact[..count]
            .iter()
            .zip(&other)
            .map(|(x, y)| (x.1[i] - y.1[i]).powi(2))
            .sum();
        (sum / count as f64).sqrt()
    });
    println!(
        "{what}: valve the same for {same} steps; {}",
        rms.map(|x| format!("{x:.1e}")).join(" ")
    );
    rms
}

fn within(rms: &Look, most: &[f64], what: &str) {
    for ((ours, limit), name) in rms.iter().zip(most).zip(NAMES) {
        assert!(
            ours <= limit,
            "{what}: {name} differs by {ours:e} r.m.s., not {limit:e}"
        );
    }
}

/// Open loop: the frames of one ride through all three. The estimates forget their errors, so they
/// stay near; single precision has 6e-8 of each value, which the forecast's recursion raises to about
/// 2e-4 of the wanted acceleration. The current is compared while the adjuster's valve agrees (8 to
/// 10 s): after that a load is laid to mass or preload differently, and the disturbance estimate,
/// which integrates what its own commands should have done, drifts open loop. A count is 5 mA; the
/// bound on current is 0.2 % of the 95 A: where the rate is near zero its rounding decides over a
/// part of the cancelled friction, 2.4 A in all. The slow part of the floor velocity, which the observer
/// remembers for 5 s, may differ by 5e-5 m/s, a 300th of the 15 mm/s aimed at.
#[test]
fn single_precision_open_loop() {
    for (name, level) in RIDES {
        let what = format!("f32, {name} {level}");
        let rms = differences::<f32>(&ride(name, level, Arithmetic::F64).1, &what);
        within(
            &rms,
            &[5e-5, 2e-6, 5e-5, 5e-5, 1e-4, 3e-3, 3e-3, 0.2],
            &what,
        );
    }
}

/// Fixed point has 6e-8 absolute: half a step squared (5e-7) is 5 % coarse, and the gains of the
/// biases (1e-8 to 6e-8) are lost or coarse. The current is not compared: open loop it drifts. The
/// floor velocity may differ by 5e-4 m/s, a 30th of the 15 mm/s aimed at. The
/// forecast after the edge is learnt from a silent floor whose squares are a few counts.
#[test]
fn fixed_point_estimates_open_loop() {
    for (name, level) in RIDES {
        let what = format!("fixed, {name} {level}");
        let rms = differences::<Q24>(&ride(name, level, Arithmetic::F64).1, &what);
        within(&rms, &[5e-4, 3e-4, 1e-3, 1e-3, 1.5e-3], &what);
    }
}

/// The same for the accelerations that isolate and arrest ask for. With both constants within range
/// 0.02 m/s2 r.m.s. was measured, of 3.
#[test]
fn fixed_point_accelerations_open_loop() {
    for (name, level) in RIDES {
        let what = format!("fixed, {name} {level}");
        let rms = differences::<Q24>(&ride(name, level, Arithmetic::F64).1, &what);
        within(&rms, &[5e-4, 3e-4, 1e-3, 1e-3, 1.5e-3, 0.05, 0.05], &what);
    }
}

/// Closed loop: rides that differ in the last bit part ways at the first stick-slip or valve decision
/// and agree in their figures only. Measured at worst: f32 0.5 %; fixed 11 % with the saturated
/// constants and 1 % without; bounds of 5 and 12 %. The force that holds a resting seat is free within
/// the breakaway force of +-52 N, which friction may carry instead: where the force is small, 7 N are
/// allowed (edge, level 1: 38.6 and 44.1 N; over other seeds the arithmetics differ by up to 3 N either way).
#[test]
fn closed_loop_figures() {
    for (name, level) in RIDES {
        let exact = ride(name, level, Arithmetic::F64).0;
        for (arithmetic, most) in [(Arithmetic::F32, 0.05), (Arithmetic::Fixed, 0.12)] {
            let other = ride(name, level, arithmetic).0;
            let pairs = [
                ("SEAT value", exact.seat_value, other.seat_value),
                (
                    "seat VDV",
                    Some(exact.seat.vdv_mps175),
                    Some(other.seat.vdv_mps175),
                ),
                ("travel", Some(exact.travel.rms_m), Some(other.travel.rms_m)),
                (
                    "force",
                    Some(exact.actuator.force_rms_n),
                    Some(other.actuator.force_rms_n),
                ),
            ];
            for (what, a, b) in pairs {
                let (a, b) = (a.expect("a figure"), b.expect("a figure"));
                println!("{name} {level} {}: {what} {a:.5} {b:.5}", other.arithmetic);
                let held = if what == "force" { 7.0 } else { 0.0 };
                assert!(
                    (b - a).abs() < (most * a).max(held),
                    "{name} {level} {arithmetic:?}: {what} {a} {b}"
                );
            }
            assert_eq!(exact.travel.stop_contacts, other.travel.stop_contacts);
        }
    }
}

thread_local! {
    static CONSTANTS: RefCell<Vec<f32>> = const { RefCell::new(Vec::new()) };
}

/// A number that keeps a list of every constant that a configuration makes.
#[derive(Clone, Copy, Debug)]
struct Watched(f64);

impl Add for Watched {
    type Output = Self;
    fn add(self, b: Self) -> Self {
        Self(self.0 + b.0)
    }
}
impl Sub for Watched {
    type Output = Self;
    fn sub(self, b: Self) -> Self {
        Self(self.0 - b.0)
    }
}
impl Mul for Watched {
    type Output = Self;
    fn mul(self, b: Self) -> Self {
        Self(self.0 * b.0)
    }
}
impl Neg for Watched {
    type Output = Self;
    fn neg(self) -> Self {
        Self(-self.0)
    }
}
impl Scalar for Watched {
    const ZERO: Self = Self(0.0);
    const ONE: Self = Self(1.0);
    fn from_f32(x: f32) -> Self {
        CONSTANTS.with_borrow_mut(|all| all.push(x));
        Self(f64::from(x))
    }
    fn to_f64(self) -> f64 {
        self.0
    }
    fn from_q24(bits: i32) -> Self {
        Self(<f64 as Scalar>::from_q24(bits))
    }
    fn to_q24(self) -> i32 {
        self.0.to_q24()
    }
    fn select_ge(a: Self, b: Self, x: Self, y: Self) -> Self {
        if a.0 >= b.0 { x } else { y }
    }
    fn sqrt(self) -> Self {
        Self(Scalar::sqrt(self.0))
    }
    fn div(self, d: Self) -> Self {
        Self(self.0 / d.0)
    }
    fn is_finite(self) -> bool {
        self.0.is_finite()
    }
    fn is_within(self, most: f32) -> bool {
        self.0.is_within(most)
    }
}

/// Every constant of the default rig's law; those beyond what fixed point holds.
fn saturated_constants() -> Vec<f32> {
    let rig = Rig::default_machine().expect("the default rig");
    let parameters = design::parameters(&rig).expect("parameters");
    CONSTANTS.take();
    Cycle::<Watched>::new(&parameters).expect("a cycle");
    let mut all = CONSTANTS.take();
    assert!(all.len() > 100, "{}", all.len());
    all.retain(|x| x.abs() >= 128.0);
    all
}

/// No constant of the default rig's law lies outside +-128.
#[test]
fn constants_fit_fixed_point() {
    let saturated = saturated_constants();
    assert!(saturated.is_empty(), "{saturated:?}");
}
