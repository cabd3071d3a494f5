//! Residuals of what is known twice ([`firmware::agree`]) over a healthy ride, worked out again from what the ride shows.
//!
//! A residual counts when it stands for as many periods in a row as make a fault of bad samples, that of travel for three;
//! shorter ones are borne. Where a bound grows with a peak, the figures say to what share of the bound it came, as that share of each of its parts.

use crate::ride::Sample;
use firmware::Parameters;
use firmware::isolate::SHAKEN_S;
use serde::Serialize;
use shared_math::{Scalar, Turn};
use std::collections::VecDeque;

/// In odd steps a peak of the seat's acceleration fades by this part, as in `firmware::agree`.
const FADE: f64 = 1.0 / 16.0;
/// Periods in a row of travel's residual that make a fault.
const TRAVEL_PERIODS: u32 = 3;

/// What the residuals came to.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub(super) struct ResidualFigures {
    travel_noise_m: f64,
    travel_scale_s2: f64,
    current_a: f64,
    load_change_n: f64,
    load_n: f64,
    load_mass_kg: f64,
}

/// The largest value that stood for so many periods in a row.
#[derive(Clone, Debug)]
struct Lasting {
    last: VecDeque<f64>,
    most: f64,
}

impl Lasting {
    fn new(periods: u32) -> Self {
        Self {
            last: std::iter::repeat_n(0.0, periods as usize).collect(),
            most: 0.0,
        }
    }

    fn see(&mut self, value: f64) {
        self.last.pop_front();
        self.last.push_back(value);
        let least = self.last.iter().copied().fold(f64::INFINITY, f64::min);
        self.most = self.most.max(least);
    }
}

/// Looks at a ride period by period.
#[derive(Clone, Debug)]
pub(super) struct Residuals {
    told: Parameters,
    shaken: f64,
    seat_peak: f64,
    commands: [i16; 4],
    drove: bool,
    /// Even steps until load and current are judged again.
    carried: u32,
    /// Shares of their bounds; the current in counts.
    travel: Lasting,
    current: Lasting,
    change: Lasting,
    load: Lasting,
    /// As last looked at: current, change of load, load.
    found: [f64; 3],
}

impl Residuals {
    pub(super) fn new(told: &Parameters) -> Self {
        let lasting = || Lasting::new(told.vet.fault_steps);
        Self {
            told: *told,
            shaken: 0.0,
            seat_peak: 0.0,
            commands: [0; 4],
            drove: false,
            carried: 0,
            travel: Lasting::new(TRAVEL_PERIODS),
            current: lasting(),
            change: lasting(),
            load: lasting(),
            found: [0.0; 3],
        }
    }

    pub(super) fn figures(&self) -> ResidualFigures {
        let agree = &self.told.agree;
        let load = self.change.most.max(self.load.most);
        ResidualFigures {
            travel_noise_m: self.travel.most * f64::from(agree.travel_noise_m),
            travel_scale_s2: self.travel.most * f64::from(agree.travel_scale_s2),
            current_a: self.current.most * f64::from(self.told.calibrate.current.per_count).abs(),
            load_change_n: self.change.most * f64::from(agree.load_change_n),
            load_n: self.load.most * f64::from(agree.load_n),
            load_mass_kg: load * f64::from(agree.load_mass_kg),
        }
    }

    pub(super) fn see(&mut self, s: &Sample) {
        let (inside, told) = (&s.inside, &self.told);
        let (agree, step_s) = (&told.agree, f64::from(told.timing.step_s));
        let motion = &inside.motion;
        // By the peak as it was before this period.
        let scale = f64::from(agree.travel_scale_s2) * self.shaken;
        let bound = f64::from(agree.travel_noise_m) + scale;
        self.travel.see(motion.travel_innovation.abs() / bound);
        let fade = step_s / f64::from(SHAKEN_S);
        let moved = match motion.turn {
            Turn::Odd => motion.floor_accel,
            Turn::Even => motion.seat_accel,
        };
        self.shaken = (self.shaken * (1.0 - fade)).max(moved.abs());

        let permit = &inside.permit;
        match motion.turn {
            Turn::Even => {
                let free_m = f64::from(agree.free_travel_m);
                let travel_m = f64::from_q24(inside.readings.travel);
                self.carried = if travel_m.abs() > free_m {
                    (0.5 * f64::from(agree.free_after_s) / step_s).round() as u32
                } else {
                    self.carried.saturating_sub(1)
                };
                let low = self.commands.iter().copied().min().unwrap_or(0);
                let high = self.commands.iter().copied().max().unwrap_or(0);
                let current = i32::from(s.frame.current);
                let outside = (i32::from(low) - current).max(current - i32::from(high));
                self.found[0] = if self.carried == 0 {
                    f64::from(outside.max(0))
                } else {
                    0.0
                };
            }
            Turn::Odd => {
                let disturbance = inside.drive.disturbance;
                let faded = self.seat_peak * (1.0 - FADE);
                self.seat_peak = motion.seat_accel.abs().max(faded);
                let peak = 1.0e-3 * f64::from(agree.load_mass_kg) * self.seat_peak;
                let share = |size: f64, bound_n: f32| {
                    if self.carried == 0 {
                        size.abs() / (1.0e-3 * f64::from(bound_n) + peak)
                    } else {
                        0.0
                    }
                };
                let unlike = disturbance - inside.static_force;
                let (change, load) = if inside.weighed {
                    (share(unlike, agree.load_change_n), 0.0)
                } else {
                    (0.0, share(unlike, agree.load_n))
                };
                self.found[1] = change;
                self.found[2] = load;
            }
        }
        // Judged while the seat is driven, and was before.
        let driven = self.drove && permit.drives;
        let [current, change, load] = self.found.map(|x| if driven { x } else { 0.0 });
        self.current.see(current);
        self.change.see(change);
        self.load.see(load);
        self.drove = permit.drives;
        self.commands.rotate_right(1);
        self.commands[0] = s.drive.current_command;
    }
}
