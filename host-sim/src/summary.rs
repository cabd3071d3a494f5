//! The figures of a ride, as they go to tables, files and `--json`.

use crate::bound::{BoundFigures, share_of_possible};
use crate::exposure::ExposureFigures;
use crate::exposure::seat_value::seat_over_floor;
use crate::fault::notice::FaultFigures;
use crate::proof::watch::AssumptionFigures;
use crate::ride::RideSpec;
use serde::Serialize;

/// Exposure of one channel.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct SeatFigures {
    /// Wk-weighted r.m.s., m/s^2.
    pub weighted_rms_mps2: f64,
    /// Vibration dose value, m/s^1.75.
    pub vdv_mps175: f64,
    /// Maximum transient vibration value, m/s^2.
    pub mtvv_mps2: f64,
    /// Weighted peak over weighted r.m.s.
    pub crest_factor: Option<f64>,
    /// Largest unweighted acceleration, m/s^2.
    pub peak_mps2: f64,
    /// Compressive stress of ISO 2631-5:2018 for the measured time, 82 kg male, MPa.
    pub sd_mpa: f64,
}

/// The floor ridden on.
#[derive(Clone, Debug, Serialize)]
pub struct FloorFigures {
    /// Name or file.
    pub name: String,
    /// Factor on the signal.
    pub level: f64,
    /// Wk-weighted r.m.s., m/s^2.
    pub weighted_rms_mps2: f64,
    /// Vibration dose value, m/s^1.75.
    pub vdv_mps175: f64,
    /// Largest unweighted acceleration, m/s^2.
    pub peak_mps2: f64,
}

/// Travel and stops.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct TravelFigures {
    /// Largest travel to either side, m.
    pub peak_m: f64,
    /// Travel, r.m.s., m.
    pub rms_m: f64,
    /// How often a bumper was met.
    pub stop_contacts: u32,
    /// Highest closing speed at a bumper, m/s.
    pub contact_speed_max_mps: f64,
}

/// Force, power and heat.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct ActuatorFigures {
    /// Motor force, r.m.s., N.
    pub force_rms_n: f64,
    /// Motor force, peak, N.
    pub force_peak_n: f64,
    /// Electrical power into the winding, mean, W.
    pub electrical_power_mean_w: f64,
    /// Electrical power into the winding, peak, W.
    pub electrical_power_peak_w: f64,
    /// Highest winding temperature, degrees Celsius.
    pub coil_temperature_max_c: f64,
}

/// Estimates against the plant's truth.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct EstimateFigures {
    /// Error of the travel rate, r.m.s., m/s.
    pub travel_rate_rms_error_mps: f64,
    /// Error of the floor velocity above 0.3 Hz, r.m.s., m/s.
    pub floor_velocity_rms_error_mps: f64,
    /// Error of the supported mass at the end, share of the truth.
    pub mass_error_fraction: f64,
}

/// All figures of one ride.
#[derive(Clone, Debug, Serialize)]
pub struct Summary {
    /// The floor.
    pub floor: FloorFigures,
    /// The seat under the law.
    pub seat: SeatFigures,
    /// The passive seat.
    pub passive: SeatFigures,
    /// SEAT value: weighted r.m.s. on the seat over that on the floor.
    pub seat_value: Option<f64>,
    /// SEAT value of the passive seat.
    pub seat_value_passive: Option<f64>,
    /// SEAT value by vibration dose values.
    pub seat_value_vdv: Option<f64>,
    /// What the ride used of the assumptions of the proof of the travel; see [`crate::proof`].
    pub assumptions: AssumptionFigures,
    /// The clairvoyant bound, where it was worked out; see [`crate::bound`].
    pub bound: Option<BoundFigures>,
    /// (passive - law) / (passive - bound), in SEAT value.
    pub share_of_possible: Option<f64>,
    /// Travel of the seat under the law.
    pub travel: TravelFigures,
    /// Travel of the passive seat.
    pub passive_travel: TravelFigures,
    /// Actuator.
    pub actuator: ActuatorFigures,
    /// Estimates.
    pub estimate: EstimateFigures,
    /// What broke on the way, and what the firmware made of it.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub faults: Vec<FaultFigures>,
    /// Ride time over computing time.
    pub real_time_factor: f64,
    /// Arithmetic of the law.
    pub arithmetic: &'static str,
    /// Seed.
    pub seed: u64,
    /// Occupant, kg.
    pub occupant_kg: f64,
    /// Seated body.
    pub body: &'static str,
    /// Length of the ride, s.
    pub seconds: f64,
    /// Start left out of the figures, s.
    pub skipped_s: f64,
}

impl Summary {
    #[allow(
        clippy::too_many_arguments,
        reason = "one argument for each part of the summary"
    )]
    pub(crate) fn new(
        spec: &RideSpec,
        floor: ExposureFigures,
        seat: SeatFigures,
        passive: SeatFigures,
        travel: TravelFigures,
        passive_travel: TravelFigures,
        actuator: ActuatorFigures,
        estimate: EstimateFigures,
        assumptions: AssumptionFigures,
        faults: Vec<FaultFigures>,
        real_time_factor: f64,
    ) -> Self {
        let over = |seat: f64, floor: f64| seat_over_floor(seat, floor).ok().flatten();
        Self {
            floor: FloorFigures {
                name: spec.floor.name.clone(),
                level: spec.floor.level,
                weighted_rms_mps2: floor.weighted_rms_mps2,
                vdv_mps175: floor.vdv_mps175,
                peak_mps2: floor.peak_mps2,
            },
            seat_value: over(seat.weighted_rms_mps2, floor.weighted_rms_mps2),
            seat_value_passive: over(passive.weighted_rms_mps2, floor.weighted_rms_mps2),
            seat_value_vdv: over(seat.vdv_mps175, floor.vdv_mps175),
            assumptions,
            bound: None,
            share_of_possible: None,
            seat,
            passive,
            travel,
            passive_travel,
            actuator,
            estimate,
            faults,
            real_time_factor,
            arithmetic: spec.arithmetic.name(),
            seed: spec.floor.seed,
            occupant_kg: spec.occupant_kg,
            body: spec.body.name(),
            seconds: spec.seconds,
            skipped_s: spec.skip_s,
        }
    }

    /// Puts the bound beside the figures.
    pub fn set_bound(&mut self, bound: BoundFigures) {
        self.share_of_possible =
            share_of_possible(self.seat_value_passive, self.seat_value, bound.seat_value);
        self.bound = Some(bound);
    }
}
