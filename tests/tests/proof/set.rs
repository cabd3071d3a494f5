//! The set of travel and rate against brute force, the path it is drawn along against its closed form, and what a
//! machine can do against numbers worked by hand.

use becalm_tests::proof::Numbers;
use firmware::arrest::{Ahead, Config};
use host_sim::proof::claim::{Authority, Claim};
use host_sim::proof::law::Law;
use host_sim::proof::set::ProvenSet;
use host_sim::rig::Rig;

fn rig() -> Rig {
    Rig::default_machine().expect("the default rig")
}

fn law() -> Config<f64> {
    let rig = rig();
    rig.firmware
        .arrest
        .build(&rig.firmware.timing)
        .expect("parameters")
}

/// The set of the default rig, with the slack that a proof takes.
fn set_of_default() -> ProvenSet {
    ProvenSet::design(&law(), &Claim::of(&rig()), 0.3)
}

/// A random set: stretches on which the rate stays, falls a little, and falls hard.
fn random_set(n: &mut Numbers) -> ProvenSet {
    let cells = 1 + n.below(40);
    let travel_m = n.between(0.01, 0.1);
    let mut rate = n.between(0.1, 3.0);
    let mut rate_mps = vec![rate];
    for _ in 0..cells {
        rate -= match n.below(3) {
            0 => 0.0,
            1 => n.between(0.0, 0.01),
            _ => n.between(0.0, 0.3),
        };
        rate_mps.push(rate);
    }
    ProvenSet {
        travel_m,
        cell_m: 2.0 * travel_m / cells as f64,
        rate_mps,
    }
}

/// The edge by going through the cells one after the other.
fn edge(set: &ProvenSet, travel: f64) -> f64 {
    let at = |n: usize| -set.travel_m + set.cell_m * n as f64;
    let last = set.rate_mps.len() - 1;
    let cell = (0..last).find(|n| travel <= at(n + 1));
    match cell {
        _ if travel <= at(0) => set.rate_mps[0],
        None => set.rate_mps[last],
        Some(n) => {
            let share = (travel - at(n)) / set.cell_m;
            (1.0 - share) * set.rate_mps[n] + share * set.rate_mps[n + 1]
        }
    }
}

/// Two travels, the first the smaller, inside and outside the stops, sometimes on breaks.
fn stretch(n: &mut Numbers, set: &ProvenSet) -> [f64; 2] {
    let most = 1.3 * set.travel_m;
    let mut x: [f64; 2] = std::array::from_fn(|_| match n.below(4) {
        0 => set.cell_m * n.below(set.rate_mps.len()) as f64 - set.travel_m,
        _ => n.between(-most, most),
    });
    match n.below(5) {
        0 => x[1] = x[0],
        1 => x[1] = x[0] + set.cell_m * n.between(0.0, 0.5),
        _ => x.sort_by(f64::total_cmp),
    }
    x
}

/// Rounding of differences of rates below 4 m/s whose slopes are below 1e4 1/s.
const ROUNDED: f64 = 1.0e-12;

#[test]
fn rate_is_linear_between() {
    let mut n = Numbers(0x1234_5678_9ABC_DEF1);
    for _ in 0..200 {
        let set = random_set(&mut n);
        let top = set.travel_m;
        for _ in 0..50 {
            let [x, _] = stretch(&mut n, &set);
            assert!(
                (set.rate(x) - edge(&set, x)).abs() < ROUNDED,
                "{x} in {set:?}"
            );
        }
        for (k, rate) in set.rate_mps.iter().enumerate() {
            assert!((set.rate(set.cell_m * k as f64 - top) - rate).abs() < ROUNDED);
        }
        let last = set.rate_mps[set.rate_mps.len() - 1];
        assert_eq!(
            (set.rate(-2.0 * top), set.rate(2.0 * top)),
            (set.rate_mps[0], last)
        );
    }
}

/// `fall` is never above what any travel of the stretch sees, and one of them sees it.
fn fall_is_least(n: &mut Numbers, set: &ProvenSet, on: f64) {
    let [from, to] = stretch(n, set);
    let fall = set.fall(from, to, on);
    let change = |x: f64| edge(set, x + on) - edge(set, x);
    // Evenly, and at all breaks of either line.
    let even = (0..=100).map(|k| from + (to - from) * f64::from(k) / 100.0);
    let breaks = (0..set.rate_mps.len())
        .map(|k| set.cell_m * k as f64 - set.travel_m)
        .flat_map(|x| [x, x - on])
        .filter(|x| (from..=to).contains(x));
    let least = even.chain(breaks).map(change).fold(f64::INFINITY, f64::min);
    assert!(
        fall <= least + ROUNDED,
        "{fall}, {least}: {from} to {to}, {on} on"
    );
    assert!(
        fall >= least - 1.0e-9,
        "{fall}, {least}: {from} to {to}, {on} on"
    );
    assert!(fall <= 0.0);
}

