//! Stage 6: permitted acceleration to force to current, within every limit.
//!
//! The force is `mass * acceleration` plus what the support does to the seat
//! (spring, viscous and Coulomb friction, computed and cancelled) plus a
//! disturbance estimate: the integral of the difference between the acceleration that was
//! asked for and the one that came. It is then kept within force, slew,
//! current, supply (back-EMF, power both ways) and coil temperature. What the
//! limits took away is known to the disturbance estimate, so nothing winds up.
//!
//! Units: tonnes, kilonewtons, amperes, volts.

use crate::check::{BuildError, NOT_NEGATIVE, POSITIVE, hold, range, rules, within};
use crate::estimate;
use crate::parameters::Timing;
use shared_math::{Delay, Lag, Plain, Scalar, Turn, plain};

/// Actuator and support as the firmware knows them.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
#[repr(C)]
pub struct Parameters {
    /// Force constant, N/A; also the back-EMF constant, V s/m. Up to 127.
    pub force_constant_npa: f32,
    /// Winding resistance at 20 degrees Celsius, ohm.
    pub resistance_20c_ohm: f32,
    /// Rise of resistance, 1/K (copper: 0.00393).
    pub resistance_rise_pk: f32,
    /// Largest current, A, below 128.
    pub current_max_a: f32,
    /// Largest change of force, N/s.
    pub slew_nps: f32,
    /// Share of the supply voltage that may be used, 0.5 to 1.
    pub voltage_share: f32,
    /// Largest power drawn from the supply, W.
    pub power_max_w: f32,
    /// Largest power returned to the supply, W.
    pub regeneration_max_w: f32,
    /// Coil temperature from which the current limit falls, degrees Celsius.
    pub derate_from_c: f32,
    /// Coil temperature at which the current limit is zero, degrees Celsius.
    pub derate_to_c: f32,
    /// Stiffness of the support spring, N/m.
    pub spring_npm: f32,
    /// Viscous friction, N s/m.
    pub viscous_nspm: f32,
    /// Coulomb friction, N.
    pub coulomb_n: f32,
    /// Share of the Coulomb friction that is cancelled, 0 to 1.
    pub coulomb_share: f32,
    /// Travel rate at which the Coulomb force is taken as full, m/s.
    pub coulomb_full_mps: f32,
    /// How far ahead of a sample the sign of Coulomb friction is foreseen, s: the latency and a little, for what comes too
    /// late adds its whole change to the seat's acceleration where the motion turns round.
    pub coulomb_ahead_s: f32,
    /// Bandwidth of the disturbance estimate for its design mass, Hz.
    pub disturbance_hz: f32,
    /// Design mass of the disturbance estimate: what moves at high frequency, kg.
    pub disturbance_mass_kg: f32,
    /// Largest disturbance force, N.
    pub disturbance_max_n: f32,
    /// Share of the occupant's mass that moves with the seat at once; the rest
    /// follows like a seated body, 0 to 1.
    pub body_rigid_share: f32,
    /// Natural frequency of the seated body, Hz.
    pub body_hz: f32,
    /// Damping ratio of the seated body.
    pub body_damping: f32,
    /// Moving mass of the empty seat, kg.
    pub empty_mass_kg: f32,
    /// Lag of current loop and accelerometer in the disturbance estimate's reference, s.
    pub reference_lag_s: f32,
    /// Time constant with which the current is led to zero, s.
    pub release_lag_s: f32,
}

plain!([] Parameters {
    force_constant_npa,
    resistance_20c_ohm,
    resistance_rise_pk,
    current_max_a,
    slew_nps,
    voltage_share,
    power_max_w,
    regeneration_max_w,
    derate_from_c,
    derate_to_c,
    spring_npm,
    viscous_nspm,
    coulomb_n,
    coulomb_share,
    coulomb_full_mps,
    coulomb_ahead_s,
    disturbance_hz,
    disturbance_mass_kg,
    disturbance_max_n,
    body_rigid_share,
    body_hz,
    body_damping,
    empty_mass_kg,
    reference_lag_s,
    release_lag_s
});

