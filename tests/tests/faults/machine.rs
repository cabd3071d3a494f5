//! What breaks in motor, output stage, support and supply, against closed forms and against a sound machine
//! that is driven as the broken one should behave.

use becalm_tests::faults::{SHORT, STEP_S, bits, clean, current, drive, open, rig, seated};
use host_sim::body::{Body, BodyKind};
use host_sim::plant::{GRAVITY_MPS2, Plant};
use std::f64::consts::TAU;

const ONSET: u64 = 500;

/// A force constant at the travel of a plant, from its constants.
fn force_constant(plant: &Plant) -> f64 {
    let c = plant.config();
    c.force_constant_npa * (1.0 - c.droop * (plant.travel() / c.travel_m).powi(2))
}

/// The force on the seat is `share` of what the sound motor gives with that current.
fn force_share(name: &str, numbers: &str, share: f64) {
    let rig = rig();
    let sound = *drive(&rig, seated(), &[], (1.0, 1), |_| open(), |_, _, _| ())
        .plant()
        .config();
    let text = format!("{name}:onset=0.5,duration=0.5{numbers}");
    let answer = |k| current(&rig, 5.0 * (TAU * 5.0 * k as f64 * STEP_S).sin());
    drive(&rig, seated(), &[&text], (1.0, 1500), answer, |k, _, p| {
        let acts = (ONSET..2 * ONSET).contains(&k);
        let droop = 1.0 - sound.droop * (p.travel() / sound.travel_m).powi(2);
        let full = sound.force_constant_npa * droop * p.current();
        let stated = if acts { share * full } else { full };
        assert!((p.force() - stated).abs() < 1e-9, "{name}: {k}");
    });
}

#[test]
fn motors_without_half_and_reversed_force() {
    force_share("no-force", "", 0.0);
    force_share("force-weak", "", 0.5);
    force_share("force-weak", ",size=0.2", 0.2);
    force_share("motor-reversed", "", -1.0);
}

/// The back-EMF goes with the force: with shorted windings a motor without force has no current.
#[test]
fn no_force_means_no_back_emf() {
    let rig = rig();
    let mut most = 0.0_f64;
    drive(
        &rig,
        seated(),
        &["no-force:onset=0"],
        (2.0, 2000),
        |_| SHORT,
        |_, _, p| {
            most = most.max(p.current().abs());
        },
    );
    assert!(most < 1e-12, "{most}");
}

#[test]
fn a_stuck_current_ignores_the_command_but_not_the_enable() {
    let rig = rig();
    let faults = ["current-loop-stuck:onset=0.5,size=12"];
    let answer = |k| if k < 900 { current(&rig, -3.0) } else { open() };
    drive(&rig, seated(), &faults, (0.5, 1200), answer, |k, _, p| {
        let stated = match k {
            100..500 => Some(-3.0),
            520..900 => Some(12.0),
            950.. => Some(0.0),
            _ => None,
        };
        if let Some(stated) = stated {
            assert!((p.current() - stated).abs() < 1e-3, "{k}: {}", p.current());
        }
    });
}

/// The same as a sound stage that is told zero where the sign does not work.
#[test]
fn one_sided_drives_one_sign() {
    let rig = rig();
    let wave = |k: u64| 6.0 * (TAU * 3.0 * k as f64 * STEP_S).sin();
    for sign in [1.0, -1.0] {
        let text = format!("one-sided:onset=0,size={sign}");
        let mut told = Vec::new();
        let half = |k| current(&rig, if wave(k) * sign >= 0.0 { wave(k) } else { 0.0 });
        drive(&rig, seated(), &[], (0.5, 1000), half, |_, _, p| {
            told.push(bits(p))
        });
        drive(
            &rig,
            seated(),
            &[&text],
            (0.5, 1000),
            |k| current(&rig, wave(k)),
            |k, _, p| {
                assert_eq!(bits(p), told[k as usize], "{sign} {k}");
            },
        );
    }
}

/// A first-order lag of the stated bandwidth: 1 - exp(-w t) after a step, the back-EMF being cancelled.
#[test]
fn a_slow_current_loop_has_its_bandwidth() {
    let rig = rig();
    let step = |k| current(&rig, if k < 500 { 0.0 } else { 5.0 });
    drive(
        &rig,
        seated(),
        &["current-loop-slow:onset=0.2,size=20"],
        (0.0, 700),
        step,
        |k, _, p| {
            // The answer of period 500 acts one period later; `look` sees the end of a period.
            let t = (k as f64 - 500.0) * STEP_S;
            if t >= 0.0 {
                let stated = 5.0 * (1.0 - (-TAU * 20.0 * t).exp());
                assert!(
                    (p.current() - stated).abs() < 2e-3,
                    "{k}: {} {stated}",
                    p.current()
                );
            }
        },
    );
}

