//! The certificate of the travel: it holds for the default rig, is refused for broken machines and a broken
//! law, and what it says is true of single steps and of rides. The set is held against the closed
//! form of the largest set that any law can keep under a bounded floor, x + v^2 / (2 (U - D)) <= L
//! (textbook: braking distance v^2 / 2a).

use firmware::arrest::{Ahead, Config};
use host_sim::floor::FloorSpec;
use host_sim::limits::constant;
use host_sim::proof::answers::{Answers, answers};
use host_sim::proof::certificate::{Certificate, CertifyError, Laws, Progress, certify, prove};
use host_sim::proof::claim::Claim;
use host_sim::proof::interval::{Exact, Fixed, Interval, Single};
use host_sim::proof::law::Law;
use host_sim::proof::set::ProvenSet;
use host_sim::proof::slope::Slope;
use host_sim::ride::{self, RideSpec};
use host_sim::rig::Rig;
use shared_math::Scalar;
use std::sync::atomic::{AtomicU32, Ordering};
use std::sync::{Mutex, OnceLock};

fn rig() -> Rig {
    Rig::default_machine().expect("the default rig")
}

fn certificate(rig: &Rig) -> Certificate {
    let progress = Mutex::new(Progress::default());
    certify(rig, &progress, |_, _| (), || true).expect("a certificate")
}

/// The default rig's, worked out once.
fn default_certificate() -> &'static Certificate {
    static ONCE: OnceLock<Certificate> = OnceLock::new();
    ONCE.get_or_init(|| certificate(&rig()))
}

/// The targets: floors up to 15 m/s2, 40 to 130 kg, touch speed at most 0.10 m/s.
// Demonstrates: stop-touch-speed, proved-occupant-least, proved-occupant-most
#[test]
fn the_default_rig_is_certified() {
    let c = default_certificate();
    println!(
        "touch {:.4} m/s, {} boxes, {:.1} s, tightest {:?}",
        c.touch_speed_bound_mps, c.boxes, c.seconds, c.smallest_margin
    );
    assert!(c.holds, "{:?}", c.refusal);
    assert!(c.floor_acceleration_bound_mps2 >= 15.0 && c.touch_speed_bound_mps <= 0.10);
    assert!(
        c.mass_min_kg <= constant::PROVED_OCCUPANT_LEAST
            && c.mass_max_kg >= constant::PROVED_OCCUPANT_MOST
    );
    assert!(c.counter_example.is_none() && c.refusal.is_none());
    let names: Vec<_> = c.arithmetics.iter().map(|a| a.name).collect();
    assert_eq!(names, ["exact", "f32", "fixed"]);
    for part in &c.arithmetics {
        assert!(part.smallest_margin.margin_mps2 > 0.0 && part.boxes > 10_000);
        assert!(part.answers.hold);
    }
}

/// No law can keep more than the closed form allows: inside it, the profile's own end apart.
#[test]
fn the_set_is_inside_the_largest_possible() {
    let rig = rig();
    let claim = Claim::of(&rig);
    let set = &default_certificate().set;
    let spare = claim.clamp_mps2 - claim.floor_accel_mps2;
    for n in 0..=900 {
        let x = -0.045 + 0.0001 * f64::from(n);
        let closed = (claim.touch_mps.powi(2) + 2.0 * spare * (claim.travel_m - x)).sqrt();
        assert!(set.rate(x) < closed, "{x}: {} {closed}", set.rate(x));
        // And it is no toy: more than half of it.
        if x < 0.04 {
            assert!(set.rate(x) > 0.5 * closed, "{x}: {} {closed}", set.rate(x));
        }
    }
}

/// What is done to a sound rig.
type Break = fn(&mut Rig);

/// Weaker brakes, half the force, a delay that nobody told, a motor that acts the wrong way.
#[test]
fn broken_machines_are_refused() {
    let broken: [(&str, Break); 6] = [
        ("clamp 30 % lower", |r| {
            r.firmware.arrest.accel_max_mps2 *= 0.7
        }),
        ("force 30 % weaker", |r| r.actuator.current_max_a *= 0.7),
        ("half the force", |r| r.actuator.current_max_a *= 0.5),
        ("transport twice as late", |r| r.timing.transport_steps *= 2),
        ("all of the delay doubled", |r| r.timing.transport_steps = 4),
        ("motor the wrong way", |r| {
            r.actuator.force_constant_npa = -r.actuator.force_constant_npa;
        }),
    ];
    for (name, breaks) in broken {
        let mut rig = rig();
        breaks(&mut rig);
        let c = certificate(&rig);
        println!(
            "{name}: touch {:.3}, {:?}",
            c.touch_speed_bound_mps, c.refusal
        );
        assert!(!c.holds, "{name}");
        assert!(c.refusal.is_some(), "{name}");
    }
}