#[test]
fn fall_equals_brute_force() {
    let mut n = Numbers(0x2234_5678_9ABC_DEF1);
    for _ in 0..1_000 {
        let set = random_set(&mut n);
        for _ in 0..10 {
            let on = match n.below(4) {
                0 => 0.0,
                1 => set.cell_m * n.below(3) as f64,
                _ => set.cell_m * n.between(0.0, 5.0),
            };
            fall_is_least(&mut n, &set, on);
        }
    }
}

#[test]
fn fall_of_default_equals_brute_force() {
    let mut n = Numbers(0x3234_5678_9ABC_DEF1);
    let set = set_of_default();
    for _ in 0..300 {
        // What a seat goes in one step, and more.
        let on = n.between(0.0, 0.002);
        fall_is_least(&mut n, &set, on);
    }
}

/// `steepest` is no gentler than any cell of the stretch, and no steeper than the steepest within two cells of it.
fn steepest_is_steepest(n: &mut Numbers, set: &ProvenSet) {
    let [from, to] = stretch(n, set);
    let steepest = set.steepest(from, to);
    let at = |n: usize| -set.travel_m + set.cell_m * n as f64;
    let over = |more: f64| {
        let slopes = set.rate_mps.windows(2).enumerate();
        slopes
            .filter(|(n, _)| at(n + 1) > from - more && at(*n) < to + more)
            .map(|(_, w)| (w[1] - w[0]) / set.cell_m)
            .fold(0.0, f64::min)
    };
    let (inside, around) = (over(0.0), over(2.1 * set.cell_m));
    assert!(
        steepest <= inside * (1.0 - 1.0e-12),
        "{steepest}, {inside}: {from} to {to}"
    );
    assert!(
        steepest >= around * (1.0 + 1.0e-12),
        "{steepest}, {around}: {from} to {to}"
    );
    assert!(steepest <= 0.0);
}

#[test]
fn steepest_equals_brute_force() {
    let mut n = Numbers(0x4234_5678_9ABC_DEF1);
    for _ in 0..1_000 {
        let set = random_set(&mut n);
        for _ in 0..10 {
            steepest_is_steepest(&mut n, &set);
        }
    }
    let set = set_of_default();
    for _ in 0..300 {
        steepest_is_steepest(&mut n, &set);
    }
}

/// Inside where the rate is below the edge toward the upper end and above the mirrored one toward the lower.
#[test]
fn margin_is_distance_to_nearer_edge() {
    let set = ProvenSet {
        travel_m: 0.04,
        cell_m: 0.04,
        rate_mps: vec![1.0, 0.8, 0.1],
    };
    for (travel, rate, margin) in [
        (0.0, 0.0, 0.8),
        (0.0, 0.5, 0.3),
        (0.0, -0.5, 0.3),
        (0.0, 0.9, -0.1),
        (0.02, 0.0, 0.45),
        (0.02, 0.4, 0.05),
        (0.02, -0.4, 0.5),
        (-0.02, 0.4, 0.5),
        (-0.02, -0.5, -0.05),
        (0.04, 0.2, -0.1),
        (-0.04, -0.2, -0.1),
        (0.05, -1.5, -0.5),
    ] {
        let got = set.margin(travel, rate);
        assert!(
            (got - margin).abs() < ROUNDED,
            "{travel}, {rate}: {got}, not {margin}"
        );
    }
    let mut n = Numbers(0x5234_5678_9ABC_DEF1);
    for _ in 0..2_000 {
        let set = random_set(&mut n);
        let ([travel, _], rate) = (stretch(&mut n, &set), n.between(-3.0, 3.0));
        let inside = rate < edge(&set, travel) && -rate < edge(&set, -travel);
        let margin = set.margin(travel, rate);
        assert!(
            margin.abs() < ROUNDED || (margin > 0.0) == inside,
            "{travel}, {rate}: {margin}"
        );
        // Turned over it is the same.
        assert_eq!(margin, set.margin(-travel, -rate));
    }
}

/// The default rig's set: it spans the travel and falls all the way; a seat that brakes less keeps more rate.
#[test]
fn set_of_default_falls() {
    let (set, travel) = (set_of_default(), rig().seat.travel_m);
    assert_eq!(set.travel_m, travel);
    assert!(((set.rate_mps.len() - 1) as f64 * set.cell_m - 2.0 * travel).abs() < 1.0e-12);
    assert!(set.rate_mps.windows(2).all(|w| w[1] <= w[0] && w[1] > 0.0));
    let without = ProvenSet::design(&law(), &Claim::of(&rig()), 0.0);
    let pairs = || without.rate_mps.iter().zip(&set.rate_mps);
    assert!(pairs().all(|(none, some)| some >= none));
    assert!(pairs().any(|(none, some)| *some > none + 0.001));
}

/// Brakes with one and the same deceleration below a speed, and twice as hard above it.
struct Even {
    braking: f64,
    speed: f64,
}

