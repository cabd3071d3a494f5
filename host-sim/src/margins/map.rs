//! Worst disk margin over mass and extra delay.

use super::limits::inside;
use super::loops::{ClosedLoop, LawResponse};
use super::margin::{self, Margins};
use super::plant_model::LinearPlant;
use super::point::{Bench, Doing, Point};
use super::study::{StudyError, law_at, parallel};
use super::vary::Truth;
use crate::body::BodyKind;

/// The map: worst over bodies, isolating and with the nearest forecast time binding, the force constant as
/// much above its data sheet as it may be.
#[derive(Clone, Debug, PartialEq)]
pub struct MarginMap {
    /// Masses of the occupant, kg.
    pub masses_kg: Vec<f64>,
    /// Extra delays between law and motor, s.
    pub delays_s: Vec<f64>,
    /// Disk margin, one row a mass; zero where the loop is unstable.
    pub disk: Vec<Vec<f64>>,
}

/// Computes the map.
///
/// # Errors
/// As [`super::study::run`].
pub fn run(
    bench: &Bench,
    masses_kg: &[f64],
    delays_s: &[f64],
    look: impl Fn() -> bool + Sync,
    done: impl Fn(usize) + Sync,
) -> Result<MarginMap, StudyError> {
    let row = |&occupant_kg: &f64| -> Result<Vec<f64>, StudyError> {
        let mut row = vec![f64::INFINITY; delays_s.len()];
        for doing in [Doing::Isolating, Doing::FollowingNearest] {
            for body in BodyKind::ALL {
                let error = bench.rig.actuator.force_constant_error;
                let point = Point {
                    doing,
                    force_share: error,
                    ..Point::plain(&bench.rig, occupant_kg, body)
                };
                let law = law_at(bench, &point)?;
                for (worst, &delay_s) in row.iter_mut().zip(delays_s) {
                    let disk = disk_at(bench, &law.response, &point, delay_s);
                    *worst = worst.min(disk);
                }
            }
        }
        Ok(row)
    };
    let disk = parallel(masses_kg, row, look, done)?;
    Ok(MarginMap {
        masses_kg: masses_kg.to_vec(),
        delays_s: delays_s.to_vec(),
        disk,
    })
}

fn disk_at(bench: &Bench, law: &LawResponse, point: &Point, delay_s: f64) -> f64 {
    let mut machine = Truth::of(&bench.rig).machine(bench, point);
    machine.delay_s += delay_s;
    let plant = LinearPlant::new(&machine);
    let closed = ClosedLoop { law, plant: &plant };
    if !inside(closed.largest_pole()) {
        return 0.0;
    }
    let least = |all: [Margins; 4]| all.iter().fold(f64::INFINITY, |x, m| x.min(m.disk_margin));
    least(margin::margins(&closed, machine.step_s))
}
