//! The plant: seat, body, support, bumpers, motor, supply and heat.
//!
//! Motion is written relative to the floor, whose acceleration is given at the
//! ends of every control period and linear between. The state is advanced by
//! the classical fourth-order Runge-Kutta method with a fixed step; where
//! friction changes between sticking and sliding inside a step, the step is
//! split there. Heat follows once a control period.

use crate::body::{Body, Sprung};
use crate::rig::Rig;

/// Standard gravity, m/s^2.
pub const GRAVITY_MPS2: f64 = 9.806_65;
/// Temperature coefficient of copper's resistance at 20 degrees Celsius, 1/K (IEC 60028).
pub const COPPER_PK: f64 = 0.003_93;

/// What the drive does.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Drive {
    /// No motor at all: the passive seat.
    None,
    /// Output stage off: no current.
    Open,
    /// Output stage off, the windings joined through this resistance, ohm; 0 shorts them.
    Braked(f64),
    /// Current loop on, with its command, A.
    Current(f64),
}

/// Constants of the plant, truth included.
#[derive(Clone, Copy, Debug)]
pub struct Config {
    /// Moving mass of the empty seat, kg.
    pub seat_kg: f64,
    /// Travel to either bumper, m.
    pub travel_m: f64,
    /// Support spring, N/m.
    pub spring_npm: f64,
    /// Viscous friction, N s/m.
    pub viscous_nspm: f64,
    /// Sliding friction, N.
    pub coulomb_n: f64,
    /// Breakaway friction, N.
    pub stiction_n: f64,
    /// Stribeck rate, m/s.
    pub stribeck_mps: f64,
    /// Bumper stiffness, N/m^1.5.
    pub bumper_npm15: f64,
    /// Bumper hysteresis, s/m.
    pub bumper_spm: f64,
    /// True force constant at mid travel, N/A.
    pub force_constant_npa: f64,
    /// Its fall toward the stops, share.
    pub droop: f64,
    /// Winding resistance at 20 degrees Celsius, ohm.
    pub resistance_20c_ohm: f64,
    /// Inductance, H.
    pub inductance_h: f64,
    /// Current loop, rad/s.
    pub current_loop_radps: f64,
    /// Supply, V.
    pub supply_v: f64,
    /// Source resistance, ohm.
    pub source_ohm: f64,
    /// Bus capacitor, F.
    pub capacitance_f: f64,
    /// Bus voltage from which the brake chopper conducts, V.
    pub chopper_v: f64,
    /// How much above that it conducts all the time, V; in between in proportion.
    pub chopper_band_v: f64,
    /// Brake resistor, ohm.
    pub chopper_ohm: f64,
    /// True rate of the height adjuster, N/s.
    pub level_rate_nps: f64,
    /// Largest preload, N.
    pub preload_max_n: f64,
    /// Heat capacities of winding and case, J/K.
    pub heat_jpk: [f64; 2],
    /// Thermal resistances winding to case and case to ambient, K/W.
    pub thermal_kpw: [f64; 2],
    /// Ambient, degrees Celsius.
    pub ambient_c: f64,
    /// Plant step, s.
    pub step_s: f64,
    /// Plant steps in a control period.
    pub substeps: usize,
}