impl Law<f64> for Even {
    fn limits(&self, ahead: &Ahead<f64>) -> (f64, f64) {
        let braking = if ahead.travel_rate < self.speed {
            self.braking
        } else {
            2.0 * self.braking
        };
        (ahead.floor_accel + braking, ahead.floor_accel - braking)
    }
    fn profile_braking(&self) -> f64 {
        1.5 * self.braking
    }
}

/// With nothing that goes wrong the path is that of a body that is braked evenly: v^2 falls by 2 A x.
#[test]
fn path_of_even_braking() {
    let (braking, speed) = (5.0, 1.2);
    let claim = Claim {
        astray_mps: 0.0,
        astray_away_mps: 0.0,
        astray_step_mps: 0.0,
        foresight_rate_mps: 0.0,
        foresight_rate_away_mps: 0.0,
        foresight_travel_m: 0.0,
        delay_untold_s: 0.0,
        floor_accel_mps2: 10.0,
        travel_m: 0.045,
        authority: Authority {
            motor_n: 1.0e6,
            ..weakest()
        },
        ..Claim::of(&rig())
    };
    let set = ProvenSet::design(&Even { braking, speed }, &claim, 0.0);
    assert!((set.rate_mps[0] - (speed + 1.0e-3)).abs() < 1.0e-9);
    let square = |n: usize| set.rate_mps[n] * set.rate_mps[n];
    let (first, last) = (10, set.rate_mps.len() - 1);
    for n in first..=last {
        let expected = square(first) - 2.0 * braking * set.cell_m * (n - first) as f64;
        // Steps of h = 25 um along straight lines: v^2 gains (A h / v)^2 in each of the 3600, v being above 0.7.
        let most = 2.0 * (n - first) as f64 * (braking * 0.5 * set.cell_m / 0.7).powi(2);
        let error = square(n) - expected;
        assert!(
            error >= -1.0e-12 && error <= most + 1.0e-12,
            "cell {n}: {error}, {most}"
        );
    }
    assert!(set.rate_mps[last] > 0.7);

    // A machine that has 3 m/s2 less than the floor needs cannot brake as hard as that.
    let weak = Claim {
        authority: Authority {
            motor_n: 1_300.0,
            droop: 0.0,
            static_n: 0.0,
            spring_npm: 0.0,
            viscous_nspm: 0.0,
            coulomb_n: 0.0,
            mass_kg: 100.0,
        },
        ..claim
    };
    let set = ProvenSet::design(&Even { braking, speed }, &weak, 0.0);
    // 13 m/s2 less the floor's 10.
    let square = |n: usize| set.rate_mps[n] * set.rate_mps[n];
    let got = square(first) - square(last);
    let expected = 2.0 * 3.0 * set.cell_m * (last - first) as f64;
    assert!((got - expected).abs() < 1.0e-4, "{got}, {expected}");
}

/// An invented machine with round numbers.
const fn weakest() -> Authority {
    Authority {
        motor_n: 1_000.0,
        droop: 0.2,
        static_n: 100.0,
        spring_npm: 5_000.0,
        viscous_nspm: 50.0,
        coulomb_n: 20.0,
        mass_kg: 100.0,
    }
}

/// Worked by hand: (motor - static + spring + friction) / mass.
#[test]
fn braking_by_hand() {
    for (travel, rate, expected) in [
        // 1000 - 100, nothing else.
        (0.0, 0.0, 9.0),
        // 1000 - 100 + 20 + 50 * 0.4.
        (0.0, 0.4, 9.4),
        // Moving away: friction does not brake it.
        (0.0, -0.4, 9.0),
        // 1000 (1 - 0.2 / 4) - 100 + 5000 * 0.03 + 20 + 50 * 0.4.
        (0.03, 0.4, 10.4),
        // 1000 * 0.8 - 100 + 300.
        (0.06, 0.0, 10.0),
        // 1000 * 0.8 - 100 - 300: before mid travel the spring pushes on.
        (-0.06, 0.0, 4.0),
        // 1000 * 0.95 - 100 - 150 + 20 + 50.
        (-0.03, 1.0, 7.7),
    ] {
        let got = weakest().braking_mps2(travel, rate, 0.06);
        assert!(
            (got - expected).abs() < 1.0e-12,
            "{travel}, {rate}: {got}, not {expected}"
        );
    }
    // A machine that pushes the wrong way.
    let wrong = Authority {
        motor_n: -50.0,
        ..weakest()
    };
    assert!((wrong.braking_mps2(0.0, 0.0, 0.06) + 1.5).abs() < 1.0e-12);
}

/// The sums of the claim, by hand.
#[test]
fn untold_delay_by_hand() {
    let claim = Claim {
        clamp_mps2: 24.0,
        delay_untold_s: 0.000_5,
        astray_mps: 0.1,
        astray_away_mps: 0.2,
        ..Claim::of(&rig())
    };
    let near = |a: f64, b: f64| assert!((a - b).abs() < 1.0e-12, "{a}, not {b}");
    near(claim.untold_mps(), 0.024);
    near(claim.astray_near_mps(), 0.124);
    near(claim.astray_far_mps(), 0.224);
}
