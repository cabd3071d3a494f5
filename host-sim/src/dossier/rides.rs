//! Rides of the dossier: machine floors, single events, those who sit down, stepped sine, headroom.

use super::extremes::Extremes;
use super::plan::{Plan, RidesPlan};
use super::run::{Bench, DossierError};
use crate::body::BodyKind;
use crate::bound::headroom::{self, HeadroomSpec};
use crate::floor::FloorSpec;
use crate::parallel::try_map;
use crate::ride::{self, OccupantChange, RideSpec};
use crate::sweep::{self, SweepSpec};
use serde_json::{Value, json};

/// Floors on which travel runs short: other loads are ridden there.
const LONG: [&str; 3] = ["hauler", "loader", "grader"];
/// Other loads.
pub(super) const LOADS: [(BodyKind, f64); 5] = [
    (BodyKind::Rigid, 40.0),
    (BodyKind::Rigid, 80.0),
    (BodyKind::Rigid, 130.0),
    (BodyKind::TwoMass, 40.0),
    (BodyKind::TwoMass, 130.0),
];
/// Single events: name in figures, floor.
pub(super) const EVENTS: [(&str, &str); 4] = [
    ("edge", "edge:at=12"),
    ("bump", "bump:at=12"),
    ("steep-edge", "edge:at=12,flank=0.08"),
    ("short-bump", "bump:at=12,time=0.3"),
];
/// Ranges of the stepped sine: name in figures, from and to in Hz, number of frequencies.
pub(super) const RANGES: [(&str, f64, f64, usize); 3] = [
    ("2-16-hz", 2.0, 16.0, 13),
    ("20-32-hz", 20.0, 32.0, 3),
    ("below-2-hz", 0.1, 2.0, 16),
];

/// The command of a ride.
pub(super) fn command(spec: &RideSpec, bench: &Bench<'_>) -> String {
    let f = &spec.floor;
    let mut text = format!(
        "becalm ride --floor {} --level {} --seed {}",
        f.name, f.level, f.seed
    );
    if spec.occupant_kg != 80.0 {
        text += &format!(" --occupant {}", spec.occupant_kg);
    }
    if spec.body != BodyKind::TwoMass {
        text += &format!(" --body {}", spec.body.name());
    }
    text += &format!(
        " --seconds {} --skip {} --no-bound",
        spec.seconds, spec.skip_s
    );
    text + &bench.rig_option()
}

/// One ride as it goes into the raw data.
pub(super) fn ridden(
    bench: &Bench<'_>,
    name: &str,
    spec: &RideSpec,
) -> Result<Value, DossierError> {
    let mut extremes = Extremes::new(bench.rig)?;
    let summary = ride::run(bench.rig, spec, |s| {
        extremes.see(bench.rig, s);
        !(bench.stop)()
    })?;
    let mut figures = serde_json::to_value(&summary)?;
    // The speed of this machine is no figure of the seat.
    if let Some(object) = figures.as_object_mut() {
        object.remove("real_time_factor");
    }
    Ok(json!({
        "name": name,
        "seed": spec.floor.seed,
        "command": command(spec, bench),
        "summary": figures,
        "extremes": extremes.figures(),
    }))
}

fn all(
    bench: &Bench<'_>,
    specs: &[(String, RideSpec)],
    done: &(dyn Fn(f64) + Sync),
) -> Result<Value, DossierError> {
    let rows = try_map(
        bench.threads,
        specs.len(),
        |n| ridden(bench, &specs[n].0, &specs[n].1),
        |finished| done(finished as f64 / specs.len() as f64),
    )?;
    Ok(json!({ "rides": rows }))
}

/// The specs of the rides on the machine floors, with their names.
#[must_use]
pub(super) fn floor_specs(plan: &RidesPlan) -> Vec<(String, RideSpec)> {
    let mut specs = Vec::new();
    let mut add = |floor: &str, level: f64, seed: u64, body, occupant_kg| {
        let spec = RideSpec {
            seconds: plan.seconds,
            skip_s: plan.skip_s,
            body,
            occupant_kg,
            ..RideSpec::on(FloorSpec {
                level,
                seed,
                ..FloorSpec::named(floor)
            })
        };
        specs.push((floor.to_owned(), spec));
    };
    for floor in &plan.floors {
        for &level in &plan.levels {
            for seed in 1..=plan.seeds {
                add(floor, level, seed, BodyKind::TwoMass, 80.0);
            }
            for (body, kg) in LOADS {
                for seed in 1..=plan.load_seeds {
                    if level > 1.0 && LONG.contains(&floor.as_str()) {
                        add(floor, level, seed, body, kg);
                    }
                }
            }
        }
    }
    specs
}

/// Rides on the machine floors.
pub(super) fn floors(
    bench: &Bench<'_>,
    plan: &Plan,
    done: &(dyn Fn(f64) + Sync),
) -> Result<Value, DossierError> {
    all(bench, &floor_specs(&plan.rides), done)
}