/// What no force that is asked for (kN) and no expected acceleration of the seat (m/s^2) comes near.
const FAR_BEYOND: f32 = 1000.0;

/// Steps between a command and the sample that shows its effect.
const REFERENCE_DELAY: usize = 2;

/// Immutable constants.
#[derive(Clone, Copy, Debug)]
#[repr(C)]
pub struct Config<S> {
    force_constant: S,
    per_force_constant: S,
    emf: S,
    emf_tenth: S,
    resistance: S,
    resistance_per_hk: S,
    current_max: S,
    slew_step: S,
    voltage_share: S,
    power: S,
    regeneration: S,
    derate_to: S,
    per_derate: S,
    spring: S,
    viscous: S,
    coulomb: S,
    coulomb_slope: S,
    coulomb_ahead: S,
    disturbance_gain: S,
    disturbance_max: S,
    reference_lag: Lag<S>,
    release_keep: S,
    empty_mass: S,
    rigid_share: S,
    body_damper: S,
    body_step: S,
}

plain!([S: Plain] Config<S> {
    force_constant, per_force_constant, emf, emf_tenth, resistance, resistance_per_hk, current_max,
    slew_step, voltage_share, power, regeneration, derate_to, per_derate, spring, viscous, coulomb,
    coulomb_slope, coulomb_ahead, disturbance_gain, disturbance_max, reference_lag, release_keep, empty_mass, rigid_share,
    body_damper, body_step
});

impl Parameters {
    #[inline(never)]
    pub(crate) fn check(&self, timing: &Timing) -> Result<(), BuildError> {
        hold(
            self,
            rules!["limit":
                force_constant_npa: range(0.1, 127.0, "0.1 to 127 N/A"),
                resistance_20c_ohm: range(0.01, 50.0, "0.01 to 50 ohm"),
                resistance_rise_pk: range(0.0, 0.01, "0 to 0.01 1/K"),
                current_max_a: range(0.1, 127.0, "0.1 to 127 A"),
                slew_nps: POSITIVE,
                voltage_share: range(0.5, 1.0, "0.5 to 1"),
                power_max_w: range(1.0, 10_000.0, "1 to 10000 W"),
                regeneration_max_w: range(0.0, 10_000.0, "0 to 10000 W"),
                derate_from_c: range(1.0, 299.0, "1 to 299 degrees Celsius"),
                derate_to_c above derate_from_c: range(0.0, 300.0, "above derate_from_c and at most 300 degrees Celsius"),
                spring_npm: range(0.0, 100_000.0, "0 to 100000 N/m"),
                viscous_nspm: range(0.0, 100_000.0, "0 to 100000 N s/m"),
                coulomb_n: NOT_NEGATIVE,
                coulomb_share: range(0.0, 1.0, "0 to 1"),
                coulomb_full_mps: range(0.000_5, 1.0, "0.0005 to 1 m/s"),
                coulomb_ahead_s: range(0.0, 0.1, "0 to 0.1 s"),
            ],
        )?;
        within(
            "limit.disturbance_hz",
            self.disturbance_hz,
            0.0,
            0.05 / timing.step_s,
            "0 to 0.05 / step_s: a faster loop is unstable with its latency",
        )?;
        hold(
            self,
            rules!["limit":
                disturbance_mass_kg: POSITIVE,
                disturbance_max_n: NOT_NEGATIVE,
                reference_lag_s: range(0.0, 0.01, "0 to 0.01 s"),
                release_lag_s: range(0.001, 1.0, "0.001 to 1 s"),
                body_rigid_share: range(0.0, 1.0, "0 to 1"),
                body_hz: range(0.5, 20.0, "0.5 to 20 Hz"),
                body_damping: range(0.05, 2.0, "0.05 to 2"),
                empty_mass_kg: POSITIVE,
            ],
        )
    }

    /// Checks the parameters and makes the configuration.
    ///
    /// # Errors
    /// Names the first field that cannot be used.
    pub fn build<S: Scalar>(&self, timing: &Timing) -> Result<Config<S>, BuildError> {
        self.check(timing)?;
        Ok(self.config(timing))
    }

