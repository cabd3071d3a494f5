//! Sines, sweeps and single events against their closed forms.

use host_sim::floor::{FloorMotion, FloorSpec, FloorState, build};
use std::f64::consts::PI;

/// When single events begin without the option `at`, s: by then the seat has risen.
const AT_S: f64 = 12.0;

/// States at every sample up to `length_s`.
fn states(name: &str, rate_hz: f64, length_s: f64) -> Vec<FloorState> {
    let mut source = build(&FloorSpec::named(name), rate_hz).unwrap();
    let mut motion = FloorMotion::new(rate_hz, source.next_accel(), source.next_accel());
    (0..=(length_s * rate_hz).round() as usize)
        .map(|_| {
            let state = motion.start();
            motion.advance(source.next_accel());
            state
        })
        .collect()
}

fn peak(states: &[FloorState], of: impl Fn(&FloorState) -> f64) -> f64 {
    states.iter().fold(0.0, |m: f64, s| m.max(of(s).abs()))
}

/// At rest, at `displacement_m`, to rounding.
fn assert_rest(state: FloorState, displacement_m: f64, what: &str) {
    assert_eq!(state.accel_mps2, 0.0, "{what}");
    assert!(state.velocity_mps.abs() < 1e-12, "{what}: {state:?}");
    assert!(
        (state.displacement_m - displacement_m).abs() < 1e-11,
        "{what}: {state:?}"
    );
}

/// Half cosine x = h/2 (1 - cos(pi t / T)): peak acceleration h pi^2 / (2 T^2), peak velocity
/// h pi / (2 T).
#[test]
fn edge_closed_forms() {
    for (name, height, flank, hold) in [
        ("edge", 0.06, 0.12, 0.5),
        ("edge:flank=0.08,height=0.04", 0.04, 0.08, 0.5),
        ("edge:flank=0.0875,hold=0.3", 0.06, 0.0875, 0.3),
        ("edge:height=-0.1,flank=0.5", -0.1, 0.5, 0.5),
    ] {
        for rate_hz in [500.0, 1000.0, 4000.0] {
            let states = states(name, rate_hz, AT_S + 2.0);
            let at = |t: f64| states[(t * rate_hz).round() as usize];
            assert_rest(at(AT_S - 1.0 / rate_hz), 0.0, name);
            // Times are rounded to whole samples, so the flank may end one sample later.
            let flank_s = (flank * rate_hz).round() / rate_hz;
            let closed = |s: f64| -0.5 * height * (1.0 - (PI * s / flank_s).cos());
            let start = states[(AT_S * rate_hz) as usize].displacement_m;
            for share in [0.25, 0.5, 0.75] {
                let s = (share * flank_s * rate_hz).round() / rate_hz;
                let error = at(AT_S + s).displacement_m - closed(s);
                assert!(error.abs() < 1e-4, "{name} {rate_hz} {share}: {error}");
            }
            // The interval before the flank rises linearly to the mean of the jump, half of the peak.
            let before = height * PI * PI / (4.0 * flank_s * flank_s) / (6.0 * rate_hz * rate_hz);
            assert!(
                (start + before).abs() < 0.01 * before.abs(),
                "{name} {rate_hz}: {start}"
            );
            if hold > flank {
                assert_rest(at(AT_S + 0.5 * (flank_s + hold)), -height, name);
            }
            assert_rest(states[states.len() - 1], 0.0, name);
            let accel = peak(&states, |s| s.accel_mps2);
            let form = height.abs() * PI * PI / (2.0 * flank_s * flank_s);
            // Without a gap, the two flanks meet and the halves of their jumps add up; otherwise the
            // first whole sample lies cos(pi dt / T) below the closed form.
            let step = PI / (flank_s * rate_hz);
            assert!(
                (accel / form - 1.0).abs() < step * step,
                "{name} {rate_hz}: {accel} {form}"
            );
            let velocity = peak(&states, |s| s.velocity_mps);
            let form = height.abs() * PI / (2.0 * flank_s);
            assert!(
                (velocity / form - 1.0).abs() < step * step,
                "{name}: {velocity} {form}"
            );
        }
    }
}

