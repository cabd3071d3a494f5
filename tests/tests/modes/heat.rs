//! A hard ride with a weak thermal rig: the current limit falls smoothly, the drive never trips, and the
//! coil stays below the end of the derating. Our own targets.

use becalm_tests::modes::rig;
use firmware::{DriveFrame, Mode};
use host_sim::floor::FloorSpec;
use host_sim::ride::{self, RideSpec};
use host_sim::rig::Rig;

/// A twentieth of the heat capacity and an eighth of the cooling, invented; in summer.
fn weak() -> Rig {
    let mut rig = rig();
    rig.thermal.ambient_c = 45.0;
    rig.thermal.winding_jpk *= 0.05;
    rig.thermal.case_jpk *= 0.05;
    rig.thermal.winding_to_case_kpw *= 8.0;
    rig.thermal.case_to_ambient_kpw *= 8.0;
    rig
}

struct Heat {
    coil_max_c: f64,
    derated_steps: u64,
    disabled_steps: u64,
    heat_share_min: f64,
    /// Largest change of the smoothed heat share in 20 ms.
    change: f64,
}

fn ridden(rig: &Rig, level: f64, coil_c: Option<f64>) -> Heat {
    let mut spec = RideSpec::on(FloorSpec {
        level,
        ..FloorSpec::named("hauler")
    });
    spec.coil_c = coil_c;
    spec.seconds = 120.0;
    let mut heat = Heat {
        coil_max_c: f64::MIN,
        derated_steps: 0,
        disabled_steps: 0,
        heat_share_min: 1.0,
        change: 0.0,
    };
    let mut past = [f64::NAN; 40];
    let (mut k, mut drove) = (0, false);
    ride::run(rig, &spec, |s| {
        heat.coil_max_c = heat.coil_max_c.max(s.coil_c);
        let share = s.inside.drive.heat_share;
        heat.heat_share_min = heat.heat_share_min.min(share);
        heat.derated_steps += u64::from(s.drive.mode == Mode::Derated.code());
        // Before, the support lifts.
        drove |= s.drive.has(DriveFrame::ENABLE);
        heat.disabled_steps += u64::from(drove && !s.drive.has(DriveFrame::ENABLE));
        // Means of 20 ms, so that the sensor's noise (0.3 K) does not count as a step.
        past[k % 40] = share;
        k += 1;
        if k >= 40 && k % 20 == 0 {
            let mean = |from: usize| (0..20).map(|i| past[(from + i) % 40]).sum::<f64>() / 20.0;
            heat.change = heat.change.max((mean(k) - mean(k + 20)).abs());
        }
        true
    })
    .expect("a ride");
    println!(
        "level {level}, coil at {coil_c:?} C: up to {:.1} C, heat share down to {:.2}, change in 20 ms {:.4}, derated {} steps, off {}",
        heat.coil_max_c, heat.heat_share_min, heat.change, heat.derated_steps, heat.disabled_steps
    );
    heat
}

/// 120 s on the hauler at 2.5.
#[test]
fn weak_machine_derates_and_does_not_trip() {
    let rig = weak();
    let limit = &rig.firmware.limit;
    let heat = ridden(&rig, 2.5, None);
    assert!(heat.derated_steps > 1000, "the ride is hard enough");
    assert_eq!(heat.disabled_steps, 0);
    assert!(
        heat.coil_max_c < f64::from(limit.derate_to_c),
        "{}",
        heat.coil_max_c
    );
    // The winding warms by at most I^2 R / C: within 20 ms by this share of the derating.
    let a = &rig.actuator;
    let hot_ohm = a.resistance_20c_ohm * (1.0 + 0.003_93 * 130.0);
    let kps = a.current_max_a.powi(2) * hot_ohm / rig.thermal.winding_jpk;
    let span = f64::from(limit.derate_to_c - limit.derate_from_c);
    let noise =
        4.0 * 100.0 * rig.sensors.coil_temperature.noise_rms / span * (2.0_f64 / 20.0).sqrt();
    let most = 0.02 * kps / span + noise;
    assert!(heat.change <= most, "{} {most}", heat.change);
}

/// Starts hot, near the end of the derating, on an easy ride: derated from the first step, and it cools.
#[test]
fn hot_start() {
    let rig = rig();
    let heat = ridden(&rig, 1.0, Some(140.0));
    assert!(heat.derated_steps > 1000);
    assert_eq!(heat.disabled_steps, 0);
    assert!(heat.coil_max_c < f64::from(rig.firmware.limit.derate_to_c));
    assert!(heat.heat_share_min < 0.25, "{}", heat.heat_share_min);
}

/// The default machine never gets warm enough to derate at level 2.5: 350 N continuous.
// Demonstrates: coil-temperature
#[test]
fn default_machine_stays_cool() {
    let heat = ridden(&rig(), 2.5, None);
    assert_eq!((heat.derated_steps, heat.disabled_steps), (0, 0));
}

/// Starts as hot on a hard ride: with what current is left it does not trip, and does not overheat.
#[test]
fn hot_start_on_a_hard_ride() {
    let rig = rig();
    let heat = ridden(&rig, 2.5, Some(140.0));
    assert_eq!(heat.disabled_steps, 0);
    assert!(
        heat.coil_max_c < f64::from(rig.firmware.limit.derate_to_c),
        "{}",
        heat.coil_max_c
    );
}