    /// The configuration of parameters that have been checked.
    #[inline(never)]
    pub(crate) fn config<S: Scalar>(&self, timing: &Timing) -> Config<S> {
        let body = core::f32::consts::TAU * self.body_hz;
        let kilo = |x: f32| S::of_parameter(x * 1.0e-3);
        let rise_per_hk = self.resistance_20c_ohm * self.resistance_rise_pk * 100.0;
        Config {
            force_constant: kilo(self.force_constant_npa),
            per_force_constant: S::of_parameter(1.0e3 / self.force_constant_npa),
            emf: S::of_parameter(self.force_constant_npa),
            emf_tenth: S::of_parameter(0.1 * self.force_constant_npa),
            resistance: S::of_parameter(self.resistance_20c_ohm - 0.2 * rise_per_hk),
            resistance_per_hk: S::of_parameter(rise_per_hk),
            current_max: S::of_parameter(self.current_max_a),
            slew_step: S::of_parameter(self.slew_nps / self.force_constant_npa * timing.step_s),
            voltage_share: S::of_parameter(self.voltage_share),
            power: S::of_parameter(0.01 * self.power_max_w),
            regeneration: S::of_parameter(0.01 * self.regeneration_max_w),
            derate_to: S::of_parameter(0.01 * self.derate_to_c),
            per_derate: S::of_parameter(100.0 / (self.derate_to_c - self.derate_from_c)),
            spring: kilo(self.spring_npm),
            viscous: kilo(self.viscous_nspm),
            coulomb: kilo(self.coulomb_n * self.coulomb_share),
            coulomb_slope: kilo(self.coulomb_n * self.coulomb_share / self.coulomb_full_mps),
            coulomb_ahead: S::of_parameter(self.coulomb_ahead_s),
            disturbance_gain: S::of_parameter(
                core::f32::consts::TAU
                    * self.disturbance_hz
                    * self.disturbance_mass_kg
                    * 1.0e-3
                    * timing.step_s,
            ),
            disturbance_max: kilo(self.disturbance_max_n),
            reference_lag: Lag::new(self.reference_lag_s, timing.step_s),
            release_keep: S::of_parameter(
                self.release_lag_s / (self.release_lag_s + timing.step_s),
            ),
            empty_mass: kilo(self.empty_mass_kg),
            rigid_share: S::of_parameter(self.body_rigid_share),
            body_damper: S::of_parameter(2.0 * self.body_damping),
            body_step: S::of_parameter(body * timing.step_s),
        }
    }
}

/// What the stage takes.
#[derive(Clone, Copy, Debug)]
pub struct Input<S> {
    /// Permitted seat acceleration, m/s^2, within the arrest's limit.
    pub accel: S,
    /// Supported mass, t, above zero.
    pub mass: S,
    /// Supply voltage, V.
    pub supply: S,
    /// Coil temperature, hundreds of degrees Celsius.
    pub coil_temperature: S,
    /// Share of the force that may act, 0 to 1; with 0 the disturbance estimate rests at zero.
    pub authority: S,
    /// The current is led to zero from what it was, whatever is asked for.
    pub release: bool,
    /// Largest change of the current, A. With 0 it stays as it is, as far as its other limits let it.
    pub slew: S,
    /// Share of the Coulomb friction's cancellation in use, 0 to 1. Small while the
    /// seat is lifted or set down: the disturbance estimate has the friction then.
    pub friction: S,
}

/// What the stage gives.
#[derive(Clone, Copy, Debug)]
pub struct Output<S> {
    /// Current command, A, within every limit.
    pub current: S,
    /// Force that the command stands for, kN.
    pub force: S,
    /// What spring and friction do to the seat at the time of the sample, kN, to be cancelled.
    pub support: S,
    /// Disturbance estimate, kN: the static load that the actuator carries, in the main.
    pub disturbance: S,
    /// Share of the current limit that heat leaves, 0 to 1.
    pub heat_share: S,
    /// Whether the force was a number, and not beyond all seats; if not, no current is asked for and the stage begins anew.
    pub finite: bool,
}