impl Config {
    /// The active seat of a rig, with a force constant off by `force_share` and
    /// an adjuster rate off by `level_share` (shares, signed).
    #[must_use]
    pub fn active(rig: &Rig, force_share: f64, level_share: f64) -> Self {
        Self {
            seat_kg: rig.seat.empty_mass_kg,
            travel_m: rig.seat.travel_m,
            spring_npm: rig.spring.stiffness_npm,
            viscous_nspm: rig.friction.viscous_nspm,
            coulomb_n: rig.friction.coulomb_n,
            stiction_n: rig.friction.stiction_n,
            stribeck_mps: rig.friction.stribeck_mps,
            bumper_npm15: rig.bumper.stiffness_npm15,
            bumper_spm: rig.bumper.damping_spm,
            force_constant_npa: rig.actuator.force_constant_npa * (1.0 + force_share),
            droop: rig.actuator.force_constant_droop,
            resistance_20c_ohm: rig.actuator.resistance_20c_ohm,
            inductance_h: rig.actuator.inductance_h,
            current_loop_radps: core::f64::consts::TAU * rig.actuator.current_loop_hz,
            supply_v: rig.supply.voltage_v,
            source_ohm: rig.supply.source_ohm,
            capacitance_f: rig.supply.capacitance_f,
            chopper_v: rig.supply.chopper_v,
            chopper_band_v: rig.supply.chopper_band_v,
            chopper_ohm: rig.supply.chopper_ohm,
            level_rate_nps: rig.spring.level_rate_nps * (1.0 + level_share),
            preload_max_n: rig.spring.preload_max_n,
            heat_jpk: [rig.thermal.winding_jpk, rig.thermal.case_jpk],
            thermal_kpw: [
                rig.thermal.winding_to_case_kpw,
                rig.thermal.case_to_ambient_kpw,
            ],
            ambient_c: rig.thermal.ambient_c,
            step_s: rig.timing.step_s / rig.timing.plant_substeps as f64,
            substeps: rig.timing.plant_substeps,
        }
    }

    /// The passive seat of a rig: its own spring and damper, the rest the same.
    #[must_use]
    pub fn passive(rig: &Rig) -> Self {
        let mass = rig.seat.empty_mass_kg + 80.0 * rig.seat.on_seat_share;
        let omega = core::f64::consts::TAU * rig.passive.frequency_hz;
        Self {
            spring_npm: mass * omega * omega,
            viscous_nspm: 2.0 * rig.passive.damping_ratio * mass * omega,
            ..Self::active(rig, 0.0, 0.0)
        }
    }
}

/// State variables that are integrated together.
const N: usize = 8;
const TRAVEL: usize = 0;
const RATE: usize = 1;
const SPRUNG: usize = 2; // displacement and rate relative to the seat, twice
const CURRENT: usize = 6;
const BUS: usize = 7;
/// The last part of a step that is split where friction changes.
const LAST_SPLIT: usize = 3;

/// Friction now.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Contact {
    /// Not moving relative to the floor.
    Stuck,
    /// Moving, with the sign of the travel rate.
    Sliding(f64),
}

/// Reciprocals of constants, so that the inner loop multiplies.
#[derive(Clone, Copy, Debug)]
struct Inverse {
    base_pkg: f64,
    sprung_pkg: [f64; 2],
    travel_pm: f64,
    stribeck_spm: f64,
    inductance_ph: f64,
    source_s: f64,
    chopper_pv: f64,
    chopper_s: f64,
    capacitance_pf: f64,
}

impl Inverse {
    fn new(c: &Config, body: &Body) -> Self {
        Self {
            base_pkg: 1.0 / (c.seat_kg + body.base_kg),
            // No mass, no motion.
            sprung_pkg: body.sprung.map(|s| {
                if s.mass_kg > 0.0 {
                    1.0 / s.mass_kg
                } else {
                    0.0
                }
            }),
            travel_pm: 1.0 / c.travel_m,
            stribeck_spm: 1.0 / c.stribeck_mps,
            inductance_ph: 1.0 / c.inductance_h,
            source_s: 1.0 / c.source_ohm,
            chopper_pv: 1.0 / c.chopper_band_v,
            chopper_s: 1.0 / c.chopper_ohm,
            capacitance_pf: 1.0 / c.capacitance_f,
        }
    }
}

/// The plant's state.
#[derive(Clone, Debug)]
pub struct Plant {
    config: Config,
    body: Body,
    inverse: Inverse,
    x: [f64; N],
    contact: Contact,
    preload_n: f64,
    /// Where the lower stop is met, m below mid travel: the bumper, or what is wedged above it.
    lower_stop_m: f64,
    /// Force from outside on the seat frame, N, positive up.
    push_n: f64,
    temperature_c: [f64; 2],
    seat_accel: f64,
    stops: Stops,
    energy: Energy,
}

