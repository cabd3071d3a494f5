//! The last stage against the motor's own equations, recomputed here: voltage R i + K w, power
//! i (R i + K w), copper resistance R20 (1 + alpha (T - 20)) with alpha = 0.00393 1/K (IEC 60028).

use firmware::Timing;
use firmware::estimate;
use firmware::limit::{Config, Input, Output, Parameters, State};
use host_sim::limits::constant;
use host_sim::rig::Rig;
use shared_math::{Q24, Scalar, Turn};

fn parameters() -> (Parameters, Timing) {
    let rig = Rig::default_machine().expect("the default rig");
    (rig.firmware.limit, rig.firmware.timing)
}

fn default_config() -> Config<f64> {
    let (p, timing) = parameters();
    p.build(&timing).expect("a configuration")
}

/// xorshift64*, uniform in [0, 1).
struct Chance(u64);

impl Chance {
    fn unit(&mut self) -> f64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        (self.0.wrapping_mul(0x2545_F491_4F6C_DD1D) >> 11) as f64 / 9_007_199_254_740_992.0
    }

    fn within(&mut self, lo: f64, hi: f64) -> f64 {
        lo + (hi - lo) * self.unit()
    }
}

/// What a step is asked, in SI.
#[derive(Clone, Copy, Debug)]
struct Asked {
    accel: f64,
    mass_kg: f64,
    supply_v: f64,
    coil_c: f64,
    travel: f64,
    rate: f64,
    floor_accel: f64,
    seat_accel: f64,
}

impl Asked {
    fn at_random(chance: &mut Chance) -> Self {
        Self {
            accel: chance.within(-30.0, 30.0),
            mass_kg: chance.within(28.0, 140.0),
            supply_v: chance.within(20.0, 62.0),
            coil_c: chance.within(-40.0, 160.0),
            travel: chance.within(-0.05, 0.05),
            rate: chance.within(-3.0, 3.0) * chance.unit(),
            floor_accel: chance.within(-40.0, 40.0),
            seat_accel: chance.within(-40.0, 40.0),
        }
    }

    fn step<S: Scalar>(&self, config: &Config<S>, state: &mut State<S>) -> Output<S> {
        self.step_with(config, state, false)
    }

    /// [`Asked::step`], in which the current is to be kept.
    fn keep<S: Scalar>(&self, config: &Config<S>, state: &mut State<S>) -> Output<S> {
        self.step_with(config, state, true)
    }

    fn step_with<S: Scalar>(
        &self,
        config: &Config<S>,
        state: &mut State<S>,
        keep: bool,
    ) -> Output<S> {
        let s = |x: f64| S::from_f32(x as f32);
        let motion = estimate::Output {
            floor_accel: s(self.floor_accel),
            floor_velocity: S::ZERO,
            floor_displacement: S::ZERO,
            seat_accel: s(self.seat_accel),
            seat_velocity: S::ZERO,
            travel: s(self.travel),
            travel_rate: s(self.rate),
            floor_bias: S::ZERO,
            seat_bias: S::ZERO,
            travel_innovation: S::ZERO,
            turn: Turn::Odd,
            floor_ahead: [S::ZERO; estimate::TIMES / 2],
            slack: false,
            sound: true,
        };
        state.step(
            config,
            &motion,
            &Input {
                accel: s(self.accel),
                mass: s(1.0e-3 * self.mass_kg),
                supply: s(self.supply_v),
                coil_temperature: s(0.01 * self.coil_c),
                authority: S::ONE,
                release: false,
                slew: if keep { S::ZERO } else { config.slew() },
                friction: S::ONE,
            },
        )
    }
}

/// Motor of the parameter table at a temperature: resistance, voltage and power.
fn motor(p: &Parameters, asked: &Asked, current: f64) -> (f64, f64, f64) {
    let rise = f64::from(p.resistance_rise_pk) * (asked.coil_c - 20.0);
    let ohm = f64::from(p.resistance_20c_ohm) * (1.0 + rise);
    let volt = ohm * current + f64::from(p.force_constant_npa) * asked.rate;
    (ohm, volt, current * volt)
}

fn heat_limit(p: &Parameters, coil_c: f64) -> f64 {
    let (from, to) = (f64::from(p.derate_from_c), f64::from(p.derate_to_c));
    f64::from(p.current_max_a) * ((to - coil_c) / (to - from)).clamp(0.0, 1.0)
}