impl<S: Copy> Output<S> {
    /// The same with every number converted.
    #[must_use]
    pub fn map<T>(&self, f: impl Fn(S) -> T + Copy) -> Output<T> {
        Output {
            current: f(self.current),
            force: f(self.force),
            support: f(self.support),
            disturbance: f(self.disturbance),
            heat_share: f(self.heat_share),
            finite: self.finite,
        }
    }
}

/// What is kept from step to step.
#[derive(Clone, Copy, Debug)]
#[repr(C)]
pub struct State<S> {
    disturbance: S,
    current: S,
    delay: Delay<S, REFERENCE_DELAY>,
    reference: S,
    coil: Coil<S>,
    load: Load<S>,
    /// Spring and damper parts of the seated body's motion, both as accelerations, m/s^2.
    body: [S; 2],
}

plain!([S: Plain] State<S> { disturbance, current, delay, reference, coil, load, body });

impl<S: Scalar> Default for State<S> {
    fn default() -> Self {
        Self {
            disturbance: S::ZERO,
            current: S::ZERO,
            delay: Delay::default(),
            reference: S::ZERO,
            coil: Coil {
                share: S::ZERO,
                current_max: S::ZERO,
                per_resistance: S::ONE,
                ten_by_2r: S::ONE,
                drawn: S::ZERO,
                returned: S::ZERO,
            },
            load: Load {
                rigid: S::ONE,
                sprung: S::ZERO,
            },
            body: [S::ZERO; 2],
        }
    }
}

/// What follows from the supported mass.
#[derive(Clone, Copy, Debug)]
#[repr(C)]
struct Load<S> {
    /// What moves with the seat at once, t.
    rigid: S,
    /// What follows like a seated body, t.
    sprung: S,
}

plain!([S: Plain] Load<S> { rigid, sprung });

/// What follows from the coil's temperature. Before it is known, nothing may flow.
#[derive(Clone, Copy, Debug)]
#[repr(C)]
pub struct Coil<S> {
    /// Share of the current limit that is left.
    share: S,
    /// That current, A.
    current_max: S,
    /// One by the resistance, 1/ohm.
    per_resistance: S,
    /// Ten by twice the resistance, 1/ohm.
    ten_by_2r: S,
    /// Four times the resistance by the largest power drawn: under the root, in squares of tens of volts.
    drawn: S,
    /// The same for the largest power returned.
    returned: S,
}

plain!([S: Plain] Coil<S> { share, current_max, per_resistance, ten_by_2r, drawn, returned });

impl<S: Scalar> State<S> {
    /// One step. The current is finite and within its limits for every input.
    pub fn step(
        &mut self,
        config: &Config<S>,
        motion: &estimate::Output<S>,
        input: &Input<S>,
    ) -> Output<S> {
        let on = S::select_ge(S::ZERO, input.authority, S::ZERO, S::ONE);
        let shortfall = self.reference - motion.seat_accel;
        self.disturbance = (self.disturbance + config.disturbance_gain * shortfall)
            .limit(-config.disturbance_max, config.disturbance_max)
            * on;

        let rate_ahead =
            motion.travel_rate + (self.reference - motion.floor_accel) * config.coulomb_ahead;
        let linear = config.spring * motion.travel + config.viscous * motion.travel_rate;
        let cancel = linear + input.friction * config.coulomb_at(rate_ahead);
        let support = linear + config.coulomb_at(motion.travel_rate);
        // Mass and coil temperature are slow: every other step will do.
        match motion.turn {
            Turn::Odd => {
                self.load = config.load(input.mass);
                self.coil = config.coil(input.coil_temperature);
            }
            Turn::Even => self.look_after_reference(),
        }
        let rigid = self.load.rigid;
        let body = self.body_force(config, input.accel);
        let besides = cancel + body + self.disturbance;
        let whole = rigid * input.accel + besides;
        let force = whole * input.authority;

        // No seat has as much: memory was struck.
        let finite = whole.is_within(FAR_BEYOND);
        let asked = if input.release {
            self.current * config.release_keep
        } else if finite {
            force * config.per_force_constant
        } else {
            S::ZERO
        };
        let kept = config.permitted_current(
            asked,
            self.current,
            input.slew,
            motion.travel_rate,
            input.supply,
            &self.coil,
        );
        self.current = kept * on;

        let given = config.force_constant * self.current;
        let expected = (given - besides).div(rigid);
        let arrived = self.delay.step(expected);
        let mut reference = self.reference;
        self.reference = config.reference_lag.step(&mut reference, arrived);
        let answer = Output {
            current: self.current,
            force: given,
            support,
            disturbance: self.disturbance,
            heat_share: self.coil.share,
            finite,
        };
        // What is not a number would stay so: begin anew.
        if !finite {
            *self = Self::default();
        }
        answer
    }
}

