//! One value of the machine at a time: how far may it go until a limit breaks?

use super::limits::Limits;
use super::point::{Bench, Point};
use super::study::{Found, LawAt, StudyError, examine, laws, parallel};
use super::vary::{Truth, VALUES, Value};
use serde::Serialize;

/// The change that breaks the first limit.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Breaking {
    /// Which value.
    pub value: &'static str,
    /// Factor on it at which a limit breaks; null: none within a tenth and ten times.
    pub factor: f64,
    /// Which limit.
    pub limit: Option<&'static str>,
    /// Where.
    pub point: Option<String>,
}

/// Ratio of the factors that are tried on the way out.
const RATIO: f64 = 1.08;
/// Farthest factor, and its reciprocal.
const FARTHEST: f64 = 10.0;

/// The points where something is worst: by each margin at each place, the worst few.
fn critical(points: &[Found]) -> Vec<Point> {
    let isolating: Vec<&Found> = points.iter().filter(|f| !f.point.doing.brakes()).collect();
    let mut chosen: Vec<Point> = Vec::new();
    for place in [0, 2, 3] {
        let picks: [fn(&super::margin::Margins) -> f64; 5] = [
            |m| m.gain_margin_up_db,
            |m| m.gain_margin_down_db,
            |m| m.phase_margin_deg,
            |m| m.disk_margin,
            |m| m.delay_margin_s,
        ];
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

/// All values, the most sensitive first; each up and down.
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
    let ways: Vec<(&Value, bool)> = VALUES
        .iter()
        .flat_map(|value| [(value, true), (value, false)])
        .collect();
    let mut rows = parallel(
        &ways,
        |&(value, up)| Ok(search(bench, &points, &laws, &places, limits, value, up)),
        look,
        done,
    )?;
    rows.sort_by(|a, b| a.factor.ln().abs().total_cmp(&b.factor.ln().abs()));
    Ok(rows)
}

fn search(
    bench: &Bench,
    points: &[Point],
    laws: &[LawAt],
    places: &[usize],
    limits: &Limits,
    value: &Value,
    up: bool,
) -> Breaking {
    let broken = |factor: f64| -> Option<(&'static str, String)> {
        let truth = Truth::of(&bench.rig).with(value, factor);
        points.iter().zip(places).find_map(|(point, &place)| {
            let found = examine(&laws[place], &truth.machine(bench, point), point);
            limits
                .first_broken(&found)
                .map(|limit| (limit, point.words()))
        })
    };
    let factor = |x: f64| if up { x } else { 1.0 / x };
    let (mut good, mut x) = (1.0, RATIO);
    let mut first = None;
    while x <= FARTHEST * (1.0 + 1.0e-9) {
        first = broken(factor(x));
        if first.is_some() {
            break;
        }
        good = x;
        x *= RATIO;
    }
    if first.is_none() {
        return Breaking {
            value: value.name,
            factor: f64::INFINITY,
            limit: None,
            point: None,
        };
    }
    for _ in 0..7 {
        let mid = 0.5 * (good + x);
        match broken(factor(mid)) {
            Some(what) => {
                x = mid;
                first = Some(what);
            }
            None => good = mid,
        }
    }
    let (limit, point) = first.unzip();
    Breaking {
        value: value.name,
        factor: factor(x),
        limit,
        point,
    }
}
