//! The linear model against the bench's own stepped sine, friction off: floor to seat within 5 %, as was
//! asked of it, and the phase with it.

use becalm_tests::margins::{law_point, quiet_rig};
use host_sim::body::{Body, BodyKind};
use host_sim::design;
use host_sim::margins::linearise::linearise;
use host_sim::margins::loops::{ClosedLoop, LawResponse};
use host_sim::margins::plant_model::{LinearPlant, Machine};
use host_sim::margins::state_space::C64;
use host_sim::ride::Arithmetic;
use host_sim::sweep::{self, SweepSpec};
use std::f64::consts::TAU;

const FREQUENCIES_HZ: [f64; 7] = [0.5, 1.0, 2.0, 4.0, 8.0, 16.0, 32.0];

#[test]
fn transmissibility_is_that_of_the_sweep() {
    let rig = quiet_rig();
    for (occupant_kg, body) in [(80.0, BodyKind::TwoMass), (50.0, BodyKind::Rigid)] {
        // A floor of so little motion that no limit of travel is near, and stirring enough.
        let points = sweep::run(
            &rig,
            &SweepSpec {
                frequencies_hz: FREQUENCIES_HZ.to_vec(),
                rms_mps2: 0.8,
                amplitude_max_m: 0.008,
                occupant_kg,
                body,
                arithmetic: Arithmetic::F64,
                seed: 1,
            },
            || true,
            |_| {},
        )
        .unwrap();
        let seated = Body::new(body, occupant_kg * rig.seat.on_seat_share);
        let mass_kg = rig.seat.empty_mass_kg + seated.total_kg();
        let law = linearise(&design::parameters(&rig).unwrap(), &law_point(mass_kg)).unwrap();
        let response = LawResponse::new(&law);
        let plant = LinearPlant::new(&Machine::of(&rig, seated));
        let closed = ClosedLoop {
            law: &response,
            plant: &plant,
        };
        for p in points {
            let z = C64::from_polar(1.0, TAU * p.frequency_hz * rig.timing.step_s);
            let linear = closed.transmissibility(z).unwrap();
            let measured = C64::from_polar(p.seat.transmissibility, p.seat.phase_deg.to_radians());
            let off = linear.norm() / measured.norm() - 1.0;
            println!(
                "{occupant_kg} kg {} {:5.1} Hz: measured {:.5}, linear {:.5}, {:+.2} %; vector {:.2} %",
                body.name(),
                p.frequency_hz,
                measured.norm(),
                linear.norm(),
                100.0 * off,
                100.0 * (linear / measured - 1.0).norm()
            );
            assert!(off.abs() < 0.05);
            assert!((linear / measured - 1.0).norm() < 0.1);
        }
    }
}