/// Meetings with the stops.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Stops {
    /// How often a bumper has been met.
    pub contacts: u32,
    /// Highest closing speed at a meeting, m/s.
    pub speed_max_mps: f64,
    /// Highest closing speed of the last meeting, m/s.
    pub last_speed_mps: f64,
    touching: bool,
}

/// Energy books of the motor since the start, J.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Energy {
    /// Drawn by the winding from the bus, net.
    pub electrical_j: f64,
    /// Turned into heat in the winding.
    pub copper_j: f64,
    /// Work of the force on the seat relative to the floor.
    pub mechanical_j: f64,
}

struct Hold {
    floor: f64,
    slope: f64,
    drive: Drive,
    resistance: f64,
    weight: f64,
}

impl Plant {
    /// A plant at rest at travel `travel_m` with the given preload.
    #[must_use]
    pub fn new(config: Config, body: Body, preload_n: f64, travel_m: f64) -> Self {
        let mut x = [0.0; N];
        x[TRAVEL] = travel_m;
        x[BUS] = config.supply_v;
        Self {
            config,
            body,
            inverse: Inverse::new(&config, &body),
            x,
            contact: Contact::Stuck,
            preload_n,
            lower_stop_m: config.travel_m,
            push_n: 0.0,
            temperature_c: [config.ambient_c; 2],
            seat_accel: 0.0,
            stops: Stops {
                touching: travel_m.abs() > config.travel_m,
                ..Stops::default()
            },
            energy: Energy::default(),
        }
    }

    /// Preload that balances `body` at mid travel, N.
    #[must_use]
    pub fn balance_n(config: &Config, body: &Body) -> f64 {
        (config.seat_kg + body.total_kg()) * GRAVITY_MPS2
    }

    /// Travel at which the seat rests with the given preload: on a bumper, if need be, m.
    #[must_use]
    pub fn rest_travel(config: &Config, body: &Body, preload_n: f64) -> f64 {
        let surplus = |r: f64| {
            preload_n - config.spring_npm * r + bumper(config, config.travel_m, r, 0.0)
                - Self::balance_n(config, body)
        };
        let (mut lo, mut hi) = (-2.0 * config.travel_m, 2.0 * config.travel_m);
        for _ in 0..80 {
            let mid = 0.5 * (lo + hi);
            if surplus(mid) > 0.0 {
                lo = mid
            } else {
                hi = mid
            }
        }
        0.5 * (lo + hi)
    }

    /// Puts another body on the seat, at rest relative to it.
    pub fn set_body(&mut self, body: Body) {
        self.body = body;
        self.inverse = Inverse::new(&self.config, &self.body);
    }

    /// The constants.
    #[must_use]
    pub const fn config(&self) -> &Config {
        &self.config
    }

    /// Replaces the constants while the plant runs: something in it has broken or was mended. Neither its
    /// step nor its travel may change.
    pub fn set_config(&mut self, config: Config) {
        self.config = config;
        self.inverse = Inverse::new(&self.config, &self.body);
    }

    /// Wedges something under the seat, so that the lower stop is met `below_m` below mid travel; `None`
    /// takes it away. It is as stiff as the bumper.
    pub fn wedge(&mut self, below_m: Option<f64>) {
        self.lower_stop_m = below_m.map_or(self.config.travel_m, |m| m.min(self.config.travel_m));
    }

    /// Pushes the seat frame from outside with `force_n`, positive up, until it is set anew.
    pub const fn push(&mut self, force_n: f64) {
        self.push_n = force_n;
    }

    /// The body on the seat.
    pub const fn body(&self) -> &Body {
        &self.body
    }

    /// Travel, m.
    #[must_use]
    pub const fn travel(&self) -> f64 {
        self.x[TRAVEL]
    }

    /// Travel rate, m/s.
    #[must_use]
    pub const fn travel_rate(&self) -> f64 {
        self.x[RATE]
    }

