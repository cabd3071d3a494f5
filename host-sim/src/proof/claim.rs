//! What is claimed about the travel, and everything that is taken for granted for it.
//!
//! With R and X the travel rate and travel that the arrest foresees for the instant at which a step's
//! force begins to act, s the sum of what was not as foreseen (`arrest::Output::astray`) and
//! z = R - s, the firmware's own formulas give, exactly and whatever the force really did,
//!
//! ```text
//! z[k+1] = z[k] + T (permitted - floor foreseen) + g T s[k]
//! ```
//!
//! Toward an end that is near, the true rate at that instant is at most `foresight_rate_mps` more than
//! R and the true travel `foresight_travel_m` more than X. So bounds on three numbers, which every ride measures (and the firmware
//! one of them), stand for all errors of mass, force, friction, lag, delay, noise and scale. What a
//! machine cannot do (authority) and a delay that the firmware was not told come on top.

use crate::rig::Rig;
use serde::Serialize;
use std::f64::consts::TAU;

/// Numbers of the claim.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Claim {
    /// Floor acceleration, either way, m/s^2.
    pub floor_accel_mps2: f64,
    /// Change of the floor's acceleration, m/s^3.
    pub floor_jerk_mps3: f64,
    /// Lightest occupant, kg.
    pub occupant_min_kg: f64,
    /// Heaviest occupant, kg.
    pub occupant_max_kg: f64,
    /// How far the seat may go astray toward an end that is near, m/s.
    pub astray_mps: f64,
    /// How far where no end is near, and away from a near one, m/s.
    pub astray_away_mps: f64,
    /// How far in one step, m/s.
    pub astray_step_mps: f64,
    /// Distance in rate from the set's edge from which an end is near, m/s.
    pub near_mps: f64,
    /// True travel rate toward a near end less the one foreseen, m/s.
    pub foresight_rate_mps: f64,
    /// True travel rate less the one foreseen where no end is near, m/s.
    pub foresight_rate_away_mps: f64,
    /// True travel toward a near end less the one foreseen, m.
    pub foresight_travel_m: f64,
    /// Delay of the force beyond what the firmware was told, s.
    pub delay_untold_s: f64,
    /// Control period, s.
    pub step_s: f64,
    /// Rate at which what went astray fades, 1/s.
    pub fade_ps: f64,
    /// Acceleration beyond which the clamp never goes, m/s^2.
    pub clamp_mps2: f64,
    /// Travel to the stops, m.
    pub travel_m: f64,
    /// What the machine can do.
    pub authority: Authority,
    /// What is to be shown: highest speed at which a stop is met, m/s.
    pub touch_mps: f64,
}

/// Force that the weakest machine of a rig has to brake the heaviest occupant.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Authority {
    /// Motor force at mid travel, N; negative when it acts the wrong way.
    pub motor_n: f64,
    /// Share by which it falls toward the stops.
    pub droop: f64,
    /// What the motor may carry statically, N: the height adjuster rests below it.
    pub static_n: f64,
    /// Support spring, N/m.
    pub spring_npm: f64,
    /// Viscous friction, N s/m.
    pub viscous_nspm: f64,
    /// Sliding friction, N.
    pub coulomb_n: f64,
    /// Moving mass, kg.
    pub mass_kg: f64,
}

impl Claim {
    /// The claim for a rig: bounds from its sections `proof`, `firmware.arrest` and `firmware.supervise`.
    #[must_use]
    pub fn of(rig: &Rig) -> Self {
        let (arrest, supervise) = (&rig.firmware.arrest, &rig.firmware.supervise);
        let step_s = f64::from(rig.firmware.timing.step_s);
        // As the firmware keeps it: a single-precision constant.
        let keep = 1.0 - arrest.approach_ps * rig.firmware.timing.step_s;
        // The middle of the time in which a command's force acts.
        let delay_s = (rig.timing.transport_steps as f64 + 0.5) * rig.timing.step_s
            + 1.0 / (TAU * rig.actuator.current_loop_hz);
        let motor = &rig.actuator;
        let weakest = motor.force_constant_npa * (1.0 - motor.force_constant_error);
        let current = motor
            .current_max_a
            .min(rig.firmware.limit.current_max_a.into());
        Self {
            floor_accel_mps2: arrest.floor_accel_max_mps2.into(),
            floor_jerk_mps3: rig.proof.floor_jerk_mps3,
            occupant_min_kg: rig.proof.occupant_min_kg,
            occupant_max_kg: rig.proof.occupant_max_kg,
            astray_mps: supervise.proved_astray_mps.into(),
            astray_away_mps: rig.proof.astray_away_mps,
            astray_step_mps: rig.proof.astray_step_mps,
            near_mps: rig.proof.near_mps,
            foresight_rate_mps: rig.proof.foresight_rate_mps,
            foresight_rate_away_mps: rig.proof.foresight_rate_away_mps,
            foresight_travel_m: rig.proof.foresight_travel_m,
            delay_untold_s: (delay_s - f64::from(rig.firmware.timing.latency_s)).max(0.0),
            step_s,
            fade_ps: (1.0 - f64::from(keep)) / step_s,
            clamp_mps2: arrest.accel_max_mps2.into(),
            travel_m: rig.seat.travel_m,
            authority: Authority {
                motor_n: weakest * current,
                droop: motor.force_constant_droop,
                static_n: supervise.level_force_n.into(),
                spring_npm: rig.spring.stiffness_npm,
                viscous_nspm: rig.friction.viscous_nspm,
                coulomb_n: rig.friction.coulomb_n,
                mass_kg: rig.seat.empty_mass_kg
                    + rig.seat.on_seat_share * rig.proof.occupant_max_kg,
            },
            touch_mps: rig.proof.touch_mps,
        }
    }

    /// Speed that comes of a delay of which the firmware was not told, m/s: the sums of what
    /// was permitted and of what acts differ by what is on its way, at most the clamp both ways.
    #[must_use]
    pub const fn untold_mps(&self) -> f64 {
        2.0 * self.clamp_mps2 * self.delay_untold_s
    }

    /// Astray toward a near end, untold delay included, m/s.
    #[must_use]
    pub const fn astray_near_mps(&self) -> f64 {
        self.astray_mps + self.untold_mps()
    }

    /// Astray elsewhere, untold delay included, m/s.
    #[must_use]
    pub const fn astray_far_mps(&self) -> f64 {
        self.astray_away_mps + self.untold_mps()
    }
}

impl Authority {
    /// Largest deceleration of a seat at `travel` from mid travel (m, positive toward the end that it
    /// approaches) that closes at `rate` (m/s), m/s^2.
    ///
    /// Friction helps, and the spring beyond mid travel; before it, it does not.
    #[must_use]
    pub fn braking_mps2(&self, travel: f64, rate: f64, travel_max: f64) -> f64 {
        let share = travel / travel_max;
        let motor = self.motor_n * (1.0 - self.droop * share * share);
        let friction = if rate > 0.0 {
            self.coulomb_n + self.viscous_nspm * rate
        } else {
            0.0
        };
        (motor - self.static_n + self.spring_npm * travel + friction) / self.mass_kg
    }
}