impl<S: Scalar> State<S> {
    /// In a step in which the motor is not driven but will be soon, at `travel` (m) and `travel_rate` (m/s): it begins with the
    /// `force` (kN) that it brakes with now, and with what the seat's acceleration (m/s^2) says of the load beside it. Returns
    /// that load without friction, kN.
    pub fn take_over(
        &mut self,
        config: &Config<S>,
        travel: S,
        travel_rate: S,
        seat_accel: S,
        force: S,
    ) -> S {
        let linear = config.spring * travel + config.viscous * travel_rate;
        self.disturbance = force - linear - self.load.rigid * seat_accel;
        self.current = force * config.per_force_constant;
        self.reference = seat_accel;
        self.delay = Delay::of(seat_accel);
        self.body = [S::ZERO; 2];
        self.disturbance - config.coulomb_at(travel_rate)
    }

    /// Seat acceleration that the last commands should cause in the next sample, m/s^2.
    #[must_use]
    pub const fn expected_accel(&self) -> S {
        self.reference
    }

    /// Force by which the seat's acceleration (m/s^2) falls short of what the last commands should cause, kN: what has
    /// changed in the load within the lag of the disturbance estimate, or what the motor did not give.
    #[must_use]
    #[inline(never)]
    pub fn shortage(&self, seat_accel: S) -> S {
        self.load.rigid * (self.reference - seat_accel)
    }

    /// An expected acceleration that is not a number would stay, and no force show it: it makes the force one that cannot
    /// be, so that the stage begins anew.
    #[inline(always)]
    fn look_after_reference(&mut self) {
        let most = S::from_f32(FAR_BEYOND);
        let expected = self.reference.abs();
        self.disturbance = S::select_ge(most, expected, self.disturbance, most + most);
    }

    /// The force (kN) that the sprung part of the body asks for: a mass on the seat, driven by
    /// the seat's acceleration `accel` (m/s^2). With x its displacement on the seat, the two
    /// states are w^2 x and w x'.
    fn body_force(&mut self, config: &Config<S>, accel: S) -> S {
        let [spring, damper] = self.body;
        let pull = spring + config.body_damper * damper;
        let damper = damper - config.body_step * (accel + pull);
        let spring = spring + config.body_step * damper;
        self.body = [spring, damper];
        -(self.load.sprung * (spring + config.body_damper * damper))
    }
}

impl<S: Scalar> Config<S> {
    /// Largest change of the current in a step, A.
    #[inline(always)]
    #[must_use]
    pub const fn slew(&self) -> S {
        self.slew_step
    }

    /// Force of a current, kN.
    #[inline(always)]
    pub fn force_of(&self, current: S) -> S {
        self.force_constant * current
    }

    /// Coulomb force at a travel rate, kN: full above a small rate, in proportion below.
    fn coulomb_at(&self, rate: S) -> S {
        (self.coulomb_slope * rate).limit(-self.coulomb, self.coulomb)
    }

    fn load(&self, mass: S) -> Load<S> {
        let occupant = (mass - self.empty_mass).max(S::ZERO);
        let at_once = self.rigid_share * occupant;
        Load {
            rigid: self.empty_mass + at_once,
            sprung: occupant - at_once,
        }
    }

