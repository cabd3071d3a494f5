//! Stage 3: the motion of floor and seat.
//!
//! One observer with fixed gains joins both accelerometers and the travel
//! sensor. Its states are the floor's displacement and velocity, the bias of
//! the floor accelerometer, the travel, the travel rate and the bias of the
//! seat accelerometer. Two innovations correct it: travel measured less travel
//! predicted, and zero less floor displacement, which says that the floor goes
//! nowhere in the long run and makes displacement and velocity high-passed.
//! The gains come from the noise figures of the rig by a discrete Riccati
//! equation, solved on the host.
//!
//! A lattice learns the floor's velocity as an autoregression and forecasts
//! the floor over the next fraction of a second.

use crate::check::{BuildError, POSITIVE, hold, range, require, rules, within};
use crate::parameters::{Timing, nearest_whole};
use shared_math::{
    Flag, Forecast, Lattice, LatticeConfig, LatticeWork, Observer, ObserverGains, Plain, Scalar,
    Turn, plain, rolled, seldom_product,
};

/// States of the observer.
pub const STATES: usize = 6;
/// Innovations: floor displacement, travel.
pub const INNOVATIONS: usize = 2;
/// Order of the floor's autoregression.
pub const ORDER: usize = 5;
/// Control steps between two samples of the autoregression.
pub const SAMPLE_STEPS: usize = 17;
/// Times at which the floor is forecast.
pub const TIMES: usize = 8;
/// Samples of the autoregression between two forecast times.
pub const SAMPLES_PER_TIME: usize = 4;

/// Samples of the autoregression's response worked out in each step that the lattice leaves free.
const RESPONSE_A_STEP: usize = 3;
/// All samples of the response, the one at once included, which is worked out beside the lattice's last work.
const RESPONSE: usize = 1 + RESPONSE_A_STEP * (SAMPLE_STEPS - ORDER - 1);
const _: () = assert!(RESPONSE > TIMES * SAMPLES_PER_TIME);

/// Sets of faster gains after a reset.
pub const START_STAGES: usize = 3;

/// Gains of a stage of the start.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
#[repr(C)]
pub struct StartStage {
    /// Time since reset at which the stage ends, s, 0 to 60, not before the last stage's end.
    pub until_s: f32,
    /// Its gains, as [`Parameters::gains`].
    pub gains: [[f32; INNOVATIONS]; STATES],
}

plain!([] StartStage {
    until_s,
    gains
});

/// Gains and forecast.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
#[repr(C)]
pub struct Parameters {
    /// Steady observer gains for each step; rows: floor displacement, floor
    /// velocity, floor bias, travel, travel rate, seat bias; columns: floor
    /// displacement (m), travel (m).
    pub gains: [[f32; INNOVATIONS]; STATES],
    /// Faster gains while the biases are being learnt after a reset, one set after the other.
    pub start: [StartStage; START_STAGES],
    /// Gains without a floor accelerometer. The third state then stands for the floor's acceleration, downward.
    pub without_floor: [[f32; INNOVATIONS]; STATES],
    /// Gains without a seat accelerometer: the law's model of the seat takes its place.
    pub without_seat: [[f32; INNOVATIONS]; STATES],
    /// Largest accelerometer bias, m/s^2, up to 5. In the first moments after reset
    /// the machine is taken to stand still and what the accelerometers
    /// show, up to this, for bias.
    pub bias_max_mps2: f32,
    /// Memory of the forecast, s, 1 to 60.
    pub forecast_window_s: f32,
    /// Floor velocity below which the forecast relies on its prior, m/s.
    pub forecast_floor_mps: f32,
    /// Residual velocity below which later coefficients fade, m/s.
    pub forecast_residual_mps: f32,
    /// Floor velocity kept over one sample without experience, share, 0 to 1.
    pub forecast_persistence: f32,
}

