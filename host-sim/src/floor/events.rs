//! Single events: a drop and rise, a bump, a shock.
//!
//! Times are rounded to whole samples. Where a pulse begins or ends with a jump in acceleration,
//! the sample there takes the mean of both sides, and the pulse is mirrored about its middle, so the
//! piecewise-linear acceleration leaves no velocity behind. Amplitudes are then scaled so that the
//! change of displacement (or, for the shock, the compensation) is exact.

use super::FloorSource;
use super::error::FloorError;
use super::options::{OptionSpec, Options, option};
use std::f64::consts::PI;

/// When an event comes: the seat has risen and is level by then, s.
pub(crate) const AT_S: f64 = 12.0;

/// Options of the drop and rise.
pub(crate) const EDGE_OPTIONS: [OptionSpec; 4] = [
    option("at", "s", Some(AT_S), 0.0, 3600.0, "start of the drop"),
    option("height", "m", Some(0.06), -1.0, 1.0, "depth of the drop"),
    option(
        "hold",
        "s",
        Some(0.5),
        0.005,
        60.0,
        "from the start of the drop to the start of the rise",
    ),
    option(
        "flank",
        "s",
        Some(0.12),
        0.005,
        10.0,
        "length of each flank, at most 'hold'",
    ),
];

/// Options of the bump.
pub(crate) const BUMP_OPTIONS: [OptionSpec; 3] = [
    option("at", "s", Some(AT_S), 0.0, 3600.0, "start"),
    option("height", "m", Some(0.09), -1.0, 1.0, "height at the middle"),
    option("time", "s", Some(0.5), 0.01, 60.0, "length"),
];

/// Options of the shock.
pub(crate) const SHOCK_OPTIONS: [OptionSpec; 4] = [
    option(
        "at",
        "s",
        Some(AT_S),
        0.0,
        3600.0,
        "start of the compensation before the shock",
    ),
    option(
        "peak",
        "m/s2",
        Some(20.0),
        -500.0,
        500.0,
        "peak of the half sine",
    ),
    option(
        "width",
        "s",
        Some(0.02),
        0.002,
        1.0,
        "length of the half sine",
    ),
    option(
        "comp",
        "s",
        None,
        0.002,
        10.0,
        "length of each compensating pulse; 5 x width",
    ),
];

/// A pulse in samples: its value at sample `k` of `length`.
#[derive(Debug, Clone, Copy)]
enum Form {
    /// Half cosine, odd about the middle: one flank.
    Flank,
    /// Full cosine, even about the middle: up and down again.
    Haversine,
    /// Half sine.
    HalfSine,
}

#[derive(Debug, Clone, Copy)]
struct Pulse {
    form: Form,
    start: u64,
    length: u64,
    scale_mps2: f64,
}

impl Pulse {
    fn at(&self, index: u64) -> f64 {
        if index < self.start || index > self.start + self.length {
            return 0.0;
        }
        self.scale_mps2 * unit(self.form, index - self.start, self.length)
    }
}

/// Value of a pulse of scale 1; mirrored exactly about the middle.
fn unit(form: Form, k: u64, length: u64) -> f64 {
    let mirrored = k > length / 2;
    let near = if mirrored { length - k } else { k };
    let share = near as f64 / length as f64;
    // The mean of both sides of the jump.
    let half = if near == 0 { 0.5 } else { 1.0 };
    match form {
        Form::Flank if 2 * k == length => 0.0,
        Form::Flank if mirrored => -half * (PI * share).cos(),
        Form::Flank => half * (PI * share).cos(),
        Form::Haversine => half * (2.0 * PI * share).cos(),
        Form::HalfSine => (PI * share).sin(),
    }
}

/// Impulse (m/s) of a pulse of scale 1.
fn unit_impulse(form: Form, length: u64, interval_s: f64) -> f64 {
    (0..=length).map(|k| unit(form, k, length)).sum::<f64>() * interval_s
}