/// Single events under 80 kg, and under every other load.
pub(super) fn events(
    bench: &Bench<'_>,
    plan: &Plan,
    done: &(dyn Fn(f64) + Sync),
) -> Result<Value, DossierError> {
    let mut specs = Vec::new();
    for (name, floor) in EVENTS {
        for seed in 1..=plan.event_seeds {
            for (body, occupant_kg) in [(BodyKind::TwoMass, 80.0)].into_iter().chain(LOADS) {
                let spec = RideSpec {
                    seconds: 16.0,
                    skip_s: 11.5,
                    body,
                    occupant_kg,
                    ..RideSpec::on(FloorSpec {
                        seed,
                        ..FloorSpec::named(floor)
                    })
                };
                specs.push((name.to_owned(), spec));
            }
        }
    }
    all(bench, &specs, done)
}

/// Until when the mass must be known: two seconds after somebody is seated, at the start or, in 0.4 s, from 10 s on.
const KNOWN_S: [f64; 2] = [2.0, 12.4];

/// The mass that is found, two seconds after somebody is seated.
pub(super) fn seated(
    bench: &Bench<'_>,
    plan: &Plan,
    done: &(dyn Fn(f64) + Sync),
) -> Result<Value, DossierError> {
    let mut specs = Vec::new();
    for &at_s in KNOWN_S.iter().take(1 + usize::from(plan.seated.sits_down)) {
        for floor in &plan.seated.floors {
            for body in [BodyKind::TwoMass, BodyKind::Rigid] {
                for &kg in &plan.seated.occupants_kg {
                    for seed in 1..=plan.seated.seeds {
                        let mut spec = RideSpec {
                            seconds: at_s + 0.01,
                            skip_s: 0.0,
                            body,
                            occupant_kg: kg,
                            ..RideSpec::on(FloorSpec {
                                seed,
                                ..FloorSpec::named(floor)
                            })
                        };
                        if at_s > KNOWN_S[0] {
                            spec.occupant_kg = 0.0;
                            spec.changes = vec![OccupantChange {
                                at_s: 10.0,
                                occupant_kg: kg,
                            }];
                        }
                        specs.push((at_s, kg, spec));
                    }
                }
            }
        }
    }
    let rows = try_map(
        bench.threads,
        specs.len(),
        |n| {
            let (at_s, kg, spec) = &specs[n];
            let truth = bench.rig.seat.empty_mass_kg + bench.rig.seat.on_seat_share * kg;
            let mut error = None;
            ride::run(bench.rig, spec, |s| {
                if s.time_s >= *at_s && error.is_none() {
                    error = Some(1000.0 * s.inside.mass / truth - 1.0);
                }
                !(bench.stop)()
            })?;
            Ok::<_, DossierError>(json!({
                "floor": spec.floor.name, "seed": spec.floor.seed, "body": spec.body.name(), "occupant_kg": kg,
                "at_s": at_s, "mass_error": error, "command": command(spec, bench),
            }))
        },
        |finished| done(finished as f64 / specs.len() as f64),
    )?;
    Ok(json!({ "rides": rows }))
}

/// The stepped sine.
pub(super) fn sine(
    bench: &Bench<'_>,
    plan: &Plan,
    done: &(dyn Fn(f64) + Sync),
) -> Result<Value, DossierError> {
    let mut rows = Vec::new();
    let parts = RANGES.len() as f64 * plan.sweep_seeds as f64;
    for (name, from, to, count) in RANGES {
        for seed in 1..=plan.sweep_seeds {
            let spec = SweepSpec {
                frequencies_hz: sweep::spaced(from, to, count),
                rms_mps2: 1.0,
                amplitude_max_m: 0.03,
                occupant_kg: 80.0,
                body: BodyKind::TwoMass,
                arithmetic: ride::Arithmetic::F32,
                seed,
            };
            let before = rows.len() as f64;
            let points = sweep::run(
                bench.rig,
                &spec,
                || !(bench.stop)(),
                |n| done((before + n as f64 / count as f64) / parts),
            )?;
            rows.push(json!({
                "range": name, "seed": seed, "points": points,
                "command": format!("becalm sweep --from {from} --to {to} --points {count} --amplitude 0.03 --seed {seed}{}", bench.rig_option()),
            }));
        }
    }
    Ok(json!({ "sweeps": rows }))
}

/// The law between the passive seat and what is possible.
pub(super) fn headroom(
    bench: &Bench<'_>,
    plan: &Plan,
    done: &(dyn Fn(f64) + Sync),
) -> Result<Value, DossierError> {
    let (seeds, levels) = &plan.headroom;
    let mut rows = Vec::new();
    for seed in 1..=*seeds {
        let spec = HeadroomSpec {
            floors: plan.rides.floors.clone(),
            levels: levels.clone(),
            seeds: vec![seed],
            ride: RideSpec {
                seconds: plan.rides.seconds,
                skip_s: plan.rides.skip_s,
                ..RideSpec::on(FloorSpec::default())
            },
            travel_m: bench.rig.seat.travel_m,
        };
        let count = (spec.floors.len() * spec.levels.len()) as f64;
        let part = |n: usize| done(((seed - 1) as f64 + n as f64 / count) / *seeds as f64);
        rows.push(
            json!({ "seed": seed, "rows": headroom::run(bench.rig, &spec, bench.stop, part)? }),
        );
    }
    Ok(json!({ "seeds": rows, "seconds": plan.rides.seconds }))
}
