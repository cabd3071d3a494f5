//! Margins of a loop from its gain over frequency.
//!
//! - Gain margin: the nearest factor on the loop gain, up and down, with which a pole stands on the
//!   unit circle: -1/L where L is real and negative.
//! - Phase margin: the least turn at which |L| = 1 becomes -1. Delay margin: the least delay that makes
//!   such a turn, over all crossings: phase by frequency.
//! - Disk margin: `1 / max |S - 1/2|`, `S = 1/(1 + L)`: symmetric (skew 0), as P. Seiler, A. Packard and
//!   P. Gahinet, An introduction to disk margins, IEEE Control Systems Magazine 40(5), 2020. With it, any
//!   complex factor in the disk through (2 - m)/(2 + m) and (2 + m)/(2 - m) is borne.
//!
//! Of a loop that is periodic in two steps, crossings are those of the eigenvalues of its matrix (the same
//! factor in both steps), and the disk margin is by the structured singular value for a factor that may
//! differ between the frequency and its image, in closed form for two by two.

use super::loops::{ClosedLoop, Gain};
use super::state_space::C64;
use serde::Serialize;
use std::f64::consts::{PI, TAU};

/// Margins of one loop. What no factor or delay can break is infinite.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Margins {
    /// Gain margin up, dB.
    pub gain_margin_up_db: f64,
    /// Gain margin down, dB, above zero.
    pub gain_margin_down_db: f64,
    /// Phase margin, degrees.
    pub phase_margin_deg: f64,
    /// Frequency of the phase margin, Hz.
    pub crossover_hz: f64,
    /// Delay margin, s.
    pub delay_margin_s: f64,
    /// Disk margin.
    pub disk_margin: f64,
    /// Frequency of the disk margin, Hz.
    pub disk_hz: f64,
}

impl Margins {
    /// Those of no loop at all.
    pub const NONE: Self = Self {
        gain_margin_up_db: f64::INFINITY,
        gain_margin_down_db: f64::INFINITY,
        phase_margin_deg: f64::INFINITY,
        crossover_hz: f64::NAN,
        delay_margin_s: f64::INFINITY,
        disk_margin: f64::INFINITY,
        disk_hz: f64::NAN,
    };

    /// From angles a step to frequencies.
    fn over(self, step_s: f64) -> Self {
        Self {
            crossover_hz: self.crossover_hz / step_s,
            delay_margin_s: self.delay_margin_s * step_s,
            disk_hz: self.disk_hz / step_s,
            ..self
        }
    }
}

/// Decades looked at below half the control rate (or a quarter, where the law repeats after two steps).
const DECADES: f64 = 5.5;
/// Points of the first grid a decade.
const PER_DECADE: usize = 24;
/// Largest part of the way to -1 that the gain may move between two points of the grid.
const FINE: f64 = 0.25;
/// How often an interval may be halved.
const HALVINGS: u32 = 9;
/// Parabolas to a peak.
const PARABOLAS: usize = 5;

/// Margins at all four places where the loop may be broken.
#[must_use]
pub fn margins(closed: &ClosedLoop<'_>, step_s: f64) -> [Margins; 4] {
    let top = if closed.law.periodic() { 0.5 } else { 1.0 } * PI;
    // Angles of z, so that the grid is the same for all plants of a law.
    let grid = grid(&|angle| closed.gains_on_grid(angle), top);
    core::array::from_fn(|i| {
        let line: Vec<(f64, Gain)> = grid.iter().map(|(x, g)| (*x, g[i])).collect();
        let at = |angle: f64| closed.gains(C64::from_polar(1.0, angle))[i];
        of_line(&line, &at).over(step_s)
    })
}

/// Margins of any loop gain over angular frequency, rad/s, up to `top_radps`; for checks.
#[must_use]
pub fn margins_of(gain: &dyn Fn(f64) -> C64, top_radps: f64) -> Margins {
    let gains = |omega: f64| [Gain::Plain(gain(omega)); 4];
    let grid = grid(&gains, top_radps);
    let line: Vec<(f64, Gain)> = grid.iter().map(|(w, g)| (*w, g[0])).collect();
    of_line(&line, &|omega| gains(omega)[0])
}