/// Haversine x = h/2 (1 - cos(2 pi t / T)): peak acceleration 2 pi^2 h / T^2, peak displacement h.
#[test]
fn bump_closed_forms() {
    for (name, height, length) in [
        ("bump", 0.09_f64, 0.5),
        ("bump:height=-0.05,time=0.2", -0.05, 0.2),
        ("bump:time=0.317", 0.09, 0.317),
    ] {
        let states = states(name, 1000.0, AT_S + 1.0);
        assert_rest(states[11_999], 0.0, name);
        assert_rest(states[13_000], 0.0, name);
        let step = 2.0 * PI / (1000.0 * length);
        let displacement = peak(&states, |s| s.displacement_m);
        assert!(
            (displacement / height.abs() - 1.0).abs() < step * step,
            "{displacement}"
        );
        assert!((displacement - height.abs()).abs() < 1e-4);
        let accel = peak(&states, |s| s.accel_mps2);
        let form = 2.0 * PI * PI * height.abs() / (length * length);
        assert!(
            (accel / form - 1.0).abs() < step * step,
            "{name}: {accel} {form}"
        );
    }
}

/// Half sine of peak A and width T: velocity change 2 A T / pi; the two compensating pulses take half
/// of it each, at 1/10 of the peak for 5 x T.
#[test]
fn shock_closed_forms() {
    let states_ = states("shock", 1000.0, AT_S + 1.0);
    assert_rest(states_[13_000], 0.0, "shock");
    assert_rest(states_[11_999], 0.0, "shock");
    assert!((peak(&states_, |s| s.accel_mps2) - 20.0).abs() < 1e-12);
    let change = states_[12_120].velocity_mps - states_[12_100].velocity_mps;
    let form = 2.0 * 20.0 * 0.02 / PI;
    // The trapezoidal rule on a half sine of 20 intervals: relative error (pi / 20)^2 / 12.
    assert!((change / form - 1.0).abs() < 0.0025, "{change} {form}");
    assert!((states_[12_100].velocity_mps + 0.5 * change).abs() < 1e-12);
    let before = peak(&states_[..12_100], |s| s.accel_mps2);
    assert!((before / 2.0 - 1.0).abs() < 0.0025, "{before}");
    let other = states("shock:peak=-50,width=0.011,comp=0.2", 2000.0, AT_S + 2.0);
    assert_rest(other[28_000], 0.0, "shock with options");
    assert!((peak(&other, |s| s.accel_mps2) - 50.0).abs() < 1e-12);
}

/// Steady sine: r.m.s. and displacement A / omega^2 around zero; no drift.
#[test]
fn sine_closed_forms() {
    for (name, f, rms) in [
        ("sine", 2.0, 1.0),
        ("sine:f=0.5,rms=0.3", 0.5, 0.3),
        ("sine:f=16,amp=2", 16.0, 2.0_f64.sqrt()),
    ] {
        let states = states(name, 1000.0, 120.0);
        assert_eq!(states[0], FloorState::default());
        let settled = &states[100_000..120_000];
        let square: f64 = settled.iter().map(|s| s.accel_mps2.powi(2)).sum();
        // A whole number of periods.
        assert!(
            ((square / 20_000.0).sqrt() / rms - 1.0).abs() < 1e-9,
            "{name}"
        );
        let mean: f64 = settled.iter().map(|s| s.displacement_m).sum::<f64>() / 20_000.0;
        let form = rms * 2.0_f64.sqrt() / (2.0 * PI * f).powi(2);
        assert!(mean.abs() < 1e-6, "{name}: {mean}");
        // Linear interpolation takes (omega dt)^2 / 12 off.
        let off = peak(settled, |s| s.displacement_m) / form - 1.0;
        let allowed = (2.0 * PI * f / 1000.0).powi(2) / 12.0;
        assert!(off.abs() < 2.0 * allowed + 1e-4, "{name}: {off}");
        // The jerk of the start is that of the ramp: no jump.
        let first: f64 = peak(&states[..10], |s| s.accel_mps2);
        assert!(first < 0.01 * rms, "{name}: {first}");
    }
}