    /// What follows from a coil temperature, hundreds of degrees Celsius.
    #[must_use]
    pub fn coil(&self, temperature: S) -> Coil<S> {
        let resistance =
            (self.resistance + self.resistance_per_hk * temperature).max(S::from_q24(1 << 17));
        let cool = (self.derate_to - temperature) * self.per_derate;
        // A back-EMF that is larger than its tenth tells was struck. Between the two limits there is no current.
        let apart = self.emf - S::from_f32(10.0) * self.emf_tenth;
        let share = S::select_ge(S::ONE, apart, cool, S::ZERO).limit(S::ZERO, S::ONE);
        let four_resistance = S::from_f32(4.0) * resistance;
        let per_resistance = S::ONE.div(resistance);
        Coil {
            share,
            current_max: self.current_max * share,
            per_resistance,
            ten_by_2r: S::from_f32(5.0) * per_resistance,
            drawn: four_resistance * self.power,
            returned: four_resistance * self.regeneration,
        }
    }

    /// The current nearest to `asked` (A) within every limit, `last` (A) having been the one
    /// before and `slew` (A) the largest change, at a travel rate (m/s) and a supply voltage (V).
    ///
    /// Whatever the arguments, the result is finite and within the winding's limit.
    #[inline(always)]
    #[must_use]
    pub fn permitted_current(
        &self,
        asked: S,
        last: S,
        slew: S,
        rate: S,
        supply: S,
        coil: &Coil<S>,
    ) -> S {
        let (low, high) = self.current_band(rate, supply, coil);
        let slewed = asked.limit(last - slew, last + slew);
        let most = coil.current_max;
        let within = slewed.limit(low, high).limit(-most, most);
        // The gap's far end is never beyond the winding's limit, but only a prover knows all cases.
        self.keep_regeneration(within, rate, coil)
            .limit(-most, most)
    }

    /// Lowest and highest current that voltage and power allow, A.
    fn current_band(&self, rate: S, supply: S, coil: &Coil<S>) -> (S, S) {
        let per_resistance = coil.per_resistance;
        let voltage = self.voltage_share * supply.max(S::ZERO);
        let emf = self.emf * rate;
        // Voltage: -U <= R i + emf <= U.
        let high = (voltage - emf) * per_resistance;
        let low = (-voltage - emf) * per_resistance;
        // Power drawn: i (R i + emf) <= P, in tens of volts so that squares stay small.
        let emf = self.emf_tenth * rate;
        let root = (emf * emf + coil.drawn).sqrt();
        let drawn_high = (root - emf) * coil.ten_by_2r;
        let drawn_low = (-root - emf) * coil.ten_by_2r;
        // Voltage is physics and yields nothing: the band may leave zero outside at
        // high speed; the winding's own limit always holds.
        let high = high.min(drawn_high);
        let low = low.max(drawn_low);
        // Where the two are crossed, the upper one holds.
        (low, high)
    }

    /// Keeps the power returned to the supply within its limit.
    ///
    /// Braking with current x against the back-EMF e returns x (e - R x), which is
    /// more than Q only for x between the roots of R x^2 - e x + Q. A current in
    /// that gap moves to its far end, where the winding burns the difference and the
    /// brake is stronger, or to its near end where the winding cannot carry that.
    fn keep_regeneration(&self, current: S, rate: S, coil: &Coil<S>) -> S {
        let emf = self.emf_tenth * rate.abs();
        let room = emf * emf - coil.returned;
        let root = room.sqrt();
        let (near, far) = ((emf - root) * coil.ten_by_2r, (emf + root) * coil.ten_by_2r);
        let braking = S::select_ge(rate, S::ZERO, -current, current);
        let exit = S::select_ge(coil.current_max, far, far, near);
        let above_near = S::select_ge(near, braking, braking, exit);
        let kept = S::select_ge(braking, far, braking, above_near);
        // Without two roots there is no gap.
        let kept = S::select_ge(room, S::ZERO, kept, braking);
        S::select_ge(rate, S::ZERO, -kept, kept)
    }
}
