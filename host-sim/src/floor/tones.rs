//! Sines: steady, stepped in octaves, and swept.
//!
//! Each is a displacement in closed form, multiplied by a smooth window; the acceleration is its
//! exact second derivative. So the motion starts and ends at rest and without an offset.

use super::FloorSource;
use super::error::FloorError;
use super::options::{OptionSpec, Options, option};
use super::ramp::{Jet, ramp, window};
use std::f64::consts::{PI, SQRT_2};

const DISPLACEMENT_LIMIT_M: f64 = 0.03;

/// Options of the steady sine.
pub(crate) const SINE_OPTIONS: [OptionSpec; 4] = [
    option("f", "Hz", Some(2.0), 0.05, 200.0, "frequency"),
    option(
        "rms",
        "m/s2",
        None,
        0.0,
        50.0,
        "r.m.s.; 1 if amp is not given either",
    ),
    option("amp", "m/s2", None, 0.0, 70.0, "amplitude, instead of rms"),
    option(
        "ramp",
        "s",
        None,
        0.0,
        60.0,
        "fade-in of the displacement; 2 periods, at least 1 s",
    ),
];

/// Options of the stepped sine.
pub(crate) const STEPS_OPTIONS: [OptionSpec; 4] = [
    option(
        "dwell",
        "s",
        Some(10.0),
        3.0,
        600.0,
        "time at each frequency",
    ),
    option(
        "rms",
        "m/s2",
        Some(1.0),
        0.0,
        50.0,
        "r.m.s. where the limit permits",
    ),
    option(
        "limit",
        "m",
        Some(DISPLACEMENT_LIMIT_M),
        0.0,
        1.0,
        "greatest displacement at level 1",
    ),
    option(
        "ramp",
        "s",
        Some(1.0),
        0.2,
        10.0,
        "fade-in and fade-out of each dwell",
    ),
];

/// Options of the swept sine.
pub(crate) const CHIRP_OPTIONS: [OptionSpec; 6] = [
    option("from", "Hz", Some(0.5), 0.05, 200.0, "first frequency"),
    option("to", "Hz", Some(40.0), 0.05, 200.0, "last frequency"),
    option("time", "s", Some(60.0), 1.0, 3600.0, "length of the sweep"),
    option(
        "rms",
        "m/s2",
        Some(1.0),
        0.0,
        50.0,
        "r.m.s. where the limit permits",
    ),
    option(
        "limit",
        "m",
        Some(DISPLACEMENT_LIMIT_M),
        1e-6,
        1.0,
        "greatest displacement at level 1",
    ),
    option("ramp", "s", Some(2.0), 0.2, 60.0, "fade-in and fade-out"),
];

/// A sine needs eight samples a period or more.
fn check_rate(
    options: &Options,
    key: &str,
    frequency_hz: f64,
    rate_hz: f64,
) -> Result<(), FloorError> {
    if frequency_hz <= rate_hz / 8.0 {
        return Ok(());
    }
    Err(options.refuse(
        key,
        format!("at most an eighth of the sample rate, {} Hz", rate_hz / 8.0),
    ))
}

/// Counts samples.
struct Clock {
    index: u64,
    interval_s: f64,
}

impl Clock {
    fn new(sample_rate_hz: f64) -> Self {
        Self {
            index: 0,
            interval_s: 1.0 / sample_rate_hz,
        }
    }

    fn next_s(&mut self) -> f64 {
        let time_s = self.index as f64 * self.interval_s;
        self.index += 1;
        time_s
    }
}

/// Sine of constant amplitude: value and derivatives at `time_s`.
fn steady(displacement_m: f64, omega: f64, time_s: f64) -> Jet {
    Jet {
        value: omega * time_s,
        rate: omega,
        curvature: 0.0,
    }
    .sin()
    .times(displacement_m)
}

/// A steady sine.
pub(crate) struct Sine {
    clock: Clock,
    omega: f64,
    displacement_m: f64,
    ramp_s: f64,
}

impl Sine {
    pub(crate) fn new(options: &Options, level: f64, rate_hz: f64) -> Result<Self, FloorError> {
        let frequency_hz = options.value_or("f", 2.0);
        check_rate(options, "f", frequency_hz, rate_hz)?;
        let amplitude = match (options.given("rms"), options.given("amp")) {
            (Some(_), Some(_)) => {
                return Err(options.refuse("amp", "either rms or amp, not both".to_owned()));
            }
            (None, Some(amp)) => amp,
            (rms, None) => SQRT_2 * rms.unwrap_or(1.0),
        };
        let omega = 2.0 * PI * frequency_hz;
        Ok(Self {
            clock: Clock::new(rate_hz),
            omega,
            displacement_m: level * amplitude / (omega * omega),
            ramp_s: options.value_or("ramp", (2.0 / frequency_hz).max(1.0)),
        })
    }
}

