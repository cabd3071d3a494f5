//! How much of the brake resistor is bridged, at the bounds of the register. Our own rules.

use firmware::brake::{Config, Input};
use host_sim::limits::constant;
use host_sim::rig::Rig;

fn config() -> Config<f64> {
    let rig = Rig::default_machine().expect("the default rig");
    let firmware = &rig.firmware;
    let built = (firmware.brake).build(&firmware.limit, firmware.timing.step_s);
    built.expect("a brake")
}

const IDLE: Input<f64> = Input {
    closing: 0.0,
    trusted: true,
    current: 0.0,
    last: 0.0,
    load: 0.0,
};

/// The share after a second of the same.
fn settled(of: impl Fn(f64) -> Input<f64>) -> f64 {
    let config = config();
    (0..1000).fold(0.0, |last, _| config.share(&of(last)))
}

/// At a travel rate: the current that its back-EMF drives through winding and what of the resistor is not bridged.
fn rate(mps: f64) -> f64 {
    let rig = Rig::default_machine().expect("the default rig");
    let (told, brake) = (&rig.firmware.limit, &rig.firmware.brake);
    let emf = f64::from(told.force_constant_npa) * mps;
    let winding = f64::from(told.resistance_20c_ohm);
    settled(|last| Input {
        current: emf / (winding + f64::from(brake.resistor_ohm) * (1.0 - last)),
        last,
        ..IDLE
    })
}

fn closing(mps2: f64) -> f64 {
    settled(|last| Input {
        closing: -mps2,
        last,
        ..IDLE
    })
}

fn load(newton: f64) -> f64 {
    settled(|last| Input {
        load: 1.0e-3 * newton,
        last,
        ..IDLE
    })
}

/// Nothing up to the lower bound, all from the upper one, a straight line between.
// Demonstrates: brake-rate-from, brake-rate-full, brake-decel-full, brake-load-from, brake-load-full
#[test]
fn the_resistor_is_bridged_between_its_bounds() {
    type Share = fn(f64) -> f64;
    for (what, share, from, full) in [
        (
            "rate",
            rate as Share,
            constant::BRAKE_RATE_FROM,
            constant::BRAKE_RATE_FULL,
        ),
        ("deceleration", closing, 0.0, constant::BRAKE_DECEL_FULL),
        (
            "load",
            load,
            constant::BRAKE_LOAD_FROM,
            constant::BRAKE_LOAD_FULL,
        ),
    ] {
        assert_eq!(share(0.999 * from), 0.0, "{what}");
        assert_eq!(share(1.001 * full), 1.0, "{what}");
        for tenth in 1..10 {
            let part = 0.1 * f64::from(tenth);
            let found = share(from + part * (full - from));
            assert!((found - part).abs() < 1.0e-3, "{what} {part}: {found}");
        }
    }
    // A seat that falls the other way brakes as well; a sensor in doubt leaves the arrest out.
    assert_eq!(load(-1.001 * constant::BRAKE_LOAD_FULL), 1.0);
    let doubted = settled(|last| Input {
        closing: -2.0 * constant::BRAKE_DECEL_FULL,
        trusted: false,
        last,
        ..IDLE
    });
    assert_eq!(doubted, 0.0);
}

// Demonstrates: brake-time
#[test]
fn the_share_moves_no_faster_than_its_time() {
    let rig = Rig::default_machine().expect("the default rig");
    let periods = constant::BRAKE_TIME / f64::from(rig.firmware.timing.step_s);
    let all = 2.0e-3 * constant::BRAKE_LOAD_FULL;
    for (load, begin, end) in [(all, 0.0, 1.0), (0.0, 1.0, 0.0)] {
        let (config, mut share, mut steps) = (config(), begin, 0);
        while share != end && steps < 1000 {
            let last = share;
            share = config.share(&Input { load, last, ..IDLE });
            steps += 1;
        }
        assert!(
            (f64::from(steps) - periods).abs() <= 1.0,
            "{steps} periods, stated {periods}"
        );
    }
}
