//! The bound of a whole record.
//!
//! A long record is taken in overlapping windows, so that memory does not grow with it. Least r.m.s.: a window
//! starts where the one before has come to and looks `ahead_s` beyond what is kept of it; the motions join into
//! one that keeps within the travel, a little worse than the best of the whole. Least peak: a window reaches
//! `ahead_s` beyond its own part at both ends and starts anywhere; the largest of the windows' peaks is never
//! above that of the whole.

use super::comfort::Comfort;
use super::program::{Aim, KnotState, Motion, Program, Start, TravelRule};
use super::window::{Grid, Seat, Stream, excursion};
use super::{BoundError, BoundFigures, SolverStatus};
use crate::exposure::seat_value::seat_over_floor;
use crate::exposure::{ExposureMeter, Weighting};
use crate::floor::{self, FloorSource, FloorSpec, FloorState};
use crate::range::{self, OutOfRange, within};

/// How a long record is cut.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Windows {
    /// Records up to this length are solved in one piece, s.
    pub whole_s: f64,
    /// What is kept of a window, s.
    pub kept_s: f64,
    /// How far a window reaches beyond that, s.
    pub ahead_s: f64,
}

impl Default for Windows {
    fn default() -> Self {
        Self {
            whole_s: 120.0,
            kept_s: 60.0,
            ahead_s: 10.0,
        }
    }
}

/// What is bounded.
#[derive(Clone, Debug, PartialEq)]
pub struct BoundSpec {
    /// The floor.
    pub floor: FloorSpec,
    /// Sample rate of the floor and of the figures, Hz.
    pub rate_hz: f64,
    /// Length of the record, s.
    pub seconds: f64,
    /// Start left out of the figures, s.
    pub skip_s: f64,
    /// Travel to either side, m: 0.0001 to 10.
    pub travel_m: f64,
    /// Step from knot to knot for the least r.m.s., s.
    pub rms_knot_s: f64,
    /// Step from knot to knot for the least peak, s.
    pub peak_knot_s: f64,
    /// How a long record is cut.
    pub windows: Windows,
}

impl BoundSpec {
    /// The bound of a ride of that length on that floor.
    #[must_use]
    pub fn new(floor: FloorSpec, rate_hz: f64, seconds: f64, skip_s: f64, travel_m: f64) -> Self {
        Self {
            floor,
            rate_hz,
            seconds,
            skip_s,
            travel_m,
            rms_knot_s: 0.010,
            peak_knot_s: 0.005,
            windows: Windows::default(),
        }
    }

    fn samples(&self) -> usize {
        (self.seconds * self.rate_hz).round() as usize
    }

    fn skipped(&self) -> usize {
        (self.skip_s * self.rate_hz).round() as usize
    }

    fn check(&self) -> Result<(), OutOfRange> {
        within("travel", self.travel_m, 1.0e-4, 10.0, "0.0001 to 10 m")?;
        range::lengths(self.seconds, self.skip_s)
    }
}

/// The clairvoyant bound of a record.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bound {
    /// Least SEAT value by weighted r.m.s.; `None` on a floor at rest.
    pub seat_value: Option<f64>,
    /// Least Wk-weighted r.m.s. acceleration, m/s^2.
    pub weighted_rms_mps2: f64,
    /// The same as the program itself reckons it, by the formula of Wk without its low-pass, m/s^2.
    pub program_rms_mps2: f64,
    /// Least peak acceleration, unweighted, m/s^2.
    pub peak_mps2: f64,
    /// Travel to either side that was allowed, m.
    pub travel_limit_m: f64,
    /// Wk-weighted r.m.s. acceleration of the floor, m/s^2.
    pub floor_weighted_rms_mps2: f64,
    /// Peak acceleration of the floor, unweighted, m/s^2.
    pub floor_peak_mps2: f64,
    /// Largest travel of the motion of least r.m.s., at every sample, m.
    pub travel_peak_m: f64,
    /// The less sure of both solutions.
    pub status: SolverStatus,
    /// Number of windows.
    pub windows: usize,
}