plain!([] Parameters {
    gains,
    start,
    without_floor,
    without_seat,
    bias_max_mps2,
    forecast_window_s,
    forecast_floor_mps,
    forecast_residual_mps,
    forecast_persistence
});

/// Immutable constants of the stage.
#[derive(Clone, Copy, Debug)]
#[repr(C)]
pub struct Config<S> {
    accel_max: S,
    step: S,
    half_step_squared: S,
    bias_max: S,
    /// Largest displacement, m, and velocity, m/s.
    far_max: S,
    /// Half of their reciprocals.
    per_far: S,
    per_bias: S,
    lattice: LatticeConfig<S>,
    half_sample: S,
    /// One set after the other.
    gains: [GainSet<S>; START_STAGES + 1],
    without_floor: ObserverGains<S, STATES, INNOVATIONS>,
    without_seat: ObserverGains<S, STATES, INNOVATIONS>,
    still_shares: [S; STILL_STEPS as usize],
}

plain!([S: Plain] Config<S> {
    accel_max, step, half_step_squared, bias_max, far_max, per_far, per_bias, lattice, half_sample,
    gains, without_floor, without_seat, still_shares
});

impl<S> Config<S> {
    /// First and last word of those that carry the state from one step to the next.
    pub(crate) const FORESEES: [usize; 2] = [
        core::mem::offset_of!(Self, step) / 4,
        core::mem::offset_of!(Self, half_step_squared) / 4,
    ];
}

/// Gains and the step at which the next set takes over.
#[derive(Clone, Copy, Debug)]
#[repr(C)]
struct GainSet<S> {
    until: u32,
    gains: ObserverGains<S, STATES, INNOVATIONS>,
}

plain!([S: Plain] GainSet<S> { until, gains });

/// Bound of displacements, m, and velocities, m/s.
const FAR_MAX: f32 = 10.0;

/// By how much more a difference from what the states were left as counts against their bounds: a millionth (m, m/s or m/s^2)
/// is not felt.
const PER_STRUCK: f32 = 1.0e6;

/// Largest floor acceleration that is believed without an accelerometer, m/s^2.
const ACCEL_MAX_MPS2: f32 = 40.0;

/// Steps after reset in which the machine is taken to stand still.
const STILL_STEPS: u32 = 32;

/// Scale of the lattice's input: keeps sums of squares within the fixed-point range.
const LATTICE_SCALE: f32 = 0.5;

#[inline(never)]
fn check_gains(gains: &[[f32; INNOVATIONS]; STATES]) -> Result<(), BuildError> {
    for &k in rolled(gains.as_flattened()) {
        require(
            k.abs() < 100.0,
            "estimate.gains",
            k,
            "finite gains below 100",
        )?;
    }
    Ok(())
}

impl Parameters {
    #[inline(never)]
    pub(crate) fn check(&self) -> Result<(), BuildError> {
        let mut last = 0.0;
        for stage in rolled(self.start.as_slice()) {
            within(
                "estimate.start.until_s",
                stage.until_s,
                last,
                60.0,
                "up to 60 s, in order of time",
            )?;
            last = stage.until_s;
        }
        check_gains(&self.gains)?;
        for stage in rolled(self.start.as_slice()) {
            check_gains(&stage.gains)?;
        }
        check_gains(&self.without_floor)?;
        check_gains(&self.without_seat)?;
        hold(
            self,
            rules!["estimate":
                bias_max_mps2: range(0.0, 5.0, "0 to 5 m/s2"),
                forecast_window_s: range(1.0, 60.0, "1 to 60 s"),
                forecast_floor_mps: POSITIVE,
                forecast_residual_mps: POSITIVE,
                forecast_persistence: range(0.0, 1.0, "0 to 1"),
            ],
        )
    }

    /// Checks the parameters and makes the configuration.
    ///
    /// # Errors
    /// Names the first field that cannot be used.
    pub fn build<S: Scalar>(&self, timing: &Timing) -> Result<Config<S>, BuildError> {
        self.check()?;
        Ok(self.config(timing))
    }

