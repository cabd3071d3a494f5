//! Bounds that the bench works out for the firmware's checks: they follow the normal distribution as it is printed, and
//! those of the default rig are the ones that the register lists.

use firmware::estimate;
use host_sim::design;
use host_sim::limits::constant;
use host_sim::rig::Rig;

fn rig() -> Rig {
    Rig::default_machine().expect("the default rig")
}

/// False alarms in an hour for a chance of each sample.
fn rate(rig: &Rig, chance: f64) -> f64 {
    chance * 3600.0 / rig.timing.step_s
}

/// Noise alone, five million samples: travel's innovation is beyond the bound of a rate twice in a row as often as that
/// rate says. The firmware's own observer, from a standing start, on normal noise that is rounded to counts; nothing of the
/// bench's derivation is used. With the default rig's encoder, whose counts are twice its noise, a seat at rest passes the
/// bounds more often than a normal variable; the three times in a row that the firmware asks for stay below the rate.
// Demonstrates: false-alarm-rate
#[test]
fn innovations_follow_their_chance() {
    let chances = [1.0e-3, 1.0e-4];
    let mut fine = rig();
    fine.sensors.travel.per_count /= 20.0;
    for (chance, [twice, _]) in chances.into_iter().zip(runs_beyond(&fine, chances)) {
        let expected = chance * f64::from(SAMPLES);
        println!("{twice} {expected}");
        // Pairs come in clumps.
        let deviations = 6.0 * (2.0 * expected).sqrt();
        assert!(
            (f64::from(twice) - expected).abs() <= deviations,
            "{chance}: {twice} {expected}"
        );
    }
    let rig = rig();
    for (chance, [twice, thrice]) in chances.into_iter().zip(runs_beyond(&rig, chances)) {
        println!("{twice} {thrice}");
        assert!(f64::from(thrice) <= chance * f64::from(SAMPLES), "{chance}");
    }
    assert_eq!(rig.checks.false_alarms_per_hour, constant::FALSE_ALARM_RATE);
}

const SAMPLES: u32 = 5_000_000;

/// How often noise alone is beyond the bounds for these chances of a sample, twice and three times in a row.
fn runs_beyond(rig: &Rig, chances: [f64; 2]) -> [[u32; 2]; 2] {
    let bound = chances.map(|chance| {
        let mut rig = rig.clone();
        rig.checks.false_alarms_per_hour = rate(&rig, chance);
        let parameters = design::parameters(&rig).expect("parameters");
        f64::from(parameters.agree.travel_noise_m)
    });
    let parameters = design::parameters(rig).expect("parameters");
    let config = (parameters.estimate)
        .build::<f64>(&parameters.timing)
        .expect("an observer");
    let mut state = estimate::State::default();
    let mut normal = Normal::new();
    let sensors = &rig.sensors;
    let mut read = |sensor: &host_sim::rig::Sensor| {
        (sensor.noise_rms * normal.next() / sensor.per_count).round() * sensor.per_count
    };
    let settle = 20_000;
    let mut row = [0_u32; 2];
    let mut found = [[0_u32; 2]; 2];
    for k in 0..settle + SAMPLES {
        let input = estimate::Input::sound(
            read(&sensors.floor_accel),
            read(&sensors.seat_accel),
            read(&sensors.travel),
        );
        let innovation = state.step(&config, &input).travel_innovation.abs();
        for ((bound, row), [twice, thrice]) in bound.iter().zip(&mut row).zip(&mut found) {
            *row = if innovation > *bound { *row + 1 } else { 0 };
            *twice += u32::from(k >= settle && *row >= 2);
            *thrice += u32::from(k >= settle && *row >= 3);
        }
    }
    found
}

/// Normal noise: xorshift64*, Box and Muller's cosine.
struct Normal(u64);

impl Normal {
    const fn new() -> Self {
        Self(0x9E37_79B9_7F4A_7C15)
    }

    fn unit(&mut self) -> f64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        ((self.0.wrapping_mul(0x2545_F491_4F6C_DD1D) >> 11) as f64 + 0.5) / 9_007_199_254_740_992.0
    }

    fn next(&mut self) -> f64 {
        let size = (-2.0 * self.unit().ln()).sqrt();
        size * (std::f64::consts::TAU * self.unit()).cos()
    }
}

/// The chance that a sample ends a run of at least `equal` equal readings of normal noise of `s` counts: the sum over all
/// counts of p^equal, as an integral (2 pi)^(-(n - 1) / 2) s^(1 - n) / sqrt(n). By hand; checked below.
fn chance_of_equal(s: f64, equal: u32) -> f64 {
    let n = f64::from(equal);
    (std::f64::consts::TAU.sqrt() * s).powf(1.0 - n) / n.sqrt()
}

/// Normal noise of the quieter accelerometer, rounded to counts, five million samples: as many runs as the closed form says.
/// By it the bound of the default rig gives false alarms at a rate of their own.
// Demonstrates: false-alarm-rate
#[test]
fn equal_readings_follow_their_chance() {
    let rig = rig();
    let noise = (rig.sensors.floor_accel.noise_rms / rig.sensors.floor_accel.per_count)
        .min(rig.sensors.seat_accel.noise_rms / rig.sensors.seat_accel.per_count);
    let mut normal = Normal::new();
    let samples = 5_000_000_u32;
    let mut runs = [0_u32; 6];
    let (mut last, mut run) = (i64::MIN, 0);
    for _ in 0..samples {
        let value = (noise * normal.next()).round() as i64;
        run = if value == last { run + 1 } else { 1 };
        last = value;
        for (n, count) in runs.iter_mut().enumerate() {
            *count += u32::from(run > n);
        }
    }
    for equal in 2..=5 {
        let expected = f64::from(samples) * chance_of_equal(noise, equal);
        let found = f64::from(runs[equal as usize - 1]);
        // Runs come in clumps: the longer ones are counted in the shorter.
        let deviations = 6.0 * (1.5 * expected).sqrt();
        assert!(
            (found - expected).abs() <= deviations,
            "{equal}: {found} {expected}"
        );
    }
    // A run as long as makes a fault, in an hour.
    let p = design::parameters(&rig).expect("parameters").vet;
    let hourly = rate(
        &rig,
        chance_of_equal(noise, p.stuck_steps + p.fault_steps - 1),
    );
    println!("{hourly:.2e} false alarms in an hour");
    assert!(hourly <= constant::FALSE_ALARM_RATE, "{hourly}");
    // And not one more than that takes.
    let shorter = chance_of_equal(noise, p.stuck_steps + p.fault_steps - 2);
    assert!(rate(&rig, shorter) > constant::FALSE_ALARM_RATE);
}

/// What is worked out for the default rig is what the register lists.
// Demonstrates: stuck-readings, travel-noise, travel-scale
#[test]
fn worked_out_bounds_are_those_of_the_register() {
    let p = design::parameters(&rig()).expect("parameters");
    for (what, found, listed) in [
        (
            "stuck-readings",
            f64::from(p.vet.stuck_steps),
            constant::STUCK_READINGS,
        ),
        (
            "travel-noise",
            p.agree.travel_noise_m.into(),
            constant::TRAVEL_NOISE,
        ),
        (
            "travel-scale",
            p.agree.travel_scale_s2.into(),
            constant::TRAVEL_SCALE,
        ),
        (
            "bias-most",
            p.estimate.bias_max_mps2.into(),
            constant::BIAS_MOST,
        ),
    ] {
        assert!(
            (found / listed - 1.0).abs() < 1.0e-6,
            "{what}: {found} {listed}"
        );
    }
}