/// The seat moves, to the bit, as one whose windings are shorted from then on; the sensor shows the stage's
/// current, which is the command.
#[test]
fn a_shorted_winding_brakes_whatever_the_command() {
    let rig = clean(rig());
    let before = |k: u64| current(&rig, if k < 1000 { 4.0 } else { -9.0 });
    // The answer of a period acts in the next.
    let shorted = |k| if k < 499 { before(k) } else { SHORT };
    let mut stated = Vec::new();
    drive(&rig, seated(), &[], (1.0, 1500), shorted, |_, _, p| {
        stated.push(bits(p))
    });
    drive(
        &rig,
        seated(),
        &["winding-short:onset=0.5"],
        (1.0, 1500),
        before,
        |k, f, p| {
            assert_eq!(bits(p), stated[k as usize], "{k}");
            let shown = f64::from(f.current) * rig.sensors.current.per_count;
            let command = match k {
                100..1000 => Some(4.0),
                1030.. => Some(-9.0),
                _ => None,
            };
            if let Some(command) = command {
                assert!((shown - command).abs() <= 0.003, "{k}: {shown}");
            }
        },
    );
    // Its current is the back-EMF over the resistance, once the inductance has had its say.
    let plant = drive(
        &rig,
        seated(),
        &["winding-short:onset=0"],
        (1.0, 5000),
        before,
        |_, _, _| (),
    );
    let p = plant.plant();
    let settled = -force_constant(p) * p.travel_rate() / p.resistance();
    assert!((p.current() - settled).abs() < 0.2 * settled.abs() + 0.5);
}

/// With disabled outputs the stage is off, so its sensor shows nothing, while the winding still brakes.
#[test]
fn the_stage_of_a_shorted_winding_rests_when_disabled() {
    let rig = clean(rig());
    let answer = |k| if k < 800 { current(&rig, 4.0) } else { open() };
    drive(
        &rig,
        seated(),
        &["winding-short:onset=0.5"],
        (1.0, 1500),
        answer,
        |k, f, _| {
            if k > 802 {
                assert_eq!(f.current, 0, "{k}");
            }
        },
    );
}

/// As a sound machine that is driven by other answers from the onset on.
fn same_as(
    fault: &str,
    broken: fn(u64, &host_sim::rig::Rig) -> firmware::DriveFrame,
    sound: fn(u64, &host_sim::rig::Rig) -> firmware::DriveFrame,
) {
    let rig = rig();
    let mut stated = Vec::new();
    drive(
        &rig,
        seated(),
        &[],
        (1.0, 1500),
        |k| sound(k, &rig),
        |_, _, p| stated.push(bits(p)),
    );
    drive(
        &rig,
        seated(),
        &[fault],
        (1.0, 1500),
        |k| broken(k, &rig),
        |k, _, p| {
            assert_eq!(bits(p), stated[k as usize], "{fault}: {k}");
        },
    );
}

#[test]
fn open_windings_stages_that_do_not_let_go_and_shorts_that_are_missing() {
    // Neither current nor damping, whatever is asked.
    same_as(
        "winding-open:onset=0.5",
        |k, rig| if k < 1000 { current(rig, 4.0) } else { SHORT },
        |k, rig| if k < 499 { current(rig, 4.0) } else { open() },
    );
    // The last current goes on.
    same_as(
        "enable-stuck:onset=0.5",
        |k, rig| {
            if k < 800 {
                current(rig, 0.01 * k as f64)
            } else {
                SHORT
            }
        },
        |k, rig| current(rig, 0.01 * k.min(799) as f64),
    );
    same_as(
        "short-missing:onset=0.5",
        |k, rig| if k < 800 { current(rig, 4.0) } else { SHORT },
        |k, rig| if k < 800 { current(rig, 4.0) } else { open() },
    );
}

#[test]
fn a_hot_coil_is_hot_while_it_lasts() {
    let rig = rig();
    let faults = ["coil-hot:onset=0.5,duration=0.5,size=150"];
    let mut last = 0.0;
    drive(
        &rig,
        seated(),
        &faults,
        (0.0, 1500),
        |_| open(),
        |k, _, p| {
            let [winding, case] = p.temperatures();
            match k {
                // One period of cooling toward the case, of 150 - 25 K through 0.35 K/W from 520 J/K.
                500..1000 => {
                    let cooled = STEP_S * (150.0 - case)
                        / rig.thermal.winding_to_case_kpw
                        / rig.thermal.winding_jpk;
                    assert!((winding - (150.0 - cooled)).abs() < 1e-5, "{k}: {winding}");
                }
                1000.. => assert!(winding < last && winding > 149.0, "{k}: {winding}"),
                0..500 => assert!(winding < 26.0),
            }
            last = winding;
        },
    );
}