    /// Set `n` of the gains: those of the start, then the steady ones.
    #[inline(never)]
    fn gain_set<S: Scalar>(&self, n: usize, step_s: f32) -> GainSet<S> {
        let (until, gains) = match self.start.get(n) {
            Some(stage) => (nearest_whole(stage.until_s / step_s), &stage.gains),
            None => (u32::MAX, &self.gains),
        };
        GainSet {
            until,
            gains: ObserverGains::from_f32(gains),
        }
    }

    /// The configuration of parameters that have been checked.
    #[inline(never)]
    pub(crate) fn config<S: Scalar>(&self, timing: &Timing) -> Config<S> {
        let dt = timing.step_s;
        let sample_s = dt * SAMPLE_STEPS as f32;
        let window = self.forecast_window_s / sample_s;
        let squared_sum = |v: f32| 2.0 * v * v * window;
        let mut gains = [GainSet {
            until: u32::MAX,
            gains: ObserverGains([[S::ZERO; INNOVATIONS]; STATES]),
        }; START_STAGES + 1];
        for (n, set) in rolled(gains.as_mut_slice()).iter_mut().enumerate() {
            *set = self.gain_set(n, dt);
        }
        let mut still_shares = [S::ZERO; STILL_STEPS as usize];
        let mut steps = 0.0;
        for share in rolled(still_shares.as_mut_slice()) {
            steps += 1.0;
            *share = S::of_parameter(1.0 / steps);
        }
        Config {
            step: S::of_parameter(dt),
            half_step_squared: S::of_parameter(0.5 * dt * dt),
            gains,
            without_floor: ObserverGains::from_f32(&self.without_floor),
            without_seat: ObserverGains::from_f32(&self.without_seat),
            accel_max: S::of_parameter(ACCEL_MAX_MPS2),
            bias_max: S::of_parameter(self.bias_max_mps2),
            still_shares,
            far_max: S::of_parameter(FAR_MAX),
            // All together reach one where two of them are at their bounds.
            per_far: S::of_parameter(0.5 / FAR_MAX),
            per_bias: S::of_parameter(Scalar::min(0.5 / self.bias_max_mps2, 100.0)),
            lattice: LatticeConfig::new(
                LATTICE_SCALE,
                window,
                squared_sum(self.forecast_floor_mps),
                self.forecast_persistence,
                squared_sum(self.forecast_residual_mps),
            ),
            half_sample: S::of_parameter(0.5 * sample_s / LATTICE_SCALE),
        }
    }
}

/// The observer's states one step later, under the accelerations of the floor and of the seat relative to it.
#[inline(always)]
#[must_use]
pub fn predicted<S: Scalar>(
    state: &[S; STATES],
    [floor, relative]: [S; 2],
    step: S,
    half_step_squared: S,
) -> [S; STATES] {
    let [z, v, bf, r, w, bs] = *state;
    [
        z + step * v + half_step_squared * floor,
        v + step * floor,
        bf,
        r + step * w + half_step_squared * relative,
        w + step * relative,
        bs,
    ]
}

/// What the stage takes.
#[derive(Clone, Copy, Debug)]
pub struct Input<S> {
    /// Floor acceleration measured, m/s^2.
    pub floor_accel: S,
    /// Seat acceleration measured, m/s^2.
    pub seat_accel: S,
    /// Travel measured, m.
    pub travel: S,
    /// The floor accelerometer is lost: its reading is not looked at.
    pub floor_lost: bool,
    /// The seat accelerometer is lost, likewise.
    pub seat_lost: bool,
    /// Seat acceleration that the model expects in this sample, m/s^2.
    pub model: S,
    /// Largest innovation of travel that corrects anything, m. A sound machine stays within; what is beyond
    /// is doubted, and corrects no more than this (as in a robust M-estimator after Huber).
    pub innovation_max: S,
}

