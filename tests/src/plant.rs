//! Shared by the plant checks: plain configurations, runs and amplitudes.

use host_sim::body::{Body, BodyKind};
use host_sim::plant::{Config, Drive, Plant};
use std::f64::consts::TAU;

/// A frictionless seat of 20 kg on a spring of 2 kN/m with far bumpers, invented; period = step.
pub fn quiet(step_s: f64) -> Config {
    Config {
        seat_kg: 20.0,
        travel_m: 10.0,
        spring_npm: 2000.0,
        viscous_nspm: 0.0,
        coulomb_n: 0.0,
        stiction_n: 0.0,
        stribeck_mps: 0.005,
        bumper_npm15: 2.0e6,
        bumper_spm: 1.0,
        force_constant_npa: 30.0,
        droop: 0.0,
        resistance_20c_ohm: 0.4,
        inductance_h: 0.001,
        current_loop_radps: 1500.0,
        supply_v: 48.0,
        source_ohm: 0.05,
        capacitance_f: 0.05,
        chopper_v: 54.0,
        chopper_band_v: 2.0,
        chopper_ohm: 0.5,
        level_rate_nps: 100.0,
        preload_max_n: 5000.0,
        heat_jpk: [500.0, 4000.0],
        thermal_kpw: [0.4, 0.8],
        ambient_c: 25.0,
        step_s,
        substeps: 1,
    }
}

/// A rigid body of 60 kg: with the quiet seat 80 kg move.
pub fn rigid_60() -> Body {
    Body::new(BodyKind::Rigid, 60.0)
}

/// A plant balanced at mid travel.
pub fn balanced(config: Config, body: Body) -> Plant {
    Plant::new(config, body, Plant::balance_n(&config, &body), 0.0)
}

/// Complex amplitude of a sampled signal at `f_hz` over whole cycles: mean of 2 x exp(-j w t).
#[derive(Clone, Copy, Debug, Default)]
pub struct Phasor {
    pub re: f64,
    pub im: f64,
    samples: f64,
}

impl Phasor {
    pub fn push(&mut self, f_hz: f64, time_s: f64, x: f64) {
        let angle = TAU * f_hz * time_s;
        self.re += 2.0 * x * angle.cos();
        self.im -= 2.0 * x * angle.sin();
        self.samples += 1.0;
    }

    pub fn value(&self) -> (f64, f64) {
        (self.re / self.samples, self.im / self.samples)
    }

    pub fn size(&self) -> f64 {
        let (re, im) = self.value();
        re.hypot(im)
    }
}

/// Complex quotient.
pub fn over(a: (f64, f64), b: (f64, f64)) -> (f64, f64) {
    let size = b.0 * b.0 + b.1 * b.1;
    (
        (a.0 * b.0 + a.1 * b.1) / size,
        (a.1 * b.0 - a.0 * b.1) / size,
    )
}

/// Rides a floor sine of `floor_mps2` at `f_hz` and hands every period after `settle_cycles`,
/// over `cycles` whole cycles, to `look(time_s, floor_mps2, plant)`. `drive` sees the plant.
pub fn ride_sine(
    plant: &mut Plant,
    period_s: f64,
    f_hz: f64,
    floor_mps2: f64,
    (settle_cycles, cycles): (u32, u32),
    mut drive: impl FnMut(&Plant, f64) -> Drive,
    mut look: impl FnMut(f64, f64, &Plant),
) {
    let per_cycle = (1.0 / (f_hz * period_s)).round() as u64;
    let floor = |k: u64| floor_mps2 * (TAU * f_hz * k as f64 * period_s).sin();
    let settle = per_cycle * u64::from(settle_cycles);
    let end = settle + per_cycle * u64::from(cycles);
    for k in 0..end {
        let command = drive(plant, k as f64 * period_s);
        plant.step(floor(k), floor(k + 1), command, 0);
        if k + 1 > settle {
            look((k + 1) as f64 * period_s, floor(k + 1), plant);
        }
    }
}
