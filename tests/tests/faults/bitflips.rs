//! A sample of the bits of the law's memory, turned over in a rough ride. Our own rule.

use host_sim::bitflips::{self, Bench, BitflipError, Ending, Setting};
use host_sim::fault::memory;
use host_sim::limits::constant;
use host_sim::parallel;
use host_sim::rig::Rig;

fn rig() -> Rig {
    Rig::default_machine().expect("the default rig")
}

/// The bit of a word by its path.
fn bit(path: &str, bit: u64) -> u64 {
    let places = memory::places::<f32>();
    let n = places.iter().position(|p| p.path == path);
    n.expect("a place") as u64 * 32 + bit
}

/// Struck where the seat might be driven against a fault, or a constant from which the law learns: the safe state.
/// Another constant: put right. A record: harmless.
#[test]
fn known_strikes_end_as_they_must() {
    let rig = rig();
    let bench = Bench::new(&rig, Setting::rough(2)).expect("a bench");
    for moment in 0..bench.moments() {
        let ends = |path, n| bench.strike(moment, bit(path, n)).ending;
        for n in 0..32 {
            assert_eq!(ends("supervise.standing.0", n), Ending::SafeState, "{n}");
            assert_eq!(ends("latch.0.0", n), Ending::SafeState, "{n}");
            assert_eq!(ends("events.ring.15.step", n), Ending::Harmless, "{n}");
        }
        assert_eq!(ends("config.isolate.centre", 3), Ending::SafeState);
        assert_eq!(ends("config.arrest.approach", 3), Ending::Healed);
    }
}

/// Counts add up, do not depend on the threads, and most strikes end well.
// Judges: bitflips-broken
#[test]
fn a_sample_of_all_bits() {
    let rig = rig();
    let bench = Bench::new(&rig, Setting::rough(1)).expect("a bench");
    let sample =
        |threads| bitflips::run(&bench, "", 31, threads, || false, |_| ()).expect("a report");
    let report = sample(parallel::processors());
    assert_eq!(report, sample(1));
    let ends = report.healed + report.safe_state + report.undetected_harmless + report.broken;
    assert_eq!(report.flips, ends);
    assert!(report.flips > 700, "{}", report.flips);
    assert_eq!(report.broken, 0);
}

/// Numbers that become so large that they would spoil what is kept, for good or for seconds: a look at every other step, or
/// at the constants, ends that before a limit is broken.
#[test]
fn what_would_spoil_the_ride_is_ended_in_time() {
    let rig = rig();
    let bench = Bench::new(&rig, Setting::rough(3)).expect("a bench");
    let struck = [
        ("limit.reference", 30),
        ("limit.delay.past.1", 30),
        ("limit.load.sprung", 30),
        ("weigh.gain", 30),
        ("estimate.forecast.even.sums.17", 24),
        ("estimate.forecast.even.sums.21", 31),
        ("estimate.observer.state.4", 31),
        ("config.limit.force_constant", 30),
        ("config.limit.viscous", 30),
        ("config.limit.emf", 27),
        ("config.limit.spring", 28),
        ("config.limit.reference_lag.k", 30),
        ("config.estimate.half_step_squared", 27),
        ("config.arrest.approach", 31),
    ];
    for (path, n) in struck {
        for moment in 0..bench.moments() {
            let strike = bench.strike(moment, bit(path, n));
            assert!(!strike.ending.is_broken(), "{path} {n}: {strike:?}");
        }
    }
}

/// A ride after a flip counts as the healthy one up to the register's share, and not beyond.
// Demonstrates: bitflip-ride-alike
#[test]
fn rides_are_alike_up_to_the_share_of_the_register() {
    let rig = rig();
    let bench = Bench::new(&rig, Setting::rough(2)).expect("a bench");
    let mut alike = 0;
    // Words that change the ride a little.
    let paths = ["weigh.mass", "weigh.preload", "static_force"];
    for (path, moment) in paths.into_iter().flat_map(|path| [(path, 0), (path, 1)]) {
        for n in 12..32 {
            let strike = bench.strike(moment, bit(path, n));
            let apart = (strike.ride_ratio - 1.0).abs();
            if strike.ending == Ending::Harmless {
                assert!(apart <= constant::BITFLIP_RIDE_ALIKE, "{path} {n}: {apart}");
                alike += 1;
            }
        }
    }
    assert!(alike > 0);
    // No bit is left that changes it much: by hand.
    for off in [-1.0, 1.0] {
        let at =
            |share: f64| Ending::of_ride(false, 1.0 + off * share * constant::BITFLIP_RIDE_ALIKE);
        assert_eq!(at(0.999), Ending::Harmless);
        assert_eq!(at(1.001), Ending::OtherRide);
        assert!(at(1.001).is_broken() && !at(0.999).is_broken());
    }
    assert_eq!(Ending::of_ride(false, f64::NAN), Ending::OtherRide);
    assert_eq!(Ending::of_ride(true, 3.0), Ending::SafeState);
}

#[test]
fn an_unknown_field_and_an_interruption_are_told() {
    let rig = rig();
    let bench = Bench::new(&rig, Setting::rough(1)).expect("a bench");
    let error = bitflips::run(&bench, "limt", 1, 1, || false, |_| ()).expect_err("unknown");
    assert!(
        error.to_string().starts_with("field limt: expected"),
        "{error}"
    );
    let error = bitflips::run(&bench, "limit", 1, 1, || true, |_| ()).expect_err("stopped");
    assert!(matches!(error, BitflipError::Interrupted));
}
