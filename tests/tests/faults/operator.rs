//! People: who sits there, what they do on the seat and put under it, and the switches.

use becalm_tests::faults::{drive, fault, open, rig, twin_frames};
use firmware::Switches;
use host_sim::body::{Body, BodyKind};
use host_sim::floor::FloorSpec;
use host_sim::plant::GRAVITY_MPS2;
use host_sim::ride::{self, OccupantChange, RideSpec, Sample};
use std::f64::consts::TAU;

fn ridden(spec: &RideSpec, mut look: impl FnMut(&Sample)) {
    ride::run(&rig(), spec, |s| {
        look(s);
        true
    })
    .expect("a ride");
}

fn still(seconds: f64, faults: &[&str]) -> RideSpec {
    let mut spec = RideSpec::on(FloorSpec::named("hauler"));
    spec.floor.level = 0.0;
    (spec.seconds, spec.skip_s) = (seconds, 0.5);
    spec.faults = faults.iter().map(|f| fault(f)).collect();
    spec
}

/// The same ride, to the bit, as one with these changes of occupant.
fn same_as_changes(faults: &[&str], changes: &[(f64, f64)], had: &[(f64, f64)]) {
    let to = |pairs: &[(f64, f64)]| -> Vec<OccupantChange> {
        let change = |&(at_s, occupant_kg): &(f64, f64)| OccupantChange { at_s, occupant_kg };
        pairs.iter().map(change).collect()
    };
    let mut stated = Vec::new();
    let mut spec = still(8.0, &[]);
    spec.changes = to(changes);
    ridden(&spec, |s| stated.push((s.frame, s.mass_kg)));
    let mut spec = still(8.0, faults);
    spec.changes = to(had);
    let mut n = 0;
    ridden(&spec, |s| {
        assert_eq!((s.frame, s.mass_kg), stated[n], "{faults:?}: {n}");
        n += 1;
    });
}

#[test]
fn occupants_come_and_go() {
    same_as_changes(
        &["occupant-leaves:onset=2,duration=3"],
        &[(2.0, 0.0), (5.0, 80.0)],
        &[],
    );
    same_as_changes(&["occupant-leaves:onset=2,duration=30"], &[(2.0, 0.0)], &[]);
    same_as_changes(&["occupant-swapped:onset=3"], &[(3.0, 130.0)], &[]);
    // Who would have sat down meanwhile comes at the end.
    same_as_changes(
        &["occupant-leaves:onset=2,duration=3"],
        &[(1.0, 60.0), (2.0, 0.0), (5.0, 100.0)],
        &[(1.0, 60.0), (3.0, 100.0)],
    );
}

#[test]
fn another_occupant_weighs_what_is_stated() {
    let seat = rig().seat;
    let mut spec = still(6.0, &["occupant-swapped:onset=3,size=130"]);
    spec.occupant_kg = 40.0;
    ridden(&spec, |s| {
        let kg = match s.time_s {
            ..2.9995 => 40.0,
            3.4005.. => 130.0,
            _ => return,
        };
        let stated = seat.empty_mass_kg + kg * seat.on_seat_share;
        assert!(
            (s.mass_kg - stated).abs() < 1e-9,
            "{}: {}",
            s.time_s,
            s.mass_kg
        );
    });
}

/// A rigid load on a seat without dry friction, pushed by a sine: F / |k - m w^2 + j w c|.
#[test]
fn bouncing_is_a_sine_of_force() {
    let mut rig = rig();
    (rig.friction.coulomb_n, rig.friction.stiction_n) = (0.0, 0.0);
    let (mass, w) = (rig.seat.empty_mass_kg + 60.0, TAU * 2.0);
    let stiff = rig.spring.stiffness_npm - mass * w * w;
    let stated = 150.0 / stiff.hypot(w * rig.friction.viscous_nspm);
    let body = Body::new(BodyKind::Rigid, 60.0);
    // Levelled, else it rests on the lower bumper.
    rig.firmware.weigh.preload_n = (mass * GRAVITY_MPS2) as f32;
    rig.spring.preload_error_n = 0.0;
    let (mut low, mut high) = (0.0_f64, 0.0_f64);
    let faults = ["occupant-bounces:onset=0,size=150,every=0.5"];
    let mut first = None;
    drive(
        &rig,
        body,
        &faults,
        (0.0, 20_000),
        |_| open(),
        |k, _, p| {
            if k == 60 {
                first = Some(p.travel());
            }
            if k > 15_000 {
                (low, high) = (low.min(p.travel()), high.max(p.travel()));
            }
        },
    );
    assert!(first < Some(0.0), "down first");
    let found = 0.5 * (high - low);
    // The sine is held for a period: less than 0.1 % at 2 Hz.
    assert!((found / stated - 1.0).abs() < 2e-3, "{found} {stated}");
}

/// A seat that has lost its spring rests on what is wedged under it: k x^1.5 carries it, less or more its friction.
#[test]
fn a_wedge_ends_the_travel_early() {
    let rig = rig();
    let body = Body::new(BodyKind::Rigid, 60.0);
    let weight = (rig.seat.empty_mass_kg + 60.0) * GRAVITY_MPS2;
    let depth = |load: f64| (load / rig.bumper.stiffness_npm15).powf(2.0 / 3.0);
    let mut levelled = rig.clone();
    levelled.firmware.weigh.preload_n = weight as f32;
    let faults = [
        "wedged:onset=0.2,duration=5.8,size=0.012",
        "spring-broken:onset=0.5,size=1",
    ];
    let fallen = drive(
        &levelled,
        body,
        &faults,
        (0.0, 6000),
        |_| DAMP,
        |_, _, _| (),
    );
    let friction = rig.friction.stiction_n;
    let at = -fallen.plant().travel() - 0.012;
    assert!(
        at > depth(weight - friction) && at < depth(weight + friction),
        "{at}"
    );
    assert_eq!(fallen.plant().stops().contacts, 1);
    // Taken away, the seat falls on to its bumper.
    let fallen = drive(
        &levelled,
        body,
        &faults,
        (0.0, 12_000),
        |_| DAMP,
        |_, _, _| (),
    );
    assert!(-fallen.plant().travel() > rig.seat.travel_m);
}

const DAMP: firmware::DriveFrame = firmware::DriveFrame::SAFE;

/// It slips in only when the seat is above it.
#[test]
fn a_wedge_waits_for_its_gap() {
    let rig = rig();
    // Nobody has levelled this seat: it rests on its lower bumper.
    let body = Body::new(BodyKind::Rigid, 60.0);
    let mut force = 0.0_f64;
    drive(
        &rig,
        body,
        &["wedged:onset=0.1,size=0.01"],
        (0.0, 1000),
        |_| open(),
        |_, _, p| {
            force = force.max(p.seat_accel().abs());
            assert!(p.travel() < -rig.seat.travel_m);
        },
    );
    assert!(force < 1e-6, "{force}");
}

#[test]
fn switches_show_open() {
    for (name, bit) in [
        ("stop-opened", Switches::STOP_CIRCUIT),
        ("disarmed", Switches::ARM),
        ("occupant-switch-open", Switches::OCCUPANT),
    ] {
        let text = format!("{name}:onset=1,duration=0.5");
        for (k, (sound, broken)) in twin_frames(&[&text], 2000).into_iter().enumerate() {
            let mut stated = sound;
            if (1000..1500).contains(&k) {
                stated.switches.0 &= !bit;
            }
            assert_eq!(broken, stated, "{name}: {k}");
        }
    }
}