    /// Winding current, A.
    #[must_use]
    pub const fn current(&self) -> f64 {
        self.x[CURRENT]
    }

    /// Bus voltage, V.
    #[must_use]
    pub const fn bus_voltage(&self) -> f64 {
        self.x[BUS]
    }

    /// Motor force on the seat, N.
    #[must_use]
    pub fn force(&self) -> f64 {
        self.force_constant() * self.x[CURRENT]
    }

    /// Electrical power into the winding, W, of the last state.
    #[must_use]
    pub fn electrical_power(&self) -> f64 {
        let i = self.x[CURRENT];
        i * (self.resistance() * i + self.force_constant() * self.x[RATE])
    }

    /// Seat acceleration at the last state, m/s^2.
    #[must_use]
    pub const fn seat_accel(&self) -> f64 {
        self.seat_accel
    }

    /// Displacement of the sprung masses relative to the seat, m.
    #[must_use]
    pub const fn sprung_displacement(&self) -> [f64; 2] {
        [self.x[SPRUNG], self.x[SPRUNG + 2]]
    }

    /// Temperature of winding and case, degrees Celsius.
    #[must_use]
    pub const fn temperatures(&self) -> [f64; 2] {
        self.temperature_c
    }

    /// Sets the temperature of winding and case, degrees Celsius.
    pub const fn set_temperatures(&mut self, temperature_c: [f64; 2]) {
        self.temperature_c = temperature_c;
    }

    /// Preload of the support spring, N.
    #[must_use]
    pub const fn preload(&self) -> f64 {
        self.preload_n
    }

    /// Sets the preload of the support spring, N: a seat that is levelled by hand.
    pub const fn set_preload(&mut self, preload_n: f64) {
        self.preload_n = preload_n;
    }

    /// Meetings with the stops so far.
    #[must_use]
    pub const fn stops(&self) -> &Stops {
        &self.stops
    }

    /// Whether the seat is at a stop.
    #[must_use]
    pub const fn touches_a_stop(&self) -> bool {
        self.stops.touching
    }

    /// Forgets the meetings with the stops so far.
    pub const fn forget_stops(&mut self) {
        self.stops.contacts = 0;
        self.stops.speed_max_mps = 0.0;
    }

    /// Energy books so far.
    #[must_use]
    pub const fn energy(&self) -> &Energy {
        &self.energy
    }

    /// Sets travel rate, m/s, for tests of free motion.
    pub const fn set_travel_rate(&mut self, rate_mps: f64) {
        self.x[RATE] = rate_mps;
        self.contact = Contact::Sliding(if rate_mps >= 0.0 { 1.0 } else { -1.0 });
    }

    /// Sets the bus voltage, V.
    pub const fn set_bus_voltage(&mut self, voltage_v: f64) {
        self.x[BUS] = voltage_v;
    }

    /// Force constant at a travel, N/A.
    #[inline(always)]
    fn force_constant_at(&self, travel: f64) -> f64 {
        let share = travel * self.inverse.travel_pm;
        self.config.force_constant_npa * (1.0 - self.config.droop * share * share)
    }

    fn force_constant(&self) -> f64 {
        self.force_constant_at(self.x[TRAVEL])
    }

    /// Winding resistance at its temperature, ohm.
    #[must_use]
    pub fn resistance(&self) -> f64 {
        self.config.resistance_20c_ohm * (1.0 + COPPER_PK * (self.temperature_c[0] - 20.0))
    }