impl Bound {
    /// What goes beside a ride.
    #[must_use]
    pub const fn figures(&self) -> BoundFigures {
        BoundFigures {
            seat_value: self.seat_value,
            peak_mps2: self.peak_mps2,
        }
    }
}

/// Finds the bound, in two threads. `stop` is asked often and ends the search by returning true; `done` hears
/// how many seconds of the record are behind.
///
/// # Errors
/// [`BoundError`].
pub fn run(
    spec: &BoundSpec,
    stop: fn() -> bool,
    mut done: impl FnMut(f64),
) -> Result<Bound, BoundError> {
    spec.check()?;
    let source = || floor::build(&spec.floor, spec.rate_hz);
    let (first, second) = (source()?, source()?);
    std::thread::scope(|scope| {
        let peak = scope.spawn(|| least_peak(spec, second, stop));
        let rms = least_rms(spec, first, stop, &mut done);
        let peak = match peak.join() {
            Ok(peak) => peak,
            Err(panic) => std::panic::resume_unwind(panic),
        };
        let (mut bound, (peak_mps2, status)) = (rms?, peak?);
        bound.peak_mps2 = peak_mps2;
        bound.status = bound.status.max(status);
        Ok(bound)
    })
}

/// The least SEAT value alone, in this thread.
///
/// # Errors
/// [`BoundError`].
pub fn least_seat_value(spec: &BoundSpec, stop: fn() -> bool) -> Result<Option<f64>, BoundError> {
    spec.check()?;
    let source = floor::build(&spec.floor, spec.rate_hz)?;
    Ok(least_rms(spec, source, stop, &mut |_| ())?.seat_value)
}

/// Time in which the meter's 100 Hz low-pass forgets, s.
const LOW_PASS_S: f64 = 0.02;

fn least_rms(
    spec: &BoundSpec,
    source: Box<dyn FloorSource>,
    stop: fn() -> bool,
    done: &mut impl FnMut(f64),
) -> Result<Bound, BoundError> {
    let grid = Grid::new(spec.rate_hz, spec.rms_knot_s, spec.travel_m);
    let (total, skipped) = (spec.samples(), spec.skipped());
    // What is felt reaches the meter through its low-pass: what happens just before counts as well.
    let first_felt = skipped.saturating_sub((LOW_PASS_S * spec.rate_hz).ceil() as usize);
    let meter = || ExposureMeter::new(Weighting::Wk, spec.rate_hz, spec.skip_s);
    let mut seat = Seat {
        floor_meter: meter()?,
        seat_meter: meter()?,
        sample_s: grid.sample_s,
        travel_m: 0.0,
        rate_mps: 0.0,
        travel_peak_m: 0.0,
        weighted_squares: 0.0,
    };
    let mut stream = Stream::new(source);
    let mut start = Start::Rest;
    // Where the floor is, as long as the seat has not moved.
    let mut still = Some(FloorState::default());
    let (mut place, mut windows, mut status) = (0, 0, SolverStatus::Still);
    while place < total {
        let left = total - place;
        let (kept, length) = if left <= grid.samples(spec.windows.whole_s) {
            (left, left)
        } else {
            let kept = grid.samples(spec.windows.kept_s);
            (kept, kept + grid.samples(spec.windows.ahead_s))
        };
        let floor = stream.ahead(grid.padded(length.min(left)));
        if let Some(state) = &mut still {
            state.accel_mps2 = floor[0];
        }
        let reach = still.map(|state| excursion(state, floor, grid.sample_s));
        let knots: Vec<f64>;
        if let (Some(state), true) = (still, reach.is_some_and(|r| r <= spec.travel_m)) {
            knots = vec![0.0; kept.div_ceil(grid.knot_samples) + 1];
            let mut state = state;
            for &accel in &floor[1..=kept.min(floor.len() - 1)] {
                state = state.after(accel, grid.sample_s, 1.0);
            }
            still = Some(state);
            start = Start::At(KnotState {
                travel_m: -state.displacement_m,
                rate_mps: -state.velocity_mps,
                weighting: Vec::new(),
                accel_mps2: Some(0.0),
            });
        } else {
            still = None;
            let counted = (first_felt.saturating_sub(place), left.min(length));
            let program = Program {
                floor_mps2: floor,
                sample_s: grid.sample_s,
                knot_samples: grid.knot_samples,
                checks: grid.checks,
                counted,
                aim: Aim::Rms(Comfort::Wk),
                travel: TravelRule::Limit(spec.travel_m),
                start: start.clone(),
            };
            let motion = program.solve(stop)?;
            status = status.max(motion.status);
            let first = skipped.saturating_sub(place).min(kept);
            seat.weighted_squares += program.weighted_squares(&motion, first, kept);
            knots = accelerations(&motion);
            if let Some(state) = motion.knots.get(kept / grid.knot_samples) {
                start = Start::At(state.clone());
            }
        }
        seat.push(&grid, &knots, floor, kept);
        windows += 1;
        place += kept;
        stream.drop(kept);
        done(place as f64 * grid.sample_s);
        if stop() {
            return Err(BoundError::Interrupted);
        }
    }
    let (floor, figures) = (seat.floor_meter.figures()?, seat.seat_meter.figures()?);
    Ok(Bound {
        seat_value: seat_over_floor(figures.weighted_rms_mps2, floor.weighted_rms_mps2)?,
        weighted_rms_mps2: figures.weighted_rms_mps2,
        program_rms_mps2: (seat.weighted_squares / (total - skipped).max(1) as f64).sqrt(),
        peak_mps2: 0.0,
        travel_limit_m: spec.travel_m,
        floor_weighted_rms_mps2: floor.weighted_rms_mps2,
        floor_peak_mps2: floor.peak_mps2,
        travel_peak_m: seat.travel_peak_m,
        status,
        windows,
    })
}