/// A grid in frequency that is fine where a gain moves fast.
fn grid(gains: &dyn Fn(f64) -> [Gain; 4], top: f64) -> Vec<(f64, [Gain; 4])> {
    let count = (DECADES * PER_DECADE as f64) as usize;
    let place = |i: usize| top * 10.0_f64.powf((i as f64 - count as f64) / PER_DECADE as f64);
    let mut points = Vec::with_capacity(2 * count);
    let mut last = (place(0), gains(place(0)));
    points.push(last);
    for i in 1..=count {
        let x = if i == count { top } else { place(i) };
        let next = (x, gains(x));
        refine(gains, &last, &next, HALVINGS, &mut points);
        points.push(next);
        last = next;
    }
    points
}

fn refine(
    gains: &dyn Fn(f64) -> [Gain; 4],
    a: &(f64, [Gain; 4]),
    b: &(f64, [Gain; 4]),
    halvings: u32,
    points: &mut Vec<(f64, [Gain; 4])>,
) {
    let far = a.1.iter().zip(&b.1).any(|(x, y)| moved(*x, *y) > FINE);
    if halvings == 0 || !far {
        return;
    }
    let omega = (a.0 * b.0).sqrt();
    let mid = (omega, gains(omega));
    refine(gains, a, &mid, halvings - 1, points);
    points.push(mid);
    refine(gains, &mid, b, halvings - 1, points);
}

/// How far the gain moves, as a share of its way to -1.
fn moved(x: Gain, y: Gain) -> f64 {
    let (a, b) = (critical(x), critical(y));
    let share =
        |a: C64, b: C64| (a - b).norm() / (1.0 + a).norm().min((1.0 + b).norm()).max(1.0e-6);
    let ([a0, a1], [b0, b1]) = (a, paired_with(a, b));
    share(a0, b0).max(share(a1, b1))
}

/// The eigenvalues, one of them zero of a plain gain.
fn critical(gain: Gain) -> [C64; 2] {
    match gain {
        Gain::Plain(l) => [l, C64::ZERO],
        Gain::Paired(m) => {
            let half = (m[(0, 0)] + m[(1, 1)]) * 0.5;
            let root = (half * half - m.determinant()).sqrt();
            [half + root, half - root]
        }
    }
}

/// `b` in the order that lies nearer to `a`.
fn paired_with(a: [C64; 2], b: [C64; 2]) -> [C64; 2] {
    let straight = (a[0] - b[0]).norm() + (a[1] - b[1]).norm();
    let crossed = (a[0] - b[1]).norm() + (a[1] - b[0]).norm();
    if crossed < straight { [b[1], b[0]] } else { b }
}

/// `|S - 1/2|`, or the structured singular value of that matrix.
fn disk_peak(gain: Gain) -> f64 {
    match gain {
        Gain::Plain(l) => 0.5 * ((1.0 - l) / (1.0 + l)).norm(),
        Gain::Paired(m) => {
            let one = nalgebra::Matrix2::identity();
            let Some(sensitivity) = (one + m).try_inverse() else {
                return f64::INFINITY;
            };
            let s = sensitivity - one * C64::new(0.5, 0.0);
            // For two scalar blocks the best scaling balances the off-diagonal elements; the larger
            // singular value follows from the sum of squares and the determinant.
            let squares = s[(0, 0)].norm_sqr()
                + s[(1, 1)].norm_sqr()
                + 2.0 * s[(0, 1)].norm() * s[(1, 0)].norm();
            let determinant = s.determinant().norm_sqr();
            (0.5 * (squares + (squares * squares - 4.0 * determinant).max(0.0).sqrt())).sqrt()
        }
    }
}