    /// Advances one control period. The floor's acceleration goes linearly from
    /// `floor_start` to `floor_end` (m/s^2); the drive and the adjuster (`level`
    /// +1, 0, -1) hold.
    pub fn step(&mut self, floor_start: f64, floor_end: f64, drive: Drive, level: i8) {
        let h = self.config.step_s;
        let period = h * self.config.substeps as f64;
        let slope = (floor_end - floor_start) / period;
        let resistance = self.resistance();
        let weight = (self.config.seat_kg + self.body.total_kg()) * GRAVITY_MPS2 - self.push_n;
        let copper_before = self.energy.copper_j;
        for n in 0..self.config.substeps {
            let hold = Hold {
                floor: floor_start + slope * h * n as f64,
                slope,
                drive,
                resistance,
                weight,
            };
            self.substep(&hold);
        }
        let last = Hold {
            floor: floor_end,
            slope,
            drive,
            resistance,
            weight,
        };
        self.seat_accel = self.acceleration(&self.x, floor_end, &last);
        self.warm(period, self.energy.copper_j - copper_before);
        if level != 0 {
            let change = f64::from(level) * self.config.level_rate_nps * period;
            self.preload_n = (self.preload_n + change).clamp(0.0, self.config.preload_max_n);
        }
    }

    /// Heat of one period, of which `copper_j` arose in the winding.
    fn warm(&mut self, period: f64, copper_j: f64) {
        let [winding, case] = self.temperature_c;
        let across = (winding - case) / self.config.thermal_kpw[0];
        let away = (case - self.config.ambient_c) / self.config.thermal_kpw[1];
        self.temperature_c = [
            winding + (copper_j - period * across) / self.config.heat_jpk[0],
            case + period * (across - away) / self.config.heat_jpk[1],
        ];
    }

    /// One plant step, split where friction changes. It ends with a travel rate in the direction of the
    /// contact, or zero.
    fn substep(&mut self, hold: &Hold) {
        let h = self.config.step_s;
        let mut done = 0.0;
        // A few changes in one step are the most that can matter; the bound
        // keeps the cost finite.
        for split in 0..=LAST_SPLIT {
            let left = h - done;
            if left <= 1.0e-12 {
                return;
            }
            if self.contact == Contact::Stuck {
                self.contact = self.friction_from_rest(hold, done);
            }
            let start = self.x;
            let next = self.runge_kutta(&start, hold, done, left);
            let turned = matches!(self.contact, Contact::Sliding(sign) if next[RATE] * sign < 0.0);
            if !turned {
                self.accept(&start, next, left, hold);
                return;
            }
            // A motion that begins and turns within the step, or turns too often in it, is rest.
            let (part, at) = if split == LAST_SPLIT {
                self.contact = Contact::Stuck;
                (left, self.runge_kutta(&start, hold, done, left))
            } else {
                self.reversal(&start, &next, hold, done, left)
            };
            self.accept(&start, at, part, hold);
            done += part;
            self.contact = Contact::Stuck;
        }
    }

    /// Where the travel rate passes zero between `start` and `next`, `left` later: the time
    /// from `start` and the state. Regula falsi; each round gains one order of the step.
    fn reversal(
        &self,
        start: &[f64; N],
        next: &[f64; N],
        hold: &Hold,
        done: f64,
        left: f64,
    ) -> (f64, [f64; N]) {
        let (mut before, mut after) = ((0.0, start[RATE]), (left, next[RATE]));
        let (mut part, mut at) = (0.0, *start);
        for _ in 0..3 {
            part = before.0 + (after.0 - before.0) * before.1 / (before.1 - after.1);
            at = self.runge_kutta(start, hold, done, part);
            if at[RATE] * start[RATE] > 0.0 {
                before = (part, at[RATE]);
            } else if at[RATE] * start[RATE] < 0.0 {
                after = (part, at[RATE]);
            } else {
                break;
            }
        }
        at[RATE] = 0.0;
        (part, at)
    }