impl<S: Scalar> Input<S> {
    /// Readings of floor acceleration, seat acceleration (m/s^2) and travel (m), none of them lost.
    #[must_use]
    pub const fn sound(floor_accel: S, seat_accel: S, travel: S) -> Self {
        Self {
            floor_accel,
            seat_accel,
            travel,
            floor_lost: false,
            seat_lost: false,
            model: S::ZERO,
            innovation_max: S::ONE,
        }
    }
}

/// What the stage gives.
#[derive(Clone, Copy, Debug)]
pub struct Output<S> {
    /// Floor acceleration less its bias, m/s^2.
    pub floor_accel: S,
    /// Floor velocity, high-passed, m/s.
    pub floor_velocity: S,
    /// Floor displacement, high-passed, m.
    pub floor_displacement: S,
    /// Seat acceleration less its bias, m/s^2.
    pub seat_accel: S,
    /// Seat velocity: floor velocity plus travel rate, m/s.
    pub seat_velocity: S,
    /// Travel, m.
    pub travel: S,
    /// Travel rate, m/s.
    pub travel_rate: S,
    /// Bias of the floor accelerometer, m/s^2.
    pub floor_bias: S,
    /// Bias of the seat accelerometer, m/s^2.
    pub seat_bias: S,
    /// Travel measured less travel predicted, m.
    pub travel_innovation: S,
    /// Which half of the forecast times this step is about; they take turns.
    pub turn: Turn,
    /// Forecast change of the floor's displacement at each of them, m.
    pub floor_ahead: [S; TIMES / 2],
    /// Whether this step costs less than others: there is time for a look at the constants.
    pub slack: bool,
    /// Whether every number was finite, and what was learnt as it had been left.
    pub sound: bool,
}

impl<S: Copy> Output<S> {
    /// The same with every number converted.
    #[must_use]
    pub fn map<T>(&self, f: impl Fn(S) -> T + Copy) -> Output<T> {
        Output {
            floor_accel: f(self.floor_accel),
            floor_velocity: f(self.floor_velocity),
            floor_displacement: f(self.floor_displacement),
            seat_accel: f(self.seat_accel),
            seat_velocity: f(self.seat_velocity),
            travel: f(self.travel),
            travel_rate: f(self.travel_rate),
            floor_bias: f(self.floor_bias),
            seat_bias: f(self.seat_bias),
            travel_innovation: f(self.travel_innovation),
            turn: self.turn,
            slack: self.slack,
            floor_ahead: self.floor_ahead.map(f),
            sound: self.sound,
        }
    }
}

/// The observer's state.
#[derive(Clone, Copy, Debug)]
#[repr(C)]
pub struct State<S> {
    observer: Observer<S, STATES>,
    last: [S; 2],
    /// All of them added up: tells whether one was struck. It would be forgotten over seconds.
    sum: S,
    /// Steps since the reset, until the last set of gains is in use.
    steps: u32,
    /// Set of gains in use; what is beyond the sets is the last.
    stage: u32,
    even_turn: Flag,
    lattice: Lattice<S, ORDER, SAMPLE_STEPS>,
    forecast: Forecast<S, ORDER, RESPONSE>,
}

plain!([S: Plain] State<S> { observer, last, sum, steps, stage, even_turn, lattice, forecast });

impl<S: Scalar> Default for State<S> {
    fn default() -> Self {
        Self {
            observer: Observer::default(),
            last: [S::ZERO; 2],
            sum: S::ZERO,
            steps: 0,
            stage: 0,
            lattice: Lattice::default(),
            forecast: Forecast::default(),
            even_turn: Flag::new(false),
        }
    }
}