/// Every limit in random states, each step far from the last one. `tolerance`: share.
fn within_every_limit<S: Scalar>(name: &str, tolerance: f64) {
    let (p, timing) = parameters();
    let config: Config<S> = p.build(&timing).expect("a configuration");
    let mut state = State::default();
    let mut chance = Chance(42);
    let (mut at_voltage, mut at_power, mut at_return, mut at_heat) = (0, 0, 0, 0);
    for k in 0..200_000 {
        let asked = Asked::at_random(&mut chance);
        let out = asked.step(&config, &mut state);
        let current = out.current.to_f64();
        let (ohm, volt, power) = motor(&p, &asked, current);
        let heat = heat_limit(&p, asked.coil_c);
        // In single precision, as the firmware has it.
        let usable = f64::from(constant::VOLTAGE_SHARE as f32) * asked.supply_v;
        let slack = tolerance * f64::from(p.current_max_a);
        let what = || format!("{name} step {k}: {current} A, {volt} V, {power} W, {asked:?}");
        assert!(
            current.is_finite() && current.abs() <= heat + slack,
            "{}",
            what()
        );
        // A current that the winding cannot carry, or that would return too much, cannot hold the voltage.
        let emf = f64::from(p.force_constant_npa) * asked.rate.abs();
        if volt.abs() > usable + slack * ohm {
            let braking = -current * asked.rate.signum();
            let returned = braking * (emf - ohm * braking);
            let most = f64::from(p.regeneration_max_w);
            assert!(emf > usable, "{}", what());
            assert!(
                (current.abs() - heat).abs() <= slack || (returned - most).abs() <= 0.01 * most,
                "{}",
                what()
            );
        }
        let watt = 2.0 * slack * (ohm * heat + emf) + 1.0;
        assert!(power <= f64::from(p.power_max_w) + watt, "{}", what());
        assert!(
            -power <= f64::from(p.regeneration_max_w) + watt,
            "{}",
            what()
        );
        let force = out.force.to_f64() * 1000.0;
        let expected = f64::from(p.force_constant_npa) * current;
        assert!((force - expected).abs() <= slack * 35.0, "{}", what());
        at_voltage += u32::from((volt.abs() - usable).abs() < 0.1);
        at_power += u32::from((power - f64::from(p.power_max_w)).abs() < 5.0);
        at_return += u32::from((-power - f64::from(p.regeneration_max_w)).abs() < 5.0);
        at_heat +=
            u32::from(heat < f64::from(p.current_max_a) && (current.abs() - heat).abs() < slack);
    }
    println!(
        "{name}: at voltage {at_voltage}, power {at_power}, return {at_return}, heat {at_heat}"
    );
    // The states reach the limits.
    assert!(at_voltage > 1000 && at_power > 20 && at_heat > 1000);
}

// Demonstrates: peak-current, power-drawn, voltage-share
#[test]
fn random_states_stay_within_every_limit() {
    within_every_limit::<f64>("f64", 1.0e-6);
    within_every_limit::<f32>("f32", 1.0e-4);
    within_every_limit::<Q24>("fixed", 1.0e-4);
}

/// With little regeneration allowed, and a motor that is moved fast: the power returned stays within it.
// Demonstrates: power-returned
#[test]
fn returned_power_stays_within_its_limit() {
    for regeneration_max_w in [0.0, 50.0, 300.0, 1000.0] {
        let (p, timing) = parameters();
        let p = Parameters {
            regeneration_max_w,
            ..p
        };
        let config: Config<f64> = p.build(&timing).expect("a configuration");
        let mut state = State::default();
        let mut chance = Chance(5);
        let mut most = 0.0_f64;
        for k in 0..100_000 {
            let mut asked = Asked::at_random(&mut chance);
            asked.supply_v = 54.0;
            asked.rate = chance.within(-1.4, 1.4);
            let current = asked.step(&config, &mut state).current;
            let returned = -motor(&p, &asked, current).2;
            most = most.max(returned);
            assert!(
                returned <= f64::from(regeneration_max_w) + 0.5,
                "step {k}: {returned} W of {regeneration_max_w}, {current} A, {asked:?}"
            );
        }
        assert!(most > 0.9 * f64::from(regeneration_max_w) - 1.0, "{most}");
    }
}

/// The force changes by at most the slew rate in a step while no other limit acts.
// Demonstrates: force-slew
#[test]
fn slew() {
    let (p, timing) = parameters();
    for slew_nps in [1.0e4, 1.0e5, 1.0e6] {
        let p = Parameters { slew_nps, ..p };
        let config: Config<f64> = p.build(&timing).expect("a configuration");
        let mut state = State::default();
        let mut chance = Chance(3);
        let (mut last, mut full) = (0.0, 0);
        let most = f64::from(slew_nps * timing.step_s);
        for k in 0..50_000 {
            // At rest, cold, with plenty of voltage: 3000 N are free both ways.
            let asked = Asked {
                supply_v: 60.0,
                coil_c: 25.0,
                rate: 0.0,
                ..Asked::at_random(&mut chance)
            };
            let force = 1000.0 * asked.step(&config, &mut state).force;
            let change = (force - last).abs();
            assert!(
                change <= most * (1.0 + 1.0e-6),
                "step {k}: {last} to {force} N"
            );
            full += u32::from(change > 0.999 * most);
            last = force;
        }
        assert!(full > 1000, "{full}");
    }
}