    /// Books a step from `start` to `next`: stops and energy.
    fn accept(&mut self, start: &[f64; N], next: [f64; N], part: f64, hold: &Hold) {
        self.x = next;
        let over = |r: f64| r.abs() - face(&self.config, self.lower_stop_m, r);
        let (was, is) = (over(start[TRAVEL]), over(next[TRAVEL]));
        if is > 0.0 {
            if !self.stops.touching {
                // The closing speed where the face is met, by linear interpolation.
                let share = if is > was {
                    (-was / (is - was)).clamp(0.0, 1.0)
                } else {
                    1.0
                };
                let speed = (start[RATE] + share * (next[RATE] - start[RATE])).abs();
                self.stops.contacts += 1;
                self.stops.last_speed_mps = speed;
                self.stops.speed_max_mps = self.stops.speed_max_mps.max(speed);
            }
            self.stops.touching = true;
        } else if is < -1.0e-4 {
            self.stops.touching = false;
        }
        let power = |x: &[f64; N]| {
            let i = x[CURRENT];
            let emf = self.force_constant_at(x[TRAVEL]) * x[RATE];
            (i * i * hold.resistance, i * emf)
        };
        let ((c0, m0), (c1, m1)) = (power(start), power(&next));
        let stored =
            0.5 * self.config.inductance_h * (next[CURRENT].powi(2) - start[CURRENT].powi(2));
        self.energy.copper_j += 0.5 * part * (c0 + c1);
        self.energy.mechanical_j += 0.5 * part * (m0 + m1);
        self.energy.electrical_j += 0.5 * part * (c0 + c1 + m0 + m1) + stored;
    }

    /// Whether friction holds the seat that has just come to rest, or where it slides.
    fn friction_from_rest(&self, hold: &Hold, at: f64) -> Contact {
        let floor = hold.floor + hold.slope * at;
        let mass = self.config.seat_kg + self.body.base_kg;
        let needed = mass * floor - self.other_forces(&self.x, hold);
        if needed.abs() <= self.config.stiction_n {
            Contact::Stuck
        } else {
            Contact::Sliding(-needed.signum())
        }
    }

    /// All forces on the seat frame but friction, N.
    #[inline(always)]
    fn other_forces(&self, x: &[f64; N], hold: &Hold) -> f64 {
        let c = &self.config;
        let [a, b] = &self.body.sprung;
        let motor = if matches!(hold.drive, Drive::None) {
            0.0
        } else {
            self.force_constant_at(x[TRAVEL]) * x[CURRENT]
        };
        self.preload_n - c.spring_npm * x[TRAVEL] - c.viscous_nspm * x[RATE] - hold.weight
            + motor
            + bumper(c, self.lower_stop_m, x[TRAVEL], x[RATE])
            + a.stiffness_npm * x[SPRUNG]
            + a.damper_nspm * x[SPRUNG + 1]
            + b.stiffness_npm * x[SPRUNG + 2]
            + b.damper_nspm * x[SPRUNG + 3]
    }

    /// Absolute acceleration of the seat, m/s^2.
    #[inline(always)]
    fn acceleration(&self, x: &[f64; N], floor: f64, hold: &Hold) -> f64 {
        match self.contact {
            Contact::Stuck => floor,
            Contact::Sliding(sign) => {
                let c = &self.config;
                let speed = x[RATE].abs();
                // Far above the Stribeck rate the exponential is nothing.
                let fade = if speed > 6.0 * c.stribeck_mps {
                    0.0
                } else {
                    (-speed * self.inverse.stribeck_spm).exp()
                };
                let friction = -sign * (c.coulomb_n + (c.stiction_n - c.coulomb_n) * fade);
                (self.other_forces(x, hold) + friction) * self.inverse.base_pkg
            }
        }
    }

    #[inline(always)]
    fn derivative(&self, x: &[f64; N], hold: &Hold, at: f64) -> [f64; N] {
        let floor = hold.floor + hold.slope * at;
        let seat = self.acceleration(x, floor, hold);
        let sprung = |s: &Sprung, per_kg: f64, q: f64, p: f64| {
            -seat - (s.stiffness_npm * q + s.damper_nspm * p) * per_kg
        };
        let [per_a, per_b] = self.inverse.sprung_pkg;
        // A mass that is not there must not drift.
        let [has_a, has_b] = self
            .inverse
            .sprung_pkg
            .map(|p| f64::from(u8::from(p > 0.0)));
        let [a, b] = &self.body.sprung;
        let (current, bus) = self.electrical(x, hold);
        [
            x[RATE],
            seat - floor,
            x[SPRUNG + 1],
            has_a * sprung(a, per_a, x[SPRUNG], x[SPRUNG + 1]),
            x[SPRUNG + 3],
            has_b * sprung(b, per_b, x[SPRUNG + 2], x[SPRUNG + 3]),
            current,
            bus,
        ]
    }