impl<S: Scalar> State<S> {
    /// One step. Non-finite states are replaced by zero and reported, and so are states that are not as they were
    /// left.
    pub fn step(&mut self, config: &Config<S>, input: &Input<S>) -> Output<S> {
        let turn = Turn::of(self.even_turn).other();
        self.even_turn = Flag::new(turn == Turn::Even);
        let (mut floor_accel, mut seat_accel) = (input.floor_accel, input.seat_accel);
        let struck = (self.added_up() - self.sum).abs();
        let [.., steady] = &config.gains;
        let mut gains = &steady.gains;
        if self.stage < START_STAGES as u32 {
            gains = self.start(config, input);
        }
        if input.floor_lost {
            floor_accel = S::ZERO;
            gains = &config.without_floor;
        } else if input.seat_lost {
            seat_accel = input.model + self.observer.state[5];
            gains = &config.without_seat;
        }
        // Predict with the mean acceleration over the step.
        let [_, _, bf, _, _, bs] = self.observer.state;
        let mean = |a: S, b: S| (a + b) * S::from_q24(1 << 23);
        let floor = mean(self.last[0], floor_accel) - bf;
        let relative = mean(self.last[1], seat_accel) - bs - floor;
        self.last = [floor_accel, seat_accel];
        self.observer.state = predicted(
            &self.observer.state,
            [floor, relative],
            config.step,
            config.half_step_squared,
        );

        // Correct.
        let travel_innovation = input.travel - self.observer.state[3];
        let innovation = [
            -self.observer.state[0],
            travel_innovation.limit(-input.innovation_max, input.innovation_max),
        ];
        self.observer.correct(gains, &innovation);
        let as_left = self.keep_bounded(config, struck, input.floor_lost);
        self.sum = self.added_up();

        let [z, v, bf, r, w, bs] = self.observer.state;
        let (floor_ahead, work) = self.forecast_floor(config, turn, v);
        Output {
            floor_accel: floor_accel - bf,
            floor_velocity: v,
            floor_displacement: z,
            // By the model the seat does what is expected, and the disturbance estimate rests.
            seat_accel: if input.seat_lost {
                input.model
            } else {
                seat_accel - bs
            },
            seat_velocity: v + w,
            travel: r,
            travel_rate: w,
            floor_bias: bf,
            seat_bias: bs,
            travel_innovation,
            turn,
            slack: work != LatticeWork::Rest,
            floor_ahead,
            sound: as_left & (work != LatticeWork::Struck),
        }
    }

    /// Travel, m.
    #[must_use]
    pub const fn travel(&self) -> S {
        let [_, _, _, r, _, _] = self.observer.state;
        r
    }

    /// Travel rate, m/s.
    #[must_use]
    pub const fn travel_rate(&self) -> S {
        let [_, _, _, _, w, _] = self.observer.state;
        w
    }

    /// Travel in the next step by what is known now, m.
    #[must_use]
    pub fn expected_travel(&self, config: &Config<S>) -> S {
        let [_, _, _, r, w, _] = self.observer.state;
        r + seldom_product(config.step, w)
    }

    /// From the next step on as after a reset, but for what is known of the floor's course.
    #[inline(always)]
    pub const fn begin_anew(&mut self) {
        (self.steps, self.stage) = (0, 0);
    }

    /// Takes back what the last readings of travel, each believed to be `believed` (m) from what was expected, have corrected of
    /// travel, its rate and the biases, when its sensor turns out to be wrong. The floor's motion has hardly moved.
    #[inline(always)]
    pub fn take_back(&mut self, config: &Config<S>, believed: S) {
        let [.., steady] = &config.gains;
        let set = config.gains.get(self.stage as usize).unwrap_or(steady);
        let all = (0..crate::agree::IN_A_ROW).fold(S::ZERO, |all, _| all + believed);
        let [_, _, state @ ..] = &mut self.observer.state;
        let [_, _, gains @ ..] = &set.gains.0;
        for (x, [_, by_travel]) in state.iter_mut().zip(gains) {
            *x = *x - seldom_product(*by_travel, all);
        }
        self.sum = self.added_up();
    }

