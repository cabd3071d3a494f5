//! One value of the machine at a time: how far may it go until each limit breaks?

use super::limits::{Limits, NAMES};
use super::margin::Margins;
use super::point::{Bench, Point};
use super::study::{Found, LawAt, StudyError, examine, laws, parallel};
use super::vary::{Truth, VALUES, Value};
use serde::Serialize;

/// A change that breaks a limit.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Breaking {
    /// Which limit, of [`NAMES`].
    pub limit: &'static str,
    /// Which value.
    pub value: &'static str,
    /// Factor on it at which the limit breaks.
    pub factor: f64,
    /// Where, in words.
    pub point: String,
}

/// Ratio of the factors that are tried on the way out.
const RATIO: f64 = 1.3;
/// How many of them.
const STEPS: usize = 5;
/// Halvings of the last interval.
const HALVINGS: usize = 7;

/// The farthest factor that is tried, and its reciprocal.
#[must_use]
pub fn farthest() -> f64 {
    RATIO.powi(STEPS as i32)
}

/// The points where something is worst: by each margin at each place.
fn critical(points: &[Found]) -> Vec<Point> {
    let isolating: Vec<&Found> = points.iter().filter(|f| !f.point.doing.brakes()).collect();
    let picks: [fn(&Margins) -> f64; 5] = [
        |m| m.gain_margin_up_db,
        |m| m.gain_margin_down_db,
        |m| m.phase_margin_deg,
        |m| m.disk_margin,
        |m| m.delay_margin_s,
    ];
    let mut chosen: Vec<Point> = Vec::new();
    // Not at the floor accelerometer, where there is no loop.
    for place in [0, 2, 3] {
        for pick in picks {
            let worst = isolating
                .iter()
                .min_by(|a, b| pick(&a.margins[place]).total_cmp(&pick(&b.margins[place])));
            if let Some(found) = worst
                && !chosen.contains(&found.point)
            {
                chosen.push(found.point);
            }
        }
    }
    chosen
}

/// For every limit that holds as it is, the values that break it, the nearest first.
///
/// # Errors
/// As [`super::study::run`].
pub fn table(
    bench: &Bench,
    points: &[Found],
    limits: &Limits,
    look: impl Fn() -> bool + Sync,
    done: impl Fn(usize) + Sync,
) -> Result<Vec<Breaking>, StudyError> {
    let points = critical(points);
    let (laws, places) = laws(bench, &points, &look)?;
    let search = Search {
        bench,
        limits,
        points: points
            .iter()
            .zip(&places)
            .map(|(point, &place)| (point, &laws[place]))
            .collect(),
    };
    let ways: Vec<(&Value, bool)> = VALUES
        .iter()
        .flat_map(|value| [(value, true), (value, false)])
        .collect();
    let found = parallel(&ways, |&(value, up)| Ok(search.run(value, up)), look, done)?;
    let mut rows: Vec<Breaking> = found.into_iter().flatten().collect();
    let order = |row: &Breaking| NAMES.iter().position(|name| *name == row.limit);
    rows.sort_by(|a, b| {
        let by_size = a.factor.ln().abs().total_cmp(&b.factor.ln().abs());
        order(a).cmp(&order(b)).then(by_size)
    });
    Ok(rows)
}

struct Search<'a> {
    bench: &'a Bench,
    limits: &'a Limits,
    points: Vec<(&'a Point, &'a LawAt)>,
}

impl Search<'_> {
    fn broken(
        &self,
        (point, law): (&Point, &LawAt),
        value: &Value,
        factor: f64,
    ) -> [bool; NAMES.len()] {
        let truth = Truth::of(&self.bench.rig).with(value, factor);
        let found = examine(law, &truth.machine(self.bench, point), point);
        self.limits.broken_at(&found)
    }

    fn run(&self, value: &Value, up: bool) -> Vec<Breaking> {
        let factor = |x: f64| if up { x } else { 1.0 / x };
        // What is broken from the start is not looked at.
        let mut settled = [false; NAMES.len()];
        for &at in &self.points {
            for (settled, broken) in settled.iter_mut().zip(self.broken(at, value, 1.0)) {
                *settled |= broken;
            }
        }
        let mut rows = Vec::new();
        for k in 1..=STEPS {
            let x = RATIO.powi(k as i32);
            let mut nearest: [Option<(f64, &Point)>; NAMES.len()] = [None; NAMES.len()];
            for &at in &self.points {
                let broken = self.broken(at, value, factor(x));
                for i in 0..NAMES.len() {
                    if broken[i] && !settled[i] {
                        let (mut good, mut bad) = (x / RATIO, x);
                        for _ in 0..HALVINGS {
                            let mid = 0.5 * (good + bad);
                            if self.broken(at, value, factor(mid))[i] {
                                bad = mid;
                            } else {
                                good = mid;
                            }
                        }
                        if nearest[i].is_none_or(|(other, _)| bad < other) {
                            nearest[i] = Some((bad, at.0));
                        }
                    }
                }
            }
            for i in 0..NAMES.len() {
                if let Some((x, point)) = nearest[i] {
                    settled[i] = true;
                    rows.push(Breaking {
                        limit: NAMES[i],
                        value: value.name,
                        factor: factor(x),
                        point: point.words(),
                    });
                }
            }
            if settled == [true; NAMES.len()] {
                break;
            }
        }
        rows
    }
}