/// A seat that will not move as it should, for ever: the disturbance estimate grows to its bound and stays there.
// Demonstrates: disturbance-most
#[test]
fn disturbance_is_clamped() {
    let config = default_config();
    for side in [1.0, -1.0] {
        let mut state = State::default();
        let asked = Asked {
            accel: 0.0,
            mass_kg: 84.0,
            supply_v: 48.0,
            coil_c: 25.0,
            travel: 0.0,
            rate: 0.0,
            floor_accel: 0.0,
            seat_accel: -40.0 * side,
        };
        let bound = side * constant::DISTURBANCE_MOST;
        let (mut last, mut reached) = (0.0, 0);
        for k in 0..2000 {
            let n = 1000.0 * asked.step(&config, &mut state).disturbance;
            assert!(side * n >= last, "step {k}: {n} N after {last}");
            assert!((side * (n - bound)) <= 1.0e-3, "step {k}: {n} N");
            reached += u32::from((n - bound).abs() < 1.0e-3);
            last = side * n;
        }
        assert!(reached > 1000, "{last} N");
    }
}

/// A current that is to be kept stays as it is, whatever is asked; but within its limits, and no longer than the force is a
/// number.
#[test]
fn a_current_is_kept_within_its_limits() {
    let config = default_config();
    let mut state = State::default();
    let mut chance = Chance(5);
    let calm = Asked {
        accel: 6.0,
        mass_kg: 90.0,
        supply_v: 48.0,
        coil_c: 40.0,
        travel: 0.0,
        rate: 0.0,
        floor_accel: 0.0,
        seat_accel: 6.0,
    };
    for _ in 0..50 {
        calm.step(&config, &mut state);
    }
    let kept = calm.step(&config, &mut state).current;
    assert!(kept > 5.0, "{kept} A");
    for _ in 0..1000 {
        let asked = Asked {
            accel: chance.within(-30.0, 30.0),
            seat_accel: chance.within(-30.0, 30.0),
            floor_accel: chance.within(-30.0, 30.0),
            travel: chance.within(-0.05, 0.05),
            rate: chance.within(-0.2, 0.2),
            ..calm
        };
        assert_eq!(asked.keep(&config, &mut state).current, kept, "{asked:?}");
    }
    let hot = Asked {
        coil_c: 300.0,
        ..calm
    };
    let mut hot_state = state;
    assert_eq!(hot.keep(&config, &mut hot_state).current, 0.0);
    let none = Asked {
        accel: f64::NAN,
        ..calm
    }
    .keep(&config, &mut state);
    // That is told, and the stage begins anew: from no current.
    assert!(!none.finite && none.current == kept, "{none:?}");
    assert_eq!(calm.keep(&config, &mut state).current, 0.0);
}

/// No authority: no current, whatever is asked.
#[test]
fn no_authority_no_current() {
    let config = default_config();
    let mut state = State::default();
    let mut chance = Chance(9);
    for _ in 0..1000 {
        Asked::at_random(&mut chance).step(&config, &mut state);
    }
    let motion = estimate::Output {
        floor_accel: 3.0,
        floor_velocity: 0.0,
        floor_displacement: 0.0,
        seat_accel: -4.0,
        seat_velocity: 0.0,
        travel: 0.03,
        travel_rate: 0.5,
        floor_bias: 0.0,
        seat_bias: 0.0,
        travel_innovation: 0.0,
        turn: Turn::Odd,
        floor_ahead: [0.0; estimate::TIMES / 2],
        slack: false,
        sound: true,
    };
    let out = state.step(
        &config,
        &motion,
        &Input {
            accel: 10.0,
            mass: 0.09,
            supply: 48.0,
            coil_temperature: 0.3,
            authority: 0.0,
            release: false,
            slew: config.slew(),
            friction: 1.0,
        },
    );
    assert_eq!((out.current, out.force, out.disturbance), (0.0, 0.0, 0.0));
}

/// The share of the current that heat leaves is linear from `derate_from_c` to `derate_to_c`, monotone
/// and without a step; beyond the end no current flows.
// Demonstrates: coil-temperature, derate-from
#[test]
fn heat_derating() {
    let (p, timing) = parameters();
    let config: Config<f64> = p.build(&timing).expect("a configuration");
    let mut last = 1.0;
    let (from, to) = (f64::from(p.derate_from_c), f64::from(p.derate_to_c));
    for tenth in -400..2000 {
        let coil_c = 0.1 * f64::from(tenth);
        let mut state = State::default();
        let mut out = None;
        for _ in 0..50 {
            let asked = Asked {
                accel: 30.0,
                mass_kg: 140.0,
                supply_v: 60.0,
                coil_c,
                travel: 0.0,
                rate: 0.0,
                floor_accel: 0.0,
                seat_accel: 0.0,
            };
            out = Some(asked.step(&config, &mut state));
        }
        let out = out.expect("steps");
        let share = ((to - coil_c) / (to - from)).clamp(0.0, 1.0);
        assert!(
            (out.heat_share - share).abs() < 1.0e-5,
            "{coil_c} C: {}",
            out.heat_share
        );
        assert!(
            out.heat_share <= last && last - out.heat_share < 0.01,
            "{coil_c} C"
        );
        assert!(
            out.current <= heat_limit(&p, coil_c) + 1.0e-3,
            "{coil_c} C: {}",
            out.current
        );
        if coil_c >= to {
            assert_eq!(out.current, 0.0, "{coil_c} C");
        }
        last = out.heat_share;
    }
}