/// Displacement (m) that a flank of scale 1 leaves behind: minus the first moment of its impulses.
fn unit_rise(length: u64, interval_s: f64) -> f64 {
    -(0..=length)
        .map(|k| unit(Form::Flank, k, length) * k as f64)
        .sum::<f64>()
        * interval_s
        * interval_s
}

/// A floor that moves by single pulses.
pub(crate) struct Events<const N: usize> {
    pulses: [Pulse; N],
    index: u64,
}

fn samples(time_s: f64, rate_hz: f64) -> u64 {
    (time_s * rate_hz).round() as u64
}

/// A pulse needs some samples to have a shape.
fn length(options: &Options, key: &str, time_s: f64, rate_hz: f64) -> Result<u64, FloorError> {
    let length = samples(time_s, rate_hz);
    if length < 4 {
        return Err(options.refuse(key, format!("at least 4 samples at {rate_hz} Hz")));
    }
    Ok(length)
}

/// The floor drops, and rises again.
pub(crate) fn edge(options: &Options, level: f64, rate_hz: f64) -> Result<Events<2>, FloorError> {
    let (flank_s, hold_s) = (
        options.value_or("flank", 0.12),
        options.value_or("hold", 0.5),
    );
    if flank_s > hold_s {
        return Err(options.refuse("flank", format!("at most 'hold', {hold_s} s")));
    }
    let length = length(options, "flank", flank_s, rate_hz)?;
    let start = samples(options.value_or("at", AT_S), rate_hz);
    let scale_mps2 = level * options.value_or("height", 0.06) / unit_rise(length, 1.0 / rate_hz);
    let drop = Pulse {
        form: Form::Flank,
        start,
        length,
        scale_mps2: -scale_mps2,
    };
    let rise = Pulse {
        start: start + samples(hold_s, rate_hz).max(length),
        scale_mps2,
        ..drop
    };
    Ok(Events {
        pulses: [drop, rise],
        index: 0,
    })
}

/// The floor rises by a haversine and comes back.
pub(crate) fn bump(options: &Options, level: f64, rate_hz: f64) -> Result<Events<1>, FloorError> {
    let length = length(options, "time", options.value_or("time", 0.5), rate_hz)?;
    let turn = 2.0 * PI * rate_hz / length as f64;
    Ok(Events {
        pulses: [Pulse {
            form: Form::Haversine,
            start: samples(options.value_or("at", AT_S), rate_hz),
            length,
            scale_mps2: 0.5 * level * options.value_or("height", 0.09) * turn * turn,
        }],
        index: 0,
    })
}

/// A half sine between two longer, opposite half sines of half its impulse each: neither velocity
/// nor displacement is left behind.
pub(crate) fn shock(options: &Options, level: f64, rate_hz: f64) -> Result<Events<3>, FloorError> {
    let width_s = options.value_or("width", 0.02);
    let width = length(options, "width", width_s, rate_hz)?;
    let side = length(
        options,
        "comp",
        options.value_or("comp", 5.0 * width_s),
        rate_hz,
    )?;
    let peak = level * options.value_or("peak", 20.0);
    let interval_s = 1.0 / rate_hz;
    let share = unit_impulse(Form::HalfSine, width, interval_s)
        / unit_impulse(Form::HalfSine, side, interval_s);
    let before = Pulse {
        form: Form::HalfSine,
        start: samples(options.value_or("at", AT_S), rate_hz),
        length: side,
        scale_mps2: -0.5 * peak * share,
    };
    let main = Pulse {
        start: before.start + side,
        length: width,
        scale_mps2: peak,
        ..before
    };
    let after = Pulse {
        start: main.start + width,
        ..before
    };
    Ok(Events {
        pulses: [before, main, after],
        index: 0,
    })
}

impl<const N: usize> FloorSource for Events<N> {
    fn next_accel(&mut self) -> f64 {
        let index = self.index;
        self.index += 1;
        self.pulses.iter().map(|pulse| pulse.at(index)).sum()
    }

    fn duration_s(&self) -> Option<f64> {
        None
    }
}