fn accelerations(motion: &Motion) -> Vec<f64> {
    motion
        .knots
        .iter()
        .map(|knot| knot.accel_mps2.unwrap_or_default())
        .collect()
}

fn least_peak(
    spec: &BoundSpec,
    source: Box<dyn FloorSource>,
    stop: fn() -> bool,
) -> Result<(f64, SolverStatus), BoundError> {
    let grid = Grid::new(spec.rate_hz, spec.peak_knot_s, spec.travel_m);
    let (total, skipped) = (spec.samples(), spec.skipped());
    let (kept, ahead) = (
        grid.samples(spec.windows.kept_s),
        grid.samples(spec.windows.ahead_s),
    );
    let whole = total <= grid.samples(spec.windows.whole_s);
    let mut stream = Stream::new(source);
    let (mut largest, mut status) = (0.0_f64, SolverStatus::Still);
    let mut place = 0;
    loop {
        let left = total - place;
        let length = if whole {
            left
        } else {
            left.min(kept + 2 * ahead)
        };
        let floor = stream.ahead(grid.padded(length));
        let counted = (skipped.saturating_sub(place), length);
        let rest = FloorState {
            accel_mps2: floor[0],
            ..FloorState::default()
        };
        let stands = place == 0 && excursion(rest, floor, grid.sample_s) <= spec.travel_m;
        if !stands && counted.0 < counted.1 {
            let motion = Program {
                floor_mps2: floor,
                sample_s: grid.sample_s,
                knot_samples: grid.knot_samples,
                checks: grid.checks,
                counted,
                aim: Aim::Peak,
                travel: TravelRule::Limit(spec.travel_m),
                start: if place == 0 { Start::Rest } else { Start::Free },
            }
            .solve(stop)?;
            largest = largest.max(motion.peak_mps2);
            status = status.max(motion.status);
        }
        if length == left {
            return Ok((largest, status));
        }
        place += kept;
        stream.drop(kept);
        if stop() {
            return Err(BoundError::Interrupted);
        }
    }
}