/// Octave steps: 1 m/s2 r.m.s., but 30 mm; at rest without an offset between the dwells.
#[test]
fn steps_closed_forms() {
    let states = states("steps", 1000.0, 62.0);
    for step in 0..6_usize {
        let f = 2.0_f64.powi(step as i32);
        let middle = &states[step * 10_000 + 2000..step * 10_000 + 8000];
        let square: f64 = middle.iter().map(|s| s.accel_mps2.powi(2)).sum();
        let omega = 2.0 * PI * f;
        let wanted = (0.03 * omega * omega / 2.0_f64.sqrt()).min(1.0);
        let rms = (square / 6000.0).sqrt();
        assert!((rms / wanted - 1.0).abs() < 1e-9, "{f}: {rms} {wanted}");
        let end = states[step * 10_000];
        assert!(end.velocity_mps.abs() < 1e-7, "{f}: {end:?}");
        assert!(end.displacement_m.abs() < 1e-6, "{f}: {end:?}");
    }
    assert!(peak(&states, |s| s.displacement_m) < 0.0301);
    assert_eq!(states[60_500].accel_mps2, 0.0);
    let source = build(&FloorSpec::named("steps"), 1000.0).unwrap();
    assert_eq!(source.duration_s(), Some(60.0));
}

/// Sweep: limit at the low end, r.m.s. at the high end, at rest after it.
#[test]
fn chirp_closed_forms() {
    let states = states("chirp", 1000.0, 61.0);
    assert!(peak(&states, |s| s.displacement_m) < 0.0301);
    // At 3 Hz and above, the smooth minimum is within (A / (omega^2 L))^8 / 8 < 1e-5 of A.
    let high = &states[50_000..57_000];
    let square: f64 = high.iter().map(|s| s.accel_mps2.powi(2)).sum();
    assert!(((square / 7000.0).sqrt() - 1.0).abs() < 2e-3);
    // Instantaneous frequency 0.5 (80)^(t / 60): zero crossings between 30 s and 50 s.
    let k = 80.0_f64.ln() / 60.0;
    let cycles = 0.5 / k * ((50.0 * k).exp() - (30.0 * k).exp());
    let crossings = states[30_000..=50_000]
        .windows(2)
        .filter(|pair| pair[0].accel_mps2 * pair[1].accel_mps2 < 0.0)
        .count();
    assert!(
        (crossings as f64 - 2.0 * cycles).abs() <= 1.0,
        "{crossings} {cycles}"
    );
    let end = states[60_500];
    assert_eq!(end.accel_mps2, 0.0);
    assert!(end.velocity_mps.abs() < 1e-6, "{end:?}");
    assert!(end.displacement_m.abs() < 1e-4, "{end:?}");
    let down = self::states("chirp:from=20,to=1,time=10,ramp=1", 1000.0, 11.0);
    assert!(peak(&down, |s| s.displacement_m) < 0.0301);
    assert!(down[10_500].velocity_mps.abs() < 1e-6);
}

/// Constant acceleration: v = a t, x = a t^2 / 2. Linear acceleration j t: v = j t^2 / 2,
/// x = j t^3 / 6. Both exact, within an interval too.
#[test]
fn integrator_is_exact_for_polynomials() {
    let mut constant = FloorMotion::new(100.0, 3.0, 3.0);
    let mut linear = FloorMotion::new(100.0, 0.0, 0.02);
    for index in 0..1000 {
        for fraction in [0.0, 0.3, 1.0] {
            let t = (f64::from(index) + fraction) / 100.0;
            let state = constant.at(fraction);
            assert!((state.velocity_mps - 3.0 * t).abs() < 1e-10);
            assert!((state.displacement_m - 1.5 * t * t).abs() < 1e-9);
            let state = linear.at(fraction);
            assert!((state.accel_mps2 - 2.0 * t).abs() < 1e-10);
            assert!((state.velocity_mps - t * t).abs() < 1e-9);
            assert!((state.displacement_m - t * t * t / 3.0).abs() < 1e-8);
        }
        constant.advance(3.0);
        linear.advance(0.02 * f64::from(index + 2));
    }
}

/// Two half intervals give the same as a whole one; the interval's end is the next one's start.
#[test]
fn integrator_is_consistent() {
    let mut source = build(&FloorSpec::named("hauler"), 1000.0).unwrap();
    let mut motion = FloorMotion::new(1000.0, source.next_accel(), source.next_accel());
    for _ in 0..5000 {
        let (half, end) = (motion.at(0.5), motion.at(1.0));
        let again = half.after(end.accel_mps2, 0.0005, 1.0);
        assert!((again.velocity_mps - end.velocity_mps).abs() < 1e-14);
        assert!((again.displacement_m - end.displacement_m).abs() < 1e-14);
        motion.advance(source.next_accel());
        let next = motion.start();
        assert!((next.accel_mps2 - end.accel_mps2).abs() < 1e-14);
        assert_eq!(next.velocity_mps, end.velocity_mps);
        assert_eq!(next.displacement_m, end.displacement_m);
    }
}