/// Claims that the law cannot keep: an occupant who is half as heavy again; a nearness that is less than a seat can gain in a
/// period, by hand T (clamp + floor + fading of what went astray) = 0.001 (25 + 15 + 60 0.1) = 0.046 m/s at the least.
// Demonstrates: proved-occupant-most, end-near
#[test]
fn what_is_too_much_is_refused() {
    let mut heavy = rig();
    heavy.proof.occupant_max_kg = 1.5 * constant::PROVED_OCCUPANT_MOST;
    let c = certificate(&heavy);
    assert!(!c.holds && c.refusal.is_some(), "{:?}", c.refusal);
    let mut near = rig();
    assert_eq!(near.proof.near_mps, constant::END_NEAR);
    near.proof.near_mps = 0.5 * constant::END_NEAR;
    let c = certificate(&near);
    println!("{:?}", c.refusal);
    assert!(!c.holds && c.refusal.is_some());
}

/// A law with one sign turned: the term that follows the profile down, or the floor.
#[derive(Clone, Copy)]
struct Turned<S> {
    own: Config<S>,
    floor: bool,
}

impl<S: Scalar + Sync> Law<S> for Turned<S> {
    fn limits(&self, ahead: &Ahead<S>) -> (S, S) {
        if self.floor {
            return self.own.limits(&Ahead {
                floor_accel: -ahead.floor_accel,
                ..*ahead
            });
        }
        self.own.limits(&Ahead {
            travel_rate: -ahead.travel_rate,
            ..*ahead
        })
    }

    fn profile_braking(&self) -> f64 {
        self.own.braking().to_f64()
    }
}

#[test]
fn a_turned_sign_in_the_law_is_refused() {
    let rig = rig();
    let (arrest, timing) = (&rig.firmware.arrest, &rig.firmware.timing);
    fn turned<S: Scalar>(own: Config<S>, floor: bool) -> Turned<S> {
        Turned { own, floor }
    }
    let sound = [Answers {
        hold: true,
        accel_mps2: 0.0,
        current_a: 0.0,
    }; 3];
    for floor in [false, true] {
        let laws = Laws {
            plain: turned(arrest.build::<f64>(timing).expect("a law"), floor),
            exact: turned(
                arrest.build::<Interval<Exact>>(timing).expect("a law"),
                floor,
            ),
            single: turned(
                arrest.build::<Interval<Single>>(timing).expect("a law"),
                floor,
            ),
            fixed: turned(
                arrest.build::<Interval<Fixed>>(timing).expect("a law"),
                floor,
            ),
            slope: turned(arrest.build::<Slope>(timing).expect("a law"), floor),
        };
        let c = prove(
            &Claim::of(&rig),
            &laws,
            sound,
            Certificate::stamp(&rig).expect("a stamp"),
            &Mutex::new(Progress::default()),
            |_, _| (),
            || true,
        )
        .expect("a certificate");
        println!("floor {floor}: {:?}", c.refusal);
        assert!(!c.holds);
    }
}

/// What the boxes say is true of single states: the very code in f32, from two million random states of the set
/// under random errors within the assumptions, chosen with weight on the worst.
#[test]
fn random_states_stay_in_the_set() {
    let rig = rig();
    let claim = Claim::of(&rig);
    let law = rig
        .firmware
        .arrest
        .build::<f32>(&rig.firmware.timing)
        .expect("a law");
    let set = &default_certificate().set;
    // xorshift64*, uniform in [0, 1).
    let mut seed = 7_u64;
    let mut even = || {
        seed ^= seed >> 12;
        seed ^= seed << 25;
        seed ^= seed >> 27;
        (seed.wrapping_mul(0x2545_F491_4F6C_DD1D) >> 11) as f64 / (1_u64 << 53) as f64
    };
    let (mut least, mut near) = (f64::INFINITY, 0);
    for _ in 0..2_000_000 {
        let travel = claim.travel_m * (2.0 * even() - 1.0);
        let below: f64 = claim.near_mps * even() * even() * even();
        let rate = set.rate(travel) - below;
        // Often at an end of what is assumed.
        let mut pick = |low: f64, high: f64| {
            let x: f64 = 1.4 * even() - 0.2;
            let x = x.clamp(0.0, 1.0);
            low + (high - low) * x
        };
        let astray = pick(-claim.astray_away_mps, claim.astray_mps);
        let floor = pick(-claim.floor_accel_mps2, claim.floor_accel_mps2);
        let ahead = Ahead {
            travel: (travel + pick(-claim.foresight_travel_m, 3.0 * claim.foresight_travel_m))
                as f32,
            travel_rate: (rate + astray) as f32,
            floor_accel: floor as f32,
        };
        let permitted = f64::from(law.limits(&ahead).1);
        let next = rate + claim.step_s * (permitted - floor + claim.fade_ps * astray);
        let true_rate =
            rate + astray + pick(-claim.foresight_rate_away_mps, claim.foresight_rate_mps);
        let on = travel
            + claim.step_s
                * (true_rate
                    + 0.5 * (next - rate + pick(-claim.astray_step_mps, claim.astray_step_mps)))
                .max(-2.0);
        least = least.min(set.rate(on) - next);
        near += u32::from(below < 0.002);
    }
    println!(
        "least margin {:.3} m/s2 over a step, {near} near the edge",
        least / claim.step_s
    );
    assert!(near > 100_000);
    assert!(least > 0.0, "{least}");
}