impl FloorSource for Sine {
    fn next_accel(&mut self) -> f64 {
        let time_s = self.clock.next_s();
        steady(self.displacement_m, self.omega, time_s)
            .product(ramp(time_s, self.ramp_s))
            .curvature
    }

    fn duration_s(&self) -> Option<f64> {
        None
    }
}

/// 1, 2, 4, 8, 16, 32 Hz in turn, each with its own window.
pub(crate) struct Steps {
    clock: Clock,
    amplitude_mps2: f64,
    limit_m: f64,
    dwell_s: f64,
    ramp_s: f64,
    level: f64,
}

const STEP_COUNT: f64 = 6.0;

impl Steps {
    pub(crate) fn new(options: &Options, level: f64, rate_hz: f64) -> Result<Self, FloorError> {
        if rate_hz < 256.0 {
            return Err(FloorError::BadField {
                field: "sample_rate_hz",
                value: rate_hz,
                expected: "at least 256 Hz for the step at 32 Hz",
            });
        }
        let dwell_s = options.value_or("dwell", 10.0);
        let ramp_s = options.value_or("ramp", 1.0);
        if 2.0 * ramp_s > dwell_s {
            return Err(options.refuse("ramp", format!("at most half of the dwell, {dwell_s} s")));
        }
        Ok(Self {
            clock: Clock::new(rate_hz),
            amplitude_mps2: SQRT_2 * options.value_or("rms", 1.0),
            limit_m: options.value_or("limit", DISPLACEMENT_LIMIT_M),
            dwell_s,
            ramp_s,
            level,
        })
    }
}

impl FloorSource for Steps {
    fn next_accel(&mut self) -> f64 {
        let time_s = self.clock.next_s();
        let step = (time_s / self.dwell_s).floor();
        if step >= STEP_COUNT {
            return 0.0;
        }
        let omega = 2.0 * PI * step.exp2();
        let displacement_m = self.limit_m.min(self.amplitude_mps2 / (omega * omega));
        let inside_s = time_s - step * self.dwell_s;
        steady(self.level * displacement_m, omega, inside_s)
            .product(window(inside_s, self.dwell_s, self.ramp_s))
            .curvature
    }

    fn duration_s(&self) -> Option<f64> {
        Some(STEP_COUNT * self.dwell_s)
    }
}

/// A logarithmic sweep.
pub(crate) struct Chirp {
    clock: Clock,
    first_omega: f64,
    growth: f64,
    length_s: f64,
    amplitude_mps2: f64,
    limit_m: f64,
    ramp_s: f64,
    level: f64,
}

impl Chirp {
    pub(crate) fn new(options: &Options, level: f64, rate_hz: f64) -> Result<Self, FloorError> {
        let (from_hz, to_hz) = (options.value_or("from", 0.5), options.value_or("to", 40.0));
        check_rate(options, "from", from_hz, rate_hz)?;
        check_rate(options, "to", to_hz, rate_hz)?;
        if from_hz == to_hz {
            return Err(options.refuse("to", "another frequency than 'from'".to_owned()));
        }
        let length_s = options.value_or("time", 60.0);
        let ramp_s = options.value_or("ramp", 2.0);
        if 2.0 * ramp_s > length_s {
            return Err(options.refuse("ramp", format!("at most half of the time, {length_s} s")));
        }
        Ok(Self {
            clock: Clock::new(rate_hz),
            first_omega: 2.0 * PI * from_hz,
            growth: (to_hz / from_hz).ln() / length_s,
            length_s,
            amplitude_mps2: SQRT_2 * options.value_or("rms", 1.0),
            limit_m: options.value_or("limit", DISPLACEMENT_LIMIT_M),
            ramp_s,
            level,
        })
    }
}

impl FloorSource for Chirp {
    fn next_accel(&mut self) -> f64 {
        let time_s = self.clock.next_s();
        if time_s >= self.length_s {
            return 0.0;
        }
        let k = self.growth;
        let omega = self.first_omega * (k * time_s).exp();
        let phase = Jet {
            value: (omega - self.first_omega) / k,
            rate: omega,
            curvature: k * omega,
        };
        // Amplitude of the displacement: a smooth minimum of A / omega^2 and the limit L,
        // A / omega^2 (1 + (A / (omega^2 L))^8)^(-1/8).
        let wanted = Jet {
            value: omega,
            rate: k * omega,
            curvature: k * k * omega,
        }
        .powf(-2.0)
        .times(self.amplitude_mps2);
        let displacement = wanted.product(
            wanted
                .times(1.0 / self.limit_m)
                .powf(8.0)
                .plus(1.0)
                .powf(-0.125),
        );
        self.level
            * displacement
                .product(phase.sin())
                .product(window(time_s, self.length_s, self.ramp_s))
                .curvature
    }

    fn duration_s(&self) -> Option<f64> {
        Some(self.length_s)
    }
}