    /// Learns from the floor velocity `v` and forecasts the floor.
    fn forecast_floor(
        &mut self,
        config: &Config<S>,
        turn: Turn,
        v: S,
    ) -> ([S; TIMES / 2], LatticeWork) {
        let work = self.lattice.step(&config.lattice, v);
        match work {
            LatticeWork::Stage | LatticeWork::Struck => {}
            LatticeWork::Fresh => {
                self.forecast.begin(self.lattice.coefficients());
                self.forecast.work::<1>(config.half_sample);
            }
            LatticeWork::Rest => self.forecast.work::<RESPONSE_A_STEP>(config.half_sample),
        }
        let recent = self.lattice.recent();
        let ahead = self.forecast.integral::<{ TIMES / 2 }, SAMPLES_PER_TIME>(
            recent,
            config.half_sample,
            turn,
        );
        (ahead, work)
    }

    /// All that the observer keeps.
    #[inline(always)]
    fn added_up(&self) -> S {
        let [z, v, bf, r, w, bs] = self.observer.state;
        let [floor, seat] = self.last;
        ((z + v) + (bf + bs)) + ((floor + seat) + (r + w))
    }

    /// After a reset: the gains of this step, which are those of the start.
    #[inline(always)]
    fn start<'a>(
        &mut self,
        config: &'a Config<S>,
        input: &Input<S>,
    ) -> &'a ObserverGains<S, STATES, 2> {
        let [first, ..] = &config.gains;
        let set = config.gains.get(self.stage as usize).unwrap_or(first);
        if self.steps >= set.until {
            self.stage += 1;
        }
        self.steps = self.steps.saturating_add(1);
        if self.steps < STILL_STEPS {
            if self.steps == 1 {
                self.observer.state[3] = input.travel;
                self.last = [input.floor_accel, input.seat_accel];
            }
            self.stand_still(config, input);
        }
        &set.gains
    }

    /// The mean of the readings so far is the bias; the floor rests.
    fn stand_still(&mut self, config: &Config<S>, input: &Input<S>) {
        let share = config
            .still_shares
            .get(self.steps as usize)
            .copied()
            .unwrap_or(S::ZERO);
        let [_, _, bf, r, w, bs] = self.observer.state;
        let toward = |b: S, a: S| (b + share * (a - b)).limit(-config.bias_max, config.bias_max);
        let biases = [toward(bf, input.floor_accel), toward(bs, input.seat_accel)];
        self.observer.state = [S::ZERO, S::ZERO, biases[0], r, w, biases[1]];
    }

    /// Keeps the states within their bounds, and says whether they were numbers and as they were left but for `struck`. In no
    /// machine are the bounds ever met, so that one look at all of them together is enough; a sum with one that is not
    /// finite fails it too.
    #[inline(always)]
    fn keep_bounded(&mut self, config: &Config<S>, struck: S, floor_lost: bool) -> bool {
        let [z, v, bf, r, w, bs] = self.observer.state;
        let far = (z.abs() + r.abs()) + (v.abs() + w.abs());
        let near = bf.abs() + bs.abs() + S::from_f32(PER_STRUCK) * struck;
        let used = config.per_far * far + config.per_bias * near;
        used.is_within(1.0) || self.bound(config, struck, floor_lost)
    }

    /// Bounds each state; all are zero when one was not finite.
    #[cold]
    #[inline(never)]
    fn bound(&mut self, config: &Config<S>, struck: S, floor_lost: bool) -> bool {
        let finite = self.observer.state.iter().all(|x| x.is_finite());
        if !finite {
            self.observer = Observer::default();
        }
        let within = |x: S, most: S| x.limit(-most, most);
        let floor_bias_max = if floor_lost {
            config.accel_max
        } else {
            config.bias_max
        };
        let [z, v, bf, r, w, bs] = self.observer.state;
        self.observer.state = [
            within(z, config.far_max),
            within(v, config.far_max),
            within(bf, floor_bias_max),
            within(r, config.far_max),
            within(w, config.far_max),
            within(bs, config.bias_max),
        ];
        finite && struck.is_within(0.0)
    }
}