/// On a seat at rest in balance a force below the breakaway moves nothing, one above it does.
#[test]
fn a_jammed_guide_holds_to_its_friction() {
    let mut rig = rig();
    let weight = (rig.seat.empty_mass_kg + 60.0) * GRAVITY_MPS2;
    rig.firmware.weigh.preload_n = weight as f32;
    (
        rig.spring.preload_error_n,
        rig.actuator.force_constant_error,
    ) = (0.0, 0.0);
    let range = |newton: f64, faults: &[&str]| {
        let push = current(&rig, newton / rig.actuator.force_constant_npa);
        let answer = |k| if k < 200 { open() } else { push };
        let (mut low, mut high) = (f64::MAX, f64::MIN);
        drive(&rig, seated(), faults, (0.0, 400), answer, |k, _, p| {
            if k > 150 {
                (low, high) = (low.min(p.travel()), high.max(p.travel()));
            }
        });
        high - low
    };
    let breakaway = rig.friction.stiction_n;
    for (faults, more) in [(vec![], 0.0), (vec!["jammed:onset=0.1,size=300"], 300.0)] {
        assert_eq!(range(breakaway + more - 1.0, &faults), 0.0);
        assert!(range(breakaway + more + 1.0, &faults) > 0.0);
    }
}

#[test]
fn a_broken_spring_has_lost_its_share_and_gets_it_back() {
    let rig = rig();
    let faults = ["spring-broken:onset=0.5,duration=0.5,size=0.3"];
    let mut preload = 0.0;
    drive(
        &rig,
        seated(),
        &faults,
        (0.0, 1500),
        |_| SHORT,
        |k, _, p| {
            if k == 0 {
                preload = p.preload();
            }
            let share = if (500..1000).contains(&k) { 0.7 } else { 1.0 };
            assert!((p.preload() - share * preload).abs() < 1e-9, "{k}");
            let stiffness = p.config().spring_npm;
            assert!(
                (stiffness - share * rig.spring.stiffness_npm).abs() < 1e-9,
                "{k}"
            );
        },
    );
    // On the bumper with all of it gone: k x^1.5 carries the whole weight.
    let body = Body::new(BodyKind::Rigid, 60.0);
    let gone = drive(
        &rig,
        body,
        &["spring-broken:onset=0,size=1"],
        (0.0, 6000),
        |_| SHORT,
        |_, _, _| (),
    );
    let weight = (rig.seat.empty_mass_kg + 60.0) * GRAVITY_MPS2;
    let friction = rig.friction.stiction_n;
    let depth = |load: f64| (load / rig.bumper.stiffness_npm15).powf(2.0 / 3.0);
    let at = -gone.plant().travel() - rig.seat.travel_m;
    assert!(
        at > depth(weight - friction) && at < depth(weight + friction),
        "{at}"
    );
}

/// The bus rests where source, chopper and motor balance.
#[test]
fn sags_and_surges_of_the_network() {
    let rig = rig();
    let s = &rig.supply;
    // A surge against the brake resistor, which divides it.
    let high = 80.0 * s.chopper_ohm / (s.source_ohm + s.chopper_ohm);
    // With the chopper shut the bus comes to the network's voltage itself.
    for (faults, stated) in [
        (vec!["power-surge:onset=0.1,duration=0.2"], high),
        (
            vec![
                "power-surge:onset=0.1,duration=0.2",
                "chopper-shut:onset=0.1",
            ],
            80.0,
        ),
    ] {
        drive(
            &rig,
            seated(),
            &faults,
            (0.0, 290),
            |_| open(),
            |k, _, p| match k {
                0..100 => assert_eq!(p.bus_voltage(), s.voltage_v),
                200.. => assert!(
                    (p.bus_voltage() - stated).abs() < 1e-3,
                    "{}",
                    p.bus_voltage()
                ),
                _ => {}
            },
        );
    }
    // Under a load the bus falls to a sagging network, less what the load takes: (30 - V) / Rs = P / V.
    let load = |_| current(&rig, 40.0);
    drive(
        &rig,
        seated(),
        &["power-sag:onset=0.1,duration=5", "jammed:onset=0,size=9000"],
        (0.0, 4000),
        load,
        |k, _, p| {
            if k > 3500 {
                let v = p.bus_voltage();
                let given = (30.0 - v) / s.source_ohm;
                let taken = p.electrical_power() / v;
                assert!((given / taken - 1.0).abs() < 0.01, "{v}: {given} {taken}");
            }
        },
    );
}

/// What the winding takes comes out of the capacitor.
#[test]
fn without_a_network_the_capacitor_gives_all() {
    let rig = rig();
    let mut start = None;
    let faults = ["power-loss:onset=0.2", "jammed:onset=0,size=9000"];
    drive(
        &rig,
        seated(),
        &faults,
        (0.0, 600),
        |k| if k < 200 { open() } else { current(&rig, 6.0) },
        |k, _, p| {
            let stored = 0.5 * rig.supply.capacitance_f * p.bus_voltage().powi(2);
            let drawn = p.energy().electrical_j;
            if k == 199 {
                start = Some(stored + drawn);
            } else if let Some(all) = start {
                assert!(
                    (stored + drawn - all).abs() < 0.01,
                    "{k}: {}",
                    stored + drawn - all
                );
            }
        },
    );
}