fn of_line(line: &[(f64, Gain)], at: &dyn Fn(f64) -> Gain) -> Margins {
    let mut result = Margins::NONE;
    let mut note_gain = |l: C64| {
        if l.re < 0.0 {
            let db = -20.0 * (-l.re).log10();
            if db >= 0.0 {
                result.gain_margin_up_db = result.gain_margin_up_db.min(db);
            } else {
                result.gain_margin_down_db = result.gain_margin_down_db.min(-db);
            }
        }
    };
    // The end of the range: there the gain of a plain loop is real.
    if let Some((_, Gain::Plain(l))) = line.last()
        && l.im.abs() <= 1.0e-9 * l.norm()
    {
        note_gain(*l);
    }
    let mut crossings = Vec::new();
    for pair in line.windows(2) {
        let (wa, a) = (pair[0].0, critical(pair[0].1));
        let (wb, b) = (pair[1].0, paired_with(a, critical(pair[1].1)));
        for branch in 0..2 {
            let (from, to) = (a[branch], b[branch]);
            let value = |omega: f64| nearest(critical(at(omega)), from, to);
            if from.im * to.im < 0.0 && from.re.min(to.re) < 0.0 {
                let omega = root(wa, wb, from.im, to.im, &|w| value(w).im);
                note_gain(value(omega));
            }
            let (over, under) = (from.norm().ln(), to.norm().ln());
            if over * under < 0.0 {
                let omega = root(wa, wb, over, under, &|w| value(w).norm().ln());
                crossings.push((omega, value(omega)));
            }
        }
    }
    for (omega, l) in crossings {
        // The turn to -1 and, for a delay, the turn backwards.
        let ahead = (-l).arg();
        let phase = ahead.abs().to_degrees();
        if phase < result.phase_margin_deg {
            result.phase_margin_deg = phase;
            result.crossover_hz = omega / TAU;
        }
        let lag = ahead.rem_euclid(TAU);
        result.delay_margin_s = result.delay_margin_s.min(lag / omega);
    }
    let (peak, omega) = highest(line, at);
    if peak > 0.5 * (1.0 + 1.0e-12) {
        result.disk_margin = 1.0 / peak;
        result.disk_hz = omega / TAU;
    } else {
        // No loop: S is one.
        result.disk_margin = 2.0;
    }
    result
}

fn nearest(both: [C64; 2], from: C64, to: C64) -> C64 {
    let off = |x: C64| (x - from).norm() + (x - to).norm();
    if off(both[1]) < off(both[0]) {
        both[1]
    } else {
        both[0]
    }
}

/// Zero of `f` between `a` and `b`, where it has the values `fa` and `fb` of opposite sign: the Illinois rule.
fn root(a: f64, b: f64, fa: f64, fb: f64, f: &dyn Fn(f64) -> f64) -> f64 {
    let (mut a, mut b, mut fa, mut fb) = (a, b, fa, fb);
    for _ in 0..60 {
        let x = (a * fb - b * fa) / (fb - fa);
        if !x.is_finite() || (b - a).abs() <= 1.0e-10 * b.abs() {
            break;
        }
        let fx = f(x);
        if fx == 0.0 {
            return x;
        }
        if fx * fb < 0.0 {
            (a, fa) = (b, fb);
        } else {
            fa *= 0.5;
        }
        (b, fb) = (x, fx);
        if fx.abs() < 1.0e-10 {
            break;
        }
    }
    b
}

/// Highest disk peak and its frequency, by parabolas through the two highest points of the grid and
/// their neighbours.
fn highest(line: &[(f64, Gain)], at: &dyn Fn(f64) -> Gain) -> (f64, f64) {
    let peaks: Vec<f64> = line.iter().map(|(_, g)| disk_peak(*g)).collect();
    let mut tops: Vec<usize> = (0..peaks.len())
        .filter(|&i| {
            (i == 0 || peaks[i] >= peaks[i - 1])
                && (i + 1 == peaks.len() || peaks[i] >= peaks[i + 1])
        })
        .collect();
    // A loop that is no loop has S = 1 everywhere.
    tops.retain(|&i| peaks[i] > 0.5 || peaks[i].is_nan());
    tops.sort_by(|&i, &j| peaks[j].total_cmp(&peaks[i]));
    let mut best = (0.5, f64::NAN);
    for &i in tops.iter().take(2) {
        let point = |i: usize| (line[i].0.ln(), peaks[i]);
        let mut top = point(i);
        if i > 0 && i + 1 < line.len() {
            let (mut left, mut right) = (point(i - 1), point(i + 1));
            for _ in 0..PARABOLAS {
                let (a, b) = (top.0 - left.0, top.0 - right.0);
                let (fa, fb) = (top.1 - left.1, top.1 - right.1);
                let x = top.0 - 0.5 * (a * a * fb - b * b * fa) / (a * fb - b * fa);
                if !(x > left.0 && x < right.0) || (x - top.0).abs() < 1.0e-9 {
                    break;
                }
                let next = (x, disk_peak(at(x.exp())));
                let higher = next.1 > top.1;
                let (low, high) = if higher { (top, next) } else { (next, top) };
                if low.0 < high.0 {
                    left = low;
                } else {
                    right = low;
                }
                top = high;
            }
        }
        if top.1 > best.0 {
            best = (top.1, top.0.exp());
        }
    }
    best
}