    /// Rates of current and bus voltage.
    #[inline(always)]
    fn electrical(&self, x: &[f64; N], hold: &Hold) -> (f64, f64) {
        let c = &self.config;
        let (i, bus) = (x[CURRENT], x[BUS]);
        let emf = self.force_constant_at(x[TRAVEL]) * x[RATE];
        let braked = matches!(hold.drive, Drive::Braked(_));
        let voltage = match hold.drive {
            Drive::None => return (0.0, 0.0),
            // Freewheeling into the bus takes the current away within a millisecond or two.
            Drive::Open => return (-i * c.current_loop_radps, self.bus_rate(bus, 0.0)),
            Drive::Braked(ohm) => -ohm * i,
            Drive::Current(command) => {
                let wanted = hold.resistance * i
                    + emf
                    + c.inductance_h * c.current_loop_radps * (command - i);
                let most = bus.max(0.0);
                if wanted > most {
                    most
                } else if wanted < -most {
                    -most
                } else {
                    wanted
                }
            }
        };
        let from_bus = if braked { 0.0 } else { voltage };
        (
            (voltage - hold.resistance * i - emf) * self.inverse.inductance_ph,
            self.bus_rate(bus, from_bus * i),
        )
    }

    #[inline(always)]
    fn bus_rate(&self, bus: f64, power: f64) -> f64 {
        let c = &self.config;
        let source = ((c.supply_v - bus) * self.inverse.source_s).max(0.0);
        let conducts = ((bus - c.chopper_v) * self.inverse.chopper_pv).clamp(0.0, 1.0);
        let chopper = conducts * bus * self.inverse.chopper_s;
        (source - chopper - power / bus.max(1.0)) * self.inverse.capacitance_pf
    }

    #[inline(always)]
    fn runge_kutta(&self, x: &[f64; N], hold: &Hold, at: f64, h: f64) -> [f64; N] {
        let mut y = [0.0; N];
        let k1 = self.derivative(x, hold, at);
        for i in 0..N {
            y[i] = x[i] + 0.5 * h * k1[i];
        }
        let k2 = self.derivative(&y, hold, at + 0.5 * h);
        for i in 0..N {
            y[i] = x[i] + 0.5 * h * k2[i];
        }
        let k3 = self.derivative(&y, hold, at + 0.5 * h);
        for i in 0..N {
            y[i] = x[i] + h * k3[i];
        }
        let k4 = self.derivative(&y, hold, at + h);
        for i in 0..N {
            y[i] = x[i] + h / 6.0 * (k1[i] + 2.0 * (k2[i] + k3[i]) + k4[i]);
        }
        y
    }
}

/// Distance of a stop's face from mid travel, on the side of `travel`.
#[inline(always)]
fn face(c: &Config, lower_m: f64, travel: f64) -> f64 {
    if travel < 0.0 { lower_m } else { c.travel_m }
}

/// Force of the bumpers on the seat, N, positive up. The lower one is met `lower_m` below mid travel.
#[inline(always)]
fn bumper(c: &Config, lower_m: f64, travel: f64, rate: f64) -> f64 {
    // No stop is nearer than the lower one.
    if travel.abs() <= lower_m {
        return 0.0;
    }
    let over = travel.abs() - face(c, lower_m, travel);
    if over <= 0.0 {
        return 0.0;
    }
    let side = travel.signum();
    let closing = rate * side;
    -side * (c.bumper_npm15 * over * over.sqrt() * (1.0 + c.bumper_spm * closing)).max(0.0)
}