/// Rides on floors within the bound: the assumptions hold, the seat stays in the set.
// Demonstrates: set-margin
#[test]
fn rides_stay_in_the_set() {
    let rig = rig();
    let bound = default_certificate().touch_speed_bound_mps;
    for (floor, level) in [
        ("hauler", 1.0),
        ("loader", 1.5),
        ("grader", 1.5),
        ("compact", 1.5),
    ] {
        for occupant_kg in [40.0, 130.0] {
            let spec = RideSpec {
                occupant_kg,
                seconds: 30.0,
                ..RideSpec::on(FloorSpec {
                    level,
                    ..FloorSpec::named(floor)
                })
            };
            let summary = ride::run(&rig, &spec, |_| true).expect("a ride");
            let a = &summary.assumptions;
            assert!(
                a.floor_acceleration_mps2.holds(),
                "{floor}: not a floor of the claim"
            );
            assert!(a.held, "{floor} {occupant_kg}: {a:?}");
            assert!(
                a.set_margin_mps.expect("it isolated") > 0.0,
                "{floor}: {a:?}"
            );
            assert!(summary.travel.contact_speed_max_mps <= bound);
        }
    }
}

/// An interrupted proof goes on, and comes to the same.
#[test]
fn a_proof_can_be_resumed() {
    let rig = rig();
    let progress = Mutex::new(Progress::default());
    let left = AtomicU32::new(100);
    let go_on = || {
        left.fetch_update(Ordering::Relaxed, Ordering::Relaxed, |n| n.checked_sub(1))
            .is_ok()
    };
    let stopped = certify(&rig, &progress, |_, _| (), go_on);
    assert!(matches!(stopped, Err(CertifyError::Interrupted)));
    let done = progress.lock().expect("progress").pieces.len();
    assert!((10..=100).contains(&done), "{done}");
    // Through a file, as the command keeps it.
    let text = serde_json::to_string(&*progress.lock().expect("progress")).expect("JSON");
    let again: Progress = serde_json::from_str(&text).expect("the same");
    let resumed = certify(&rig, &Mutex::new(again), |_, _| (), || true).expect("a certificate");
    let whole = default_certificate();
    assert!(resumed.holds && resumed.boxes == whole.boxes && resumed.set == whole.set);
}

/// Whatever comes in: also from the firmware's own code with numbers that are none.
// Demonstrates: peak-current, clamp-accel
#[test]
fn answers_are_within_limits() {
    let rig = rig();
    for a in [
        answers::<Exact>(&rig).expect("answers"),
        answers::<Single>(&rig).expect("answers"),
        answers::<Fixed>(&rig).expect("answers"),
    ] {
        assert!(
            a.hold
                && a.current_a <= 95.001
                && a.accel_mps2 <= f64::from(rig.firmware.arrest.accel_max_mps2) + 0.001,
            "{a:?}"
        );
    }
    let limit = rig
        .firmware
        .limit
        .build::<f32>(&rig.firmware.timing)
        .expect("a limit");
    let odd = [
        f32::NAN,
        f32::INFINITY,
        f32::NEG_INFINITY,
        f32::MAX,
        f32::MIN,
        0.0,
        -0.0,
        1.0e-40,
        1.0,
        -50.0,
        3.0e8,
    ];
    for asked in odd.into_iter().filter(|x| x.is_finite()) {
        for last in [-95.0_f32, 0.0, 95.0] {
            for rate in odd {
                for supply in odd {
                    for temperature in odd {
                        let coil = limit.coil(temperature);
                        let current =
                            limit.permitted_current(asked, last, limit.slew(), rate, supply, &coil);
                        assert!(
                            current.is_finite() && current.abs() <= 95.0,
                            "{asked} {last} {rate} {supply} {temperature}: {current}"
                        );
                    }
                }
            }
        }
    }
}

/// The set is drawn the same by everybody: the certificate's is that of the first slack.
#[test]
fn the_watched_set_is_the_proven_one() {
    let rig = rig();
    let law = rig
        .firmware
        .arrest
        .build::<f64>(&rig.firmware.timing)
        .expect("a law");
    let drawn = ProvenSet::design(&law, &Claim::of(&rig), host_sim::proof::watch::SLACK_MPS2);
    assert_eq!(default_certificate().set, drawn);
}
